"""Modes against music21's scales, and the ways to write one."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import key, scale

from rulekit.music.mode import MODE_NAMES, Mode, mode_from, mode_of, modes_on, signs_in_words
from rulekit.music.pitch import letter, make_pitch, pitch_name, pitch_of, semitone

SCALES = {
    "dorian": scale.DorianScale,
    "phrygian": scale.PhrygianScale,
    "lydian": scale.LydianScale,
    "mixolydian": scale.MixolydianScale,
    "hypodorian": scale.HypodorianScale,
    "hypophrygian": scale.HypophrygianScale,
    "hypolydian": scale.HypolydianScale,
    "hypomixolydian": scale.HypomixolydianScale,
    "hypoaeolian": scale.HypoaeolianScale,
    "locrian": scale.LocrianScale,
    "major": scale.MajorScale,
    "minor": scale.MinorScale,
}


def usable_modes() -> list[Mode]:
    modes: list[Mode] = []
    for letter_ in range(7):
        for alteration in (-1, 0, 1):
            for name in MODE_NAMES:
                try:
                    modes.append(Mode(letter_, alteration, name))
                except ValueError:
                    continue
    return modes


MODES = usable_modes()
modes = st.sampled_from(MODES)


@pytest.mark.parametrize("mode", [mode for mode in MODES if mode.name in SCALES], ids=str)
def test_notes_of_every_mode_agree_with_music21(mode: Mode) -> None:
    other = SCALES[mode.name](mode.final.replace("b", "-"))
    theirs = {pitch.name.replace("-", "b") for pitch in other.getPitches("C3", "C5")}
    ours = {pitch_name(pitch)[:-1] for pitch in mode.pitches(pitch_of("Cb3"), pitch_of("B#4"))}
    assert ours == theirs
    assert len(ours) == 7


@pytest.mark.parametrize("name", ["dorian", "phrygian", "lydian", "mixolydian", "major", "minor", "locrian"])
def test_signatures_agree_with_music21(name: str) -> None:
    for mode in (mode for mode in MODES if mode.name == name):
        assert mode.signature == key.Key(mode.final.replace("b", "-"), name).sharps


@given(modes)
def test_notes_of_a_mode_are_its_degrees_unaltered(mode: Mode) -> None:
    notes = mode.pitches(pitch_of("Cb4"), pitch_of("B#5"))
    assert notes == sorted(notes)
    assert [mode.place(pitch)[1] for pitch in notes] == [0] * 14
    begin = [mode.place(pitch)[0] for pitch in notes].index(1)
    assert [mode.place(pitch)[0] for pitch in notes[begin : begin + 7]] == [1, 2, 3, 4, 5, 6, 7]


@given(modes)
def test_a_mode_is_read_back_as_written_and_from_its_signature(mode: Mode) -> None:
    assert mode_of(str(mode)) == mode
    assert mode_from(mode.letter, mode.alteration, mode.signature).signature == mode.signature
    assert mode_of(f"{mode.final}, {abs(mode.signature)} {'sharps' if mode.signature > 0 else 'flats'}") == mode_from(
        mode.letter, mode.alteration, mode.signature
    )


@given(modes, st.integers(24, 96))
def test_spelling_keeps_the_sound_and_the_notes_of_the_mode(mode: Mode, number: int) -> None:
    spelled = mode.spell(number)
    assert semitone(spelled) == number
    own = [pitch for pitch in mode.pitches(pitch_of("C1"), pitch_of("B8")) if semitone(pitch) == number]
    assert mode.is_leading(spelled) or own in ([], [spelled])
    raised = make_pitch((mode.letter - 1) % 7, 0, 4)
    if (number + 1 - semitone(make_pitch(mode.letter, mode.alteration, 4))) % 12 == 0:
        assert letter(spelled) == letter(raised)
        assert mode.is_leading(spelled)


# The finals and signatures of the untransposed modes: Glareanus, Dodecachordon (1547).
@pytest.mark.parametrize(
    ("text", "written", "signature"),
    [
        ("D", "D dorian", 0),
        ("E", "E phrygian", 0),
        ("F", "F lydian", 0),
        ("G", "G mixolydian", 0),
        ("A", "A aeolian", 0),
        ("C", "C ionian", 0),
        ("G dorian", "G dorian", -1),
        ("d Hypodorian", "D hypodorian", 0),
        ("F# minor", "F# minor", 3),
        ("Bb  major", "Bb major", -2),
        ("D, 1 flat", "D aeolian", -1),
        ("F, 1 flat", "F ionian", -1),
        ("A,2 sharps", "A mixolydian", 2),
    ],
)
def test_modes_are_read(text: str, written: str, signature: int) -> None:
    assert str(mode_of(text)) == written
    assert mode_of(text).signature == signature


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("D doriam", "did you mean dorian?"),
        ("D qqq", "the modes are dorian"),
        ("H dorian", "not a mode"),
        ("dorian", "write such as ‘D dorian’"),
        ("", "not a mode"),
        ("Bb", "‘Bb minor’"),
        ("G# major", "at most seven"),
        ("C, 5 sharps", "no mode with the final C has five sharps"),
    ],
)
def test_what_is_no_mode_is_refused_in_words(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=re.escape(message)):
        mode_of(text)


def test_places() -> None:
    dorian = mode_of("D dorian")
    assert dorian.place(pitch_of("D5")) == (1, 0)
    assert dorian.place(pitch_of("C#4")) == (7, 1)
    assert dorian.place(pitch_of("Bb3")) == (6, -1)
    assert dorian.is_leading(pitch_of("C#4"))
    assert not dorian.is_leading(pitch_of("C4"))
    assert not dorian.is_leading(pitch_of("Db4"))
    assert mode_of("C major").is_leading(pitch_of("B3"))


# Musica ficta has Bb, Eb, F#, C# and G#; common practice, no source.
def test_altered_notes_are_spelled_as_in_dorian() -> None:
    spelled = [pitch_name(mode_of("D").spell(number)) for number in range(60, 72)]
    assert spelled == ["C4", "C#4", "D4", "Eb4", "E4", "F4", "F#4", "G4", "G#4", "A4", "Bb4", "B4"]


def test_modes_on_a_final_have_all_six_signatures() -> None:
    assert sorted(mode.signature for mode in modes_on(1, 0)) == [-2, -1, 0, 1, 2, 3]
    assert all(abs(mode.signature) <= 7 for letter_ in range(7) for mode in modes_on(letter_, 1))


def test_signatures_in_words() -> None:
    assert [signs_in_words(n) for n in (0, 1, -2, 9)] == [
        "no sharps or flats",
        "one sharp",
        "two flats",
        "9 sharps",
    ]
