"""How fast exercises are marked: ``python -m tests.benchmarks.marking``."""

import importlib.util
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from music21 import note

from rulekit.compiler.monitor import monitors
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import write_exercise
from rulekit.language.parser import parse
from rulekit.language.ruleset import load_ruleset
from rulekit.marking import mark
from rulekit.music.pitch import pitch_name
from tests.benchmarks.by_hand import check
from tests.benchmarks.tables import best_of, show
from tests.rulesets.figures import FIGURES

_ROUNDS = 20


def as_notes(exercise: Exercise) -> tuple[list[note.Note], list[note.Note], bool]:
    """The two voices as notes of music21, and whether the counterpoint is the upper one."""
    upper, lower = (
        [note.Note(pitch_name(event.pitch).replace("b", "-")) for event in voice.events if event.pitch is not None]
        for voice in exercise.voices
    )
    return upper, lower, exercise.cantus == 1


def against_hand_written_checks() -> None:
    """The strict ruleset's monitors against checks written with music21's voice-leading classes."""
    exercises = [figure.exercise for figure in FIGURES if len(figure.voices) == 2]
    strict = load_ruleset("first-species-strict")
    for exercise in exercises:
        monitors(strict, exercise.setting)
    voices = [as_notes(exercise) for exercise in exercises]
    ours = best_of(_ROUNDS, lambda: [mark(exercise, strict) for exercise in exercises])
    theirs = best_of(3, lambda: [check(*both) for both in voices])
    found = sum(len(mark(exercise, strict).findings) for exercise in exercises)
    also = sum(len(check(*both)) for both in voices)
    show(
        f"marking {len(exercises)} figures of Fux (note against note, two voices)",
        ["", "ms in all", "µs a note", "findings"],
        [[name, f"{seconds * 1e3:.2f}", f"{seconds * 1e6 / _notes(exercises):.1f}", number]
         for name, seconds, number in ((f"rulekit, {len(strict.rules)} rules", ours, found),
                                       ("music21 by hand", theirs, also))],
    )  # fmt: skip
    print(f"  ratio {theirs / ours:.1f} (wanted: 50 or more)")


def _notes(exercises: Sequence[Exercise]) -> int:
    return sum(len(voice.events) for exercise in exercises for voice in exercise.voices)


def loading() -> None:
    """From the text of the strict ruleset to monitors, once the grammar is loaded."""
    parse("", "<nothing>")
    setting = FIGURES[0].exercise.setting
    read = best_of(5, lambda: load_ruleset("first-species-strict"))
    ruleset = load_ruleset("first-species-strict")

    def compile_afresh() -> None:
        ruleset.compiled.clear()
        monitors(ruleset, setting)

    compiled = best_of(5, compile_afresh)
    show(
        "loading the strict ruleset",
        ["", "ms"],
        [["parse and check", f"{read * 1e3:.1f}"], ["make monitors", f"{compiled * 1e3:.1f}"]],
    )
    print("  wanted: monitors in less than 60 ms")


def whole_process() -> None:
    """Marking one file, from the shell."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "file.notes"
        path.write_text(write_exercise(FIGURES[0].exercise), encoding="utf-8")
        command = ["-m", "rulekit", "mark", str(path), "--rules", "first-species-strict"]
        rows = [[f"python {' '.join(command[:3])}", f"{_run(command):.2f}"],
                ["python -c pass", f"{_run(['-c', 'pass']):.2f}"]]  # fmt: skip
        show("one exercise in a process of its own", ["", "s"], rows)
        imported = subprocess.run(
            [sys.executable, "-X", "importtime", *command], capture_output=True, text=True, check=False
        ).stderr
    print("  wanted: less than 0.4 s; music21 is", "imported" if "music21" in imported else "not imported")


def _run(command: Sequence[str]) -> float:
    trials: list[float] = []
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run([sys.executable, *command], capture_output=True, check=False)
        trials.append(time.perf_counter() - start)
    return min(trials)


if __name__ == "__main__":
    against_hand_written_checks()
    loading()
    if importlib.util.find_spec("rulekit.__main__"):
        whole_process()
