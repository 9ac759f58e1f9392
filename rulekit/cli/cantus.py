"""``rulekit cantus``."""

import argparse
from itertools import islice
from random import Random

from rulekit.cli import options, searching
from rulekit.show.searched import drawn_words
from rulekit.solving import folds
from rulekit.solving.graph import at_most, points
from rulekit.solving.sketch import cantus_search, compass_of

_SHORTEST, _LONGEST = 2, 40


def arguments(parser: argparse.ArgumentParser) -> None:
    """Which cantus is wanted."""
    options.rules(parser, "cantus-firmus")
    options.mode(parser, "D")
    parser.add_argument("--length", type=length, default=10, help="how many notes (10)")
    searching.compass(parser)
    searching.lines(parser)
    searching.seed(parser)
    searching.limits(parser)


def run(args: argparse.Namespace) -> int:
    """Draw cantus firmi that lose as few points as possible."""
    return searching.run("cantus", _cantus, args)


def _cantus(args: argparse.Namespace, answer: searching.Answer) -> int:
    ruleset = options.load(args)
    mode = searching.mode_named(args.mode)
    problem = cantus_search(ruleset, mode, args.length, args.range or compass_of("C3-C5"))
    graph, _ = searching.graph(answer.meter, problem, points)
    best = at_most(graph, graph.least, answer.meter)
    note = drawn_words(folds.count(best, answer.meter), args.seed, best.least)
    answer.about(problem)
    with searching.Lines(args, answer) as lines:
        for line in islice(folds.draws(best, Random(args.seed), answer.meter), args.number):
            lines.add(problem.exercise(line), note)
        return lines.status()


def length(text: str) -> int:
    """A number of notes that a cantus may have."""
    if not text.isdecimal() or not _SHORTEST <= int(text) <= _LONGEST:
        raise argparse.ArgumentTypeError(f"a cantus has from {_SHORTEST} to {_LONGEST} notes, not ‘{text}’")
    return int(text)
