"""Rules files spoilt at random: pieces of sound and unsound ones put together and then changed in a few places."""

import random
import re
from collections.abc import Callable
from pathlib import Path

from rulekit.resources import shipped
from tests.language.mistakes import FILES, read

CATALOGUE = Path(__file__).parents[1] / "catalogue"
_ERRORS = Path(__file__).parent / "errors"
_STATEMENT = re.compile(r"^(?=[a-z])", re.MULTILINE)
_WORD = re.compile(r'"[^"\n]*"|\|[^\n]*|[\w#-]+|\s+|[^\w\s]')


def _texts() -> list[str]:
    paths = [*shipped("rulesets").glob("*.rules"), *CATALOGUE.glob("*.rules"), *_ERRORS.glob("*.rules")]
    return [path.read_text(encoding="utf-8") for path in sorted(paths)]


_FILES = _texts()
_CASES = [case.text + "\n" for path in FILES for case in read(path)]
_STATEMENTS = [piece for text in _FILES for piece in _STATEMENT.split(text) if piece.strip()]
_SMALL = [text for text in _FILES if len(text) < 4_000]
_PIECES = _STATEMENTS + _CASES
_WORDS = sorted({word for piece in _PIECES for word in _WORD.findall(piece) if len(word) < 30 and word.strip()})
_NUMBERS = ["0", "-1", "1", "2", "16", "17", "64", "65", "9999", "10000", "10001", "9" * 30, "9" * 900, "0.5", "1/2",
            "0%", "101%", "٣", "Ⅷ", "²", "0x1F", "1e9", "00000000000001"]  # fmt: skip
_ODD = ["\0", "\ud800", "\u202e", "\u200b", "\ufeff", "\u2028", "\x85", "\r", "\x0b", "\x0c", "\x1b[31m", "é",
        "e\u0301", "🎵", "\U0010ffff", "\t",
        "“", "”", '"', "'", "|", "--", "(", ")", "{", "}", "{{", "}}", ",", "‘", "\\", "%", "$(x)",
        "__import__('os')", "{0.__class__}"]  # fmt: skip
_COMMENTS = ["-- a remark\n", "--\n", "  -- “quoted\n", "\n-- rule x\n", "--\ud800\n", "-- {x} | upper\n"]


def bad_rules(chance: random.Random) -> str:
    """A rules file that may be wrong in any way."""
    text = chance.choice(_SMALL) if chance.random() < 0.5 else "use vocabulary\n" * chance.randint(0, 1)
    pieces = _PIECES if chance.random() < 0.4 else _STATEMENTS
    text += "".join(chance.choice(pieces) for _ in range(chance.choice([0, 1, 1, 2, 5]) if text else 1))
    for _ in range(chance.choice([0, 0, 1, 1, 1, 2, 3, 6])):
        text = chance.choice(_CHANGES)(text, chance)
    return text


def _between(text: str, new: str, chance: random.Random) -> str:
    """The text with something new at one of the places where a word ends."""
    ends = [found.end() for found in _WORD.finditer(text)] or [0]
    at = chance.choice(ends)
    return text[:at] + new + text[at:]


def _comment(text: str, chance: random.Random) -> str:
    return _between(text, chance.choice(_COMMENTS), chance)


def _odd(text: str, chance: random.Random) -> str:
    if chance.random() < 0.5:
        return _between(text, chance.choice(_ODD), chance)
    at = chance.randint(0, len(text))
    return text[:at] + chance.choice(_ODD) * chance.choice([1, 1, 1, 2, 40]) + text[at:]


def _number(text: str, chance: random.Random) -> str:
    found = list(re.finditer(r"\d+", text))
    if not found:
        return text
    one = chance.choice(found)
    return text[: one.start()] + chance.choice(_NUMBERS) + text[one.end() :]


def _on_words(change: Callable[[list[str], int, random.Random], None]) -> Callable[[str, random.Random], str]:
    def changed(text: str, chance: random.Random) -> str:
        words = _WORD.findall(text)
        if not words:
            return text
        change(words, chance.randrange(len(words)), chance)
        return "".join(words)

    return changed


def _lose(words: list[str], at: int, chance: random.Random) -> None:
    del words[at : at + chance.choice([1, 1, 1, 3, 10])]


def _double(words: list[str], at: int, chance: random.Random) -> None:
    taken = words[at : at + chance.choice([1, 3, 10])]
    words[at:at] = [*taken, " "] * chance.choice([1, 1, 1, 5, 100])


def _exchange(words: list[str], at: int, chance: random.Random) -> None:
    there = chance.randrange(len(words))
    words[at], words[there] = words[there], words[at]


def _replace(words: list[str], at: int, chance: random.Random) -> None:
    words[at] = chance.choice(_WORDS)


def _nest(words: list[str], at: int, chance: random.Random) -> None:
    """Brackets or negations round a few words."""
    until = at + chance.choice([1, 3, 5, 9, 20])
    times = chance.choice([1, 1, 3, 28, 61, 2000])
    opening, closing = chance.choice([("(", ")"), ("not (", ")"), ("not ", ""), ("previous ", ""), ("bar + (", ")")])
    words[at:until] = [opening * times, *words[at:until], closing * times]


def _on_lines(change: Callable[[list[str], int, random.Random], None]) -> Callable[[str, random.Random], str]:
    def changed(text: str, chance: random.Random) -> str:
        lines = text.split("\n")
        change(lines, chance.randrange(len(lines)), chance)
        return "\n".join(lines)

    return changed


def _borrow(lines: list[str], at: int, chance: random.Random) -> None:
    """A line of another statement."""
    lines.insert(at, chance.choice(chance.choice(_PIECES).split("\n")))


def _repeat_lines(lines: list[str], at: int, chance: random.Random) -> None:
    taken = lines[at : at + chance.choice([1, 1, 2, 12])]
    lines[at:at] = taken * chance.choice([1, 1, 1, 3, 60, 400])


def _cut(text: str, chance: random.Random) -> str:
    return text[: chance.randint(0, len(text))]


_CHANGES: list[Callable[[str, random.Random], str]] = [
    _comment, _comment, _odd, _odd, _number, _number, _on_words(_lose), _on_words(_double), _on_words(_exchange),
    _on_words(_replace), _on_words(_replace), _on_words(_nest), _on_lines(_lose), _on_lines(_exchange),
    _on_lines(_borrow), _on_lines(_repeat_lines), _cut,
]  # fmt: skip
