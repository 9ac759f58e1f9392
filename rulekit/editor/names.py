"""Which names stand where in a rules file, and what each of them is the name of."""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Literal

from rulekit.language import syntax as s
from rulekit.language.build import ClauseError
from rulekit.language.parser import Parsed, parse_phrase

# A rule, a definition, a parameter, another file, what a definition is given; any other word of the language.
NameKind = Literal["rule", "definition", "parameter", "file", "given", "word"]


@dataclass(frozen=True, slots=True)
class Occurrence:
    """A name in a place; ``declares`` says that the thing gets its name here."""

    kind: NameKind
    word: str
    span: s.Span
    declares: bool = False


def occurrences(parsed: Parsed) -> tuple[Occurrence, ...]:
    """Every name in a file, in the order of the text.

    A value is a ``word`` even if it is a definition or a parameter: which of them it is, other files may say.
    """
    found = [each for item in parsed.file.items for each in _of_item(item)]
    return tuple(sorted(found, key=lambda each: each.span.start))


def declarations(parsed: Parsed) -> dict[tuple[NameKind, str], Occurrence]:
    """The rules, definitions and parameters that get their names in a file."""
    named = (each for item in parsed.file.items for each in _of_statement(item) if each.declares)
    return {(each.kind, each.word): each for each in named}


def references(parsed: Parsed) -> tuple[s.Reference, ...]:
    """The other files that a file names."""
    parts = (part for item in parsed.file.items for part in item.children())
    return tuple(part for part in parts if isinstance(part, s.Reference))


def _of_item(item: s.Item) -> Iterator[Occurrence]:
    yield from _of_statement(item)
    given = {formal.name for formal in item.formals} if isinstance(item, s.Definition) else set[str]()
    for part in item.children():
        has_values = isinstance(item, s.SetItem | s.ParameterItem) and part != item.name
        if has_values or not isinstance(part, s.Name):
            yield from _within(part, given)


def _of_statement(item: s.Item) -> Iterator[Occurrence]:
    """What a statement itself declares or speaks of."""
    match item:
        case s.RuleItem():
            yield _named("rule", item.name, not item.replaces)
        case s.Definition():
            yield _named("definition", item.name, not item.replaces)
            for formal in item.formals:
                yield Occurrence("given", formal.name, _first(formal.span, formal.name), True)
        case s.ParameterItem():
            yield _named("parameter", item.name, True)
        case s.SetItem():
            yield _named("parameter", item.name, False)
        case s.Unread():
            pass
        case _:
            for name in item.children():
                if isinstance(name, s.Name):
                    yield _named("rule", name, False)


def _within(node: s.Node, given: set[str]) -> Iterator[Occurrence]:
    """The names in a clause or a value."""
    match node:
        case s.Name() | s.Call() | s.Of():
            yield Occurrence("given" if node.word in given else "word", node.word, _first(node.span, node.word))
        case s.Reference():
            yield Occurrence("file", node.target, node.span)
        case s.Breach() if node.rule:
            yield Occurrence("rule", node.rule, _first(node.span, node.rule))
        case s.Words():
            yield from _in_placeholders(node, given)
        case _:
            pass
    for part in node.children():
        yield from _within(part, given)


def _in_placeholders(message: s.Words, given: set[str]) -> Iterator[Occurrence]:
    """The names between the braces of a message."""
    for piece in message.pieces():
        if not isinstance(piece, str):
            words, place = piece
            with suppress(ClauseError):
                yield from _within(parse_phrase(words.removesuffix("}"), place), given)


def _named(kind: NameKind, name: s.Name, declares: bool) -> Occurrence:
    return Occurrence(kind, name.word, name.span, declares)


def _first(span: s.Span, word: str) -> s.Span:
    """The place of the word that a phrase begins with."""
    return replace(span, length=len(word))
