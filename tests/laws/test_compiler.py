"""The compiler against the plain meaning of rules: monitors fed moment by moment find what the whole shows."""

from random import Random

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rulekit.compiler.monitor import Monitor, monitors
from rulekit.diagnostics import RulekitError
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.timeline import moments
from rulekit.language.ruleset import Ruleset, load_text
from rulekit.marking import mark
from tests.laws.naive import Breach, breaches
from tests.laws.strategies import DEFINITIONS, exercises, rules, varied_exercises


def watched(monitor: Monitor, exercise: Exercise) -> list[Breach]:
    """What one monitor finds, its hits placed by counting samples."""
    state, count, found, doomed = monitor.start, 0, [], False
    for moment in moments(exercise):
        if not monitor.rule.whole and monitor.feed.of(moment) is not None:
            count += 1
        state, hits = monitor.step(state, moment)
        found += [(count, hit) for hit in hits]
        doomed = doomed or monitor.doomed(state)
    hash(state)
    found += [(count, hit) for hit in monitor.finish(state)]
    assert found or not doomed, "given up too early"
    return [
        Breach(
            monitor.rule.name,
            monitor.voices,
            None if hit.back is None else count - 1 - hit.back,
            None if hit.licence is None else monitor.rule.licences[hit.licence].reason,
        )
        for count, hit in found
    ]


def load(*texts: str) -> Ruleset:
    try:
        return load_text(DEFINITIONS + "\n".join(texts))
    except RulekitError:
        assume(False)
        raise


@settings(max_examples=300, deadline=None)
@given(rules("one"), st.lists(exercises(), max_size=2), st.integers(0, 2**32), st.booleans())
def test_monitors_find_what_the_whole_exercise_shows(
    text: str, tried: list[Exercise], seed: int, saturate: bool
) -> None:
    ruleset = load(text)
    for exercise in [*tried, *varied_exercises(Random(seed), 6)]:
        made = monitors(ruleset, exercise.setting, saturate)
        found = [breach for monitor in made for breach in watched(monitor, exercise)]
        assert len(found) == len(set(found))
        assert set(found) == breaches(ruleset.rules, exercise)
        assert len(mark(exercise, ruleset).findings) == len(found)


# ---- places where judging moment by moment is most easily wrong ------------------------------------

CASES = {
    "a departure across a rest": (
        "for every interval between each pair",
        "forbid departure from upper is falling step",
        "high D5/2 r C5/1\nlow E4/1 F4",
        [1],
    ),
    "a departure after all later intervals are gone": (
        "for every interval between each pair",
        "forbid departure from upper is step or next interval is P8",
        "high D5/2 r | r C5\nlow D4/2 r | F4 r",
        [1],
    ),
    "the note after an earlier one has begun already": (
        "for every move between each pair",
        "forbid note after previous upper is strong",
        "high D5/1 C5 B4\nlow D4 E4 G4",
        [2, 3],
    ),
    "the second note after": (
        "for every interval between each pair",
        "forbid pitch of note 2 after upper is pitch B4",
        "high D5/2 C5 B4 A4\nlow D4/1 E4",
        [1],
    ),
    "an interval that began above another bass": (
        "for every moment",
        "forbid some interval above bass is third",
        "high G4/1 G4\nmiddle E4/1 E4\nlow r/2 D4 | D4/1",
        [1],
    ),
    "every note but the new one is held": (
        "for every moment",
        "forbid some note in highest voice is held",
        "high G4/1 G4\nlow E4/2 E4 E4/1",
        [1],
    ),
    "nothing is said of the moment before the first": (
        "for every moment",
        "require previous it is crowded",
        "high G4/1 A4\nlow E4 E4",
        [],
    ),
    "a run of motions from downbeat to downbeat": (
        "for every interval between each pair taken on strong",
        "forbid run with same (motion) is 2",
        "high A4/2 B4 B4 C5 C5 D5\nlow D4/1 E4 F4",
        [3],
    ),
    "a run that remembers the one before last": (
        "for every note in lowest voice",
        "forbid run with same (span between note 2 before it and it) is 2",
        "high A4/1\nlow C4/2 D4 | E4 F4 | G4/1",
        [3],
    ),
    "a run across a rest begins anew": (
        "for every interval between each pair",
        "forbid run with same (previous interval) is at least 3",
        "high G4/2 G4 | G4 r | G4 G4 | G4 r\nlow E4/2 E4 | E4 E4 | E4 E4 | E4 E4",
        [],
    ),
    "a run of kept intervals": (
        "for every interval between each pair",
        "forbid run with same (previous interval) is at least 3",
        "high G4/2 G4 | G4 G4\nlow E4/2 E4 | E4 E4",
        [2],
    ),
    "the departure of a note on the downbeat": (
        "for every note in lowest voice taken on strong",
        "forbid departure is rising step",
        "high A4/1\nlow C4/2 E4 F4 G4",
        [2],
    ),
    "a share of moves leaves out the first interval": (
        "for every pair between each pair",
        "forbid share of moves where (motion is parallel) is 100%",
        "high A4/1 B4 C5\nlow F4 G4 A4",
        [None],
    ),
    "a run of moves leaves out the first interval": (
        "for every pair between each pair",
        "forbid longest run of moves where (interval is third) is at least 3",
        "high A4/1 B4 C5\nlow F4 G4 A4",
        [],
    ),
    "a number of intervals above the bass": (
        "for every exercise",
        "forbid number of intervals above bass where (interval is P4) is at least 1",
        "high G4/1 G4\nmiddle D4 D4\nlow B3 B3",
        [],
    ),
    "counts that only the end settles": (
        "for every line in lowest voice",
        "forbid number of notes where (departure is missing) is 1",
        "high A4/1\nlow C4/2 E4",
        [None],
    ),
    "the excuse named first comes first, even if it is settled later": (
        "for every note in highest voice",
        'excused when departure is step "left by step"\nexcused when it is first "first"\nforbid length is whole-note',
        "high A4/1 B4/2 C5\nlow E4/1 E4",
        [1],
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_a_case_is_judged_as_it_should_be(case: tuple[str, str, str, list[int | None]]) -> None:
    subject, clauses, notes, bars = case
    text = f'rule one\n"Broken."\n{subject}\n{clauses}\nfault\nsource "common practice"\n'
    ruleset = load_text(DEFINITIONS + text)
    (exercise,), problems = read_exercises(notes)
    assert not problems
    findings = mark(exercise, ruleset).findings
    assert [finding.bar for finding in findings] == bars
    assert {finding.excuse.reason for finding in findings if finding.excuse} <= {"left by step"}
    assert {b for m in monitors(ruleset, exercise.setting) for b in watched(m, exercise)} == breaches(
        ruleset.rules, exercise
    )
