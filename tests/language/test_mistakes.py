"""What authors are told of typical mistakes, word for word; and the law that a line that is offered can be used."""

import re

import pytest

from rulekit.language.slips import data
from tests.language.mistakes import FILES, Mistake, diagnostics, read, words

CASES = [case for path in FILES for case in read(path)]
_OFFERED = re.compile(r"Write: (.*)$")
_INSTEAD = re.compile(r"That is asked with ‘(.*)’ in place of ‘(.*?)’\.")


def line(case: Mistake) -> str:
    return case.line


def test_there_are_many() -> None:
    assert len(CASES) >= 400
    assert len({(case.frame, case.line) for case in CASES}) == len(CASES)


@pytest.mark.parametrize("case", CASES, ids=line)
def test_the_whole_message(case: Mistake) -> None:
    assert words(diagnostics(case.text)) == case.told


@pytest.mark.parametrize("case", CASES, ids=line)
def test_a_line_that_is_offered_can_be_used(case: Mistake) -> None:
    """The law: with the line of the message in the place of the author’s, the file has no mistake left."""
    text = case.text.splitlines()
    for told in diagnostics(case.text):
        instead = _INSTEAD.search(told.hint)
        text = [instead[1] if instead and each.strip() == instead[2] else each for each in text]
        offered = _OFFERED.search(told.hint)
        if offered:
            indent = re.match(r"\s*", text[told.line - 1])
            text[told.line - 1] = f"{indent[0] if indent else ''}{offered[1]}"
        if "‘use vocabulary’" in told.hint:
            text.insert(0, "use vocabulary")
    if text != case.text.splitlines():
        assert diagnostics("\n".join(text)) == ()


@pytest.mark.parametrize("case", CASES, ids=line)
def test_no_list_of_tokens_and_no_missing_help(case: Mistake) -> None:
    for told in diagnostics(case.text):
        assert told.hint
        assert "may stand" not in told.hint


_RULE = 'rule r\n  "Broken."\n  {}\n  {}\n  fault\n  source "s"\n'


def test_what_is_quoted_for_what_cannot_be_said_can_be_used() -> None:
    quoted = [
        clause for each in data()["beyond"] for clause in re.findall(r"‘((?:require|forbid) [^’]+)’", each["why"])
    ]
    assert len(quoted) >= 3
    for clause in quoted:
        assert any(not diagnostics(_RULE.format(subject, clause)) for subject in data()["subjects"].values()), clause
