"""The invented class in examples/: its files load and come out as its README says."""

from pathlib import Path

import pytest

from rulekit.exercise.model import Exercise
from rulekit.exercise.scores import load_scores
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark
from rulekit.trying import try_ruleset

EXAMPLES = Path(__file__).parents[2] / "examples"
RULESET = load_ruleset(EXAMPLES / "harbour-street.rules")
HANDED_IN = sorted((EXAMPLES / "exercises").iterdir())


def exercises(path: Path) -> list[Exercise]:
    found, problems = load_scores(path)
    assert not problems
    return found


def test_the_melodies_keep_the_rules_of_a_cantus() -> None:
    melodies = exercises(EXAMPLES / "cantus-firmi.notes")
    assert len(melodies) == 5
    assert not [f for melody in melodies for f in mark(melody, load_ruleset("cantus-firmus")).findings]


def test_the_ruleset_changes_four_things() -> None:
    own = {(change.what, change.name) for change in RULESET.changes if change.origin == "harbour-street"}
    assert own == {
        ("parameter set", "most-sixths"),
        ("dropped", "one-climax"),
        ("now fault", "no-parallels"),
        ("excused as passed-through", "no-unison"),
    }
    assert not RULESET.warnings
    assert all(trial.passed for trial in try_ruleset(RULESET))


@pytest.mark.parametrize("path", HANDED_IN, ids=lambda path: path.name)
def test_only_one_student_has_nothing_to_mend(path: Path) -> None:
    (exercise,) = exercises(path)
    found = {finding.rule for finding in mark(exercise, RULESET).findings}
    assert (not found) == (path.stem == "ottilie-brandvorst")


@pytest.mark.parametrize("path", HANDED_IN, ids=lambda path: path.name)
def test_every_melody_is_one_of_the_five(path: Path) -> None:
    (exercise,) = exercises(path)
    melodies = [melody.voices[0].events for melody in exercises(EXAMPLES / "cantus-firmi.notes")]
    assert exercise.cantus is not None and exercise.voices[exercise.cantus].events in melodies


def test_the_cap_on_parallels_holds() -> None:
    (exercise,) = exercises(EXAMPLES / "exercises" / "ruben-aaltovar.notes")
    outcome = mark(exercise, RULESET)
    assert [finding.rule for finding in outcome.findings] == ["no-parallels", "no-parallels", "leading-note"]
    assert outcome.lost == 24


def test_crossed_voices_are_crossed() -> None:
    (exercise,) = exercises(EXAMPLES / "exercises" / "jun-hallavik.notes")
    strict = mark(exercise, load_ruleset("first-species-strict")).findings
    assert [f.bar for f in strict if f.rule == "no-crossing"] == [4, 5, 6, 7]
