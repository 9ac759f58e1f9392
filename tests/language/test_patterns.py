"""The patterns of data that a stranger's line is held against: none takes long, whatever the line."""

import re
import time
from collections.abc import Iterator

import pytest

from rulekit.language.intent import words
from rulekit.language.limits import MAX_LINE
from rulekit.language.slips import slips

_SECONDS = 1
_REPEATED = ["=", ":", ",", "-", " ", "a ", "a-", "is ", "not ", "first ", "(", "()", "every ", "note ", "third or ",
             "bar 1 ", "1", ".", "'s ", "nor ", "to ", "must ", '"', "{"]  # fmt: skip
_BEGINNINGS = ["", "  ", "together ", "define x ", "parameter x ", "rule x ", "require third "]


def patterns() -> Iterator[re.Pattern[str]]:
    """Every pattern of the slips and of the words."""
    yield from (slip.pattern for slip in slips())
    for found in words.data()["patterns"].values():
        rows = [found] if isinstance(found, str) else [row[0] for row in found]
        yield from (re.compile(row, re.IGNORECASE) for row in rows)


@pytest.mark.parametrize("beginning", _BEGINNINGS)
def test_a_pattern_decides_soon(beginning: str) -> None:
    """Law that was missing: a repeated sign inside a repeated phrase tries every way to divide the row.

    Short rows come first: where each sign doubles the time they tell it, and the long ones would never end.
    """
    for count in (26, MAX_LINE):
        lines = [f"{(beginning + sign * count)[:MAX_LINE]}|" for sign in _REPEATED]
        for pattern in patterns():
            began = time.process_time()
            for line in lines:
                pattern.search(line)
            assert time.process_time() - began < _SECONDS, pattern.pattern
