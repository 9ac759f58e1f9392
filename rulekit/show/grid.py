"""The score as a grid: a column for each moment, a row for each voice, and what two voices do."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import groupby, pairwise
from typing import NamedTuple

from rich.cells import cell_len, set_cell_size

from rulekit.exercise.figures import figures_at
from rulekit.exercise.model import Exercise, Note
from rulekit.exercise.timeline import NO_MOMENT, Heard, Moment
from rulekit.marking import Finding
from rulekit.music.motion import Motion
from rulekit.music.pitch import interval_short, pitch_name
from rulekit.severity import Severity
from rulekit.show.terminal import Part, clean
from rulekit.show.words import beat_words

STYLES = {Severity.FAULT: "bold magenta", Severity.WARNING: "yellow", Severity.ADVICE: "cyan"}
EXCUSED = "green"
_MOTIONS = {
    Motion.CONTRARY: "con", Motion.OBLIQUE: "obl", Motion.SIMILAR: "sim", Motion.PARALLEL: "par", Motion.NONE: "none",
}  # fmt: skip
_HELD, _REST, _CROSSED = "–", "r", "x"
_MOST_BARS = 12
_WIDEST_LABEL = 16
_BETWEEN_BARS, _BETWEEN_MOMENTS = 3, 1


Line = list[Part]


@dataclass(slots=True)
class _Cell:
    text: str
    style: str = ""


_EMPTY = _Cell("")


@dataclass(slots=True)
class _Column:
    """One moment: its place and a cell for every row that has something there."""

    bar: int
    beat: Fraction
    cells: dict[str, _Cell] = field(default_factory=dict[str, _Cell])

    def width(self) -> int:
        """How many cells it takes."""
        return max(2, *[cell_len(cell.text) for cell in self.cells.values()])


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the grid by its key; an ``optional`` one is left out of a system where it is empty."""

    key: str
    label: str
    style: str = ""
    optional: bool = False


def grid(heard: Heard, findings: Sequence[Finding], width: int, with_figures: bool = False) -> list[list[Line]]:
    """The score in systems of lines no wider than ``width``.

    Rows: bars, beats (where a bar has several moments), the voices (a dash holds a note, r is a
    rest), the intervals above the voice that really sounds lowest (as figures over it, if
    wanted: 3 for a third, 10 for a tenth, #6 where a sign is needed), crossings (pairs of voices
    counted from the top), the motion that led to each moment (outer voices), and the numbers
    of the findings, counted from 1.
    """
    rows = _rows(heard.exercise)
    columns = list(_columns(heard, with_figures))
    _mark(columns, heard.exercise, findings)
    label = max(cell_len(row.label) for row in rows)
    return [_system(system, rows, label) for system in _systems(columns, width - label - _BETWEEN_BARS)]


def _rows(exercise: Exercise) -> list[_Row]:
    count = len(exercise.voices)
    labels = [_label(clean(voice.name)) for voice in exercise.voices]
    return [
        _Row("bar", "bar", "dim"),
        _Row("beat", "beat", "dim", optional=True),
        *(_Row(f"voice {index}", label) for index, label in enumerate(labels)),
        *_figure_rows(labels),
        _Row("crossed", "crossed", "bold", optional=True),
        _Row("motion", "motion" if count == 2 else "outer motion", "dim", optional=True),
        _Row("found", "finding", optional=True),
    ]


def _figure_rows(labels: Sequence[str]) -> list[_Row]:
    """Of two voices one row; of more a row for each that sounds above the lowest, under a heading."""
    if len(labels) == 2:
        return [_Row("figure", "interval", "dim", optional=True)]
    rows = [_Row(f"figure {index}", f" {label}", "dim", optional=True) for index, label in enumerate(labels)]
    return [_Row("heading", "over the bass", "dim"), *rows] if len(labels) > 1 else []


def _label(name: str) -> str:
    return name if cell_len(name) <= _WIDEST_LABEL else f"{set_cell_size(name, _WIDEST_LABEL - 1)}…"


# ---- columns -----------------------------------------------------------------------------------


def _columns(heard: Heard, with_figures: bool) -> Iterator[_Column]:
    """A column for every moment, and one for a bar in which nothing begins."""
    exercise, latest = heard.exercise, NO_MOMENT
    metre = exercise.metre
    by_bar = {bar: list(group) for bar, group in groupby(heard.moments, lambda moment: moment.bar)}
    for bar in range(1, exercise.setting.bars + 1):
        number = bar + exercise.first_bar - 1
        if bar not in by_bar:
            yield _still_column(number, latest, metre.start_of(bar), len(exercise.voices))
        for moment in by_bar.get(bar, []):
            yield _column(number, moment, with_figures)
            latest = moment


def _still_column(number: int, latest: Moment, time: Fraction, count: int) -> _Column:
    notes: Sequence[Note | None] = [None] * count if latest is NO_MOMENT else latest.notes
    held = [note is not None and note.end > time for note in notes]
    cells = {f"voice {index}": _Cell(_HELD if holds else _REST) for index, holds in enumerate(held)}
    return _Column(number, Fraction(1), cells)


