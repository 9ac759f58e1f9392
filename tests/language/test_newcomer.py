"""Rules by someone who knows the lesson and the reference alone: they say what is wanted, as their examples show."""

from pathlib import Path

from rulekit.language.loading import load_ruleset
from rulekit.trying import try_ruleset

_PATH = Path(__file__).parent / "newcomer.rules"


def test_each_rule_accepts_and_rejects_what_it_says() -> None:
    ruleset = load_ruleset(_PATH)
    assert not ruleset.warnings
    assert [trial.rule for trial in try_ruleset(ruleset) if not trial.passed] == []
    for rule in ruleset.rules:
        assert {bool(example.breaches) for example in rule.examples} == {True, False}, rule.name
    assert len(ruleset.rules) >= 11


def test_nothing_is_taken_from_a_shipped_file() -> None:
    text = _PATH.read_text(encoding="utf-8")
    assert "\nuse " not in text
    assert "\nbuild on " not in text
