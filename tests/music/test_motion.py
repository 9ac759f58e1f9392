"""The kinds of motion against music21's voice-leading quartets, and the laws they obey."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import note, voiceLeading

from rulekit.music.motion import Motion, motion
from rulekit.music.pitch import Pitch, make_pitch, pitch_name, pitch_of

WHITE = [make_pitch(letter, 0, octave) for octave in (3, 4) for letter in range(7)]
pitches = st.builds(make_pitch, st.integers(0, 6), st.integers(-1, 1), st.integers(2, 5)).map(Pitch)


def theirs(upper: Pitch, lower: Pitch, next_upper: Pitch, next_lower: Pitch) -> Motion:
    """The kind of motion by music21."""
    quartet = voiceLeading.VoiceLeadingQuartet(
        *(note.Note(pitch_name(p).replace("b", "-")) for p in (upper, next_upper, lower, next_lower))
    )
    if quartet.noMotion():
        return Motion.NONE
    if quartet.obliqueMotion():
        return Motion.OBLIQUE
    if quartet.contraryMotion():
        return Motion.CONTRARY
    return Motion.PARALLEL if quartet.parallelMotion() else Motion.SIMILAR


@pytest.mark.parametrize("upper", WHITE[7:], ids=pitch_name)
def test_every_motion_of_two_voices_agrees_with_music21(upper: Pitch) -> None:
    for lower, up, down in product(WHITE[::3], (-4, -1, 0, 1, 2), (-3, -1, 0, 1, 2)):
        next_upper, next_lower = Pitch(upper + up * 258), Pitch(lower + down * 258)
        ours = motion(upper, lower, next_upper, next_lower)
        assert ours == theirs(upper, lower, next_upper, next_lower)


@given(pitches, pitches, pitches, pitches)
def test_motion_backwards_and_with_voices_exchanged_is_of_the_same_kind(
    upper: Pitch, lower: Pitch, next_upper: Pitch, next_lower: Pitch
) -> None:
    kind = motion(upper, lower, next_upper, next_lower)
    assert motion(next_upper, next_lower, upper, lower) == kind
    assert motion(lower, upper, next_lower, next_upper) == kind


# Fux, Gradus ad Parnassum (1725), book I: direct, contrary and oblique motion are defined so.
@pytest.mark.parametrize(
    ("notes", "kind"),
    [
        ("G4 C4 A4 D4", Motion.PARALLEL),
        ("G4 C4 B4 D4", Motion.SIMILAR),
        ("G4 C4 F4 D4", Motion.CONTRARY),
        ("G4 C4 G4 D4", Motion.OBLIQUE),
        ("G4 C4 G4 C4", Motion.NONE),
        ("E4 C4 F4 D4", Motion.PARALLEL),  # a third stays a third, though major becomes minor
        ("C4 C4 C#4 C4", Motion.OBLIQUE),
    ],
)
def test_kinds(notes: str, kind: Motion) -> None:
    assert motion(*map(pitch_of, notes.split())) == kind
