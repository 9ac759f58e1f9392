"""Rules as sentences: what they ask, and that no sign of the rule language is left in any."""

import re

import pytest

from rulekit.diagnostics import RulekitError
from rulekit.language.ruleset import load_ruleset, load_text
from rulekit.resources import shipped
from rulekit.sentences import sentence

_SHIPPED = sorted(path.stem for path in shipped("rulesets").glob("*.rules"))


def said(*clauses: str) -> str | None:
    lines = "\n".join(f"  {clause}" for clause in clauses)
    (rule,) = load_text(f'ruleset "one"\nrule it\n  "no"\n{lines}\n  source "no source"\n').rules
    return sentence(rule)


@pytest.mark.parametrize("name", _SHIPPED)
def test_no_sign_of_the_language_is_left(name: str) -> None:
    for rule in load_ruleset(name).rules:
        text = sentence(rule) or ""
        assert not re.search(r"[{}‹›<>=_]|[a-z]-[a-z]|  | None|\\d{4}", text), text
        assert not text or (text[0].isupper() and text.endswith("."))


@pytest.mark.parametrize(
    ("clauses", "expected"),
    [
        (["for every interval above bass", "forbid interval is P4 or m7 or M7", "fault"],
         "Between the lowest voice and every other, the interval must not be a perfect fourth or a seventh."),
        (["for every move between each pair", "when interval is P5", "require motion is contrary", "warning"],
         "Between any two voices, where the interval is a perfect fifth, the motion should be contrary."),
        (["for every interval between each pair", "at first", "require interval is P1, P5 or P8", "fault"],
         "Between any two voices at the beginning, the interval must be a unison, a perfect fifth or an octave."),
        (["for every note in counterpoint", "forbid approach is wider than P8", "fault"],
         "In the counterpoint, the note must not be reached by an interval wider than an octave."),
        (["for every note in counterpoint", "forbid run where (approach is step) is more than 2", "advice"],
         "In the counterpoint, the note should not be reached by a step more than twice in a row."),
        (["for every interval between each pair", "except at last", "when number-of-voices is 2",
          "forbid interval is P1", "fault"],
         "In two voices, between the voices except at the end, the interval must not be a unison."),
        (["for every interval between each pair", "forbid it is crossed", "fault"],
         "Between any two voices, the voices must not cross."),
        (["for every note in each voice", "require approach is m3, M3, P5 or rising m6", "fault"],
         "In every voice, the note must be reached by a third, a perfect fifth or a rising minor sixth."),
    ],
)  # fmt: skip
def test_a_rule_is_said(clauses: list[str], expected: str) -> None:
    assert said(*clauses) == expected


def test_an_authors_sentence_comes_first_and_follows_the_values_in_force() -> None:
    text = """ruleset "one"
parameter most is a count from 1 to 9, usually 3
parameter wide is an interval from P4 to P12, usually M10
rule it
  "no"
  taught "No more than {most} thirds, and nothing beyond {wide}."
  for every interval between each pair
  forbid run where (interval is third) is more than most or interval is wider than wide
  fault
  source "no source"
"""
    (rule,) = load_text(text).rules
    assert sentence(rule) == "No more than three thirds, and nothing beyond a major tenth."
    (other,) = load_text(f"{text}set most to 5\nset wide to P8\n").rules
    assert sentence(other) == "No more than five thirds, and nothing beyond an octave."


@pytest.mark.parametrize(
    ("taught", "column"), [('taught "A {interval} is wide."', 3), ('taught "One."\n  taught "Two."', 3)]
)
def test_a_sentence_stands_once_and_before_any_exercise(taught: str, column: int) -> None:
    with pytest.raises(RulekitError) as caught:
        said(taught, "for every interval between each pair", "forbid interval is P4", "fault")
    (problem,) = caught.value.diagnostics
    assert problem.column == column


@pytest.mark.parametrize("name", _SHIPPED)
def test_every_shipped_rule_has_a_sentence_that_a_student_reads(name: str) -> None:
    for rule in load_ruleset(name).rules:
        words = (sentence(rule) or "").split()
        assert 0 < len(words) <= 40, rule.name
