"""From a sketch to a search: a cantus alone, or voices in which some notes are still to be found."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain
from random import Random

from rulekit.exercise.model import ALLA_BREVE, Compass, Event, Exercise, Voice
from rulekit.exercise.notation import written_events
from rulekit.language.ruleset import Ruleset
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch, pitch_name, pitch_of
from rulekit.solving.problem import Problem, as_given, candidates, over_cantus, problem, rhythm
from rulekit.solving.rhythms import Rhythm, events, stock

_THIRD, _OCTAVE = 2 * 256 + 4, 7 * 256 + 12


@dataclass(frozen=True, slots=True)
class Wish:
    """What is asked beside the sketch: above or below the cantus, a range, a species, how many free voices.

    Without a species the free voice goes as the ruleset's own rules on rhythm say, or in whole bars if there are none.

    ``altered``: whether the notes of the mode are also tried a semitone higher and lower.
    """

    below: bool = False
    compass: Compass | None = None
    species: int | None = None
    voices: int = 1
    altered: bool = True


def opened(exercise: Exercise) -> Exercise:
    """An exercise with every note outside the cantus still to be found: what all exercises in its rhythm share."""
    voices = tuple(
        voice if index == exercise.cantus else replace(voice, events=tuple(map(_opened, voice.events)))
        for index, voice in enumerate(exercise.voices)
    )
    return replace(exercise, voices=voices)


def _opened(event: Event) -> Event:
    return replace(event, pitch=None, open=True) if event.pitch is not None else event


def search(sketch: Exercise, ruleset: Ruleset, wish: Wish, look: Callable[[], None] = lambda: None) -> Problem:
    """The search that a sketch asks for: one whole voice alone is the cantus; otherwise its open notes are to be found.

    Raises ValueError when no rhythm is allowed, or nothing says in which range to search; ``look`` is called while
    rhythms are looked for, and may stop it.
    """
    return next(searches(sketch, ruleset, wish, look))


def searches(
    sketch: Exercise,
    ruleset: Ruleset,
    wish: Wish,
    look: Callable[[], None] = lambda: None,
    random: Random | None = None,
) -> Iterator[Problem]:
    """The searches over one cantus in each rhythm that the ruleset allows, the best rhythm first (of several that are
    equally good ``random`` draws one), then those near to it; or the one search that a sketch with open notes asks for.

    Raises ValueError as :func:`search` does.
    """
    is_cantus = len(sketch.voices) == 1 and not _open(sketch.voices[0])
    if not is_cantus:
        yield _within(sketch, ruleset, wish)
        return
    own = stock(ruleset) if wish.species is None else None
    if own is None:
        yield _over(sketch, ruleset, wish, None)
        return
    rhythms = own.rhythms(sketch.setting.bars, sketch.metre, look, random)
    best = next(rhythms, None)
    if best is None:
        metre = f"{sketch.metre.beats} beats of {sketch.metre.unit} quarter notes"
        raise ValueError(f"what the ruleset says of rhythm fits no {sketch.setting.bars} bars of {metre}")
    yield _over(sketch, ruleset, wish, best)
    near = own.near(best, sketch.metre)
    for bars in chain(near, (each for each in rhythms if each not in near)):
        yield _over(sketch, ruleset, wish, bars)


def _within(sketch: Exercise, ruleset: Ruleset, wish: Wish) -> Problem:
    room = [_room_of(index, sketch, wish) if _open(voice) else () for index, voice in enumerate(sketch.voices)]
    return problem(ruleset, sketch, lambda voice, event: as_given(event) or room[voice])


def _open(voice: Voice) -> bool:
    return any(event.open for event in voice.events)


def _over(sketch: Exercise, ruleset: Ruleset, wish: Wish, bars: Rhythm | None) -> Problem:
    cantus = replace(sketch.voices[0], name="cantus")
    compass = wish.compass or _room([cantus], wish.below)
    free = [Compass(name, compass.low, compass.high) for name in _names(wish)]
    found = over_cantus(
        ruleset,
        cantus,
        sketch.mode,
        free,
        cantus_index=0 if wish.below else wish.voices,
        species=wish.species or 1,
        moving=None if bars is None else events(bars),
        metre=sketch.metre,
        altered=wish.altered,
    )
    moving = Voice("", () if bars is None else events(bars))
    told = " ".join(written_events(moving, sketch.metre)) if moving.events else ""
    return replace(found, title=sketch.title, first_bar=sketch.first_bar, rhythm=told, origin=sketch.origin)


def _names(wish: Wish) -> list[str]:
    name = "lower" if wish.below else "upper"
    return [name] if wish.voices == 1 else [f"{name}-{number}" for number in range(1, wish.voices + 1)]


def _room(known: Iterable[Voice], below: bool) -> Compass:
    """A range for a free voice: from a third beyond what is known of others to an octave past its other end."""
    pitches = [event.pitch for voice in known for event in voice.events if event.pitch is not None]
    if not pitches:
        raise ValueError("nothing says how high the notes may lie; give a range, such as --range C4-A5")
    low, high = min(pitches), max(pitches)
    if below:
        return Compass("lower", Pitch(low - _OCTAVE), Pitch(high + _THIRD))
    return Compass("upper", Pitch(low - _THIRD), Pitch(high + _OCTAVE))


def _room_of(index: int, sketch: Exercise, wish: Wish) -> tuple[Pitch, ...]:
    """What a note to be found in a voice may be."""
    voice = sketch.voices[index]
    own = [event.pitch for event in voice.events if event.pitch is not None]
    below = sketch.cantus is not None and index > sketch.cantus
    others = sketch.voices if sketch.cantus in (None, index) else [sketch.voices[sketch.cantus]]
    room = wish.compass or voice.compass or _room(others, below)
    return candidates(sketch.mode, min([room.low, *own]), max([room.high, *own]), wish.altered)


def blamable(problem: Problem, altered: bool = True) -> dict[tuple[int, int], tuple[Pitch, ...]]:
    """The given notes of the voices other than the cantus, each with what it might have been instead."""
    found: dict[tuple[int, int], tuple[Pitch, ...]] = {}
    for voice, line in enumerate(problem.lines):
        if voice == problem.setting.cantus or not line:
            continue
        every = [pitch for slot in line for pitch in slot.choices]
        choices = {*every, *candidates(problem.setting.mode, min(every), max(every), altered)}
        found |= {(voice, i): tuple(sorted(choices)) for i, s in enumerate(line) if len(s.choices) == 1}
    return found


def cantus_search(ruleset: Ruleset, mode: Mode, bars: int, compass: Compass) -> Problem:
    """The search for cantus firmi of a length in bars, with nothing given but the mode and the range."""
    events = rhythm(1, ALLA_BREVE, ALLA_BREVE.bar_length * bars)
    sketch = Exercise("", (Voice("cantus", events),), mode, ALLA_BREVE, 0)
    choices = candidates(mode, compass.low, compass.high, altered=False)
    return problem(ruleset, sketch, lambda voice, event: choices)


def compass_of(text: str) -> Compass:
    """Read a range such as ``C4-A5``; raises ValueError."""
    parts = text.replace(" ", "").split("-")
    if len(parts) != 2 or not all(parts):
        raise ValueError(f"‘{text}’ is not a range; write such as C4-A5")
    low, high = map(pitch_of, parts)
    if low > high:
        raise ValueError(f"the range {text} goes from high to low; write {parts[1]}-{parts[0]}")
    if low == high:
        raise ValueError(f"the range {text} holds one note only; write two ends, such as C4-A5")
    return Compass("free", low, high)


def range_in_words(problem: Problem, voice: int) -> str:
    """The range searched for a free voice, and whether altered notes are tried."""
    mode = problem.setting.mode
    pitches = [pitch for slot in problem.lines[voice] if len(slot.choices) > 1 for pitch in slot.choices]
    altered = any(mode.place(pitch)[1] for pitch in pitches)
    ends = f"{pitch_name(min(pitches))} to {pitch_name(max(pitches))}"
    return f"{ends} ({'altered notes too' if altered else 'notes of the mode only'})"
