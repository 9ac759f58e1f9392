"""The change of text that a message proposes."""

import re
from dataclasses import dataclass

from rulekit.diagnostics import Diagnostic

_LINE = re.compile(r"Write: (.+)$")
_WORD = re.compile(r"[Dd]id you mean ‘([^’]+)’\?(?: Write: .+)?$")


@dataclass(frozen=True, slots=True)
class Mend:
    """Put ``text`` in place of ``length`` characters of a line, from a column (both from 1)."""

    line: int
    column: int
    length: int
    text: str


def mend(problem: Diagnostic) -> Mend | None:
    """The change that a problem’s hint proposes, None if it proposes none."""
    written = problem.source_line
    line, word = _LINE.search(problem.hint), _WORD.search(problem.hint)
    if word:
        return Mend(problem.line, problem.column, problem.length, word[1])
    if line and written:
        indent = len(written) - len(written.lstrip())
        return Mend(problem.line, indent + 1, len(written.rstrip()) - indent, line[1])
    return None
