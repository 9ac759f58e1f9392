"""Plans: a rhythm as the tables of a marker see it, with whatever does not depend on pitches worked out once."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, chain
from operator import getitem, itemgetter
from typing import Any

from rulekit.compiler.around import Spot
from rulekit.compiler.marker import Marker
from rulekit.compiler.rows import Key, Lines, Row, Table
from rulekit.compiler.streams import Feed
from rulekit.exercise.model import NO_NOTE, Note
from rulekit.exercise.timeline import NO_DYAD, Heard, Moment


@dataclass(frozen=True, slots=True)
class Track:
    """The samples of a feed in one rhythm: the moment, bar, beat and time of each."""

    moments: tuple[int, ...]
    bars: tuple[int, ...]
    beats: tuple[Fraction, ...]
    times: tuple[Fraction, ...]
    all: bytes


@dataclass(frozen=True, slots=True)
class View:
    """A table in one rhythm: the rows known for each sample, and what picks the pitches round all of them, ``width``
    for each, from those of the whole exercise."""

    known: list[dict[Key, Row]]
    pick: Callable[[list[Any]], tuple[Any, ...]]
    width: int

    def keys(self, pitches: list[Any]) -> Iterator[Key]:
        """The pitches round each sample."""
        return zip(*[iter(self.pick(pitches))] * self.width, strict=False)

    def rows(self, table: Table, pitches: list[Any], lines: Lines) -> list[Row]:
        """The row of each sample."""
        try:
            return list(map(getitem, self.known, self.keys(pitches)))
        except KeyError:
            table.fill(list(zip(self.known, self.keys(pitches), strict=False)), lines)
            return list(map(getitem, self.known, self.keys(pitches)))


class Plan:
    """One rhythm as the tables of a marker see it: whatever does not depend on pitches, worked out once."""

    def __init__(self, marker: Marker, heard: Heard) -> None:
        self.marker = marker
        self._setting = marker.number(replace(heard.setting, length=Fraction(0)))
        self._moments = heard.moments
        self._counts = self._begun()
        lengths = [last + 1 for last in self._counts[-1]] if self._counts else [0] * marker.count
        self._starts = list(accumulate(lengths, initial=1))
        self._scenes: dict[tuple[tuple[int, ...], bool], list[int]] = {}
        self._columns: dict[tuple[int, Spot], tuple[int, ...]] = {}
        self._cantus = dict(self._met())
        self._lies = {dated: self._notes(dated) for dated in {table.around.dated for table in marker.tables}}
        self.tracks = [self._track(feed) for feed in marker.feeds]
        self.views = [self._view(table) for table in marker.tables]
        del self._moments, self._counts, self._scenes, self._columns, self._lies, self._cantus

    def _begun(self) -> list[list[int]]:
        """For each moment and voice the number of the note last begun, -1 before the first."""
        counts, current = list[list[int]](), [-1] * self.marker.count
        for moment in self._moments:
            current = [n + begun for n, begun in zip(current, moment.begun, strict=True)]
            counts.append(current)
        return counts

    def _met(self) -> Iterator[tuple[int, int]]:
        """The number of each note that begins while the cantus sounds, and that of the note of the cantus."""
        cantus = self._moments[0].setting.cantus if self._moments else None
        if cantus is None or not any(spot.cantus for table in self.marker.tables for spot in table.around.spots):
            return
        for moment, counts in zip(self._moments, self._counts, strict=True):
            numbers = [start + count for start, count in zip(self._starts, counts, strict=False)]
            begun = (voice for voice, begins in enumerate(moment.begun) if begins and voice != cantus)
            yield from ((numbers[voice], numbers[cantus]) for voice in begun if moment.notes[cantus] is not None)

    def _track(self, feed: Feed) -> Track:
        found = [(i, m) for i, m in enumerate(self._moments) if feed.of(m) is not None]
        moments = [moment for _, moment in found]
        return Track(
            tuple(i for i, _ in found),
            tuple(moment.bar for moment in moments),
            tuple(moment.beat for moment in moments),
            tuple(moment.time for moment in moments),
            b"\1" * len(moments),
        )

    def _view(self, table: Table) -> View:
        at, look = self.tracks[table.track].moments, table.around
        voices = tuple(range(self.marker.count)) if look.every else table.feed.voices
        if (voices, look.dated) not in self._scenes:
            every = range(len(self._moments))
            self._scenes[voices, look.dated] = [self._scene(i, voices, look.dated) for i in every]
        scenes = [self._scenes[voices, look.dated][i] for i in at]
        low, high = look.offsets
        parts: list[Sequence[int]] = [_shifted(scenes, offset, -1) for offset in range(low, high + 1)]
        picked = [self._column(table.track, spot) for spot in sorted(look.spots)]
        parts += [list(map(self._lies[look.dated].__getitem__, column)) for column in picked]
        distinct = list(dict.fromkeys(picked))  # what is the same note all along is read once
        parts.append([self.marker.number((self._setting, *map(distinct.index, picked)))] * len(at))
        known = [table.known(self.marker.number(lie)) for lie in zip(*parts, strict=True)]
        return View(known, itemgetter(*chain.from_iterable(zip(*distinct, strict=True)), 0, 0), len(distinct))

    def _column(self, track: int, spot: Spot) -> tuple[int, ...]:
        """For each sample the number of the note at a spot among all notes, from 1; 0 where there is none."""
        if (track, spot) not in self._columns:
            offset, voice, hops, cantus = spot
            first, end = self._starts[voice : voice + 2]
            places = [first + self._counts[i][voice] + hops for i in self.tracks[track].moments]
            there = [place if first <= place < end else 0 for place in places]
            meant = [self._cantus.get(place, 0) for place in there] if cantus else there
            self._columns[track, spot] = tuple(_shifted(meant, offset, 0))
        return self._columns[track, spot]

    def _notes(self, dated: bool) -> list[int]:
        """How each note lies in the bar, by its number among all; -1 where there is none."""
        return [
            -1,
            *(
                self.marker.number(_lie(note, dated))
                for voice in range(self.marker.count)
                for note in self._line(voice)
            ),
        ]

    def _line(self, voice: int) -> list[Note]:
        notes = (moment.notes[voice] for moment in self._moments if moment.begun[voice])
        return [note for note in notes if note is not None]

    def _scene(self, index: int, voices: tuple[int, ...], dated: bool) -> int:
        """What sounds at a moment among some voices, but for pitches and what the notes themselves tell."""
        moment = self._moments[index]
        sounding = tuple((moment.begun[voice], moment.notes[voice] is not None) for voice in voices)
        dyads = tuple(_joint(moment, high, low, dated) for low in voices for high in voices if high < low)
        place = (moment.beat.as_integer_ratio(), moment.accented, moment.first, moment.last, moment.bar if dated else 0)
        return self.marker.number((place, sounding, dyads))

    def track(self, monitor: int) -> Track:
        """The samples that a monitor judges, by its number."""
        track = self.marker.tracks[monitor]
        assert track is not None
        return self.tracks[track]


def _shifted(column: Sequence[int], offset: int, missing: int) -> Sequence[int]:
    """What stands so many places on from each, or back."""
    beyond = [missing] * abs(offset)
    return [*column, *beyond][offset:] if offset >= 0 else [*beyond, *column][:offset]


def _lie(note: Note, dated: bool) -> Key:
    in_bar = (note.beat.as_integer_ratio(), note.accented, note.rhythm, note.opens_bar)
    place = (*in_bar, note.length.as_integer_ratio(), note.tied, note.rested, note.last, note.before is NO_NOTE)
    return (*place, note.bar) if dated else place


def _joint(moment: Moment, high: int, low: int, dated: bool) -> Key | None:
    dyad = moment.sounding(high, low)
    if dyad is None:
        return None
    begun = dyad.moment.begun[high], dyad.moment.begun[low]
    place = (dyad.beat.as_integer_ratio(), dyad.accented)
    return (dyad.first, *place, dyad.previous is NO_DYAD, begun, dyad.bar if dated else 0)
