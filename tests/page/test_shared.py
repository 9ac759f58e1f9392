"""An upper and a lower solution on one cantus: one page, two exercises, heard in pairs."""

import csv
import json
import re
from pathlib import Path

import pytest

from rulekit.cli import FAULTS, main
from rulekit.exercise.notation import read_exercises
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Marked, mark
from rulekit.page.data import PageOptions, page_data
from rulekit.page.render import page_of

SHARED = """\
exercise: Ilse Torvald, both sides
mode: D dorian
cantus: shared
upper  D5 A4 B4 C5 C5 E5 D5 C5  D5
cantus D4 F4 G4 E4 A4 G4 F4 E4  D4
lower  D3 D3 E3 C4 F3 E3 D3 C#3 D3
"""


@pytest.fixture(scope="module")
def both(strict: Ruleset) -> list[Marked]:
    exercises, problems = read_exercises(SHARED)
    assert not problems
    return [mark(each, strict) for each in exercises]


def test_each_solution_is_judged_with_the_cantus_alone(both: list[Marked], strict: Ruleset) -> None:
    data = page_data(both, strict, PageOptions(seconds=2))
    assert [part.mark for part in data.parts] == [each.mark for each in both]
    found = [finding for part in data.parts for finding in part.findings]
    assert [f.number for f in found] == list(range(1, len(found) + 1))
    assert [f.message.text for f in found] == [f.message for each in both for f in each.findings]
    notes = [{int(key.split(".")[0]) for key in each} for each in data.score["findings"]]
    upper = len(both[0].findings)
    assert all(voices <= {0, 1} for voices in notes[:upper]) and all(voices <= {1, 2} for voices in notes[upper:])


def test_the_voices_are_heard_in_pairs_unless_all_are_asked_for(both: list[Marked], strict: Ruleset) -> None:
    data = page_data(both, strict, PageOptions(seconds=0.1))
    assert [each.voices for each in data.heard] == [(0, 1), (1, 2), (0,), (1,), (2,), (0, 1, 2)]
    assert data.score["together"] == [[0, 1], [1, 2]]


def test_figures_stand_over_the_lower_voice_of_each_pair(both: list[Marked], strict: Ruleset) -> None:
    page = page_of(both, strict, PageOptions(seconds=0.1))
    wide = re.search(r'<div class="wide">(.*?)</div>', page, re.S)
    assert wide is not None
    labels = re.findall(r'class="figure" role="img" aria-label="([^"]*)"', wide[1])
    assert sum("to upper" in label for label in labels) == sum("to cantus" in label for label in labels) == 9
    assert not any("from lower to upper" in label for label in labels)


def test_a_shared_sheet_is_one_page_and_two_rows(tmp_path: Path) -> None:
    (tmp_path / "ilse.notes").write_text(SHARED + "\n" + SHARED, encoding="utf-8")
    command = ["page", str(tmp_path / "ilse.notes"), "--rules", "first-species-strict", "--search", "0.1"]
    book = tmp_path / "marks.csv"
    assert main([*command, "--to", str(tmp_path / "out"), "--gradebook", str(book)]) == FAULTS
    assert {each.name for each in (tmp_path / "out").glob("*.html")} == {"index.html", "ilse.html", "ilse-2.html"}
    rows = list(csv.reader(book.read_text(encoding="utf-8").splitlines()))[1:]
    assert [row[1] for row in rows] == [f"Ilse Torvald, both sides, {voice}" for voice in ("upper", "lower")] * 2
    kept = json.loads((tmp_path / "out" / ".returned.json").read_text(encoding="utf-8"))
    assert len(kept["marks"]) == 4 and main([*command, "--to", str(tmp_path / "out")]) == FAULTS
