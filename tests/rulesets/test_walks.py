"""The walks of DEVELOPERS.md that touch rules files only: a new species, a fifth voice, another treatise."""

import re
from pathlib import Path
from random import Random

import pytest

from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.solving.answers import compare
from rulekit.solving.folds import sample
from rulekit.solving.graph import build
from rulekit.solving.sketch import Wish, compass_of, search
from rulekit.trying import try_ruleset

_TEXT = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
WALKS = dict(re.findall(r"^```rules ([\w-]+)\n(.*?)^```$", _TEXT, re.M | re.S))


@pytest.fixture
def walked(tmp_path: Path) -> dict[str, Ruleset]:
    """Each file of the walks, typed into a folder and loaded from there."""
    for name, text in WALKS.items():
        (tmp_path / f"{name}.rules").write_text(text, encoding="utf-8")
    return {name: load_ruleset(tmp_path / f"{name}.rules") for name in WALKS}


def notes(text: str) -> Exercise:
    (found,), problems = read_exercises(text)
    assert not problems
    return found


def test_each_file_keeps_its_examples(walked: dict[str, Ruleset]) -> None:
    assert set(walked) == {"three-against-one", "five-voices", "lantern-tract"}
    for ruleset in walked.values():
        assert all(trial.passed for trial in try_ruleset(ruleset))
        assert not ruleset.warnings


def test_the_new_species_is_composed_in(walked: dict[str, Ruleset]) -> None:
    """Its rhythm needs no option; what is drawn has three notes to the bar and no fault; two to the bar are one."""
    rules = walked["three-against-one"]
    problem = search(notes("mode: D\ntime: 3/2\ncantus D4/1. F4 E4 D4"), rules, Wish(compass=compass_of("A4-E5")))
    assert [len(line) for line in problem.lines] == [10, 4]
    for line in sample(build(problem), Random(3), 5):
        assert not mark(problem.exercise(line), rules).faults
    two = notes("mode: D\ntime: 3/2\nupper D5/1 F5/2 | A4/1 C5/2 | B4/1 C#5/2 | D5/1.\ncantus D4/1. | F4 | E4 | D4")
    assert [fault.bar for fault in mark(two, rules).faults if fault.rule == "three-to-the-bar"] == [1, 2, 3]


def test_five_voices_are_marked(walked: dict[str, Ruleset]) -> None:
    five = """mode: C
        upper  G4 A4 B4 C5
        second E4 F4 G4 G4
        third  C4 C4 D4 E4
        cantus C4 A3 D4 C4
        lower  C3 F3 G3 C3"""
    told = {(f.rule, f.bar) for f in mark(notes(five), walked["five-voices"]).findings if not f.excuse}
    assert ("no-parallels", 4) not in told and ("consonant", 2) not in told
    lowered = notes(five.replace("cantus C4 A3 D4", "cantus C4 F3 D4"))
    assert ("bass-by-itself", 2) in {(f.rule, f.bar) for f in mark(lowered, walked["five-voices"]).findings}


def test_the_other_treatise_differs_where_it_says(walked: dict[str, Ruleset]) -> None:
    wish = Wish(compass=compass_of("G4-E5"), altered=False)
    problem = search(notes("mode: C\ncantus C4 F4 D4 C4"), walked["lantern-tract"], wish)
    found = compare(problem, load_ruleset("first-species-strict"))
    assert found.first_witness and found.second_witness
    assert found.second_witness[1] == "step-after-a-leap"
