"""``rulekit handout``."""

import argparse
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from rulekit.cli import options
from rulekit.cli.status import GOOD
from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.exercise.model import Exercise
from rulekit.exercise.scores import load_scores
from rulekit.files import write_whole
from rulekit.language.ruleset import Ruleset
from rulekit.music.mode import Mode, mode_of
from rulekit.page.data import PageOptions
from rulekit.page.documents import handout_document
from rulekit.page.lesson import answer_sheet, lesson_sheet
from rulekit.page.printing import NoBrowser, print_pdf
from rulekit.show.handout import handout
from rulekit.show.terminal import print_json, say
from rulekit.solving.graph import Exhausted
from rulekit.solving.tasks import Task, drawn_cantus, task
from rulekit.words import LANGUAGES

_STAVES = (".html", ".pdf")
_LETTERS = (".md", ".txt", "")


def arguments(parser: argparse.ArgumentParser) -> None:
    """The ruleset, where its sheet goes, and how it is to look on staves."""
    options.ruleset(parser)
    said = "where to write it, if not to the terminal: .html or .pdf on staves, else Markdown"
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help=said)
    options.mode(parser, "D dorian")
    parser.add_argument("--language", choices=LANGUAGES, default="en", help="of the program’s own words (en)")
    parser.add_argument("--minor", choices=("re", "mi", "la"), default="la", help="a minor mode’s final as this (la)")
    said = "a score of cantus firmi for the worksheets; without it one in the mode is drawn"
    parser.add_argument("--worksheets", type=Path, metavar="SCORE", help=said)
    said = "how many lines the worksheets allow, and a few of them: .html or .pdf"
    parser.add_argument("--answers", type=Path, metavar="FILE", help=said)
    parser.add_argument("--paper", choices=("A4", "letter"), default="A4", help="to print on (A4)")
    options.json(parser)


def run(args: argparse.Namespace) -> int:
    """Print or write the sheet, and the answers to its worksheets."""
    _check_kind(args.output, (*_STAVES, *_LETTERS))
    _check_kind(args.answers, _STAVES)
    ruleset, mode, tasks, printed = options.load(args), _mode(args.mode), list[Task](), ""
    if args.answers or (args.output and args.output.suffix.lower() in _STAVES):
        tasks = [task(cantus, ruleset) for cantus in _cantus(args.worksheets, mode)]
    if args.output is None:
        printed = handout(ruleset, mode, args.language).rstrip("\n")
        if not args.json:
            say(printed)
    elif args.output.suffix.lower() in _STAVES:
        _write(args.output, lesson_sheet, ruleset, mode, args, tasks)
    else:
        write_whole(args.output, handout(ruleset, mode, args.language))
    if args.answers:
        _write(args.answers, answer_sheet, ruleset, mode, args, tasks)
    if args.json:
        print_json(handout_document(ruleset, _chosen(args), tasks, args.output or printed, args.answers))
    return GOOD


def _check_kind(target: Path | None, kinds: Sequence[str]) -> None:
    """Raise RulekitError if a file is to be of a kind that is not written."""
    if target and target.suffix.lower() not in kinds:
        written = ", ".join(filter(None, kinds))
        message = f"sheets of the kind ‘{target.suffix}’ are not written"
        raise RulekitError([Diagnostic(str(target), 1, 1, 1, message, f"These are: {written}.")])


def _mode(text: str) -> Mode:
    try:
        return mode_of(text)
    except ValueError as error:
        raise RulekitError([Diagnostic("--mode", 1, 1, 1, str(error))]) from error


def _cantus(path: Path | None, mode: Mode) -> list[Exercise]:
    """The cantus firmi for worksheets: those of a score, or one that is drawn."""
    if path is None:
        try:
            return [drawn_cantus(mode)]
        except (Exhausted, StopIteration):
            return []
    found, wrong = load_scores(path)
    alone = [exercise for exercise in found if len(exercise.voices) == 1]
    if wrong or not alone:
        missing = Diagnostic(str(path), 1, 1, 1, "there is no cantus firmus by itself in this score")
        raise RulekitError(wrong or [missing])
    return alone


def _chosen(args: argparse.Namespace) -> PageOptions:
    return PageOptions(language=args.language, minor_final=args.minor, paper=args.paper)


def _write(
    target: Path, sheet: Callable[..., str], ruleset: Ruleset, mode: Mode, args: argparse.Namespace, tasks: list[Task]
) -> None:
    text = sheet(ruleset, mode, _chosen(args), tasks)
    if target.suffix.lower() == ".pdf":
        _print(target, text)
    else:
        write_whole(target, text)


def _print(target: Path, sheet: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "sheet.html"
        write_whole(page, sheet)
        try:
            print_pdf(page, target)
        except NoBrowser as error:
            raise RulekitError([Diagnostic(str(target), 1, 1, 1, str(error))]) from error
