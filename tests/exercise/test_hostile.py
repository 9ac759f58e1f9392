"""Bad scores: each is read or refused in words, soon, in little memory, and none harms another."""

import os
import random
import subprocess
import sys
import time
import tracemalloc
import zipfile
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

import rulekit.cli.mark
from rulekit.cli import UNUSABLE, main
from rulekit.exercise import clock, scores
from rulekit.exercise.clock import Allowance, TimeUp, within
from rulekit.exercise.reading import Piece
from rulekit.exercise.scores import SUFFIXES, load_scores
from tests.exercise.fuzzing import ABC, KERN, MEI, MUSICXML, NOTES, SOUND, bad_score

_SECONDS, _BYTES = 10, 500_000_000
_FROM_SEED = int(os.environ.get("SCORE_SEED", "1"))
_EACH = int(os.environ.get("SCORE_FILES", "60"))


def outcome(path: Path) -> list[str]:
    """What is said of a file; it is read or refused, and no message is endless or reaches into a terminal."""
    began = time.process_time()
    exercises, problems = load_scores(path)
    assert time.process_time() - began < _SECONDS
    assert exercises or problems
    words = [f"{problem.message} {problem.hint}" for problem in problems]
    words += [exercise.title + " ".join(exercise.inferred) for exercise in exercises]
    assert all(len(text) < 3_000 for text in words)
    assert all(c.isprintable() or c in "\t\n" for text in words for c in text)
    return [problem.message for problem in problems]


@pytest.mark.parametrize("suffix", SOUND)
def test_the_scores_that_are_spoilt_are_sound(suffix: str, tmp_path: Path) -> None:
    (tmp_path / f"a{suffix}").write_bytes(SOUND[suffix])
    exercises, problems = load_scores(tmp_path / f"a{suffix}")
    assert exercises and not problems


@pytest.mark.parametrize("suffix", SOUND)
def test_spoilt_scores_are_read_or_refused(suffix: str, tmp_path: Path) -> None:
    path = tmp_path / f"a{suffix}"
    print(f"SCORE_SEED={_FROM_SEED} SCORE_FILES={_EACH}")
    for seed in range(_FROM_SEED, _FROM_SEED + _EACH):
        path.write_bytes(bad_score(suffix, random.Random(f"{suffix} {seed}")))
        try:
            outcome(path)
        except BaseException:
            print(f"{suffix}, seed {seed}")
            raise


def _xml(old: str, new: str) -> bytes:
    assert old.encode() in MUSICXML
    return MUSICXML.replace(old.encode(), new.encode(), 1)


def _bomb() -> str:
    names = ["<!ENTITY a0 'x'>", *(f"<!ENTITY a{i} '{f'&a{i - 1};' * 10}'>" for i in range(1, 10))]
    return f"<!DOCTYPE a [{''.join(names)}]>"


