"""The lesson is followed word for word: its files are typed, its commands given; they print what it shows."""

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

_ROOT = Path(__file__).parent.parent
_TEXT = (_ROOT / "grammar" / "FIRST-RULE.md").read_text(encoding="utf-8")
_BLOCKS = re.findall(r"^```(rules|notes|console) ?([\w.]*)\n(.*?)^```$", _TEXT, re.MULTILINE | re.DOTALL)


def typed(path: Path, text: str) -> None:
    """A file of the lesson; a rule that it has already is written anew, another is added at the end."""
    name = re.match(r"rule ([\w-]+)\n", text)
    before = path.read_text(encoding="utf-8") if path.exists() else ""
    if name is None:
        path.write_text(text, encoding="utf-8")
        return
    kept = re.sub(rf"^rule {name[1]}\n(?:(?: .*)?\n)*", "", before, flags=re.MULTILINE)
    path.write_text(f"{kept.rstrip()}\n\n{text}", encoding="utf-8")


def given(command: str, folder: Path) -> str:
    environment = {**os.environ, "COLUMNS": "80", "NO_COLOR": "1", "PYTHONPATH": str(_ROOT)}
    arguments = [sys.executable, "-m", *shlex.split(command)]
    run = subprocess.run(arguments, capture_output=True, text=True, cwd=folder, env=environment, check=False)
    return (run.stdout + run.stderr).replace(f"{_ROOT}{os.sep}", "…/")


def test_it_can_be_followed(tmp_path: Path) -> None:
    commands: set[str] = set()
    for kind, name, text in _BLOCKS:
        if kind != "console":
            typed(tmp_path / name, text)
            continue
        first, _, shown = text.partition("\n")
        command = first.removeprefix("$ ")
        commands.add(shlex.split(command)[1])
        assert given(command, tmp_path).split() == shown.split(), command
    assert commands == {"try", "mark", "explain"}


def test_the_line_that_is_offered_is_the_one_that_is_then_typed() -> None:
    (offered,) = re.findall(r"Write: (.*)$", _TEXT, re.MULTILINE)
    assert f"\n  {offered}\n" in _TEXT


@pytest.mark.parametrize("link", re.findall(r"\]\(([^)]+)\)", _TEXT))
def test_its_links_lead_somewhere(link: str) -> None:
    assert (_ROOT / "grammar" / link).exists()
