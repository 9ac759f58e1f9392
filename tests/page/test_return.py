"""A class returned again and again: only what changed is made, and a return that was killed goes on."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from rulekit.cli import main

_EXERCISE = "exercise: {}\nmode: D dorian\nupper D5 A4 B4 C5 C5 E5 D5 {} D5\ncantus D4 F4 G4 E4 A4 G4 F4 E4 D4\n"
_RULES = "first-species-strict"


def hand_in(folder: Path, name: str, leading: str = "C#5") -> None:
    folder.mkdir(exist_ok=True)
    (folder / f"{name}.notes").write_text(_EXERCISE.format(name, leading), encoding="utf-8")


def command(tmp_path: Path, *more: str) -> list[str]:
    to = ["--to", str(tmp_path / "out")]
    return ["page", str(tmp_path / "class"), "--rules", _RULES, "--search", "0.1", *to, *more]


def times(folder: Path) -> dict[str, int]:
    return {page.name: page.stat().st_mtime_ns for page in folder.glob("*.html") if page.name != "index.html"}


def changed(before: dict[str, int], after: dict[str, int]) -> set[str]:
    return {name for name in after if before.get(name) != after[name]}


def test_only_what_changed_is_made_again(tmp_path: Path) -> None:
    for name in ("ada", "bo", "cy"):
        hand_in(tmp_path / "class", name)
    main(command(tmp_path))
    first = times(tmp_path / "out")
    main(command(tmp_path))
    assert times(tmp_path / "out") == first
    hand_in(tmp_path / "class", "bo", "C5")
    main(command(tmp_path))
    second = times(tmp_path / "out")
    assert changed(first, second) == {"bo.html"}
    (tmp_path / "out" / "cy.html").unlink()
    main(command(tmp_path))
    third = times(tmp_path / "out")
    assert changed(second, third) == {"cy.html"}
    main(command(tmp_path, "--title", "Harbour Street"))
    assert changed(third, times(tmp_path / "out")) == set(third)


def test_another_value_of_a_parameter_makes_all_again(tmp_path: Path) -> None:
    hand_in(tmp_path / "class", "ada")
    main(command(tmp_path))
    first = times(tmp_path / "out")
    main(command(tmp_path, "--set", "most-thirds=2"))
    assert changed(first, times(tmp_path / "out")) == {"ada.html"}


def test_the_index_tells_the_mark_of_the_last_return(tmp_path: Path) -> None:
    hand_in(tmp_path / "class", "ada", "C5")
    main(command(tmp_path))
    index = tmp_path / "out" / "index.html"
    assert "Before" not in index.read_text(encoding="utf-8")
    (old,) = json.loads((tmp_path / "out" / ".returned.json").read_text(encoding="utf-8"))["marks"].values()
    hand_in(tmp_path / "class", "ada")
    hand_in(tmp_path / "class", "bo")
    main(command(tmp_path))
    text = index.read_text(encoding="utf-8")
    assert old < 100 and f"<td>100</td><td>{old}</td>" in text and "<td>100</td><td>new</td>" in text
    main(command(tmp_path))
    assert index.read_text(encoding="utf-8").count("<td>100</td><td>=</td>") == 2


def test_the_index_tells_which_findings_came_and_which_went(tmp_path: Path) -> None:
    hand_in(tmp_path / "class", "ada", "C5")
    main(command(tmp_path))
    index = tmp_path / "out" / "index.html"
    assert "Since the last return" not in index.read_text(encoding="utf-8")
    hand_in(tmp_path / "class", "ada", "F5")
    main(command(tmp_path, "--language", "de"))
    text = index.read_text(encoding="utf-8")
    assert "F5" in text.split("Neu gefunden")[1].split("</details>")[0] and "Nicht mehr gefunden" not in text
    hand_in(tmp_path / "class", "ada")
    main(command(tmp_path, "--language", "de"))
    text = index.read_text(encoding="utf-8")
    assert "F5" in text.split("Nicht mehr gefunden")[1].split("</details>")[0] and "Neu gefunden" not in text
    main(command(tmp_path, "--language", "de"))
    assert "Seit der letzten" not in index.read_text(encoding="utf-8")


def test_pages_of_one_title_are_told_apart(tmp_path: Path) -> None:
    hand_in(tmp_path / "class", "ada")
    file = tmp_path / "class" / "ada.notes"
    file.write_text(f"{file.read_text(encoding='utf-8')}\n{file.read_text(encoding='utf-8')}", encoding="utf-8")
    main(command(tmp_path))
    assert "ada.notes, 2" in (tmp_path / "out" / "ada-2.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("kept", ["", "[]", "{", '{"made": {"a": 1}, "marks": {}}', '{"made": {}, "marks": {"a": []}}'])
def test_a_spoilt_record_is_as_none(tmp_path: Path, kept: str) -> None:
    hand_in(tmp_path / "class", "ada")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / ".returned.json").write_text(kept, encoding="utf-8")
    assert main(command(tmp_path)) == 0
    assert set(times(tmp_path / "out")) == {"ada.html"}


@pytest.mark.skipif(os.name != "posix", reason="a process is killed by a signal")
def test_killed_in_the_middle_it_goes_on(tmp_path: Path) -> None:
    for number in range(12):
        hand_in(tmp_path / "class", f"pupil{number:02}")
    running = subprocess.Popen([sys.executable, "-m", "rulekit", *command(tmp_path)], stdout=subprocess.DEVNULL)
    record = tmp_path / "out" / ".returned.json"
    until = time.monotonic() + 60
    while not record.exists() and time.monotonic() < until:
        time.sleep(0.01)
    running.send_signal(signal.SIGKILL)
    running.wait()
    done = json.loads(record.read_text(encoding="utf-8"))["made"]
    left = {name: time for name, time in times(tmp_path / "out").items() if not name.startswith(".")}
    assert 0 < len(done) < 12
    assert not (tmp_path / "out" / "index.html").exists()
    assert all((tmp_path / "out" / name).read_text(encoding="utf-8").rstrip().endswith("</html>") for name in left)
    assert main(command(tmp_path)) == 0
    after = times(tmp_path / "out")
    assert len(after) == 12 and {name: after[name] for name in done} == {name: left[name] for name in done}


@pytest.mark.skipif(sys.platform != "linux", reason="file names are any bytes on Linux only")
def test_a_file_name_that_is_not_utf8_loses_no_index(tmp_path: Path) -> None:
    hand_in(tmp_path / "class", "ada")
    (tmp_path / "class" / "ada.notes").rename(os.fsdecode(bytes(tmp_path / "class") + b"/ada\xff.notes"))
    book = tmp_path / "marks.csv"
    assert main(command(tmp_path, "--gradebook", str(book))) == 0
    assert "ada?.notes" in (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert "ada?.notes" in book.read_text(encoding="utf-8")
    first = times(tmp_path / "out")
    main(command(tmp_path))
    assert times(tmp_path / "out") == first
