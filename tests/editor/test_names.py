"""Which names stand where in a file."""

from rulekit.editor.names import occurrences
from rulekit.language.parser import parse

FIGURES = """
define turn as rising step then falling step
parameter ornaments is a set of figure, usually turn
set ornaments to turn
rule turned "A turn." for every note at 3rd of turn forbid it is 2nd of (ornaments or turn) fault source "our own"
"""


def test_a_figure_is_named_by_parameters_and_members_too() -> None:
    found = occurrences(parse(FIGURES, "own.rules"))
    assert [(each.span.line, each.declares) for each in found if each.word == "turn"] == [
        (2, True), (3, False), (4, False), (5, False), (5, False)
    ]  # fmt: skip
    assert [each.span.line for each in found if each.word == "ornaments"] == [3, 4, 5]
