"""``rulekit page``."""

import argparse
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from rulekit.cli import options
from rulekit.cli.pool import told, worked
from rulekit.cli.status import FAULTS, GOOD, UNUSABLE, mistake_words
from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.exercise.model import Exercise, Origin, sheets
from rulekit.exercise.scores import ReadOptions, load_scores
from rulekit.files import folder, free_name, sweep, write_whole
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.page.data import PageOptions
from rulekit.page.documents import page_document
from rulekit.page.gradebook import gradebook
from rulekit.page.index import ClassIndex, Entry, entry_of, index_of
from rulekit.page.printing import NoBrowser, print_pdf
from rulekit.page.record import program, record_of, source_of
from rulekit.page.render import page_of
from rulekit.show.terminal import complain, print_json, say
from rulekit.show.words import counted
from rulekit.words import LANGUAGES


@dataclass(frozen=True, slots=True)
class Job:
    """A sheet to make a page of: its exercises, their file, which one of its title it is there, and the page's name.

    ``file`` is what the class calls the file: its name, or the whole path where several have that name.
    """

    exercises: tuple[Exercise, ...]
    score: Path
    file: str
    number: int
    page: str

    @property
    def origins(self) -> list[str]:
        """Where each exercise comes from, as the class tells it."""
        numbers = (exercise.origin and exercise.origin.number for exercise in self.exercises)
        return [str(Origin(self.file, number)) for number in numbers]

    @property
    def title(self) -> str:
        """The title of the sheet."""
        return self.exercises[0].sheet.title

    @property
    def names(self) -> list[str]:
        """What each exercise is known by from one return to the next."""
        return [f"{self.score.as_posix()} {self.number} {exercise.title}" for exercise in self.exercises]


Made = tuple[str, tuple[Entry, ...]]  # a page, and the entry of each exercise on it


def arguments(parser: argparse.ArgumentParser) -> None:
    """Scores or folders of them, the ruleset, and how the school wants its pages."""
    options.scores(parser)
    options.rules(parser)
    parser.add_argument("--to", type=Path, required=True, metavar="FOLDER", help="where the pages go")
    parser.add_argument("--title", default="", help="the school’s heading on every page")
    parser.add_argument("--words", default="", help="words to the class on every page")
    parser.add_argument("--style", type=Path, metavar="FILE", help="the school’s own style sheet")
    parser.add_argument("--language", choices=LANGUAGES, default="en", help="of the program’s own words (en)")
    parser.add_argument("--clefs", choices=("source", "vocal", "modern"), default="source", help="what is shown first")
    parser.add_argument("--reduced", action="store_true", help="figures within the octave")
    parser.add_argument("--identifiers", action="store_true", help="show the names of rules")
    parser.add_argument("--minor", choices=("re", "mi", "la"), default="la", help="a minor mode’s final as this (la)")
    parser.add_argument("--paper", choices=("A4", "letter"), default="A4", help="to print on (A4)")
    said = "look so long, for each page, for what else could stand (10)"
    parser.add_argument("--search", type=float, default=10.0, metavar="SECONDS", help=said)
    parser.add_argument("--gradebook", type=Path, metavar="FILE", help="the marks as CSV, for a spreadsheet")
    parser.add_argument("--pdf", action="store_true", help="each page as PDF as well, by the browser")
    options.json(parser)


def run(args: argparse.Namespace) -> int:
    """Write a page for every exercise that can be read and an index of them all; say what is wrong with the others.

    A page that is there already, of the same exercise by the same ruleset, is left as it is.
    """
    ruleset, reading, chosen = options.load(args), options.reading(args), _chosen(args)
    folder(args.to)
    sweep(args.to)
    record = record_of(args.to)
    problems: list[Diagnostic] = []
    jobs = list(_jobs(args.scores, reading, problems))
    made_from = partial(source_of, program(), ruleset.texts, sorted(args.set), chosen)
    left = [job for job in jobs if not record.known(job.page, made_from(job.exercises))]
    for number, made in told(worked(_made, left, (ruleset, chosen)), len(left), "pages"):
        job = left[number]
        if isinstance(made, str):
            problems.append(Diagnostic(str(job.score), 1, 1, 1, f"‘{job.title}’: {made}"))
        else:
            write_whole(args.to / job.page, made[0])
            record.add(job.page, made_from(job.exercises), made[1])
    done = [job for job in jobs if record.known(job.page, made_from(job.exercises))]
    if args.pdf:
        problems += _printed([args.to / job.page for job in done], {args.to / job.page for job in left})
    entries = {
        name: replace(entry, origin=origin)
        for job in done
        for name, origin, entry in zip(job.names, job.origins, record.made[job.page][1], strict=True)
    }
    shown = tuple(record.since(name, entry) for name, entry in entries.items())
    index = ClassIndex(chosen, ruleset.title, shown, tuple(problems))
    write_whole(args.to / "index.html", index_of(index))
    if args.gradebook:
        write_whole(args.gradebook, gradebook(shown))
    record.finish(entries, [job.page for job in done])
    if args.json:
        print_json(page_document(args.to, index, {job.page for job in left}, args.pdf, args.gradebook))
    else:
        say(f"{args.to / 'index.html'}: {counted(len(done), 'page')}")
    complain(problems)
    return UNUSABLE if problems else FAULTS if any(entry.faults for entry in shown) else GOOD


def _made(job: Job, ruleset: Ruleset, options: PageOptions) -> Made | str:
    try:
        marked = [mark(exercise, ruleset) for exercise in job.exercises]
        return page_of(marked, ruleset, options), tuple(
            entry_of(each, job.page, origin) for each, origin in zip(marked, job.origins, strict=True)
        )
    except Exception as error:
        return mistake_words(error)


def _jobs(scores: list[Path], reading: ReadOptions, problems: list[Diagnostic]) -> Iterator[Job]:
    """Every sheet that can be read with the name of its page; what is wrong with the others goes to ``problems``."""
    names = {"index.html"}
    files = list(options.files(scores))
    shared = Counter(score.name for score in files)
    for score in files:
        file = score.name if shared[score.name] == 1 else score.as_posix()
        exercises, wrong = load_scores(score, reading)
        problems += wrong
        titles = Counter[str]()
        for sheet in sheets(exercises):
            title = sheet[0].sheet.title
            titles[title] += 1
            yield Job(sheet, score, file, titles[title], _name(score, names))


def _chosen(args: argparse.Namespace) -> PageOptions:
    return PageOptions(
        language=args.language,
        title=args.title,
        words=args.words,
        style=_read(args.style) if args.style else "",
        clefs=args.clefs,
        reduced=args.reduced,
        identifiers=args.identifiers,
        minor_final=args.minor,
        paper=args.paper,
        seconds=args.search,
    )


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise RulekitError([Diagnostic(str(path), 1, 1, 1, "can’t be read as a style sheet")]) from error


def _name(score: Path, taken: set[str]) -> str:
    """The file name of a page: that of its score, numbered where there are several."""
    stem = re.sub(r"[^\w-]+", "-", score.stem).strip("-").lower() or "page"
    return free_name(stem, ".html", taken)


def _printed(pages: list[Path], new: set[Path]) -> list[Diagnostic]:
    """Print the pages that are new or have no PDF yet."""
    problems: list[Diagnostic] = []
    for page in pages:
        pdf = page.with_suffix(".pdf")
        try:
            if page in new or not pdf.is_file():
                print_pdf(page, pdf)
        except NoBrowser as error:
            problems.append(Diagnostic(str(page), 1, 1, 1, str(error)))
    return problems
