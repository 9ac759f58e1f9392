"""Rows: what every sample of an exercise comes to, looked up by what is around it.

A rule without streams, and the condition of a stream, is a *question* asked of each sample of a feed. What it comes
to there depends only on the notes that it reads and on how they lie in the bar, so the answers of all questions on a
feed are kept as one *row* for each such surroundings. Rows are filled by the compiled conditions that monitors run,
and only where something is new: most of an exercise is looked up.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import count
from typing import Any

from rulekit.compiler.around import Around
from rulekit.compiler.monitor import licence_of
from rulekit.compiler.passage import Line
from rulekit.compiler.streams import Feed, Reading
from rulekit.compiler.window import Window
from rulekit.exercise.timeline import Heard
from rulekit.language.typed import Kind

MOST_ROWS = 50_000  # kept in one table; past that it begins afresh

Key = tuple[Any, ...]

_NUMBERS = count()


class Lines:
    """An exercise as each feed sees it, made once."""

    def __init__(self, heard: Heard) -> None:
        self._heard = heard
        self._made: dict[Feed, Line] = {}

    def of(self, feed: Feed) -> Line:
        """All samples of a feed."""
        if feed not in self._made:
            seen = [(moment, feed.of(moment)) for moment in self._heard.moments]
            self._made[feed] = Line(seen, feed.kind == Kind.DYAD and not feed.sample)
        return self._made[feed]


@dataclass(slots=True)
class Row:
    """What the questions of a table come to: rules broken and the licences, stream conditions, stream values.

    Before the conditions stands whether any rule is broken. No two rows have the same number.
    """

    number: int
    hits: tuple[tuple[int, int | None], ...]
    flags: bytes
    values: tuple[Any, ...]


class Table:
    """Questions on one feed with their rows."""

    def __init__(self, feed: Feed, track: int, look: Around) -> None:
        self.feed, self.track, self.around = feed, track, look
        self.rules: list[tuple[int, Window]] = []
        self.tests: list[Window] = []
        self.values: list[Reading] = []
        self._rows: dict[int, dict[Key, Row]] = {}
        self._filled = 0

    @property
    def width(self) -> int:
        """How many flags a row has."""
        return 1 + len(self.tests)

    def known(self, place: int) -> dict[Key, Row]:
        """The rows of samples that lie so, by the pitches round them."""
        return self._rows.setdefault(place, {})

    def fill(self, lookups: list[tuple[dict[Key, Row], Key]], lines: Lines) -> None:
        """Answer every question wherever something is new."""
        if self._filled > MOST_ROWS:
            for known in self._rows.values():
                known.clear()
            self._filled = 0
        line = lines.of(self.feed)
        wanted = {(id(known), key): i for i, (known, key) in enumerate(lookups) if key not in known}.values()
        rules = [(number, answers(window, line, wanted)) for number, window in self.rules]
        tests = [answers(window, line, wanted) for window in self.tests]
        values = [taken(reading, line.samples) for reading in self.values]
        for i in wanted:
            hits = tuple((number, licence_of(found[i])) for number, found in rules if found[i] >= 0)
            self._filled += 1
            flags = bytes([bool(hits), *(found[i] >= 0 for found in tests)])
            row = Row(next(_NUMBERS), hits, flags, tuple([v[i] for v in values]))
            known, key = lookups[i]
            known[key] = row


def answers(window: Window, line: Line, wanted: Iterable[int], streams: Sequence[Any] = ()) -> dict[int, int]:
    """The outcome of a condition at some samples, below 0 where it does not hold."""
    if window.at_once is not None:
        return {i: window.at_once(line.samples[i], streams[i] if streams else ()) for i in wanted}
    return {i: window.outright(line, i, streams[i] if streams else ()) for i in wanted}


def taken(reading: Reading, samples: Iterable[Any]) -> list[Any]:
    """The value that a stream takes from each sample."""
    earlier, found = reading.start, list[Any]()
    for sample in samples:
        earlier, value = reading.read(earlier, sample)
        found.append(value)
    return found
