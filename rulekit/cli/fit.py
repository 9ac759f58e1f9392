"""``rulekit fit``."""

import argparse

from rulekit.cli import options
from rulekit.cli.status import GOOD, UNUSABLE
from rulekit.diagnostics import Diagnostic
from rulekit.exercise.model import Exercise
from rulekit.exercise.scores import load_scores
from rulekit.fitting import fits, nearness
from rulekit.language.library import Texts
from rulekit.show.documents import fit_document
from rulekit.show.fitted import fit_heading, fit_lines, nearness_lines
from rulekit.show.terminal import complain, print_json, put, screen


def arguments(parser: argparse.ArgumentParser) -> None:
    """The ruleset, and the examples that are to pass."""
    options.ruleset(parser)
    options.scores(parser)
    options.json(parser)


def run(args: argparse.Namespace) -> int:
    """Say of each parameter which value the examples support, and of each rule how near they come to it."""
    ruleset, reading = options.load(args), options.reading(args)
    exercises: list[Exercise] = []
    problems: list[Diagnostic] = []
    for path in options.files(args.scores):
        found, wrong = load_scores(path, reading)
        exercises += found
        problems += wrong
    fitted = fits(options.laid(*args.rules), exercises, dict(args.set), Texts(ruleset.texts))
    if args.json:
        print_json(fit_document(ruleset, exercises, list(fitted), nearness(ruleset, exercises), problems))
    else:
        put([fit_heading(screen(), ruleset, exercises)])
        for each in fitted:
            put(fit_lines(screen(), each))
        put(nearness_lines(screen(), nearness(ruleset, exercises)))
    complain(problems)
    return UNUSABLE if problems else GOOD
