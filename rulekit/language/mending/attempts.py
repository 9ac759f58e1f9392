"""A file with lines as they are written or mended so far, in which other lines are tried; the work is bounded."""

import re
import time
from collections.abc import Callable, Iterable, Sequence
from functools import cache

from rulekit.diagnostics import Diagnostic
from rulekit.resources import shipped

_SECONDS = 3  # of work for all suggestions to one file
_MOST_TRIES = 200
_MOST_READ = 200_000  # characters in all tries
_MOST_LINES = 60  # of a rule, looked at from one of them
_LACKS = (  # what a rule may lack, and how lines begin that could be it
    ("lacks a ‘for every", r"^\s*(?:for|over|in|at|on)\b"),
    ("lacks a message", '["“”„«]'),
    ("lacks a severity", r"\b(?:fault|warning|advice|error|mistake|points?)\b|^\s*\w+(?:,|$)"),
    ("lacks a source", r"^\s*(?:source|from|see|after|quelle|fonte|fuente|taught)\b"),
)
_NO_LICENCE = "has no licence"  # told of an example
STRUCTURE = "the rule ‘"  # so begins what is told of the parts of a rule
_BEGINS = re.compile(r"(?:replace )?rule\b|define\b|parameter\b|example\b")
LOOKS = re.compile(r"\s*for (?:every|each|all|any)\b", re.IGNORECASE)
_GIVEN = re.compile(r"^\s*(?:replace )?(?:define|parameter) ([^\W\d_][\w-]*)")
_NAMED = re.compile(r"^\s*(?:replace )?(?:define|parameter) ([^\W\d_][\w-]*)(?! for)")

Told = Callable[[str], Iterable[Diagnostic]]
Found = tuple[str, list[str]]  # a line, and the reasons for each change


@cache
def shipped_definitions() -> frozenset[str]:
    """The names that the shipped vocabulary gives."""
    text = (shipped("rulesets") / "vocabulary.rules").read_text(encoding="utf-8")
    return frozenset(re.findall(r"^define ([\w-]+)", text, re.MULTILINE))


def _given(lines: Iterable[str]) -> frozenset[str]:
    """All names that a file gives: to values, to conditions, to figures."""
    return frozenset(match[1] for match in map(_GIVEN.match, lines) if match)


def _names(lines: Iterable[str]) -> frozenset[str]:
    """The names that a file gives to values."""
    taken = shipped_definitions() if any(re.match(r"use vocabulary|build on", line) for line in lines) else ()
    return frozenset([*(match[1] for match in map(_NAMED.match, lines) if match), *taken])


class Attempts:
    """Tries lines in the place of an author's; counts the tries and the time."""

    def __init__(self, lines: list[str], path: str, known: set[tuple[int, str]], told: Told) -> None:
        self.written, self.path, self.known, self.told = lines, path, known, told
        self.lines = lines
        self.better: dict[int, str] = {}  # lines as they should be written, found so far
        self.problems: Sequence[Diagnostic] = ()
        self.respelt = set[int]()  # the lines of them in which single words were put right
        self.tries = min(_MOST_TRIES, _MOST_READ // (1 + sum(map(len, lines))))
        self.unclear = False
        self.names, self.given = _names(lines), _given(lines)
        self.end = self.until = time.process_time() + _SECONDS
        self.reserved = 0
        self.tried: dict[tuple[int, str], set[tuple[int, str]]] = {}
        self.reworded: dict[int, Found] = {}  # lines of which some words were put otherwise, but not all
        self.around: dict[int, str] = {}

    def share(self, shares: int) -> None:
        """Keep most of the work that is left for other mistakes: one mistake may use one of so many shares."""
        now = time.process_time()
        self.until = now + max(0.0, self.end - now) / shares
        self.reserved = self.tries - self.tries // shares

    def settle(self, number: int) -> None:
        """Read the file as it is mended so far, but for this line, so that no other line stands in its way."""
        around = {place: line for place, line in self.better.items() if place != number}
        if around != self.around:
            self.around, self.tried = around, {}
            self.lines = [around.get(place, line) for place, line in enumerate(self.written, 1)]
            self.names, self.given = _names(self.lines), _given(self.lines)
            self.known |= self.left(number, self.written[number - 1]) if 0 < number <= len(self.written) else set()

    def expect_lack(self, number: int) -> None:
        """A rule with a line that can’t be read may lack other parts besides, which is told only without it."""
        if not self.unclear or self.is_spent():
            return
        lacks = [what for what, own in _LACKS if not re.search(own, self.lines[number - 1], re.IGNORECASE)]
        self.known |= {each for each in self.left(number, "") if any(what in each[1] for what in lacks)}

    def left(self, number: int, line: str) -> set[tuple[int, str]]:
        """What is wrong, and in which lines, when this one stands there."""
        if (number, line) not in self.tried:
            self.tried[number, line] = self.wrong([*self.lines[: number - 1], line, *self.lines[number:], ""])
        return self.tried[number, line]

    def wrong(self, lines: Sequence[str]) -> set[tuple[int, str]]:
        """What is wrong, and in which lines, when the file reads so; it counts as a try."""
        self.tries -= 1
        return {(each.line, each.message) for each in self.told("\n".join(lines)) if each.path == self.path}

    def fits(self, number: int, noticed: int, line: str) -> bool:
        """Whether a line can be used in the place of another: what is wrong then was wrong before, or is uncovered."""
        left = self.left(number, line)
        new = left - self.known
        return not {place for place, _ in left} & {number, noticed} and (
            not new or (not LOOKS.match(line) and self.only_uncovers(new, number, line))
        )

    def only_uncovers(self, new: set[tuple[int, str]], number: int, line: str) -> bool:
        """Whether what is wrong besides, with a line mended, is not of its making."""
        before = next((n for n in range(number - 1, 0, -1) if self.lines[n - 1].strip()), 0)
        begun = line.startswith("replace rule ")  # a new rule, of which the clauses are still to come
        return begun or not any(
            (STRUCTURE in message and _NO_LICENCE not in message) or place == before for place, message in new
        )

    def known_elsewhere(self, *places: int) -> set[tuple[int, str]]:
        """What is known to be wrong in other lines."""
        return {each for each in self.known if each[0] not in places}

    def wrong_on(self, number: int, line: str) -> set[tuple[int, str]]:
        """What is wrong on a line when it reads so."""
        return set() if self.is_spent() else {each for each in self.left(number, line) if each[0] == number}

    def scope_of(self, number: int) -> int:
        """The line of the same rule that says what it looks at; 0 if there is none near."""
        above = range(number - 1, max(0, number - _MOST_LINES), -1)
        below = range(number + 1, min(len(self.lines), number + _MOST_LINES) + 1)
        for places in (above, below):
            for place in places:
                if LOOKS.match(self.lines[place - 1]):
                    return place
                if _BEGINS.match(self.lines[place - 1]):
                    break
        return 0

    def rest_of_rule(self, number: int) -> list[str]:
        """The lines of a rule after one of them."""
        rest = self.lines[number : number + _MOST_LINES]
        return rest[: next((place for place, line in enumerate(rest) if _BEGINS.match(line)), len(rest))]

    def is_spent(self) -> bool:
        return self.tries <= self.reserved or time.process_time() > self.until
