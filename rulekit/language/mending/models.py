"""Words that need no guess: shipped definitions, misspelt words; and models for lines of which nothing is made."""

import re
from collections.abc import Iterator
from dataclasses import replace
from difflib import SequenceMatcher
from functools import cache

from rulekit.diagnostics import Diagnostic
from rulekit.language.intent import is_said, left_out, unknown_words
from rulekit.language.mending.attempts import LOOKS, Attempts, Found, shipped_definitions
from rulekit.language.mending.book import by_the_book, in_another_rule
from rulekit.language.mending.lines import UNFINISHED
from rulekit.language.parser import grammar
from rulekit.language.slips import beyond, data
from rulekit.language.vocabulary import is_known

OFFERED = "Write: "
_ALIKE = 0.8  # how like several words those are that are meant
_MEANT = re.compile(r"(?:Did you mean|Write) ‘([^’…]+)’[?.]$")  # what stands in place of the words concerned
_SHIPPED = {word: noun for noun in ("consonance", "dissonance") for word in (f"{noun[:-2]}t", f"{noun}s")}


@cache
def _keywords() -> frozenset[str]:
    """The words of the grammar itself."""
    return frozenset(terminal.name.lower() for terminal in grammar().terminals)


def _models() -> dict[str, list[str]]:
    """For each word that begins a clause, clauses of which one can be used in any rule."""
    return data()["models"]


def of_the_vocabulary(file: Attempts, problem: Diagnostic) -> str:
    """How to take a definition that ships, if an unknown word is one."""
    line = file.lines[problem.line - 1]
    word = line[problem.column - 1 : problem.column - 1 + problem.length].lower()
    known = next((each for each in (word, _SHIPPED.get(word, "")) if each in shipped_definitions()), "")
    if not known or (known == word and word in file.names) or not problem.message.startswith("there is no"):
        return ""
    written = line[: problem.column - 1] + known + line[problem.column - 1 + problem.length :]
    changed = "" if known == word else f" {OFFERED}{written.strip()}"
    if known in file.names:
        return f"Did you mean ‘{known}’?{changed}"
    return f"‘{known}’ is defined in the shipped vocabulary: write ‘use vocabulary’ at the top of the file.{changed}"


def nearest_words(file: Attempts, problem: Diagnostic) -> Found | None:
    """The line with what is meant in the place of all words that are misspelt or said otherwise, if that mends it."""
    if not is_near(problem):
        return None
    changed = file.lines[problem.line - 1]
    beside = [each for each in file.problems if each.line == problem.line and is_near(each)]
    for each in sorted(beside, key=lambda each: each.column, reverse=True):
        better = _with_meant(changed, each)
        if better is None:
            return None
        changed = better
    if file.is_spent() or not file.fits(problem.line, problem.line, changed):
        return None
    file.respelt.add(problem.line)
    return changed, [problem.hint]


def _with_meant(line: str, problem: Diagnostic) -> str | None:
    """A line with what is meant in the place of the words concerned; None if they are other words for something."""
    start, length = problem.column - 1, problem.length
    meant = _MEANT.search(problem.hint)
    if problem.hint.endswith("?"):  # the nearest word, for one that may stand within others
        named = re.search(r"‘([^‘’]+)’", problem.message)
        start = line.find(named[1], start) if named else -1
        if named is None or meant is None or start < 0 or is_said(named[1]):
            return None
        if " " in named[1] and SequenceMatcher(None, named[1], meant[1]).ratio() < _ALIKE:
            return None
        length = len(named[1])
    return line[:start] + (meant[1] if meant else "") + line[start + length :]


def is_near(problem: Diagnostic) -> bool:
    """Whether it is told what is meant by the words concerned."""
    return bool(_MEANT.search(problem.hint))


def modelled(file: Attempts, problem: Diagnostic) -> Diagnostic:
    """A mistake of which nothing is made, with a line of its kind as a model if it was told in general words."""
    line = file.lines[problem.line - 1]
    for each in beyond():
        if each.pattern.search(line):
            return replace(problem, hint=each.why)
    words = re.findall(r"[^\W\d_]+", line.lower())
    begun = problem.message.startswith("no clause begins")
    kind = next((word for word in words if word in _models()), "forbid" if begun else "")
    is_scope = LOOKS.match(line)
    near = None
    if file.unclear and not is_scope and not UNFINISHED.search(line):
        near = by_the_book(file, problem.line, problem.line, 0) or in_another_rule(file, problem.line, 0)
    if near and not any(left_out(line, near[0])):
        model, reasons = near
        return replace(problem, hint=" ".join([*reasons, f"Near to it is: {model}"]))
    if problem.message.endswith("asked here"):
        return replace(problem, hint=" ".join([problem.hint, *_begun_so(problem.hint)]))
    told = any(words in problem.hint for words in ("such as", "Did you mean"))
    if told or not (begun or problem.message.endswith("here")):
        return problem
    unknown = [word for word in unknown_words(line, file.names | file.given | _keywords()) if not is_known(word)]
    if unknown:
        problem = replace(problem, hint=f"No word of the language: ‘{'’, ‘'.join(unknown)}’. {problem.hint}".strip())
    for model in _models().get(kind, []):
        left = file.left(problem.line, f"  {model}") if file.tries > file.reserved else None
        if left is not None and problem.line not in {number for number, _ in left} and left <= file.known:
            return replace(problem, hint=f"{problem.hint} Such a line is: {model}".strip())
    return problem


def _begun_so(hint: str) -> Iterator[str]:
    """How a rule begins that speaks of what a word belongs to."""
    named = re.search(r"It belongs to an? (\w+)", hint)
    if named and named[1] in data()["subjects"]:
        yield f"A rule on such begins ‘{data()['subjects'][named[1]]}’."
