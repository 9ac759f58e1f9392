"""A rule that lacks a part, or has too many, with a line that makes it whole."""

import re
from collections.abc import Iterator
from dataclasses import replace

from rulekit.diagnostics import Diagnostic
from rulekit.language.mending.attempts import Attempts
from rulekit.language.slips import data

_MOST_CLAUSES = 8  # of a rule, looked through for which voices it speaks of
_ALL_VOICES = re.compile(r"\b(?:no|any|every|each|all|none of the) (?:voices?|parts?|singers?)\b", re.IGNORECASE)
_DEMAND = re.compile(r"\s+(require|forbid) (.+?)\s*", re.IGNORECASE)


def speaks_of_all(line: str) -> bool:
    """Whether a sentence is said of all voices."""
    return bool(_ALL_VOICES.search(line))


def completed(file: Attempts, problem: Diagnostic) -> Diagnostic:
    """A rule that lacks a part, or has too many, with a line that makes it whole; each is tried."""
    number = problem.line
    known = {message for _, message in file.known} - {problem.message}
    for told, lines in _wholes(file, number, problem.message):
        if file.is_spent():
            break
        if {message for _, message in file.wrong(lines)} <= known:
            return replace(problem, hint=f"{problem.hint} {told}".strip())
    return problem


def _wholes(file: Attempts, number: int, message: str) -> Iterator[tuple[str, list[str]]]:
    """What may make a rule whole, in words, and the file with it."""
    lines = file.lines
    if "lacks a ‘for every" in message:
        for kind in ("interval", "note", "line", "pair", "sonority", "exercise"):
            subject = data()["subjects"][kind]
            if any(map(speaks_of_all, lines[number : number + _MOST_CLAUSES])):
                subject = subject.replace("in counterpoint", "in each voice")
            yield f"Here it can be: {subject}", [*lines[:number], f"  {subject}", *lines[number:]]
    past = next((n for n in range(number, len(lines)) if re.match(r"[^\s]", lines[n])), len(lines))
    found = {n: demand for n in range(number, past) if (demand := _DEMAND.fullmatch(lines[n]))}
    words = {demand[1].lower() for demand in found.values()}
    if " once, not " in message and "‘require’" in message and len(words) == 1 and len(found) > 1:
        joined = (" or " if words == {"forbid"} else " and ").join(demand[2] for demand in found.values())
        one = f"{words.pop()} {joined}"
        first = min(found)
        rest = [f"  {one}" if n == first else "" if n in found else line for n, line in enumerate(lines)]
        yield f"In one line: {one}", rest
