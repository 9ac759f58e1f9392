"""Text to syntax tree. Every syntax error of a file is found: after one, reading goes on at the next statement."""

# Lark's results are untyped: what it gives is unknown to the type checker until it is a node of our own.
# pyright: reportUnknownVariableType=false, reportUnknownArgumentType=false, reportUnknownMemberType=false

import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache
from typing import cast

from lark import Lark, Token
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken, VisitError
from lark.lexer import PatternRE, PatternStr, TerminalDef

from rulekit.diagnostics import Diagnostic, nearest
from rulekit.language import limits
from rulekit.language.build import Builder, ClauseError
from rulekit.language.syntax import NOWHERE, Expr, File, Item, Node, Span
from rulekit.resources import shipped

_STATEMENT = re.compile(
    r"^(?=(?:ruleset|build|use|parameter|set|define|rule|replace|drop|adjust|excuse|example)\b)", re.MULTILINE
)
_TERMINALS = {
    "NAME": "a name", "STRING": "a text in quotes", "INT": "a whole number", "INTERVAL": "an interval such as P5",
    "PITCH": "a pitch such as C4", "ORDINAL": "a place such as 3rd", "PERCENT": "a percentage",
    "EXAMPLE_LINE": "an example line, which starts with |", "LPAR": "(", "RPAR": ")", "COMMA": "a comma",
    "COLON": "a colon", "PLUS": "+", "MINUS": "-", "$END": "the end of the file",
}  # fmt: skip


# What is most likely meant by a word or sign that does not fit.
_COMPARED = "Write ‘is’, ‘is not’, ‘is at least’, ‘is at most’, ‘is more than’ or ‘is less than’."
_HINTS = {
    **dict.fromkeys("=<>!≤≥≠", _COMPARED),
    **dict.fromkeys(("greater", "bigger", "larger", "smaller", "than"), _COMPARED),
    "then": "‘then’ joins the steps of a figure, after ‘begins’ or ‘ends’.",
    '"': "Close it on the same line.",
}


@dataclass(frozen=True, slots=True)
class Parsed:
    """A rules file as read: the tree of all that was good, and what was wrong with the rest."""

    file: File
    text: str
    diagnostics: tuple[Diagnostic, ...]


@cache
def _parser() -> Lark:
    return grammar("start", "sum")


def grammar(*starts: str, keep_all_tokens: bool = False) -> Lark:
    """A Lark parser of the language for some of the grammar's rules."""
    return Lark(
        (shipped("grammar") / "rules.lark").read_text(encoding="utf-8"),
        parser="lalr",
        lexer="contextual",
        start=list(starts),
        propagate_positions=True,
        maybe_placeholders=True,
        keep_all_tokens=keep_all_tokens,
        edit_terminals=_whole_words,
    )


def _whole_words(terminal: TerminalDef) -> None:
    """Let a keyword be a whole word only: ``requires`` is not ``require`` and an s."""
    pattern = terminal.pattern
    if isinstance(pattern, PatternStr) and pattern.value.isalpha():
        terminal.pattern = PatternRE(rf"{pattern.value}(?![\w-])")
        terminal.priority = 1


def parse(text: str, path: str) -> Parsed:
    """Read a rules file; what can't be read is told in diagnostics, the rest is in the tree."""
    if len(text.encode("utf-8", "replace")) > limits.MAX_BYTES:
        message = f"the file is larger than {limits.MAX_BYTES // 1000} kB, the most that is read"
        return Parsed(File(NOWHERE, "", ()), "", (Diagnostic(path, 1, 1, 1, message),))
    lines = text.splitlines()
    too_long = next((number for number, line in enumerate(lines, 1) if len(line) > limits.MAX_LINE), 0)
    if too_long:
        message = f"this line is longer than {limits.MAX_LINE} characters"
        return Parsed(File(NOWHERE, "", ()), "", (Diagnostic(path, too_long, 1, 1, message, "Break it."),))
    if len(_STATEMENT.findall(text)) > limits.MAX_ITEMS:
        return Parsed(File(NOWHERE, "", ()), "", (_too_many(path),))
    title = ""
    items: list[Item] = []
    problems: list[Diagnostic] = []
    for start, chunk in _chunks(text):
        if len(chunk) > limits.MAX_STATEMENT:
            message = f"this statement is longer than {limits.MAX_STATEMENT} characters"
            problems.append(Diagnostic(path, start + 1, 1, 1, message, "Divide it.", _line(lines, start + 1)))
            continue
        try:
            part = _parse_chunk(chunk, path, start)
        except (UnexpectedInput, ClauseError) as error:
            problems.append(_explain(error, path, lines, start))
            continue
        title = title or part.title
        for item in part.items:
            try:
                _check_depth(item)
                items.append(item)
            except ClauseError as error:
                problems.append(_explain(error, path, lines, start))
    if len(items) > limits.MAX_ITEMS:
        return Parsed(File(NOWHERE, "", ()), "", (_too_many(path),))
    return Parsed(File(Span(path, 1, 1, 1), title, tuple(items)), text, tuple(problems))


