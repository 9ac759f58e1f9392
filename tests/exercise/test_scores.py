"""Score files: written by music21 or typed out here, read by ours."""

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from music21 import bar, chord, clef, instrument, key, meter, note, stream

from rulekit.exercise import limits
from rulekit.exercise.model import Event, Exercise, sounding_notes
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.scores import ReadOptions, load_scores, save_scores
from rulekit.music.pitch import pitch_name

# Fux, Gradus ad Parnassum (1725), figure 5.
UPPER = "A4 A4 G4 A4 B4 C5 C5 B4 D5 C#5 D5"
CANTUS = "D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4"
AS_WRITTEN = ReadOptions()
TYPED = f"exercise: Bryn Tarrowe\nmode: D dorian\nupper {UPPER}\ncantus {CANTUS}\n"

KERN = """\
!!!OTL: Morning
**kern\t**kern
*I"low\t*I"top
*clefF4\t*clefG2
*k[b-]\t*k[b-]
*M2/2\t*M2/2
=1\t=1
1G\t2g
.\t2a
=2\t=2
1A\t[1b-
=3\t=3
1G\t2b-]
.\t2g
==\t==
*-\t*-
"""
ABC = """\
X:1
T:First
M:2/2
L:1/1
K:Ddor
V:1
A | G | ^c | d |]
V:2
D | E | E | D |]
X:2
T:Second
M:3/4
L:1/4
K:G
V:1
d e f | g3 |]
V:2
G3 | G3 |]
"""


def typed(text: str) -> Exercise:
    (exercise,), problems = read_exercises(text, "x")
    assert problems == []
    return exercise


def load(path: Path, options: ReadOptions = AS_WRITTEN) -> list[Exercise]:
    """The exercises of a file that has no mistakes."""
    exercises, problems = load_scores(path, options)
    assert problems == []
    return exercises


def refused(path: Path, options: ReadOptions = AS_WRITTEN) -> str:
    """What is said of a file in which one thing is wrong."""
    exercises, problems = load_scores(path, options)
    assert exercises == []
    assert len(problems) == 1
    assert problems[0].path == str(path)
    return f"{problems[0].message} / {problems[0].hint}"


def heard(exercise: Exercise) -> list[list[tuple[str, Fraction, Fraction]]]:
    """What sounds in each voice: name of the pitch, onset and length."""
    return [
        [(pitch_name(n.pitch), n.onset, n.length) for n in sounding_notes(exercise.setting, i, v.events)]
        for i, v in enumerate(exercise.voices)
    ]


def times(exercise: Exercise) -> list[list[tuple[Fraction, Fraction]]]:
    """When each voice sounds: onset and length."""
    return [[(onset, length) for _, onset, length in voice] for voice in heard(exercise)]


def part(name: str, notes: str, time: str = "2/2", flats: int | None = 0) -> stream.Part:
    """A part of notes such as ``A4/2`` (half note) or ``r``; without a slash, of whole notes."""
    made = stream.Part()
    made.partName = name
    made.append(meter.TimeSignature(time))
    if flats is not None:
        made.append(key.KeySignature(-flats))
    for word in notes.split():
        pitch, _, part_of_whole = word.partition("/")
        length = Fraction(4, int(part_of_whole or 1))
        made.append(
            note.Rest(quarterLength=length)
            if pitch == "r"
            else note.Note(pitch.replace("b", "-"), quarterLength=length)
        )
    return made


def measured(*parts: stream.Part) -> stream.Score:
    score = stream.Score()
    for each in parts:
        score.insert(0, each.makeMeasures())
        score.parts[-1].partName = each.partName
    return score


def saved(score: stream.Score, path: Path) -> Path:
    score.write("midi" if path.suffix == ".mid" else path.suffix[1:], path)
    return path


