"""``rulekit mark``."""

import argparse
import json
from collections.abc import Generator, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from rulekit.cli import options
from rulekit.cli.status import FAULTS, GOOD, MISTAKEN, UNUSABLE, mistake_words
from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.exercise.clock import Allowance
from rulekit.exercise.limits import MAX_SECONDS
from rulekit.exercise.model import Exercise
from rulekit.exercise.scores import ReadOptions, content_of, load_scores
from rulekit.files import folder, free_name, whole, write_whole
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Marked, mark
from rulekit.show.documents import Document, mark_document, marked_document
from rulekit.show.report import marked_lines
from rulekit.show.terminal import Screen, as_text, complain, json_line, screen, write

_MANY = 32  # files, from which on it is worth while to begin processes


def arguments(parser: argparse.ArgumentParser) -> None:
    """Scores and the ruleset to mark them by."""
    options.scores(parser)
    options.rules(parser)
    said = "figures over the bass (3 5 6 8 10) in place of the names of intervals"
    parser.add_argument("--figures", action="store_true", help=said)
    options.json(parser)
    said = "the scores with findings and figures at their notes as well, as MusicXML; nothing else is changed"
    parser.add_argument("--musicxml", type=Path, metavar="FOLDER", help=said)
    parser.add_argument(
        "--sarif", type=Path, metavar="FILE", help="the findings of all exercises as a SARIF log as well"
    )


@dataclass(frozen=True, slots=True)
class _How:
    """By what, how and for whom files are marked."""

    ruleset: Ruleset
    reading: ReadOptions
    screen: Screen
    figures: bool
    json: bool
    musicxml: Path | None = None
    names: set[str] = field(default_factory=set[str])


@dataclass(slots=True)
class _Done:
    """What became of a file: its exercises as they were marked, what is wrong with the others, and the exit status."""

    path: Path
    marked: list[Marked] = field(default_factory=list[Marked])
    wrong: list[Diagnostic | str] = field(default_factory=list[Diagnostic | str])
    status: int = GOOD
    content: bytes | None = None


def run(args: argparse.Namespace) -> int:
    """Mark every exercise that can be read, file by file; say what is wrong with the others."""
    how = _How(options.load(args), options.reading(args), screen(), args.figures, args.json, args.musicxml)
    if args.musicxml:
        folder(args.musicxml)
    together = [args.musicxml, args.sarif]  # what is made from the exercises as they were marked, in this process
    scores = list(options.files(args.scores))
    if len(scores) >= _MANY and not any(together):
        return _spread(scores, how)
    status, every = GOOD, list[_Done]()
    for path in scores:
        done = _Done(path)
        for text in _texts(how, done):
            write(text)
        complain(done.wrong)
        status = max(status, done.status)
        every.append(done)
    if args.sarif:
        from rulekit.show.sarif import sarif_log

        problems = [problem for done in every for problem in done.wrong]
        log = sarif_log([(done.path, done.marked) for done in every], how.ruleset, problems)
        write_whole(args.sarif, json.dumps(log, indent=1))
    return status


def _spread(scores: Sequence[Path], how: _How) -> int:
    """Mark files over all cores; what is told of each comes out in their order."""
    from rulekit.cli.pool import in_order, worked

    status = GOOD
    for number, made in in_order(worked(_told, scores, (how,))):
        text, wrong, now = ("", [f"{scores[number]}: {made}"], MISTAKEN) if isinstance(made, str) else made
        write(text)
        complain(wrong)
        status = max(status, now)
    return status


def _told(path: Path, how: _How) -> tuple[str, list[Diagnostic | str], int]:
    """What is printed of a file, what is wrong with it, and the exit status."""
    done = _Done(path)
    text = "".join(_texts(how, done))
    return text, done.wrong, done.status


def _texts(how: _How, done: _Done) -> Iterator[str]:
    """What is printed of a file, each exercise as soon as it is marked; ``done`` is told what became of it."""
    documents: list[Document] = []
    for exercise in _exercises(how, done):
        text = ""
        with _forgiven(exercise.heading, done):
            each = mark(exercise, how.ruleset)
            if how.json:
                documents.append(marked_document(each))
            else:
                text = as_text(marked_lines(how.screen, each, how.ruleset, how.figures))
            done.marked.append(each)
        yield text
    if how.musicxml and done.content is not None:
        with _forgiven(str(done.path), done):
            done.wrong += _annotate(how.musicxml, done, done.content, how.names)
        done.content = None
    faulty = any(each.faults for each in done.marked)
    done.status = max(done.status, UNUSABLE if done.wrong else FAULTS if faulty else GOOD)
    if how.json:
        yield json_line(mark_document(str(done.path), documents, how.ruleset, done.wrong))


@contextmanager
def _forgiven(name: str, done: _Done) -> Generator[None]:
    """Tell what the program itself gets wrong with one thing, so that the others are not lost with it."""
    try:
        yield
    except OSError:
        raise
    except Exception as error:
        done.wrong.append(f"{name}: {mistake_words(error)}")
        done.status = MISTAKEN


def _annotate(place: Path, done: _Done, score: bytes, names: set[str]) -> list[Diagnostic]:
    """Write a score with its findings into a folder; what stops that is told."""
    from rulekit.show.remarks import remarked

    path = done.path
    try:
        for suffix, content in remarked(path.suffix, score, done.marked):
            target = place / free_name(path.stem, suffix, names)
            if target.exists() and target.samefile(path):
                return [Diagnostic(str(target), 1, 1, 1, "this is the score itself; choose another folder")]
            with whole(target) as new:
                new.write_bytes(content)
    except RulekitError as error:
        return list(error.diagnostics)
    return []


def _exercises(how: _How, done: _Done) -> Iterator[Exercise]:
    """The exercises of a file one by one, until its time is over; what is wrong with the others is added."""
    allowed = Allowance(MAX_SECONDS)
    exercises: list[Exercise] = []
    with _forgiven(str(done.path), done):
        done.content = content_of(done.path) if how.musicxml else None
        exercises, problems = load_scores(done.path, how.reading, done.content)
        done.wrong += problems
    for number, exercise in enumerate(exercises):
        if number and allowed.left <= 0:
            said = f"its exercises take longer than {MAX_SECONDS:g} s; {len(exercises) - number} of them are not marked"
            done.wrong.append(Diagnostic(str(done.path), 1, 1, 1, said, "put them into several files"))
            return
        yield exercise
