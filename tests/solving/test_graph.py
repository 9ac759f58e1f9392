"""The graph against plain enumeration: every choice of notes, each marked by itself."""

from collections import Counter

from hypothesis import HealthCheck, given, settings

from rulekit.solving import folds
from rulekit.solving.graph import build
from rulekit.solving.problem import Problem
from tests.solving.cases import allowed, pooled, problems, written

slow = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def holds_just_the_legal_lines(problem: Problem) -> None:
    expected = allowed(problem)
    graph = build(problem)
    assert sorted(folds.lines(graph)) == sorted(expected)
    assert folds.count(graph) == len(expected)
    assert folds.exists(graph) == bool(expected)
    costed = build(problem, costed=True)
    assert folds.count_by_cost(costed) == Counter(expected.values())
    best = folds.best(costed, 3)
    assert [paid[-1] for paid, _ in best] == sorted(expected.values())[:3]
    assert all(expected[line] == paid[-1] for paid, line in best)


@settings(slow, max_examples=25)
@given(problems(pooled))
def test_rules_of_every_kind(problem: Problem) -> None:
    holds_just_the_legal_lines(problem)


@settings(slow, max_examples=25)
@given(problems(written()))
def test_rules_written_at_random(problem: Problem) -> None:
    holds_just_the_legal_lines(problem)
