"""The recipes of DEVELOPERS.md, followed in a copy of the tree: what they add is there and works."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

_ROOT = Path(__file__).parents[2]
_STEP = re.compile(
    r"^in (?P<new>the new file )?`(?P<file>[^`]+)`(?: after `(?P<after>[^`]+)`)?:\n\n"
    r"```(?:python|rules)\n(?P<code>.*?)^```$",
    re.M | re.S,
)
_RULE = """
rule undotted
  "{pitch} has a dot."
  for every note in counterpoint
  forbid it is dotted
  fault
  source "none"
  accepts
    | upper  A4/1
    | cantus D4/1
  rejects at bar 1
    | upper  A4/2. G4/4
    | cantus D4/1
"""


def recipe(heading: str) -> str:
    """The text of a recipe."""
    text = (_ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return re.split(r"^##+ ", text.split(f"### {heading}\n")[1], flags=re.M)[0]


def follow(heading: str, tree: Path) -> None:
    """Copy what is shipped and take every step of a recipe in the copy."""
    for folder in ("rulekit", "rulesets", "grammar", "tests/laws"):
        shutil.copytree(_ROOT / folder, tree / folder, ignore=shutil.ignore_patterns("__pycache__"))
    steps = list(_STEP.finditer(recipe(heading)))
    assert len(steps) == recipe(heading).count("```") // 2
    for step in steps:
        file = tree / step["file"]
        if step["new"]:
            assert not file.exists()
            file.write_text(step["code"], encoding="utf-8")
            continue
        lines = file.read_text(encoding="utf-8").splitlines(keepends=True)
        (place,) = (number for number, line in enumerate(lines, 1) if line.strip() == step["after"])
        lines.insert(place, step["code"])
        file.write_text("".join(lines), encoding="utf-8")


def run(tree: Path, *arguments: str, module: str = "rulekit") -> "subprocess.CompletedProcess[str]":
    """A command of the copy."""
    environment = {**os.environ, "PYTHONPATH": str(tree), "PYTHONUTF8": "1"}
    command = [sys.executable, "-m", module, *arguments]
    return subprocess.run(command, cwd=tree, env=environment, capture_output=True, text=True, encoding="utf-8")


_DEEP = """
rule once-down
  "The lowest note comes {lowest-count} times."
  for every line in counterpoint
  require lowest-count is 1
  fault
  source "none"
  accepts
    | upper  A4 G4 A4
    | cantus D4 E4 D4
  rejects overall
    | upper  A4 A4 B4
    | cantus D4 E4 D4
"""
_EVERY_LINE = """
import sys
from fractions import Fraction
from itertools import product
from pathlib import Path
from rulekit.exercise.model import Event, Exercise, Voice, ALLA_BREVE
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark
from rulekit.music.mode import mode_of
from rulekit.music.pitch import pitch_of
from tests.laws.naive import breaches

ruleset = load_ruleset(sys.argv[1])
cantus = Voice("cantus", tuple(Event(pitch_of(name), Fraction(4)) for name in ("D4", "E4", "F4", "D4")))
allowed = 0
for names in product(("G4", "A4", "B4"), repeat=4):
    upper = Voice("upper", tuple(Event(pitch_of(name), Fraction(4)) for name in names))
    exercise = Exercise("", (upper, cantus), mode_of("D dorian"), ALLA_BREVE, 1)
    found = mark(exercise, ruleset).findings
    assert bool(found) == bool(breaches(ruleset.rules, exercise)) == (names.count(min(names, key=pitch_of)) != 1)
    allowed += not found
