"""Two rulesets compared over every cantus firmus at once: the cantus is a free voice under its own rules."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random

from rulekit.exercise.model import ALLA_BREVE, Compass, Exercise, Voice
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch, pitch_of
from rulekit.solving import folds
from rulekit.solving.answers import differing_rules
from rulekit.solving.graph import Graph, Limits, Meter, compose, everything, faults, started, without
from rulekit.solving.problem import Problem, candidates, problem, rhythm
from rulekit.solving.rhythms import events, stock

SHORTEST = 2
_FOURTH, _OCTAVE, _TWELFTH = 3 * 256 + 5, 7 * 256 + 12, 11 * 256 + 19


@dataclass(frozen=True, slots=True)
class Over:
    """Over all cantus firmi of one length: how many pairs of cantus and line both rulesets allow, and only one.

    The witnesses are what the first alone allows and what the second alone allows, with the rule that forbids it.
    """

    bars: int
    both: int
    only_first: int
    only_second: int
    first_witness: tuple[Exercise, str] | None
    second_witness: tuple[Exercise, str] | None


def cantus_compass(mode: Mode) -> Compass:
    """Where a cantus is looked for if nobody says: from a fourth under its final to the octave over it."""
    final = _final(mode)
    return Compass("cantus", Pitch(final - _FOURTH), Pitch(final + _OCTAVE))


def free_compass(mode: Mode, below: bool = False) -> Compass:
    """Where a line is looked for if nobody says: from the final of the cantus to the twelfth over or under it."""
    final = _final(mode)
    low, high = (final - _TWELFTH, final) if below else (final, final + _TWELFTH)
    return Compass("free", Pitch(low), Pitch(high))


def _final(mode: Mode) -> Pitch:
    """The final from C4 to B4."""
    return next(pitch for pitch in mode.pitches(pitch_of("C4"), pitch_of("B4")) if mode.place(pitch)[0] == 1)


def posed(
    ruleset: Ruleset,
    mode: Mode,
    bars: int,
    cantus: Compass,
    free: Compass,
    below: bool = False,
    altered: bool = True,
    look: Callable[[], None] = lambda: None,
) -> Problem:
    """The search for a cantus in so many whole notes of the mode together with a line over or under it.

    The line may be ``altered`` and goes in the best rhythm that the ruleset allows, or in whole notes if it names
    none. Raises ValueError if no rhythm fits; ``look`` is called while one is looked for, and may stop it.
    """
    whole = rhythm(1, ALLA_BREVE, bars * ALLA_BREVE.bar_length)
    own = stock(ruleset)
    best = None if own is None else next(own.rhythms(bars, ALLA_BREVE, look), None)
    if own is not None and best is None:
        raise ValueError(f"what the ruleset says of rhythm fits no {bars} bars")
    voices = [Voice("cantus", whole), Voice("lower" if below else "upper", whole if best is None else events(best))]
    rooms = [candidates(mode, room.low, room.high, altered) for room, altered in ((cantus, False), (free, altered))]
    order = (0, 1) if below else (1, 0)
    sketch = Exercise(f"a cantus of {bars} notes", tuple(voices[i] for i in order), mode, ALLA_BREVE, order.index(0))
    return problem(ruleset, sketch, lambda voice, event: rooms[order[voice]])


def over_every_cantus(
    posed: Problem, other: Ruleset, cantus: Ruleset, seed: int = 1, limits: Limits | Meter | None = None
) -> Over:
    """What a ruleset and another allow with any cantus that a third one allows, counted exactly. Raises Exhausted."""
    meter = started(limits)
    alike = {rule.name for rule in posed.ruleset.rules}.difference(*differing_rules(posed.ruleset, other))

    def shared(rule: t.Rule) -> t.Weight | None:
        return faults(rule) if rule.name in alike else None

    def own(rule: t.Rule) -> t.Weight | None:
        return None if rule.name in alike else faults(rule)

    bars = posed.setting.bars
    with meter.telling(f"before all cantus firmi of {bars} notes were explored"):
        start = compose(everything(replace(posed, ruleset=cantus), limits=meter), cantus, faults, meter, begun=True)
        start = compose(start, posed.ruleset, shared, meter)
        first, second = (compose(start, ruleset, own, meter) for ruleset in (posed.ruleset, other))
        both = compose(first, other, own, meter)
        common = folds.count(both, meter)
        only_first, only_second = (folds.count(graph, meter) - common for graph in (first, second))
        witnesses = (
            _witness(posed, first, both, other, seed, meter) if only_first else None,
            _witness(posed, second, both, posed.ruleset, seed, meter) if only_second else None,
        )
    return Over(bars, common, only_first, only_second, *witnesses)


def _witness(
    posed: Problem, graph: Graph, both: Graph, forbidding: Ruleset, seed: int, meter: Meter
) -> tuple[Exercise, str]:
    line = next(folds.draws(without(graph, both, meter), Random(seed), meter))
    exercise = posed.exercise(line)
    return exercise, mark(exercise, forbidding).faults[0].rule
