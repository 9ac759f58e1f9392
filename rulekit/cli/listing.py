"""``rulekit list``."""

import argparse
from fractions import Fraction

from rulekit.cli import options
from rulekit.cli.status import GOOD
from rulekit.compiler.monitor import Monitor, monitors
from rulekit.exercise.model import ALLA_BREVE, Setting
from rulekit.language.ruleset import Ruleset
from rulekit.music.mode import mode_of
from rulekit.show.documents import list_document
from rulekit.show.listing import ruleset_lines
from rulekit.show.terminal import complain, print_json, put, screen


def arguments(parser: argparse.ArgumentParser) -> None:
    """The ruleset to list, and for how many voices."""
    options.ruleset(parser)
    options.voices(parser, most=12)
    options.json(parser)


def run(args: argparse.Namespace) -> int:
    """List the rules in force, the parameters, and what was changed."""
    ruleset = options.load(args)
    complain(ruleset.warnings)
    running = _monitors(ruleset, args.voices)
    if args.json:
        print_json(list_document(ruleset, running, args.voices))
    else:
        put(ruleset_lines(screen(), ruleset, running, args.voices))
    return GOOD


def _monitors(ruleset: Ruleset, voices: int) -> list[Monitor]:
    """The monitors for a plain exercise: the cantus lowest, alla breve. Memory does not hang on its length."""
    length = 10 * ALLA_BREVE.bar_length
    return monitors(ruleset, Setting(mode_of("D dorian"), ALLA_BREVE, voices, voices - 1, Fraction(length)))
