"""What else could have stood at each note of the counterpoint, and why other notes could not: as a page shows it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from rulekit.beside import Beside
from rulekit.exercise.model import Exercise
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Finding
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch, pitch_class, step
from rulekit.music.solmization import letter_name
from rulekit.page.reach import NoteKey, numbered
from rulekit.severity import Severity
from rulekit.solving.answers import Alternatives, alternatives, passing, problem_of, written
from rulekit.solving.graph import Exhausted, Limits
from rulekit.solving.problem import Problem
from rulekit.solving.sketch import Wish, opened, search

_FAR, _FAR_ALTERED = 7, 4  # diatonic steps from the note that stands there
_UNUSUAL = ("E♯", "B♯", "F♭", "C♭")
_MOST_NODES = 200_000


@dataclass(frozen=True, slots=True)
class Choice:
    """A note that might stand in a place: the faults it would bring, none if it would do.

    ``lines`` is how many allowed lines go through it with all other notes free, None where that was not counted.
    """

    pitch: Pitch
    faults: tuple[Finding, ...]
    lines: int | None = None


def choices(exercise: Exercise, ruleset: Ruleset, seconds: float) -> dict[NoteKey, tuple[Choice, ...]]:
    """For each note of a counterpoint what might stand there, from the highest.

    Places not reached in time are left out. Faults that are there whichever note stands in the place are not held
    against any.
    """
    found: dict[NoteKey, tuple[Choice, ...]] = {}
    if len(exercise.voices) < 2:
        return found

    notes = {(note.voice, note.onset): key for key, note in numbered(exercise)}
    faults, limits = _faults_of(ruleset), Limits(_MOST_NODES, seconds)
    through = _through(exercise, faults, Limits(_MOST_NODES, seconds / 4))
    sung = None if through is None else _sung(through) or None

    def near(own: Pitch, other: Pitch) -> bool:
        return _worth_asking(other, own, exercise.mode, sung)

    try:
        for each in alternatives(exercise, faults, limits, near):
            if (each.voice, each.onset) in notes:
                counted = None if through is None else through[each.voice][each.slot]
                found[notes[each.voice, each.onset]] = tuple(_shown(each, counted))
    except Exhausted:
        pass
    return found


def _shown(found: Alternatives, counted: dict[Pitch, int] | None) -> Iterator[Choice]:
    for each in reversed(found.choices):
        yield Choice(each.pitch, found.here(each), None if counted is None else counted.get(each.pitch))


_Through = list[list[dict[Pitch, int]]]  # for every note of every voice, how many lines have which pitch there
_PASSING = Beside(dict[object, tuple[float, _Through | None]])  # with the seconds spent on it
_FAULTS = Beside(list[Ruleset])  # at most one


def _through(exercise: Exercise, faults: Ruleset, limits: Limits) -> _Through | None:
    """How many allowed lines go through each note; None if that can't be told within the limits.

    They are counted once for all exercises over one cantus in one rhythm, by the range that a search would give
    them; for one that goes beyond it by its own.
    """
    try:
        space = search(opened(exercise), faults, Wish())
    except ValueError:
        return passing(problem_of(exercise, faults), limits)
    if not _lies_in(exercise, space):
        return passing(problem_of(exercise, faults), limits)
    known = _PASSING.of(faults)
    key = space.setting, space.lines
    tried, found = known.get(key, (-1.0, None))
    if found is None and tried < limits.seconds:
        found = _whole(passing(space, limits), space)
        known[key] = limits.seconds, found
    return found


def _lies_in(exercise: Exercise, space: Problem) -> bool:
    """Whether all notes of an exercise are among those that a search tries."""
    lines = zip(written(exercise), space.lines, strict=True)
    places = (place for own, line in lines for place in zip(own, line, strict=True))
    return all(pitch is None or pitch in slot.choices for pitch, slot in places)


def _whole(found: _Through | None, space: Problem) -> _Through | None:
    """The counts with those notes through which no line goes."""
    if found is None:
        return None
    lines = zip(found, space.lines, strict=True)
    return [[dict.fromkeys(s.choices, 0) | c for c, s in zip(counts, line, strict=True)] for counts, line in lines]


def _sung(through: _Through) -> frozenset[Pitch]:
    """The notes, whatever their octave, that any allowed line has anywhere."""
    lines = (counts for line in through for counts in line)
    return frozenset(pitch_class(pitch) for counts in lines for pitch, number in counts.items() if number)


def _worth_asking(pitch: Pitch, own: Pitch, mode: Mode, sung: frozenset[Pitch] | None) -> bool:
    """Whether a note is one that somebody might write there: the mode's own, or altered and not far; one that no
    allowed line has anywhere (where that is known) is not asked about."""
    far = abs(step(pitch) - step(own))
    if mode.place(pitch)[1] == 0:
        return far <= _FAR
    usual = letter_name(pitch) not in _UNUSUAL and far <= _FAR_ALTERED
    return usual and (sung is None or pitch_class(pitch) in sung)


def _faults_of(ruleset: Ruleset) -> Ruleset:
    """The ruleset with its faults alone; made once, so that its monitors are."""
    known = _FAULTS.of(ruleset)
    if not known:
        rules = tuple(rule for rule in ruleset.rules if rule.weight.severity == Severity.FAULT)
        known.append(replace(ruleset, rules=rules))
    return known[0]
