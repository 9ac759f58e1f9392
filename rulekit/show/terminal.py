"""The way out: what is printed obeys no sign hidden in somebody's title, and is out before the next thing is begun."""

import json
import shutil
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from rulekit.diagnostics import Diagnostic

if TYPE_CHECKING:
    from rich.console import Console

_NARROWEST = 20


def clean(text: str) -> str:
    """The text without signs that a terminal would obey."""
    return "".join(c if c.isprintable() or c in "\n\t" else "\N{REPLACEMENT CHARACTER}" for c in text)


def console() -> "Console":
    """The terminal, for what has a layout; a closed pipe is left to the caller."""
    from rich.console import Console, ConsoleOptions, RenderableType
    from rich.segment import Segment

    class Terminal(Console):
        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

        def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
            for text, style, control in super().render(renderable, options):
                yield Segment(text if control else clean(text), style, control)

    width = max(_NARROWEST, shutil.get_terminal_size((80, 24)).columns)
    return Terminal(highlight=False, markup=False, emoji=False, width=width)


def say(text: str) -> None:
    """Print a text as it is, but for signs that a terminal would obey."""
    print(clean(text), flush=True)


def print_json(document: Any) -> None:
    """Print a document for programs, one a line; signs that a terminal would obey are written as escapes."""
    text = json.dumps(document, ensure_ascii=False)
    print("".join(c if c.isprintable() else json.dumps(c)[1:-1] for c in text), flush=True)


def complain(problems: Sequence[Diagnostic | str]) -> None:
    """Say what is wrong, beside what is printed."""
    for problem in problems:
        words = f"rulekit: {problem}" if isinstance(problem, str) else str(problem)
        print(clean(words), file=sys.stderr, flush=True)
