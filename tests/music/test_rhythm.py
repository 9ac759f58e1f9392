"""What fills a bar, and how a voice moves."""

from fractions import Fraction
from itertools import repeat

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rulekit.exercise.model import Exercise, sounding_notes
from rulekit.exercise.notation import read_exercises
from rulekit.music.rhythm import BarRhythm, bar_rhythms, total


def typed(text: str) -> Exercise:
    (exercise,), problems = read_exercises(f"upper {text}\ncantus {'D4 ' * 4}")
    assert not problems
    return exercise


def bars(*rows: str) -> list[BarRhythm]:
    """Bars from numbers of quarters, a minus before a rest, ~ after a last note that is tied over."""
    return [BarRhythm(tuple(Fraction(v) for v in row.rstrip("~").split()), row.endswith("~")) for row in rows]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("r/2 A4 | A4 B4 | A4/1 | A4", bars("-2 2", "2 2", "4", "4")),
        ("r/2 A4~ | A4 B4~ | B4/1 | A4", bars("-2 2~", "2 2~", "4", "4")),
        ("A4/2~ A4/4 B4 | r/4 r r/2 | A4/1 | A4", bars("3 1", "-4", "4", "4")),
        ("A4/1~ | A4~ | A4/2 B4 | A4/1", bars("4~", "4~", "2 2", "4")),
    ],
)
def test_the_rhythm_of_bars(text: str, expected: list[BarRhythm]) -> None:
    assert bar_rhythms(typed(text).voices[0].spans, repeat(Fraction(4))) == expected


def test_the_rhythm_of_a_voice_adds_up_to_its_bars() -> None:
    exercise = typed("r/4 A4/2. | B4/4 C5/2 D5/4~ | D5/4 C5/8 B4 A4/2 | A4/1")
    for row in bar_rhythms(exercise.voices[0].spans, repeat(Fraction(4))):
        assert sum(map(abs, row.values)) == 4


@pytest.mark.parametrize(
    ("text", "pace"),
    [
        ("A4 B4 C5 D5", "whole"),
        ("r/2 A4 B4 C5 D5 C5 D5/1", "halves"),
        ("r/2 A4~ | A4 B4~ | B4 C5 | D5/1", "tied"),
        ("A4/4 B4 C5 D5 | C5 B4 A4 G4 | A4 B4 C5 D5 | D5/1", "quarters"),
        ("r/2 A4~ | A4/4 B4 C5/2 | A4/4 B4 C5 D5 | B4/1", "florid"),
        ("r r r r", ""),
    ],
)
def test_how_a_voice_moves(text: str, pace: str) -> None:
    assert typed(text).setting.paces[0] == pace


def test_the_first_note_to_begin_in_a_bar() -> None:
    exercise = typed("r/2 A4~ | A4 B4 | A4/1~ | A4/2 B4")
    notes = sounding_notes(exercise.setting, 0, exercise.voices[0].events)
    assert [note.opens_bar for note in notes] == [True, True, True, True]
    assert [note.bar for note in notes if note.opens_bar] == [1, 2, 3, 4]


@given(st.lists(st.fractions(0, 64, max_denominator=96)))
def test_a_total_is_the_sum(lengths: list[Fraction]) -> None:
    assert total(lengths) == sum(lengths)
