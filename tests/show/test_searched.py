"""Numbers and their things agree in what is told of a search, of a fit and in a list of values."""

import re

import pytest

from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset
from rulekit.music.pitch import pitch_of
from rulekit.show.fitted import fit_heading
from rulekit.show.searched import drawn_words, loses_words, lost_words, mended_words, single_change_line
from rulekit.show.terminal import Screen
from rulekit.show.words import const_words, source_words
from rulekit.solving.answers import Edit, Mended

(EXERCISE,), _ = read_exercises("upper A4 B4 A4\ncantus D4 D4 D4")
EDIT = Edit(2, "upper", pitch_of("B4"), pitch_of("C5"))


@pytest.mark.parametrize("number", range(4))
def test_one_of_a_thing_is_told_as_one(number: int) -> None:
    told = [
        loses_words(number), lost_words(number), single_change_line(EDIT, number), drawn_words(5, 1, number),
        mended_words(Mended(EXERCISE, (EDIT,), number)),
    ]  # fmt: skip
    for each in told:
        assert re.search(rf"\b{number} (?:point|step){'' if number == 1 else 's'}\b", each), each
    assert ("point is lost" in single_change_line(EDIT, number)) == (number == 1)


@pytest.mark.parametrize(("examples", "said"), [(0, "0 examples support"), (1, "1 example supports")])
def test_examples_support_and_one_supports(examples: int, said: str) -> None:
    assert said in fit_heading(Screen(80, {}), load_ruleset("vocabulary"), [EXERCISE] * examples)


def test_a_line_drawn_from_one_loses() -> None:
    assert drawn_words(1, 7, 1) == "one of 1 that loses 1 point, drawn with seed 7"
    assert drawn_words(3, 7, 2) == "one of 3 that lose 2 points, drawn with seed 7"
    assert drawn_words(3, 7) == "one of 3, drawn with seed 7"


def test_values_are_said_by_their_names() -> None:
    found = {parameter.name: parameter for parameter in load_ruleset("first-species-strict").parameters}
    widest = found["widest-range"]
    assert widest.low is not None and const_words(widest.value) == "major tenth"
    assert not re.search(r"\b[PMmAd]\d", " ".join(const_words(each.value) for each in found.values()))


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("common practice, no source", ""),
        ("common practice; the limit is this ruleset's choice", "the limit is this ruleset's choice"),
        ("Fux 1725, book II", "Fux 1725, book II"),
    ],
)
def test_a_source_is_what_was_published_or_chosen(source: str, said: str) -> None:
    assert source_words(source) == said
