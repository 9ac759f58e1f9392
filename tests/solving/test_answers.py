"""What a teacher asks, against plain enumeration."""

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rulekit.exercise.model import ALLA_BREVE, Exercise
from rulekit.language.loading import load_text
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.pitch import Pitch, pitch_of, semitone, step
from rulekit.solving import answers
from rulekit.solving.folds import Line, best
from rulekit.solving.graph import Limits, build
from rulekit.solving.problem import Problem, fixed_line
from tests.solving.cases import D_DORIAN, POOL, allowed, every_line, over, pooled, problems, ruleset, voice

slow = settings(deadline=None, suppress_health_check=list(HealthCheck))


def keeping(problem: Problem, names: set[str]) -> Problem:
    """The problem with only these of its rules."""
    rules = tuple(rule for rule in problem.ruleset.rules if rule.name in names)
    return replace(problem, ruleset=replace(problem.ruleset, rules=rules))


# ---- the best lines ---------------------------------------------------------------------------------


_ADVICE = load_text("""
rule consonant "x" for every interval between each pair forbid interval is second, fourth or seventh fault source "y"
rule steps "x" for every note in counterpoint
  off the downbeat or on the downbeat forbid approach is leap warning, 2 points, at most 4
  source "y"
rule apart "x" for every interval between each pair forbid interval is wider than sixth advice source "y"
rule no-repeats "x" for every note in counterpoint forbid approach is repetition advice, once source "y"
rule summit "x" for every line in counterpoint require climax-count is 1 advice source "y"
""")


def test_of_lines_that_lose_as_much_those_with_less_advice_come_first() -> None:
    problem = over(_ADVICE, "D4 E4 D4", "D4", "D5")
    kept = ("steps", "apart", "no-repeats")  # not what looks at the whole line
    weights = {rule.name: rule.weight for rule in _ADVICE.rules}

    def cost(line: Line) -> tuple[int, int]:
        marked = mark(problem.exercise(line), _ADVICE)
        told = [f.rule for f in marked.findings if f.rule in kept and not weights[f.rule].points]
        return marked.lost, told.count("apart") + min(1, told.count("no-repeats"))

    lines = [line for line in every_line(problem) if not mark(problem.exercise(line), _ADVICE).faults]
    wanted = sorted((*cost(line), line) for line in lines)
    graph = build(problem, weigh=answers.gentlest)
    found = [(answers.points_of(paid), line) for paid, line in best(graph, len(lines) + 1)]
    assert len({(lost, advice) for lost, advice, _ in wanted}) > 4
    assert found == [(lost, line) for lost, _, line in wanted]


# ---- why not ---------------------------------------------------------------------------------------


@settings(slow, max_examples=12)
@given(problems(pooled))
def test_a_conflict_is_real_and_none_of_it_can_be_spared(problem: Problem) -> None:
    reason = answers.why_not(problem)
    if reason is None:
        assert allowed(problem)
        return
    conflict = set(reason.rules)
    assert not allowed(keeping(problem, conflict))
    for name in conflict:
        assert allowed(keeping(problem, conflict - {name}))


def test_a_conflict_names_the_given_notes() -> None:
    rules = ruleset(("consonances", "fault"), ("parallels", "fault"), ("climax", "fault"))
    problem = over(rules, "D4 E4 F4 D4", "G4", "D5")
    given = [pitch_of(note) for note in ("A4", "B4", "C5", "A4")]
    line = tuple(replace(slot, choices=(pitch,)) for slot, pitch in zip(problem.lines[0], given, strict=True))
    free = {(0, place): slot.choices for place, slot in enumerate(problem.lines[0])}
    reason = answers.why_not(replace(problem, lines=(line, problem.lines[1])), free)
    assert reason is not None
    assert reason.rules == ("parallels",)
    neighbours = [[(bar, given[bar - 1]), (bar + 1, given[bar])] for bar in (1, 2, 3)]
    assert [(note.bar, note.pitch) for note in reason.notes] in neighbours
    assert (reason.bar, reason.bars) == (2, 4)


# ---- comparing -------------------------------------------------------------------------------------


@settings(slow, max_examples=12)
@given(problems(pooled), pooled)
def test_two_rulesets_differ_by_the_differences_of_their_lines(problem: Problem, other: Ruleset) -> None:
    first, second = set(allowed(problem)), set(allowed(replace(problem, ruleset=other)))
    found = answers.compare(problem, other)
    assert (found.both, found.only_first, found.only_second) == (
        len(first & second), len(first - second), len(second - first),
    )  # fmt: skip
    for witness, yes, no in (
        (found.first_witness, problem.ruleset, other),
        (found.second_witness, other, problem.ruleset),
    ):
        if witness is not None:
            assert not mark(witness[0], yes).faults
            assert witness[1] in {finding.rule for finding in mark(witness[0], no).faults}
    assert (found.first_witness is None) == (not first - second)
    assert answers.at_least_as_strict([problem], other) == (first <= second)


def test_rules_that_differ_only_in_what_they_cost_differ() -> None:
    first = ruleset(("climax", "fault"), ("skips", "fault"), ("range", "fault"))
    second = ruleset(("climax", "fault"), ("skips", "warning"), ("turn", "fault"))
    assert answers.differing_rules(first, second) == (["range"], ["turn"], ["skips"])


# ---- audit -----------------------------------------------------------------------------------------


@settings(slow, max_examples=4)
@given(problems(st.just(ruleset(*((name, "fault") for name in ("consonances", "direct", "few-leaps"))))))
def test_a_rule_is_worth_the_lines_it_removes(problem: Problem) -> None:
    names = {rule.name for rule in problem.ruleset.rules}
    every = len(every_line(problem))
    left = len(allowed(problem))
    for worth in answers.audit([problem], problem.ruleset):
        alone = len(allowed(keeping(problem, {worth.rule})))
        others = len(allowed(keeping(problem, names - {worth.rule})))
        assert worth.alone == 1 - Fraction(alone, every)
        assert worth.last == (Fraction(others - left, others) if others else 0)


