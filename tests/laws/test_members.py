"""The members of a figure by number: what they are, and that each way to ask for them says the same."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rulekit.diagnostics import RulekitError
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.explaining import explain
from rulekit.language.loading import load_text
from rulekit.marking import mark
from tests.laws.strategies import exercises
from tests.laws.test_marking import outline

NAMES = """
define dissonance as second, fourth or seventh
define short as falling step then falling third then rising step
define cambiata for a note as it begins short and interval with cantus of note after it is dissonance
define turn as rising step then falling step
define either for a note as it begins turn or it begins falling third then step
define suspended for an interval as interval begins third then fourth
define row as third then fourth then third
define second-of for a note with f: figure as it is 2nd of f
parameter ornaments is a set of figure, usually cambiata or turn
parameter one is a figure, usually turn
"""
NOTE, PAIR = "for every note in each voice", "for every interval between each pair"
SAME = [
    (NOTE, "it is 1st of short", "it begins short"),
    (NOTE, "it is 2nd of short", "note before it begins short"),
    (NOTE, "it is 4th of short", "note 3 before it begins short"),
    (NOTE, "it is 4th of short", "it ends short"),
    (NOTE, "it is last of short", "it ends short"),
    (NOTE, "it is last but one of short", "note 2 before it begins short"),
    (NOTE, "it is 2nd from end of turn", "note before it begins turn"),
    (NOTE, "it is 2nd or 3rd of turn", "note before it begins turn or note 2 before it begins turn"),
    (NOTE, "it is not 2nd or 3rd of turn", "not (note before it begins turn or note 2 before it begins turn)"),
    (NOTE, "it is first, last or 2nd of turn", "it begins turn or it ends turn or it is 2nd of turn"),
    (NOTE, "it is 2nd of turn or last", "note before it begins turn or it is last"),
    (NOTE, "it is 2nd of cambiata", "note before it is cambiata"),
    (NOTE, "it is last of cambiata", "note 3 before it is cambiata"),
    (NOTE, "it begins either", "it is either"),
    (NOTE, "it ends either", "note 2 before it is either"),
    (NOTE, "note after it is 3rd of either", "note before it is either"),
    (NOTE, "it is 2nd of (rising step then falling step)", "it is 2nd of turn"),
    (NOTE, "it is 2nd of (turn or cambiata)", "it is 2nd of turn or it is 2nd of cambiata"),
    (NOTE, "it begins turn, short or leap", "it begins turn or it begins short or it begins leap"),
    (NOTE, "it begins ornaments", "it is cambiata or it begins turn"),
    (NOTE, "it ends ornaments", "it is last of cambiata or it ends turn"),
    (NOTE, "it is 2nd of ornaments", "it is 2nd of cambiata or it is 2nd of turn"),
    (NOTE, "it is 4th of ornaments", "it is 4th of cambiata"),
    (NOTE, "it is second-of(turn)", "it is 2nd of turn"),
    (NOTE, "it is second-of(ornaments)", "it is 2nd of ornaments"),
    (NOTE, "it is second-of(one)", "it is 2nd of turn"),
    (f"{NOTE} taken on downbeats", "it is 2nd of either", "note before it is either"),
    (f"{NOTE} at 2nd or 3rd of turn", "number-of-bars is less than 1000", "it is 2nd or 3rd of turn"),
    (PAIR, "upper is 2nd of cambiata", "note before upper is cambiata"),
    (PAIR, "note before upper is 3rd of short", "note 3 before upper begins short"),
    (PAIR, "it is 2nd of suspended", "previous interval is suspended"),
    (PAIR, "interval is 2nd of row", "previous interval begins row"),
    (PAIR, "interval is last of row", "interval ends row"),
    (PAIR, "interval is fifth or 2nd of row", "interval is fifth or previous interval begins row"),
]


def rules(subject: str, condition: str, more: str = "") -> str:
    """One rule that forbids something."""
    return f'{NAMES}{more}\nrule one "Broken." {subject} forbid {condition} fault source "common practice"\n'


def found(exercise: Exercise, text: str) -> list[object]:
    """What a ruleset finds."""
    return outline(mark(exercise, load_text(text)))


@pytest.mark.parametrize(("subject", "condition", "longhand"), SAME)
@settings(max_examples=12, deadline=None)
@given(st.lists(exercises(), min_size=3, max_size=3))
def test_a_member_is_so_many_notes_after_what_begins(
    subject: str, condition: str, longhand: str, tried: list[Exercise]
) -> None:
    whole = subject.split(" at ")[0]
    for exercise in tried:
        assert found(exercise, rules(subject, condition)) == found(exercise, rules(whole, longhand))
        unsure = found(exercise, rules(subject, f"not ({condition})"))
        assert " at " in subject or unsure == found(exercise, rules(whole, f"not ({longhand})"))


@pytest.mark.parametrize(
    ("condition", "beats"),
    [
        ("it is 1st of cambiata", [1]), ("it is 2nd of cambiata", [2]), ("it is 3rd of cambiata", [3]),
        ("it is 4th of cambiata", [4]), ("it is last of cambiata", [4]), ("it is 2nd or 3rd of ornaments", [2, 3]),
        ("it is not 2nd of cambiata", [1, 3, 4, 1]), ("it ends ornaments", [4]),
    ],
)  # fmt: skip
def test_the_members_of_a_cambiata(condition: str, beats: list[int]) -> None:
    """Common practice, no source: the second of its notes is a dissonance left by a third down."""
    ((exercise,), _) = read_exercises("time: 4/4\nupper D5/4 C5 A4 B4 C5/1\ncantus D4/1 A4")
    findings = mark(exercise, load_text(rules("for every note in counterpoint", condition))).findings
    assert [finding.beat for finding in findings] == beats


def test_a_figure_that_breaks_off_is_unknown_until_a_move_is_wrong() -> None:
    ((exercise,), _) = read_exercises("upper D5/2 E5\ncantus D4/1")
    last, first = ("for every note in counterpoint at last", "for every note in counterpoint at first")
    assert not found(exercise, rules(last, "it is 2nd of turn")) + found(exercise, rules(last, "it is not 2nd of turn"))
    assert not found(exercise, rules(first, "it is 2nd of short"))
    assert found(exercise, rules(first, "it is not 2nd of short"))


@pytest.mark.parametrize("value", ["turn", "short or either"])
def test_a_school_names_its_figures(value: str) -> None:
    ((exercise,), _) = read_exercises("upper D5/4 C5 A4 B4 A4 B4 A4 B4 C5/1\ncantus D4/1 D4 A4")
    chosen = load_text(rules("for every note", "it is 4th or 2nd of ornaments", f"set ornaments to {value}"))
    names = value.split(" or ")
    fourth = [f"it is 4th of {name}" for name in names if name == "short"]
    longhand = " or ".join([*fourth, *(f"it is 2nd of {name}" for name in names)])
    assert outline(mark(exercise, chosen)) == found(exercise, rules("for every note", longhand)) != []
    (parameter, _) = chosen.parameters
    assert parameter.type == "figure"


def test_an_explanation_says_which_figure_was_seen() -> None:
    ((exercise,), _) = read_exercises("time: 4/4\nupper D5/4 C5 A4 B4 C5/1\ncantus D4/1 A4")
    ruleset = load_text(rules("for every note in counterpoint", "it begins ornaments"))
    (first, *_others) = explain(exercise, ruleset, "one")
    (step,) = first.steps
    assert [(part.words, part.held) for part in step.parts] == [
        ("it begins short and interval with cantus of note after it is dissonance", True),
        ("rising step then falling step", False),
    ]


@pytest.mark.parametrize(
    "change", ["define round for a note as it begins ornaments\nset ornaments to round", "set one to nowhere"]
)
def test_a_figure_that_is_none_is_told(change: str) -> None:
    with pytest.raises(RulekitError):
        load_text(rules(NOTE, "it begins ornaments", change))
