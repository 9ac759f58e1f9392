"""The graph against plain enumeration: every choice of notes, each marked by itself."""

from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rulekit.exercise.model import ALLA_BREVE, Event, Exercise, Voice
from rulekit.exercise.notation import read_exercises, write_exercise
from rulekit.language.loading import load_text
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.pitch import pitch_of
from rulekit.solving import folds
from rulekit.solving.graph import build
from rulekit.solving.problem import Problem, as_given, problem
from tests.laws import test_with_cantus as with_cantus
from tests.laws.strategies import exercises
from tests.solving.cases import D_DORIAN, allowed, grades, membership, over, pooled, problems, ruleset, voice, written

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
    assert [paid for paid, _ in best] == sorted(expected.values())[:3]
    assert all(expected[line] == paid for paid, line in best)


@settings(slow, max_examples=25)
@given(problems(pooled))
def test_rules_of_every_kind(problem: Problem) -> None:
    holds_just_the_legal_lines(problem)


@settings(slow, max_examples=25)
@given(problems(written()))
def test_rules_written_at_random(problem: Problem) -> None:
    holds_just_the_legal_lines(problem)


@settings(slow, max_examples=40)
@given(written(), exercises())
def test_an_exercise_is_in_its_own_space_just_if_it_has_no_fault(rules: Ruleset, exercise: Exercise) -> None:
    """Ties and rests included: what a rule reads of a note must be the same in a search."""
    result = mark(exercise, rules)
    costed = build(membership(rules, exercise), costed=True)
    assert folds.count_by_cost(costed) == ({} if result.faults else {result.lost: 1})


@with_cantus.asked
@settings(slow, max_examples=15)
@given(exercise=exercises(), grade=grades)
def test_what_notes_make_with_the_cantus_is_known_in_a_search(
    subject: str, condition: str, exercise: Exercise, grade: str
) -> None:
    rules = with_cantus.ruleset(subject, condition, grade)
    result = mark(exercise, rules)
    costed = build(membership(rules, exercise), costed=True)
    assert folds.count_by_cost(costed) == ({} if result.faults else {result.lost: 1})


@with_cantus.asked
@settings(slow, max_examples=4)
@given(grade=grades, data=st.data())
def test_a_cantus_that_is_still_to_be_found_is_known_to_the_notes_over_it(
    subject: str, condition: str, grade: str, data: st.DataObject
) -> None:
    """It moves faster than the voice over it and slower than the one under it, so that much of it has to be known."""
    lengths = {"upper": (4, 8), "cantus": (-1, 1, 2, 2, 4, 2), "lower": (1, 1, 1, 3, 2, 4)}

    def open_(name: str) -> Voice:
        return Voice(name, tuple(Event(None, Fraction(abs(n)), open=n > 0) for n in lengths[name]))

    pitches = st.sampled_from([pitch_of(name) for name in "C4 D4 E4 F4 G4 A4".split()])
    voices = tuple(map(open_, lengths))
    near = [data.draw(st.lists(pitches, min_size=n, max_size=n, unique=True)) for n in (2, 2, 1)]
    rules = with_cantus.ruleset(subject, condition, grade)
    sketch = Exercise("", voices, D_DORIAN, ALLA_BREVE, 1)
    holds_just_the_legal_lines(problem(rules, sketch, lambda number, _: near[number]))


_STEPWISE = "approach to {0} is step and departure from {0} is step"
_CAMBIATA = "note before {0} begins falling step then falling third then rising step"
_SAID = f"require it is off the downbeat and (({_STEPWISE}) or ({_CAMBIATA} and {{1}} is sweet and {{2}} is sweet))"


def test_a_rule_on_notes_leaves_the_lines_that_the_same_rule_on_intervals_leaves() -> None:
    """In quarters: a dissonance is taken and left by step, or is the second of a cambiata."""
    near, on_it = "interval with cantus of note {} it", "for every note in counterpoint when interval with cantus"
    notes = f"{on_it} is harsh {_SAID.format('it', near.format('before'), near.format('after'))}"
    said = _SAID.format("counterpoint", "previous interval", "next interval")
    pairs = f"for every interval between cantus and counterpoint when interval is harsh {said}"
    common = (
        "define sweet as P1, P5, P8, third or sixth define harsh as second, fourth or seventh "
        'rule small "No." for every note in counterpoint forbid approach is wider than third fault source "ours" '
    )
    found = [
        folds.count(build(over(load_text(f'{common}rule one "No." {rule} fault source "ours"'), "D4 F4 E4 D4", "D4",
                               "F5", species=3)))
        for rule in (notes, pairs)
    ]  # fmt: skip
    assert found[0] == found[1] > 0


@given(exercises())
def test_what_a_search_writes_is_written_as_it_was_given(exercise: Exercise) -> None:
    """Rests, ties and lengths included; only a tie that joins nothing is left out."""
    own = membership(load_text(""), exercise)
    written = own.exercise([[slot.choices[0] for slot in line] for line in own.lines])
    assert [[(e.pitch, e.length) for e in v.events] for v in written.voices] == [
        [(e.pitch, e.length) for e in v.events] for v in exercise.voices
    ]
    assert membership(load_text(""), written).lines == own.lines
    (read,), problems = read_exercises(write_exercise(replace(written, title="ours")))
    assert not problems
    assert membership(load_text(""), read).lines == own.lines


def _mixed(rules: Ruleset) -> Problem:
    """Two free voices in crossing lengths round a cantus; the lowest voice changes while others are held."""

    choices = {"upper": "D4 G4", "lower": "D4 F4"}

    def open_(name: str, *lengths: int) -> Voice:
        return Voice(name, tuple(Event(None, Fraction(n), open=True) for n in lengths))

    cantus = voice("cantus", "G4 D4 D5")
    voices = (open_("upper", 2, 4, 4, 2), cantus, open_("lower", 6, 2, 4))
    sketch = Exercise("", voices, D_DORIAN, ALLA_BREVE, 1)
    near = {name: tuple(map(pitch_of, pitches.split())) for name, pitches in choices.items()}
    return problem(rules, sketch, lambda number, event: as_given(event) or near[voices[number].name])


def test_the_bass_of_an_earlier_moment_is_remembered() -> None:
    holds_just_the_legal_lines(_mixed(ruleset(("bass-change", "fault"))))
    holds_just_the_legal_lines(_mixed(ruleset(("bass-change", "warning, 2 points"))))


@pytest.mark.parametrize("award", ["", ", at most 3", ", at most 4", ", once"])
@pytest.mark.parametrize("subject", ["note in each voice", "interval between each pair", "sonority"])
def test_a_cap_holds_for_all_voices_together(subject: str, award: str) -> None:
    demand = {"note in each voice": "approach is leap", "interval between each pair": "interval is P8",
              "sonority": "some interval between each pair is third"}[subject]  # fmt: skip
    rule = f'rule capped "Broken." for every {subject} forbid {demand} warning, 2 points{award} source "ours"'
    holds_just_the_legal_lines(_mixed(load_text(rule)))
