"""The language reference: its examples are files that can be used as they stand, and it leaves no word out."""

import re
from pathlib import Path

import pytest

from rulekit.language import vocabulary as v
from rulekit.language.loading import load_text
from rulekit.language.typed import Kind
from rulekit.resources import shipped
from rulekit.trying import try_ruleset

REFERENCE = (shipped("grammar") / "LANGUAGE.md").read_text(encoding="utf-8")
GRAMMAR = (shipped("grammar") / "rules.lark").read_text(encoding="utf-8")
_FENCE = re.compile(r"^```rules(?: (?P<name>[\w-]+))?\n(?P<text>.*?)^```$", re.MULTILINE | re.DOTALL)
BLOCKS = list(_FENCE.finditer(REFERENCE))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the examples that have a file name can be found by the others."""
    for block in BLOCKS:
        if block["name"]:
            (tmp_path / f"{block['name']}.rules").write_text(block["text"], encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: f"line-{REFERENCE.count(chr(10), 0, block.start()) + 1}")
def test_example_can_be_used_as_it_stands(block: re.Match[str], folder: Path) -> None:
    ruleset = load_text(block["text"], str(folder / "example.rules"), folder)
    assert not ruleset.warnings
    trials = try_ruleset(ruleset)
    assert [trial for trial in trials if not trial.passed] == []
    assert {bool(trial.expected) for trial in trials} == {True, False}
    for rule in ruleset.rules:
        verdicts = {bool(example.breaches) for example in rule.examples}
        assert verdicts == {True, False}, f"{rule.name} lacks an accepted or a rejected example"


def test_it_is_short() -> None:
    assert len(REFERENCE.splitlines()) < 700


def _words() -> set[str]:
    """Every word that the vocabulary and the grammar know."""
    words = {word for kind in Kind for table in (v.ATTRIBUTES, v.FLAGS, v.ROLES) for word in table[kind]}
    words |= {*v.FIXED, *v.FUNCTIONS, *v.NAMED_TYPES, *v.THING_TYPES, *v.LINE_SCOPES, *v.PAIR_SCOPES}
    constants = {word for word in v.CONSTANTS if not word.startswith(("dotted-", "tied-", "hypo"))}
    sizes = {word for word in constants if word.endswith("th")}  # fourth to fifteenth stand as rows
    keywords = set(re.findall(r'"([a-z]+)"', GRAMMAR))
    return (words | constants - sizes | keywords) - {"voice"}


@pytest.mark.parametrize("word", sorted(_words()))
def test_reference_names_every_word(word: str) -> None:
    assert re.search(rf"(?<![\w-]){word}(?![\w-])", REFERENCE), f"‘{word}’ is not in the reference"


@pytest.mark.parametrize(("subject", "scopes"), [("note in", v.LINE_SCOPES), ("interval between", v.PAIR_SCOPES)])
def test_every_scope_can_be_written(subject: str, scopes: tuple[str, ...]) -> None:
    for scope in scopes:
        written = scope if scope != "voice" else "voice 2"
        text = f'rule x-1 "x" for every {subject} {written} at first require bar is 1 fault source "none"'
        assert load_text(text).rules[0].scope.words == scope
