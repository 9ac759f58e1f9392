"""The rhythms that a ruleset's own rules allow, against all rows of its bars that the marker accepts."""

from itertools import pairwise, product
from random import Random

import pytest

from rulekit.exercise.model import ALLA_BREVE, Event, Exercise, Voice
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_text
from rulekit.marking import mark
from rulekit.music.mode import mode_of
from rulekit.music.pitch import pitch_of
from rulekit.solving.folds import count, lines
from rulekit.solving.graph import build
from rulekit.solving.rhythms import events, stock
from rulekit.solving.sketch import Wish, compass_of, searches

RULES = load_text("""
define two-halves as half-note then half-note
define begins-late as half-rest then half-note
define tied-over as half-note then tied-half-note

rule halves "{rhythm}" for every note in moving voice at first-in-bar except at last
  require rhythm is two-halves, begins-late or tied-over fault source "common practice"
rule late-only-once "{rhythm}" for every note in moving voice at first-in-bar except in bar 1
  forbid rhythm is begins-late fault source "common practice"
rule whole "{rhythm}" for every note in moving voice in last bar require rhythm is whole-note
  fault source "common practice"
rule rather-tied "{rhythm}" for every note in moving voice at first-in-bar
  forbid rhythm is two-halves warning, 2 points source "common practice"
rule agree "{interval}" for every interval between each pair on the downbeat
  forbid interval is second, fourth or seventh fault source "common practice"
""")
C5 = pitch_of("C5")


def written(rhythm: tuple, bars: int) -> Exercise:
    sung = tuple(Event(C5 if e.open else None, e.length, e.tie) for e in events(rhythm))
    cantus = Voice("cantus", (Event(pitch_of("C4"), ALLA_BREVE.bar_length),) * bars)
    return Exercise("", (Voice("upper", sung), cantus), mode_of("C"), ALLA_BREVE, 1)


@pytest.mark.parametrize("bars", [2, 3, 4])
def test_the_rhythms_are_those_that_the_marker_accepts(bars: int) -> None:
    found = stock(RULES)
    assert found is not None
    rows = list(found.rhythms(bars, ALLA_BREVE))
    every = {
        row
        for row in product(found.bars, repeat=bars)
        if not row[-1].tied
        and not any(a.tied and b.values[0] < 0 for a, b in pairwise(row))
        and not mark(written(row, bars), RULES).faults
    }
    assert set(rows) == every and len(rows) == len(every)
    lost = [mark(written(row, bars), RULES).lost for row in rows]
    assert lost == sorted(lost)


def test_searches_in_every_rhythm_give_what_the_marker_accepts_and_need_no_word() -> None:
    (sketch,), _ = read_exercises("mode: C\ncantus C4 D4 C4")
    wish = Wish(compass=compass_of("C5-E5"), altered=False)
    problems = list(searches(sketch, RULES, wish))
    assert all(problem.rhythm for problem in problems)
    for problem in problems:
        graph = build(problem)
        members = [problem.exercise(line) for line in lines(graph)]
        assert len(members) == count(graph)
        choices = product(*[slot.choices for slot in problem.lines[0]])
        accepted = [p for p in choices if not mark(problem.exercise([p, *given(problem.lines[1:])]), RULES).faults]
        assert len(accepted) == len(members)


def given(lines: tuple) -> list[list]:
    return [[slot.choices[0] for slot in line] for line in lines]


def test_a_ruleset_without_rules_on_rhythm_has_no_stock() -> None:
    assert stock(load_text('rule final "x" for every note in cantus require degree is 1 fault source "y"')) is None


def test_the_search_for_a_rhythm_can_be_stopped() -> None:
    """The law: whatever takes long looks at the clock."""
    found = stock(RULES)
    assert found is not None
    looked: list[int] = []
    next(found.rhythms(4, ALLA_BREVE, lambda: looked.append(1)))
    assert len(looked) >= 4
    (sketch,), _ = read_exercises("mode: C\ncantus C4 D4 E4 C4")

    def stop() -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        next(searches(sketch, RULES, Wish(), stop))


@pytest.mark.parametrize("seed", range(5))
def test_what_is_drawn_is_one_of_the_best_and_what_is_near_differs_in_one_bar(seed: int) -> None:
    found = stock(RULES)
    assert found is not None
    best, *others = found.rhythms(4, ALLA_BREVE)
    drawn = next(found.rhythms(4, ALLA_BREVE, random=Random(seed)))
    assert mark(written(drawn, 4), RULES).lost == mark(written(best, 4), RULES).lost
    near = found.near(best, ALLA_BREVE)
    apart = {row: sum(a != b for a, b in zip(row, best, strict=True)) for row in others}
    assert near and set(near) == {row for row, bars in apart.items() if bars == 1}