def text_file(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", ["a.musicxml", "a.mxl", "a.mid"])
def test_a_score_written_by_music21_is_read(name: str, tmp_path: Path) -> None:
    path = saved(measured(part("upper", UPPER), part("cantus", CANTUS)), tmp_path / name)
    (exercise,) = load(path)
    assert heard(exercise) == heard(typed(TYPED))
    assert (str(exercise.mode), exercise.cantus, exercise.first_bar) == ("D dorian", 1, 1)
    assert any(words.startswith("mode: D dorian") for words in exercise.inferred)


def test_typed_notation_is_read_by_its_suffix(tmp_path: Path) -> None:
    assert load(text_file(tmp_path / "a.notes", "\ufeff" + TYPED)) == [typed(TYPED)]


def test_kern_is_read_from_the_highest_spine(tmp_path: Path) -> None:
    (exercise,) = load(text_file(tmp_path / "a.krn", KERN))
    assert exercise.title == "Morning"
    assert [voice.name for voice in exercise.voices] == ["top", "low"]
    assert heard(exercise) == heard(typed("top G4/2 A4 Bb4/1~ Bb4/2 G4\nlow G3 A3 G3"))
    assert str(exercise.mode) == "G dorian"
    assert exercise.cantus == 1


def test_the_tunes_of_an_abc_file_are_exercises(tmp_path: Path) -> None:
    first, second = load(text_file(tmp_path / "a.abc", ABC))
    assert (first.title, second.title) == ("First", "Second")
    assert heard(first) == heard(typed("a A4 G4 C#5 D5\nb D4 E4 E4 D4"))
    assert heard(second) == heard(typed("time: 3/4\na D5/4 E5 F#5 G5/2.\nb G4 G4"))
    assert (str(first.mode), str(second.mode)) == ("D dorian", "G ionian")


@given(st.data())
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_what_is_written_as_a_score_sounds_the_same_when_read(tmp_path: Path, data: st.DataObject) -> None:
    lengths = st.sampled_from(["", "/1", "/2", "/2.", "/4", "/4.", "/8"])
    names = st.sampled_from(["C4", "D4", "Eb4", "F#4", "G4", "Bb4", "C#5", "r"])
    line = st.lists(st.builds("{}{}".format, names, lengths), min_size=3, max_size=9).map(" ".join)
    time = data.draw(st.sampled_from(["2/2", "3/4", "4/4", "3/2"]))
    exercise = typed(
        f"mode: G dorian\ntime: {time}\nbars: 9\nupper D5 {data.draw(line)} G4\nlow (cantus) G3 {data.draw(line)} G3"
    )
    save_scores([exercise], tmp_path / "a.musicxml")
    (read,) = load(tmp_path / "a.musicxml")
    assert heard(read) == heard(exercise)
    assert (read.title, read.metre, read.cantus) == (exercise.title, exercise.metre, exercise.cantus)
    assert (read.first_bar, str(read.mode)) == (9, "G dorian")
    save_scores([exercise], tmp_path / "a.mid")
    (played,) = load(tmp_path / "a.mid", ReadOptions(mode="G dorian"))
    assert sorted(times(played)) == sorted(times(exercise))  # MIDI voices are put in order of height


def test_midi_is_spelled_in_its_mode(tmp_path: Path) -> None:
    exercise = typed("mode: G dorian\nupper D5 Bb4 E5 C#5 F#4 G4\ncantus G3 G3 C4 Bb3 A3 G3")
    save_scores([exercise], tmp_path / "a.mid")
    (read,) = load(tmp_path / "a.mid")
    assert heard(read) == heard(exercise)
    assert "spelling: MIDI has none; the notes are spelled as in G dorian" in read.inferred
    (other,) = load(tmp_path / "a.mid", ReadOptions(mode="G phrygian"))
    assert str(other.mode) == "G phrygian"


def test_midi_tracks_are_put_in_order_of_height(tmp_path: Path) -> None:
    path = saved(measured(part("low", "D3 E3 D3"), part("high", "D5 C#5 D5")), tmp_path / "a.mid")
    assert heard(load(path)[0]) == heard(typed("a D5 C#5 D5\nb D3 E3 D3"))


def two_exercises() -> stream.Score:
    """Bars 1 to 3 in D, then bars 4 to 6 in G, with a double bar line between."""
    score = measured(part("a", "D5 C#5 D5 B4 A4 G4"), part("b", "D4 E4 D4 G4 F#4 G4"))
    for each in score.parts:
        each.measure(3).rightBarline = bar.Barline("double")
    return score


def test_a_double_bar_line_ends_an_exercise(tmp_path: Path) -> None:
    path = saved(two_exercises(), tmp_path / "a.musicxml")
    first, second = load(path)
    assert [e.title.rpartition(", ")[2] for e in (first, second)] == ["from bar 1", "from bar 4"]
    assert heard(first) == heard(typed("a D5 C#5 D5\nb D4 E4 D4"))
    assert heard(second) == heard(typed("a B4 A4 G4\nb G4 F#4 G4"))
    assert (first.first_bar, second.first_bar) == (1, 4)
    assert (str(first.mode), str(second.mode)) == ("D dorian", "G mixolydian")
    (whole,) = load(path, ReadOptions(split=False))
    assert whole.setting.bars == 6


def test_a_range_of_bars_is_read(tmp_path: Path) -> None:
    path = saved(two_exercises(), tmp_path / "a.musicxml")
    (chosen,) = load(path, ReadOptions(bars=(2, 4)))
    assert heard(chosen) == heard(typed("a C#5 D5 B4\nb E4 D4 G4"))
    assert chosen.first_bar == 2
    assert "the score has 1 to 6" in refused(path, ReadOptions(bars=(2, 9)))
    assert "no bars 4 to 2" in refused(path, ReadOptions(bars=(4, 2)))


def test_what_the_options_say_is_taken(tmp_path: Path) -> None:
    paths = [
        saved(measured(part("upper", UPPER), part("cantus", CANTUS)), tmp_path / "a.musicxml"),
        text_file(tmp_path / "a.notes", TYPED),
    ]
    for path in paths:
        (by_number,) = load(path, ReadOptions(mode="D, 1 flat", cantus=1))
        assert (str(by_number.mode), by_number.cantus) == ("D aeolian", 0)
        assert not any(words.startswith(("mode", "cantus")) for words in by_number.inferred)
        assert load(path, ReadOptions(cantus="Upper"))[0].cantus == 0
        assert "numbered 1 to 2" in refused(path, ReadOptions(cantus=3))
        assert "did you mean upper?" in refused(path, ReadOptions(cantus="uper"))
        assert "did you mean dorian?" in refused(path, ReadOptions(mode="D doriam"))


def test_bars_are_chosen_from_typed_notation_too(tmp_path: Path) -> None:
    text = "bars: 5\nmode: D\nupper D5/2 E5 F5/1. E5/2 D5/1~ D5\ncantus D4/breve C4/1 D4/1~ D4"
    path = text_file(tmp_path / "a.notes", text)
    (chosen,) = load(path, ReadOptions(bars=(6, 8)))
    assert heard(chosen) == heard(typed("mode: D\nupper F5/1. E5/2 D5/1\ncantus D4/1 C4 D4"))
    assert (chosen.first_bar, chosen.setting.bars, str(chosen.mode)) == (6, 3, "D dorian")
    assert chosen.title == "exercise 1, from bar 6"
    assert not any(event.tie for voice in chosen.voices for event in voice.events)
    assert load(path, ReadOptions(bars=(5, 9))) == load(path)
    for wrong in ((4, 6), (6, 10), (8, 6)):
        assert "the exercise has 5 to 9" in refused(path, ReadOptions(bars=wrong))


def test_the_cantus_is_worked_out_in_the_mode_of_the_options(tmp_path: Path) -> None:
    path = text_file(tmp_path / "a.notes", "a D5 E5 D5\nb G4 A4 G4")
    assert [load(path, ReadOptions(mode=m))[0].cantus for m in ("D dorian", "G dorian")] == [0, 1]


def test_a_transposing_part_is_read_as_it_sounds(tmp_path: Path) -> None:
    clarinet = part("clarinet", "B4 A4 B4", flats=-2)
    clarinet.insert(0, instrument.Clarinet())  # sounds a major second lower; common practice, no source
    path = saved(measured(clarinet, part("low", "D3 E3 D3")), tmp_path / "a.musicxml")
    assert heard(load(path)[0]) == heard(typed("a A4 G4 A4\nb D3 E3 D3"))


def test_a_church_mode_that_the_signature_names_is_taken(tmp_path: Path) -> None:
    abc = "X:1\nT:x\nM:2/2\nL:1/1\nK:{}\nA | B |]\n"
    (named,) = load(text_file(tmp_path / "a.abc", abc.format("Ddor")))
    assert str(named.mode) == "D dorian"
    assert not any(words.startswith("mode") for words in named.inferred)
    (major,) = load(text_file(tmp_path / "a.abc", abc.format("C")))
    assert str(major.mode) == "B locrian"


@pytest.mark.parametrize("mark", ["V:{}\n", "[V:{}]"])
def test_the_voices_of_abc_may_take_turns(mark: str, tmp_path: Path) -> None:
    lines = [(1, "A | c |"), (2, "D | E |"), (1, "d |]"), (2, "D |]")]
    body = "\n".join(mark.format(voice) + music for voice, music in lines)
    header = 'X:1\nT:x\nM:2/2\nL:1/1\nV:1 name="up"\nV:2\nK:Ddor\n'
    (exercise,) = load(text_file(tmp_path / "a.abc", header + body + "\n"))
    assert heard(exercise) == heard(typed("a A4 C5 D5\nb D4 E4 D4"))


def test_a_sign_that_is_no_abc_is_refused_at_its_place(tmp_path: Path) -> None:
    _, (problem,) = load_scores(text_file(tmp_path / "a.abc", "X:1\nL:1/1\nK:C\n[V:1] A | [V:2] D & E |\n"))
    assert (problem.line, problem.column) == (4, 19)


def test_bars_of_kern_without_numbers_are_counted(tmp_path: Path) -> None:
    unnumbered = KERN.replace("=2", "=").replace("=3", "=")
    (chosen,) = load(text_file(tmp_path / "a.krn", unnumbered), ReadOptions(bars=(2, 3)))
    assert heard(chosen) == heard(typed("a Bb4/1~ Bb4/2 G4\nb A3/1 G3"))


def test_triplets_of_midi_are_exact(tmp_path: Path) -> None:
    exercise = typed("a D5 D5\nb D4 D4")
    lengths = (Fraction(2, 3), Fraction(10, 3), Fraction(4, 3), Fraction(8, 3))
    events = tuple(Event(exercise.voices[0].events[0].pitch, length) for length in lengths)
    voices = (replace(exercise.voices[0], events=events), exercise.voices[1])
    save_scores([replace(exercise, voices=voices)], tmp_path / "a.mid")
    (read,) = load(tmp_path / "a.mid")
    assert [event.length for event in read.voices[0].events] == list(lengths)


def test_a_voice_that_ends_early_does_not_end_the_exercise(tmp_path: Path) -> None:
    exercise = typed("a D5 C#5\ncantus D4 E4 D4")
    save_scores([exercise], tmp_path / "a.mid")
    assert heard(load(tmp_path / "a.mid")[0]) == heard(exercise)


def test_written_ties_and_the_named_mode_come_back(tmp_path: Path) -> None:
    exercise = typed("exercise: ties\nmode: E dorian\nupper A4/2~ A4 A4~ A4~ A4 B4/4. B4/8\ncantus D4/1 E4 F#4 C#4")
    save_scores([exercise], tmp_path / "a.musicxml")
    assert load(tmp_path / "a.musicxml") == [exercise]


def test_a_length_without_a_sign_is_not_written(tmp_path: Path) -> None:
    exercise = typed("exercise: Bryn Tarrowe\na D5 D5")
    tiny = replace(exercise.voices[0], events=(Event(exercise.voices[0].events[0].pitch, Fraction(1, 50_000)),))
    with pytest.raises(ValueError, match="‘Bryn Tarrowe’ has a length"):
        save_scores([replace(exercise, voices=(tiny,))], tmp_path / "a.musicxml")
    assert not (tmp_path / "a.musicxml").exists()


def test_a_compressed_score_leaves_its_plain_namesake_alone(tmp_path: Path) -> None:
    plain = text_file(tmp_path / "a.musicxml", "a file of the teacher's")
    save_scores([typed(TYPED)], tmp_path / "a.mxl")
    assert plain.read_text(encoding="utf-8") == "a file of the teacher's"
    assert load(tmp_path / "a.mxl") == [typed(TYPED)]


def test_a_pickup_is_filled_with_rests(tmp_path: Path) -> None:
    parts = []
    for name, pickup, rest in (("a", "D5/2", "C#5 D5"), ("b", "D4/2", "E4 D4")):
        made = stream.Part()
        made.partName = name
        made.append(stream.Measure([meter.TimeSignature("2/2"), *part(name, pickup).notes], number=0))
        made[0].paddingLeft = 2.0
        for number, each in enumerate(part(name, rest).notes, 1):
            made.append(stream.Measure(number=number))
            made[-1].append(each)
        parts.append(made)
    (exercise,) = load(saved(stream.Score(parts), tmp_path / "a.musicxml"))
    assert heard(exercise) == heard(typed("a r/2 D5 C#5/1 D5\nb r/2 D4 E4/1 D4"))
    assert exercise.first_bar == 0
    assert any(words.startswith("pickup: bar 0") for words in exercise.inferred)


def test_two_voices_on_a_staff_are_two_voices(tmp_path: Path) -> None:
    measures = []
    for number, (high, low) in enumerate(zip(["D5", "C#5", "D5"], ["D4", "E4", "D4"], strict=True), 1):
        voices = [stream.Voice([note.Note(name, type="whole")]) for name in (high, low)]
        measures.append(stream.Measure([*voices], number=number))
    measures[0].insert(0, meter.TimeSignature("2/2"))
    measures[0].insert(0, clef.TrebleClef())
    staff = stream.Part(measures)
    staff.partName = "Staff"
    (exercise,) = load(saved(stream.Score([staff]), tmp_path / "a.musicxml"))
    assert heard(exercise) == heard(typed("a D5 C#5 D5\nb D4 E4 D4"))
    assert [voice.name for voice in exercise.voices] == ["Staff-1", "Staff-2"]


def test_a_chord_is_told_with_its_bar_and_voice_and_the_rest_is_read(tmp_path: Path) -> None:
    score = two_exercises()
    score.parts[1].measure(5).replace(score.parts[1].measure(5).notes[0], chord.Chord("F#4 A4", type="whole"))
    exercises, problems = load_scores(saved(score, tmp_path / "a.musicxml"))
    assert [exercise.first_bar for exercise in exercises] == [1]
    assert "bar 5 of ‘b’ has a chord (F#4, A4)" in problems[0].message


def test_grace_notes_are_left_out_and_told(tmp_path: Path) -> None:
    score = measured(part("a", "D5 C#5 D5"), part("b", "D4 E4 D4"))
    score.parts[0].measure(2).insert(0, note.Note("E5", type="eighth").getGrace())
    (exercise,) = load(saved(score, tmp_path / "a.musicxml"))
    assert heard(exercise) == heard(typed("a D5 C#5 D5\nb D4 E4 D4"))
    assert "grace notes: left out in bar 2" in exercise.inferred


def test_unequal_voices_and_silent_ones_are_told(tmp_path: Path) -> None:
    score = measured(part("a", "D5 C#5 D5"), part("quiet", "r r r"), part("cf", "D4 E4"))
    (exercise,) = load(saved(score, tmp_path / "a.musicxml"))
    assert [voice.name for voice in exercise.voices] == ["a", "cf"]
    assert "silent: ‘quiet’, left out" in exercise.inferred
    assert "length: ‘cf’ ends 1 bar before the others" in exercise.inferred


def test_named_parts_have_ranges_and_equal_names_differ(tmp_path: Path) -> None:
    score = measured(part("Soprano", "D5"), part("Violin I", "D5"), part("Violin I", "D4"), part("", "D3"))
    (exercise,) = load(saved(score, tmp_path / "a.musicxml"))
    assert [voice.name for voice in exercise.voices] == ["Soprano", "Violin-I-2", "Violin-I-3", "voice-4"]
    assert exercise.voices[0].compass is not None
    assert exercise.voices[1].compass is None


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("a.pdf", "", "files of the kind ‘.pdf’ are not read / these are: .notes, .musicxml"),
        ("a", "", "files without an extension are not read"),
        ("a.musicxm", "", "did you mean .musicxml?"),
        ("a.musicxml", "<score", "cannot be read as MusicXML"),
        ("a.xml", "<html/>", "cannot be read as MusicXML"),
        ("a.krn", "hello", "cannot be read as kern"),
        ("a.abc", "hello", "cannot be read as ABC"),
        ("a.musicxml", "", "cannot be read as MusicXML"),
        ("a.mxl", "PK", "not a compressed MusicXML file"),
        ("a.mid", "MThd", "cannot be read as MIDI"),
        ("a.abc", "X:1\nM:22241/1\nL:1/1\nK:C\nA |]\n", "not a time signature"),
        ("a.krn", KERN.replace("*M2/2", "*M999/2"), "32 beats, no more"),
        ("a.notes", "", "there is no exercise"),
        ("a.notes", " " * (limits.MAX_BYTES + 1), "longer than"),
    ],
)
def test_another_file_is_refused_in_words(name: str, content: str, message: str, tmp_path: Path) -> None:
    assert message in refused(text_file(tmp_path / name, content))


