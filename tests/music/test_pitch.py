"""Pitches and intervals against music21, which spells them by its own means, over all of C1 to C7."""

from itertools import product

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch

from rulekit.music import pitch as p

RANGE = [
    p.make_pitch(letter, shift, octave) for octave, letter, shift in product(range(1, 7), range(7), range(-2, 3))
] + [p.make_pitch(0, shift, 7) for shift in range(-2, 3)]
pitches = st.sampled_from(RANGE)
MOST_ALTERED = 4  # music21 has names up to the quadruply augmented or diminished


def theirs(pitch: p.Pitch) -> m21_pitch.Pitch:
    """The same note as music21 has it, through its name."""
    return m21_pitch.Pitch(p.pitch_name(pitch).replace("b", "-"))


@pytest.mark.parametrize("octave", range(1, 7))
def test_parts_of_every_pitch_agree_with_music21(octave: int) -> None:
    for pitch in (pitch for pitch in RANGE if p.octave(pitch) == octave):
        other = theirs(pitch)
        assert p.semitone(pitch) == round(other.ps)
        assert p.step(pitch) == other.diatonicNoteNum - 1
        assert p.LETTERS[p.letter(pitch)] == other.step
        assert p.alteration(pitch) == other.alter
        assert p.octave(pitch) == other.octave


def test_every_name_is_read_back() -> None:
    assert all(p.pitch_of(p.pitch_name(pitch)) == pitch for pitch in RANGE)
    assert len(set(RANGE)) == len(RANGE)


# All notes of one octave against all notes from there to three octaves above: every interval to a 24th.
@pytest.mark.parametrize("lower", [pitch for pitch in RANGE if p.octave(pitch) == 3], ids=p.pitch_name)
def test_every_interval_agrees_with_music21(lower: p.Pitch) -> None:
    for upper in (pitch for pitch in RANGE if 3 <= p.octave(pitch) <= 5 and p.step(pitch) > p.step(lower)):
        ours = p.between(lower, upper)
        if len(p.quality(ours)) > MOST_ALTERED:
            continue
        other = m21_interval.Interval(theirs(lower), theirs(upper))
        assert p.size(ours) == other.generic.undirected
        assert p.semitones(ours) == other.semitones
        assert p.interval_name(ours) == other.name
        assert p.interval_name(p.simple(ours)) == other.semiSimpleName


@given(pitches, pitches)
def test_intervals_over_the_whole_range_agree_with_music21(lower: p.Pitch, upper: p.Pitch) -> None:
    ours = p.between(lower, upper)
    assume(len(p.quality(ours)) <= MOST_ALTERED)
    other = m21_interval.Interval(theirs(lower), theirs(upper))
    assert p.semitones(ours) == other.semitones
    if p.step(lower) != p.step(upper):  # a unison is never diminished here
        assert p.interval_name(ours) == other.name
        assert p.steps(ours) == other.generic.staffDistance


@given(pitches, st.integers(-14, 14), st.sampled_from(["d", "m", "P", "M", "A"]))
def test_transposition_agrees_with_music21(start: p.Pitch, steps: int, kind: str) -> None:
    name = f"{kind}{abs(steps) + 1}"
    assume((kind in "PAd") if abs(steps) % 7 in (0, 3, 4) else kind != "P")
    assume(name != "d1")
    up = p.interval_of(name)
    other = m21_interval.Interval(name if steps >= 0 else f"{kind}-{abs(steps) + 1}")
    end = p.Pitch(start + up if steps >= 0 else start - up)
    assume(abs(p.alteration(end)) <= MOST_ALTERED)
    there = other.transposePitch(theirs(start), maxAccidental=None)
    assert (p.step(end), p.semitone(end)) == (there.diatonicNoteNum - 1, round(there.ps))


@pytest.mark.parametrize("size", range(1, 9))
def test_inversion_agrees_with_music21(size: int) -> None:
    octave = p.interval_of("P8")
    for kind in ("dd", "d", "m", "P", "M", "A", "AA"):
        try:
            ours = p.interval_of(f"{kind}{size}")
        except ValueError:
            continue
        inverted = p.Interval(octave - ours)
        if inverted < 0 or p.steps(ours) == 7:
            continue
        assert p.interval_name(inverted) == m21_interval.Interval(f"{kind}{size}").complement.name


@given(pitches, pitches, pitches)
def test_intervals_add_up(first: p.Pitch, second: p.Pitch, third: p.Pitch) -> None:
    assert p.between(first, second) + p.between(second, third) == p.between(first, third)
    assert p.between(first, second) == -p.between(second, first)


@given(st.integers(1, 64), st.sampled_from(["dd", "d", "m", "P", "M", "A", "AAA"]))
def test_interval_names_are_read_back_or_refused(number: int, kind: str) -> None:
    perfect = number % 7 in (1, 4, 5)
    name = f"{kind}{number}"
    if (kind == "P" and not perfect) or (kind in "mM" and perfect) or (kind[0] == "d" and number == 1):
        with pytest.raises(ValueError, match="did you mean"):
            p.interval_of(name)
    else:
        assert p.interval_name(p.interval_of(name)) == name


@pytest.mark.parametrize("name", ["", "H4", "C", "C#b4", "C###4", "4C", "C10", "C-1", "C４"])
def test_other_names_are_refused(name: str) -> None:
    with pytest.raises(ValueError, match="not a pitch name"):
        p.pitch_of(name)


@pytest.mark.parametrize("name", ["P", "5", "X5", "P0", "P99"])
def test_other_intervals_are_refused(name: str) -> None:
    with pytest.raises(ValueError, match=name):
        p.interval_of(name)


@given(pitches, pitches)
def test_simple_keeps_octaves_and_stays_within_one(lower: p.Pitch, upper: p.Pitch) -> None:
    wide = p.rising(p.between(lower, upper))
    simple = p.simple(wide)
    assert 0 <= p.steps(simple) <= 7
    assert p.quality(simple) == p.quality(wide)
    assert (p.steps(wide) - p.steps(simple)) % 7 == 0
    assert (p.steps(simple) == 0) == (p.steps(wide) == 0)
