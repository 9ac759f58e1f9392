"""The compiler against the plain meaning of rules: monitors fed moment by moment find what the whole shows."""

from random import Random

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rulekit.compiler.monitor import Monitor, monitors
from rulekit.compiler.witness import Witness
from rulekit.diagnostics import RulekitError
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.timeline import moments
from rulekit.language import typed as t
from rulekit.language.loading import load_text
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from tests.laws.naive import Breach, Judge, breaches
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


@settings(max_examples=200, deadline=None)
@given(rules("one"), st.lists(exercises(), max_size=1), st.integers(0, 2**32))
def test_messages_and_explanations_see_what_the_whole_exercise_shows(
    text: str, tried: list[Exercise], seed: int
) -> None:
    """The values of placeholders and the truth of conditions, at every sample and not only where a rule is broken."""
    ruleset = load(text)
    for exercise in [*tried, *varied_exercises(Random(seed), 4)]:
        judge = Judge(exercise)
        for monitor in monitors(ruleset, exercise.setting):
            rule = monitor.rule
            values = [part.value for part in rule.message if isinstance(part, t.Slot)]
            values = [value for value in values if not isinstance(value, t.Ref)]
            tests = [rule.broken, *(licence.test for licence in rule.licences)]
            seen = Witness(monitor, [*values, *tests]).over(moments(exercise))
            assert seen == [
                (*(judge.value(value, here) for value in values), *(judge.truth(test, here) for test in tests))
                for here in judge.places(rule, monitor.voices)
            ]


def told(notes: str, subject: str, message: str, forbidden: str) -> list[str]:
    ruleset = load_text(f'rule one "{message}" {subject} forbid {forbidden} fault source "our own"\n')
    (exercise,), problems = read_exercises(notes)
    assert not problems
    return [finding.message for finding in mark(exercise, ruleset).findings]


LATER = "high A4/4 C5 B4 A4 B4/1\nlow F4/1 G4\n"


@pytest.mark.parametrize(
    ("subject", "message", "forbidden", "expected"),
    [
        ("for every note in highest voice taken on downbeats", "{it} is left by {departure} to {note after it}",
         "it is first", ["A4 is left by minor third to C5"]),
        ("for every sonority", "{note after bass} comes", "it is first", ["G4 comes"]),
        ("for every interval between each pair", "{note after upper}, {note 2 after upper}",
         "it is first", ["C5, B4"]),
        ("for every interval between each pair", "{departure from lower} to {note after lower}, {motion}",
         "it is last", ["Nothing to nothing, parallel"]),
        ("for every interval between each pair", "{it} in {bar}, next {bar + 1}", "it is first",
         ["Major third in 1, next 2"]),
        ("for every sonority", "{it}: {next sonority}", "it is first", ["Bar 1: bar 1"]),
        ("for every pair between each pair", "{it}: {upper}", "number-of-voices is 2", ["High and low: high"]),
    ],
)  # fmt: skip
def test_a_message_tells_values(subject: str, message: str, forbidden: str, expected: list[str]) -> None:
    assert told(LATER, subject, message, forbidden) == expected


def test_a_message_tells_the_note_after_while_the_other_voice_rests() -> None:
    """The law that was missing: placeholders are read as conditions are, wherever the next note begins."""
    notes = "high A4/2 B4/2 | C5/1\nlow F4/2 r/2 | E4/1\n"
    subject = "for every interval between each pair"
    assert told(notes, subject, "{note after upper}", "it is first") == ["B4"]


# ---- runs ----------------------------------------------------------------------------------------


def extents(forbidden: str, notes: str, licences: str = "") -> list[tuple[int | None, tuple[int, int] | None, str]]:
    ruleset = load_text(
        f'rule one "{{run where (interval is third)}} in a row" for every interval between each pair '
        f'forbid {forbidden} {licences} warning, 2 points source "our own"\n'
    )
    (exercise,), problems = read_exercises(notes)
    assert not problems
    marked = mark(exercise, ruleset)
    assert marked.lost == 2 * sum(finding.excuse is None for finding in marked.findings)
    return [(finding.bar, finding.extent, finding.message) for finding in marked.findings]


SEVEN = "high G4 E4 F4 G4 A4 B4 C5 D5 C5 C5\nlow C4 C4 D4 E4 F4 G4 A4 B4 C4 A4\n"


def test_a_run_is_told_once_with_its_extent() -> None:
    """The law that was missing: one thing gone wrong is one finding, however long it goes on."""
    assert extents("run where (interval is third) is more than 3", SEVEN) == [(5, (2, 8), "7 in a row")]
    assert extents("run where (interval is third) is at least 1", SEVEN) == [
        (2, (2, 8), "7 in a row"), (10, (10, 10), "1 in a row")
    ]  # fmt: skip
    assert len(extents("run where (interval is third) is 0", SEVEN)) == 2


def test_a_run_that_is_excused_at_first_is_told_where_it_is_not() -> None:
    licence = 'excused as early when upper is on the downbeat and bar is at most 6 "it is early"'
    found = extents("run where (interval is third) is more than 3", SEVEN, licence)
    assert found == [(5, (2, 6), "5 in a row"), (7, (2, 8), "7 in a row")]


def test_a_rule_that_looks_ahead_is_told_each_time() -> None:
    assert len(extents("run where (interval is third) is more than 3 and next interval is not missing", SEVEN)) == 4


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
        "forbid note after previous upper is on the downbeat",
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
        "for every sonority",
        "forbid some interval above bass is third",
        "high G4/1 G4\nmiddle E4/1 E4\nlow r/2 D4 | D4/1",
        [1],
    ),
    "every note but the new one is held": (
        "for every sonority",
        "forbid some note in highest voice is held",
        "high G4/1 G4\nlow E4/2 E4 E4/1",
        [1],
    ),
    "nothing is said of the moment before the first": (
        "for every sonority",
        "require previous sonority is crowded",
        "high G4/1 A4\nlow E4 E4",
        [],
    ),
    "a run of motions from downbeat to downbeat": (
        "for every interval between each pair taken on downbeats",
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
    "a pitch for the third time, wherever the others were": (
        "for every note in highest voice",
        "require number so far with same pitch is at most 2",
        "high A4/1 B4 A4 r A4 B4 A5\nlow D4/1 D4 D4 D4 D4 D4 D4",
        [5],
    ),
    "a pitch for the second time on downbeats": (
        "for every note in lowest voice taken on downbeats",
        "forbid number so far with same pitch is 2",
        "high A4/1 B4 A4\nlow D4/2 E4 E4 D4 D4 D4",
        [3],
    ),
    "a value that is not there is counted by nobody": (
        "for every note in highest voice",
        "forbid number so far with same approach is more than 1",
        "high A4/1 A4 B4 C5 D5\nlow D4/1 D4 D4 D4 D4",
        [5],
    ),
    "the departure of a note on the downbeat": (
        "for every note in lowest voice taken on downbeats",
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
        'excused as left when departure is step "left by step"\nexcused as first-note when it is first "first"\n'
        "forbid length is whole-note",
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


@pytest.mark.parametrize("seed", range(4))
def test_a_line_is_judged_by_what_sounds_in_all_voices(seed: int) -> None:
    """Found by the law above: what a sonority is looked up by is told by every voice, not by the line's own."""
    ruleset = load_text("""
        rule one "Broken" for every line in each voice
          when longest run of sonorities with same (approach of bass) is at least 2
          require number of notes is 3 fault source "our own"
    """)
    for exercise in varied_exercises(Random(seed), 12):
        assert len(mark(exercise, ruleset).findings) == len(breaches(ruleset.rules, exercise))