HOSTILE = {
    "an octave": (".musicxml", _xml("<octave>4<", "<octave>1000000000<")),
    "an alteration": (".musicxml", _xml("<alter>1<", "<alter>10000000<")),
    "a fine alteration": (".musicxml", _xml("<alter>1<", f"<alter>0.{'1' * 100_000}<")),
    "beats": (".xml", _xml("<beats>2<", "<beats>1000<")),
    "beats, spelled": (".xml", _xml("<beats>2<", "<beats>\n&#49;000 <")),
    "beats, many terms": (".xml", _xml("<beats>2<", f"<beats>{'1+' * 100_000}1<")),
    "a long note": (".musicxml", _xml("<duration>8<", "<duration>999999999<")),
    "fine divisions": (".musicxml", _xml("<divisions>4<", "<divisions>999999937<")),
    "entities": (".musicxml", MUSICXML.replace(
        b"<score-p", _bomb().encode() + b"<score-p", 1).replace(b"Dawn", b"&a9;")),
    "a file of the system": (".xml", MUSICXML.replace(
        b"<score-p", b"<!DOCTYPE a [<!ENTITY a SYSTEM 'file:///etc/passwd'>]><score-p", 1).replace(b"Dawn", b"&a;")),
    "deep": (".musicxml", b"<score-partwise>" + b"<a>" * 260_000),
    "wide": (".musicxml", b"<score-partwise>" + b"<a/>" * 260_000 + b"</score-partwise>"),
    "many attributes": (".musicxml", b"<a " + b"".join(b"a%d='' " % i for i in range(260_000)) + b"/>"),
    "much text": (".musicxml", b"<score-partwise>" + b"x<a/>" * 260_000 + b"</score-partwise>"),
    "many measures": (".musicxml", _xml("</part>", "<measure/>" * 260_000 + "</part>")),
    "many parts": (".musicxml", _xml("</score-partwise>", "<part><measure/></part>" * 250_000 + "</score-partwise>")),
    "many voices": (".musicxml", _xml("</part>", "<measure>" + "".join(
        f"<note><rest/><duration>0</duration><voice>{i}</voice></note>" for i in range(90_000)) + "</measure></part>")),
    "many notes": (".musicxml", _xml("</part>", "<measure>" + "<note><rest/><duration>0</duration></note>" * 140_000
        + "</measure></part>")),
    "ABC, a long note": (".abc", b"X:1\nK:C\nd999"),
    "ABC, a longer note": (".abc", b"X:1\nK:C\n" + b"d9999" * 200_000),
    "ABC, bars of rest": (".abc", b"X:1\nM:4/4\nK:C\n" + b"Z999999|" * 20_000),
    "ABC, many notes": (".abc", b"X:1\nL:1/64\nK:C\n" + b"c" * 200_001),
    "ABC, many bars": (".abc", b"X:1\nL:1/64\nK:C\n" + b"c|" * 200_001),
    "ABC, many tunes": (".abc", b"X:1\nK:C\nc\n" * 200_000),
    "ABC, many voices": (".abc", b"X:1\nK:C\n" + b"".join(b"V:%d\nc\n" % i for i in range(100_000))),
    "ABC, quotes": (".abc", b"X:1\nK:C\n" + b'"' * 200_001),
    "ABC, brackets": (".abc", b"X:1\nK:C\n" + b"[" * 200_001),
    "ABC, slashes": (".abc", b"X:1\nK:C\nc" + b"/" * 200_001),
    "ABC, spaces in fields": (".abc", b"X:1\nK:C" + b" " * 200_001 + b"x=" * 200_000 + b"\nc"),
    "ABC, a key": (".abc", b"X:1\nK:C " + b"^f " * 260_000 + b"\nc"),
    "ABC, a title": (".abc", b"X:1\nT:" + b"\x1b[31m" * 200_000 + b"\nK:C\nc"),
    "ABC, broken rhythm": (".abc", b"X:1\nK:C\n" + b"c>" * 260_000),
    "ABC, fine tuplets": (".abc", b"X:1\nK:C\n" + b"(7c/7(9c/9(5c/11c/13c/17" * 5_000),
    "kern, many splits": (".krn", b"**kern\n" + b"".join(b"\t".join([b"*^"] * 2**i) + b"\n" for i in range(18))),
    "kern, wide": (".krn", b"\t".join([b"**kern"] * 400_000) + b"\n"),
    "kern, many notes": (".krn", b"**kern\n" + b"128c\n" * 200_001),
    "kern, many bars": (".krn", b"**kern\n" + b"128c\n=\n" * 200_001),
    "kern, fine": (".krn", b"**kern\n" + b"".join(b"%dc\n" % (i % 9000 + 17) for i in range(100_000))),
    "kern, a long word": (".krn", b"**kern\n4" + b"." * 1_000_000 + b"\n"),
    "kern, a signature": (".krn", b"**kern\n*k[" + b"f#" * 200_001 + b"\n"),
    "MIDI, long": (".mid", b"MThd\0\0\0\6\0\0\0\1\0\1MTrk"
        b"\0\0\0\x0f\0\x90\x3c\x40\xff\xff\xff\x7f\x80\x3c\0\0\xff\x2f\0"),
    "MIDI, many notes": (".mid", b"MThd\0\0\0\6\0\1\0\1\0\1MTrk\0\x7f\xff\xff" + b"\0\x90\x3c\x40\1\x3c\0" * 200_001),
    "MIDI, held notes": (".mid", b"MThd\0\0\0\6\0\1\0\1\0\1MTrk\0\x7f\xff\xff" + b"\0\x90\x3c\x40" * 200_001),
    "MIDI, many tracks": (".mid", b"MThd\0\0\0\6\0\1\0\1\0\1" + b"MTrk\0\0\0\7\0\x90\x3c\x40\1\x3c\0" * 400_000),
    "MIDI, many times": (".mid", b"MThd\0\0\0\6\0\1\0\1\0\1MTrk\0\x7f\xff\xff\0\x90\x3c\x40"
        + b"\1\xff\x58\4\1\6\0\0" * 100_000 + b"\1\x3c\0"),
    "MEI, many staves": (".mei", MEI.replace(b"</staffGrp>", b"<staffDef/>" * 260_000 + b"</staffGrp>")),
    "MEI, many layers": (".mei", MEI.replace(b"<layer n=\"2\">", b"<layer/>" * 260_000 + b"<layer n='2'>")),
    "MEI, nested tuplets": (".mei", MEI.replace(
        b"<mRest/>", b"<tuplet num='97' numbase='89'>" * 45 + b"<note/>" + b"</tuplet>" * 45)),
    "MEI, many measures": (".mei", MEI.replace(b"</section>", b"<measure/>" * 260_000 + b"</section>")),
    "MEI, many readings": (".mei", MEI.replace(b"</section>", b"<app/>" * 260_000 + b"</section>")),
    "typed, many notes": (".notes", b"a " + b"A4 " * 100_000),
    "typed, many voices": (".notes", b"".join(b"v%d A4\n" % i for i in range(200_000))),
}  # fmt: skip


