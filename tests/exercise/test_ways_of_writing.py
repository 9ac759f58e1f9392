"""Random exercises, written in the ways that programs and people write each format, are read back as they were.

The law: whatever way of writing voices is chosen, the same notes are read in the same voices under the same names.
"""

import random
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rulekit.exercise.model import Exercise, Voice
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.scores import ReadOptions, load_scores
from rulekit.music.pitch import LETTERS, Pitch, alteration, letter, octave
from tests.exercise.test_scores import heard

_BARS = ["{0}/1", "{0}/2 {1}/2", "{0}/2. {1}/4", "{0}/4 {1}/2 {2}/4", "{0}/2 r/2", "r/2 {0}/2", "r/1",
         "{0}/4 {1} {2} {3}"]  # fmt: skip
_NAMES = ["upper", "S1", "cantus", "Tenor", "under"]


@st.composite
def in_bars(draw: st.DrawFn) -> Exercise:
    """Two to four voices of a few whole bars; notes are tied over some bar lines."""
    names = draw(st.lists(st.sampled_from(_NAMES), min_size=2, max_size=4, unique=True))
    count = draw(st.integers(2, 4))
    pitch = st.sampled_from(["C4", "D4", "Eb4", "F#4", "G3", "Bb3", "C#5", "A4"])
    lines: list[str] = []
    for name in names:
        bars = [draw(st.sampled_from(_BARS)).format(*(draw(pitch) for _ in range(4))) for _ in range(count)]
        held = draw(pitch)
        lines.append(f"{name} C4/1 | {' | '.join(bars)} | {held}/1~ | {held}")
    text = "\n".join(lines)
    (exercise,), problems = read_exercises(f"exercise: One\nmode: G dorian\n{text}\n", "x")
    assert problems == []
    return exercise


def by_bar(voice: Voice) -> list[list[tuple[Pitch | None, Fraction, bool, bool]]]:
    """The events of each bar: pitch, length, whether a tie leads on, whether one leads to it."""
    bars: list[list[tuple[Pitch | None, Fraction, bool, bool]]] = []
    time, tied = Fraction(0), False
    for event in voice.events:
        if time % 4 == 0:
            bars.append([])
        bars[-1].append((event.pitch, event.length, event.tie, tied))
        time, tied = time + event.length, event.tie
    return bars


def musicxml_on_one_staff(exercise: Exercise, chance: random.Random) -> str:
    """All voices on one staff, one after the other with backup; rests may be skipped, silent bars left out."""
    rows = [by_bar(voice) for voice in exercise.voices]
    measures: list[str] = []
    for number in range(len(rows[0])):
        said = "" if number else _XML_ATTRIBUTES
        at = 0
        for index, row in enumerate(rows, 1):
            if all(pitch is None for pitch, *_ in row[number]) and chance.random() < 0.7:
                continue
            said += f"<backup><duration>{at}</duration></backup>" if at else ""
            at = 0
            for pitch, length, tie, tied in row[number]:
                said += _xml_note(pitch, int(length * 2), index, tie, tied, chance)
                at += int(length * 2)
        if not at:
            said += "<note><rest measure='yes'/><duration>8</duration><voice>1</voice></note>"
        measures.append(f"<measure number='{number + 1}'>{said}</measure>")
    part = "<part-list><score-part id='P1'><part-name>Staff</part-name></score-part></part-list><part id='P1'>"
    return f"<score-partwise><movement-title>One</movement-title>{part}{''.join(measures)}</part></score-partwise>"


_XML_ATTRIBUTES = (
    "<attributes><divisions>2</divisions><time><beats>2</beats><beat-type>2</beat-type></time></attributes>"
)


def _xml_note(pitch: Pitch | None, length: int, voice: int, tie: bool, tied: bool, chance: random.Random) -> str:
    if pitch is None:
        if chance.random() < 0.5:
            return f"<forward><duration>{length}</duration></forward>"
        return f"<note><rest/><duration>{length}</duration><voice>{voice}</voice></note>"
    sign = f"<alter>{alteration(pitch)}</alter>" if alteration(pitch) else ""
    where = f"<pitch><step>{LETTERS[letter(pitch)]}</step>{sign}<octave>{octave(pitch)}</octave></pitch>"
    ties = "<tie type='stop'/>" * tied + "<tie type='start'/>" * tie
    return f"<note>{where}<duration>{length}</duration>{ties}<voice>{voice}</voice></note>"


def abc_by_letters(exercise: Exercise, chance: random.Random) -> str:
    """Voices named by words, each written whole, bar by bar in turns, or by fields within the line."""
    head = "X:1\nT:One\nM:C|\nL:1/4\n"
    styled = chance.choice(["V:{}\n", "[V:{}] ", "V: {}\n"])
    if chance.random() < 0.5:
        head += "".join(f"V:{v.name} clef=treble\n" for v in exercise.voices)
    else:
        head += "%%score " + " ".join(f"({v.name})" for v in exercise.voices) + "\n"
    rows = [[_abc_bar(bar) for bar in by_bar(voice)] for voice in exercise.voices]
    size = chance.choice([1, 2, 100])
    body = ""
    for begin in range(0, len(rows[0]), size):
        for voice, row in zip(exercise.voices, rows, strict=True):
            body += styled.format(voice.name) + " | ".join(row[begin : begin + size])
            body += " |" + ("\n" if styled.endswith("\n") or chance.random() < 0.7 else " ")
    return head + "K:C\n" + body + "\n"


