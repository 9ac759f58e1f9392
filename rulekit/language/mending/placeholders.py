"""Placeholders of a message that can't be filled in, each as it can be."""

import re
from collections.abc import Iterator
from itertools import islice

from rulekit.diagnostics import Diagnostic
from rulekit.language.intent import placeholders
from rulekit.language.mending.attempts import Attempts, Found

_IN_BRACES = "In braces stands what is filled in, a thing or a value such as {upper}, {interval} or {degree of upper}."
_MOST_TRIED = 12  # phrases for one placeholder
_SLOT = re.compile(r"\{+([^{}\"]*)\}*")  # a placeholder, closed or not
_NUMBER = re.compile(
    r"(?:the )?(?:n|x|count|number|amount|total|times|how many|sum|value|found)(?: of \w+)?", re.IGNORECASE
)
_DEMAND = re.compile(r"\s+(?:when .*)?(?:require|forbid)\b")
_COUNTED = re.compile(
    r"\s*(?:require|forbid|when) ((?:number|run|share|longest run|climax-count)\b.*?) "
    r"(?:is|are) (?:not )?(?:at |more |less |\d)"
)


def filled(file: Attempts, problem: Diagnostic) -> Found | None:
    """The line with each placeholder filled in that can be; what can't be stands without its braces."""
    line = file.lines[problem.line - 1]
    start = line.rfind("{", 0, problem.column)
    if start < 0 or line.count('"', 0, start) % 2 == 0:
        return None
    better = {place: _better_filled(file, problem.line, place) for place in _SLOT.finditer(line)}
    if file.is_spent():
        return None
    lost = [place[1].strip() for place, phrase in better.items() if "{" not in phrase and place[1].strip()]
    why = [f"Nothing is called ‘{'’ or ‘'.join(lost)}’ here: put in what is meant, or no braces."] if lost else []
    changed = _SLOT.sub(lambda place: next(better[each] for each in better if each.start() == place.start()), line)
    return changed, [_IN_BRACES, *why]


def _better_filled(file: Attempts, number: int, place: re.Match[str]) -> str:
    """What a placeholder should be: itself if it can stand, or what can be filled in there, or its bare words."""
    before, after = (re.sub(r"[{}]", "", part) for part in (place.string[: place.start()], place.string[place.end() :]))
    words = place[1].split()
    shortest = len(words) if place[0].endswith("}") else 1
    for count in range(len(words), shortest - 1, -1):  # one that is not closed may end after any of its words
        said = " ".join(words[:count]).rstrip(".,;:!?")
        rest = " ".join(words)[len(said) :]
        for phrase in (
            said,
            *islice(_meant(file, number, said, before), _MOST_TRIED if count == shortest else 0),
        ):
            if phrase and not file.wrong_on(number, f"{before}{{{phrase}}}{after}"):
                return f"{{{phrase}}}{rest}"
    return " ".join(words)


def _asked(file: Attempts, number: int) -> Iterator[str]:
    """The melodic intervals of which the rule of a message demands something: these are told."""
    demand = next((line for line in file.lines[number:] if _DEMAND.match(line)), "")
    yield from re.findall(r"(?:departure|approach)(?: (?:to|from) \w+)?", demand)


def _meant(file: Attempts, number: int, said: str, before: str) -> Iterator[str]:
    """What can be meant by a placeholder: a number that the rule compares, or what the word before it names."""
    if said in ("interval", "next interval", "following interval"):
        yield from _asked(file, number)
    if _NUMBER.fullmatch(said):
        yield from (found[1] for found in map(_COUNTED.match, file.lines[number:]) if found)
    named = re.search(r"(\w+) $", before)
    yield from (
        *(placeholders(said) if said else ()),
        *(placeholders(named[1]) if named else ()),
        *placeholders(said),
    )
