"""The commands that search, run as from a shell."""

import json
import re
import sys
from pathlib import Path

import pytest

from rulekit.cli import main, searching
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark
from tests.solving.outside import REDUCED

CANTUS = "exercise: ours\nmode: D dorian\ncantus D4 A4 G4 F4 E4 D4\n"
SKETCH = "exercise: begun\nmode: D dorian\nupper  A4 ? ? ? ? ?\ncantus D4 A4 G4 F4 E4 D4\n"
WRONG = "exercise: wrong\nmode: D dorian\nupper  A4 E5 D5 A4 C5 D5\ncantus D4 A4 G4 F4 E4 D4\n"
IMPOSSIBLE = "exercise: stuck\nmode: D dorian\nupper  A4 E5 ? ? ? ?\ncantus D4 A4 G4 F4 E4 D4\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("small.rules").write_text(REDUCED, encoding="utf-8")
    Path("large.rules").write_text(
        'build on "small.rules"\ndrop direct\nadjust range: warning, 2 points\n', encoding="utf-8"
    )
    for name, text in (("cantus", CANTUS), ("sketch", SKETCH), ("wrong", WRONG), ("impossible", IMPOSSIBLE)):
        Path(f"{name}.notes").write_text(text, encoding="utf-8")
    return tmp_path


def exercises(text: str) -> list[Exercise]:
    found, wrong = read_exercises(text)
    assert not wrong
    return found


@pytest.mark.parametrize(
    ("arguments", "number"),
    [
        ("sample cantus.notes --rules small.rules -n 4 --seed 3", 4),
        ("sample cantus.notes --rules small.rules -n 2 --below --range A2-E4", 2),
        ("complete cantus.notes --rules small.rules -n 2", 2),
        ("complete sketch.notes --rules small.rules -n 2", 2),
        ("mend wrong.notes --rules small.rules -n 2", 2),
    ],
)
def test_what_is_found_is_legal(arguments: str, number: int, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments.split()) == 0
    found = exercises(capsys.readouterr().out)
    assert len(found) == number
    for exercise in found:
        assert not mark(exercise, load_ruleset("small.rules")).faults
        assert len(exercise.voices) == 2