def _column(number: int, moment: Moment, with_figures: bool) -> _Column:
    column = _Column(number, moment.beat)
    for index, note in enumerate(moment.notes):
        sounding = _REST if note is None else pitch_name(note.pitch) if moment.begun[index] else _HELD
        column.cells[f"voice {index}"] = _Cell(sounding)
    found = figures_at(moment)
    for figure in found.figures:
        key = "figure" if len(moment.notes) == 2 else f"figure {figure.voice}"
        column.cells[key] = _Cell(figure.words() if with_figures else interval_short(figure.interval))
    if found.crossed:
        column.cells["crossed"] = _Cell(_crossed_words(found.crossed, len(moment.notes)))
    outer = moment.dyad(0, len(moment.notes) - 1)
    if outer is not None and outer.motion is not None:
        column.cells["motion"] = _Cell(_MOTIONS[outer.motion])
    return column


def _crossed_words(pairs: Sequence[tuple[int, int]], count: int) -> str:
    """Which voices are crossed, as numbers from the top; of two voices just a sign."""
    return _CROSSED if count == 2 else " ".join(f"{high + 1}{_CROSSED}{low + 1}" for high, low in pairs)


def _mark(columns: Sequence[_Column], exercise: Exercise, findings: Sequence[Finding]) -> None:
    """Number the findings under their columns and colour the notes they are about."""
    by_place = {(column.bar, column.beat): column for column in columns}
    voices = {voice.name: f"voice {index}" for index, voice in enumerate(exercise.voices)}
    numbers: dict[tuple[int, Fraction], list[int]] = {}
    for number, finding in enumerate(findings, 1):
        if finding.bar is not None and finding.beat is not None:
            numbers.setdefault((finding.bar, finding.beat), []).append(number)
        for place in finding.places:
            cell = by_place[place.bar, place.beat].cells[voices[place.voice]]
            cell.style = _stronger(cell.style, finding_style(finding))
    for place, found in numbers.items():
        style = ""
        for number in found:
            style = _stronger(style, finding_style(findings[number - 1]))
        by_place[place].cells["found"] = _Cell(_number_words(found), style)


def finding_style(finding: Finding) -> str:
    """The colour of a finding: by its severity, another if it is excused."""
    return EXCUSED if finding.excuse else STYLES[finding.severity]


def _stronger(style: str, other: str) -> str:
    order = [*STYLES.values(), EXCUSED, ""]
    return min(style, other, key=order.index)


def _number_words(numbers: Sequence[int]) -> str:
    """Numbers in a row: ``4``, ``4,5``, ``4–7``."""
    return ",".join(map(str, numbers)) if len(numbers) < 3 else f"{numbers[0]}–{numbers[-1]}"


# ---- systems -----------------------------------------------------------------------------------


class _Bar(NamedTuple):
    """The columns of a bar, or of a part of it, how many cells they take, and the gap that is left before them."""

    columns: list[_Column]
    width: int
    gap: int


def _systems(columns: Sequence[_Column], width: int) -> list[list[_Column]]:
    """The columns in systems that fit, bars whole where they can be, of about as many bars each."""
    bars = [part for _, bar in groupby(columns, lambda column: column.bar) for part in _fitting(bar, width)]
    fewest = len(_filled(bars, width, _MOST_BARS))
    most = next(most for most in range(1, _MOST_BARS + 1) if len(_filled(bars, width, most)) == fewest)
    return [[column for bar in system for column in bar.columns] for system in _filled(bars, width, most)]


def _fitting(columns: Iterable[_Column], width: int) -> Iterator[_Bar]:
    """A bar whole, or in parts if it is too wide."""
    part, used, gap = list[_Column](), 0, _BETWEEN_BARS
    for column in columns:
        own = column.width()
        if part and used + _BETWEEN_MOMENTS + own > width:
            yield _Bar(part, used, gap)
            part, used, gap = [], 0, _BETWEEN_MOMENTS
        used += own + (_BETWEEN_MOMENTS if part else 0)
        part.append(column)
    yield _Bar(part, used, gap)


def _filled(bars: Sequence[_Bar], width: int, most: int) -> list[list[_Bar]]:
    systems, used = list[list[_Bar]](), 0
    for bar in bars:
        if systems and len(systems[-1]) < most and used + bar.gap + bar.width <= width:
            systems[-1].append(bar)
            used += bar.gap + bar.width
        else:
            systems.append([bar])
            used = bar.width
    return systems


def _system(columns: Sequence[_Column], rows: Sequence[_Row], label: int) -> list[Line]:
    single = all(before.bar != column.bar for before, column in pairwise(columns))
    new = [True, *(before.bar != column.bar for before, column in pairwise(columns))]
    for column, is_new in zip(columns, new, strict=True):
        if is_new:
            column.cells["bar"] = _Cell(str(column.bar))
        if not single or column.beat != 1:
            column.cells["beat"] = _Cell(beat_words(column.beat))
    gaps = [0, *(_BETWEEN_BARS if is_new else _BETWEEN_MOMENTS for is_new in new[1:])]
    places = list(zip(columns, gaps, [column.width() for column in columns], strict=True))
    return [_line(row, places, label) for row in rows if not row.optional or any(row.key in c.cells for c in columns)]


def _line(row: _Row, places: Sequence[tuple[_Column, int, int]], label: int) -> Line:
    """One line; a motion stands between its two moments."""
    shift = 2 if row.key == "motion" else 0
    line = [(set_cell_size(row.label, label) + " " * (_BETWEEN_BARS - shift), row.style)]
    for column, gap, width in places:
        cell = column.cells.get(row.key, _EMPTY)
        line += [(" " * gap, row.style), (set_cell_size(cell.text, width), cell.style or row.style)]
    while not line[-1][0].strip():
        line.pop()
    last, style = line.pop()
    return [*line, (last.rstrip(), style)]
