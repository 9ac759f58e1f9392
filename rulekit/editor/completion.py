"""What can be written at a place in a rules file: of names, only those that make sense there."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, replace
from typing import Any, Literal, cast

from rulekit.diagnostics import with_article
from rulekit.language import syntax as s
from rulekit.language import vocabulary as v
from rulekit.language.checking import fits
from rulekit.language.library import shipped_names
from rulekit.language.parser import following, parse, statements, word_of
from rulekit.language.whole import Examined

OfferKind = Literal["keyword", "definition", "parameter", "rule", "word", "file"]

_PART_OF_WORD = re.compile(r"[\w-]*$")
_HERE = "something-to-be-written"
_ENDINGS = ("", ' "…"', " to 1", ": warning", ' when 1 is 1 "…"')  # what makes a statement whole after a name
_AROUND = (
    s.When, s.Demand, s.LicenceItem, s.Logic, s.Not, s.Compare, s.Missing, s.FigureTest, s.Sequence, s.Choice,
    s.Group, s.Subject, s.Scope,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Offer:
    """A word that may be written, what kind of word it is, and a few words about it."""

    word: str
    kind: OfferKind
    said: str = ""


def offers(text: str, place: int, examined: Examined) -> list[Offer]:
    """What can stand at a place of a text, in characters from its start: names that make sense, then keywords."""
    head = text[:place]
    begun = _PART_OF_WORD.search(head)
    head = head[: begun.start()] if begun else head
    starts = list(statements(head))
    before = head[starts[-1] :] if starts else ""
    expected = following(before)
    names = list(_names(before, examined)) if "NAME" in expected else []
    return [*names, *(Offer(word, "keyword") for word in _keywords(expected))]


def _keywords(expected: Iterable[str]) -> list[str]:
    """The words of the language among tokens."""
    return sorted({word for name in expected if name != "$END" and (word := word_of(name))})


# ---- names ---------------------------------------------------------------------------------------


def _names(before: str, examined: Examined) -> Iterator[Offer]:
    """The names that make sense after a beginning."""
    closed = ")" * max(0, before.count("(") - before.count(")"))
    tried = (parse(f"{before}{_HERE}{closed}{ending}\n", "") for ending in _ENDINGS)
    path = next((found for parsed in tried for item in parsed.file.items if (found := _path_to(item))), None)
    if path is None:
        return
    item, *within = path
    match item:
        case s.Drop() | s.Adjust() | s.Excuse() if len(within) == 1:
            yield from (Offer(rule.name, "rule") for rule in examined.ruleset.rules)
        case _ if isinstance(within[-1], s.Reference):
            yield from (Offer(name, "file") for name in shipped_names())
        case s.SetItem() if within[-1] is item.name:
            yield from (Offer(parameter.name, "parameter") for parameter in examined.ruleset.parameters)
        case s.RuleItem() | s.Definition() if len(within) > 1 or isinstance(item, s.Definition):
            yield from _values(item, within, examined)
        case _:
            return


def _path_to(node: s.Node) -> tuple[s.Node, ...] | None:
    """The nodes that lead to what is to be written, the outermost first."""
    if isinstance(node, s.Name | s.Call | s.Of) and node.word == _HERE:
        return (node,)
    if isinstance(node, s.Reference) and node.target == _HERE:
        return (node,)
    for part in node.children():
        found = _path_to(part)
        if found:
            return (node, *found)
    return None


def _values(item: s.RuleItem | s.Definition, path: list[s.Node], examined: Examined) -> Iterator[Offer]:
    """Definitions, parameters and words of the language that mean something in a condition."""
    phrase = _judged(path)
    if phrase is None:
        return
    for offer, said in _known(item, examined):
        if fits(cast(s.Condition, _with(phrase, said)), item, examined.environment):
            yield offer


def _judged(path: list[s.Node]) -> s.Node | None:
    """The phrase that shows whether a word makes sense: a whole comparison if it is on its right, or else the value."""
    for place, node in enumerate(path):
        if isinstance(node, s.Places):
            return node
        if isinstance(node, s.Compare) and path[place + 1] is not node.left:
            return node
    return next((node for node in path if not isinstance(node, _AROUND)), None)


def _with(node: s.Node, said: s.Name | s.Call) -> s.Node:
    """A phrase with a value in the place of what is to be written."""
    if isinstance(node, s.Name) and node.word == _HERE:
        return said
    changed: dict[str, Any] = {}
    for part in fields(node):
        value = getattr(node, part.name)
        if isinstance(value, s.Node):
            changed[part.name] = _with(value, said)
        elif isinstance(value, tuple):
            parts = cast("tuple[object, ...]", value)
            changed[part.name] = tuple(_with(each, said) if isinstance(each, s.Node) else each for each in parts)
    return replace(node, **changed)


def _known(item: s.RuleItem | s.Definition, examined: Examined) -> Iterator[tuple[Offer, s.Name | s.Call]]:
    """Every name that could be a value, the author’s own first, and how it is said with what it is given."""
    for formal in item.formals if isinstance(item, s.Definition) else ():
        yield Offer(formal.name, "parameter", formal.type.word), _name(formal.name)
    for name, definition in examined.environment.definitions.items():
        if not (isinstance(item, s.Definition) and name == item.name.word):
            yield Offer(name, "definition", _described(definition)), _said(definition)
    for parameter in examined.ruleset.parameters:
        yield Offer(parameter.name, "parameter", parameter.type), _name(parameter.name)
    words = {word for table in (v.ATTRIBUTES, v.FLAGS, v.ROLES) for of_kind in table.values() for word in of_kind}
    for word in sorted({*words, *v.CONSTANTS, *v.FUNCTIONS, *v.FIXED, "it"}):
        yield Offer(word, "word", str(v.CONSTANTS[word].type) if word in v.CONSTANTS else ""), _name(word)


def _name(word: str) -> s.Name:
    return s.Name(s.NOWHERE, word)


def _described(definition: s.Definition) -> str:
    """What a definition is said of, and what it is given."""
    subject = f"for {with_article(definition.subject)}" if definition.subject else ""
    given = ", ".join(f"{formal.name}: {formal.type.word}" for formal in definition.formals)
    return " ".join(part for part in (subject, given and f"with {given}") if part)


def _said(definition: s.Definition) -> s.Name | s.Call:
    """A definition with something of the right type for each thing that it is given."""
    word = definition.name.word
    given = tuple(_GIVEN.get(formal.type.word, _name("it")) for formal in definition.formals)
    return s.Call(s.NOWHERE, word, given) if given else _name(word)


_GIVEN: dict[str, s.Expr] = {
    "count": s.Literal_(s.NOWHERE, "number", "1"), "interval": s.Literal_(s.NOWHERE, "interval", "P5"),
    "size": s.Literal_(s.NOWHERE, "interval", "P5"), "pitch": s.Literal_(s.NOWHERE, "pitch", "C4"),
    "degree": s.Literal_(s.NOWHERE, "number", "1"), "proportion": s.Literal_(s.NOWHERE, "percent", "50%"),
    "motion": _name("contrary"), "direction": _name("up"), "length": _name("whole-note"), "mode": _name("dorian"),
}  # fmt: skip