@pytest.mark.parametrize(
    "words",
    [
        "mend wrong.notes --rules small.rules",
        "whynot impossible.notes --rules small.rules",
        "compare small.rules large.rules cantus.notes",
        "audit small.rules cantus.notes",
        "count cantus.notes --rules small.rules",
    ],
)
def test_every_search_tells_how_far_it_has_come(
    words: str, folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(searching, "_SILENT", 0.0)
    main(words.split())
    quiet = capsys.readouterr()
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    main(words.split())
    told = capsys.readouterr()
    assert "rule" not in quiet.err and re.search(r"\rrule \d+ of \d+, \d+ nodes +\n", told.err)
    assert told.out.splitlines()[-1:] == quiet.out.splitlines()[-1:] or words.startswith(
        "count"
    )  # which tells its time


def test_a_cantus_is_legal(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main("cantus --mode D --length 8 -n 2 --range C3-D4".split()) == 0
    found = exercises(capsys.readouterr().out)
    assert [len(exercise.voices[0].events) for exercise in found] == [8, 8]
    assert not any(mark(exercise, load_ruleset("cantus-firmus")).faults for exercise in found)


def test_a_sketch_keeps_its_notes(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main("complete sketch.notes --rules small.rules".split())
    (found,) = exercises(capsys.readouterr().out)
    (begun,) = exercises(SKETCH)
    assert found.voices[0].events[0] == begun.voices[0].events[0]
    assert found.voices[1] == begun.voices[1]


@pytest.mark.parametrize(
    "arguments",
    [
        "count cantus.notes",
        "sample cantus.notes",
        "complete sketch.notes",
        "mend wrong.notes",
        "whynot impossible.notes",
    ],
)
def test_json_is_json(arguments: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*arguments.split(), "--rules", "small.rules", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["command"] == arguments.split()[0]
    assert len(told["results"]) >= 1


def test_counts_by_opening_add_up(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main("count cantus.notes --rules small.rules --range C4-G5 --json".split())
    (result,) = json.loads(capsys.readouterr().out)["results"]
    for split in ("by_opening", "by_close"):
        assert sum(map(int, result[split].values())) == int(result["count"]) > 0


def test_whynot_names_the_conflict(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main("whynot impossible.notes --rules small.rules".split()) == 0
    told = capsys.readouterr().out
    assert "  rule parallels" in told
    assert "  note upper A4 in bar 1" in told
    assert "  note upper E5 in bar 2" in told


def test_compare_knows_which_is_stricter(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    both: list[int] = []
    for pair, strict in (("small.rules large.rules", True), ("large.rules small.rules", False)):
        assert main(f"compare {pair} cantus.notes --range C4-G5 --json".split()) == 0
        result = json.loads(capsys.readouterr().out)["results"]
        assert result["at_least_as_strict"] is strict
        both.append(int(result["over"][0]["both"]))
    assert both[0] == both[1] > 0


def test_audit_finds_what_decides(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main("audit small.rules cantus.notes --range C4-G5 --json".split()) == 0
    worth = {each["rule"]: each for each in json.loads(capsys.readouterr().out)["results"]["rules"]}
    assert set(worth) == {"consonant", "parallels", "direct", "leaps", "range", "opening", "close", "ending"}
    assert worth["consonant"]["alone"] > 0.5


@pytest.mark.parametrize("limit", ["--nodes 20", "--seconds 0.000001"])
@pytest.mark.parametrize(
    "command",
    ["count cantus.notes --rules small.rules", "whynot impossible.notes --rules small.rules",
     "compare small.rules large.rules cantus.notes", "audit small.rules cantus.notes"],
)  # fmt: skip
def test_limits_are_told_in_one_line(
    command: str, limit: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*command.split(), *limit.split()]) == 2
    told = capsys.readouterr()
    assert all(line.startswith("-- rules ") for line in told.out.splitlines())
    assert "not finished" in told.err
    assert told.err.count("\n") == 1


def test_a_witness_of_a_comparison_can_be_marked(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main("compare large.rules small.rules cantus.notes --range C4-G5".split()) == 0
    exercises, problems = read_exercises(capsys.readouterr().out)
    assert not problems
    for exercise in exercises:
        faults = {name: mark(exercise, load_ruleset(name)).faults for name in ("large.rules", "small.rules")}
        assert sorted(map(bool, faults.values())) == [False, True]
    assert exercises


@pytest.mark.parametrize("bound", ["--at-most 0", "--no-warnings"])
def test_what_is_drawn_keeps_its_bound(bound: str, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rules = 'build on "small.rules"\nadjust leaps: warning, 2 points\nadjust direct: warning, 3 points\n'
    Path("graded.rules").write_text(rules, encoding="utf-8")
    assert main(f"sample cantus.notes --rules graded.rules --range C4-G5 --diatonic -n 20 {bound}".split()) == 0
    for exercise in exercises(capsys.readouterr().out):
        assert mark(exercise, load_ruleset("graded.rules")).lost == 0


def test_compare_states_both_directions_and_what_is_left_out(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("graded.rules").write_text('build on "small.rules"\nadjust leaps: warning, 2 points\n', encoding="utf-8")
    text = 'build on "graded.rules"\nadjust leaps: warning, 4 points\n'
    Path("dearer.rules").write_text(text, encoding="utf-8")
    asked = "compare graded.rules dearer.rules cantus.notes --range C4-G5 --diatonic --json"
    assert main(asked.split()) == 0
    told = json.loads(capsys.readouterr().out)["results"]
    assert told["left_out"] == ["leaps"]
    assert told["at_least_as_strict"] and told["second_at_least_as_strict"]
    assert main([*asked.split(), "--points"]) == 0
    apart = json.loads(capsys.readouterr().out)["results"]["over"][0]["points"]
    assert apart["first_loses_more"] == "0"
    assert int(apart["second_loses_more"]) > 0
