"""Rulesets compared over all cantus firmi, against plain enumeration of every cantus with every line."""

import json
from collections import Counter
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from rulekit.cli import main
from rulekit.language.loading import load_ruleset
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.mode import mode_of
from rulekit.music.pitch import Pitch
from rulekit.solving.cantuses import over_every_cantus, posed
from rulekit.solving.problem import Problem
from rulekit.solving.sketch import compass_of

CANTUS = load_ruleset("cantus-firmus", {"fewest-notes": "3"})
CANTUS_ROOM, ABOVE, BELOW = compass_of("C4-F4"), compass_of("G4-C5"), compass_of("A3-D4")
PAIRS = [
    ("first-species-strict", "first-species-lenient"),
    ("zarlino-two-voices", "first-species-strict"),
    ("first-species-strict", "jeppesen-two-voices"),
]


def allows(ruleset: Ruleset, problem: Problem, cantus: tuple[Pitch, ...], line: tuple[Pitch, ...]) -> bool:
    """Whether a ruleset finds no fault in a cantus with a line."""
    lines = (cantus, line) if problem.setting.cantus == 0 else (line, cantus)
    return not mark(problem.exercise(lines), ruleset).faults


@pytest.mark.parametrize("bars", [3, 4])
@pytest.mark.parametrize(("first", "second"), PAIRS)
@pytest.mark.parametrize("below", [False, True])
def test_it_counts_what_marking_accepts(first: str, second: str, bars: int, below: bool) -> None:
    ours, theirs = load_ruleset(first), load_ruleset(second)
    problem = posed(ours, mode_of("C"), bars, CANTUS_ROOM, BELOW if below else ABOVE, below, altered=False)
    found = over_every_cantus(problem, theirs, CANTUS)
    singing = 0 if below else 1
    assert problem.setting.cantus == singing

    every = [list(product(*(slot.choices for slot in line))) for line in problem.lines]
    free = every[1 - singing][0]
    sung = [cantus for cantus in every[singing] if allows(CANTUS, problem, cantus, free)]
    pairs = list(product(sung, every[1 - singing]))
    verdicts = Counter((allows(ours, problem, *pair), allows(theirs, problem, *pair)) for pair in pairs)
    assert found.both == verdicts[True, True]
    assert found.only_first == verdicts[True, False]
    assert found.only_second == verdicts[False, True]
    for witness, allowing, forbidding in (
        (found.first_witness, ours, theirs), (found.second_witness, theirs, ours),
    ):  # fmt: skip
        if witness is not None:
            assert not mark(witness[0], allowing).faults and not mark(witness[0], CANTUS).faults
            assert witness[1] in {fault.rule for fault in mark(witness[0], forbidding).faults}


SHORT = "build on cantus-firmus\nset fewest-notes to 3\n"


def compared(folder: Path, capsys: pytest.CaptureFixture[str], first: str, second: str) -> dict[str, Any]:
    (folder / "short.rules").write_text(SHORT, encoding="utf-8")
    rooms = f"--cantus-rules {folder / 'short.rules'} --cantus-range C4-A4 --range G4-E5 --mode C --json"
    assert main(f"compare {first} {second} --every-cantus 6 {rooms}".split()) == 0
    return json.loads(capsys.readouterr().out)["results"]


def test_the_command_stops_at_the_shortest_witnesses(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, forbidden in (("no-fifths", "P5"), ("no-thirds", "third")):
        rule = (
            f'rule {name} "x" for every interval between each pair forbid interval is {forbidden} fault source "none"'
        )
        (tmp_path / f"{name}.rules").write_text(rule, encoding="utf-8")
    found = compared(tmp_path, capsys, *(str(tmp_path / f"{name}.rules") for name in ("no-fifths", "no-thirds")))
    assert not found["at_least_as_strict"] and not found["second_at_least_as_strict"]
    ((notes, first, second),) = [(each["notes"], each["only_first"], each["only_second"]) for each in found["over"]]
    assert notes == 3 and int(first) > 0 and int(second) > 0


def test_the_command_proves_what_is_stricter(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = compared(tmp_path, capsys, "first-species-strict", "first-species-lenient")
    assert found["at_least_as_strict"] and not found["second_at_least_as_strict"]
    assert [each["notes"] for each in found["over"]] == [3, 4, 5, 6]


@pytest.mark.parametrize("asked", ["", "--every-cantus 5 --points", "--every-cantus 5 --voices 3", "--every-cantus 6"])
def test_what_can_not_be_compared_is_said(asked: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(f"compare first-species-strict first-species-lenient {asked}".split()) == 2
    assert capsys.readouterr().err.count("\n") == 1