print(allowed)
"""


def test_a_stream(tmp_path: Path) -> None:
    """The law: marking, searching and the plain definition come to the same."""
    rules, cantus, tree = tmp_path / "deep.rules", tmp_path / "cantus.notes", tmp_path / "tree"
    rules.write_text(_DEEP, encoding="utf-8")
    cantus.write_text("mode: D dorian\ncantus D4 E4 F4 D4\n", encoding="utf-8")
    follow("A stream", tree)
    told = run(tree, "try", str(rules))
    assert "2 of 2 examples as expected" in told.stdout, told.stdout + told.stderr
    (tree / "every_line.py").write_text(_EVERY_LINE, encoding="utf-8")
    every = run(tree, str(rules), module="every_line")
    assert every.returncode == 0, every.stderr
    searched = run(tree, "count", str(cantus), "--rules", str(rules), "--diatonic", "--range", "G4-B4")
    assert f"\n{every.stdout.strip()} lines" in searched.stdout, searched.stdout + searched.stderr


def test_a_rhythm(tmp_path: Path) -> None:
    """The law: what the rules say of time is what a search composes in, and its lines mark without a fault."""
    cantus, tree = tmp_path / "cantus.notes", tmp_path / "tree"
    cantus.write_text("mode: D dorian\ncantus D4/1 E4 D4\n", encoding="utf-8")
    follow("A rhythm", tree)
    told = run(tree, "try", "half-and-quarters")
    assert "4 of 4 examples as expected" in told.stdout, told.stdout + told.stderr
    drawn = run(tree, "sample", str(cantus), "--rules", "half-and-quarters", "-n", "1", "--seed", "3")
    (upper,) = re.findall(r"^upper +(.*)$", drawn.stdout, re.M)
    assert re.fullmatch(r"(\S+/2 \S+/4 \S+ \|? *){2}\S+/1", upper), drawn.stdout
    (tmp_path / "drawn.notes").write_text(drawn.stdout, encoding="utf-8")
    assert run(tree, "mark", str(tmp_path / "drawn.notes"), "--rules", "half-and-quarters").returncode == 0


def test_an_output_format(tmp_path: Path) -> None:
    score, lines = tmp_path / "exercise.notes", tmp_path / "found.txt"
    score.write_text("mode: D\nupper A4 B4 D5\ncantus D4 E4 D4\n", encoding="utf-8")
    follow("An output format", tmp_path / "tree")
    told = run(tmp_path / "tree", "mark", str(score), "--rules", "first-species-strict", "--lines", str(lines))
    assert told.returncode == 1, told.stderr
    rows = [line.split("\t") for line in lines.read_text(encoding="utf-8").splitlines()]
    assert all(len(row) == 4 and row[0] == str(score) for row in rows)
    assert ["2", "no-parallels"] in [row[1:3] for row in rows]


def test_a_word(tmp_path: Path) -> None:
    rules = tmp_path / "undotted.rules"
    rules.write_text(_RULE, encoding="utf-8")
    follow("A word for a thing that samples already have", tmp_path / "tree")
    told = run(tmp_path / "tree", "try", str(rules))
    assert told.returncode == 0, told.stderr
    assert "2 of 2 examples as expected" in told.stdout
    assert "In the counterpoint, a note must not be dotted." in run(tmp_path / "tree", "handout", str(rules)).stdout


_HIGH = """
rule above-middle-c
  "{pitch} is in the octave {octave-number of pitch}."
  for every note in counterpoint
  require octave-number of pitch is at least 4
  fault
  source "none"
  accepts
    | upper  C4/1 B4 C5
    | cantus C3/1 G3 C4
  rejects at bar 2
    | upper  C4/1 B3 C4
    | cantus C3/1 G3 C4
"""
_EVERY_NOTE = """
import sys
from fractions import Fraction
from rulekit.exercise.model import ALLA_BREVE, Event, Exercise, Voice
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark
from rulekit.music.mode import mode_of
from rulekit.music.pitch import pitch_of
from tests.laws.naive import breaches

ruleset = load_ruleset(sys.argv[1])
for name in ("B#3", "Cb4", "C4", "Fb4", "B4", "Cb5", "E2"):
    notes = {"upper": name, "cantus": "C2"}
    voices = [Voice(label, (Event(pitch_of(note), Fraction(4)),)) for label, note in notes.items()]
    exercise = Exercise("", tuple(voices), mode_of("C ionian"), ALLA_BREVE, 1)
    found = mark(exercise, ruleset).findings
    assert bool(found) == bool(breaches(ruleset.rules, exercise)) == (int(name[-1]) < 4), name
"""


def test_a_function(tmp_path: Path) -> None:
    """The law: it is told, tried and defined plainly the same for notes whose names cross the octave."""
    rules, tree = tmp_path / "high.rules", tmp_path / "tree"
    rules.write_text(_HIGH, encoding="utf-8")
    follow("A function of a value", tree)
    told = run(tree, "try", str(rules))
    assert "2 of 2 examples as expected" in told.stdout, told.stdout + told.stderr
    (tree / "every_note.py").write_text(_EVERY_NOTE, encoding="utf-8")
    every = run(tree, str(rules), module="every_note")
    assert every.returncode == 0, every.stderr


@pytest.mark.parametrize(("notes", "status", "words"), [("A4 C#5 D5", 0, "line-1"), ("A4 H5 D5", 2, "‘H5’")])
def test_a_score_format(tmp_path: Path, notes: str, status: int, words: str) -> None:
    score = tmp_path / "exercise.plain"
    score.write_text(f"{notes}\nD4 E4 D4\n", encoding="utf-8")
    follow("A score format", tmp_path / "tree")
    told = run(
        tmp_path / "tree", "mark", str(score), "--cantus", "2", "--mode", "D dorian", "--rules", "first-species-lenient"
    )
    assert told.returncode == status, told.stderr
    assert words in told.stdout + told.stderr
