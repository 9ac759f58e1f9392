"""The strategy that draws legal exercises."""

import pytest
from hypothesis import find, given, settings
from hypothesis import strategies as st

from rulekit.exercise.model import Exercise
from rulekit.marking import mark
from rulekit.solving import folds
from rulekit.solving.graph import build
from rulekit.solving.strategies import legal_lines
from tests.solving.cases import allowed, over, ruleset

_RULES = ruleset(("consonances", "fault"), ("opening", "fault"), ("steps", "fault"))
_PROBLEM = over(_RULES, "D4 G4 F4 E4", "A4", "E5")


@settings(max_examples=50, deadline=None)
@given(legal_lines(_PROBLEM))
def test_only_legal_exercises_are_drawn(exercise: Exercise) -> None:
    assert not mark(exercise, _RULES).faults
    assert exercise.voices[1].events == _PROBLEM.exercise(next(folds.lines(build(_PROBLEM)))).voices[1].events


def test_every_line_has_one_place() -> None:
    ranking = folds.Ranking(build(_PROBLEM))
    assert [ranking.line(rank) for rank in range(ranking.total)] == sorted(allowed(_PROBLEM))
    for rank in (-1, ranking.total):
        with pytest.raises(IndexError):
            ranking.line(rank)


def test_it_shrinks_to_the_first_line() -> None:
    first = _PROBLEM.exercise(next(folds.lines(build(_PROBLEM))))
    assert find(legal_lines(_PROBLEM), lambda _: True) == first


def test_an_empty_space_is_told_at_once() -> None:
    impossible = over(ruleset(("close", "fault"), ("consonances", "fault")), "D4 E4 D4", "D4", "F4")
    with pytest.raises(ValueError, match="no line"):
        legal_lines(impossible)


@settings(max_examples=20, deadline=None)
@given(st.data())
def test_lines_come_in_the_order_of_their_notes(data: st.DataObject) -> None:
    ranking = folds.Ranking(build(_PROBLEM))
    low, high = sorted(data.draw(st.tuples(*[st.integers(0, ranking.total - 1)] * 2)))
    assert low == high or ranking.line(low) < ranking.line(high)
