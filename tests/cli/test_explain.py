"""``rulekit explain``, and what a failed example says."""

import json
from pathlib import Path

import pytest

from rulekit.cli import main
from tests.schemas import mistakes

RULES = """
rule leaps "{approach} is a leap." for every note in counterpoint
  when approach is wider than third
  require departure is step
  excused as close when it is last "it is the last"
  fault source "our own"
  rejects at bar 2
    | upper A4 B4 C5
    | cantus D4 F4 D4
"""


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    (tmp_path / "own.rules").write_text(RULES, encoding="utf-8")
    (tmp_path / "one.notes").write_text("upper A4 E5 C5\ncantus D4 F4 D4\n", encoding="utf-8")
    return str(tmp_path / "one.notes"), str(tmp_path / "own.rules")


def test_a_bar_is_explained_in_full(files: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", files[0], "--rules", files[1], "--rule", "leaps", "--bar", "2"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "bar 2 (upper E5): broken ‘approach is wider than third’ held: approach was " in told
    assert "the required ‘departure is step’ did not hold: departure was " in told
    assert "licence close: ‘it is last’ did not hold: bar was 2" in told


def test_the_document_keeps_to_its_schema(files: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", files[0], "--rules", files[1], "--rule", "leaps", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert mistakes(document) == []
    (exercise,) = document["exercises"]
    assert [place["outcome"] for place in exercise["places"]] == ["unknown", "broken", "kept"]


def test_an_unknown_rule_is_told(files: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", files[0], "--rules", files[1], "--rule", "leap", "--json"]) == 2
    out, err = capsys.readouterr()
    assert "Did you mean ‘leaps’?" in err and mistakes(json.loads(out)) == []


def test_a_failed_example_says_what_the_rule_saw(files: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["try", files[1]]) == 1
    assert "bar 2: ‘approach is wider than third’ did not hold: approach was " in " ".join(
        capsys.readouterr().out.split()
    )
