"""Rules as sentences: what they ask, and that no sign of the rule language is left in any."""

import re

import pytest

from rulekit.diagnostics import RulekitError
from rulekit.language.loading import load_ruleset, load_text
from rulekit.language.typed import Rule
from rulekit.resources import shipped
from rulekit.sentences import GROUPS, group_of, sentence
from rulekit.words import Spoken, words

_SHIPPED = sorted(path.stem for path in shipped("rulesets").glob("*.rules"))


def said(*clauses: str, language: str = "en") -> str | None:
    lines = "\n".join(f"  {clause}" for clause in clauses)
    (rule,) = load_text(f'ruleset "one"\nrule it\n  "no"\n{lines}\n  source "no source"\n').rules
    return told(rule, language)


def told(rule: Rule, language: str = "en") -> str | None:
    """The sentence of a rule, made in that language."""
    found = sentence(rule, words(language))
    assert found is None or found.language == language
    return found and found.text


@pytest.mark.parametrize("name", _SHIPPED)
def test_no_sign_of_the_language_is_left(name: str) -> None:
    for rule in load_ruleset(name).rules:
        text = told(rule) or ""
        assert not re.search(r"[{}‹›<>=_]|[a-z]-[a-z]|  | None|\\d{4}", text), text
        assert not text or (text[0].isupper() and text.endswith("."))


@pytest.mark.parametrize(
    ("clauses", "expected"),
    [
        (["for every interval above bass", "forbid interval is P4 or m7 or M7", "fault"],
         "Between the lowest voice and every other, the interval must not be a perfect fourth or a seventh."),
        (["for every move between each pair", "when interval is P5", "require motion is contrary", "warning"],
         "Between any two voices, where the interval is a perfect fifth, the voices should move in contrary motion."),
        (["for every interval between each pair", "at first", "require interval is P1, P5 or P8", "fault"],
         "Between any two voices, the first interval must be a unison, a perfect fifth or an octave."),
        (["for every note in counterpoint", "forbid approach is wider than P8", "fault"],
         "In the counterpoint, a note must not be reached by an interval wider than an octave."),
        (["for every note in counterpoint", "forbid run where (approach is step) is more than 2", "advice"],
         "In the counterpoint, three steps should not follow each other."),
        (["for every interval between each pair", "except at last", "when number-of-voices is 2",
          "forbid interval is P1", "fault"],
         "In two voices, the interval must not be a unison, except at the end."),
        (["for every interval between each pair", "forbid it is crossed", "fault"],
         "The voices must not cross."),
        (["for every note in counterpoint", "require interval with cantus is third or sixth", "fault"],
         "In the counterpoint, the interval of each note with the cantus must be a third or a sixth."),
        (["for every note in counterpoint", "when interval with cantus of note before it is P5",
          "forbid interval with cantus is P5", "warning"],
         "In the counterpoint, where the interval of the note before it with the cantus is a perfect fifth, "
         "the interval of a note with the cantus should not be a perfect fifth."),
        (["for every note in counterpoint", "forbid run where (interval with cantus is third) is more than 3", "fault"],
         "In the counterpoint, four thirds with the cantus must not follow each other."),
        (["for every note in each voice", "require approach is m3, M3, P5 or rising m6", "fault"],
         "In every voice, each note must be reached by a third, a perfect fifth or a rising minor sixth."),
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
    assert told(rule) == "No more than three thirds, and nothing beyond a major tenth."
    (other,) = load_text(f"{text}set most to 5\nset wide to P8\n").rules
    assert told(other) == "No more than five thirds, and nothing beyond an octave."


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
        assert 0 < len((told(rule) or "").split()) <= 40, rule.name


_IN_BOTH = set("a b d f an cantus firmus form in so".split())  # names of notes, and words of both languages


def test_german_sentences_are_german_to_the_last_word() -> None:
    """Every shipped rule has one, and none of its words is one of any English sentence."""
    rules = [rule for name in _SHIPPED for rule in load_ruleset(name).rules]
    english, german = ({word for rule in rules for word in said_words(rule, each)} for each in ("en", "de"))
    assert german & english <= _IN_BOTH


def said_words(rule: Rule, language: str) -> list[str]:
    return re.findall(r"[^\W\d_]+", (told(rule, language) or "").lower())


@pytest.mark.parametrize(
    ("clauses", "expected"),
    [
        (["for every interval above bass", "forbid interval is P4 or m7", "fault"],
         "Zwischen der tiefsten Stimme und jeder anderen "
         "darf das Intervall keine reine Quarte und keine kleine Septime sein."),
        (["for every move between each pair", "when interval is P5", "require motion is contrary", "warning"],
         "Wenn zwischen je zwei Stimmen das Intervall eine reine Quinte ist, "
         "sollen die Stimmen in Gegenbewegung gehen."),
        (["for every note in counterpoint", "forbid run where (approach is step) is more than 2", "advice"],
         "Im Kontrapunkt sollen nicht drei Schritte aufeinander folgen."),
        (["for every interval between each pair", "except at last", "when number-of-voices is 3",
          "forbid interval is P1", "fault"],
         "Im dreistimmigen Satz darf das Intervall kein Einklang sein, außer am Schluss."),
        (["for every interval between outer voices", "forbid it is crossed", "fault"],
         "Die Außenstimmen dürfen sich nicht kreuzen."),
        (["for every note in each voice", "when departure is leap", "require length of it is half-note", "fault"],
         "Wenn in jeder Stimme der folgende Ton durch einen Sprung erreicht wird, "
         "muss die Länge jedes Tons eine Halbe sein."),
        (["for every note in counterpoint", "forbid interval with cantus is second", "fault"],
         "Im Kontrapunkt darf das Intervall eines Tons mit dem Cantus firmus keine Sekunde sein."),
    ],
)  # fmt: skip
def test_a_rule_is_said_in_german(clauses: list[str], expected: str) -> None:
    assert said(*clauses, language="de") == expected


@pytest.mark.parametrize(
    ("condition", "group"),
    [
        ("approach is leap", "Each line by itself"),
        ("interval with cantus is second", "What sounds together"),
        ("interval with cantus of note before it is second", "How the voices move together"),
    ],
)
def test_a_rule_on_notes_is_told_among_those_on_the_same_matter(condition: str, group: str) -> None:
    text = f'rule it "no" for every note in counterpoint forbid {condition} fault source "no source"\n'
    (rule,) = load_text(text).rules
    assert GROUPS[group_of(rule)] == group


def test_what_some_note_is_otherwise_than_by_an_adjective_is_not_said_of_each() -> None:
    definition = "define met for a note as interval with cantus is third"
    text = f'{definition} rule it "no" for every sonority require some note is met fault source "no source"\n'
    (rule,) = load_text(text).rules
    assert sentence(rule) is None


def test_what_has_no_german_words_is_said_in_english(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("rulekit.sentences.saying._LINES", {"counterpoint": "in the new line"})
    text = 'ruleset "one"\nrule it\n  "no"\n  for every note in counterpoint\n  forbid approach is leap\n  fault\n'
    (rule,) = load_text(f'{text}  source "no source"\n').rules
    found = sentence(rule, words("de"))
    assert found and found.language == "en" and "in the new line, a note" in found.text.lower()


def test_a_teachers_own_sentence_stands_as_it_is() -> None:
    text = 'ruleset "one"\nrule it\n  "no"\n  taught "Keine Quarten."\n  for every interval between each pair\n'
    (rule,) = load_text(f'{text}  forbid interval is P4\n  fault\n  source "no source"\n').rules
    assert sentence(rule, words("de")) == Spoken("Keine Quarten.", "")
