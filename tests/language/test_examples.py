"""Examples as judged by the rules in force: overturned ones, licences, and those that test nothing."""

from pathlib import Path

import pytest

from rulekit.diagnostics import RulekitError
from rulekit.language.library import shipped_names
from rulekit.language.loading import load_ruleset, load_text
from rulekit.language.ruleset import Ruleset
from rulekit.show.handout import handout
from rulekit.trying import Trial, try_ruleset

BASE = """\
ruleset "Base"
parameter most is a count, usually 1
rule no-thirds
  "{run where (interval is third)} thirds, the last {interval}."
  for every interval between each pair
  except at first
  require run where (interval is third) is at most most
  excused as close when it is last and upper is degree-one "it is the close"
  fault
  source "common practice, no source"
  accepts
    | upper  A4 B4 G5
    | cantus D4 G4 C5
  accepts by close
    | mode: D dorian
    | upper  A4 B4 D5
    | cantus D4 G4 B4
  rejects at bar 3
    | upper  A4 B4 C5 E5
    | cantus D4 G4 A4 A4
define degree-one for a note as degree is 1
example "two thirds" rejected by no-thirds at bar 3
  | upper  A4 B4 C5 E5
  | cantus D4 G4 A4 A4
"""


def derived(folder: Path, *statements: str) -> Ruleset:
    (folder / "base.rules").write_text(BASE, encoding="utf-8")
    return load_text("\n".join(["build on base", *statements]), str(folder / "derived.rules"), folder)


def overturned(ruleset: Ruleset) -> list[Trial]:
    return [trial for trial in try_ruleset(ruleset) if trial.overturned]


def test_examples_of_rules_built_on_are_tried(tmp_path: Path) -> None:
    ruleset = derived(tmp_path)
    assert len(try_ruleset(ruleset)) == 4
    assert all(trial.inherited and trial.holds for trial in try_ruleset(ruleset))


def test_what_a_set_value_overturns_is_told_and_is_no_failure(tmp_path: Path) -> None:
    ruleset = derived(tmp_path, "set most to 2")
    assert [trial.rule for trial in overturned(ruleset)] == ["no-thirds", "no-thirds", None]
    assert all(trial.passed for trial in try_ruleset(ruleset))


def test_a_dropped_rule_overturns_the_examples_that_name_it(tmp_path: Path) -> None:
    assert [trial.rule for trial in overturned(derived(tmp_path, "drop no-thirds"))] == [None]


def _notes(text: str) -> tuple[str, ...]:
    """The words of an example, however they are spaced."""
    return tuple(text.split())


@pytest.mark.parametrize("name", shipped_names())
def test_a_handout_shows_no_example_that_does_not_hold(name: str) -> None:
    """The law: what a rule sheet says of an exercise is what the ruleset says of it."""
    ruleset = load_ruleset(name)
    shown = [block.split("\n```")[0] for block in handout(ruleset).split("```text\n")[1:]]
    holding = [trial for trial in try_ruleset(ruleset) if trial.rule is not None and trial.holds]
    assert set(map(_notes, shown)) <= {_notes(trial.example.text) for trial in holding}
    assert len(shown) == len({(trial.rule, bool(trial.example.breaches)) for trial in holding})


def test_an_example_accepted_by_a_licence_must_be_excused_by_it() -> None:
    trials = try_ruleset(load_text(BASE))
    assert all(trial.passed for trial in trials)
    unexcused = BASE.replace("| upper  A4 B4 D5\n    | cantus D4 G4 B4", "| upper  A4 B4 D5\n    | cantus D4 G4 D4")
    assert [trial.passed for trial in try_ruleset(load_text(unexcused))].count(False) == 1


def test_an_example_can_not_be_accepted_by_a_licence_that_is_not_there() -> None:
    with pytest.raises(RulekitError, match="the rule ‘no-thirds’ has no licence ‘clos’"):
        load_text(BASE.replace("accepts by close", "accepts by clos"))


def test_an_example_whose_voices_end_apart_is_a_mistake() -> None:
    with pytest.raises(RulekitError, match="in this example ‘cantus’ ends 1 bar before the longest voice"):
        try_ruleset(load_text(BASE.replace("| cantus D4 G4 C5", "| cantus D4 G4")))


def test_an_example_that_tests_nothing_is_told() -> None:
    """It may break nothing only because the rule finds nothing to look at."""
    alone = BASE.replace("| upper  A4 B4 G5\n    | cantus D4 G4 C5", "| upper  A4\n    | cantus D4")
    assert [trial.idle for trial in try_ruleset(load_text(alone))] == [True, False, False, False]
    assert not any(trial.idle for trial in try_ruleset(load_text(BASE)))


def test_a_message_can_be_put_into_another_language(tmp_path: Path) -> None:
    ruleset = derived(tmp_path, 'adjust no-thirds: advice "Zu viele Terzen: {interval}."')
    (rule,) = ruleset.rules
    assert (rule.message[0], rule.weight.severity) == ("Zu viele Terzen: ", "advice")
    (rule,) = derived(tmp_path, 'adjust no-thirds: "Zu viele Terzen."').rules
    assert (rule.message, rule.weight.severity) == (("Zu viele Terzen.",), "fault")
    with pytest.raises(RulekitError, match=r"derived\.rules:2:\d+: there is no word ‘intervall’"):
        derived(tmp_path, 'adjust no-thirds: "Terzen: {intervall}."')


def test_a_licence_that_can_never_apply_is_remarked_on() -> None:
    useless = BASE.replace("it is last and upper is degree-one", "it is first and upper is degree-one")
    (warning,) = load_text(useless).warnings
    assert warning.message == "the licence ‘close’ can never apply: its rule finds nothing where it holds"


def test_a_ruleset_from_a_text_has_a_rule_sheet() -> None:
    assert "### No thirds" in handout(load_text(BASE))