def _abc_bar(bar: list[tuple[Pitch | None, Fraction, bool, bool]]) -> str:
    written: list[str] = []
    for pitch, length, tie, _ in bar:
        if pitch is None:
            written.append(f"z{length}")
            continue
        name, height = LETTERS[letter(pitch)], octave(pitch)
        sign = {-1: "_", 0: "=", 1: "^"}[alteration(pitch)]
        name = name.lower() + "'" * (height - 5) if height > 4 else name + "," * (4 - height)
        written.append(f"{sign}{name}{length}{'-' * tie}")
    return " ".join(written)


def kern_in_columns(exercise: Exercise, chance: random.Random) -> str:
    """A spine for each voice, the lowest first, some with a second column of words, named by *I" and by *I."""
    voices = exercise.voices[::-1]
    lines = ["\t".join("**kern" for _ in voices), "\t".join("*Ivox" for _ in voices)]
    lines += ["\t".join(f'*I"{voice.name}' for voice in voices), "\t".join("*M2/2" for _ in voices)]
    rows = [by_bar(voice) for voice in voices]
    for number in range(len(rows[0])):
        lines.append("\t".join(f"={number + 1}" for _ in voices))
        onsets = [_onsets(row[number]) for row in rows]
        for time in sorted({time for onset in onsets for time in onset}):
            lines.append("\t".join(onset.get(time, ".") for onset in onsets))
    lines += ["\t".join("==" for _ in voices), "\t".join("*-" for _ in voices)]
    return "!!!OTL: One\n" + "\n".join(lines) + "\n"


def _onsets(bar: list[tuple[Pitch | None, Fraction, bool, bool]]) -> dict[Fraction, str]:
    lengths = {Fraction(4): "1", Fraction(3): "2.", Fraction(2): "2", Fraction(1): "4"}
    written: dict[Fraction, str] = {}
    time = Fraction(0)
    for pitch, length, tie, tied in bar:
        sign = "r"
        if pitch is not None:
            name, height = LETTERS[letter(pitch)], octave(pitch)
            sign = name.lower() * (height - 3) if height > 3 else name * (4 - height)
            sign += {-1: "-", 0: "", 1: "#"}[alteration(pitch)]
        opens, closes = "[" if tie and not tied else "", "_" if tie and tied else "]" if tied else ""
        written[time] = f"{opens}{lengths[length]}{sign}{closes}"
        time += length
    return written


def mei_in_layers(exercise: Exercise, chance: random.Random) -> str:
    """A staff for each voice, ties as attributes or as elements, accidentals as attributes or as elements."""
    definitions = "".join(
        f"<staffDef n='{i}'><label>{voice.name}</label></staffDef>" for i, voice in enumerate(exercise.voices, 1)
    )
    rows = [by_bar(voice) for voice in exercise.voices]
    measures = ""
    for number in range(len(rows[0])):
        staves, ties = "", ""
        for index, row in enumerate(rows, 1):
            notes = ""
            for place, (pitch, length, tie, tied) in enumerate(row[number]):
                dots = " dots='1'" if length == 3 else ""
                dur = f"dur='{4 // (2 if length == 3 else int(length))}'{dots}"
                key = f"n{number}-{index}-{place}"
                if pitch is None:
                    notes += f"<rest {dur}/>"
                    continue
                as_element = chance.random() < 0.5
                ties += f"<tie startid='#{key}' endid='#x'/>" if tie and as_element else ""
                attribute = " tie='m'" if tie and tied else " tie='i'" if tie else " tie='t'" if tied else ""
                sign = {-1: "f", 0: "", 1: "s"}[alteration(pitch)]
                own = f" accid.ges='{sign}'" if sign and as_element else ""
                inner = f"<accid accid='{sign}'/>" if sign and not as_element else ""
                pitched = f"pname='{LETTERS[letter(pitch)].lower()}' oct='{octave(pitch)}'"
                notes += f"<note xml:id='{key}' {pitched} {dur}{own}{'' if as_element else attribute}>{inner}</note>"
            staves += f"<staff n='{index}'><layer n='1'>{notes}</layer></staff>"
        measures += f"<measure n='{number + 1}'>{staves}{ties}</measure>"
    score = f"<scoreDef meter.count='2' meter.unit='2'><staffGrp>{definitions}</staffGrp></scoreDef>"
    return f"<mei><music><body><mdiv><score>{score}<section>{measures}</section></score></mdiv></body></music></mei>"


