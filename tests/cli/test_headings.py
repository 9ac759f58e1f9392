"""Every screen and document that speaks of an exercise tells it from all others, those of its own title too."""

import csv
import json
from pathlib import Path

import pytest

from rulekit import load_exercises
from rulekit.cli import main
from rulekit.desk.bench import Bench
from rulekit.desk.shelf import Shelf

SKETCH = "exercise: the mill\nmode: D dorian\nupper A4 ?  ?  C#5 D5\ncantus D4 F4 G4 E4 D4\n"
DONE = SKETCH.replace("?  ?  C#5", "A4 B4 C#5")
COMMANDS = ["mark", "explain --rule no-parallels", "mend -n 1", "count", "whynot", "complete", "sample",
            "compare first-species-strict first-species-strict"]  # fmt: skip


def run(command: str, name: str, *more: str) -> None:
    name_of, *rest = command.split()
    rules = () if name_of == "compare" else ("--rules", "first-species-strict")
    main([name_of, *rest, name, *rules, *more])


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    Path("week.notes").write_text(f"{DONE}\n{DONE}\n{DONE.replace('mill', 'lock')}", encoding="utf-8")
    return "week.notes"


@pytest.mark.parametrize("command", COMMANDS)
def test_a_screen_tells_exercises_of_one_title_apart(
    command: str, file: str, capsys: pytest.CaptureFixture[str]
) -> None:
    run(command, file)
    words = " ".join(capsys.readouterr().out.split())
    assert "week.notes, number 1 of this title" in words
    assert "week.notes, number 2 of this title" in words
    assert "number 3" not in words


def test_a_class_tells_exercises_of_one_title_apart(file: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path("later").mkdir()
    Path("later", file).write_text(DONE, encoding="utf-8")
    run("page", ".", "--to", "out", "--search", "0.1", "--gradebook", "marks.csv")
    rows = list(csv.DictReader(Path("marks.csv").read_text(encoding="utf-8").splitlines()))
    named = [
        ("later/week.notes", "the mill"),
        ("week.notes, number 1 of this title", "the mill"),
        ("week.notes, number 2 of this title", "the mill"),
        ("week.notes", "the lock"),
    ]
    assert [(row["file"], row["exercise"]) for row in rows] == named
    index = Path("out", "index.html").read_text(encoding="utf-8")
    assert all(origin in index for origin, _ in named)


def test_a_desk_and_a_notebook_tell_exercises_of_one_title_apart(file: str) -> None:
    found = Bench(Shelf(Path())).mark("first-species-strict", "", Path(file).read_text(encoding="utf-8"), 0)
    assert found["titles"] == ["the mill, number 1", "the mill, number 2", "the lock"]
    shown = [exercise._repr_html_() for exercise in load_exercises(file)]
    assert [f"number {n} of this title" in html for n, html in zip((1, 2, 3), shown, strict=True)] == [
        True,
        True,
        False,
    ]


@pytest.mark.parametrize("command", COMMANDS)
def test_a_document_tells_exercises_of_one_title_apart(
    command: str, file: str, capsys: pytest.CaptureFixture[str]
) -> None:
    run(command, file, "--json")
    document = json.loads(capsys.readouterr().out)
    found = document.get("results", document.get("exercises"))
    found = found["over"] if isinstance(found, dict) else found
    named = [(each["title"], each["file"], each["number"]) for each in found]
    assert named == [("the mill", file, 1), ("the mill", file, 2), ("the lock", file, None)]
