"""The statements of a rules file as an editor lists, folds and colours them."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from rulekit.editor.names import Occurrence, occurrences
from rulekit.language import syntax as s
from rulekit.language.parser import Parsed

Heading = Literal["rule", "definition", "parameter", "change", "example", "file"]
Colour = Literal["keyword", "rule", "definition", "parameter", "word", "value", "number", "text", "notes"]

COLOURS: tuple[Colour, ...] = (
    "keyword", "rule", "definition", "parameter", "word", "value", "number", "text", "notes",
)  # fmt: skip
_OF_TOKEN: dict[str, Colour] = {
    "STRING": "text", "EXAMPLE_LINE": "notes", "INT": "number", "PERCENT": "number", "ORDINAL": "number",
    "INTERVAL": "value", "PITCH": "value", "NAME": "word",
}  # fmt: skip
_SIGNS = frozenset(("COMMA", "LPAR", "RPAR", "COLON", "PLUS", "MINUS"))


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the outline: what it is, its name, where its name and where all of it stands, what is below it."""

    heading: Heading
    name: str
    named: s.Span
    whole: s.Span
    below: tuple["Entry", ...] = ()


def outline(parsed: Parsed) -> tuple[Entry, ...]:
    """What a file says, statement by statement; the examples of a rule are below it."""
    return tuple(entry for item in parsed.file.items for entry in _entries(item))


def _entries(item: s.Item) -> Iterator[Entry]:
    match item:
        case s.RuleItem():
            yield Entry("rule", item.name.word, item.name.span, item.span, tuple(map(_example, item.examples)))
        case s.Definition():
            yield Entry("definition", item.name.word, item.name.span, item.span)
        case s.ParameterItem():
            yield Entry("parameter", item.name.word, item.name.span, item.span)
        case s.ExampleItem():
            yield _example(item)
        case s.Unread():
            pass
        case _:
            for part in item.children():
                if isinstance(part, s.Name):
                    yield Entry("change", part.word, part.span, item.span)
                elif isinstance(part, s.Reference):
                    yield Entry("file", part.target, part.span, item.span)


def _example(example: s.ExampleItem) -> Entry:
    verdict = "rejected" if example.breaches else "accepted"
    return Entry("example", example.title or f"{verdict} example", example.span, example.span)


def folds(parsed: Parsed) -> Iterator[tuple[int, int]]:
    """First and last line, from 1, of what can be folded: statements of several lines, and examples in them."""
    waiting: list[s.Node] = list(parsed.file.items)
    for item in parsed.file.items:
        waiting += item.examples if isinstance(item, s.RuleItem) else ()
    for node in waiting:
        last = node.span.line + node.span.of(parsed.text).rstrip().count("\n")
        if last > node.span.line:
            yield node.span.line, last


def colours(parsed: Parsed, known: dict[str, Colour]) -> Iterator[tuple[int, int, Colour]]:
    """Start (in characters, from 0), length and kind of every word; ``known`` says what kind a value’s name is."""
    named: dict[int, Occurrence] = {each.span.start: each for each in occurrences(parsed)}
    for token in parsed.tokens:
        start = token.start_pos or 0
        found = named.get(start)
        if token.type in _SIGNS:
            continue
        colour = _OF_TOKEN.get(token.type, "keyword")
        if found is not None:
            colour = known.get(found.word, "word") if found.kind == "word" else _COLOUR_OF_NAME[found.kind]
        yield start, len(token), colour


_COLOUR_OF_NAME: dict[str, Colour] = {
    "rule": "rule", "definition": "definition", "parameter": "parameter", "given": "parameter", "file": "text",
}  # fmt: skip
