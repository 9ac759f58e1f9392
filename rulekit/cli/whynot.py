"""``rulekit whynot``."""

import argparse

from rulekit.cli import options, searching
from rulekit.cli.status import GOOD
from rulekit.music.pitch import pitch_name
from rulekit.show.documents import identity
from rulekit.solving import answers
from rulekit.solving.sketch import blamable


def arguments(parser: argparse.ArgumentParser) -> None:
    """What has no solution."""
    searching.free(parser)
    searching.limits(parser)


def run(args: argparse.Namespace) -> int:
    """Say what stands in the way."""
    return searching.run("whynot", _whynot, args)


def _whynot(args: argparse.Namespace, answer: searching.Answer) -> int:
    ruleset = options.load(args)
    for number, sketch in enumerate(searching.read(args)):
        apart = "\n" * bool(number)
        problem = searching.problem(args, sketch, ruleset, answer)
        reason = answers.why_not(problem, blamable(problem, not args.diatonic), answer.meter)
        if reason is None:
            answer.keep({**identity(problem), "solvable": True})
            answer.say(f"{apart}{searching.said(problem)}\nthere are lines; ‘rulekit count’ says how many")
            continue
        notes = [f"{problem.labels[n.voice]} {pitch_name(n.pitch)} in bar {n.bar}" for n in reason.notes]
        answer.keep({**identity(problem), "solvable": False, "rules": list(reason.rules), "notes": notes,
                        "bar": reason.bar, "bars": reason.bars})  # fmt: skip
        answer.say(
            f"{apart}{searching.said(problem)}\nno line gets past bar {reason.bar} of {reason.bars}. "
            "These alone exclude each other; without any one of them the others could be met:\n"
            + "\n".join([f"  rule {name}" for name in reason.rules] + [f"  note {note}" for note in notes])
        )
    return GOOD
