"""The exercise as data: notes, voices, metre, setting."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from typing import Final, TypeVar, cast

from rulekit.music.mode import Mode
from rulekit.music.pitch import Interval, Pitch, letter


@dataclass(frozen=True, slots=True)
class Metre:
    """A time signature: ``beats`` of ``unit`` quarter notes each; alla breve is two of 2."""

    beats: int
    unit: Fraction

    @property
    def bar_length(self) -> Fraction:
        """The length of a bar in quarter notes."""
        return self.beats * self.unit

    def bar_of(self, time: Fraction) -> int:
        """The bar that a time in quarter notes falls in; bars count from 1."""
        return int(time // self.bar_length) + 1

    def beat_of(self, time: Fraction) -> Fraction:
        """The beat within the bar, from 1; between beats it is a fraction."""
        return (time % self.bar_length) / self.unit + 1

    def is_strong(self, time: Fraction) -> bool:
        """Whether a bar begins here."""
        return time % self.bar_length == 0

    def place(self, time: Fraction) -> tuple[int, Fraction, bool, bool]:
        """Bar, beat, whether strong, whether accented, of a time in quarter notes."""
        return _place(self.beats, self.unit, time.numerator, time.denominator)

    def is_accented(self, time: Fraction) -> bool:
        """Whether a half bar begins here, or in triple time a beat."""
        pulse = self.bar_length / 2 if self.beats % 2 == 0 else self.unit
        return time % pulse == 0


T = TypeVar("T")


@cache
def _place(beats: int, unit: Fraction, numerator: int, denominator: int) -> tuple[int, Fraction, bool, bool]:
    metre, time = Metre(beats, unit), Fraction(numerator, denominator)
    return metre.bar_of(time), metre.beat_of(time), metre.is_strong(time), metre.is_accented(time)


ALLA_BREVE = Metre(2, Fraction(2))


@dataclass(frozen=True, slots=True)
class Event:
    """What is written: a note or (pitch None) a rest, its length in quarters, and whether a tie follows."""

    pitch: Pitch | None
    length: Fraction
    tie: bool = False


@dataclass(frozen=True, slots=True)
class Compass:
    """The range of a voice, both ends included."""

    name: str
    low: Pitch
    high: Pitch


@dataclass(frozen=True, slots=True)
class Voice:
    """One written voice: its label, its events from the first bar, and its range if one is known."""

    name: str
    events: tuple[Event, ...]
    compass: Compass | None = None

    @property
    def length(self) -> Fraction:
        """The whole length in quarter notes."""
        return sum((event.length for event in self.events), Fraction(0))


@dataclass(frozen=True, slots=True)
class Setting:
    """What holds for a whole exercise and is known before its first note.

    ``cantus`` is the index of the voice that holds the cantus firmus, counted from the
    highest written voice (0), or None; ``length`` is in quarter notes.
    """

    mode: Mode
    metre: Metre
    voice_count: int
    cantus: int | None
    length: Fraction
    compasses: tuple[Compass | None, ...] = ()

    @property
    def bars(self) -> int:
        """How many bars there are, a last short one included."""
        return -int(-self.length // self.metre.bar_length)


@dataclass(frozen=True, slots=True)
class Exercise:
    """A whole exercise: voices from the highest written to the lowest.

    ``inferred`` says, in words, what the score did not say and was worked out.
    """

    title: str
    voices: tuple[Voice, ...]
    mode: Mode
    metre: Metre = ALLA_BREVE
    cantus: int | None = None
    first_bar: int = 1
    inferred: tuple[str, ...] = field(default=(), compare=False)

    @property
    def setting(self) -> Setting:
        """The part of the exercise that is known beforehand."""
        length = max((voice.length for voice in self.voices), default=Fraction(0))
        compasses = tuple(voice.compass for voice in self.voices)
        return Setting(self.mode, self.metre, len(self.voices), self.cantus, length, compasses)


class Note:
    """A sounding note as the rules see it: ties are merged, places are worked out.

    ``onset``, ``length`` and ``end`` are in quarter notes; ``bar`` counts from 1; ``degree`` is 1 to 7;
    ``raised`` is its alteration against the mode in semitones; ``approach`` is the interval
    from the note before it in its voice, None for the first; ``before`` is that note or NO_NOTE;
    ``last`` says that it sounds until the end of the exercise; ``tied`` that a written tie is in
    it; ``rested`` that a rest comes right before it.
    """

    __slots__ = (
        "voice", "pitch", "onset", "length", "end", "bar", "beat", "strong", "accented",
        "degree", "raised", "approach", "before", "last", "tied", "rested",
        "leading", "in_compass", "inner",
    )  # fmt: skip

    voice: int
    pitch: Pitch
    onset: Fraction
    length: Fraction
    end: Fraction
    bar: int
    beat: Fraction
    strong: bool
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
    ) -> None:
        self.voice, self.pitch, self.onset, self.length = voice, pitch, onset, length
        self.bar, self.beat, self.strong, self.accented = setting.metre.place(onset)
        self.degree, self.raised = setting.mode.place(pitch)
        self.approach = None if before is NO_NOTE else Interval(pitch - before.pitch)
        self.before = before
        self.end = onset + length
        self.last = self.end >= setting.length
        self.tied, self.rested = tied, rested
        self.inner = 0 < voice < setting.voice_count - 1
        self.leading = setting.mode.is_leading(pitch)
        compass = setting.compasses[voice] if setting.compasses else None
        self.in_compass = None if compass is None else compass.low <= pitch <= compass.high

    def following(self, before: "Note", rested: bool) -> "Note":
        """The same note, come to from another one."""
        note = Note.__new__(Note)
        for name in Note.__slots__:
            setattr(note, name, getattr(self, name))
        note.before, note.rested = before, rested
        note.approach = None if before is NO_NOTE else Interval(self.pitch - before.pitch)
        return note

    @property
    def letter(self) -> int | None:
        """The letter as a number, C = 0 … B = 6."""
        return None if self is NO_NOTE else letter(self.pitch)

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
NO_NOTE.before = NO_NOTE


def sounding_notes(setting: Setting, index: int, events: Sequence[Event]) -> list[Note]:
    """The notes of a voice with tied notes merged, in order, each linked to the one before."""
    notes: list[Note] = []
    time, rested = Fraction(0), False
    position = 0
    while position < len(events):
        event = events[position]
        position += 1
        if event.pitch is None:
            time, rested = time + event.length, True
            continue
        length, tied = event.length, False
        while event.tie and position < len(events) and events[position].pitch == event.pitch:
            event = events[position]
            length, tied, position = length + event.length, True, position + 1
        assert event.pitch is not None
        before = notes[-1] if notes else NO_NOTE
        notes.append(Note(setting, index, event.pitch, time, length, before, tied, rested))
        time, rested = time + length, False
    return notes