def _too_many(path: str) -> Diagnostic:
    message = f"there are more than {limits.MAX_ITEMS} statements in one file"
    return Diagnostic(path, 1, 1, 1, message, "Divide it into several files and ‘use’ them.")


def _chunks(text: str) -> Iterator[tuple[int, str]]:
    """The statements of a file, each with the line before its first."""
    starts = [match.start() for match in _STATEMENT.finditer(text)]
    edges = [*sorted({0, *starts}), len(text)]
    for begin, end in itertools.pairwise(edges):
        yield text.count("\n", 0, begin), text[begin:end]


def _parse_chunk(chunk: str, path: str, lines_before: int) -> File:
    tree = _parser().parse(chunk, start="start")
    try:
        return cast(File, Builder(path, lines_before).transform(tree))
    except VisitError as error:
        raise error.orig_exc from None


def _explain(error: UnexpectedInput | ClauseError, path: str, lines: list[str], before: int) -> Diagnostic:
    """What the parser found, in words."""
    if isinstance(error, ClauseError):
        span = error.span
        return Diagnostic(path, span.line, span.column, span.length, str(error), error.hint, _line(lines, span.line))
    line = max(error.line, 1) + before if error.line > 0 else len(lines)
    column, length = max(error.column, 1), 1
    if isinstance(error, UnexpectedToken):
        token = cast(Token, error.token)
        expected = error.accepts or error.expected
        if token.type == "$END":
            line, column = max(len(lines), 1) if not lines else _last_line(lines, before, line), 1
            column = len(_line(lines, line)) + 1
            found = "the statement ends here too early"
        else:
            length = max(len(token), 1)
            found = f"‘{token}’ is not expected here"
        return Diagnostic(path, line, column, length, found, _hint(token, expected), _line(lines, line))
    assert isinstance(error, UnexpectedCharacters)
    sign = str(error.char)
    found = f"‘{sign}’ can’t be read here" if sign != '"' else "this text has no closing quote on its line"
    return Diagnostic(path, line, column, length, found, _HINTS.get(sign, ""), _line(lines, line))


def _last_line(lines: list[str], before: int, line: int) -> int:
    """The last written line of the statement that starts after line ``before``."""
    last = before + 1
    for number in range(before + 1, len(lines) + 1):
        if number > before + 1 and _STATEMENT.match(lines[number - 1]):
            break
        if lines[number - 1].strip():
            last = number
    return min(last, max(line, last))


def _hint(found: Token, expected: set[str]) -> str:
    """What could stand here: the nearest word first."""
    known = _HINTS.get(found)
    if known:
        return known
    names = [_TERMINALS.get(name, name.lower().replace("_", " ")) for name in expected if not name.startswith("__")]
    words = sorted({name for name in names if name})
    near = nearest(found.lower(), words) if found.type == "NAME" else None
    if near is not None:
        return f"Did you mean ‘{near}’?"
    if "IS" in expected:
        return "A verb belongs here, such as ‘is’, ‘is not’, ‘is at least’, ‘is more than’."
    shown = words if len(words) <= 8 else [*words[:8], "…"]
    return f"Here may stand: {', '.join(shown)}." if shown else ""


def _line(lines: list[str], number: int) -> str:
    return lines[number - 1] if 0 < number <= len(lines) else ""


def _check_depth(item: Node) -> None:
    """Raise ClauseError where phrases stand too deep within phrases."""
    waiting: list[tuple[object, int]] = [(item, 0)]
    while waiting:
        node, depth = waiting.pop()
        if isinstance(node, tuple):
            waiting += [(part, depth) for part in cast("tuple[object, ...]", node)]
        elif isinstance(node, Node) and is_dataclass(node):
            if depth > limits.MAX_DEPTH:
                message = f"phrases stand more than {limits.MAX_DEPTH} deep within each other"
                raise ClauseError(node.span, message, "Give a part of it a name with ‘define’.")
            waiting += [(getattr(node, part.name), depth + 1) for part in fields(node)]


def parse_phrase(words: str, span: Span) -> Expr:
    """Read a value phrase that stands inside a message; raises ClauseError."""
    try:
        tree = _parser().parse(words, start="sum")
        # The phrase is read by itself; its parts are placed where the whole phrase stands.
        phrase = replace(cast(Expr, Builder(span.path, span.line - 1).transform(tree)), span=span)
    except (UnexpectedInput, VisitError) as error:
        hint = "Write a thing or value there, such as {interval}, {upper} or {degree of upper}."
        raise ClauseError(span, f"‘{words}’ can’t be a placeholder", hint) from error
    _check_depth(phrase)
    return phrase
