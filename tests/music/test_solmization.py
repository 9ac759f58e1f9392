"""What notes are sung by."""

import pytest

from rulekit.music.mode import mode_of
from rulekit.music.pitch import pitch_of
from rulekit.music.solmization import (
    degree_name,
    fixed_syllable,
    german_name,
    letter_name,
    movable_syllable,
    scale,
)


def sung(mode: str, minor: str = "la") -> str:
    return " ".join(movable_syllable(pitch, mode_of(mode), minor) for pitch in scale(mode_of(mode)))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("mode", "minor", "syllables"),
    [
        ("C ionian", "la", "do re mi fa sol la ti do"),
        ("G mixolydian", "la", "do re mi fa sol la te do"),
        ("F lydian", "re", "do re mi fi sol la ti do"),
        ("A aeolian", "la", "la ti do re mi fa sol la"),
        ("D dorian", "re", "re mi fa sol la ti do re"),
        ("D dorian", "la", "la ti do re mi fi sol la"),
        ("E phrygian", "mi", "mi fa sol la ti do re mi"),
        ("E phrygian", "la", "la te do re mi fa sol la"),
        ("A aeolian", "re", "re mi fa sol la te do re"),
    ],
)
def test_movable_syllables(mode: str, minor: str, syllables: str) -> None:
    """Source: tonic sol-fa; common practice, no source."""
    assert sung(mode, minor) == syllables


def test_a_leading_note_is_raised() -> None:
    dorian = mode_of("D dorian")
    assert movable_syllable(pitch_of("C#5"), dorian) == "si"
    assert movable_syllable(pitch_of("C#5"), dorian, "re") == "di"
    assert degree_name(pitch_of("C#5"), dorian) == "♯7"
    assert degree_name(pitch_of("Bb4"), dorian) == "♭6"


@pytest.mark.parametrize("mode", ["D dorian", "A major", "E phrygian", "F lydian"])
def test_octaves_are_sung_alike(mode: str) -> None:
    low, high = scale(mode_of(mode), 3), scale(mode_of(mode), 5)
    assert [movable_syllable(p, mode_of(mode)) for p in low] == [movable_syllable(p, mode_of(mode)) for p in high]


def test_transposed_modes_are_sung_alike() -> None:
    assert sung("D dorian") == sung("G dorian") == sung("F# dorian")


@pytest.mark.parametrize(
    ("note", "german"),
    [("C#4", "cis"), ("Bb4", "b"), ("B4", "h"), ("Eb4", "es"), ("Ab4", "as"), ("Db4", "des"), ("B#4", "his"),
     ("Bbb4", "bes"), ("Ebb4", "eses"), ("Abb4", "ases"), ("F##4", "fisis")],
)  # fmt: skip
def test_german_names(note: str, german: str) -> None:
    """Source: German musical usage; common practice, no source (B double flat is also heses)."""
    assert german_name(pitch_of(note)) == german


def test_letters_and_fixed_syllables() -> None:
    assert [letter_name(pitch_of(n)) for n in ("C#5", "Bb3", "F4")] == ["C♯", "B♭", "F"]
    assert [fixed_syllable(pitch_of(n)) for n in ("C#5", "B3", "G4")] == ["do♯", "si", "sol"]
