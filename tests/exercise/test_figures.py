"""Interval figures against an independent computation by music21, and their laws."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import interval as m21_interval
from music21 import key as m21_key
from music21 import pitch as m21_pitch

from rulekit.exercise.figures import figures
from rulekit.exercise.model import Event, Exercise, Voice, sounding_notes
from rulekit.exercise.notation import read_exercises
from rulekit.music.mode import Mode, mode_of
from rulekit.music.pitch import Pitch, make_pitch, pitch_name


def read(text: str) -> Exercise:
    (exercise,), problems = read_exercises(text)
    assert not problems
    return exercise


def figured(text: str, reduced: bool = False) -> list[str]:
    return [" ".join(f.words(reduced) for f in each.figures) for each in figures(read(text))]


def test_figures_are_written_as_the_trade_writes_them() -> None:
    lines = "mode: D dorian\nupper  D5 A4 B4 C#5 D6 D4\ncantus D4 F4 G4 E4 D4 D4"
    assert figured(lines) == ["8", "3", "3", "#6", "15", "1"]
    assert figured(lines, reduced=True) == ["8", "3", "3", "#6", "8", "1"]


def test_a_natural_cancels_the_signature() -> None:
    assert figured("mode: G dorian\nupper B4 Bb4 F#5\ncantus G4 G4 D4") == ["n3", "3", "#10"]


def test_crossed_voices_are_measured_from_the_true_bass() -> None:
    """Source: the trade's practice, as the product describes it; in the second bar the upper voice is the bass."""
    crossed = list(figures(read("mode: A aeolian\nupper E4 C4 C4\ncantus A3 E4 E4")))
    assert [[(f.voice, f.bass, f.name) for f in each.figures] for each in crossed] == [
        [(0, 1, "P5")], [(1, 0, "M3")], [(1, 0, "M3")],
    ]  # fmt: skip
    assert [each.crossed for each in crossed] == [(), ((0, 1),), ((0, 1),)]


def test_several_voices_are_figured_above_the_bass_in_their_order() -> None:
    text = "mode: C ionian\nsoprano E5 C4\nalto G4 E4\ncantus C4 G4"
    assert [[f.words() for f in each.figures] for each in figures(read(text))] == [["10", "5"], ["3", "5"]]


def test_one_voice_alone_has_no_figure() -> None:
    assert figured("mode: C ionian\nupper r G4\ncantus C4 r") == []


notes = st.builds(make_pitch, st.integers(0, 6), st.integers(-1, 1), st.integers(3, 5)).map(Pitch)
lengths = st.sampled_from([Fraction(1), Fraction(2), Fraction(4), Fraction(3)])
modes = st.sampled_from([mode_of(text) for text in ("D dorian", "G dorian", "E phrygian", "A major", "F lydian")])


@st.composite
def textures(draw: st.DrawFn) -> Exercise:
    """Two to four voices of notes and rests in unequal lengths, crossing as they like."""
    voices: list[Voice] = []
    for number in range(draw(st.integers(2, 4))):
        events = draw(st.lists(st.builds(Event, st.none() | notes, lengths), min_size=1, max_size=8))
        voices.append(Voice(f"voice {number}", tuple(events)))
    return Exercise("drawn", tuple(voices), draw(modes))


def sounding(exercise: Exercise, time: Fraction) -> dict[int, m21_pitch.Pitch]:
    """What sounds at a time, looked up in the written events, as music21 pitches."""
    found: dict[int, m21_pitch.Pitch] = {}
    for number, voice in enumerate(exercise.voices):
        start = Fraction(0)
        for event in voice.events:
            if event.pitch is not None and start <= time < start + event.length:
                found[number] = m21_pitch.Pitch(pitch_name(event.pitch).replace("b", "-"))
            start += event.length
    return found


def by_reference(exercise: Exercise, time: Fraction) -> list[tuple[int, str, str]]:
    """The figures of a moment by music21: voice, interval name and sign."""
    notes = sounding(exercise, time)
    bass = min(notes, key=lambda voice: (_height(notes[voice]), -voice))
    signature = m21_key.KeySignature(exercise.mode.signature)
    found: list[tuple[int, str, str]] = []
    for voice, pitch in notes.items():
        if voice == bass:
            continue
        between = m21_interval.Interval(*sorted((notes[bass], pitch), key=_height))
        own = signature.accidentalByStep(pitch.step)
        altered = (pitch.accidental.alter if pitch.accidental else 0) != (own.alter if own else 0)
        sign = {1: "#", -1: "b", 0: "n"}[int(pitch.accidental.alter if pitch.accidental else 0)] if altered else ""
        found.append((voice, between.name, sign))
    return found


def _height(pitch: m21_pitch.Pitch) -> tuple[int, float]:
    """The order of spelled notes: by letter and octave, then by alteration."""
    return pitch.diatonicNoteNum, pitch.ps


@settings(max_examples=150)
@given(textures())
def test_figures_equal_an_independent_computation(exercise: Exercise) -> None:
    for each in figures(exercise):
        assert [(f.voice, f.name, f.sign) for f in each.figures] == by_reference(exercise, each.time)


@given(textures())
def test_figures_stand_wherever_two_voices_sound_and_one_begins(exercise: Exercise) -> None:
    lines = [sounding_notes(exercise.setting, i, voice.events) for i, voice in enumerate(exercise.voices)]
    onsets = {note.onset for line in lines for note in line}
    expected = {time for time in onsets if len(sounding(exercise, time)) > 1}
    assert {each.time for each in figures(exercise)} == expected


@pytest.mark.parametrize("text", ["mode: D dorian\nupper A4 B4\ncantus D4 G4"])
def test_voices_exchanged_have_the_same_intervals(text: str) -> None:
    exercise = read(text)
    turned = Exercise("turned", exercise.voices[::-1], exercise.mode)
    assert [[f.name for f in each.figures] for each in figures(exercise)] == [
        [f.name for f in each.figures] for each in figures(turned)
    ]


def test_the_mode_decides_the_sign() -> None:
    exercise = read("mode: D dorian\nupper Bb4\ncantus G4")
    (plain,) = figures(Exercise("", exercise.voices, Mode(1, 0, "aeolian")))
    (signed,) = figures(exercise)
    assert (plain.figures[0].words(), signed.figures[0].words()) == ("3", "b3")
