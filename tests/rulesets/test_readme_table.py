"""The table in rulesets/README.md: each statement of the catalogue and the rules that say it."""

import re
from functools import cache
from pathlib import Path

import pytest

from rulekit.language.loading import load_ruleset
from rulekit.resources import shipped

ROOT = Path(__file__).parents[2]
TABLE = re.findall(
    r"^\| (\d+) \| (?:([\w-]+) \| ([\w, -]+)|\|) \| ?([\w-]*) ?\|$",
    (ROOT / "rulesets/README.md").read_text("utf-8"),
    re.MULTILINE,
)


@cache
def names(ruleset: str) -> frozenset[str]:
    return frozenset(rule.name for rule in load_ruleset(ruleset).rules)


def test_every_statement_has_its_row() -> None:
    assert [int(number) for number, *_ in TABLE] == list(range(1, 64))


@pytest.mark.parametrize(("number", "ruleset", "rules", "file"), TABLE)
def test_what_a_row_names_is_there(number: str, ruleset: str, rules: str, file: str) -> None:
    assert ruleset or file
    if ruleset:
        assert (shipped("rulesets") / f"{ruleset}.rules").exists()
        assert set(rules.split(", ")) <= names(ruleset)
    if file:
        assert file.startswith(f"{number.zfill(2)}-") and (ROOT / "tests/catalogue" / f"{file}.rules").exists()
