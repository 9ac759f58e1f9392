"""Clefs: few ledger lines, neighbours for neighbours."""

from dataclasses import replace
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from rulekit.exercise.model import Clef, Event, Exercise, Voice
from rulekit.exercise.notation import read_exercises
from rulekit.music.mode import mode_of
from rulekit.music.pitch import Pitch, make_pitch, pitch_of, step
from rulekit.page.clefs import CLEFS, ledger_lines, middle, modern_clefs, source_clefs, vocal_clefs

notes = st.builds(make_pitch, st.integers(0, 6), st.just(0), st.integers(2, 5)).map(Pitch)


@st.composite
def textures(draw: st.DrawFn) -> Exercise:
    lines = draw(st.lists(st.lists(notes, min_size=1, max_size=6), min_size=1, max_size=4))
    voices = [Voice(f"v{i}", tuple(Event(pitch, 4) for pitch in line)) for i, line in enumerate(lines)]  # type: ignore[arg-type]
    return Exercise("drawn", tuple(voices), mode_of("C ionian"))


@given(textures())
def test_a_higher_voice_never_has_a_lower_clef(exercise: Exercise) -> None:
    order = [CLEFS.index(clef) for clef in vocal_clefs(exercise)]
    assert all(above <= below for above, below in pairwise(order))


@given(textures())
def test_one_voice_has_the_clef_with_fewest_ledger_lines(exercise: Exercise) -> None:
    alone = Exercise("alone", exercise.voices[:1], exercise.mode)
    (chosen,) = vocal_clefs(alone)
    assert ledger_lines(alone.voices[0], chosen) == min(ledger_lines(alone.voices[0], clef) for clef in CLEFS)


@given(textures())
def test_modern_clefs_are_treble_and_bass(exercise: Exercise) -> None:
    assert {clef.shape for clef in modern_clefs(exercise)} <= {"G", "F"}


def test_ledger_lines_are_counted() -> None:
    """Source: middle C is one ledger line below the treble staff and above the bass; common practice, no source."""
    (exercise,), _ = read_exercises("mode: C ionian\nupper C4 A5 F5 G5 B3 A3 C6")
    assert ledger_lines(exercise.voices[0], CLEFS[0]) == 1 + 1 + 0 + 0 + 1 + 2 + 2


def test_a_choir_has_a_clef_after_the_other() -> None:
    text = "mode: C ionian\nsoprano E4 A4 C5 B4\nalto C4 D4 F4 G4\ntenor G3 F3 A3 D4\nbass C3 D3 F3 G2"
    (exercise,), _ = read_exercises(text)
    assert [(clef.shape, clef.line) for clef in vocal_clefs(exercise)] == [("C", 2), ("C", 3), ("C", 4), ("C", 5)]


def test_the_middle_line_of_each_clef() -> None:
    """Source: treble, soprano, mezzo-soprano, alto, tenor, baritone and bass; common practice, no source."""
    assert [middle(clef) for clef in CLEFS] == [step(pitch_of(n)) for n in ("B4", "G4", "E4", "C4", "A3", "F3", "D3")]
    assert middle(Clef("G", 2, -1)) == step(pitch_of("B3"))


def test_the_clefs_of_a_score_are_kept_if_it_says_them_all() -> None:
    (exercise,), _ = read_exercises("mode: C ionian\nupper E4 A4\ncantus C4 D4")
    upper, cantus = exercise.voices
    said = (replace(upper, clef=Clef("C", 1)), replace(cantus, clef=Clef("G", 2, -1)))
    assert source_clefs(replace(exercise, voices=said)) == (Clef("C", 1), Clef("G", 2, -1))
    assert source_clefs(replace(exercise, voices=(said[0], cantus))) == ()