WRITERS = {
    ".musicxml": musicxml_on_one_staff, ".abc": abc_by_letters, ".krn": kern_in_columns, ".mei": mei_in_layers,
}  # fmt: skip


@pytest.mark.parametrize("suffix", WRITERS)
@given(exercise=in_bars(), seed=st.integers(0, 10_000))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_every_way_of_writing_is_read_back(suffix: str, exercise: Exercise, seed: int, tmp_path: Path) -> None:
    path = tmp_path / f"a{suffix}"
    path.write_text(WRITERS[suffix](exercise, random.Random(seed)), encoding="utf-8")
    found, problems = load_scores(path)
    assert problems == []
    (read,) = found
    assert heard(read) == heard(exercise)
    if suffix != ".musicxml":
        assert [voice.name for voice in read.voices] == [voice.name for voice in exercise.voices]


def test_the_name_of_a_voice_of_abc_tells_the_cantus(tmp_path: Path) -> None:
    tune = 'X:1\nM:C|\nL:1/1\nK:C\nV:1 name="cantus"\nD | E | D |]\nV:2\nD | C | D |]\n'
    (tmp_path / "a.abc").write_text(tune, encoding="utf-8")
    ((exercise,), _) = load_scores(tmp_path / "a.abc")
    assert exercise.cantus == 0


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("a.abc", "X:1\nM:C|\nL:1/1\nK:C\n|: D | C :|\n", "repeats: read once"),
        ("a.krn", "**kern\n*M2/2\n=1\n1c\n=2:|!\n1d\n==\n*-\n", "repeats: read once"),
    ],
)
def test_repeats_are_told(name: str, text: str, words: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text(text, encoding="utf-8")
    ((exercise,), _) = load_scores(tmp_path / name)
    assert any(said.startswith(words) for said in exercise.inferred)


def test_endings_that_differ_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.abc").write_text("X:1\nM:C|\nL:1/1\nK:C\n|: D |1 C :|2 E |]\n", encoding="utf-8")
    _, (problem,) = load_scores(tmp_path / "a.abc")
    assert "endings that differ" in problem.message


_SPACED = {
    ".krn": '**kern\t**kern\n*I"the other\t*I"my voice\n*M2/2\t*M2/2\n1D\t1d\n=\t=\n1E\t1c#\n=\t=\n1D\t1d\n*-\t*-\n',
    ".abc": 'X:1\nM:2/2\nL:1/1\nK:Ddor\nV:1 name="my voice"\nd|^c|d|]\nV:2 name="the other"\nD|E|D|]\n',
    ".mei": '<mei><score><scoreDef><staffGrp><staffDef n="1" label="my voice"/><staffDef n="2" label="the other"/>'
    "</staffGrp></scoreDef><section>" + "".join(
        f'<measure><staff n="1"><layer><note pname="{upper}" oct="5" dur="1"/></layer></staff>'
        f'<staff n="2"><layer><note pname="{lower}" oct="4" dur="1"/></layer></staff></measure>'
        for upper, lower in ("dd", "ce", "dd")
    ) + "</section></score></mei>",
}  # fmt: skip


@pytest.mark.parametrize("suffix", _SPACED)
@pytest.mark.parametrize("said", ["my voice", "My  Voice", "my-voice"])
def test_a_voice_is_called_as_the_file_calls_it(suffix: str, said: str, tmp_path: Path) -> None:
    """Law that was missing: the label that stands in a score, spaces and all, says which voice is the cantus."""
    (tmp_path / f"a{suffix}").write_text(_SPACED[suffix], encoding="utf-8")
    ((exercise,), _) = load_scores(tmp_path / f"a{suffix}", ReadOptions(cantus=said))
    assert [voice.name for voice in exercise.voices] == ["my-voice", "the-other"]
    assert exercise.cantus == 0


def test_what_is_missing_of_a_voice_is_told(tmp_path: Path) -> None:
    """The law: nothing is filled or left out without a word."""
    note = "<note><pitch><step>D</step><octave>4</octave></pitch><duration>{}</duration><voice>{}</voice></note>"
    back = "<backup><duration>4</duration></backup>"
    bars = (note.format(4, 1) + back + note.format(2, 2), note.format(4, 1) + back + note.format(4, 2))
    score = "".join(f"<measure>{bar}</measure>" for bar in bars)
    (tmp_path / "a.musicxml").write_text(f"<score-partwise><part>{score}</part></score-partwise>", encoding="utf-8")
    (exercise,), problems = load_scores(tmp_path / "a.musicxml")
    assert not problems
    assert "not full: bar 1 of ‘voice-1-2’ holds 2 of 4 quarter notes; rests fill them" in exercise.inferred
    (tmp_path / "a.abc").write_text("X:1\nL:1/1\nM:2/2\nK:D\nV:high\nV:low\nd|c|d|\n", encoding="utf-8")
    (exercise,), problems = load_scores(tmp_path / "a.abc")
    assert not problems
    assert "empty: ‘high’, left out" in exercise.inferred
