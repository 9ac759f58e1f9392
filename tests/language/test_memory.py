"""Checking again after an edit: what is remembered changes nothing of what is found."""

from collections.abc import Callable
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rulekit.language.library import read_ruleset
from rulekit.language.memory import Memory
from rulekit.language.parser import split
from rulekit.language.whole import Examined, examine

NAMES = ["second-species-strict", "zarlino-two-voices", "vocabulary"]


def _line(chance: Random, text: str, change: Callable[[list[str], int], object]) -> str:
    lines = text.split("\n")
    change(lines, chance.randrange(len(lines)))
    return "\n".join(lines)


def _word(chance: Random, text: str, other: str) -> str:
    places = [i for i, sign in enumerate(text) if sign == " "]
    if len(places) < 2:
        return text
    place = chance.randrange(len(places) - 1)
    return text[: places[place]] + other + text[places[place + 1] :]


def _statements(chance: Random, text: str, change: Callable[[list[str], int], object]) -> str:
    parts = [part for part, _ in split(text)]
    change(parts, chance.randrange(len(parts)))
    return "".join(parts)


EDITS: list[Callable[[Random, str], str]] = [
    lambda chance, text: _line(chance, text, lambda lines, i: lines.insert(i, "-- a remark")),
    lambda chance, text: _line(chance, text, lambda lines, i: lines.insert(i, "")),
    lambda chance, text: _line(chance, text, lambda lines, i: lines.pop(i)),
    lambda chance, text: _line(chance, text, lambda lines, i: lines.insert(i, lines[i])),
    lambda chance, text: _word(chance, text, ""),
    lambda chance, text: _word(chance, text, chance.choice([" is", " not", " 3", " upper", ' "', " nonesuch"])),
    lambda chance, text: _statements(chance, text, lambda parts, i: parts.insert(0, parts.pop(i))),
    lambda chance, text: _statements(chance, text, lambda parts, i: parts.insert(i, parts[i])),
]


def _seen(found: Examined, path: str) -> tuple[object, ...]:
    parsed = found.files[path]
    tokens = [(token, token.type, token.line, token.column, token.start_pos, token.end_pos) for token in parsed.tokens]
    said = [rule.said for rule in found.ruleset.rules]
    return found.ruleset, found.problems, said, parsed.file, tokens, sorted(found.environment.used)


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32))
def test_what_is_remembered_changes_nothing(name: str, seed: int) -> None:
    chance = Random(seed)
    path, whole = read_ruleset(name)
    memory, text = Memory(), whole
    for _ in range(8):
        text = whole if chance.random() < 0.2 else chance.choice(EDITS)(chance, text)
        found = examine(text, str(path), path.parent, memory=memory)
        afresh = examine(text, str(path), path.parent)
        for now, then in zip(_seen(found, str(path)), _seen(afresh, str(path)), strict=True):
            assert now == then


def test_a_rule_that_stands_as_it_stood_is_the_same_rule() -> None:
    """So whoever judged its examples knows that nothing changed."""
    path, text = read_ruleset("zarlino-two-voices")
    memory = Memory()
    before = examine(text, str(path), path.parent, memory=memory).ruleset
    last = before.rules[-1].name
    edited = ("-- a remark\n" + text).replace(f"rule {last}\n", f"rule {last}\n\n", 1)
    after = examine(edited, str(path), path.parent, memory=memory).ruleset
    assert [rule is known for rule, known in zip(after.rules, before.rules, strict=True)].count(False) == 1
