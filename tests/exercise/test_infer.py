"""What is worked out when a score does not say it, and that it is said in words."""

import pytest

from rulekit.exercise.infer import infer_mode
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises


def read(text: str) -> Exercise:
    (exercise,), problems = read_exercises(text, "x")
    assert problems == []
    return exercise


@pytest.mark.parametrize(
    ("notes", "mode"),
    [
        ("D4 F4 E4 D4", "D dorian"),
        ("D4 C#4 D4", "D dorian"),  # a leading note is no sign of the mode
        ("D4 Bb3 A3 Bb3 D4", "D aeolian"),
        ("G4 Bb4 A4 G4", "G dorian"),
        ("G4 B4 F4 G4", "G mixolydian"),
        ("F4 Bb4 A4 F4", "F ionian"),
        ("F4 A4 F4", "F lydian"),
        ("E4 F4 E4", "E phrygian"),
        ("B3 C#4 F#4 B3", "B aeolian"),
        ("F#4 A4 G#4 F#4", "F# aeolian"),  # nothing tells the sixth degree; the fewer signs win
    ],
)
def test_the_mode_is_that_of_the_last_low_note_and_the_accidentals(notes: str, mode: str) -> None:
    exercise = read(f"a {notes}")
    assert str(exercise.mode) == mode
    assert any(words.startswith(f"mode: {mode}, from the last low note") for words in exercise.inferred)


def test_a_signature_decides() -> None:
    voices = read("a D5 D5\nb D4 D4").voices
    assert str(infer_mode(voices, -1)[0]) == "D aeolian"
    assert str(infer_mode(voices, 0)[0]) == "D dorian"
    assert str(infer_mode(voices, 6)[0]) == "D dorian"  # no mode on D has six sharps


def test_unspelled_notes_are_counted_in_their_best_spelling() -> None:
    voices = read("a G#4 C5 D#5 C#5 G#4").voices
    assert str(infer_mode(voices, None, spelled=False)[0]) == "Ab ionian"


@pytest.mark.parametrize(
    ("text", "cantus", "reason"),
    [
        ("cf D4 F4 D4\nb D3 D3 D3", 0, "by its name"),
        ("the-given-cantus-firmus D4 F4 D4\nb D3 E3 D3", 0, "‘the-given-cantus-firmus’, by its name"),
        ("c.f.alto D4 F4 D4\nb D3 E3 D3", 0, "‘c.f.alto’, by its name"),
        ("above-the-cantus D5 F5 D5\nb D4 E4 D4", 1, "falls to it by step"),
        ("a A4/2 B4 C5 B4\nb D4 D4", 1, "the only voice all in whole-bar notes"),
        ("a D4 E4\nb A3/2 B3 C4/1", 0, "the only voice all in whole-bar notes"),
        ("a D5 E5 D5\nb D4 F4 D4", 0, "falls to it by step"),
        ("a D5 C#5 D5\nb D4 E4 D4", 1, "falls to it by step"),
        ("a D5 E5 D5\nb A4 A4 A4\nc D4 E4 D4", 2, "nothing else tells"),
        ("a A5 A5\nb D4 D4", 1, "nothing else tells"),
        ("a D4 F4 E4 D4", 0, "the only voice"),
        ("a A4/2 B4\nb D4/2 E4", None, "no voice is all in whole-bar notes"),
    ],
)
def test_the_cantus_is_worked_out_and_told(text: str, cantus: int | None, reason: str) -> None:
    exercise = read(f"mode: D\n{text}")
    assert exercise.cantus == cantus
    if reason != "by its name":  # a typed label is no guess
        assert reason in exercise.inferred[-1]


def test_unequal_lengths_are_told() -> None:
    assert read("mode: D\ncantus D4 E4 D4\nb D3 D3").inferred == ("length: ‘b’ ends 1 bar before the others",)
