"""Exercises in the typed notation as an editor shows them: findings at their notes, and what each note is."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from rulekit.exercise.model import Exercise, Note, sounding_notes
from rulekit.exercise.notation import Placed
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Finding, mark
from rulekit.music.pitch import between, interval_words, pitch_name, quality, rising, size
from rulekit.music.solmization import degree_name

Stretch = tuple[int, int, int]  # line and column from 1, length


@dataclass(frozen=True, slots=True)
class Remark:
    """A finding at the notes that it is about; ``stretches`` are empty for one about the whole."""

    finding: Finding
    stretches: tuple[Stretch, ...]


def remarks(placed: Placed, ruleset: Ruleset) -> Iterator[Remark]:
    """The findings in an exercise, where it is typed."""
    exercise = placed.exercise
    where = {
        (exercise.voices[note.voice].name, note.bar + exercise.first_bar - 1, note.beat): stretch
        for note, stretch in notes(placed)
    }
    for finding in mark(exercise, ruleset).findings:
        places = ((place.voice, place.bar, place.beat) for place in finding.places)
        yield Remark(finding, tuple(where[place] for place in places if place in where))


def notes(placed: Placed) -> Iterator[tuple[Note, Stretch]]:
    """Every note (tied ones as one) and where it is typed."""
    exercise = placed.exercise
    for index, voice in enumerate(exercise.voices):
        starts: dict[Fraction, Stretch] = {}
        time = Fraction(0)
        for event, stretch in zip(voice.events, placed.typed[voice.name], strict=True):
            starts[time] = stretch
            time += event.length
        for note in sounding_notes(exercise.setting, index, voice.events):
            yield note, starts[note.onset]


def said_of(placed: Placed, line: int, column: int) -> str:
    """What the note typed at a place is: its degree, and its intervals with the notes that it sounds with."""
    every = list(notes(placed))
    here = (note for note, (at, first, length) in every if at == line and first <= column <= first + length)
    note = next(here, None)
    if note is None:
        return ""
    exercise = placed.exercise
    lines = [f"**{pitch_name(note.pitch)}**, degree {degree_name(note.pitch, exercise.mode)} of {exercise.mode}"]
    lines += [_interval(exercise, note, other) for other, _ in every if _together(note, other)]
    return "\n\n".join(lines)


def _together(note: Note, other: Note) -> bool:
    ends, other_ends = note.onset + note.length, other.onset + other.length
    return other.voice != note.voice and other.onset < ends and note.onset < other_ends


def _interval(exercise: Exercise, note: Note, other: Note) -> str:
    up = rising(between(other.pitch, note.pitch))
    name = exercise.voices[other.voice].name
    return f"{interval_words(quality(up), size(up))} with {pitch_name(other.pitch)} of {name}"
