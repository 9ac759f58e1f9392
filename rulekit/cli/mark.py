"""``rulekit mark``."""

import argparse
import json
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from rulekit.cli import options
from rulekit.cli.status import FAULTS, GOOD, MISTAKEN, UNUSABLE, mistake_words
from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.exercise.limits import MAX_SECONDS
from rulekit.exercise.scores import ReadOptions, load_scores
from rulekit.files import folder, free_name, whole, write_whole
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Marked, mark
from rulekit.show.report import marked_lines
from rulekit.show.terminal import complain, print_json, put, screen


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


def run(args: argparse.Namespace) -> int:
    """Mark every exercise that can be read, file by file; say what is wrong with the others."""
    ruleset, reading = options.load(args), options.reading(args)
    if args.musicxml:
        folder(args.musicxml)
    status, names = GOOD, set[str]()
    done: list[tuple[Path, list[Marked]]] = []
    problems: list[Diagnostic | str] = []
    for path in args.scores:
        marked: list[Marked] = []
        wrong: list[Diagnostic | str] = []
        try:
            for each in _marked(path, reading, ruleset, wrong):
                if not args.json:
                    put(marked_lines(screen(), each, ruleset, args.figures))
                marked.append(each)
            if args.musicxml:
                wrong += _annotate(args.musicxml, path, marked, names)
            now = UNUSABLE if wrong else FAULTS if any(each.faults for each in marked) else GOOD
        except OSError:
            raise
        except Exception as error:
            wrong.append(f"{path}: {mistake_words(error)}")
            now = MISTAKEN
        status = max(status, now)
        if args.json:
            from rulekit.show.documents import mark_document

            print_json(mark_document(str(path), marked, ruleset, wrong))
        complain(wrong)
        done.append((path, marked))
        problems += wrong
    if args.sarif:
        from rulekit.show.sarif import sarif_log

        write_whole(args.sarif, json.dumps(sarif_log(done, ruleset, problems), indent=1))
    return status


def _annotate(place: Path, path: Path, marked: Sequence[Marked], names: set[str]) -> list[Diagnostic]:
    """Write a score with its findings into a folder; what stops that is told."""
    from rulekit.show.remarks import remarked

    try:
        for suffix, content in remarked(path, marked):
            target = place / free_name(path.stem, suffix, names)
            if target.exists() and target.samefile(path):
                return [Diagnostic(str(target), 1, 1, 1, "this is the score itself; choose another folder")]
            with whole(target) as new:
                new.write_bytes(content)
    except RulekitError as error:
        return list(error.diagnostics)
    return []


def _marked(path: Path, reading: ReadOptions, ruleset: Ruleset, wrong: list[Diagnostic | str]) -> Iterator[Marked]:
    """The exercises of a file as they are marked, until its time is over; what is wrong with the others is added."""
    began = time.monotonic()
    exercises, problems = load_scores(path, reading)
    wrong += problems
    for number, exercise in enumerate(exercises):
        if number and time.monotonic() - began > MAX_SECONDS:
            said = f"its exercises take longer than {MAX_SECONDS:g} s; {len(exercises) - number} of them are not marked"
            wrong.append(Diagnostic(str(path), 1, 1, 1, said, "put them into several files"))
            return
        yield mark(exercise, ruleset)
