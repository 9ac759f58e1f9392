"""What searching costs, beside a count of lines written by hand for a few rules."""

import time
from functools import partial

from rulekit.exercise.model import Compass
from rulekit.language.library import read_ruleset
from rulekit.language.loading import load_ruleset, load_text
from rulekit.language.ruleset import Ruleset
from rulekit.music.pitch import pitch_of
from rulekit.solving import answers, folds
from rulekit.solving.graph import Exhausted, Graph, Limits, build
from rulekit.solving.problem import Problem, over_cantus
from tests.benchmarks.figures import Case, Figure, Wanted, best_of, timed
from tests.rulesets.figures import FIGURES
from tests.solving.cases import D_DORIAN, voice
from tests.solving.outside import REDUCED, count_by_hand, tone, white_notes

_OURS = "D4 F4 E4 G4 F4 A4 G4 E4 F4 D4 F4 G4".split()  # a cantus of our own, cut before its close for each length
_LIMITS = Limits(seconds=60)
_WHITE = "C4", "G5"
_UPPER, _MIDDLE = ("upper", "G4", "F5"), ("middle", "C4", "C5")
_FOUR = ("upper", "A4", "F5"), ("alto", "E4", "C5"), ("tenor", "A3", "F4")
_FEW = """
rule few-of-a-pitch
  "{pitch} comes a fourth time."
  for every note in counterpoint
  require number so far with same pitch is at most 3
  fault
  source "ours"
"""


def cantus(length: int) -> str:
    """Whole notes in D dorian."""
    return " ".join([*_OURS[: length - 2], "E4", "D4"])


def by_hand(length: int = 12) -> float:
    """Seconds that the count by hand takes, under the reduced rules."""
    sung = [tone(name) for name in cantus(length).split()]
    return best_of(3, lambda: count_by_hand(sung, white_notes(*_WHITE)))


def _free(ranges: tuple[tuple[str, str, str], ...]) -> list[Compass]:
    return [Compass(name, pitch_of(low), pitch_of(high)) for name, low, high in ranges]


def _one(rules: Ruleset, species: int = 1) -> Problem:
    """A voice over twelve notes, its alterations included."""
    free = _free((("counterpoint", "A3", "D5"),))
    return over_cantus(rules, voice("cantus", cantus(12)), D_DORIAN, free, cantus_index=1, species=species)


def _several(firm: str, *ranges: tuple[str, str, str]) -> Problem:
    rules = load_ruleset("several-voices")
    return over_cantus(rules, voice("cantus", firm), D_DORIAN, _free(ranges), cantus_index=len(ranges))


def _species(name: str) -> Problem:
    number = ["first", "second", "third"].index(name) + 1
    return _one(load_ruleset(f"{name}-species-strict"), number)


def _counted(problem: Problem) -> Figure:
    return Figure(timed(lambda: folds.count(build(problem, limits=_LIMITS))), by_hand())


def _counted_by_points(problem: Problem) -> Figure:
    return Figure(timed(lambda: folds.count_by_cost(build(problem, costed=True, limits=_LIMITS))), by_hand())


def _completed(problem: Problem) -> Figure:
    return Figure(timed(lambda: folds.best(build(problem, costed=True, limits=_LIMITS), 3)), by_hand())


def _few() -> Problem:
    _, text = read_ruleset("first-species-strict")
    return _one(load_text(text + _FEW))


def _mended() -> Figure:
    """The slowest of all figures in note against note in two voices, each as the first of its ruleset."""
    plain = [each.exercise for each in FIGURES if each.species == "1" and each.voices == 2]
    rules = "first-species-strict"
    slowest = max(timed(partial(answers.mend, each, load_ruleset(rules), 3, _LIMITS)) for each in plain)
    return Figure(slowest, by_hand())


def _reduced() -> Figure:
    """Of all lengths from eight notes that which does worst; the rules' tables are warm."""
    rules, found = load_text(REDUCED), list[Figure]()
    for length in range(8, 15):
        free = _free((("counterpoint", *_WHITE),))
        firm = voice("cantus", cantus(length))
        search = over_cantus(rules, firm, D_DORIAN, free, cantus_index=1, altered=False)
        sung = [tone(name) for name in cantus(length).split()]
        assert folds.count(build(search)) == count_by_hand(sung, white_notes(*_WHITE))
        ours = best_of(3, lambda search=search: folds.count(build(search)))
        found.append(Figure(ours, by_hand(length)))
    return max(found, key=lambda figure: figure.ratio)


def _stopped() -> Figure:
    """Four voices, twelve notes, with all points, given a second: by the clock, what it takes of that."""
    search, start = _several(cantus(12), *_FOUR), time.monotonic()
    try:
        folds.best(_all(search), 1)
    except Exhausted:
        return Figure(time.monotonic() - start, 1.0)
    raise AssertionError("the search ended within its limit: take a harder one")


def _all(search: Problem) -> Graph:
    return build(search, costed=True, limits=Limits(seconds=1))


_HAND = "the count by hand, 12 notes"
_FIRST = "first species, 12 notes"
CASES = [
    Case(f"{_FIRST}: count", _HAND, Wanted(seconds=1, memory=200), lambda: _counted(_species("first"))),
    Case(
        f"{_FIRST}: count by points",
        _HAND, Wanted(seconds=1, memory=200), lambda: _counted_by_points(_species("first")),
    ),
    Case(f"{_FIRST}: complete", _HAND, Wanted(seconds=1, memory=200), lambda: _completed(_species("first"))),
    Case(f"{_FIRST}, no pitch a fourth time: count", _HAND, Wanted(seconds=1), lambda: _counted(_few())),
    Case("a treatise’s figure in first species: mend", _HAND, Wanted(seconds=3), _mended),
    Case("second species, 12 notes: count", _HAND, Wanted(seconds=0.5), lambda: _counted(_species("second"))),
    Case("second species, 12 notes: complete", _HAND, Wanted(seconds=10), lambda: _completed(_species("second"))),
    Case("third species, 12 notes: count", _HAND, Wanted(seconds=3), lambda: _counted(_species("third"))),
    Case(
        "three voices, two free, 8 notes: count",
        _HAND, Wanted(seconds=1), lambda: _counted(_several(cantus(8), _UPPER, _MIDDLE)),
    ),
    Case(
        "three voices, two free, 8 notes: complete",
        _HAND, Wanted(seconds=10), lambda: _completed(_several(cantus(8), _UPPER, _MIDDLE)),
    ),
    Case(
        "four voices, three free, 6 notes: count",
        _HAND, Wanted(seconds=60), lambda: _counted(_several("D3 F3 E3 G3 E3 D3", *_FOUR)),
    ),
    Case("a few rules, 8 to 14 notes: count again", "the count by hand, as many notes", Wanted(ratio=2), _reduced),
    Case("a search given a second", "a second", Wanted(ratio=1.1), _stopped),
]  # fmt: skip
