"""What examples themselves support: for each parameter of a ruleset the tightest value that lets all of them pass.

Nothing is judged here: the ruleset is loaded with one value after another and marks the examples.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain, pairwise
from pathlib import Path
from typing import cast

from rulekit.diagnostics import RulekitError
from rulekit.exercise.model import Exercise
from rulekit.language.library import Texts
from rulekit.language.loading import load_ruleset
from rulekit.language.ruleset import Parameter, Ruleset
from rulekit.language.typed import Const, Pattern, Type
from rulekit.marking import Finding, mark
from rulekit.music.pitch import SIZES, Pitch, semitone
from rulekit.trying import looks

MOST_VALUES = 200
_TWELVE = "C C# D Eb E F F# G G# A Bb B".split()
_OCTAVE = ("P1 m2 M2 m3 M3 P4 A4 d5 P5 m6 M6 m7 M7").split()


@dataclass(frozen=True, slots=True)
class Edge:
    """A value that lets all examples pass, beside one that does not: what the latter finds in which example."""

    value: str
    beyond: str
    rejected: tuple[tuple[Exercise, Finding], ...]

    @property
    def examples(self) -> int:
        """How many examples the value beyond rejects."""
        return len({id(exercise) for exercise, _ in self.rejected})


@dataclass(frozen=True, slots=True)
class Fit:
    """A parameter, the rules that use it, and which of the values tried let all examples pass.

    ``edges`` is empty where all values or none do. With one edge that value is the tightest; with several
    neither way is tighter, and each tells where the examples set a bound.
    """

    parameter: Parameter
    rules: tuple[str, ...]
    tried: tuple[str, ...]
    passing: tuple[str, ...]
    edges: tuple[Edge, ...]


@dataclass(frozen=True, slots=True)
class Nearness:
    """In how many examples a rule finds a place that it speaks of, and in how many something broken or excused."""

    rule: str
    looked: int
    broken: int
    excused: int


def fits(
    name: str | Path | Sequence[str | Path],
    exercises: Sequence[Exercise],
    overrides: Mapping[str, str] | None = None,
    texts: Texts | None = None,
) -> Iterator[Fit]:
    """What the examples say of each parameter, while the others stay as they are.

    A value passes if no rule that uses the parameter finds anything that nothing excuses. ``texts`` are the files that
    were read already. Raises RulekitError as :func:`load_ruleset` does.
    """
    texts = texts or Texts()
    for parameter in load_ruleset(name, overrides, texts).parameters:
        judges: dict[str, Ruleset] = {}
        for value in values(parameter):
            try:
                judges[value] = load_ruleset(name, {**(overrides or {}), parameter.name: value}, texts)
            except RulekitError:  # what a rule makes of this value is beyond the limits of the language
                continue
        yield _fit(parameter, judges, exercises)


def values(parameter: Parameter) -> list[str]:
    """The values from the lower to the upper bound, as the language writes them, from the least.

    Counts and degrees are whole numbers, proportions percentages; intervals are those of the scale with the tritones,
    sizes those that have a name, pitches twelve to the octave. None for a parameter that has no bounds, whose type
    has no such steps, or that has more than ``MOST_VALUES``.
    """
    low, high = parameter.low, parameter.high
    if low is None or high is None:
        return []
    match parameter.type:
        case "count" | "degree":
            found = _numbers(cast(int, low.value), cast(int, high.value), "{}")
        case "proportion":
            found = _numbers(cast(int, low.value) // 100, cast(int, high.value) // 100, "{}%")
        case "size":
            found = list(SIZES[_pattern(low).low - 1 : _pattern(high).high])
        case "pitch":
            found = _pitches(semitone(cast(Pitch, low.value)), semitone(cast(Pitch, high.value)))
        case _:
            found = _intervals(low, high) if low.type == Type.INTERVAL else []
    return found if len(found) <= MOST_VALUES else []


def nearness(ruleset: Ruleset, exercises: Sequence[Exercise]) -> tuple[Nearness, ...]:
    """How near the examples come to each rule."""
    findings = [mark(exercise, ruleset).findings for exercise in exercises]
    broken = [{each.rule for each in found if each.excuse is None} for found in findings]
    excused = [{each.rule for each in found if each.excuse is not None} for found in findings]
    return tuple(
        Nearness(
            rule=rule.name,
            looked=sum(looks(rule, exercise, ruleset) for exercise in exercises),
            broken=sum(rule.name in names for names in broken),
            excused=sum(rule.name in names for names in excused),
        )
        for rule in ruleset.rules
    )


def _numbers(low: int, high: int, written: str) -> list[str]:
    return [written.format(number) for number in range(low, min(high, low + MOST_VALUES) + 1)]


def _pitches(low: int, high: int) -> list[str]:
    return [f"pitch {_TWELVE[number % 12]}{number // 12 - 1}" for number in range(low, high + 1)]


def _intervals(low: Const, high: Const) -> list[str]:
    """All that are no narrower than the first bound and no wider than the second; a bound may be a family (third)."""
    scale = [f"{name[0]}{int(name[1]) + 7 * octave}" for octave in range(4) for name in _OCTAVE]
    first = [place for place, name in enumerate(scale) if _belongs(name, _pattern(low))]
    last = [place for place, name in enumerate(scale) if _belongs(name, _pattern(high))]
    return scale[first[0] : last[-1] + 1] if first and last else []


def _belongs(name: str, pattern: Pattern) -> bool:
    return int(name[1:]) == pattern.high and pattern.quality in ("", name[0])


def _pattern(const: Const) -> Pattern:
    (pattern,) = cast("tuple[Pattern, ...]", const.value)
    return pattern


def _fit(parameter: Parameter, judges: Mapping[str, Ruleset], exercises: Sequence[Exercise]) -> Fit:
    """Mark the examples by every value, with the rules alone that some value changes."""
    using = _using(list(judges.values()))
    rejected = {value: _rejected(_only(judge, using), exercises) for value, judge in judges.items()}
    bounds = chain.from_iterable(((a, b), (b, a)) for a, b in pairwise(judges))
    edges = [
        Edge(value, beyond, rejected[beyond]) for value, beyond in bounds if rejected[beyond] and not rejected[value]
    ]
    passing = tuple(value for value in judges if not rejected[value])
    return Fit(parameter, using, tuple(judges), passing, tuple(edges))


def _using(rulesets: Sequence[Ruleset]) -> tuple[str, ...]:
    """The rules that differ between rulesets in which only a value differs: those that use it."""
    columns = zip(*(ruleset.rules for ruleset in rulesets), strict=True)
    return tuple(same[0].name for same in columns if any(rule != same[0] for rule in same))


def _only(ruleset: Ruleset, names: Sequence[str]) -> Ruleset:
    return replace(ruleset, rules=tuple(rule for rule in ruleset.rules if rule.name in names))


def _rejected(ruleset: Ruleset, exercises: Sequence[Exercise]) -> tuple[tuple[Exercise, Finding], ...]:
    found = ((exercise, finding) for exercise in exercises for finding in mark(exercise, ruleset).findings)
    return tuple((exercise, finding) for exercise, finding in found if finding.excuse is None)
