"""The interval that a note makes with the cantus: what it is, and that every machine which runs rules knows it."""

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rulekit.compiler.monitor import monitors
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.explaining import explain
from rulekit.language.loading import load_text
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.pitch import Interval, interval_of
from tests.laws.naive import breaches
from tests.laws.strategies import DEFINITIONS, alike, exercises, varied_exercises
from tests.laws.test_compiler import watched
from tests.laws.test_marking import moved, outline
from tests.laws.test_rows import check

NOTE, LINE = "for every note in each voice", "for every line in each voice"
PAIR, EXERCISE = "for every interval between each pair", "for every exercise"
# Notes at every distance at which a rule can look, held ones, members of streams, and what sounds beside others.
ASKED = [
    (NOTE, "interval with cantus is third"),
    (NOTE, "interval with cantus is interval with cantus of note before it"),
    (NOTE, "interval with cantus of note 2 before it is sixth or third"),
    (NOTE, "interval with cantus of note 2 after it is wider than approach"),
    ("for every note in counterpoint", "interval with cantus is missing"),
    (NOTE, "it begins step and interval with cantus begins consonant then second"),
    (NOTE, "it ends leap and interval with cantus ends third then consonant"),
    (f"{NOTE} taken on downbeats", "interval with cantus of note 2 before it is perfect"),
    (f"{NOTE} taken off downbeats", "previous interval with cantus is consonant"),
    (f"{NOTE} taken on downbeats", "interval with cantus of note after it is not consonant"),
    (NOTE, "run where (interval with cantus is third or sixth) is 2"),
    (NOTE, "run with same (interval with cantus) is 2"),
    (NOTE, "number so far with same (size of interval with cantus) is 2"),
    (NOTE, "interval with cantus is (interval with cantus of note before it where last (it is harsh))"),
    (PAIR, "interval with cantus of upper is sixth"),
    (PAIR, "upper is harsh or lower is harsh"),
    (PAIR, "interval with cantus of note 2 before lower is interval with cantus of note before upper"),
    (PAIR, "interval with cantus of note after upper is third"),
    (PAIR, "interval with cantus of previous upper is not consonant"),
    (PAIR, "counterpoint begins step and interval with cantus of counterpoint begins third then third"),
    ("for every move between each pair taken on downbeats", "interval with cantus of note before upper is perfect"),
    ("for every sonority", "some note is met-by-a-third"),
    ("for every sonority", "every note is met-by-a-third and number-sounding is 3"),
    ("for every sonority", "interval with cantus of note before bass is consonant"),
    (LINE, "number of notes where (interval with cantus is third) is at least 2"),
    (LINE, "longest run of notes where (it is harsh) is 1"),
    (EXERCISE, "number of notes in counterpoint where (interval with cantus of note after it is third) is 1"),
    (EXERCISE, "share of notes in each voice where (note before it is met-by-a-third) is at least 20%"),
]
asked = pytest.mark.parametrize(("subject", "condition"), ASKED)


def ruleset(subject: str, condition: str, grade: str = "fault") -> Ruleset:
    """One rule that forbids something."""
    return load_text(
        f"{DEFINITIONS}\ndefine met-by-a-third for a note as interval with cantus is third\n"
        f'rule one "Broken." {subject} forbid {condition} {grade} source "common practice"\n'
    )


def read(notes: str) -> Exercise:
    """An exercise in the typed notation."""
    (exercise,), problems = read_exercises(notes)
    assert not problems
    return exercise


def told(notes: str, voice: str = "counterpoint", said: str = "{interval with cantus}") -> list[str]:
    """What a message tells at each note of a voice."""
    asked = "forbid number-of-bars is less than 1000"
    rules = load_text(f'rule one "{said}" for every note in {voice} {asked} fault source "ours"\n')
    return [finding.message for finding in mark(read(notes), rules).findings]


@pytest.mark.parametrize(
    ("notes", "expected"),
    [
        ("upper D5/4 C5 A4 B4 C5/1\ncantus D4/1 A4",  # against a note of the cantus that sounds on
         ["Octave", "Minor seventh", "Perfect fifth", "Major sixth", "Minor third"]),
        ("cantus D4/1 E4 D4\nlower D3/1 E4 F4", ["Octave", "Unison", "Minor third"]),  # from below; crossed
        ("upper A4/1 A4 A4\ncantus D4/1 r D4", ["Perfect fifth", "Nothing", "Perfect fifth"]),
        ("upper A4/1 A4 A4/2 B4\ncantus r/1 D4~ D4", ["Nothing", "Perfect fifth", "Perfect fifth", "Major sixth"]),
        ("upper r/2 A4~ A4 B4\ncantus D4/1 E4", ["Perfect fifth", "Perfect fifth"]),  # when it begins, not later
        ("upper F#5/1\ncantus D4/1", ["Major tenth"]),
    ],
)  # fmt: skip
def test_it_is_the_interval_with_what_the_cantus_sounds_when_the_note_begins(notes: str, expected: list[str]) -> None:
    assert told(notes) == expected


