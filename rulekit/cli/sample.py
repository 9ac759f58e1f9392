"""``rulekit sample``."""

import argparse
from dataclasses import replace
from itertools import islice
from random import Random

from rulekit.cli import options, searching
from rulekit.language.typed import Rule, Weight
from rulekit.severity import Severity
from rulekit.show.searched import drawn_words
from rulekit.solving import folds
from rulekit.solving.graph import Weigh, at_most, faults, points


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is drawn from, how many and from which seed."""
    searching.free(parser)
    searching.lines(parser)
    searching.seed(parser)
    said = "only from lines that lose so many points at most"
    parser.add_argument("--at-most", type=_points, metavar="POINTS", help=said)
    parser.add_argument("--no-warnings", action="store_true", help="only from lines without a warning")
    searching.limits(parser)


def run(args: argparse.Namespace) -> int:
    """Draw lines."""
    return searching.run("sample", _sample, args)


def _sample(args: argparse.Namespace, answer: searching.Answer) -> int:
    ruleset, random = options.load(args), Random(args.seed)
    with searching.Lines(args, answer) as lines:
        for found in searching.drawn(args, ruleset, answer, _weigh(args), random):
            graph = found.graph if args.at_most is None else at_most(found.graph, args.at_most, answer.meter)
            total = folds.count(graph, answer.meter)
            answer.about(found.problem)
            for line in islice(folds.draws(graph, random, answer.meter), found.wanted):
                lines.add(found.problem.exercise(line), drawn_words(total, args.seed))
        return lines.status()


def _weigh(args: argparse.Namespace) -> Weigh:
    """What rules are worth: points only where they are asked for; warnings are faults where none are wanted."""

    def weigh(rule: Rule) -> Weight | None:
        if args.no_warnings and rule.weight.severity == Severity.WARNING:
            return replace(rule.weight, severity=Severity.FAULT)
        return faults(rule) if args.at_most is None else points(rule)

    return weigh


def _points(text: str) -> int:
    if not text.isdecimal():
        raise argparse.ArgumentTypeError(f"‘{text}’ is not a number of points such as 0 or 6")
    return int(text)
