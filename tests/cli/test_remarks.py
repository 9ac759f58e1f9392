"""A student's own score with what was found in it, read back by music21 and by the engraver."""

import re
from pathlib import Path
from typing import Any

import pytest
import verovio

from rulekit import load_exercises, load_ruleset, mark
from rulekit.cli import FAULTS, UNUSABLE, main
from rulekit.exercise.figures import figures
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.scores import save_scores
from tests.exercise.test_annotate import words_of
from tests.page.cases import FAULTY
from tests.page.test_shared import SHARED

_RULES = "first-species-strict"


def marked(scores: list[Path], folder: Path) -> int:
    return main(["mark", *map(str, scores), "--rules", _RULES, "--musicxml", str(folder)])


def as_mei(path: Path) -> str:
    """The score as the engraver reads it."""
    toolkit: Any = verovio.toolkit()
    assert toolkit.loadFile(str(path))
    return str(toolkit.getMEI())


@pytest.mark.parametrize("suffix", [".musicxml", ".mxl", ".notes"])
def test_findings_stand_at_their_notes_as_words_and_intervals_as_figures(tmp_path: Path, suffix: str) -> None:
    ((exercise,), _) = read_exercises(FAULTY)
    score, folder = tmp_path / f"lock{suffix}", tmp_path / "back"
    save_scores([exercise], score)
    (exercise,) = load_exercises(score)
    assert marked([score], folder) == FAULTS
    (back,) = folder.iterdir()
    found = mark(exercise, load_ruleset(_RULES)).findings
    said = sorted((text.split(" ", 1)[0], bar) for text, bar, _ in words_of(back))
    assert said == sorted((f"({n})" if f.excuse else str(n), f.bar or 1) for n, f in enumerate(found, 1))
    mei = as_mei(back)
    assert len(re.findall(r"<dir\b", mei)) == len(found)
    shown = [[re.sub("<[^>]*>", "", f).strip() for f in re.findall(r"<f\b.*?</f>", harm, re.S)]
             for harm in re.findall(r"<fb\b.*?</fb>", mei, re.S)]  # fmt: skip
    assert [[int(re.sub(r"\D", "", f)) for f in each] for each in shown] == [
        [int(re.sub(r"\D", "", f.words())) for f in each.figures] for each in figures(exercise)
    ]


def test_figures_that_change_over_a_held_note_follow_each_other(tmp_path: Path) -> None:
    (tmp_path / "two.notes").write_text("mode: D\nupper A4/2 D5 E5 D5 D5/1\ncantus D4/1 G4 D4\n", encoding="utf-8")
    marked([tmp_path / "two.notes"], tmp_path / "back")
    held = re.findall(r"<figure-number>(\d+)</figure-number></figure><duration>(\d+)<",
                      (tmp_path / "back" / "two.musicxml").read_text(encoding="utf-8"))  # fmt: skip
    assert [number for number, _ in held] == ["5", "8", "6", "5", "8"]
    assert [int(length) for _, length in held] == [int(held[0][1])] * 4 + [2 * int(held[0][1])]


def test_two_solutions_on_one_cantus_come_back_on_one_score(tmp_path: Path) -> None:
    (tmp_path / "both.notes").write_text(SHARED, encoding="utf-8")
    marked([tmp_path / "both.notes"], tmp_path / "back")
    (back,) = (tmp_path / "back").iterdir()
    assert len(load_exercises(back)[0].voices) == 3
    assert back.read_text(encoding="utf-8").count("<figured-bass>") == 18


def test_a_score_is_never_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (exercises, _) = read_exercises(FAULTY)
    save_scores(exercises, tmp_path / "lock.musicxml")
    before = (tmp_path / "lock.musicxml").read_bytes()
    assert marked([tmp_path / "lock.musicxml"], tmp_path) == UNUSABLE
    assert (tmp_path / "lock.musicxml").read_bytes() == before
    assert "this is the score itself" in capsys.readouterr().err
