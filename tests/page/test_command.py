"""``rulekit page``: a class of mixed files, with a broken one among them."""

import json
from pathlib import Path

import pytest

from rulekit.cli import GOOD, UNUSABLE, main
from rulekit.page.printing import NoBrowser, print_pdf
from tests.page.cases import FAULTY
from tests.schemas import mistakes

_CLEAN = "exercise: {}\nmode: D dorian\nupper D5 A4 B4 C5 C5 E5 D5 C#5 D5\ncantus D4 F4 G4 E4 A4 G4 F4 E4 D4\n"


def returned(tmp_path: Path, *more: str) -> int:
    """The exit status of returning the folder ``class``."""
    rules = ["--rules", "first-species-strict", "--search", "0.1"]
    return main(["page", str(tmp_path / "class"), *rules, "--to", str(tmp_path / "out"), *more])


def test_a_broken_file_loses_nobody_elses(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "class" / "monday"
    folder.mkdir(parents=True)
    (folder / "two.notes").write_text(_CLEAN.format("first") + _CLEAN.format("second"), encoding="utf-8")
    (folder / "index.notes").write_text(FAULTY, encoding="utf-8")
    (folder / "broken.notes").write_text("upper H4\n", encoding="utf-8")
    (folder / "letter.txt").write_text("not a score", encoding="utf-8")
    assert returned(tmp_path) == UNUSABLE
    assert {path.name for path in (tmp_path / "out").iterdir()} == {
        ".returned.json",
        "index.html",
        "index-2.html",
        "two.html",
        "two-2.html",
    }
    index = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert all(f'href="{name}"' in index for name in ("two.html", "two-2.html", "index-2.html"))
    assert "broken.notes" in index and "broken.notes" in capsys.readouterr().err


def test_a_class_without_faults_is_well(tmp_path: Path) -> None:
    (tmp_path / "class").mkdir()
    (tmp_path / "class" / "one.notes").write_text(_CLEAN.format("first"), encoding="utf-8")
    assert returned(tmp_path, "--language", "de", "--identifiers") == GOOD
    assert "Befunde" in (tmp_path / "out" / "one.html").read_text(encoding="utf-8")


def test_without_a_browser_there_is_a_clear_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(NoBrowser, match="open the page and print it"):
        print_pdf(tmp_path / "page.html", tmp_path / "page.pdf")


def test_programs_are_told_what_was_written_for_whom(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "class").mkdir()
    (tmp_path / "class" / "one.notes").write_text(_CLEAN.format("first"), encoding="utf-8")
    (tmp_path / "class" / "broken.notes").write_text("upper H4\n", encoding="utf-8")
    made: list[bool] = []
    for _again in range(2):
        returned(tmp_path, "--json", "--gradebook", str(tmp_path / "marks.csv"))
        document = json.loads(capsys.readouterr().out)
        assert mistakes(document) == []
        (exercise,), (problem,) = document["exercises"], document["problems"]
        assert Path(exercise["page"]).is_file() and Path(document["gradebook"]).is_file()
        assert (exercise["title"], exercise["mark"], problem["line"]) == ("first", 100, 1)
        made.append(exercise["made"])
    assert made == [True, False]


def test_programs_are_told_what_a_sheet_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["handout", "cantus-firmus", "--language", "de", "--json"]) == GOOD
    document = json.loads(capsys.readouterr().out)
    assert mistakes(document) == []
    assert document["text"].startswith("# Der Cantus firmus für sich") and document["sheet"] is None
    assert {rule["language"] for rule in document["rules"]} == {"de"}
