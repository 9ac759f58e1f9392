"""Fair draws."""

from collections import Counter
from collections.abc import Iterable
from random import Random

from rulekit.solving import folds
from rulekit.solving.folds import Line
from rulekit.solving.graph import build
from tests.solving.cases import allowed, over, ruleset

# Critical values of the chi-square distribution at 0.001, by degrees of freedom: NIST/SEMATECH e-Handbook of
# Statistical Methods, section 1.3.6.7.4 (from memory).
_CRITICAL = {9: 27.877, 24: 51.179}


def chi_square(drawn: Iterable[Line], cells: list[Line]) -> float:
    """Pearson's statistic against equal frequencies."""
    seen = Counter(drawn)
    expected = sum(seen.values()) / len(cells)
    return sum((seen[cell] - expected) ** 2 / expected for cell in cells)


def test_every_line_is_equally_likely() -> None:
    rules = ruleset(("consonances", "fault"), ("opening", "fault"), ("steps", "fault"))
    problem = over(rules, "D4 G4 F4 E4", "A4", "E5")
    legal = sorted(allowed(problem))
    assert len(legal) == 25
    drawn = folds.sample(build(problem), Random(4), 2500)
    assert set(drawn) <= set(legal)
    assert chi_square(drawn, legal) < _CRITICAL[len(legal) - 1]
    assert drawn != folds.sample(build(problem), Random(5), 2500)
    assert drawn == folds.sample(build(problem), Random(4), 2500)


def test_a_crooked_draw_would_be_seen() -> None:
    rules = ruleset(("consonances", "fault"), ("opening", "fault"), ("steps", "fault"))
    legal = sorted(allowed(over(rules, "D4 G4 F4 E4", "A4", "E5")))
    crooked = Random(4).choices(legal, weights=[2] * 12 + [1] * 13, k=2500)
    assert chi_square(crooked, legal) > _CRITICAL[24]


def test_lines_of_a_bounded_cost_are_equally_likely() -> None:
    rules = ruleset(("consonances", "fault"), ("opening", "fault"), ("steps", "fault"),
                    ("contrary", "warning, 2 points, once"))  # fmt: skip
    problem = over(rules, "D4 G4 F4 E4", "A4", "E5")
    costs = allowed(problem)
    cheap = sorted(line for line, lost in costs.items() if lost == 0)
    assert len(cheap) < len(costs)
    drawn = folds.sample(build(problem, costed=True), Random(4), 1500, 1)
    assert set(drawn) == set(cheap)
    assert chi_square(drawn, cheap) < _CRITICAL[len(cheap) - 1]


def test_nothing_is_drawn_from_nothing() -> None:
    problem = over(ruleset(("close", "fault"), ("consonances", "fault")), "D4 E4 D4", "D4", "F4")
    assert folds.sample(build(problem), Random(1), 3) == []
