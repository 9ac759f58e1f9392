"""``rulekit survey``."""

import argparse
import csv
from collections.abc import Callable, Iterator, Sequence
from dataclasses import astuple, fields
from functools import partial
from importlib import import_module
from importlib.util import find_spec
from io import StringIO
from itertools import chain
from pathlib import Path
from typing import Any

from rulekit.cli import options
from rulekit.cli.pool import told, worked
from rulekit.cli.status import GOOD, UNUSABLE, mistake_words
from rulekit.diagnostics import Diagnostic
from rulekit.exercise.scores import ReadOptions, content_of
from rulekit.files import folder, sweep, whole, write_whole
from rulekit.language.ruleset import Ruleset
from rulekit.page.found import Section, found_page
from rulekit.page.gradebook import plain
from rulekit.page.plots import Plot, counts
from rulekit.page.record import program, source_of
from rulekit.show.documents import survey_document
from rulekit.show.surveyed import MOST_SHOWN, survey_heading, survey_lines
from rulekit.show.terminal import complain, print_json, put
from rulekit.surveying import Hit, Surveyed, Tally, recalled, survey, tallies

_HEAD = ("file", "piece", *(field.name for field in fields(Hit)))
_NUMBERS = {"bar": "int64", "beat": "float64"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Scores or folders of them, the ruleset, where the tables go, and who works."""
    options.scores(parser)
    options.rules(parser)
    parser.add_argument("--to", type=Path, required=True, metavar="FOLDER", help="where the tables go")
    said = "a Dask scheduler whose workers see the same files (in place of the cores of this machine)"
    parser.add_argument("--scheduler", metavar="ADDRESS", help=said)
    options.json(parser)


def run(args: argparse.Namespace) -> int:
    """Mark every file that is not marked yet, then write the tables of all; say what could not be read.

    What is known of a file is kept under a name made from its content, the ruleset, the options and the program.
    """
    ruleset, reading = options.load(args), options.reading(args)
    kept = args.to / ".surveyed"
    folder(kept)
    sweep(kept)
    named = partial(source_of, program(), ruleset.texts, sorted(args.set), reading)
    shared = ruleset, reading, named, frozenset(each.stem for each in kept.iterdir())
    files = list(dict.fromkeys(options.files(args.scores)))
    found: dict[Path, Surveyed] = {}
    mistakes: list[Diagnostic] = []
    for number, made in told(worked(_survey, files, shared, args.scheduler), len(files), "files"):
        path = files[number]
        if isinstance(made, str):
            mistakes.append(Diagnostic(str(path), 1, 1, 1, made))
        else:
            name, new = made
            found[path] = _kept(kept / f"{name}.json", new) or survey(path, ruleset, reading)
    done = {path: found[path] for path in files if path in found}
    problems = [*mistakes, *chain.from_iterable(each.problems for each in done.values())]
    tallied = tallies(done.values(), ruleset)
    _write(args.to, done, tallied, problems, ruleset)
    pieces, notes = _size(done)
    if args.json:
        print_json(survey_document(str(args.to), ruleset, pieces, notes, tallied, problems))
    else:
        put(survey_lines(args.to, ruleset, pieces, notes, tallied))
    complain(problems)
    return UNUSABLE if problems else GOOD


def _survey(
    path: Path, ruleset: Ruleset, reading: ReadOptions, named: Callable[[str, bytes], str], known: frozenset[str]
) -> tuple[str, Surveyed | None] | str:
    """The name under which a file is kept, and what is found in it unless that is known."""
    try:
        content = content_of(path)
        name = named(str(path), content or b"")
        return name, None if name in known else survey(path, ruleset, reading, content)
    except Exception as error:
        return mistake_words(error)


def _kept(place: Path, new: Surveyed | None) -> Surveyed | None:
    """What is new of a file, kept from now on, or what was kept of it before, if this program wrote that."""
    if new is not None:
        write_whole(place, new.kept())
        return new
    try:
        return recalled(place.read_text(encoding="utf-8"))
    except (OSError, ValueError, TypeError, KeyError):
        place.unlink(missing_ok=True)
        return None


# ---- the tables --------------------------------------------------------------------------------


def _write(
    to: Path, done: dict[Path, Surveyed], found: Sequence[Tally], problems: Sequence[Diagnostic], ruleset: Ruleset
) -> None:
    """Write the findings, the rules and the refusals as tables, and a picture."""
    rows = list(_rows(done))
    write_whole(to / "findings.csv", _csv(_HEAD, rows))
    if find_spec("pyarrow"):
        _write_parquet(to / "findings.parquet", rows)
    write_whole(to / "rules.csv", _csv([field.name for field in fields(Tally)], [astuple(each) for each in found]))
    refused = [(each.path, each.line, each.message) for each in problems]
    write_whole(to / "refused.csv", _csv(("file", "line", "reason"), refused))
    heading = survey_heading(ruleset, *_size(done))
    write_whole(to / "survey.html", found_page("Survey", [Section(heading, plots=_plots(found))]))


def _size(done: dict[Path, Surveyed]) -> tuple[int, int]:
    """How many pieces there are, and notes in them."""
    notes = [piece.notes for each in done.values() for piece in each.pieces]
    return len(notes), sum(notes)


def _rows(done: dict[Path, Surveyed]) -> Iterator[tuple[Any, ...]]:
    for path, surveyed in done.items():
        for piece in surveyed.pieces:
            yield from ((str(path), piece.title, *astuple(hit)) for hit in piece.hits)


def _csv(head: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> str:
    file = StringIO()
    writer = csv.writer(file)
    writer.writerow(head)
    writer.writerows([plain(cell) if isinstance(cell, str) else cell for cell in row] for row in rows)
    return file.getvalue()


def _write_parquet(path: Path, rows: Sequence[tuple[Any, ...]]) -> None:
    arrow, parquet = import_module("pyarrow"), import_module("pyarrow.parquet")
    columns = zip(*rows, strict=True) if rows else [()] * len(_HEAD)
    made = {
        name: arrow.array(column, _NUMBERS.get(name, "string")) for name, column in zip(_HEAD, columns, strict=True)
    }
    with whole(path) as new:
        parquet.write_table(arrow.table(made), new)


def _plots(found: Sequence[Tally]) -> list[Plot]:
    shown = [each for each in found if each.pieces][:MOST_SHOWN]
    pieces, findings = ([(x.rule, getattr(x, key)) for x in shown] for key in ("pieces", "findings"))
    return [
        Plot("Rules that most pieces break", "Rule", "Pieces", counts(pieces)),
        Plot("How often", "Rule", "Findings", counts(findings)),
    ]
