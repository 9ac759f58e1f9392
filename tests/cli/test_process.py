"""The command line as a process: pipes, colours, width, and what is loaded."""

import os
import subprocess
import sys
from pathlib import Path

# Fux, Gradus ad Parnassum (1725), figure 5.
NOTES = "mode: D dorian\nupper  A4 A4 G4 A4 B4 C5 C5 B4 D5 C#5 D5\ncantus D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4\n"


def start(tmp_path: Path, *words: str, **environment: str) -> "subprocess.Popen[bytes]":
    """A command started on an exercise, its output in pipes."""
    (tmp_path / "one.notes").write_text(NOTES, encoding="utf-8")
    return subprocess.Popen(
        [sys.executable, *words],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={"PATH": os.defpath, "PYTHONPATH": os.pathsep.join(sys.path), **environment},
    )


MARK = ("-m", "rulekit", "mark", "one.notes", "--rules", "first-species-strict")


def test_a_pipe_gets_80_columns_without_colour(tmp_path: Path) -> None:
    out, err = start(tmp_path, *MARK).communicate()
    lines = out.decode().splitlines()
    assert err == b""
    assert any(line.startswith("Mark: ") for line in lines)
    assert all(len(line) <= 80 and line == line.rstrip() for line in lines)
    assert b"\x1b" not in out


def test_colour_can_be_asked_for_and_refused(tmp_path: Path) -> None:
    coloured, _ = start(tmp_path, *MARK, FORCE_COLOR="1", TERM="xterm-256color").communicate()
    plain, _ = start(tmp_path, *MARK, NO_COLOR="1").communicate()
    assert b"\x1b[" in coloured
    assert b"\x1b[" not in plain


def test_a_narrow_old_terminal_gets_what_it_can_show(tmp_path: Path) -> None:
    process = start(tmp_path, *MARK, COLUMNS="40", PYTHONIOENCODING="ascii")
    out, err = process.communicate()
    assert process.returncode in (0, 1), err
    assert max(map(len, out.decode("ascii").splitlines())) <= 40


def test_a_closed_pipe_ends_without_a_word(tmp_path: Path) -> None:
    process = start(tmp_path, *MARK)
    assert process.stdout is not None and process.stderr is not None
    process.stdout.close()
    assert process.stderr.read() == b""
    assert process.wait() == 141
    process.stderr.close()


def test_typed_notation_needs_no_library_of_scores(tmp_path: Path) -> None:
    program = f"import sys; from rulekit.cli import main; main({list(MARK[2:])!r}); sys.exit('music21' in sys.modules)"
    process = start(tmp_path, "-c", program)
    _, err = process.communicate()
    assert (process.returncode, err) == (0, b"")


def test_a_wrong_command_is_told_with_status_2(tmp_path: Path) -> None:
    process = start(tmp_path, "-m", "rulekit", "makr")
    _, err = process.communicate()
    assert process.returncode == 2
    assert b"makr" in err and b"Traceback" not in err