# The files that take longest for what they hold, as large as they may be.
_NOTE_HERE = "<note>{}<pitch><step>D</step><octave>4</octave></pitch><duration>4</duration><voice>1</voice></note>"
WORST = {
    "kern, many short exercises": (".krn", b"\t".join([b"**kern"] * 12) + b"\n"
        + (b"\t".join([b"1c"] * 12) + b"\n" + b"\t".join([b"=||"] * 12) + b"\n") * 2_400),
    "kern, wide and silent": (".krn", b"\t".join([b"**kern"] * 60) + b"\n" + b"\t".join([b"1c"] * 60) + b"\n"
        + (b"\t".join([b"."] * 60) + b"\n") * 8_000),
    "kern, lines without notes": (".krn", b"**kern\n1c\n" + b".\n" * 99_000),
    "ABC, bar lines": (".abc", b"X:1\nK:C\nc" + b"|~" * 490_000),
    "ABC, tuplets": (".abc", b"X:1\nK:C\nc" + b"(3" * 490_000),
    "ABC, ties": (".abc", b"X:1\nK:C\nc" + b"-" * 990_000),
    "ABC, graces": (".abc", b"X:1\nK:C\nc" + b"{a}" * 330_000),
    "ABC, keys": (".abc", b"X:1\nK:C\nc\n" + b"K:D dor ^f\n" * 90_000),
    "MusicXML, a chord of thousands": (".musicxml", b"<score-partwise><part><measure>"
        + (_NOTE_HERE.format("") + _NOTE_HERE.format("<chord/>") * 24_000).encode()
        + b"</measure></part></score-partwise>"),
    "MusicXML, attributes": (".musicxml", b"<score-partwise><part>" + b"<a a='' b='' c='' d=''/>" * 140_000
        + b"</part></score-partwise>"),
    "MEI, many movements": (".mei", b"<mei>"
        + b"<score><scoreDef><staffGrp><staffDef n='1'/></staffGrp></scoreDef><section>"
        b"<measure><staff n='1'><layer><note pname='d' oct='4' dur='1'/></layer></staff></measure></section></score>"
        * 20_000 + b"</mei>"),
    "MEI, deep definitions": (".mei", b"<mei><score>" + b"<scoreDef>" * 50 + b"<staffDef n='1'/>" * 140_000
        + b"</scoreDef>" * 50 + b"</score></mei>"),
    "MIDI, time signatures": (".mid", b"MThd\0\0\0\6\0\1\0\1\x7f\xffMTrk\0\x7f\xff\xff\0\x90\x3c\x40"
        + b"\1\xff\x58\4\1\6\0\0" * 110_000 + b"\1\x3c\0"),
    "MIDI, messages": (".mid", b"MThd\0\0\0\6\0\1\0\1\0\1MTrk\0\x7f\xff\xff\0\xb0\0\0" + b"\0\0\0" * 330_000),
    "MIDI, notes without length": (".mid", b"MThd\0\0\0\6\0\1\0\1\0\1MTrk\0\0\0\x0b\0\x90\x3c\x40\0\x3c\0\0\xff\x2f\0"),
}  # fmt: skip


