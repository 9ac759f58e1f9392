"""What examples support, held against plain trying: a fitted value finds nothing in them, the next one does."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rulekit import load_exercises, load_ruleset, mark
from rulekit.cli import main
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.fitting import Fit, fits, nearness
from tests.schemas import mistakes

RULES = """ruleset "Ferry School"
parameter most-thirds is a count from 1 to 6, usually 3
parameter fewest-notes is a count from 2 to 12, usually 4
parameter widest is an interval from P5 to P12, usually P8
parameter share-of-thirds is a proportion from 10% to 100%, usually 50%
parameter idle is a count from 1 to 3, usually 2
parameter endless is a count from 1 to 5000, usually 2
parameter home is a motion, usually contrary

rule thirds "{interval}" for every interval between each pair
  require run where (interval is third) is at most most-thirds
  excused as close when it is last "the close may"
  fault source "our own"

rule long "short" for every line in counterpoint
  require number of notes is at least fewest-notes
  fault source "our own"

rule wide "{interval}" for every interval between each pair
  forbid interval is wider than widest
  warning source "our own"

rule mostly "thirds" for every pair between each pair
  require share of intervals where (interval is third) is at most share-of-thirds
  fault source "our own"
"""
BOUNDED = ("most-thirds", "fewest-notes", "widest", "share-of-thirds")


@pytest.fixture(scope="module")
def rules(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("rules") / "ferry.rules"
    path.write_text(RULES, encoding="utf-8")
    return path


def exercise(line: list[str]) -> Exercise:
    text = f"exercise: ferry\nmode: D\nupper {' '.join(line)}\ncantus {' '.join(['D4'] * len(line))}\n"
    return read_exercises(text)[0][0]


def broken(path: Path, name: str, value: str, rules: tuple[str, ...], examples: list[Exercise]) -> bool:
    ruleset = load_ruleset(path, {name: value})
    return any(f.rule in rules and f.excuse is None for each in examples for f in mark(each, ruleset).findings)


def plainly(path: Path, fit: Fit, examples: list[Exercise]) -> tuple[str, ...]:
    """The values that pass, each tried with the whole ruleset."""
    return tuple(v for v in fit.tried if not broken(path, fit.parameter.name, v, fit.rules, examples))


LINES = st.lists(st.sampled_from("D4 F4 F#4 G4 A4 D5 F5 G5 A5".split()), min_size=2, max_size=9)


@settings(max_examples=4)
@given(lines=st.lists(LINES, min_size=1, max_size=3))
def test_the_fitted_value_finds_nothing_and_the_next_does(rules: Path, lines: list[list[str]]) -> None:
    examples = [exercise(line) for line in lines]
    for fit in fits(rules, examples):
        name = fit.parameter.name
        if fit.tried and name != "share-of-thirds":
            assert fit.passing == plainly(rules, fit, examples)
        for edge in fit.edges:
            assert not broken(rules, name, edge.value, fit.rules, examples)
            assert broken(rules, name, edge.beyond, fit.rules, examples)
            assert abs(fit.tried.index(edge.value) - fit.tried.index(edge.beyond)) == 1
            assert all(each in examples and found.rule in fit.rules for each, found in edge.rejected)
        assert bool(fit.edges) == (0 < len(fit.passing) < len(fit.tried))


def test_a_parameter_is_used_by_the_rules_that_name_it(rules: Path) -> None:
    found = {fit.parameter.name: fit.rules for fit in fits(rules, [exercise(["F4", "A4"])])}
    assert [found[name] for name in BOUNDED] == [("thirds",), ("long",), ("wide",), ("mostly",)]
    assert found["idle"] == ()


def test_each_kind_of_value_is_fitted(rules: Path) -> None:
    line = exercise("D5 F4 F4 A4 F5 D5".split())
    found = {fit.parameter.name: fit for fit in fits(rules, [line])}
    assert [found[name].edges[0].value for name in BOUNDED] == ["2", "6", "m10", "50%"]
    assert [found[name].edges[0].beyond for name in BOUNDED] == ["1", "7", "M9", "49%"]
    assert found["widest"].edges[0].rejected[0][1].bar == 5
    assert found["endless"].tried == found["home"].tried == ()


def test_what_is_excused_rejects_nothing(rules: Path) -> None:
    (fit, *_) = fits(rules, [exercise("D5 A4 F4 F4".split())])
    assert fit.passing == fit.tried


def test_nearness_counts_examples(rules: Path) -> None:
    examples = [exercise(line.split()) for line in ("D5 F4 F4 F4 F4 D5", "D5 A4 F4 F4 F4 F4", "D5 A4")]
    found = {each.rule: each for each in nearness(load_ruleset(rules), examples)}
    assert (found["thirds"].looked, found["thirds"].broken, found["thirds"].excused) == (3, 1, 1)
    assert found["long"].broken == 1


def test_the_command_tells_value_example_and_bar(
    rules: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    notes = tmp_path / "own.notes"
    text = "exercise: the ferry\nmode: D\nupper D5 F4 F4 A4 F5 D5\ncantus D4 D4 D4 D4 D4 D4\n"
    notes.write_text(text, encoding="utf-8")
    assert main(["fit", str(rules), str(notes)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert (
        "widest now octave; used by wide tightest: minor tenth major ninth would reject 1 example, first ‘the ferry’"
        in told
    )
    assert main(["fit", str(rules), str(notes), str(tmp_path / "none.notes"), "--json"]) == 2
    document = json.loads(capsys.readouterr().out)
    assert mistakes(document) == []
    assert [each["tightest"] for each in document["parameters"]] == ["2", "6", "m10", "50%", None, None, None]
    assert len(document["problems"]) == 1 and load_exercises(notes)


TRACT = """ruleset "The tract of Lantern Hill, an invented treatise"
parameter widest-leap is an interval from third to tenth, usually tenth
parameter widest-size is a count from 3 to 8, usually 8
parameter top is a pitch from pitch C5 to pitch C6, usually pitch A5
parameter highest-degree is a degree from 1 to 7, usually 7
parameter most-steps is a count from 1 to 9, usually 9
parameter fewest-steps is a proportion from 0% to 100%, usually 0%
parameter narrowest is an interval from second to octave, usually m2

