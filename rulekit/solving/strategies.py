"""For property tests (with Hypothesis): exercises drawn from all that a ruleset allows."""

from hypothesis import strategies as st

from rulekit.exercise.model import Exercise
from rulekit.solving import folds
from rulekit.solving.graph import Limits, build
from rulekit.solving.problem import Problem


def legal_lines(problem: Problem, limits: Limits | None = None) -> st.SearchStrategy[Exercise]:
    """Any exercise that a problem allows, drawn by its place in their order; it shrinks towards the first.

    Raises ValueError if there is none, Exhausted when a limit is reached.
    """
    graph = build(problem, limits=limits)
    ranking = folds.Ranking(graph)
    if not ranking.total:
        raise ValueError("the ruleset allows no line here; ‘rulekit whynot’ tells why")
    return st.integers(0, ranking.total - 1).map(lambda rank: problem.exercise(ranking.line(rank)))