@pytest.mark.parametrize("name", [*HOSTILE, *WORST])
def test_a_hostile_score_is_refused_in_good_time(name: str, tmp_path: Path) -> None:
    suffix, data = {**HOSTILE, **WORST}[name]
    path = tmp_path / f"a{suffix}"
    path.write_bytes(data)
    outcome(path)


@pytest.mark.skipif(sys.implementation.name != "cpython", reason="the clock speaks to this interpreter")
def test_a_reader_that_takes_too_long_is_ended_and_harms_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The law: whatever a reader does, even where it takes every error for one of the file, its time is bounded."""

    def endless(data: bytes, path: str) -> list[Piece]:
        while b"slow" in data:
            try:
                time.sleep(0.001)
            except Exception:
                continue
        return list(scores.FORMATS[0].read(data, path))

    format_ = replace(scores.FORMATS[0], suffixes=(".slow",), read=endless)
    monkeypatch.setattr(scores, "FORMATS", (*scores.FORMATS, format_))
    monkeypatch.setattr(scores, "SUFFIXES", (*SUFFIXES, ".slow"))
    monkeypatch.setattr(scores, "MAX_SECONDS", 0.2)
    for name, title in (("a", b"one"), ("b", b"slow"), ("c", b"three")):
        (tmp_path / f"{name}.slow").write_bytes(NOTES.replace(b"Orla", title))
    paths = [str(tmp_path / f"{name}.slow") for name in "abc"]
    assert outcome(Path(paths[0])) == []
    (words,) = outcome(Path(paths[1]))
    assert "longer than 10 s to read" in words
    assert main(["mark", *paths, "--rules", "first-species-lenient"]) == UNUSABLE
    told = capsys.readouterr()
    assert told.out.count("Mark: ") == 2 and told.err.count("to read") == 1


def test_what_is_done_in_time_is_never_ended() -> None:
    for _ in range(200):
        with within(0.0):
            pass
    for _ in range(20):
        with pytest.raises(TimeUp), within(0.0):
            while True:
                pass
    time.sleep(0.6)


def test_a_busy_machine_takes_nothing_off_the_time_of_a_file(monkeypatch: pytest.MonkeyPatch) -> None:
    """The law: what counts is work; where others have the machine, up to six times as long may go by."""
    spent = SimpleNamespace(work=0.0, gone=0.0)
    now = SimpleNamespace(process_time=lambda: spent.work, monotonic=lambda: spent.gone)
    monkeypatch.setattr(clock, "time", now)
    allowed = Allowance(10)
    for spent.work, spent.gone, over in ((1, 50, False), (9, 9, False), (11, 11, True), (1, 61, True)):
        assert (allowed.left < 0) == over


def test_of_a_file_with_too_much_in_it_what_is_marked_in_time_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The law: a file takes no longer than it may, however much each of its exercises has to be told of."""
    (tmp_path / "class.notes").write_bytes(NOTES * 40)
    monkeypatch.setattr(rulekit.cli.mark, "MAX_SECONDS", 0.0)
    assert main(["mark", str(tmp_path / "class.notes"), "--rules", "first-species-lenient"]) == UNUSABLE
    told = capsys.readouterr()
    assert told.out.count("Mark: ") == 1 and "39 of them are not marked" in told.err


def test_a_note_is_no_longer_than_a_sign_can_say(tmp_path: Path) -> None:
    (tmp_path / "a.abc").write_bytes(b"X:1\nK:C\nd999\n")
    (message,) = outcome(tmp_path / "a.abc")
    assert "a note of 999/2 quarter notes" in message


