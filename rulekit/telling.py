"""What findings say: places, the values that messages speak of, and values in words.

A message's placeholders are read by the same machine that judges rules; each rule's values are read once,
for all its findings in an exercise, and only if somebody asks.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any, cast

from rulekit.compiler.monitor import Monitor
from rulekit.compiler.witness import Seen, Witness
from rulekit.exercise.model import Exercise, Note
from rulekit.exercise.timeline import Dyad, Heard, Moment
from rulekit.language import typed as t
from rulekit.language.typed import Type
from rulekit.language.vocabulary import numbers_bars
from rulekit.music.pitch import Pitch, interval_words, pitch_name, quality, size
from rulekit.music.rhythm import BarRhythm

_PLAIN = {
    Fraction(8): "breve", Fraction(4): "whole note", Fraction(2): "half note", Fraction(1): "quarter note",
    Fraction(1, 2): "eighth note", Fraction(1, 4): "sixteenth note",
}  # fmt: skip
_LENGTHS = (
    _PLAIN
    | {length * Fraction(3, 2): f"dotted {name}" for length, name in _PLAIN.items()}
    | {length * Fraction(2, 3): f"triplet {name}" for length, name in _PLAIN.items()}
)


@dataclass(frozen=True, slots=True)
class Place:
    """A note that a finding is about: its bar (from 1), beat (from 1), voice label and pitch name."""

    bar: int
    beat: Fraction
    voice: str
    note: str


def notes_of(sample: Any) -> tuple[Note, ...]:
    """The notes of a sample."""
    if isinstance(sample, Note):
        return (sample,)
    if isinstance(sample, Dyad):
        return (sample.upper, sample.lower)
    return tuple(note for note in sample.notes if note is not None) if isinstance(sample, Moment) else ()


class Teller:
    """Fills the message of one rule for one choice of voices in one exercise."""

    def __init__(self, monitor: Monitor, heard: Heard) -> None:
        self.monitor, self.exercise, self.heard = monitor, heard.exercise, heard

    @cached_property
    def samples(self) -> list[Any]:
        """Everything that the rule judges, in order."""
        found = (self.monitor.sample(moment) for moment in self.heard.moments)
        return [sample for sample in found if sample is not None]

    @cached_property
    def _slots(self) -> list[t.Slot]:
        return [part for part in self.monitor.rule.message if isinstance(part, t.Slot)]

    @cached_property
    def _seen(self) -> list[Seen]:
        """The values of the placeholders at every sample (once only for a rule on the whole)."""
        values = [slot.value for slot in self._slots if not isinstance(slot.value, t.Ref)]
        return Witness(self.monitor, values).over(self.heard.moments)

    def values(self, index: int | None) -> tuple[tuple[str, str], ...]:
        """Each placeholder with what it stands for at a sample, None for a rule on the whole."""
        if not self._slots:
            return ()
        seen = iter(self._seen[index or 0])
        return tuple(
            (slot.words, self._voices(slot.value) if isinstance(slot.value, t.Ref) else self._shown(slot.value, seen))
            for slot in self._slots
        )

    def message(self, index: int | None) -> str:
        """The message with its placeholders filled."""
        texts = iter(text for _, text in self.values(index))
        said = ""
        for part in self.monitor.rule.message:
            said = said + part if isinstance(part, str) else _followed(said, next(texts))
        return said[:1].upper() + said[1:]

    def place(self, note: Note) -> Place:
        """Where a note stands in the exercise."""
        bar = note.bar + self.exercise.first_bar - 1
        return Place(bar, note.beat, self.exercise.voices[note.voice].name, pitch_name(note.pitch))

    def _shown(self, value: t.Value, seen: Iterator[Any]) -> str:
        return shown(value, next(seen), self.exercise)

    def _voices(self, ref: t.Ref) -> str:
        """The voices of the line, pair or exercise that a rule on the whole speaks of."""
        voices = self.monitor.voices
        if ref.role:
            chosen = dict(self.monitor.roles()).get(ref.role, "")
            voices = tuple(v for v, name in zip(voices, ("upper", "lower"), strict=False) if name == chosen)
        return " and ".join(self.exercise.voices[voice].name for voice in voices) or "nothing"


_ARTICLE = re.compile(r"(?<![\w-])[Aa] $")


def _followed(said: str, text: str) -> str:
    """What was said and what is filled in after it; “a” before a vowel becomes “an”."""
    return f"{said[:-1]}n {text}" if _ARTICLE.search(said) and text[:1] in {*"aeio"} else said + text


def shown(value: t.Value, found: Any, exercise: Exercise) -> str:
    """What a value of a rule was found to be, in words; bars are numbered from the exercise's first."""
    if found is not None and value.type == Type.TIME:
        return f"bar {exercise.bar_at(found)}"
    if found is not None and numbers_bars(value):
        return str(found + exercise.first_bar - 1)
    return show(found, value.type)


def show(value: Any, type_: Type) -> str:
    """A value in words: ``perfect fifth``, ``C#5``, ``whole note``; ``nothing`` where it is missing."""
    if value is None:
        return "nothing"
    if type_ != Type.INTERVAL and isinstance(value, tuple):
        values = cast("tuple[Any, ...]", value)
        return " or ".join(show(each, type_) for each in values)
    return _show_one(value, type_)


def _rhythm(rhythm: BarRhythm) -> str:
    words: list[str] = []
    for value in rhythm.values:
        name = _LENGTHS.get(abs(value), f"{abs(value)} quarter notes")
        words.append(name if value > 0 else f"{name.replace(' note', '')} rest")
    return ", ".join(words) + (" tied over" if rhythm.tied else "")


def _show_one(value: Any, type_: Type) -> str:
    match type_:
        case Type.HARMONIC | Type.MELODIC:
            return interval_words(quality(value), size(value))
        case Type.PITCH:
            return pitch_name(cast(Pitch, value))
        case Type.NOTE_NAME:
            return pitch_name(cast(Pitch, value))[:-1]
        case Type.LETTER:
            return "CDEFGAB"[value]
        case Type.DIRECTION:
            return {1: "up", -1: "down", 0: "level"}[value]
        case Type.LENGTH:
            return _LENGTHS.get(value, f"{value} quarter notes")
        case Type.RHYTHM:
            return _rhythm(value)
        case Type.SHARE:
            return f"{float(value) / 100:g}%"
        case Type.INTERVAL:
            patterns = cast("tuple[t.Pattern, ...]", value)
            return " or ".join(interval_words(p.quality, p.high) for p in patterns)
        case _:
            return str(value)
