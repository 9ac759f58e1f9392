"""Counts agree with what they count, and what is published nowhere claims no source."""

from fractions import Fraction

import pytest
from music21 import duration
from music21 import interval as reference

from rulekit.language.typed import Type
from rulekit.music.pitch import interval_of, interval_words, quality, size
from rulekit.show.words import counted, severities_words, source_words
from rulekit.telling import show


@pytest.mark.parametrize(("number", "said"), [(0, "0 bars"), (1, "1 bar"), (2, "2 bars")])
def test_a_count_agrees(number: int, said: str) -> None:
    assert counted(number, "bar") == said


def test_severities_agree() -> None:
    assert severities_words(["advice"]) == "1 piece of advice"
    assert severities_words(["advice", "fault", "advice", "warning"]) == "1 fault, 1 warning, 2 pieces of advice"
    assert severities_words([]) == ""


def test_a_rule_without_a_published_source_claims_none() -> None:
    assert source_words("common practice, no source") == ""
    assert source_words("common practice; the limit is this ruleset's choice") == "the limit is this ruleset's choice"
    assert source_words("Fux 1725, book II") == "Fux 1725, book II"


NAMES = ["m2", "M3", "P4", "A4", "d5", "P5", "m6", "M7", "M9", "m10", "P11", "P12", "AA4", "dd7"]


@pytest.mark.parametrize("name", NAMES)
def test_an_interval_is_said_as_a_reference_library_says_it(name: str) -> None:
    """music21 says Perfect Twelfth, Doubly-Augmented Fourth."""
    spelled = interval_of(name)
    said = reference.Interval(name).niceName.lower().replace("-", " ")
    assert interval_words(quality(spelled), size(spelled)) == said


def test_the_pure_ones_are_said_without_their_quality() -> None:
    assert [interval_words("P", number) for number in (1, 8, 15)] == ["unison", "octave", "fifteenth"]


@pytest.mark.parametrize(
    "length", [Fraction(6), Fraction(3), Fraction(4, 3), Fraction(2, 3), Fraction(3, 4), Fraction(1, 4)]
)
def test_a_length_that_one_sign_writes_has_its_name(length: Fraction) -> None:
    """Law that was missing: what the library of scores names by one sign, a message names as one note."""
    known = duration.Duration(length)
    kind = {"16th": "sixteenth"}.get(known.type, known.type)
    before = "dotted " if known.dots else "triplet " if known.tuplets else ""
    assert show(length, Type.LENGTH) == f"{before}{kind} note"
