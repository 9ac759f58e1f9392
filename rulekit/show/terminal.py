"""The way out: what is printed obeys no sign hidden in somebody's title, and is out before the next thing is begun."""

import json
import os
import re
import shutil
import sys
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Any, NamedTuple

from rich.cells import cell_len, chop_cells

from rulekit.diagnostics import Diagnostic

Part = tuple[str, str]  # a text and its style, such as “bold magenta”; no style is empty

_NARROWEST = 20
_WORDS = re.compile(r"\s*\S+\s*")
_FORMS = {"bold": "1", "dim": "2"}
_COLOURS = {"magenta": "35", "yellow": "33", "cyan": "36", "green": "32"}


def clean(text: str) -> str:
    """The text without signs that a terminal would obey."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c in "\n\t" else "\N{REPLACEMENT CHARACTER}" for c in text)


class Screen(NamedTuple):
    """How wide a terminal is, and the number by which it shows each word of a style; none where it shows no styles."""

    width: int
    codes: Mapping[str, str]

    def line(self, *parts: Part) -> str:
        """Parts in their styles, one after the other."""
        runs = groupby(parts, itemgetter(1))
        return "".join(self._styled("".join([text for text, _ in run]), style) for style, run in runs)

    def hanging(self, text: str, style: str = "", label: Part = ("", ""), indent: int = 2) -> str:
        """A text broken to the width, indented, with a label (if any) before its first line."""
        words, shown = label
        first: list[Part] = [(" " * indent, ""), (f"{words}  ", shown)] if words else [(" " * indent, "")]
        margin = sum(len(part) for part, _ in first)
        lines = broken(text, max(_NARROWEST, self.width - margin))
        begins = [first, *[[(" " * margin, "")]] * (len(lines) - 1)]
        return "\n".join(self.line(*begin, (line, style)) for begin, line in zip(begins, lines, strict=True))

    def _styled(self, text: str, style: str) -> str:
        numbers = ";".join([self.codes[word] for word in style.split() if word in self.codes])
        return f"\x1b[{numbers}m{clean(text)}\x1b[0m" if numbers and text else clean(text)


def broken(text: str, width: int) -> list[str]:
    """A text in lines of so many cells at most; only a word that is longer is cut."""
    return [line for part in text.expandtabs().split("\n") for line in _broken(part, width)]


def _broken(text: str, width: int) -> list[str]:
    lines, line = list[str](), ""
    for word in _WORDS.findall(text):
        if line and cell_len(line) + cell_len(word.rstrip()) > width:
            lines.append(line)
            line = ""
        if cell_len(word.rstrip()) > width:
            *whole, word = chop_cells(word, width)
            lines += whole
        line += word
    return [each.rstrip() for each in (*lines, line)]


def screen() -> Screen:
    """The terminal, or what stands in its place."""
    width = max(_NARROWEST, shutil.get_terminal_size((80, 24)).columns)
    colours = {} if os.environ.get("NO_COLOR") else _COLOURS
    return Screen(width, {**_FORMS, **colours} if _shows_styles() else {})


def _shows_styles() -> bool:
    if os.environ.get("TERM", "") in ("dumb", "unknown"):
        return False
    return bool(os.environ.get("FORCE_COLOR")) or (sys.stdout.isatty() and _obeys())


def _obeys() -> bool:
    """Whether the terminal takes signs for styles, which that of Windows has to be asked for."""
    if sys.platform != "win32":
        return True
    from ctypes import windll

    return bool(windll.kernel32.SetConsoleMode(windll.kernel32.GetStdHandle(-11), 7))


def as_text(lines: Iterable[str]) -> str:
    """Lines of a screen, each with its end."""
    return "".join([f"{line}\n" for line in lines])


def put(lines: Iterable[str]) -> None:
    """Print lines of a screen, all at once."""
    write(as_text(lines))


def write(text: str) -> None:
    """Print a text that is fit for a screen, as it is."""
    print(text, end="", flush=True)


def say(text: str) -> None:
    """Print a text as it is, but for signs that a terminal would obey."""
    print(clean(text), flush=True)


def print_json(document: Any) -> None:
    """Print a document for programs."""
    write(json_line(document))


def json_line(document: Any) -> str:
    """A document for programs, as one line; signs that a terminal would obey are written as escapes."""
    text = json.dumps(document, ensure_ascii=False)
    return "".join(c if c.isprintable() else json.dumps(c)[1:-1] for c in text) + "\n"


def complain(problems: Sequence[Diagnostic | str]) -> None:
    """Say what is wrong, beside what is printed."""
    for problem in problems:
        words = f"rulekit: {problem}" if isinstance(problem, str) else str(problem)
        print(clean(words), file=sys.stderr, flush=True)
