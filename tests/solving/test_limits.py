"""Searches that are too large end with a word about how far they came."""

import pytest

from rulekit.solving.graph import Exhausted, Limits, build
from tests.solving.cases import over, ruleset

_RULES = ruleset(("consonances", "fault"), ("range", "fault"), ("steps", "fault"), ("few-leaps", "fault"))
_CANTUS = "D4 F4 E4 D4 G4 F4 E4 D4"


@pytest.mark.parametrize(("limits", "which"), [(Limits(nodes=50), "nodes"), (Limits(seconds=1e-9), "time")])
def test_limits_end_a_search(limits: Limits, which: str) -> None:
    with pytest.raises(Exhausted, match=which) as caught:
        build(over(_RULES, _CANTUS, "D4", "D5"), limits=limits)
    assert 1 <= caught.value.reached < caught.value.total == 8


def test_a_node_limit_is_never_passed() -> None:
    seen: list[int] = []
    with pytest.raises(Exhausted):
        build(over(_RULES, _CANTUS, "D4", "D5"), limits=Limits(nodes=50), progress=lambda *told: seen.append(told[2]))
    assert all(nodes <= 50 for nodes in seen)


def test_ample_limits_change_nothing() -> None:
    problem = over(_RULES, _CANTUS, "D4", "D5")
    assert build(problem, limits=Limits(10**6, 60.0)).ends == build(problem).ends


def test_progress_counts_moments_and_nodes() -> None:
    told: list[tuple[int, int, int]] = []
    graph = build(over(_RULES, _CANTUS, "D4", "D5"), progress=lambda *now: told.append(now))
    assert [number for number, _, _ in told] == list(range(1, 9))
    assert {total for _, total, _ in told} == {8}
    assert told[-1][2] == sum(len(layer) for layer in graph.layers[1:])


def test_an_interruption_is_passed_on() -> None:
    def interrupt(number: int, *_: int) -> None:
        if number == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        build(over(_RULES, _CANTUS, "D4", "D5"), progress=interrupt)
