"""What the commands that search print for programs keeps to their schemas, finished or not."""

import json
from pathlib import Path

import pytest

from rulekit.cli import main
from tests.schemas import mistakes
from tests.solving.outside import REDUCED

COMMANDS = [
    "count cantus.notes --rules small.rules", "count cantus.notes --rules small.rules --warnings",
    "sample cantus.notes --rules small.rules -n 2", "complete cantus.notes --rules small.rules",
    "mend wrong.notes --rules small.rules", "whynot cantus.notes --rules small.rules",
    "whynot stuck.notes --rules small.rules", "compare small.rules small.rules cantus.notes",
    "audit small.rules cantus.notes --pairs", "cantus --length 4",
]  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    cantus = "cantus D4 A4 G4 F4 E4 D4\n"
    for name, text in {
        "small.rules": REDUCED, "cantus.notes": cantus, "wrong.notes": f"upper A4 E5 D5 A4 C5 D5\n{cantus}",
        "stuck.notes": f"upper A4 E5 D5 A4 C5 D5\n{cantus}",
    }.items():  # fmt: skip
        (tmp_path / name).write_text(f"mode: D dorian\n{text}" if "rules" not in name else text, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("limits", ["", "--nodes 3"])
def test_a_document_keeps_to_its_schema(
    command: str, limits: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main([*command.split(), *limits.split(), "--json"])
    (line,) = capsys.readouterr().out.splitlines()
    document = json.loads(line)
    assert document["command"] == command.split()[0]
    assert mistakes(document) == []
