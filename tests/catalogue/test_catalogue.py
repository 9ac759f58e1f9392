"""Every statement of the catalogue can be written in the language, and its examples break what they should."""

from pathlib import Path

import pytest

from rulekit.diagnostics import RulekitError
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset
from rulekit.marking import Marked, mark
from rulekit.trying import try_ruleset
from tests.rulesets.figures import of_species

HERE = Path(__file__).parent
FILES = sorted(path for path in HERE.glob("*.rules") if path.stem[:2].isdigit())
STATEMENTS = range(1, 64)


def marked(name: str, notes: str) -> Marked:
    """An exercise marked by the ruleset of that name."""
    (exercise,), mistakes = read_exercises(notes)
    assert not mistakes
    return mark(exercise, load_ruleset(HERE / f"{name}.rules"))


def test_every_statement_has_a_file() -> None:
    assert {int(file.stem[:2]) for file in FILES} == set(STATEMENTS)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_statement(file: Path) -> None:
    ruleset = load_ruleset(file)
    assert not ruleset.warnings

    trials = try_ruleset(ruleset)
    assert [trial for trial in trials if not trial.passed] == []
    assert any(trial.expected for trial in trials), "no example shows what is rejected"
    assert any(not trial.expected for trial in trials), "no example shows what is accepted"
    for rule in ruleset.rules:
        verdicts = {bool(example.breaches) for example in rule.examples}
        assert verdicts == {True, False}, f"{rule.name} lacks an accepted or a rejected example"


@pytest.mark.parametrize(
    ("name", "species"),
    [("44-second-species-lengths", "2"), ("47-third-species", "3"), ("48-cambiata", "3"), ("51-resolution", "4"),
     ("54-florid", "5"), ("55-ornamented-resolutions", "5"), *(("36-alterations", each) for each in "12345")],
)  # fmt: skip
def test_the_figures_of_a_species_have_no_fault(name: str, species: str) -> None:
    """Fux 1725, two voices: what his practice has, a statement on the species does not forbid."""
    ruleset = load_ruleset(HERE / f"{name}.rules")
    figures = of_species(species, range(2, 3))
    assert figures
    assert [figure.number for figure in figures if mark(figure.exercise, ruleset).faults] == []


def test_points_add_up_to_the_limit_or_count_once() -> None:
    """57: two parallels cost 5 each, two wide distances 3 at most, two repetitions 1 once, advice nothing."""
    result = marked(
        "57-severity-and-points",
        "upper  A4 B4 C5 E5 E5 E5 A4\ncantus D4 E4 F4 A3 A3 C4 D4",
    )
    assert [finding.severity for finding in result.findings].count("advice") == 1
    assert result.lost == 2 * 5 + 3 + 1
    assert result.mark == 100 - result.lost


def test_a_licence_is_told_with_its_reason() -> None:
    """58: an excused finding stays in the list, costs nothing and is no fault."""
    result = marked("58-licences", "upper  A4 B4 C5 A4 D5\ncantus D4 D4 F4 F4 G4")
    assert [(f.bar, f.excuse and f.excuse.name) for f in result.findings] == [(3, "upper-step"), (5, "close")]
    assert result.findings[0].excuse is not None
    assert result.findings[0].excuse.reason == "the upper voice moves by step"
    assert result.faults == ()
    assert result.lost == 0


@pytest.mark.parametrize("value", ["fifteenth", "unison", "7", "50%"])
def test_a_parameter_keeps_to_its_type_and_bounds(value: str) -> None:
    """59: a largest leap is an interval from a third to an octave."""
    with pytest.raises(RulekitError) as caught:
        load_ruleset(HERE / "59-parameters.rules", {"largest-leap": value})
    assert any("largest-leap" in problem.message for problem in caught.value.diagnostics)


def test_changes_are_listed() -> None:
    """60: what a ruleset changes in the one it builds on can be seen."""
    ruleset = load_ruleset(HERE / "60-evening-class.rules")
    changed = {change.name for change in ruleset.changes if change.origin == "60-evening-class"}
    assert changed == {"no-unison", "no-repetition", "small-range"}
    assert [rule.name for rule in ruleset.rules] == ["no-repetition", "small-range"]
    assert {rule.name: rule.weight.severity for rule in ruleset.rules} == {
        "no-repetition": "advice",
        "small-range": "warning",
    }


def test_messages_are_filled_in() -> None:
    """63: notes, interval and bar stand in the teacher's own sentence."""
    result = marked("63-messages", "mode: D dorian\nupper  A4 B4 F5 D5\ncantus D4 E4 D4 D4")
    assert [finding.message for finding in result.findings] == [
        "Parallele perfect fifth in Takt 2: A4–B4 über D4–E4.",
        "F5 (Stufe 3) steht eine diminished fifth vom Ton davor, B4.",
    ]
    assert [place.note for place in result.findings[0].places] == ["B4", "E4"]
    assert result.findings[0].voices == ("upper", "cantus")
