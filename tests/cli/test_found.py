"""``--page``: what a search prints, for the eye and the ear."""

import json
import re
from pathlib import Path

import pytest

from rulekit import load_exercises
from rulekit.cli import main
from rulekit.page.data import played

_CANTUS = "exercise: the ferry\nmode: D dorian\ncantus D4 F4 E4 D4\n"
_TRIED = "exercise: tried\nmode: D dorian\nupper A4 D5 D5 D5\ncantus D4 F4 E4 D4\n"


def lines_on(page: str) -> list[object]:
    found = re.search(r'id="score">(.*?)</script>', page, re.S)
    assert found is not None
    return json.loads(found[1])["lines"]


@pytest.mark.parametrize("command", ["sample", "complete", "mend"])
def test_the_lines_printed_are_the_lines_shown(tmp_path: Path, command: str) -> None:
    (tmp_path / "a.notes").write_text(_TRIED if command == "mend" else _CANTUS, encoding="utf-8")
    page, out = tmp_path / "a.html", tmp_path / "out.notes"
    assert main([command, str(tmp_path / "a.notes"), "-n", "2", "--page", str(page), "-o", str(out)]) == 0
    written = [[[[*map(float, note)] for note in voice] for voice in played(each)] for each in load_exercises(out)]
    shown = lines_on(page.read_text(encoding="utf-8"))
    assert shown[len(shown) - len(written) :] == written


def test_counts_and_shares_are_drawn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.notes").write_text(_CANTUS, encoding="utf-8")
    page = tmp_path / "a.html"
    main(["count", str(tmp_path / "a.notes"), "--warnings", "--json", "--page", str(page)])
    (result,) = json.loads(capsys.readouterr().out)["results"]
    text = page.read_text(encoding="utf-8")
    for split in ("by_opening", "by_close", "by_warnings"):
        assert all(f"<span>{lines}</span>" in text for lines in result[split].values())
    main(["audit", "zarlino-two-voices", str(tmp_path / "a.notes"), "--json", "--page", str(page)])
    rules = json.loads(capsys.readouterr().out)["results"]["rules"]
    text = page.read_text(encoding="utf-8")
    assert all(f"<span>{rule[key]:.2%}</span>" in text for rule in rules for key in ("alone", "last"))
