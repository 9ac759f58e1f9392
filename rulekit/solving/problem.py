"""What a search is given: the ruleset, the fixed voices, and for each free note the pitches it may have."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from rulekit.compiler import emit
from rulekit.exercise.model import ALLA_BREVE, Compass, Event, Exercise, Metre, Setting, Voice
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch, alteration, letter, make_pitch, octave

_FICTA = ("sharpened", "flattened", "diatonic", "leading")


@dataclass(frozen=True, slots=True)
class Slot:
    """One note to come: when (in quarters from the start), how long, and what it may be."""

    onset: Fraction
    length: Fraction
    choices: tuple[Pitch, ...]


@dataclass(frozen=True, slots=True)
class Problem:
    """A search: for each voice, from the highest written, its slots; a fixed voice has one choice in each."""

    ruleset: Ruleset
    setting: Setting
    labels: tuple[str, ...]
    lines: tuple[tuple[Slot, ...], ...]
    title: str = ""
    first_bar: int = 1

    def exercise(self, pitches: Sequence[Sequence[Pitch]]) -> Exercise:
        """The exercise in which every slot has the pitch given."""
        voices: list[Voice] = []
        for i, (label, line, chosen) in enumerate(zip(self.labels, self.lines, pitches, strict=True)):
            events: list[Event] = []
            time = Fraction(0)
            for slot, pitch in zip(line, chosen, strict=True):
                if slot.onset > time:
                    events.append(Event(None, slot.onset - time))
                events.append(Event(pitch, slot.length))
                time = slot.onset + slot.length
            voices.append(Voice(label, tuple(events), self.setting.compasses[i]))
        setting = self.setting
        return Exercise(self.title, tuple(voices), setting.mode, setting.metre, setting.cantus, self.first_bar)


def speaks_of_ficta(ruleset: Ruleset) -> bool:
    """Whether some rule says which alterations are allowed; only then may a search alter notes."""
    tests = [rule.broken for rule in ruleset.rules]
    return any(isinstance(leaf, t.Flag) and leaf.name in _FICTA for test in tests for leaf in emit.leaves(test))


def candidates(mode: Mode, low: Pitch, high: Pitch, ficta: bool) -> tuple[Pitch, ...]:
    """The notes of a mode in a range, and with ``ficta`` each of them a semitone higher and lower."""
    own = mode.pitches(low, high)
    if not ficta:
        return tuple(own)
    altered = [make_pitch(letter(p), alteration(p) + shift, octave(p)) for p in own for shift in (-1, 1)]
    return tuple(sorted({*own, *(p for p in altered if abs(alteration(p)) <= 1)}))


def rhythm(species: int, bars: int, metre: Metre) -> tuple[tuple[Fraction, Fraction], ...]:
    """Onset and length of every note of a species: one to the bar, one or two to the beat, the last a whole bar.

    Raises ValueError for a species whose rhythm is not fixed beforehand.
    """
    parts = {1: 1, 2: metre.beats, 3: 2 * metre.beats}.get(species)
    if parts is None:
        raise ValueError("notes can be composed for the first, second and third species")
    bar = metre.bar_length
    notes = [(n * bar + k * bar / parts, bar / parts) for n in range(bars - 1) for k in range(parts)]
    return (*notes, ((bars - 1) * bar, bar))


def fixed_line(voice: Voice) -> tuple[Slot, ...]:
    """A given voice as slots of one choice each; ties are merged."""
    slots: list[Slot] = []
    time, tied = Fraction(0), False
    for event in voice.events:
        if event.pitch is not None:
            if tied and slots and slots[-1].choices == (event.pitch,):
                slots[-1] = replace(slots[-1], length=slots[-1].length + event.length)
            else:
                slots.append(Slot(time, event.length, (event.pitch,)))
        tied, time = event.tie, time + event.length
    return tuple(slots)


def over_cantus(
    ruleset: Ruleset,
    cantus: Voice,
    mode: Mode,
    free: Sequence[Compass],
    *,
    cantus_index: int,
    species: int = 1,
    metre: Metre = ALLA_BREVE,
) -> Problem:
    """Free voices in the given ranges (from the highest) round one cantus, which is voice ``cantus_index`` from 0."""
    setting = Setting(mode, metre, len(free) + 1, cantus_index, cantus.length)
    pattern = rhythm(species, setting.bars, metre)
    ficta = speaks_of_ficta(ruleset)
    lines: list[tuple[Slot, ...]] = []
    labels: list[str] = []
    for compass in free:
        choices = candidates(mode, compass.low, compass.high, ficta)
        lines.append(tuple(Slot(onset, length, choices) for onset, length in pattern))
        labels.append(compass.name)
    lines.insert(cantus_index, fixed_line(cantus))
    labels.insert(cantus_index, cantus.name)
    return Problem(ruleset, replace(setting, compasses=(None,) * len(lines)), tuple(labels), tuple(lines))


def with_notes(problem: Problem, voice: int, notes: dict[int, Pitch]) -> Problem:
    """The problem with some notes of a voice given: slot number from 0 to pitch."""
    line = tuple(
        replace(slot, choices=(notes[i],)) if i in notes else slot for i, slot in enumerate(problem.lines[voice])
    )
    lines = (*problem.lines[:voice], line, *problem.lines[voice + 1 :])
    return replace(problem, lines=lines)
