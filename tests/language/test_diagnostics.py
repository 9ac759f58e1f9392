"""What an author is told: each file in ``errors`` ends with the messages that reading it must give.

A line ``-- expects 4:10: MESSAGE => HINT`` names a mistake by line and column, how its message begins and
(if given) how its hint begins; ``-- warns`` a warning of a file that can be used. Nothing else may be told.
"""

import re
from pathlib import Path

import pytest

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.language.loading import load_ruleset, load_text

FILES = sorted((Path(__file__).parent / "errors").glob("*.rules"))
EXPECTED = re.compile(r"^-- (expects|warns) (\d+):(\d+): (.*?)(?: => (.*))?$", re.MULTILINE)


def told(path: Path) -> list[tuple[str, Diagnostic]]:
    try:
        return [("warns", warning) for warning in load_ruleset(path).warnings]
    except RulekitError as error:
        return [("expects", diagnostic) for diagnostic in error.diagnostics]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_each_mistake_is_told_in_its_place(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    expected = EXPECTED.findall(text)
    found = told(path)
    assert expected
    assert [(kind, str(d.line), str(d.column)) for kind, d in found] == [row[:3] for row in expected]
    for (_, diagnostic), (_, _, _, message, hint) in zip(found, expected, strict=True):
        assert diagnostic.message.startswith(message)
        assert diagnostic.hint.startswith(hint) if hint else not diagnostic.hint
        assert diagnostic.path == str(path)
        assert diagnostic.source_line == text.splitlines()[diagnostic.line - 1]


def test_the_mark_stands_under_the_mistake() -> None:
    with pytest.raises(RulekitError) as raised:
        load_text("define sweet as third or sixht\nadjust none: advice\n", "own.rules")
    assert str(raised.value) == (
        "own.rules:1:26: there is no word ‘sixht’\n"
        "    define sweet as third or sixht\n"
        "                             ^^^^^\n"
        "    Did you mean ‘sixth’? Write: define sweet as third or sixth\n"
        "own.rules:2:8: there is no rule ‘none’\n"
        "    adjust none: advice\n"
        "           ^^^^"
    )


def test_a_mistake_in_another_file_is_told_with_its_name(tmp_path: Path) -> None:
    (tmp_path / "words.rules").write_text("define sweet as thirt\n", encoding="utf-8")
    (tmp_path / "mine.rules").write_text("use words\n", encoding="utf-8")
    with pytest.raises(RulekitError) as raised:
        load_ruleset(tmp_path / "mine.rules")
    (diagnostic,) = raised.value.diagnostics
    assert (Path(diagnostic.path).name, diagnostic.line, diagnostic.column) == ("words.rules", 1, 17)
    assert diagnostic.source_line == "define sweet as thirt"


def test_the_file_of_a_rule_that_is_built_on_is_named(tmp_path: Path) -> None:
    """A parameter set to a value that a rule can’t use is told where it is set."""
    (tmp_path / "mine.rules").write_text("build on first-species-strict\nset most-thirds to 40\n", encoding="utf-8")
    with pytest.raises(RulekitError, match=r"mine\.rules:2:20: ‘most-thirds’ goes from 1 to 9"):
        load_ruleset(tmp_path / "mine.rules")


def test_a_value_from_the_command_line_replaces_the_one_in_the_file(tmp_path: Path) -> None:
    (tmp_path / "mine.rules").write_text("build on first-species-strict\nset most-thirds to 4\n", encoding="utf-8")
    values = {p.name: p.value.value for p in load_ruleset(tmp_path / "mine.rules", {"most-thirds": "5"}).parameters}
    assert values["most-thirds"] == 5
    with pytest.raises(RulekitError, match="goes from 1 to 9"):
        load_ruleset(tmp_path / "mine.rules", {"most-thirds": "10"})


def test_a_missing_ruleset_is_told_with_the_nearest_name() -> None:
    with pytest.raises(RulekitError, match="Did you mean ‘first-species-strict’"):
        load_ruleset("first-species-strickt")
