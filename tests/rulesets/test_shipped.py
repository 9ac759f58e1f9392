"""Every shipped ruleset loads, keeps its own examples and is complete."""

import re

import pytest

from rulekit.language.ruleset import load_ruleset, shipped_names
from rulekit.trying import try_ruleset

NAMES = shipped_names()


def test_the_rulesets_that_ship() -> None:
    assert {
        "vocabulary",
        "first-species-strict",
        "first-species-lenient",
        "first-species-several-voices",
        "zarlino-two-voices",
        "cantus-firmus",
    } <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_it_loads_without_a_warning(name: str) -> None:
    assert not load_ruleset(name).warnings


@pytest.mark.parametrize("name", NAMES)
def test_its_examples_come_out_as_they_say(name: str) -> None:
    failed = [
        f"{trial.path}:{trial.line} {trial.rule or trial.title}: expected {trial.expected}, found {trial.found}"
        for trial in try_ruleset(load_ruleset(name))
        if not trial.passed
    ]
    assert not failed


@pytest.mark.parametrize("name", NAMES)
def test_every_rule_has_an_accepted_and_a_rejected_example(name: str) -> None:
    for rule in load_ruleset(name).rules:
        assert {bool(example.breaches) for example in rule.examples} == {True, False}, rule.name


@pytest.mark.parametrize("name", NAMES)
def test_every_rule_says_where_it_comes_from(name: str) -> None:
    for rule in load_ruleset(name).rules:
        assert re.search(r"\b1[5-7]\d\d\b|common practice", rule.source), rule.name
