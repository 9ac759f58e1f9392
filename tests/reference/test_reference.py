"""Exercises checked by hand: each ruleset must find exactly what stands in the comments above their notes."""

import re
from pathlib import Path

import pytest

from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark

RULESETS = {"strict": load_ruleset("first-species-strict"), "lenient": load_ruleset("first-species-lenient")}
TEXT = (Path(__file__).parent / "two-voices.notes").read_text(encoding="utf-8")
BLOCKS = re.split(r"^(?=exercise:)", TEXT, flags=re.M)[1:]


def expected(block: str, label: str) -> list[str]:
    """The findings that a comment such as ``-- strict: no-parallels 2, one-climax overall`` names."""
    lines = re.search(rf"^-- {label}: (.*(?:\n--   .*)*)", block, re.M)
    assert lines is not None
    words = re.sub(r"\s*\n--\s+", " ", lines[1])
    return [] if words == "nothing" else words.split(", ")


def title(block: str) -> str:
    return block.splitlines()[0].removeprefix("exercise: ")


@pytest.mark.parametrize("label", RULESETS)
@pytest.mark.parametrize("block", BLOCKS, ids=title)
def test_exactly_what_was_found_by_hand(block: str, label: str) -> None:
    (exercise,), problems = read_exercises(block)
    assert not problems
    findings = mark(exercise, RULESETS[label]).findings
    found = [f"{f.rule} {f.bar or 'overall'}" for f in findings if f.excuse is None]
    assert sorted(found) == sorted(expected(block, label))