def test_conflicting_pairs_leave_no_line_together() -> None:
    rules = load_text(
        """
rule starts-low "Low." for every note in counterpoint at first require pitch is pitch D4 fault source "x"
rule starts-high "High." for every note in counterpoint at first require pitch is pitch A4 fault source "x"
rule consonant "No." for every interval require interval is P1 or P5 or P8 or third or sixth fault source "x"
rule never "Never." for every interval require interval is fifteenth fault source "x"
"""
    )
    problem = over(rules, "D4 E4 D4", "D4", "A4")
    assert list(answers.conflicts([problem], rules)) == [
        pair
        for pair in combinations(["starts-low", "starts-high", "consonant"], 2)
        if not allowed(keeping(problem, set(pair)))
    ]
    assert list(answers.conflicts([problem], rules)) == [("starts-low", "starts-high")]


# ---- mending ---------------------------------------------------------------------------------------


def exercise(upper: str, cantus: str) -> Exercise:
    return Exercise("tried", (voice("upper", upper), voice("cantus", cantus)), D_DORIAN, ALLA_BREVE, 1)


def distance(given: list[list[Pitch]], line: Line) -> tuple[int, int]:
    """How many notes differ, and how many steps in all; a mere alteration counts as one."""
    pairs = [pair for own, new in zip(given, line, strict=True) for pair in zip(own, new, strict=True)]
    moved = [abs(step(new) - step(old)) or int(semitone(new) != semitone(old)) for old, new in pairs]
    return sum(old != new for old, new in pairs), sum(moved)


_MENDING = [("consonances", "fault"), ("parallels", "fault"), ("direct", "fault"), ("no-unison", "fault"),
            ("two-earlier", "warning"), ("climax", "advice, 1 point"), ("few-leaps", "fault")]  # fmt: skip


@pytest.mark.parametrize(
    ("upper", "cantus"), [("A4 G4 D5", "D4 E4 D4"), ("A4 B4 A4", "D4 E4 D4"), ("D4 E4 C5", "D4 E4 F4")]
)
def test_a_mended_line_is_the_nearest(upper: str, cantus: str) -> None:
    rules, tried = ruleset(*_MENDING), exercise(upper, cantus)
    problem = answers.problem_of(tried, rules)
    given = [[slot.choices[0] for slot in fixed_line(each)] for each in tried.voices]
    found = answers.mend(tried, rules, 3)
    far = distance(given, fixed(found[-1].exercise))[0]
    near = [line for line in every_line(problem) if distance(given, line)[0] <= far]
    legal = sorted(distance(given, line) for line in near if not mark(problem.exercise(line), rules).faults)
    assert [(len(m.edits), m.distance) for m in found] == legal[:3]
    for mended in found:
        assert not mark(mended.exercise, rules).faults
        changes = [(edit.bar, edit.old, edit.new) for edit in mended.edits]
        assert changes == [
            (bar, old, new)
            for bar, (old, new) in enumerate(zip(given[0], fixed(mended.exercise)[0], strict=True), 1)
            if old != new
        ]


def fixed(exercise: Exercise) -> Line:
    return tuple(tuple(slot.choices[0] for slot in fixed_line(each)) for each in exercise.voices)


def test_a_legal_line_needs_no_mending() -> None:
    rules = ruleset(("consonances", "fault"), ("parallels", "fault"))
    found = answers.mend(exercise("A4 G4 A4", "D4 E4 F4"), rules, 1)
    assert [(m.edits, m.distance) for m in found] == [((), 0)]


def test_the_best_single_change_is_the_best_of_all() -> None:
    rules, tried = ruleset(*_MENDING), exercise("A4 B4 D5 A4", "D4 E4 F4 D4")
    problem, given = answers.problem_of(tried, rules), fixed(tried)
    lost = [
        mark(problem.exercise(((*given[0][:place], pitch, *given[0][place + 1 :]), given[1])), rules).lost
        for place, slot in enumerate(problem.lines[0])
        for pitch in slot.choices
    ]
    found = answers.best_single_change(tried, rules)
    assert found is not None
    assert found[1] == min(lost) < mark(tried, rules).lost


def test_alternatives_are_marked_each_by_itself_and_counted_over_all_lines() -> None:
    rules, tried = ruleset(*_MENDING), exercise("A4 B4", "D4 E4")
    search, own = answers.problem_of(tried, rules), fixed(tried)
    now = {(fault.rule, fault.bar) for fault in mark(tried, rules).faults}
    legal = allowed(search)
    found, counted = list(answers.alternatives(tried, rules)), answers.passing(search, Limits())
    assert [(each.voice, each.slot, each.own) for each in found] == [(0, i, own[0][i]) for i in range(2)]
    for each in found:
        for choice in each.choices:
            line = (*own[0][: each.slot], choice.pitch, *own[0][each.slot + 1 :])
            marked = mark(search.exercise((line, own[1])), rules)
            assert [fault.rule for fault in choice.faults] == [fault.rule for fault in marked.faults]
            assert choice.lost == marked.lost
            assert {(fault.rule, fault.bar) for fault in choice.new} >= {
                (fault.rule, fault.bar) for fault in marked.faults
            } - now
            assert (choice.pitch in each.good) == (not marked.faults)
        through = Counter(line[0][each.slot] for line in legal)
        assert counted is not None and counted[each.voice][each.slot] == through


def test_the_pool_is_a_ruleset() -> None:
    assert len(ruleset(*((name, "fault") for name in POOL)).rules) == len(POOL)