def test_a_missing_file_and_a_file_of_other_text_are_refused(tmp_path: Path) -> None:
    assert "cannot be read: No such file" in refused(tmp_path / "a.krn")
    (tmp_path / "a.notes").write_bytes(b"a A4\nb \xff\xfe")
    _, (problem,) = load_scores(tmp_path / "a.notes")
    assert (problem.line, problem.column) == (2, 3)
    assert "not in UTF-8" in problem.message


def test_a_fault_in_plain_xml_is_placed(tmp_path: Path) -> None:
    _, (problem,) = load_scores(text_file(tmp_path / "a.xml", "<score-partwise>\n  <part></port>"))
    assert (problem.line, problem.column) == (2, 11)


def test_an_endless_midi_file_is_refused_before_it_is_cut_into_bars(tmp_path: Path) -> None:
    track = bytes([0x00, 0x90, 60, 64, 0xFF, 0xFF, 0xFF, 0x7F, 0x80, 60, 0, 0x00, 0xFF, 0x2F, 0x00])
    header = b"MThd" + bytes([0, 0, 0, 6, 0, 0, 0, 1, 0, 1])
    (tmp_path / "a.mid").write_bytes(header + b"MTrk" + len(track).to_bytes(4, "big") + track)
    assert f"longer than {limits.MAX_QUARTERS} quarter notes" in refused(tmp_path / "a.mid")


@given(st.sampled_from([".musicxml", ".mxl", ".krn", ".abc", ".mid", ".notes"]), st.binary(max_size=200))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_bytes_break_the_reader(tmp_path: Path, suffix: str, data: bytes) -> None:
    path = tmp_path / f"a{suffix}"
    path.write_bytes(data)
    exercises, problems = load_scores(path)
    assert exercises or problems


@given(st.sampled_from(["krn", "abc"]), st.data())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_score_with_one_character_changed_does_not_break_the_reader(
    tmp_path: Path, suffix: str, data: st.DataObject
) -> None:
    text = {"krn": KERN, "abc": ABC}[suffix]
    at = data.draw(st.integers(0, len(text) - 1))
    changed = text[:at] + data.draw(st.characters(codec="utf-8")) + text[at + 1 :]
    path = text_file(tmp_path / f"a.{suffix}", changed)
    exercises, problems = load_scores(path)
    assert exercises or problems
