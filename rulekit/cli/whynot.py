"""``rulekit whynot``."""

import argparse

from rulekit.cli import options, searching
from rulekit.cli.status import GOOD
from rulekit.show.documents import identity
from rulekit.show.searched import SOLVABLE, fixed_notes, reason_lines, searched_words
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
        if number:
            answer.say("")
        problem = searching.problem(args, sketch, ruleset, answer)
        reason = answers.why_not(problem, blamable(problem, not args.diatonic), answer.meter)
        if reason is None:
            answer.keep({**identity(problem), "solvable": True})
            answer.say(f"-- {searched_words(problem)}\n{SOLVABLE}")
            continue
        notes = fixed_notes(reason, problem)
        answer.keep({**identity(problem), "solvable": False, "rules": list(reason.rules), "notes": notes,
                        "bar": reason.bar, "bars": reason.bars})  # fmt: skip
        answer.say("\n".join([f"-- {searched_words(problem)}", *reason_lines(reason, notes)]))
    return GOOD
