"""The gradebook: what is read back from it is what was marked, and nothing in it is a formula."""

import csv
from io import StringIO
from pathlib import Path

import pytest

from rulekit.cli import main
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Marked
from rulekit.page.gradebook import gradebook
from rulekit.page.index import Entry, entry_of
from tests.page.cases import FAULTY


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(text)))


def entry(title: str) -> Entry:
    return Entry(title, "one.html", "one.notes", mark=90, lost=10, faults=2, warnings=1, advice=0)


def test_a_row_is_what_was_marked(faulty: Marked, strict: Ruleset) -> None:
    (row,) = rows(gradebook([entry_of(faulty, "one.html", "one.notes")]))
    open_ = [finding for finding in faulty.findings if finding.excuse is None]
    counts = {kind: sum(finding.severity == kind for finding in open_) for kind in ("fault", "warning", "advice")}
    assert row == {
        "file": "one.notes",
        "exercise": "Runa Tveit, the lock gate",
        "mark": str(faulty.mark),
        "points lost": str(faulty.lost),
        "faults": str(counts["fault"]),
        "warnings": str(counts["warning"]),
        "advice": str(counts["advice"]),
    }
    assert counts["fault"] and faulty.lost


@pytest.mark.parametrize("title", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =1", "\r=1", '=HYPERLINK("x","y")'])
def test_no_title_is_a_formula(title: str) -> None:
    (row,) = rows(gradebook([entry(title)]))
    assert row["exercise"] == f"'{title}"


@pytest.mark.parametrize("title", ["plain", 'with "quotes", commas', "two\nlines", "Þóra – 練習", "1-2", ""])
def test_other_titles_come_back_as_they_were(title: str) -> None:
    (row,) = rows(gradebook([entry(title)]))
    assert row["exercise"] == title


def test_the_command_writes_it_with_made_and_with_kept_pages(tmp_path: Path) -> None:
    (tmp_path / "one.notes").write_text(FAULTY, encoding="utf-8")
    book = tmp_path / "marks.csv"
    command = ["page", str(tmp_path / "one.notes"), "--rules", "first-species-strict", "--search", "0.1"]
    command += ["--to", str(tmp_path / "out"), "--gradebook", str(book)]
    main(command)
    first = book.read_text(encoding="utf-8")
    assert [row["file"] for row in rows(first)] == ["one.notes"]
    main(command)
    assert book.read_text(encoding="utf-8") == first
