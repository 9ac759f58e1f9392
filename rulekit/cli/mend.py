"""``rulekit mend``."""

import argparse

from rulekit.cli import options, searching
from rulekit.marking import mark
from rulekit.music.pitch import pitch_name
from rulekit.solving import answers


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is to be mended, and how many answers are wanted."""
    options.rules(parser, searching.STRICT)
    searching.subject(parser)
    searching.lines(parser, 3)
    searching.limits(parser)


def run(args: argparse.Namespace) -> int:
    """Find the nearest lines."""
    return searching.run("mend", _mend, args)


def _mend(args: argparse.Namespace, answer: searching.Answer) -> int:
    ruleset = options.load(args)
    with searching.Lines(args, answer) as lines:
        for exercise in searching.read(args):
            lost = mark(exercise, ruleset).lost
            answer.section(exercise.heading)
            answer.show(f"{lost} points lost as it stands", exercise)
            answer.say(f"-- {exercise.heading}: {lost} points lost as it stands")
            single = answers.best_single_change(exercise, ruleset, answer.meter)
            if single is not None:
                answer.say(f"-- the one note that clears most: {_edit(single[0])}; then {single[1]} points are lost")
            for mended in answers.mend(exercise, ruleset, args.number, answer.meter):
                edits = "; ".join(map(_edit, mended.edits)) or "nothing to change"
                lines.add(mended.exercise, f"{edits} ({mended.distance} steps in all)")
        return lines.status()


def _edit(edit: answers.Edit) -> str:
    return f"bar {edit.bar}, {edit.voice}: {pitch_name(edit.old)} to {pitch_name(edit.new)}"
