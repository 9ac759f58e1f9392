"""Parameters that are sets, and definitions that a file replaces."""

import pytest

from rulekit.diagnostics import RulekitError
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_text
from rulekit.marking import mark

RULES = """
parameter allowed is a set of motion, usually contrary or oblique
rule into-fifths
  "{allowed}"
  for every move between each pair
  when interval is P5
  require motion is allowed
  fault
  source "common practice, no source"
"""
PARALLEL = read_exercises("upper A4 B4\ncantus D4 E4")[0][0]


def test_a_set_parameter_means_any_of_its_values() -> None:
    assert [finding.message for finding in mark(PARALLEL, load_text(RULES)).findings] == ["Contrary or oblique"]
    assert not mark(PARALLEL, load_text(RULES + "set allowed to oblique or parallel\n")).findings


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("set allowed to contrary or 5", "a count does not go into one set with a motion"),
        ("set allowed to P5", "‘allowed’ is a motion, but this is an interval"),
        ("replace define perfects as P5", "there is no definition ‘perfects’"),
        ("define fifths as P5\nreplace define fifths as P8", "‘fifths’ is defined in this file already"),
    ],
)
def test_a_wrong_change_is_told(change: str, told: str) -> None:
    with pytest.raises(RulekitError) as caught:
        load_text(f"{RULES}{change}\n")
    assert told in [diagnostic.message for diagnostic in caught.value.diagnostics]
