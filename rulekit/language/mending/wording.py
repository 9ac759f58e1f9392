"""A word that can’t be understood as the word that the language has for it; the others of the line stay as they are."""

import re
from collections.abc import Iterator
from functools import cache

from rulekit.diagnostics import nearest
from rulekit.language import vocabulary as v
from rulekit.language.intent import said_otherwise
from rulekit.language.mending.attempts import Attempts, Found
from rulekit.music.pitch import SIZES
from rulekit.numbers import counted

_MOST_WORDS = 6  # of one line that are put otherwise
_SIZED = "Intervals are called by their names."
_COUNTED = re.compile(r"(?<=\()(\d{1,2})(?=\))|(?<=[a-z] )(\d{1,2})(?:st|nd|rd|th)(?![\w-])")
_FIGURE = re.compile(r"‘([\w-]+)’ is a figure")
_QUOTED = re.compile(r"‘([^‘’]+)’")


def reworded(file: Attempts, number: int, column: int, message: str) -> Found | None:
    """The line with each word that is not understood in the language’s own, if all of it can be used then."""
    line, reasons = file.lines[number - 1], list[str]()
    for _ in range(_MOST_WORDS):
        step = _one_word(file, number, line, column, message)
        if step is None:
            file.reworded[number] = line, reasons
            return None
        line, reason, column, message = step
        reasons.append(reason)
        if not message:
            return line, reasons
    return None


def _one_word(file: Attempts, number: int, line: str, column: int, message: str) -> tuple[str, str, int, str] | None:
    """The line with the word of a message put otherwise, why, and where the next word is not understood, if one is."""
    for place, word in _told_of(line, column, message):
        for other, reason in otherwise(word):
            changed = line[:place] + other + line[place + len(word) :]
            if file.is_spent():
                return None
            told = {each for line, each in file.left(number, changed) if line == number}
            if not told and file.fits(number, number, changed):
                return changed, reason, 0, ""
            past = place + len(other)
            following = min((_place_of(each, changed, past), each) for each in [*told, ""])[1]
            if following:
                return changed, reason, past + 1, following
    return None


def _told_of(line: str, column: int, message: str) -> Iterator[tuple[int, str]]:
    """Where in a line, outside texts, the words stand of which a message speaks: all it quotes, or one of them."""
    named = _QUOTED.search(message)
    place = line.find(named[1], column - 1) if named else -1
    whole = re.compile(re.escape(named[1]) if named and place >= 0 else r"[\w-]*").match(line, max(place, column - 1))
    if whole is None or line.count('"', 0, whole.start()) % 2:
        return
    yield whole.start(), whole[0]
    for each in re.finditer(r"[\w-]+", whole[0]) if " " in whole[0] else ():
        yield whole.start() + each.start(), each[0]


def begun(file: Attempts, number: int, message: str) -> Found | None:
    """The line with a figure asked by ‘begins’ or ‘ends’, where it stands as if it were a value."""
    figure = _FIGURE.match(message)
    if figure is None:
        return None
    line = file.lines[number - 1]
    for verb in ("begins", "ends"):
        changed = re.sub(rf"\b(?:is|are) (?:an? |the )?{figure[1]}(?![\w-])", f"{verb} {figure[1]}", line)
        if changed != line and not file.is_spent() and file.fits(number, number, changed):
            return changed, [
                "A figure is asked with ‘begins’ at its first note, with ‘ends’ at its last, with ‘is 2nd of’ within."
            ]
    return None


def _place_of(message: str, line: str, past: int) -> int:
    """Where the word of a message stands after the one that was put right; past the end of the line if it does not."""
    named = _QUOTED.search(message)
    place = line.find(named[1], past) if named else -1
    return place if place >= 0 else len(line)


def otherwise(word: str) -> Iterator[tuple[str, str]]:
    """What the language has in the place of a word or number, each with the sentence that says why."""
    count = counted(word)
    if count is not None and not word.isdecimal():
        yield str(count), "Numbers are written in figures."
    figure = re.fullmatch(r"(\d+)(?:st|nd|rd|th)?s?", word)
    if figure and 0 < int(figure[1]) <= len(SIZES):
        yield SIZES[int(figure[1]) - 1], _SIZED
    if word.removesuffix("s") in SIZES:
        yield str(SIZES.index(word.removesuffix("s")) + 1), "A number is written in figures."
    alike = (re.sub(r"(?<=\w)-(?=\w)", " ", word), re.sub(r"(?<=\w{3})s$", "", word), word.replace("_", "-"))
    yield from ((own, f"‘{word}’ is written ‘{own}’.") for own in alike if own != word)
    yield from ((own, f"‘{word}’ is called ‘{own}’.") for own in said_otherwise(word))


@cache
def _joined_names() -> frozenset[str]:
    """The words of the language that are joined by hyphens."""
    tables = (*v.ATTRIBUTES.values(), *v.FLAGS.values(), v.FIXED, v.FUNCTIONS, v.CONSTANTS)
    roles = (role for roles in v.ROLES.values() for role in roles)
    return frozenset(word for word in (*roles, *(word for table in tables for word in table)) if "-" in word)


def hyphened(line: str, names: frozenset[str]) -> Iterator[tuple[str, str]]:
    """The line with a name spelt right, the author’s or one of the language: with hyphens, or without a slip in it."""
    for found in re.finditer(r"[\w-]+-[\w-]+", line):
        near = None if found[0] in names or v.is_known(found[0]) else nearest(found[0], names)
        if near:
            yield line[: found.start()] + near + line[found.end() :], f"‘{found[0]}’ is written ‘{near}’."
    for name in sorted(name for name in names | _joined_names() if "-" in name):
        joined = re.sub(rf"(?<![\w-]){name.replace('-', '[ _]')}s?(?![\w-])", name, line)
        if joined != line:
            yield joined, f"‘{name}’ is one word, with hyphens."


def sized(line: str) -> Iterator[tuple[str, str]]:
    """The line with an interval that is counted, 10th or in brackets (10), by its name."""
    for found in _COUNTED.finditer(line):
        number = int(found[1] or found[2])
        if 0 < number <= len(SIZES):
            yield f"{line[: found.start()]}{SIZES[number - 1]}{line[found.end() :]}", _SIZED


_SCOPE = (
    "for every each note interval move sonority line pair exercise in between above bass voice voices cantus "
    "counterpoint upper lower outer inner highest lowest neighbouring moving tied florid and others taken on off "
    "downbeats"
).split()


def scoped(line: str) -> Iterator[tuple[str, str]]:
    """The line that says what a rule looks at, with all its misspelt words put right."""
    if not re.match(r"\s*\w{2,4} \w+ \w+ \w", line):
        return
    right = {word: nearest(word.lower(), _SCOPE) or word for word in re.findall(r"[^\W\d_]+", line)}
    wrong = [word for word, other in right.items() if other != word.lower()]
    changed = re.sub(r"[^\W\d_]+", lambda match: right[match[0]], line)
    if len(wrong) > 1 and changed.split()[0] == "for":
        yield changed, " ".join(f"‘{word}’ is written ‘{right[word]}’." for word in wrong)
