"""``rulekit mend``."""

import argparse

from rulekit.cli import options, searching
from rulekit.marking import mark
from rulekit.show.searched import lost_words, mended_words, single_change_line
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
            answer.show(lost_words(lost), exercise)
            answer.say(f"-- {exercise.heading}: {lost_words(lost)}")
            single = answers.best_single_change(exercise, ruleset, answer.meter)
            if single is not None:
                answer.say(single_change_line(*single))
            for mended in answers.mend(exercise, ruleset, args.number, answer.meter):
                lines.add(mended.exercise, mended_words(mended))
        return lines.status()