@pytest.mark.parametrize("name", ["wide", "many notes", "kern, many notes", "MIDI, many notes"])
def test_a_hostile_score_takes_little_memory(name: str, tmp_path: Path) -> None:
    suffix, data = HOSTILE[name]
    path = tmp_path / f"a{suffix}"
    path.write_bytes(data)
    tracemalloc.start()
    load_scores(path)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < _BYTES


def test_an_archive_that_unpacks_to_too_much_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.mxl"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.xml", b"<score-partwise>" + b" " * 50_000_000)
    (message,) = outcome(path)
    assert "when unpacked" in message


def test_what_is_no_file_is_not_read(tmp_path: Path) -> None:
    (tmp_path / "folder.krn").mkdir()
    assert outcome(tmp_path / "folder.krn") == ["this is a folder"]
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.abc")
        assert outcome(tmp_path / "pipe.abc") == ["this is not a file"]
    if Path("/dev/zero").exists():
        (tmp_path / "endless.abc").symlink_to("/dev/zero")
        assert outcome(tmp_path / "endless.abc") == ["this is not a file"]
    assert outcome(Path("a\0.krn")) == ["this is not the name of a file"]


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_settings_of_a_score_library_do_not_matter(
    suffix: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in (".music21rc", ".config/music21.xml"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("<settings", encoding="utf-8")
    monkeypatch.setenv("HOME", str(tmp_path))
    sound = SOUND.get(suffix) or SOUND[{".xml": ".musicxml", ".kern": ".krn", ".midi": ".mid"}[suffix]]
    (tmp_path / f"a{suffix}").write_bytes(sound)
    assert outcome(tmp_path / f"a{suffix}") == []


def test_a_title_can_not_reach_into_a_terminal(tmp_path: Path) -> None:
    for suffix, data in ((".abc", ABC), (".krn", KERN), (".notes", NOTES), (".musicxml", MUSICXML)):
        title = next(word for word in (b"First", b"Morning", b"Orla", b"Dawn") if word in data)
        escape = b"&#x9b;31m" if suffix == ".musicxml" else b"\x1b[31m\x07"
        path = tmp_path / f"a{suffix}"
        path.write_bytes(data.replace(title, title + escape, 1))
        outcome(path)
        (exercise, *_), _ = load_scores(path)
        assert exercise.title.startswith(title.decode())


def test_what_is_left_out_or_filled_is_told_in_a_line(tmp_path: Path) -> None:
    """The law: what is said of an exercise is of it alone, and no longer for a score that is long."""
    bars = b"".join(b"1D\t1d\n=\n2D\t4d\n=\n1D\t1d\n=%s\n" % (b"=" * (i % 2)) for i in range(400))
    (tmp_path / "a.krn").write_bytes(b"**kern\t**kern\n*M2/2\t*M2/2\n" + bars + b"*-\t*-\n")
    (tmp_path / "a.abc").write_bytes(
        b"X:1\nM:4/4\nL:1/4\nK:C\nV:1\n" + b"C4|C|C4||" * 300 + b"\nV:2\n" + b"C4|C4|C4||" * 300
    )
    (tmp_path / "a.notes").write_bytes(b"exercise: " + b"long " * 5_000 + b"\na A4\n")
    outcome(tmp_path / "a.krn")
    outcome(tmp_path / "a.abc")
    outcome(tmp_path / "a.notes")
    exercises, _ = load_scores(tmp_path / "a.abc")
    assert [sum("not full" in words for words in each.inferred) for each in exercises] == [1] * 300


def test_an_error_told_too_late_leaves_the_interpreter_as_it_was() -> None:
    """The law that was missing: after a limit of time everything runs as before, under a tracer too."""
    code = """
import sys, time
from rulekit.exercise.clock import TimeUp, within
try:
    with within(0.0):
        try:
            while True: time.sleep(0.01)
        except TimeUp:
            pass
except TimeUp:
    pass
sys.settrace(lambda *_: None)
def called(**_): return 1
print(sum(called(**{"a": 1}) for _ in range(1000)))
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout == "1000\n"
