"""From a sketch to a search: a cantus alone, or with voices whose rests are notes still to be composed."""

from dataclasses import dataclass, replace

from rulekit.exercise.model import Compass, Exercise, Voice
from rulekit.language.ruleset import Ruleset
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch, pitch_name, pitch_of
from rulekit.solving.problem import Problem, Slot, candidates, fixed_line, over_cantus, rhythm, speaks_of_ficta

_THIRD, _OCTAVE = 2 * 256 + 4, 7 * 256 + 12


@dataclass(frozen=True, slots=True)
class Wish:
    """What is asked beside the sketch: above or below the cantus, a range, a species, how many free voices."""

    below: bool = False
    compass: Compass | None = None
    species: int = 1
    voices: int = 1


def search(sketch: Exercise, ruleset: Ruleset, wish: Wish) -> Problem:
    """The search that a sketch asks for: one voice alone is the cantus; otherwise rests are to be filled.

    Raises ValueError when the species has no fixed rhythm or there is no cantus.
    """
    if len(sketch.voices) == 1:
        return _over(sketch, ruleset, wish)
    lines = tuple(
        fixed_line(voice) if i == sketch.cantus else _filled(voice, sketch, ruleset, wish)
        for i, voice in enumerate(sketch.voices)
    )
    names = tuple(voice.name for voice in sketch.voices)
    return Problem(ruleset, sketch.setting, names, lines, sketch.title, sketch.first_bar)


def _over(sketch: Exercise, ruleset: Ruleset, wish: Wish) -> Problem:
    cantus = replace(sketch.voices[0], name="cantus")
    compass = wish.compass or _room(cantus, wish.below)
    free = [Compass(name, compass.low, compass.high) for name in _names(wish)]
    index = 0 if wish.below else wish.voices
    problem = over_cantus(
        ruleset, cantus, sketch.mode, free, cantus_index=index, species=wish.species, metre=sketch.metre
    )
    return replace(problem, title=sketch.title, first_bar=sketch.first_bar)


def _names(wish: Wish) -> list[str]:
    name = "lower" if wish.below else "upper"
    return [name] if wish.voices == 1 else [f"{name}-{number}" for number in range(1, wish.voices + 1)]


def _room(cantus: Voice, below: bool) -> Compass:
    """A range for a free voice: from a third beyond the cantus to an octave past its other end."""
    pitches = [event.pitch for event in cantus.events if event.pitch is not None]
    low, high = min(pitches), max(pitches)
    if below:
        return Compass("lower", Pitch(low - _OCTAVE), Pitch(high + _THIRD))
    return Compass("upper", Pitch(low - _THIRD), Pitch(high + _OCTAVE))


def _filled(voice: Voice, sketch: Exercise, ruleset: Ruleset, wish: Wish) -> tuple[Slot, ...]:
    """A voice with its notes fixed and its rests free."""
    own = [event.pitch for event in voice.events if event.pitch is not None]
    index = sketch.voices.index(voice)
    below = sketch.cantus is not None and index > sketch.cantus
    cantus = sketch.voices[sketch.cantus if sketch.cantus is not None else 0]
    room = wish.compass or voice.compass or _room(cantus, below)
    low, high = min([room.low, *own]), max([room.high, *own])
    choices = candidates(sketch.mode, low, high, speaks_of_ficta(ruleset))
    slots: list[Slot] = []
    time = sketch.voices[0].length * 0
    for event in voice.events:
        slots.append(Slot(time, event.length, choices if event.pitch is None else (event.pitch,)))
        time += event.length
    return tuple(slots)


def blamable(problem: Problem, sketch: Exercise, ruleset: Ruleset) -> dict[tuple[int, int], tuple[Pitch, ...]]:
    """The student's own fixed notes, each with what it might have been instead."""
    if len(sketch.voices) == 1:
        return {}
    found: dict[tuple[int, int], tuple[Pitch, ...]] = {}
    for voice, line in enumerate(problem.lines):
        if voice == problem.setting.cantus:
            continue
        free = [slot.choices for slot in line if len(slot.choices) > 1]
        own = [slot.choices[0] for slot in line]
        choices = free[0] if free else candidates(
            problem.setting.mode, min(own), max(own), speaks_of_ficta(ruleset)
        )  # fmt: skip
        found |= {(voice, i): tuple(sorted({*choices, *s.choices})) for i, s in enumerate(line) if len(s.choices) == 1}
    return found


def cantus_search(ruleset: Ruleset, mode: Mode, bars: int, compass: Compass) -> Problem:
    """The search for cantus firmi of a length in bars, with nothing given but the mode and the range."""
    from rulekit.exercise.model import ALLA_BREVE, Setting

    setting = Setting(mode, ALLA_BREVE, 1, 0, ALLA_BREVE.bar_length * bars, (None,))
    choices = candidates(mode, compass.low, compass.high, False)
    line = tuple(Slot(onset, length, choices) for onset, length in rhythm(1, bars, ALLA_BREVE))
    return Problem(ruleset, setting, ("cantus",), (line,))


def compass_of(text: str) -> Compass:
    """Read a range such as ``C4-A5``; raises ValueError."""
    parts = text.replace(" ", "").split("-")
    if len(parts) != 2 or not all(parts):
        raise ValueError(f"‘{text}’ is not a range; write such as C4-A5")
    low, high = map(pitch_of, parts)
    if low >= high:
        raise ValueError(f"the range {text} goes from high to low; write {parts[1]}-{parts[0]}")
    return Compass("free", low, high)


def range_in_words(problem: Problem, voice: int) -> str:
    """The range searched for a free voice."""
    mode = problem.setting.mode
    pitches = [p for slot in problem.lines[voice] for p in slot.choices if mode.place(p)[1] == 0]
    return f"{pitch_name(min(pitches))} to {pitch_name(max(pitches))}"
