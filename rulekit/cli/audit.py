"""``rulekit audit``."""

import argparse
from typing import Any

from rulekit.cli import options, searching
from rulekit.cli.status import GOOD
from rulekit.page.plots import shares
from rulekit.solving import answers

_SHARES = {
    "alone": "What each rule removes of all candidate lines", "last": "What it removes of those that the others leave",
}  # fmt: skip


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
            answer.say("rule: share of all candidate lines it removes alone; share of what the other rules leave")
        note = "  never decides anything here" if not each.last else ""
        note = "  forbids everything" if each.alone == 1 else note
        answer.say(f"  {each.rule:32} {float(each.alone):8.2%} {float(each.last):8.2%}{note}")
        rules.append({"rule": each.rule, "alone": float(each.alone), "last": float(each.last)})
    answer.section(ruleset.title)
    for key, heading in _SHARES.items():
        answer.plot(heading, "rule", "share", shares({each["rule"]: each[key] for each in rules}))
    if args.pairs:
        answer.say("pairs of rules that leave no line together, though each alone does:")
        for pair in answers.conflicts(problems, ruleset, answer.meter):
            pairs.append(pair)
            answer.say(f"  {pair[0]} and {pair[1]}")
        if not pairs:
            answer.say("  none")
    return GOOD
