"""What is printed and written: kept when a run is killed, told when it can't go out, harmless to the terminal."""

import json
import os
import signal
import stat
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

import rulekit.cli.mark
from rulekit.cli import GOOD, MISTAKEN, UNUSABLE, main, pool
from rulekit.diagnostics import RulekitError
from rulekit.files import whole, write_whole
from tests.schemas import mistakes

RULES = """\
ruleset "Evening class"

rule no-parallels
  "Parallel {interval}."
  for every move between each pair
  when interval is P5 or P8
  forbid motion is parallel
  fault, 4 points
  source "common practice, no source"
"""
NOTES = "exercise: Pupil {0}\nmode: D\nupper  A4 B4 C5 C#5 D5\ncantus D4 E4 F4 E4  D4\n"
BROKEN = "exercise: Pupil {0}\nmode: D\nupper  A4 H4 C5\ncantus D4 E4\n"
HOSTILE = "\x1b[2J\x9b31m\u202eowned\x07"


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "evening.rules").write_text(RULES, encoding="utf-8")
    (tmp_path / "one.notes").write_text(NOTES.format(1), encoding="utf-8")
    return tmp_path


def start(folder: Path, *words: str, **streams: object) -> "subprocess.Popen[bytes]":
    """A command started as a process; bytecode that it left would be cut off by a limit on files."""
    environment = {"PATH": os.defpath, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONDONTWRITEBYTECODE": "1"}
    given = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **streams}
    if os.name == "posix":  # a shell's background jobs are born deaf to an interruption
        given.setdefault("preexec_fn", lambda: signal.signal(signal.SIGINT, signal.default_int_handler))
    return subprocess.Popen([sys.executable, "-m", "rulekit", *words], cwd=folder, env=environment, **given)  # type: ignore[call-overload]


# ---- a class in which something goes wrong -------------------------------------------------------


@pytest.fixture
def submissions(place: Path) -> list[str]:
    """300 submissions, every fifteenth of them broken."""
    names = [f"pupil-{number:03}.notes" for number in range(300)]
    for number, name in enumerate(names):
        text = (BROKEN if number % 15 == 7 else NOTES).format(number)
        (place / name).write_text(text, encoding="utf-8")
    return names


def test_a_killed_run_has_lost_nothing_of_what_it_did(place: Path, submissions: list[str]) -> None:
    process = start(place, "mark", *submissions, "--rules", "evening", "--json", stderr=subprocess.DEVNULL)
    assert process.stdout is not None
    lines = [process.stdout.readline() for _ in range(100)]
    process.kill()
    lines += process.stdout.read().splitlines(keepends=True)
    process.wait()
    process.stdout.close()
    documents = [json.loads(line) for line in lines if line.endswith(b"\n")]
    assert len(documents) >= len(lines) - 1
    for name, document in zip(submissions, documents, strict=False):
        assert document["file"] == name
        assert mistakes(document) == []
        assert bool(document["problems"]) is (int(name[6:9]) % 15 == 7)
        assert [exercise["mark"] for exercise in document["exercises"]] in ([92], [])


