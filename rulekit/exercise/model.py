"""The exercise as data: notes, voices, metre, setting."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache, lru_cache
from itertools import repeat
from typing import Final, NamedTuple, TypeVar, cast

from rulekit.displays import Displayed
from rulekit.music.mode import Mode
from rulekit.music.pitch import Interval, Pitch, letter, rising
from rulekit.music.rhythm import BarRhythm, Span, bar_rhythms, begins_bar, pace, total

_MOST_MOVES = 10_000  # voices whose rhythm is kept


@dataclass(frozen=True, slots=True)
class Bars:
    """Bars of one kind from a time on: the first of them by its number from 1, and the length of each.

    They have beats as in a time signature; an incomplete bar is shorter than its beats.
    """

    start: Fraction
    first: int
    beats: int
    unit: Fraction
    length: Fraction

    def after(self, time: Fraction) -> int:
        """How many of them lie before the one that a time falls in."""
        return int((time - self.start) // self.length)

    def within(self, time: Fraction) -> Fraction:
        """How long a bar has gone on at a time."""
        return (time - self.start) % self.length


@dataclass(frozen=True, slots=True)
class Metre:
    """A time signature: ``beats`` of ``unit`` quarter notes each; alla breve is two of 2.

    ``changes`` are where other bars begin, in order: another time signature, or a bar that is not full. Times are in
    quarter notes from the first bar; bars count from 1.
    """

    beats: int
    unit: Fraction
    changes: tuple[Bars, ...] = ()

    def __str__(self) -> str:
        signatures = [(self.beats, self.unit), *((bars.beats, bars.unit) for bars in self.changes)]
        return " and ".join(f"{beats}/{4 / unit}" for beats, unit in dict.fromkeys(signatures))

    @property
    def bar_length(self) -> Fraction:
        """The length of a bar in quarter notes, as the first time signature says."""
        return self.beats * self.unit

    def at(self, time: Fraction) -> Bars:
        """The bars that a time falls among."""
        index = bisect_right(self.changes, time, key=lambda bars: bars.start) if self.changes else 0
        return self.changes[index - 1] if index else _usual(self.beats, self.unit)

    def start_of(self, bar: int) -> Fraction:
        """When a bar begins."""
        index = bisect_right(self.changes, bar, key=lambda bars: bars.first)
        bars = self.changes[index - 1] if index else _usual(self.beats, self.unit)
        return bars.start + (bar - bars.first) * bars.length

    def end_of(self, time: Fraction) -> Fraction:
        """When the bar ends that a time falls in."""
        bars = self.at(time)
        return time - bars.within(time) + bars.length

    def lengths(self) -> Iterator[Fraction]:
        """The lengths of all bars, endlessly."""
        if not self.changes:
            yield from repeat(self.bar_length)
        time = Fraction(0)
        while True:
            length = self.at(time).length
            yield length
            time += length

    def bar_of(self, time: Fraction) -> int:
        """The bar that a time falls in."""
        bars = self.at(time)
        return bars.first + bars.after(time)

    def beat_of(self, time: Fraction) -> Fraction:
        """The beat within the bar, from 1; between beats it is a fraction."""
        bars = self.at(time)
        return bars.within(time) / bars.unit + 1

    def is_strong(self, time: Fraction) -> bool:
        """Whether a bar begins here."""
        return self.at(time).within(time) == 0

    def is_accented(self, time: Fraction) -> bool:
        """Whether a half bar begins here, or in triple time a beat."""
        bars = self.at(time)
        pulse = bars.beats * bars.unit / 2 if bars.beats % 2 == 0 else bars.unit
        return bars.within(time) % pulse == 0

    def place(self, time: Fraction) -> tuple[int, Fraction, bool, bool]:
        """Bar, beat, whether downbeat, whether accented, of a time."""
        return _place(self.beats, *self.unit.as_integer_ratio(), self.changes, *time.as_integer_ratio())


T = TypeVar("T")


@cache
def _usual(beats: int, unit: Fraction) -> Bars:
    """The full bars of a time signature, from the beginning."""
    return Bars(Fraction(0), 1, beats, unit, beats * unit)


@cache
def _place(
    beats: int, unit: int, unit_under: int, changes: tuple[Bars, ...], number: int, under: int
) -> tuple[int, Fraction, bool, bool]:
    """As :meth:`Metre.place`; fractions come as two whole numbers, which are hashed much faster."""
    metre, time = Metre(beats, Fraction(unit, unit_under), changes), Fraction(number, under)
    return metre.bar_of(time), metre.beat_of(time), metre.is_strong(time), metre.is_accented(time)


class Moves(NamedTuple):
    """How a voice moves: the rhythm of each bar, which of its notes and rests is the first note of one, its pace."""

    rhythms: tuple[BarRhythm, ...]
    opens: tuple[bool, ...]
    pace: str


def moves(spans: Iterable[Span], metre: Metre) -> Moves:
    """How a voice of such notes and rests moves; worked out once for all that move alike."""
    return _moves(tuple([(*length.as_integer_ratio(), is_rest) for length, is_rest in spans]), metre)


@lru_cache(_MOST_MOVES)
def _moves(lengths: tuple[tuple[int, int, bool], ...], metre: Metre) -> Moves:
    spans = [(Fraction(number, under), is_rest) for number, under, is_rest in lengths]
    rhythms = bar_rhythms(spans, metre.lengths())
    return Moves(tuple(rhythms), tuple(begins_bar(spans, metre.bar_of)), pace(rhythms, metre.bar_length))


ALLA_BREVE = Metre(2, Fraction(2))


@dataclass(frozen=True, slots=True)
class Event:
    """What is written: a note or (pitch None) a rest, its length in quarters, and whether a tie follows.

    ``open`` marks, where there is no pitch, a note that is still to be found; it is judged as a rest.
    """

    pitch: Pitch | None
    length: Fraction
    tie: bool = False
    open: bool = False


@dataclass(frozen=True, slots=True)
class Compass:
    """The range of a voice, both ends included."""

    name: str
    low: Pitch
    high: Pitch


@dataclass(frozen=True, slots=True)
class Clef:
    """A clef: its shape G, F or C, its line from the lowest, and -1 octaves for one that sounds an octave lower."""

    shape: str
    line: int
    octaves: int = 0


@dataclass(frozen=True, slots=True)
class Voice:
    """One written voice: its label, its events from the first bar, its range if one is known, the clef it came in."""

    name: str
    events: tuple[Event, ...]
    compass: Compass | None = None
    clef: Clef | None = field(default=None, compare=False)

    def placed(self) -> Iterator[tuple[Fraction, Event]]:
        """Each event and when it begins, in quarter notes."""
        time = Fraction(0)
        for event in self.events:
            yield time, event
            time += event.length

    @property
    def length(self) -> Fraction:
        """The whole length in quarter notes."""
        return total([event.length for event in self.events])

    @property
    def spans(self) -> list[tuple[Fraction, bool]]:
        """How long each note and rest lasts, tied notes as one, and whether it is a rest."""
        return [(length, pitch is None and not is_open) for pitch, is_open, length, _ in merged(self.events)]


@dataclass(frozen=True, slots=True)
class Setting:
    """What holds for a whole exercise and is known before its first note.

    ``cantus`` is the index of the voice that holds the cantus firmus, counted from the
    highest written voice (0), or None; ``length`` is in quarter notes; ``paces`` say how each voice moves.
    """

    mode: Mode
    metre: Metre
    voice_count: int
    cantus: int | None
    length: Fraction
    compasses: tuple[Compass | None, ...] = ()
    paces: tuple[str, ...] = ()

    @property
    def bars(self) -> int:
        """How many bars there are, a last short one included."""
        return self.metre.bar_of(self.length) - self.metre.is_strong(self.length)


@dataclass(frozen=True, slots=True)
class Origin:
    """Where an exercise comes from: a file, and its number among those of its title there, from 1; None if alone."""

    file: str
    number: int | None = None

    def __str__(self) -> str:
        return self.file if self.number is None else f"{self.file}, number {self.number} of this title"


def heading(title: str, origin: Origin | None) -> str:
    """What an exercise is called wherever one is told from others: ``the ferry (sketches/cantus.notes)``."""
    return (title or "untitled") + (f" ({origin})" if origin else "")


@dataclass(frozen=True, slots=True)
class Exercise(Displayed):
    """A whole exercise: voices from the highest written to the lowest.

    ``inferred`` says, in words, what the score did not say and was worked out; ``origin`` which file it, or the
    sketch that it fills, was read from. Two solutions on one cantus, written
    on one sheet, are an exercise each; ``whole`` is then that sheet with all its voices and ``places`` say which
    of them are its own.
    """

    title: str
    voices: tuple[Voice, ...]
    mode: Mode
    metre: Metre = ALLA_BREVE
    cantus: int | None = None
    first_bar: int = 1
    inferred: tuple[str, ...] = field(default=(), compare=False)
    whole: "Exercise | None" = field(default=None, compare=False)
    places: tuple[int, ...] = field(default=(), compare=False)
    origin: Origin | None = field(default=None, compare=False)

    @property
    def heading(self) -> str:
        """Its title and where it comes from."""
        return heading(self.title, self.origin)

    @property
    def setting(self) -> Setting:
        """The part of the exercise that is known beforehand."""
        length = max((voice.length for voice in self.voices), default=Fraction(0))
        compasses = tuple(voice.compass for voice in self.voices)
        paces = tuple(moves(voice.spans, self.metre).pace for voice in self.voices)
        return Setting(self.mode, self.metre, len(self.voices), self.cantus, length, compasses, paces)

    def bar_at(self, time: Fraction) -> int:
        """The bar that a time lies in, numbered as in the score."""
        return self.metre.bar_of(time) + self.first_bar - 1

    def pairs(self) -> list["Exercise"]:
        """Each voice over or under the cantus as an exercise in two voices with it.

        Raises ValueError when there is no cantus, or nothing beside it.
        """
        if self.cantus is None or len(self.voices) < 2:
            raise ValueError("there is no cantus that other voices could share")
        return [self._pair(index) for index in range(len(self.voices)) if index != self.cantus]

    def _pair(self, index: int) -> "Exercise":
        assert self.cantus is not None
        places = tuple(sorted((index, self.cantus)))
        voices = tuple(self.voices[each] for each in places)
        title, cantus = f"{self.title}, {self.voices[index].name}", int(index < self.cantus)
        return replace(self, title=title, voices=voices, cantus=cantus, whole=self, places=places)

    @property
    def sheet(self) -> "Exercise":
        """The sheet that it is written on: itself, or the one with other solutions beside it."""
        return self.whole or self

    @property
    def on_sheet(self) -> tuple[int, ...]:
        """For each of its voices which one of its sheet it is, counted from the highest written (0)."""
        return self.places or tuple(range(len(self.voices)))


def sheets(exercises: Sequence[Exercise]) -> Iterator[tuple[Exercise, ...]]:
    """The exercises sheet by sheet: one, or all that share a cantus."""
    begin = 0
    while begin < len(exercises):
        whole = exercises[begin].whole
        end = begin + (1 if whole is None else len(whole.voices) - 1)
        yield tuple(exercises[begin:end])
        begin = end


class Note:
    """A sounding note as the rules see it: ties are merged, places are worked out.

    ``onset``, ``length`` and ``end`` are in quarter notes; ``bar`` counts from 1; ``degree`` is 1 to 7;
    ``raised`` is its alteration against the mode in semitones; ``approach`` is the interval
    from the note before it in its voice, None for the first; ``before`` is that note or NO_NOTE;
    ``last`` says that it sounds until the end of the exercise; ``tied`` that a written tie is in
    it; ``rested`` that a rest comes right before it; ``rhythm`` is that of the bar in which it begins,
    ``opens_bar`` says that it is the first to begin there; ``cantus`` is the note of the cantus that sounds
    when it begins, NO_NOTE if there is none, if it is one itself, or if nobody asks.
    """

    __slots__ = (
        "voice", "pitch", "onset", "length", "end", "bar", "beat", "downbeat", "accented",
        "degree", "raised", "approach", "before", "last", "tied", "rested",
        "leading", "in_compass", "inner", "rhythm", "opens_bar", "cantus",
    )  # fmt: skip

    voice: int
    pitch: Pitch
    onset: Fraction
    length: Fraction
    end: Fraction
    bar: int
    beat: Fraction
    downbeat: bool
    accented: bool
    degree: int
    raised: int
    approach: Interval | None
    before: "Note"
    last: bool
    tied: bool
    rested: bool
    leading: bool
    in_compass: bool | None
    inner: bool
    rhythm: BarRhythm | None
    opens_bar: bool
    cantus: "Note"

    def __init__(
        self,
        setting: Setting,
        voice: int,
        pitch: Pitch,
        onset: Fraction,
        length: Fraction,
        before: "Note",
        tied: bool = False,
        rested: bool = False,
        rhythm: BarRhythm | None = None,
        opens_bar: bool = False,
    ) -> None:
        self.voice, self.onset, self.length = voice, onset, length
        self.bar, self.beat, self.downbeat, self.accented = setting.metre.place(onset)
        self.end = onset + length
        self.last = self.end >= setting.length
        self.tied, self.rested, self.rhythm, self.opens_bar = tied, rested, rhythm, opens_bar
        self.inner = 0 < voice < setting.voice_count - 1
        self._sing(setting, pitch)
        self._follow(before)
        self.cantus = NO_NOTE

    def _sing(self, setting: Setting, pitch: Pitch) -> None:
        """Set everything that depends on the pitch."""
        self.pitch = pitch
        self.degree, self.raised = setting.mode.place(pitch)
        self.leading = setting.mode.is_leading(pitch)
        compass = setting.compasses[self.voice] if setting.compasses else None
        self.in_compass = None if compass is None else compass.low <= pitch <= compass.high

    def _follow(self, before: "Note") -> None:
        """Set everything that depends on what came before."""
        self.before = before
        self.approach = None if before is NO_NOTE else Interval(self.pitch - before.pitch)

    def following(self, before: "Note", cantus: "Note") -> "Note":
        """The same note, come to from another one, over or under another one of the cantus."""
        note = self._placed()
        note.pitch, note.degree, note.raised = self.pitch, self.degree, self.raised
        note.leading, note.in_compass = self.leading, self.in_compass
        note._follow(before)
        note.cantus = cantus
        return note

    def singing(self, setting: Setting, pitch: Pitch, before: "Note", cantus: "Note") -> "Note":
        """The note of another pitch in its place, among other notes; itself if it is that already."""
        if pitch == self.pitch:
            alike = before is self.before and cantus is self.cantus
            return self if alike else self.following(before, cantus)
        note = self._placed()
        note._sing(setting, pitch)
        note._follow(before)
        note.cantus = cantus
        return note

    def _placed(self) -> "Note":
        """A note in the same place, without anything that depends on pitches."""
        note = Note.__new__(Note)
        note.voice, note.onset, note.length, note.end = self.voice, self.onset, self.length, self.end
        note.bar, note.beat, note.downbeat, note.accented = self.bar, self.beat, self.downbeat, self.accented
        note.last, note.tied, note.rested, note.inner = self.last, self.tied, self.rested, self.inner
        note.rhythm, note.opens_bar = self.rhythm, self.opens_bar
        return note

    @property
    def letter(self) -> int | None:
        """The letter as a number, C = 0 … B = 6."""
        return None if self is NO_NOTE else letter(self.pitch)

    @property
    def with_cantus(self) -> Interval | None:
        """The interval that it makes with the note of the cantus, measured up from the one that sounds lower."""
        return None if self.cantus is NO_NOTE else rising(Interval(self.pitch - self.cantus.pitch))

    @property
    def first(self) -> bool | None:
        """Whether it is the first note of its voice."""
        return None if self is NO_NOTE else self.before is NO_NOTE

    @property
    def sharpened(self) -> bool | None:
        """Whether it is raised against the mode's own note."""
        return None if self is NO_NOTE else self.raised > 0

    @property
    def flattened(self) -> bool | None:
        """Whether it is lowered against the mode's own note."""
        return None if self is NO_NOTE else self.raised < 0

    @property
    def diatonic(self) -> bool | None:
        """Whether it is the mode's own note."""
        return None if self is NO_NOTE else self.raised == 0