rule leaps "x" for every note in counterpoint
  forbid approach is wider than widest-leap
  fault source "our own"

rule sizes "x" for every note in counterpoint
  forbid size of approach is more than widest-size
  fault source "our own"

rule tops "x" for every note in counterpoint
  forbid pitch is higher than top
  fault source "our own"

rule degrees "x" for every note in counterpoint
  at last
  forbid degree is more than highest-degree
  fault source "our own"

rule steps "x" for every note in counterpoint
  forbid run where (approach is rising step) is more than most-steps
  fault source "our own"

rule stepwise "x" for every line in counterpoint
  require share of notes where (approach is step) is at least fewest-steps
  fault source "our own"

rule apart "x" for every interval between each pair
  except at first
  forbid interval is narrower than narrowest
  fault source "our own"
"""
LANTERN = """exercise: first lantern
mode: D
upper D5 A4 B4 C5 D5 Eb5 D5
cantus D4 F4 G4 A4 F4 E4 D4

exercise: second lantern
mode: D
upper D5 G4 A4 F5 E5 D5 F5
cantus D4 F4 G4 A4 F4 E4 D4
"""


def test_what_a_theorist_reads_from_two_examples(tmp_path: Path) -> None:
    """By hand: the value that still passes, the next, and which example and bar first rejects it, of how many."""
    (tmp_path / "tract.rules").write_text(TRACT, encoding="utf-8")
    examples, _ = read_exercises(LANTERN)
    fitted = list(fits(tmp_path / "tract.rules", examples))
    assert {("m3", "M10"), ("m2", "P8")} <= {(fit.tried[0], fit.tried[-1]) for fit in fitted}
    found = {
        fit.parameter.name: (edge.value, edge.beyond, edge.rejected[0][0].title, edge.rejected[0][1].bar, edge.examples)
        for fit in fitted
        for edge in fit.edges
    }
    assert found == {
        "widest-leap": ("m6", "P5", "second lantern", 4, 1),
        "widest-size": ("6", "5", "second lantern", 4, 1),
        "top": ("pitch F5", "pitch E5", "second lantern", 4, 1),
        "highest-degree": ("3", "2", "second lantern", 7, 1),
        "most-steps": ("4", "3", "first lantern", 6, 1),
        "fewest-steps": ("42%", "43%", "second lantern", None, 1),
        "narrowest": ("M2", "m3", "second lantern", 2, 1),
    }
