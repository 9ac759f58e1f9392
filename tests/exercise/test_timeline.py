"""Sounding notes, moments and dyads."""

from fractions import Fraction
from itertools import pairwise

from hypothesis import given

from rulekit.exercise.model import Exercise, Metre, sounding_notes
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.timeline import Moment, moments
from rulekit.music.pitch import interval_name, pitch_name
from tests.exercise.strategies import exercises


def read(text: str) -> Exercise:
    (exercise,), problems = read_exercises("mode: C\n" + text, "x")
    assert problems == []
    return exercise


def dyads(found: list[Moment]) -> list[str]:
    """The intervals of two voices as they begin, with the motion to each."""
    pairs = [moment.dyad(0, 1) for moment in found]
    return [f"{interval_name(pair.interval)} {pair.motion or '-'}" for pair in pairs if pair]


@given(exercises())
def test_moments_are_the_onsets_in_order(exercise: Exercise) -> None:
    found = list(moments(exercise))
    lines = [sounding_notes(exercise.setting, i, v.events) for i, v in enumerate(exercise.voices)]
    assert [moment.time for moment in found] == sorted({note.onset for line in lines for note in line})
    for voice, line in enumerate(lines):
        begun = [moment.latest[voice] for moment in found if moment.begun[voice]]
        assert [(note.pitch, note.onset, note.length) for note in begun] == [
            (note.pitch, note.onset, note.length) for note in line
        ]
        for moment in found:
            note = moment.notes[voice]
            assert note is None or note.onset <= moment.time < note.onset + note.length
    for before, moment in pairwise(found):
        assert moment.previous is before


@given(exercises())
def test_sounding_notes_fill_the_same_time_as_the_written_ones(exercise: Exercise) -> None:
    for index, voice in enumerate(exercise.voices):
        notes = sounding_notes(exercise.setting, index, voice.events)
        written = sum(event.length for event in voice.events if event.pitch is not None)
        assert sum(note.length for note in notes) == written
        for before, note in pairwise(notes):
            assert note.before is before
            assert note.rested == (before.onset + before.length < note.onset)
            assert note.approach == note.pitch - before.pitch


def test_tied_notes_are_one_note() -> None:
    exercise = read("a C5/2 D5~ | D5 E5")
    first, tied, last = sounding_notes(exercise.setting, 0, exercise.voices[0].events)
    assert (tied.onset, tied.length, tied.bar, tied.downbeat, tied.tied) == (2, 4, 1, False, True)
    assert not first.tied and not last.tied
    assert last.last and not tied.last


def test_bars_beats_and_accents() -> None:
    exercise = read("a C5/4 D5 E5 F5 | G5")
    notes = sounding_notes(exercise.setting, 0, exercise.voices[0].events)
    assert [(note.bar, note.beat) for note in notes] == [
        (1, 1), (1, Fraction(3, 2)), (1, 2), (1, Fraction(5, 2)), (2, 1),
    ]  # fmt: skip
    assert [note.downbeat for note in notes] == [True, False, False, False, True]
    assert [note.accented for note in notes] == [True, False, True, False, True]
    triple = Metre(3, Fraction(1))
    assert [triple.is_accented(Fraction(n, 2)) for n in range(4)] == [True, False, True, False]


def test_degrees_are_those_of_the_mode() -> None:
    (exercise,), _ = read_exercises("mode: D dorian\na D4 C#4 Bb3 A3", "x")
    notes = sounding_notes(exercise.setting, 0, exercise.voices[0].events)
    assert [(note.degree, note.raised) for note in notes] == [(1, 0), (7, 1), (6, -1), (5, 0)]


def test_dyads_and_their_motion() -> None:
    assert dyads(list(moments(read("a G4 A4 C5 C5\nb C4 D4 C4 C4")))) == [
        "P5 -", "P5 parallel", "P8 contrary", "P8 none",
    ]  # fmt: skip


def test_a_dyad_begins_when_either_voice_does() -> None:
    assert dyads(list(moments(read("a G4/2 A4\nb C4")))) == ["P5 -", "M6 oblique"]


def test_crossed_voices_measure_from_the_lower_sound() -> None:
    found = list(moments(read("a E4 C4\nb C4 E4")))
    assert dyads(found) == ["M3 -", "M3 contrary"]
    assert [moment.bass for moment in found] == [1, 0]


def test_the_lowest_written_of_equal_notes_is_the_bass() -> None:
    assert [moment.bass for moment in moments(read("a C4 r\nb C4 r\nc r C3"))] == [1, 2]


def test_no_motion_is_seen_over_a_rest() -> None:
    assert dyads(list(moments(read("a G4 r A4\nb C4 D4 D4")))) == ["P5 -", "P5 -"]
    # The rest ends where both voices begin again, so no moment lies within it.
    assert dyads(list(moments(read("a G4/2 r A4/1\nb C4 D4")))) == ["P5 -", "P5 -"]


def test_a_dyad_goes_on_sounding_while_a_third_voice_moves() -> None:
    found = list(moments(read("a E5\nb C5/2 B4\nc C4")))
    assert found[1].dyad(0, 2) is None
    assert found[1].sounding(0, 2) is found[0].dyad(0, 2)
    assert [found[1].dyad(*pair) is not None for pair in ((0, 1), (1, 2))] == [True, True]


def test_only_the_first_dyad_of_two_voices_is_first_even_after_a_rest() -> None:
    found = list(moments(read("a r G4 r A4\nb C4 D4 D4 D4")))
    pairs = [moment.dyad(0, 1) for moment in found]
    assert [pair and pair.first for pair in pairs] == [None, True, None, False]


def test_crossed_voices_exchange_their_places_in_a_dyad() -> None:
    pair = next(moments(read("a C4\nb E4\nc C3"))).dyad(0, 1)
    assert pair is not None
    assert pair.crossed
    assert (pair.sounding_lower.voice, pair.sounding_upper.voice) == (0, 1)
    assert not pair.on_bass


def test_the_latest_note_is_kept_through_a_rest() -> None:
    found = list(moments(read("a G4 r A4\nb C4 D4 E4")))
    assert found[1].notes[0] is None
    assert [pitch_name(moment.latest[0].pitch) for moment in found] == ["G4", "G4", "A4"]


def test_the_last_moment_sounds_to_the_end() -> None:
    assert [moment.last for moment in moments(read("a G4/2 A4 B4 C5\nb C4 C4"))] == [
        False,
        False,
        False,
        True,
    ]
