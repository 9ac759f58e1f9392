"""``rulekit format``."""

import argparse
from pathlib import Path

from rulekit.cli import options
from rulekit.cli.status import FAULTS, GOOD, UNUSABLE
from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.files import write_whole
from rulekit.language.format import format_text
from rulekit.language.library import read_ruleset
from rulekit.show.terminal import complain, say


def arguments(parser: argparse.ArgumentParser) -> None:
    """The files, and whether they are only looked at."""
    parser.add_argument("rulesets", nargs="+", metavar="RULESET", help=options.RULESET)
    parser.add_argument("--check", action="store_true", help="change nothing; status 1 if something would change")


def run(args: argparse.Namespace) -> int:
    """Lay out every file that can be read; say what is wrong with the others."""
    problems: list[Diagnostic] = []
    changed: list[Path] = []
    for name in args.rulesets:
        try:
            path, text = read_ruleset(name)
            formatted = format_text(text, str(path))
            if formatted != text:
                changed.append(path)
                if not args.check:
                    write_whole(path, formatted)
        except RulekitError as error:
            problems += error.diagnostics
    for path in changed:
        say(f"{path}: {'is not in its layout' if args.check else 'laid out'}")
    complain(problems)
    return UNUSABLE if problems else FAULTS if args.check and changed else GOOD