@pytest.mark.parametrize("way", [[], ["--json"]])
def test_over_several_processes_the_same_is_told_in_the_same_order(
    way: list[str],
    place: Path,
    submissions: list[str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    words = ["mark", *submissions[:40], "--rules", "evening", *way]
    monkeypatch.setattr(pool, "_cores", lambda: 2)
    told: list[tuple[int, str, str]] = []
    for many in (40, 41):
        monkeypatch.setattr(rulekit.cli.mark, "_MANY", many)
        status = main(words)
        told.append((status, *capsys.readouterr()))
    assert told[0] == told[1]
    assert told[0][0] == UNUSABLE and told[0][1].count("Pupil") >= 37


def test_broken_submissions_lose_nobody_elses(place: Path, submissions: list[str]) -> None:
    out, err = start(place, "mark", *submissions, "--rules", "evening", "--json").communicate()
    documents = [json.loads(line) for line in out.splitlines()]
    assert [document["file"] for document in documents] == submissions
    assert sum(len(document["exercises"]) for document in documents) == 280
    assert sum(line.startswith(b"pupil-") for line in err.splitlines()) >= 20


@pytest.mark.skipif(os.name != "posix", reason="a signal as a shell sends it")
def test_an_interruption_keeps_what_is_done(place: Path, submissions: list[str]) -> None:
    process = start(place, "mark", *submissions, "--rules", "evening", "--json", bufsize=0)
    assert process.stdout is not None
    first = process.stdout.readline()
    process.send_signal(signal.SIGINT)
    rest, err = process.communicate()
    assert process.returncode == 130
    assert b"Traceback" not in err
    documents = [json.loads(line) for line in (first + rest).splitlines()]
    assert 1 <= len(documents) < len(submissions)


def test_a_mistake_of_the_program_is_told_as_one_and_loses_no_other_exercise(
    place: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (place / "one.notes").write_text("".join(map(NOTES.format, (0, 1, 3))), encoding="utf-8")
    (place / "two.notes").write_text(NOTES.format(2), encoding="utf-8")
    really = rulekit.cli.mark.mark

    def sometimes(exercise: object, ruleset: object) -> object:
        if getattr(exercise, "title", "") == "Pupil 1":
            raise ValueError("a slip of ours")
        return really(exercise, ruleset)  # type: ignore[arg-type]

    monkeypatch.setattr(rulekit.cli.mark, "mark", sometimes)
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    assert main(["mark", "one.notes", "two.notes", "--rules", "evening", "--json"]) == MISTAKEN
    said = capsys.readouterr()
    one, two = map(json.loads, said.out.splitlines())
    assert [each["title"] for each in (*one["exercises"], *two["exercises"])] == ["Pupil 0", "Pupil 3", "Pupil 2"]
    assert mistakes(one) == mistakes(two) == []
    assert "mistake of the program’s" in said.err
    (details,) = place.glob("rulekit-*.txt")
    assert "ValueError: a slip of ours" in details.read_text(encoding="utf-8")


def test_a_mistake_anywhere_has_status_3(
    place: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def slip(*_: object) -> None:
        raise KeyError("upper")

    monkeypatch.setattr("rulekit.language.loading.load_ruleset", slip)
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    assert main(["list", "evening"]) == MISTAKEN
    said = capsys.readouterr()
    assert "mistake of the program’s" in said.err
    assert "Traceback" not in said.err


@pytest.mark.parametrize("words", ["mark one.notes --rules", "try", "list", "count one.notes --rules", "audit"])
def test_a_missing_ruleset_is_a_document_where_documents_were_asked_for(
    words: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command, *rest = words.split()
    more = ["one.notes"] if command == "audit" else []
    assert main([command, *rest, "absent", *more, "--json"]) == UNUSABLE
    document = json.loads(capsys.readouterr().out)
    assert document["command"] == command
    assert mistakes(document) == []
    assert document["problems"][0]["file"] == "absent"


# ---- an output that takes nothing ---------------------------------------------------------------

PRINTING = [
    "mark one.notes --rules evening", "mark one.notes --rules evening --json", "try evening", "list evening",
    "handout evening", "count one.notes --rules evening",
]  # fmt: skip


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("words", PRINTING)
def test_a_full_output_is_told_with_status_2(words: str, place: Path) -> None:
    with Path("/dev/full").open("wb") as full:
        process = start(place, *words.split(), stdout=full)
        _, err = process.communicate()
        assert (process.returncode, err.count(b"\n")) == (UNUSABLE, 1), err
        assert b"No space left" in err
        silent = start(place, *words.split(), stdout=full, stderr=full)
        assert silent.wait() == UNUSABLE


@pytest.mark.skipif(os.name != "posix", reason="closing a stream as a shell does")
def test_a_closed_output_is_told_with_status_2(place: Path) -> None:
    process = start(place, "list", "evening", stdout=None, preexec_fn=lambda: os.close(1))
    _, err = process.communicate()
    assert (process.returncode, err) == (UNUSABLE, b"rulekit: there is nowhere to print to\n")


@pytest.mark.parametrize("words", PRINTING)
def test_a_closed_pipe_is_quiet(words: str, place: Path) -> None:
    process = start(place, *words.split())
    assert process.stdout is not None and process.stderr is not None
    process.stdout.close()
    assert process.stderr.read() == b""
    assert process.wait() == 141
    process.stderr.close()


@pytest.mark.parametrize("columns", ["0", "1", "-3", "wide"])
def test_a_width_that_is_none_is_not_believed(columns: str, place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert main(["mark", "one.notes", "--rules", "evening"]) == 1
    assert main(["list", "evening"]) == GOOD


# ---- signs that a terminal would obey ------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    ["mark one.notes --rules evening", "mark one.notes --rules evening --json", "try evening", "try evening --json",
     "list evening", "list evening --json", "handout evening", "count one.notes --rules evening",
     "count one.notes --rules evening --json", "sample cantus.notes --rules evening",
     "complete cantus.notes --rules evening --json", "mend one.notes --rules evening",
     "whynot one.notes --rules evening", "compare evening evening one.notes", "audit evening one.notes"],
)  # fmt: skip
def test_no_command_prints_what_a_terminal_would_obey(
    words: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (place / "evening.rules").write_text(
        RULES.replace("Evening", f"Evening{HOSTILE}").replace("Parallel", f"Parallel{HOSTILE}"), encoding="utf-8"
    )
    (place / "one.notes").write_text(NOTES.format(HOSTILE), encoding="utf-8")
    (place / "cantus.notes").write_text(f"exercise: {HOSTILE}\nmode: D\ncantus D4 F4 E4 D4\n", encoding="utf-8")
    main(words.split())
    said = capsys.readouterr()
    assert said.out
    assert all(sign.isprintable() or sign == "\n" for sign in said.out + said.err)


# ---- files whole or not at all -------------------------------------------------------------------


def test_a_file_that_is_not_written_to_its_end_is_not_touched(tmp_path: Path) -> None:
    path = tmp_path / "kept.rules"
    path.write_text("as it was", encoding="utf-8")
    with pytest.raises(RulekitError, match="can’t be written: No space"), whole(path) as new:
        new.write_text("half of", encoding="utf-8")
        raise OSError(28, "No space left on device")
    assert path.read_text(encoding="utf-8") == "as it was"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.skipif(os.name != "posix", reason="limits and permissions of POSIX")
def test_a_ruleset_survives_a_full_disk(place: Path) -> None:
    """A limit on the size of files stands for the disk."""
    untidy = RULES.replace("  for every", "for   every") + "\n" + f"-- {'long ' * 20}\n" * 100
    (place / "evening.rules").write_text(untidy, encoding="utf-8")

    def small() -> None:
        import resource

        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))

    process = start(place, "format", "evening", preexec_fn=small)
    _, err = process.communicate()
    assert process.returncode == UNUSABLE
    assert b"can\xe2\x80\x99t be written" in err
    assert (place / "evening.rules").read_text(encoding="utf-8") == untidy
    assert not [path for path in place.iterdir() if path.name.startswith(".evening")]


@pytest.mark.skipif(os.name != "posix", reason="links and permissions of POSIX")
def test_links_and_permissions_are_kept(tmp_path: Path) -> None:
    path, link = tmp_path / "real.rules", tmp_path / "link.rules"
    path.write_text("old", encoding="utf-8")
    path.chmod(0o640)
    link.symlink_to(path)
    write_whole(link, "new")
    assert link.is_symlink()
    assert path.read_text(encoding="utf-8") == "new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    write_whole(tmp_path / "fresh.rules", "new")
    (tmp_path / "plain").touch()
    assert (tmp_path / "fresh.rules").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_what_is_no_regular_file_is_written_as_it_is(place: Path) -> None:
    assert main(["handout", "evening", "-o", os.devnull]) == GOOD
    assert not Path(os.devnull).is_file()


@pytest.mark.parametrize("name", ["lines", "lines.pdf", "lines.krn"])
def test_a_search_says_what_kinds_of_files_it_writes(
    name: str, place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Law that was missing: a file name that can’t be used is told with status 2 by every command."""
    (place / "c.notes").write_text("exercise: c\nmode: D\ncantus D4 E4 D4\n", encoding="utf-8")
    assert main(["complete", str(place / "c.notes"), "-o", str(place / name)]) == UNUSABLE
    assert ".musicxml" in capsys.readouterr().err
    assert not (place / name).exists()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is full")
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_help_that_can_not_be_printed_is_told(unbuffered: str) -> None:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "PYTHONUNBUFFERED": unbuffered}
    for words in (["--help"], ["mark", "--help"]):
        with Path("/dev/full").open("w") as full:
            ended = subprocess.run(
                [sys.executable, "-m", "rulekit", *words],
                stdout=full,
                stderr=subprocess.PIPE,
                env=environment,
                text=True,
            )
        assert ended.returncode == UNUSABLE
        assert ended.stderr.startswith("rulekit: can’t print")


def test_a_command_can_be_stopped_before_its_modules_are_loaded() -> None:
    """What is loaded before the command line is ready to tell of an interruption is next to nothing."""
    code = "import sys, rulekit.cli; print(*(name for name in sys.modules if name.startswith('rulekit')))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    few = {"__main__", "cli", "cli.status", "diagnostics", "displays"}
    assert set(loaded) == {"rulekit", *(f"rulekit.{name}" for name in few)}


_INTERRUPTED = """
import sys
class Finder:
    def find_spec(self, name, path=None, target=None):
        if name == {name!r}:
            sys.meta_path.remove(self)
            raise {error}
sys.meta_path.insert(0, Finder())
sys.argv = ["rulekit", "try", "vocabulary"]
from rulekit.__main__ import main
sys.exit(main())
"""


@pytest.mark.parametrize("error", ["KeyboardInterrupt", "RuntimeError from KeyboardInterrupt()"])
@pytest.mark.parametrize("name", ["rulekit.cli", "argparse", "rulekit.cli.trying", "lark", "rulekit.trying"])
def test_an_interruption_while_modules_are_loaded_is_told_in_a_line(name: str, error: str) -> None:
    """Law that was missing: from its first line on a command ends as an interrupted one does."""
    ended = subprocess.run(
        [sys.executable, "-c", _INTERRUPTED.format(name=name, error=error)], capture_output=True, text=True
    )
    assert (ended.returncode, ended.stderr) == (130, "rulekit: interrupted\n")


def test_an_interruption_that_python_drops_comes_again() -> None:
    code = """
import signal, sys, time
from rulekit.__main__ import main
signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell in the background lets it be ignored
class Cleared:
    def __del__(self):
        raise KeyboardInterrupt
def clear(words=None):
    one = Cleared()
    del one
    time.sleep(10)
    return 0
import rulekit.cli
rulekit.cli._run = clear
sys.exit(main())
"""
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert (ended.returncode, ended.stderr) == (130, "rulekit: interrupted\n")
