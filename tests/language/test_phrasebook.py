"""The book of what teachers ask for: each wording finds its own clauses, and they can be used."""

import tomllib
from pathlib import Path

import pytest

from rulekit.language.intent import phrasebook
from rulekit.language.intent.phrasebook import matches, phrases, understood
from rulekit.language.loading import load_text

_BOOK = tomllib.loads((Path(phrasebook.__file__).parent / "phrases.toml").read_text(encoding="utf-8"))["phrase"]
_WORDINGS = [(number, words) for number, entry in enumerate(_BOOK) for words in entry["say"]]
_FORBIDDEN = [
    words for entry in _BOOK for words in entry["say"] if all(each.startswith("forbid ") for each in entry["say"])
]
_LOOKS_AT = {
    "note": "note in counterpoint",
    "interval": "interval between each pair",
    "move": "move between each pair",
    "line": "line in counterpoint",
    "pair": "pair between each pair",
    "sonority": "sonority",
}


def rule(clause: str, of: str) -> str:
    """A ruleset of one rule with the clause in it, and what else a rule must have."""
    scope = "" if clause.startswith("for every") else f"for every {_LOOKS_AT.get(of, 'note in counterpoint')}"
    is_demand = any(word in clause for word in ("require ", "forbid "))
    demand = "" if is_demand else "forbid it is first"
    return f'ruleset "One"\nrule one\n "One."\n {scope}\n {clause}\n {demand}\n fault\n source "our own"\n'


@pytest.mark.parametrize(("number", "words"), _WORDINGS, ids=[words for _, words in _WORDINGS])
def test_a_wording_is_wholly_said_by_its_own_clauses(number: int, words: str) -> None:
    """No other entry that speaks of the same things says it first, and it can be used in such a rule."""
    own = phrases()[number]
    whole = [match for match in matches(words) if match.likeness > 0.999 and match.of == own.of]
    assert whole, f"{words}: {[*matches(words)][:2]}"
    assert whole[0].clause == phrasebook.filled(own, understood(words))
    for of in own.of:
        load_text(rule(whole[0].clause, of))


@pytest.mark.parametrize("words", _FORBIDDEN)
def test_a_wish_is_not_offered_as_its_opposite(words: str) -> None:
    """What is forbidden is never wholly said by clauses of which the opposite demand is the author’s."""
    wished = words.replace("forbid ", "require ", 1)
    for match in matches(wished):
        if match.likeness > 0.999:
            assert match.clause not in {each.clause for each in matches(words) if each.likeness > 0.999}


def test_other_words_and_another_order_mean_the_same() -> None:
    for first, second in (
        ("forbid parallel fifths", "fifths in parallel motion are forbidden"),
        ("require at least 50% contrary motion", "contrary motion must be at least 50%"),
    ):
        assert matches(first)[0].clause == matches(second)[0].clause


def test_what_is_named_is_filled_in() -> None:
    found = matches("forbid going from a major tenth to an octave")[0]
    assert found.clause == "forbid previous interval is M10 and interval is octave"
    assert not matches("no nonsense whatever about bananas")
