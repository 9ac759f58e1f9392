"""Every shipped ruleset loads, keeps its own examples and is complete."""

import re
from random import Random

import pytest

from rulekit.exercise.notation import read_exercises
from rulekit.language.library import shipped_names
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark
from rulekit.solving.folds import sample
from rulekit.solving.graph import build
from rulekit.solving.sketch import Wish, compass_of, search
from rulekit.trying import try_ruleset

NAMES = shipped_names()


def test_the_rulesets_that_ship() -> None:
    numbers, kinds = "first second third fourth fifth".split(), ("strict", "lenient")
    species = {f"{number}-species-{kind}" for number in numbers for kind in kinds}
    treatises = {"zarlino-two-voices", "jeppesen-two-voices"}
    bases = {"vocabulary", "sounding-together", "voices-in-motion", "the-line", "the-ends", "later-species"}
    overlays = {"later-species-lenient", "several-voices", "mixed-species"}
    assert set(NAMES) == species | bases | overlays | treatises | {"cantus-firmus", "suspensions"}


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
        assert re.search(r"\b1[5-9]\d\d\b|common practice", rule.source), rule.name


CANTUS = "mode: D\ncantus D4 F4 E4 D4"


@pytest.mark.parametrize("name", [name for name in NAMES if re.search("species-(strict|lenient)", name)])
def test_a_search_in_it_needs_no_word_on_rhythm(name: str) -> None:
    """A line drawn at random from all that the ruleset allows over a cantus marks without a fault."""
    (sketch,), _ = read_exercises(CANTUS)
    ruleset = load_ruleset(name)
    problem = search(sketch, ruleset, Wish(compass=compass_of("A4-E5")))
    (line,) = sample(build(problem), Random(1), 1)
    assert not mark(problem.exercise(line), ruleset).faults


@pytest.mark.parametrize("number", ["second", "third", "fourth", "fifth"])
@pytest.mark.parametrize("over", [["several-voices"], ["later-species-lenient"]])
def test_overlays_change_every_later_species(number: str, over: list[str]) -> None:
    strict, laid = load_ruleset(f"{number}-species-strict"), load_ruleset([f"{number}-species-strict", *over])
    assert {rule.name for rule in strict.rules} != {rule.name for rule in laid.rules} or any(
        rule != strict.rule(rule.name) for rule in laid.rules
    )
