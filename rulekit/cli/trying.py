"""``rulekit try``."""

import argparse

from rulekit.cli import options
from rulekit.cli.status import FAULTS, GOOD
from rulekit.show.listing import trial_lines
from rulekit.show.terminal import complain, print_json, put, screen
from rulekit.trying import try_ruleset


def arguments(parser: argparse.ArgumentParser) -> None:
    """The ruleset to try."""
    options.ruleset(parser)
    options.json(parser)


def run(args: argparse.Namespace) -> int:
    """Run the examples and say which went otherwise than they should."""
    ruleset = options.load(args)
    complain(ruleset.warnings)
    trials = try_ruleset(ruleset)
    if args.json:
        from rulekit.show.documents import try_document

        print_json(try_document(ruleset, trials))
    else:
        put(trial_lines(screen(), ruleset, trials))
    return GOOD if all(trial.passed for trial in trials) else FAULTS