def test_a_note_of_the_cantus_makes_no_interval_with_it() -> None:
    assert told("upper A4/2 B4 C5/1\ncantus D4/1 A4", "cantus") == ["Nothing", "Nothing"]


def test_without_a_cantus_there_is_none() -> None:
    exercise = replace(read("upper A4/1 A4\nlower D4/1 C4"), cantus=None)
    assert len(mark(exercise, ruleset(NOTE, "interval with cantus is missing")).findings) == 4


def test_members_of_a_figure_are_asked_by_number() -> None:
    notes = "upper D5/4 C5 A4 B4 C5/1\ncantus D4/1 A4"
    said = "{interval with cantus of note 2 after it} on beat {beat of note 2 after it}, {length of note 4 after it}"
    assert told(notes, said=said)[0] == "Perfect fifth on beat 2, whole note"


def test_a_figure_of_a_note_that_a_definition_is_given_goes_on_from_that_note() -> None:
    rules = load_text(
        "define harsh-after for a note with other: note as interval with cantus of other begins octave then seventh\n"
        'rule one "{it}" for every note in counterpoint forbid it is harsh-after(note before it) fault source "ours"\n'
    )
    exercise = read("upper D5/4 D5 C5 D5 C5/1\ncantus D4/1 A4")
    assert [(finding.bar, finding.beat) for finding in mark(exercise, rules).findings] == [(1, 2)]


def test_an_explanation_shows_what_each_member_makes_with_the_cantus() -> None:
    rules = load_text(
        'rule cambiata "One." for every note in counterpoint forbid it begins falling step then falling third '
        "and interval with cantus begins octave then seventh then perfect fifth\n"
        'fault source "ours"\n'
    )
    (first, *_) = explain(read("upper D5/4 C5 A4 B4 C5/1\ncantus D4/1 A4"), rules, "cambiata")
    assert first.outcome == "broken"
    seen = [saw for step in first.steps for part in (step, *step.parts) for saw in part.saw]
    assert [value for words, value in seen if words == "interval with cantus"] == [
        "octave", "minor seventh", "perfect fifth"
    ]  # fmt: skip


@asked
@settings(max_examples=12, deadline=None)
@given(st.lists(exercises(), max_size=2), st.integers(0, 2**32), st.booleans())
def test_monitors_find_what_the_whole_exercise_shows(
    subject: str, condition: str, tried: list[Exercise], seed: int, saturate: bool
) -> None:
    rules = ruleset(subject, condition)
    for exercise in [*tried, *varied_exercises(Random(seed), 6)]:
        found = [hit for monitor in monitors(rules, exercise.setting, saturate) for hit in watched(monitor, exercise)]
        assert set(found) == breaches(rules.rules, exercise)


@asked
@settings(max_examples=6, deadline=None)
@given(st.integers(0, 2**32))
def test_rows_find_what_monitors_find(subject: str, condition: str, seed: int) -> None:
    rules, chance = ruleset(subject, condition), Random(seed)
    for exercise in [*varied_exercises(chance, 2), *alike(chance, 12), *alike(chance, 12)]:
        check(rules, exercise)


@asked
def test_each_is_broken_here_and_kept_there(subject: str, condition: str) -> None:
    chance = Random(1)
    found = {bool(breaches(ruleset(subject, condition).rules, each)) for each in varied_exercises(chance, 60)}
    assert found == {False, True}


@asked
@settings(max_examples=5, deadline=None)
@given(exercises(), st.sampled_from(["P8", "M2", "m3", "P5"]), st.booleans())
def test_it_goes_along_when_everything_is_moved(
    subject: str, condition: str, exercise: Exercise, name: str, down: bool
) -> None:
    rules, shift = ruleset(subject, condition), Interval(interval_of(name) * (-1 if down else 1))
    other = moved(exercise, shift, exercise.mode)
    assert outline(mark(exercise, rules)) == outline(mark(other, rules))


@settings(max_examples=60, deadline=None)
@given(exercises(), st.sampled_from(["third", "P5 or P8", "second or seventh", "unison"]))
def test_a_rule_on_notes_says_what_a_rule_on_intervals_says(exercise: Exercise, interval: str) -> None:
    notes = ruleset("for every note in counterpoint", f"interval with cantus is {interval}")
    pairs = ruleset(
        "for every interval between cantus and counterpoint", f"interval is {interval} and counterpoint is not held"
    )
    of_notes, of_pairs = (sorted((f.bar, f.beat) for f in mark(exercise, rules).findings) for rules in (notes, pairs))
    assert of_notes == of_pairs
