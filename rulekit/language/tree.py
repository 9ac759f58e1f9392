"""What the syntax tree and the typed tree have in common: places in files, and examples."""

from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from typing import cast


@dataclass(slots=True, eq=False)
class Base:
    """How many lines and characters stand before a statement in its file; they change when the file is edited."""

    line: int = 0
    start: int = 0


TOP = Base()


@dataclass(frozen=True, slots=True, eq=False)
class Span:
    """Where something stands in its file: line and column from 1, length in characters, ``start`` from 0.

    ``row`` and ``place`` are line and start counted from its ``base``. Equal spans stand in one place of one file.
    """

    path: str
    row: int
    column: int
    length: int
    place: int = 0
    base: Base = field(default=TOP, repr=False)

    @property
    def line(self) -> int:
        """The line in the file."""
        return self.base.line + self.row

    @property
    def start(self) -> int:
        """The place in the file, in characters from its start."""
        return self.base.start + self.place

    @property
    def end(self) -> int:
        """The place right after it, in characters from the start of the file."""
        return self.start + self.length

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Span) and self._where() == other._where()

    def __hash__(self) -> int:
        return hash((self.path, self.column, self.length))

    def _where(self) -> tuple[str, int, int, int, int]:
        return self.path, self.line, self.column, self.length, self.start

    def of(self, text: str) -> str:
        """The words themselves, in the text of the file."""
        return text[self.start : self.end]


NOWHERE = Span("", 1, 1, 1)


@dataclass(frozen=True, slots=True)
class Node:
    """The base of all syntax; the place does not count when trees are compared."""

    span: Span = field(compare=False, repr=False)

    def children(self) -> Iterator["Node"]:
        """The nodes that this one is made of, in no certain order."""
        for part in fields(self):
            value = getattr(self, part.name)
            for each in cast("tuple[object, ...]", value) if isinstance(value, tuple) else (value,):
                if isinstance(each, Node):
                    yield each


@dataclass(frozen=True, slots=True)
class Breach(Node):
    """A rule broken in a bar (counted from 1), or over the whole (bar None)."""

    rule: str
    bar: int | None


@dataclass(frozen=True, slots=True)
class ExampleItem(Node):
    """An exercise in the typed notation and what it must break: nothing if it is accepted.

    ``licence`` names the licence that must excuse it, if it is accepted by one. ``columns`` are the columns
    before each line's text.
    """

    title: str
    breaches: tuple[Breach, ...]
    text: str
    first: Span = field(compare=False, repr=False)
    columns: tuple[int, ...]
    licence: str = ""

    @property
    def first_line(self) -> int:
        """The line of its text in the file."""
        return self.first.line
