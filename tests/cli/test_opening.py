"""No command opens a rules file or a score twice, whether it was understood in an earlier run or not."""

import sys
from collections import Counter
from pathlib import Path

import pytest

from rulekit.cli import FAULTS, GOOD, main
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.scores import save_scores

OWN = """ruleset "Evening class"
build on first-species-strict
set most-thirds to 2
"""
EXERCISE = "mode: D\nupper A4 B4 C5 C#5 D5\ncantus D4 E4 F4 E4 D4\n"
COMMANDS = [
    "mark one.notes --rules own", "mark one.musicxml --rules own --musicxml remarked",
    "explain one.notes --rules own --rule consonant", "page one.notes --rules own --to pages --search 0.1",
    "try own", "list own", "handout own", "format --check own.rules", "count one.notes --rules own",
    "fit own one.notes", "survey one.notes --rules own --to surveyed",
]  # fmt: skip
_opened: list[Path] | None = None


def _hear(event: str, given: tuple[object, ...]) -> None:
    if event == "open" and _opened is not None and isinstance(given[0], str):
        _opened.append(Path(given[0]).resolve())


sys.addaudithook(_hear)


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "own.rules").write_text(OWN, encoding="utf-8")
    (tmp_path / "one.notes").write_text(EXERCISE, encoding="utf-8")
    save_scores(read_exercises(EXERCISE)[0], tmp_path / "one.musicxml")
    return tmp_path


@pytest.mark.parametrize("words", COMMANDS)
def test_a_file_is_opened_once(words: str, place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(2):
        opened: list[Path] = []
        monkeypatch.setattr(sys.modules[__name__], "_opened", opened)
        assert main(words.split()) in (GOOD, FAULTS)
        monkeypatch.setattr(sys.modules[__name__], "_opened", None)
        read = Counter(path for path in opened if path.suffix == ".rules" or path.stem == "one")
        assert read
        own = {path: count for path, count in read.items() if "remarked" not in path.parts}
        assert set(own.values()) == {1}
