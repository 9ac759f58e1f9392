"""What a sketch asks for: rhythm by the bar, ranges that hold, rests that stay rests."""

from fractions import Fraction

import pytest

from rulekit.exercise.model import Metre
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_text
from rulekit.music.pitch import pitch_of
from rulekit.solving.problem import candidates, rhythm
from rulekit.solving.sketch import Wish, compass_of, search
from tests.solving.cases import D_DORIAN

_ANY = load_text("")


@pytest.mark.parametrize(
    ("metre", "numbers"),
    [
        (Metre(2, Fraction(2)), (1, 2, 4)),
        (Metre(4, Fraction(1)), (1, 2, 4)),
        (Metre(2, Fraction(1)), (1, 2, 4)),
        (Metre(3, Fraction(2)), (1, 3, 6)),
        (Metre(3, Fraction(1)), (1, 3, 6)),
        (Metre(6, Fraction(1, 2)), (1, 2, 6)),
    ],
)
def test_a_species_has_its_notes_to_the_bar(metre: Metre, numbers: tuple[int, int, int]) -> None:
    """However many beats are counted; three against one and six in triple time (common practice, no source)."""
    for species, number in enumerate(numbers, 1):
        notes = rhythm(species, metre, 4 * metre.bar_length)
        assert [note.length for note in notes] == [metre.bar_length / number] * (3 * number) + [metre.bar_length]


def test_a_bar_of_five_has_no_halves() -> None:
    with pytest.raises(ValueError, match="5 beats"):
        rhythm(2, Metre(5, Fraction(1)), Fraction(20))


@pytest.mark.parametrize(("low", "high"), [("C4", "A4"), ("C#4", "Bb4"), ("Cb4", "F#4")])
@pytest.mark.parametrize("altered", [True, False])
def test_no_candidate_oversteps_its_range(low: str, high: str, altered: bool) -> None:
    found = candidates(D_DORIAN, pitch_of(low), pitch_of(high), altered)
    assert all(pitch_of(low) <= pitch <= pitch_of(high) for pitch in found)
    assert altered == any(D_DORIAN.place(pitch)[1] for pitch in found)
    own = D_DORIAN.pitches(pitch_of(low), pitch_of(high))
    assert set(own) <= set(found)


def test_only_open_notes_are_found_and_ties_and_rests_stay() -> None:
    (sketch,), problems = read_exercises("mode: D\nupper r/2 ?~ | ? ?~ | ? C#5 | D5/1\ncantus D4 F4 E4 D4\n")
    assert not problems
    asked = search(sketch, _ANY, Wish(compass=compass_of("A4-D5"), altered=False))
    assert [(slot.onset, slot.length, slot.tied, len(slot.choices)) for slot in asked.lines[0]] == [
        (2, 4, True, 4), (6, 4, True, 4), (10, 2, False, 1), (12, 4, False, 1),
    ]  # fmt: skip
    assert [len(slot.choices) for slot in asked.lines[1]] == [1] * 4


@pytest.mark.parametrize("text", ["A4-A4", "A4-C4", "A4", "A4-", "C4-H5"])
def test_what_is_no_range_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        compass_of(text)
