"""``rulekit audit``."""

import argparse
from collections.abc import Iterable, Iterator
from typing import Any

from rulekit.cli import options, searching
from rulekit.cli.status import GOOD
from rulekit.page.plots import shares
from rulekit.show.searched import AUDIT_HEADING, SHARES, conflict_lines, worth_line
from rulekit.solving import answers


def arguments(parser: argparse.ArgumentParser) -> None:
    """The ruleset, and over what it is judged."""
    options.ruleset(parser)
    searching.subject(parser)
    searching.compass(parser)
    parser.add_argument("--pairs", action="store_true", help="also the pairs of rules that conflict (slower)")
    searching.page(parser)
    searching.limits(parser)


def run(args: argparse.Namespace) -> int:
    """Say what each rule is worth."""
    return searching.run("audit", _audit, args)


def _audit(args: argparse.Namespace, answer: searching.Answer) -> int:
    ruleset = options.load(args)
    problems = searching.problems(args, ruleset, answer)
    rules: list[dict[str, Any]] = []
    pairs: list[tuple[str, str]] = []
    answer.document = {"rules": rules, "conflicts": pairs}
    for number, each in enumerate(answers.audit(problems, ruleset, answer.meter)):
        if not number:
            answer.say(AUDIT_HEADING)
        answer.say(worth_line(each))
        rules.append({"rule": each.rule, "alone": float(each.alone), "last": float(each.last)})
    answer.section(ruleset.title)
    for key, heading in SHARES.items():
        answer.plot(heading, "rule", "share", shares({each["rule"]: each[key] for each in rules}))
    if args.pairs:
        for line in conflict_lines(_kept(answers.conflicts(problems, ruleset, answer.meter), pairs)):
            answer.say(line)
    return GOOD


def _kept(found: Iterable[tuple[str, str]], pairs: list[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    """What is found, each put among the pairs of the document."""
    for pair in found:
        pairs.append(pair)
        yield pair
