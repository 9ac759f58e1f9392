"""Cantus firmi as tasks for students: what may be written over and under each, counted and sampled."""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice
from random import Random

from rulekit.exercise.model import Exercise
from rulekit.language.loading import load_ruleset
from rulekit.language.ruleset import Ruleset
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch
from rulekit.solving import folds
from rulekit.solving.graph import Exhausted, Limits, at_most, build, points
from rulekit.solving.problem import Problem
from rulekit.solving.sketch import Wish, cantus_search, compass_of, search, searches

_LINES = 2
_NOTES = 9
_NODES = 300_000
_RHYTHMS = 3


@dataclass(frozen=True, slots=True)
class Side:
    """What may stand over or under a cantus: how many lines (None if they could not be counted), and a few of them.

    ``altered`` are the notes outside the mode that some allowed line has.
    """

    problem: Problem
    count: int | None
    lines: tuple[Exercise, ...]
    altered: frozenset[Pitch]


@dataclass(frozen=True, slots=True)
class Task:
    """A cantus, and what may stand over and under it; None where nothing may."""

    cantus: Exercise
    above: Side | None
    below: Side | None

    @property
    def sides(self) -> tuple[Side, ...]:
        """Where there is something to be written."""
        return tuple(side for side in (self.above, self.below) if side is not None)


def task(cantus: Exercise, ruleset: Ruleset, seconds: float = 20, seed: int = 1) -> Task:
    """What may be written over and under a cantus (an exercise in one voice).

    It goes in the first of the rhythms that the ruleset allows in which there is anything; if it says nothing of
    rhythm, in the first species that allows any.
    """
    above, below = (_side(cantus, ruleset, below, seconds / 2, seed) for below in (False, True))
    return Task(cantus, above, below)


def drawn_cantus(mode: Mode, seed: int = 1) -> Exercise:
    """A cantus firmus in a mode that loses as few points as possible by the shipped rules. Raises Exhausted."""
    problem = cantus_search(load_ruleset("cantus-firmus"), mode, _NOTES, compass_of("C3-C5"))
    graph = build(problem, weigh=points, limits=Limits(_NODES))
    return problem.exercise(next(folds.draws(at_most(graph, graph.least), Random(seed))))


def _side(cantus: Exercise, ruleset: Ruleset, below: bool, seconds: float, seed: int) -> Side | None:
    for problem in _tried(cantus, ruleset, below):
        try:
            found = _counted(problem, Limits(_NODES, seconds), seed)
        except Exhausted:
            return Side(problem, None, (), frozenset())
        if found.count:
            return found
    return None


def _tried(cantus: Exercise, ruleset: Ruleset, below: bool) -> Iterator[Problem]:
    with suppress(ValueError):
        yield from islice(searches(cantus, ruleset, Wish(below=below)), _RHYTHMS)
        for species in (2, 3):
            yield search(cantus, ruleset, Wish(below=below, species=species))


def _counted(problem: Problem, limits: Limits, seed: int) -> Side:
    meter = limits.start()
    graph = build(problem, limits=meter)
    count = folds.count(graph, meter)
    drawn = folds.draws(graph, Random(seed), meter)
    lines = tuple(problem.exercise(line) for _, line in zip(range(min(_LINES, count)), drawn, strict=False))
    free = next(voice for voice in range(len(problem.lines)) if voice != problem.setting.cantus)
    notes = {pitch for level in folds.count_by_choice(graph, meter) for pitch in folds.of_voice(level, free)}
    return Side(problem, count, lines, frozenset(_outside(problem.setting.mode, notes)))


def _outside(mode: Mode, notes: set[Pitch]) -> Iterator[Pitch]:
    return (pitch for pitch in notes if mode.place(pitch)[1])
