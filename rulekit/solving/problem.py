"""What a search is given: the ruleset, the voices as written, and for each note the pitches it may have."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from rulekit.exercise.model import ALLA_BREVE, Compass, Event, Exercise, Metre, Origin, Setting, Voice, heading
from rulekit.language.ruleset import Ruleset
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch, alteration, letter, make_pitch, octave

_PER_BAR = {1: (1, 1, 1), 2: (2, 3, 2), 3: (4, 6, 6)}  # of a species: bars of two or four beats, three, six


@dataclass(frozen=True, slots=True)
class Slot:
    """One note to come: when (in quarters from the start), how long, what it may be, whether a tie is in it."""

    onset: Fraction
    length: Fraction
    choices: tuple[Pitch, ...]
    tied: bool = False


@dataclass(frozen=True, slots=True)
class Problem:
    """A search: the voices from the highest written, and the slots of each; a fixed note has one choice.

    ``voices`` say how everything is written: rests, lengths, ties. The pitches in them don't matter. ``rhythm`` tells
    in words the rhythm that the ruleset's own rules have given the moving voice.
    """

    ruleset: Ruleset
    setting: Setting
    voices: tuple[Voice, ...]
    lines: tuple[tuple[Slot, ...], ...]
    title: str = ""
    first_bar: int = 1
    rhythm: str = ""
    origin: Origin | None = field(default=None, compare=False)

    @property
    def heading(self) -> str:
        """The title of what is searched and where it comes from."""
        return heading(self.title, self.origin)

    @property
    def labels(self) -> tuple[str, ...]:
        """The names of the voices."""
        return tuple(voice.name for voice in self.voices)

    @property
    def onsets(self) -> list[Fraction]:
        """When anything begins, in quarters from the start."""
        return sorted({slot.onset for line in self.lines for slot in line})

    def exercise(self, pitches: Sequence[Sequence[Pitch | None]]) -> Exercise:
        """The exercise in which every slot has the pitch given; None leaves a note to be found."""
        voices = tuple(_sung(voice, chosen) for voice, chosen in zip(self.voices, pitches, strict=True))
        setting = self.setting
        return Exercise(
            self.title, voices, setting.mode, setting.metre, setting.cantus, self.first_bar, origin=self.origin
        )


def problem(ruleset: Ruleset, sketch: Exercise, choices: Callable[[int, Event], Iterable[Pitch]]) -> Problem:
    """The search in which every note of an exercise may be what ``choices`` says of its voice and first piece."""
    lines = tuple(
        tuple(slots(voice, lambda event, number=number: choices(number, event)))
        for number, voice in enumerate(sketch.voices)
    )
    return Problem(ruleset, sketch.setting, sketch.voices, lines, sketch.title, sketch.first_bar, origin=sketch.origin)


def slots(voice: Voice, choices: Callable[[Event], Iterable[Pitch]]) -> Iterator[Slot]:
    """The slots of a written voice; ``choices`` says what a note may be by the first of its tied pieces."""
    time = Fraction(0)
    for pieces in _notes(voice.events):
        length = sum((event.length for event in pieces), Fraction(0))
        if not _is_rest(pieces[0]):
            yield Slot(time, length, tuple(choices(pieces[0])), len(pieces) > 1)
        time += length


def fixed_line(voice: Voice) -> tuple[Slot, ...]:
    """A given voice as slots of one choice each."""
    return tuple(slots(voice, as_given))


def as_given(event: Event) -> tuple[Pitch, ...]:
    """The pitch of a written note as its only choice; none where it is still to be found."""
    return () if event.pitch is None else (event.pitch,)


def _is_rest(event: Event) -> bool:
    return event.pitch is None and not event.open


def _notes(events: Sequence[Event]) -> Iterator[list[Event]]:
    """What is written, the pieces of each tied note together."""
    pieces: list[Event] = []
    for event in events:
        if pieces and pieces[-1].tie and (event.pitch, event.open) == (pieces[-1].pitch, pieces[-1].open):
            pieces.append(event)
            continue
        if pieces:
            yield pieces
        pieces = [event]
    if pieces:
        yield pieces


def _sung(voice: Voice, pitches: Sequence[Pitch | None]) -> Voice:
    """A voice as it is written, with these pitches."""
    events: list[Event] = []
    left = iter(pitches)
    for pieces in _notes(voice.events):
        is_rest = _is_rest(pieces[0])
        pitch = None if is_rest else next(left)
        is_open = pitch is None and not is_rest
        tied = [True] * (len(pieces) - 1) + [False]
        events += [Event(pitch, piece.length, tie, is_open) for piece, tie in zip(pieces, tied, strict=True)]
    return Voice(voice.name, tuple(events), voice.compass)


def candidates(mode: Mode, low: Pitch, high: Pitch, altered: bool = True) -> tuple[Pitch, ...]:
    """The notes of a mode in a range, and with ``altered`` each of them a semitone higher and lower."""
    own = mode.pitches(Pitch(low - 2), Pitch(high + 2))  # those also that only an alteration brings into the range
    shifts = (-1, 0, 1) if altered else (0,)
    every = {make_pitch(letter(p), alteration(p) + shift, octave(p)) for p in own for shift in shifts}
    usual = {p for p in every if abs(alteration(p)) <= 1} | set(own)
    return tuple(sorted(p for p in usual if low <= p <= high))


def rhythm(species: int, metre: Metre, length: Fraction) -> tuple[Event, ...]:
    """The notes to be found of a species over so many quarters; the last one fills its bar.

    First species has one note to the bar, second two, third four; in triple time three and six. Raises
    ValueError for a species whose rhythm is not fixed beforehand, and for a bar that does not divide so.
    """
    if metre.changes:
        raise ValueError("nothing is composed where the length of bars changes")
    if species not in _PER_BAR:
        raise ValueError("notes can be composed for the first, second and third species")
    if species > 1 and metre.beats % 2 and metre.beats % 3:
        raise ValueError(f"a bar of {metre.beats} beats does not divide into the notes of species {species}")
    kind = 0 if metre.beats % 3 else 1 if metre.beats % 2 else 2
    parts, bar = _PER_BAR[species][kind], metre.bar_length
    bars = -int(-length // bar)
    last = length - (bars - 1) * bar
    notes = [Event(None, bar / parts, open=True)] * (parts * (bars - 1))
    return (*notes, Event(None, last, open=True))


def over_cantus(
    ruleset: Ruleset,
    cantus: Voice,
    mode: Mode,
    free: Sequence[Compass],
    *,
    cantus_index: int,
    species: int = 1,
    moving: tuple[Event, ...] | None = None,
    metre: Metre = ALLA_BREVE,
    altered: bool = True,
) -> Problem:
    """Free voices in the given ranges (from the highest) round one cantus, which is voice ``cantus_index`` from 0.

    They go in the notes of a species; or the first goes in the rhythm ``moving``, the others in whole bars.
    """
    pattern = rhythm(1 if moving else species, metre, cantus.length)
    voices = [Voice(free[0].name, moving or pattern), *(Voice(compass.name, pattern) for compass in free[1:])]
    voices.insert(cantus_index, cantus)
    room = {compass.name: candidates(mode, compass.low, compass.high, altered) for compass in free}
    sketch = Exercise("", tuple(voices), mode, metre, cantus_index)
    return problem(ruleset, sketch, lambda voice, event: as_given(event) or room[voices[voice].name])


def with_notes(problem: Problem, voice: int, notes: dict[int, Pitch]) -> Problem:
    """The problem with some notes of a voice given: slot number from 0 to pitch."""
    line = tuple(
        replace(slot, choices=(notes[i],)) if i in notes else slot for i, slot in enumerate(problem.lines[voice])
    )
    lines = (*problem.lines[:voice], line, *problem.lines[voice + 1 :])
    return replace(problem, lines=lines)
