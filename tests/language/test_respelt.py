"""Notes in an example that are written as elsewhere: what is told offers the line in typed notation."""

import pytest

from rulekit.diagnostics import RulekitError
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_text
from rulekit.trying import try_ruleset

_RULE = """rule r
  "X."
  for every interval between each pair
  forbid interval is P5
  fault
  source "s"
  accepts
    {}
    | cantus F4 F4 A4
"""
# Strokes are those of Helmholtz’s pitch notation: c' is middle C; H is B natural in German.
_WRITTEN = {
    "| soprano A4, B4, C5": "| soprano A4 B4 C5",
    "| upper A4 - B4 - C5": "| upper A4 B4 C5",
    "| A4 B4 C5": "| upper A4 B4 C5",
    "| upper la4 si4 do5": "| upper A4 B4 C5",
    "| upper a' b' c''": "| upper A4 B4 C5",
    "| upper a' h' cis''": "| upper A4 B4 C#5",
    "| upper A4 C5# D5b": "| upper A4 C#5 Db5",
    "| upper A4 H4 C5": "| upper A4 B4 C5",
    "| upper A4 Bflat4 C5": "| upper A4 Bb4 C5",
    "| upper A♭4 B4 C5": "| upper Ab4 B4 C5",
    "| upper A4 rest C5": "| upper A4 r C5",
}


@pytest.mark.parametrize(("line", "meant"), _WRITTEN.items())
def test_the_line_is_offered_and_can_be_read(line: str, meant: str) -> None:
    with pytest.raises(RulekitError) as raised:
        try_ruleset(load_text(_RULE.format(line), "own.rules"))
    assert all(told.hint.endswith(f"Write: {meant}") for told in raised.value.diagnostics)
    assert not read_exercises(meant.removeprefix("|"))[1]


def test_nothing_is_offered_for_what_is_no_note() -> None:
    with pytest.raises(RulekitError) as raised:
        try_ruleset(load_text(_RULE.format("| upper 5 4 3"), "own.rules"))
    assert all("Write: " not in told.hint for told in raised.value.diagnostics)