def nothing(kind: type[T]) -> T:
    """The missing note, dyad or moment: every attribute is None."""
    missing = kind.__new__(kind)
    for name in cast("tuple[str, ...]", kind.__slots__):  # type: ignore[attr-defined]
        setattr(missing, name, None)
    return missing


NO_NOTE: Final = nothing(Note)
NO_NOTE.before = NO_NOTE.cantus = NO_NOTE


def merged(events: Sequence[Event]) -> Iterator[tuple[Pitch | None, bool, Fraction, bool]]:
    """What is written with tied notes as one: pitch (None in a rest), whether still open, length, whether tied."""
    position = 0
    while position < len(events):
        event = first = events[position]
        length = event.length
        position += 1
        while event.tie and position < len(events) and _goes_on(first, events[position]):
            event = events[position]
            length, position = length + event.length, position + 1
        yield first.pitch, first.open, length, event is not first


def _goes_on(first: Event, event: Event) -> bool:
    return (event.pitch, event.open) == (first.pitch, first.open) and (event.pitch is not None or event.open)


def sounding_notes(setting: Setting, index: int, events: Sequence[Event]) -> list[Note]:
    """The notes of a voice with tied notes merged, in order, each linked to the one before."""
    notes: list[Note] = []
    time, rested, metre = Fraction(0), False, setting.metre
    pieces = list(merged(events))
    moved = moves([(length, pitch is None) for pitch, _, length, _ in pieces], metre)
    for (pitch, _, length, tied), opens in zip(pieces, moved.opens, strict=True):
        if pitch is not None:
            before = notes[-1] if notes else NO_NOTE
            rhythm = moved.rhythms[metre.place(time)[0] - 1]
            notes.append(Note(setting, index, pitch, time, length, before, tied, rested, rhythm, opens))
        time, rested = time + length, pitch is None
    return notes
