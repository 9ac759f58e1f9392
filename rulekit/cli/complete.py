"""``rulekit complete``."""

import argparse

from rulekit.cli import options, searching
from rulekit.show.searched import loses_words
from rulekit.solving import folds
from rulekit.solving.answers import gentlest, points_of


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is to be completed, and how many answers are wanted."""
    searching.free(parser)
    searching.lines(parser)
    searching.limits(parser)


def run(args: argparse.Namespace) -> int:
    """Find the best lines."""
    return searching.run("complete", _complete, args)


def _complete(args: argparse.Namespace, answer: searching.Answer) -> int:
    ruleset = options.load(args)
    with searching.Lines(args, answer) as lines:
        for found in searching.found(args, ruleset, answer, gentlest):
            answer.about(found.problem)
            for paid, line in folds.ranked(found.graph, args.number, answer.meter):
                lines.add(found.problem.exercise(line), loses_words(points_of(paid)))
        return lines.status()
