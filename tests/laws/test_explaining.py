"""Explanations say what marking does, in the author's words, with what each condition saw."""

from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.explaining import Explained, Step, explain
from rulekit.language.loading import load_text
from rulekit.marking import mark
from rulekit.show.reasons import near_words, reason, sentences, step_words
from tests.laws.strategies import exercises, rules, varied_exercises
from tests.laws.test_compiler import load

NEARLY = """
rule leaps
  "{approach} is a leap."
  for every note in highest voice
  when not it is first and approach is wider   -- however far
    than third
  require departure is step or departure is
    missing
  excused as low when it is low-one "it is low"
  excused as late when it is last and it is low-one "it is late"
  fault
  source "our own"
define low-one for a note as pitch of it is lower than pitch A4
"""


@settings(max_examples=100, deadline=None)
@given(rules("one"), st.lists(exercises(), max_size=1), st.integers(0, 2**32))
def test_an_explanation_agrees_with_marking(text: str, tried: list[Exercise], seed: int) -> None:
    ruleset = load(text)
    for exercise in [*tried, *varied_exercises(Random(seed), 3)]:
        explained = explain(exercise, ruleset, "one")
        findings = mark(exercise, ruleset).findings
        found = sorted((f.bar or 0, f.beat or 0, f.voices, f.excuse is not None) for f in findings)
        assert found == sorted(
            (e.bar or 0, e.beat or 0, e.voices, e.outcome == "excused")
            for e in explained
            if e.outcome in ("broken", "excused")
        )
        for each in explained:
            broken = all(step.breaks for step in each.steps)
            assert broken == (each.outcome in ("broken", "excused"))
            assert all(words and "--" not in words for words in (reason(each), *sentences(each), *written(each)))
            assert "the rule's own condition" not in " ".join(written(each))


def written(each: Explained) -> list[str]:
    """All words of an explanation that should be the author's."""

    def words(step: Step) -> list[str]:
        return [step.words, *(word for part in step.parts for word in words(part))]

    return [word for step in (*each.steps, *(tried.step for tried in each.licences)) for word in words(step)]


def explained(notes: str, bar: int) -> Explained:
    (exercise,), problems = read_exercises(notes)
    assert not problems
    (found,) = explain(exercise, load_text(NEARLY), "leaps", bar)
    return found


def test_a_broken_rule_says_what_each_condition_saw() -> None:
    found = explained("high A4 E5 G5\nlow D4 D4 D4\n", 2)
    assert found.outcome == "broken"
    assert [step_words(step) for step in found.steps] == [
        "‘not it is first and approach is wider than third’ held: bar was 2, approach was perfect fifth",
        "the required ‘departure is step or departure is missing’ did not hold: departure was minor third",
    ]
    assert found.nearest is not None
    assert near_words(found.nearest) == ("nearly excused as low: ‘it is low-one’ did not hold: pitch of it was E5")


def test_a_rule_that_is_kept_says_why() -> None:
    found = explained("high A4 C5 F5\nlow D4 D4 D4\n", 2)
    assert (found.outcome, reason(found)) == (
        "kept", "‘not it is first and approach is wider than third’ did not hold: approach was minor third"
    )  # fmt: skip


def test_a_finding_tells_the_licence_that_nearly_applied() -> None:
    (exercise,), _ = read_exercises("high A4 E5 G5 C5\nlow D4 D4 D4 D4\n")
    first, *_ = mark(exercise, load_text(NEARLY)).findings
    assert first.nearest is not None and first.nearest.name == "low"


def test_the_words_are_the_authors_whatever_signs_stand_before_them() -> None:
    """The law: only the end of a line ends a line, in a comment too."""
    odd = "-- a\x0bb\x0cc\x85d\u2028e\u2029f\x1cg\n"
    (exercise,), _ = read_exercises("high A4 E5 G5\nlow D4 D4 D4\n")
    (found,) = explain(exercise, load_text(odd + NEARLY), "leaps", 2)
    assert found.steps == explained("high A4 E5 G5\nlow D4 D4 D4\n", 2).steps


def test_an_excused_place_names_its_licence() -> None:
    found = explained("high A4 D4 G4\nlow C4 C4 C4\n", 2)
    assert (found.outcome, found.licence, found.nearest) == ("excused", "low", None)


def test_where_a_rule_does_not_look_it_is_told_what_leaves_the_place_out() -> None:
    rules = load_text("""
        parameter widest is an interval, usually A4
        define rising-step for a note as approach is step and direction of approach is up
        rule r "x" for every note in counterpoint except at last
          forbid it is rising-step or approach is wider than widest fault source "our own"
    """)
    (exercise,), _ = read_exercises("high A4 E5 F5\nlow D4 D4 D4\n")
    (last,) = explain(exercise, rules, "r", 3)
    assert last.outcome == "passed over"
    assert list(sentences(last)) == ["‘except at last’ did not hold: bar was 3"]
    (leap,) = explain(exercise, rules, "r", 2)
    assert list(sentences(leap)) == [
        "‘it is rising-step or approach is wider than widest’ held: approach was perfect fifth, "
        "widest was augmented fourth"
    ]
    (step,) = explain(read_exercises("high A4 B4 F5\nlow D4 D4 D4\n")[0][0], rules, "r", 2)
    assert list(sentences(step)) == [
        "‘it is rising-step or approach is wider than widest’ held: ‘approach is step’ held: "
        "approach was major second, "
        "‘direction of approach is up’ held: direction of approach was up"
    ]
