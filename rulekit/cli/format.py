"""``rulekit format``."""

import argparse

from rulekit.cli import options
from rulekit.cli.status import FAULTS, GOOD, UNUSABLE
from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.files import write_whole
from rulekit.language.format import format_text
from rulekit.language.library import read_ruleset
from rulekit.show.documents import format_document
from rulekit.show.listing import format_lines
from rulekit.show.terminal import complain, print_json, put


def arguments(parser: argparse.ArgumentParser) -> None:
    """The files, and whether they are only looked at."""
    parser.add_argument("rulesets", nargs="+", metavar="RULESET", help=options.RULESET)
    parser.add_argument("--check", action="store_true", help="change nothing; status 1 if something would change")
    options.json(parser)


def run(args: argparse.Namespace) -> int:
    """Lay out every file that can be read; say what is wrong with the others."""
    problems: list[Diagnostic] = []
    files: list[tuple[str, bool]] = []
    for name in args.rulesets:
        try:
            path, text = read_ruleset(name)
            formatted = format_text(text, str(path))
            if formatted != text and not args.check:
                write_whole(path, formatted)
            files.append((str(path), formatted == text))
        except RulekitError as error:
            problems += error.diagnostics
    if args.json:
        print_json(format_document(files, args.check, problems))
    else:
        put(format_lines(files, args.check))
    complain(problems)
    return UNUSABLE if problems else FAULTS if args.check and not all(in_layout for _, in_layout in files) else GOOD
