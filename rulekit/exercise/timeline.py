"""Moments: the exercise cut wherever any voice begins a note.

A moment is what a monitor steps on. It shows what sounds, which voices have just begun a
note, and the dyads (two voices seen together) that rules on pairs look at; these are made
once and shared by all rules.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import pairwise
from operator import is_
from typing import Final, cast

from rulekit.exercise.model import NO_NOTE, Exercise, Note, Setting, Voice, nothing, sounding_notes
from rulekit.music.motion import Motion, motion
from rulekit.music.pitch import Interval, Pitch, rising

_MOST_RHYTHMS = 16  # of which moments are kept


class Dyad:
    """Two voices sounding together, at a moment where at least one of them begins a note.

    ``upper`` and ``lower`` are the notes of the higher and the lower *written* voice;
    ``interval`` is measured up from the one that really sounds lower; ``motion`` is how the
    two came here, None after a rest or at the start; ``previous`` is the dyad before, NO_DYAD
    likewise; ``first`` says that the two have not sounded together before, ``last`` that both
    notes sound to the end.
    """

    __slots__ = (
        "moment", "upper", "lower", "interval", "motion", "previous", "first", "last",
        "bar", "beat", "downbeat", "accented",
    )  # fmt: skip

    moment: "Moment"
    upper: Note
    lower: Note
    interval: Interval
    motion: Motion | None
    previous: "Dyad"
    first: bool
    last: bool
    bar: int
    beat: Fraction
    downbeat: bool
    accented: bool

    def __init__(self, moment: "Moment", upper: Note, lower: Note, previous: "Dyad", first: bool) -> None:
        self.moment, self.upper, self.lower, self.previous = moment, upper, lower, previous
        self.interval = rising(Interval(upper.pitch - lower.pitch))
        self.motion = None
        if previous is not NO_DYAD:
            then_upper, then_lower = previous.upper.pitch, previous.lower.pitch
            self.motion = motion(then_upper, then_lower, upper.pitch, lower.pitch)
        self.first = first
        self.bar, self.beat = moment.bar, moment.beat
        self.downbeat, self.accented = moment.downbeat, moment.accented
        self.last = upper.last and lower.last

    @property
    def crossed(self) -> bool | None:
        """Whether the lower written voice sounds above the upper one."""
        return None if self is NO_DYAD else self.upper.pitch < self.lower.pitch

    @property
    def sounding_lower(self) -> Note:
        """The note that really sounds lower; of two equal notes the lower written one."""
        return self.upper if self.crossed else self.lower

    @property
    def sounding_upper(self) -> Note:
        """The note that really sounds higher."""
        return self.lower if self.crossed else self.upper

    @property
    def on_bass(self) -> bool | None:
        """Whether one of the two is the lowest sounding voice of all."""
        return None if self is NO_DYAD else self.moment.bass in (self.upper.voice, self.lower.voice)


NO_DYAD: Final = nothing(Dyad)
NO_DYAD.previous, NO_DYAD.upper, NO_DYAD.lower = NO_DYAD, NO_NOTE, NO_NOTE


class Moment:
    """What sounds at one onset.

    ``notes`` holds, for each voice from the highest written, the note that sounds, None in a
    rest; ``begun`` whether it begins here; ``latest`` the last note begun, kept through rests
    (NO_NOTE before the first); ``bass`` is the index of the voice that really sounds lowest,
    None in a general rest; ``previous`` is the moment before, NO_MOMENT at the start.
    """

    __slots__ = (
        "setting", "time", "bar", "beat", "downbeat", "accented", "notes", "begun", "latest",
        "bass", "first", "last", "previous", "_dyads", "_met",
    )  # fmt: skip

    def __init__(
        self,
        setting: Setting,
        time: Fraction,
        notes: tuple[Note | None, ...],
        previous: "Moment",
    ) -> None:
        self.setting, self.time = setting, time
        self.bar, self.beat, self.downbeat, self.accented = setting.metre.place(time)
        self.begun = tuple([note is not None and (note.onset is time or note.onset == time) for note in notes])
        self.first = previous is NO_MOMENT
        self.last = all(note is None or note.last for note in notes)
        self._sound(notes, previous)
        self._met: frozenset[tuple[int, int]] = frozenset() if self.first else previous._met
        if len(self._met) < len(notes) * (len(notes) - 1) // 2:
            self._met = self._met.union(self._dyads)

    def _sound(self, notes: tuple[Note | None, ...], previous: "Moment") -> None:
        """Set everything that depends on pitches."""
        self.notes, self.previous = notes, previous
        earlier = (NO_NOTE,) * len(notes) if self.first else previous.latest
        self.latest = tuple([now or then for now, then in zip(notes, earlier, strict=True)])
        self.bass = _lowest(notes)
        self._dyads = self._see_dyads(previous)

    def sounding_instead(self, notes: tuple[Note | None, ...], previous: "Moment") -> "Moment":
        """The moment with other notes in the places of its own, or after another one; itself if nothing differs."""
        if previous is self.previous and all(map(is_, notes, self.notes)):
            return self
        moment = Moment.__new__(Moment)
        moment.setting, moment.time, moment.begun = self.setting, self.time, self.begun
        moment.bar, moment.beat, moment.downbeat, moment.accented = self.bar, self.beat, self.downbeat, self.accented
        moment.first, moment.last, moment._met = self.first, self.last, self._met
        moment._sound(notes, previous)
        return moment

    def _see_dyads(self, previous: "Moment") -> dict[tuple[int, int], Dyad]:
        """The dyad of every sounding pair; one that began earlier goes on unchanged."""
        dyads: dict[tuple[int, int], Dyad] = {}
        earlier, met = ({}, ()) if self.first else (previous._dyads, previous._met)
        for low, lower in enumerate(self.notes):
            if lower is None:
                continue
            for high in range(low):
                upper = self.notes[high]
                if upper is None:
                    continue
                pair = (high, low)
                dyad = earlier.get(pair, NO_DYAD)
                if (self.begun[high] and upper.rested) or (self.begun[low] and lower.rested):
                    dyad = NO_DYAD
                if dyad is NO_DYAD or self.begun[high] or self.begun[low]:
                    dyad = Dyad(self, upper, lower, dyad, pair not in met)
                dyads[pair] = dyad
        return dyads

    @property
    def bass_note(self) -> Note:
        """The lowest sounding note, NO_NOTE in a general rest."""
        note = None if self.bass is None else self.notes[self.bass]
        return NO_NOTE if note is None else note

    @property
    def cantus_note(self) -> Note:
        """What the cantus sounds, NO_NOTE where there is none."""
        cantus = None if self is NO_MOMENT else self.setting.cantus
        note = None if cantus is None else self.notes[cantus]
        return NO_NOTE if note is None else note

    @property
    def number_sounding(self) -> int | None:
        """How many voices sound."""
        return None if self is NO_MOMENT else sum(note is not None for note in self.notes)

    def sounding(self, high: int, low: int) -> Dyad | None:
        """The dyad of two voices that sounds at this moment, even if it began earlier."""
        return self._dyads.get((high, low))

    def dyad(self, high: int, low: int) -> Dyad | None:
        """The dyad of two voices that begins at this moment, None if none does."""
        dyad = self._dyads.get((high, low))
        return dyad if dyad is not None and dyad.moment is self else None


NO_MOMENT: Final = nothing(Moment)
NO_MOMENT.previous = NO_MOMENT


def _lowest(notes: tuple[Note | None, ...]) -> int | None:
    """The voice that sounds lowest; of equal notes the lowest written voice."""
    sounding = [(note.pitch, -index) for index, note in enumerate(notes) if note is not None]
    return -min(sounding)[1] if sounding else None


def moments(exercise: Exercise) -> Iterator[Moment]:
    """The moments of an exercise in order, each linked to the one before."""
    setting = exercise.setting
    lines = [sounding_notes(setting, i, v.events) for i, v in enumerate(exercise.voices)]
    ahead = [0] * len(lines)
    onsets = sorted({note.onset for line in lines for note in line})
    current: list[Note | None] = [None] * len(lines)
    moment = NO_MOMENT
    for time in onsets:
        for voice, line in enumerate(lines):
            current[voice] = _at(current[voice], time)
            if ahead[voice] < len(line) and line[ahead[voice]].onset == time:
                current[voice] = line[ahead[voice]]
                ahead[voice] += 1
        _meet(current, time, setting.cantus)
        moment = Moment(setting, time, tuple(current), moment)
        yield moment


def _meet(sounding: Sequence[Note | None], time: Fraction, cantus: int | None) -> None:
    """Let the notes that begin at a time know which note of the cantus sounds with them."""
    known = None if cantus is None else sounding[cantus]
    if known is None:
        return
    for note in sounding:
        if note is not None and note is not known and note.onset == time:
            note.cantus = known


def _at(note: Note | None, time: Fraction) -> Note | None:
    """The note if it still sounds at the time."""
    return note if note is not None and note.end > time else None


def resung(last: Sequence[Moment], sung: Sequence[Sequence[Pitch]]) -> Iterator[Moment]:
    """The moments of an exercise with these pitches, made from those of another in the same rhythm.

    As far as both are alike they are the same moments.
    """
    lines, previous = [iter(pitches) for pitches in sung], NO_MOMENT
    current = [NO_NOTE] * len(lines)
    cantus = last[0].setting.cantus
    order = sorted(range(len(lines)), key=lambda voice: voice != cantus)  # the cantus first, which others know
    for moment in last:
        for voice in order:
            note = moment.notes[voice]
            if note is not None and moment.begun[voice]:
                known = NO_NOTE if cantus is None or note.cantus is NO_NOTE else current[cantus]
                current[voice] = note.singing(moment.setting, next(lines[voice]), current[voice], known)
        notes = tuple([then and now for then, now in zip(moment.notes, current, strict=True)])
        previous = moment.sounding_instead(notes, previous)
        yield previous


Rhythm = tuple[object, ...]  # all of an exercise but its pitches, as far as rules know it


@dataclass(slots=True)
class _Lately:
    """The moments made last in some rhythm."""

    moments: Sequence[Moment] = ()


@lru_cache(_MOST_RHYTHMS)
def _lately(rhythm: Rhythm) -> _Lately:
    return _Lately()


class Heard:
    """An exercise as it is heard: its rhythm, the pitches of each voice, tied ones as one, and its moments."""

    def __init__(self, exercise: Exercise) -> None:
        self.exercise = exercise
        read = [_line(voice) for voice in exercise.voices]
        compasses = tuple([voice.compass for voice in exercise.voices])
        lines = tuple([rhythm for rhythm, _ in read])
        self.rhythm: Rhythm = (exercise.mode, exercise.metre, exercise.cantus, compasses, lines)
        self.sung = [pitches for _, pitches in read]

    @cached_property
    def moments(self) -> list[Moment]:
        """All moments in order, made when somebody asks for them."""
        lately = _lately(self.rhythm)
        made = list(resung(lately.moments, self.sung) if lately.moments else moments(self.exercise))
        lately.moments = made
        return made

    @property
    def setting(self) -> Setting:
        """What is known of it beforehand."""
        return self.moments[0].setting if self.moments else self.exercise.setting


def _line(voice: Voice) -> tuple[Rhythm, list[Pitch]]:
    """The rhythm of a voice, and its pitches."""
    events = voice.events
    rhythm = tuple([event.length.as_integer_ratio() for event in events])
    written, ties = [event.pitch for event in events], [event.tie for event in events]
    if None not in written and True not in ties:
        return rhythm, cast("list[Pitch]", written)
    joined = [tie and a is not None and a == b for tie, (a, b) in zip(ties, pairwise(written), strict=False)]
    kept = [pitch for pitch, on in zip(written, [False, *joined], strict=False) if not on and pitch is not None]
    rests = [(pitch is None, event.open) for pitch, event in zip(written, events, strict=True)]
    return (rhythm, tuple(ties), tuple(rests), tuple(joined)), kept
