"""The graph against plain enumeration: every choice of notes, each marked by itself."""

from collections import Counter
from fractions import Fraction
from itertools import accumulate

import pytest
from hypothesis import HealthCheck, given, settings

from rulekit.exercise.model import ALLA_BREVE, Setting
from rulekit.language.ruleset import Ruleset, load_text
from rulekit.music.pitch import pitch_of
from rulekit.solving import folds
from rulekit.solving.graph import build
from rulekit.solving.problem import Problem, Slot
from tests.solving.cases import D_DORIAN, allowed, pooled, problems, ruleset, written

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


def _mixed(rules: Ruleset) -> Problem:
    """Two free voices in crossing lengths round a cantus; the lowest voice changes while others are held."""

    def line(pitches: str, *lengths: int) -> tuple[Slot, ...]:
        choices = tuple(map(pitch_of, pitches.split()))
        onsets = accumulate(lengths, initial=0)
        return tuple(Slot(Fraction(at), Fraction(n), choices) for at, n in zip(onsets, lengths, strict=False))

    cantus = tuple(Slot(Fraction(4 * bar), Fraction(4), (pitch_of(n),)) for bar, n in enumerate(("G4", "D4", "D5")))
    setting = Setting(D_DORIAN, ALLA_BREVE, 3, 1, Fraction(12), (None,) * 3)
    lines = (line("D4 G4", 2, 4, 4, 2), cantus, line("D4 F4", 6, 2, 4))
    return Problem(rules, setting, ("upper", "cantus", "lower"), lines)


def test_the_bass_of_an_earlier_moment_is_remembered() -> None:
    holds_just_the_legal_lines(_mixed(ruleset(("bass-change", "fault"))))
    holds_just_the_legal_lines(_mixed(ruleset(("bass-change", "warning, 2 points"))))


@pytest.mark.parametrize("award", ["", ", at most 3", ", at most 4", ", once"])
@pytest.mark.parametrize("subject", ["note in each voice", "interval between each pair", "moment"])
def test_a_cap_holds_for_all_voices_together(subject: str, award: str) -> None:
    demand = {"note in each voice": "approach is leap", "interval between each pair": "interval is P8",
              "moment": "some interval between each pair is third"}[subject]  # fmt: skip
    rule = f'rule capped "Broken." for every {subject} forbid {demand} warning, 2 points{award} source "ours"'
    holds_just_the_legal_lines(_mixed(load_text(rule)))
