"""``rulekit explain``."""

import argparse

from rulekit.cli import options
from rulekit.cli.status import GOOD, UNUSABLE
from rulekit.diagnostics import did_you_mean
from rulekit.exercise.scores import load_scores
from rulekit.explaining import explain
from rulekit.show.documents import explain_document, failure_document
from rulekit.show.explained import explained_lines
from rulekit.show.terminal import complain, print_json, put, screen


def arguments(parser: argparse.ArgumentParser) -> None:
    """Scores, the ruleset, one of its rules, and perhaps one bar."""
    options.scores(parser)
    options.rules(parser)
    parser.add_argument("--rule", required=True, metavar="RULE", help="the rule to explain")
    parser.add_argument("--bar", type=int, metavar="N", help="only in this bar, every condition in full")
    options.json(parser)


def run(args: argparse.Namespace) -> int:
    """Say of every place what the rule saw there."""
    ruleset, reading = options.load(args), options.reading(args)
    names = [rule.name for rule in ruleset.rules]
    if args.rule not in names:
        wrong = f"there is no rule ‘{args.rule}’ in {ruleset.title}. {did_you_mean(args.rule, names)}".rstrip()
        if args.json:
            print_json(failure_document("explain", [wrong]))
        complain([wrong])
        return UNUSABLE
    status = GOOD
    for path in options.files(args.scores):
        exercises, problems = load_scores(path, reading)
        status = UNUSABLE if problems else status
        found = [(exercise, explain(exercise, ruleset, args.rule, args.bar)) for exercise in exercises]
        if args.json:
            print_json(explain_document(str(path), ruleset, args.rule, found, problems))
        else:
            for exercise, places in found:
                put(explained_lines(screen(), exercise, places, full=args.bar is not None))
        complain(problems)
    return status
