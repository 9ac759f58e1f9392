"""Text to syntax tree, in one parse. After a mistake, reading goes on at the next clause or statement."""

# Lark's results are untyped: what it gives is unknown to the type checker until it is a node of our own.
# pyright: reportUnknownVariableType=false, reportUnknownArgumentType=false, reportUnknownMemberType=false

import re
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cache, lru_cache
from itertools import islice, pairwise
from typing import Any, cast

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken
from lark.lexer import ContextualLexer, LexerState, Pattern, PatternRE, PatternStr, TerminalDef
from lark.parsers.lalr_interactive_parser import InteractiveParser
from lark.parsers.lalr_parser_state import ParserState
from lark.utils import TextSlice

from rulekit.diagnostics import Diagnostic, nearest
from rulekit.language import limits
from rulekit.language.build import Builder, ClauseError, Origin, lacking
from rulekit.language.syntax import (
    NOWHERE,
    Base,
    Definition,
    Expr,
    File,
    Item,
    Name,
    Node,
    Overlay,
    ParameterItem,
    RuleItem,
    Span,
    Title,
    Unread,
)  # fmt: skip
from rulekit.language.tables import kept
from rulekit.language.wanted import wanted
from rulekit.resources import shipped

_MOST_FILES = 64  # that are kept as they were read
_REPLACED = r"replace(?:\s|--[^\n]*\n)+(?:rule|define)"  # one statement, wherever its second word stands
_TYPE = r"set(?:\s|--[^\n]*\n)+of(?!-?\w)"  # no statement, though its first word begins one
_CLAUSES = frozenset("REQUIRE FORBID EXCUSED FAULT WARNING ADVICE SOURCE TAUGHT ACCEPTS REJECTS".split())
_CLAUSES_AT_MARGIN = frozenset("FOR WHEN AT IN EXCEPT STRING".split())  # within a line these are something else
_CLAUSE_BEGINS = {"WHEN", "SOURCE", "REQUIRE"}  # where all of these may stand, a clause of a rule begins
_TERMINALS = {
    "NAME": "a name", "STRING": "a text in quotes", "INT": "a whole number", "INTERVAL": "an interval such as P5",
    "PITCH": "a pitch such as C4", "ORDINAL": "a place such as 3rd", "PERCENT": "a percentage",
    "PACED": "voice in halves", "DOWNBEAT": "downbeat", "WITH_CANTUS": "interval with cantus",
    "EXAMPLE_LINE": "an example line, which starts with |", "LPAR": "(", "RPAR": ")", "COMMA": "a comma",
    "COLON": "a colon", "PLUS": "+", "MINUS": "-", "$END": "the end of the file",
}  # fmt: skip


# What is most likely meant by a word or sign that does not fit.
_COMPARED = "Write ‘is’, ‘is not’, ‘is at least’, ‘is at most’, ‘is more than’ or ‘is less than’."
_HINTS = {
    **dict.fromkeys("=<>!≤≥≠", _COMPARED),
    **dict.fromkeys(("greater", "bigger", "larger", "smaller", "than"), _COMPARED),
    "then": "‘then’ joins the steps of a figure, after ‘begins’ or ‘ends’.",
    **dict.fromkeys('"“„', "Close it on the same line."),
}


@dataclass(frozen=True, slots=True)
class Parsed:
    """A rules file as read: the tree of all that was good, its tokens, and what was wrong with the rest.

    ``text`` has line feeds as line ends, whatever the file had; places in the tree are places in it.
    """

    file: File
    text: str
    diagnostics: tuple[Diagnostic, ...]
    pieces: tuple["Piece", ...] = ()

    @property
    def tokens(self) -> tuple[Token, ...]:
        """The tokens of the whole text, where they stand in it."""
        return tuple(token for piece in self.pieces for token in piece.placed())


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a file as read: its statements, its tokens, and what is wrong with it."""

    base: Base
    items: tuple[Item, ...]
    tokens: tuple[Token, ...]
    unread: tuple[Unread, ...]
    problems: tuple[Diagnostic, ...]
    is_passed_over: bool = False  # there were enough problems before it

    @property
    def is_sound(self) -> bool:
        """Whether all of it could be read."""
        return not self.problems and not self.is_passed_over

    def placed(self) -> Iterable[Token]:
        """Its tokens, where they stand in the file."""
        return map(self._placed, self.tokens) if self.base.start else self.tokens

    def _placed(self, token: Token) -> Token:
        line, start = self.base.line, self.base.start
        return Token(
            token.type, str(token), (token.start_pos or 0) + start, (token.line or 1) + line, token.column,
            (token.end_line or 1) + line, token.end_column, (token.end_pos or 0) + start,
        )  # fmt: skip


Cut = Callable[[str, str, Callable[[str, Origin], Piece]], list[Piece]]


def split(text: str) -> Iterator[tuple[str, Base]]:
    """A text cut before each line that a statement begins at the margin, where nothing else does."""
    begins = islice((start for start in statements(text) if start), limits.MAX_ITEMS + 1)
    places = [0, *begins, len(text)]
    line = 0
    for start, end in pairwise(places):
        yield text[start:end], Base(line, start)
        line += text.count("\n", start, end)


def statements(text: str) -> Iterator[int]:
    """Where the lines are that a statement begins at the margin."""
    return (found.start() for found in _begins().finditer(text))


@cache
def _begins() -> re.Pattern[str]:
    words = "|".join(sorted(map(word_of, beginnings())))
    return re.compile(rf"^(?!{_TYPE})(?:{_REPLACED}|{words})(?!-?\w)", re.MULTILINE | re.IGNORECASE)


@cache
def beginnings() -> frozenset[str]:
    """The names of the tokens that begin a statement."""
    return frozenset(grammar().parse_interactive("", start="start").accepts()) - {"$END"}


@cache
def of_files() -> frozenset[str]:
    """The names of the tokens that begin a statement in which other files are named."""
    naming = [rule for rule in grammar().rules if any(part.name == "reference" for part in rule.expansion)]
    return frozenset(rule.expansion[0].name for rule in naming) & beginnings()


def word_of(name: str) -> str:
    """The word that a token is, by its name; empty where it may be one of many."""
    word = str(terminal(name).value).removesuffix(r"(?!-?\w)")
    return word if word.isalpha() else ""


def terminal(name: str) -> Pattern:
    """What the tokens of a name look like."""
    return next(each.pattern for each in grammar().terminals if each.name == name)


def _afresh(text: str, path: str, read: Callable[[str, Origin], Piece]) -> list[Piece]:
    return [read(part, Origin(path, base=base)) for part, base in split(text)]


@cache
def grammar() -> Lark:
    """The Lark parser of the language."""
    return kept((shipped("grammar") / "rules.lark").read_text(encoding="utf-8"), made)


def made(text: str) -> Lark:
    """The Lark parser of a grammar."""
    return Lark(
        text,
        parser="lalr",
        lexer="contextual",
        start=["start", "sum"],
        propagate_positions=True,
        maybe_placeholders=True,
        edit_terminals=_whole_words,
    )


def _whole_words(terminal: TerminalDef) -> None:
    """Let a keyword be a whole word only, in capitals or not: ``requires`` is not ``require`` and an s."""
    pattern = terminal.pattern
    if isinstance(pattern, PatternStr) and pattern.value.isalpha():
        terminal.pattern = PatternRE(rf"{pattern.value}(?!-?\w)", flags=["i"])
        terminal.priority = 1


def parse(text: str, path: str, cut: Cut = _afresh) -> Parsed:
    """Read a rules file; what can't be read is told in diagnostics, the rest is in the tree.

    ``cut`` may give pieces of it that were read before.
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    refused = _too_large(text, lines, path)
    if refused:
        return Parsed(File(NOWHERE, ()), text, (refused,))
    found = 0

    def read(part: str, origin: Origin) -> Piece:
        nonlocal found
        if found >= limits.MAX_PROBLEMS:
            return Piece(origin.base, (), (), (), (), is_passed_over=True)
        piece = _piece(part, origin, lines)
        found += len(piece.problems)
        return piece

    try:
        pieces = cut(text, path, read)
    except ClauseError as error:
        return Parsed(File(NOWHERE, ()), text, (_placed(error, lines),))
    problems = [problem for piece in pieces for problem in piece.problems]
    sound = _sound([item for piece in pieces for item in piece.items], problems, lines)
    unread = [each for piece in pieces for each in piece.unread]
    return Parsed(File(Span(path, 1, 1, 1), (*sound, *unread)), text, tuple(problems), tuple(pieces))


@lru_cache(_MOST_FILES)
def parsed(text: str, path: str) -> Parsed:
    """A rules file as :func:`parse` reads it, once for all rulesets that take it."""
    return parse(text, path)


def _piece(text: str, origin: Origin, lines: list[str]) -> Piece:
    """Read a text that begins at a place of a file of these lines."""
    reader = _Reader(text, origin)
    tree = reader.read()
    builder = Builder(reader.origin)
    items = cast(File, builder.transform(tree)).items
    problems = [*_explain(reader, lines), *(_placed(error, lines) for error in builder.errors)]
    items = tuple(_marked(item, builder.errors) for item in items)
    items = _without(items, [_start(error, text) for error, _ in reader.stumbles], reader)
    return Piece(origin.base, items, tuple(reader.tokens), tuple(reader.unread), tuple(problems))


def _marked(item: Item, errors: Sequence[ClauseError]) -> Item:
    """A rule in which phrases do not go together as one of which parts are lacking."""
    if isinstance(item, RuleItem) and any(item.span.start < error.span.start < item.span.end for error in errors):
        return replace(item, damaged=True)
    return item


def _without(items: Sequence[Item], places: Sequence[int], reader: "_Reader") -> tuple[Item, ...]:
    """The items without what stumbles in these places cut short: clauses of a rule, or else whole statements."""
    shift = reader.origin.base.start
    hurt: dict[int, list[int]] = {}
    for place in places:
        hurt.setdefault(_last_before(items, place + shift), []).append(place)
    return tuple(
        left
        for number, item in enumerate(items)
        for left in (_left(item, hurt[number], reader) if number in hurt else [item])
    )


def _left(item: Item, places: Sequence[int], reader: "_Reader") -> Iterator[Item]:
    """What is left of an item in which reading stumbled; a clause before a line that can’t be read is whole."""
    if isinstance(item, RuleItem):
        within = [place + reader.origin.base.start for place in places if not reader.leads(place)]
        short = {_last_before(item.clauses, place) for place in within} - {
            _last_before(item.clauses, place) for place in within if reader.loses_clause(item.clauses, place)
        }
        clauses = tuple(each for number, each in enumerate(item.clauses) if number not in short)
        yield replace(item, clauses=clauses, damaged=True)
    elif all(map(reader.begins_line, places)):
        yield item
    elif isinstance(item, Definition | ParameterItem):
        yield Unread(item.span, item.name)


def _last_before(nodes: Sequence[Node], place: int) -> int:
    """Which node is the last that begins before a place; -1 if none does."""
    return bisect_right([node.span.start for node in nodes], place) - 1


def _too_large(text: str, lines: list[str], path: str) -> Diagnostic | None:
    if len(text.encode("utf-8", "replace")) > limits.MAX_BYTES:
        message = f"the file is larger than {limits.MAX_BYTES // 1000} kB, the most that is read"
        return Diagnostic(path, 1, 1, 1, message)
    number = next((number for number, line in enumerate(lines, 1) if len(line) > limits.MAX_LINE), 0)
    if number:
        message = f"this line is longer than {limits.MAX_LINE} characters"
        return Diagnostic(path, number, 1, 1, message, "Break it.")
    return None


def _sound(items: Sequence[Item], problems: list[Diagnostic], lines: list[str]) -> tuple[Item, ...]:
    """The items that can be used as they stand, and what is wrong with the others told."""
    sound: list[Item] = []
    for place, item in enumerate(items):
        wrong = list(_mistakes(item, place))
        problems += [_placed(error, lines) for error in wrong]
        is_rule = isinstance(item, RuleItem)
        if is_rule and wrong:
            item = replace(item, damaged=True)
        if is_rule or not wrong:
            sound.append(item)
    return tuple(sound)


def _mistakes(item: Item, place: int) -> Iterator[ClauseError]:
    if place == limits.MAX_ITEMS:
        message = f"there are more than {limits.MAX_ITEMS} statements in one file"
        yield ClauseError(item.span, message, "Divide it into several files and ‘use’ them.")
    if place >= limits.MAX_ITEMS:
        return
    if isinstance(item, Title | Overlay) and place:
        yield ClauseError(item.span, "the title stands once, at the top of the file", "Move it there, or take it out.")
    if isinstance(item, RuleItem) and not item.damaged:
        yield from lacking(item)
    yield from _too_deep(item)


def _too_deep(item: Node) -> Iterator[ClauseError]:
    waiting = [(item, 0)]
    while waiting:
        node, depth = waiting.pop()
        if depth > limits.MAX_DEPTH:
            message = f"phrases stand more than {limits.MAX_DEPTH} deep within each other"
            yield ClauseError(node.span, message, "Give a part of it a name with ‘define’.")
            return
        waiting += [(part, depth + 1) for part in node.children()]


# ---- reading on after a mistake ----------------------------------------------------------------


@dataclass(slots=True)
class _Reader:
    """One run of the parser over a text: the tokens it took, what it made of them, and where it stumbled."""

    text: str
    origin: Origin
    tokens: list[Token] = field(default_factory=list[Token])
    stumbles: list[tuple[UnexpectedInput, set[str]]] = field(default_factory=list[tuple[UnexpectedInput, set[str]]])
    unread: list[Unread] = field(default_factory=list[Unread])
    began: int = 0

    def read(self) -> Tree[Token]:
        """The tree of the whole text, of which mistakes are left out."""
        parser = grammar().parse_interactive(self.text, start="start")
        while True:
            try:
                for token in parser.iter_parse():
                    self._take(token)
                return cast("Tree[Token]", parser.feed_eof(self.tokens[-1] if self.tokens else None))
            except UnexpectedInput as error:
                self.stumbles.append((error, parser.accepts()))
                self._go_on(parser, error)

    def _take(self, token: Token) -> None:
        """Keep a token; raises ClauseError where a statement grows too long."""
        start = token.start_pos or 0
        if token.type in beginnings():
            self.began = start
        if start - self.began > limits.MAX_STATEMENT:
            message = f"this statement is longer than {limits.MAX_STATEMENT} characters"
            line = self.text.count("\n", 0, self.began) + 1
            column = self.began - self.text.rfind("\n", 0, self.began)
            raise ClauseError(self.origin.span(line, column, self.began, self.began + 1), message, "Divide it.")
        self.tokens.append(token)

    def _go_on(self, parser: InteractiveParser, error: UnexpectedInput) -> None:
        """Put the parser where the next clause or statement begins, as if there were nothing before it."""
        state = parser.parser_state
        first = _start(error, self.text)
        enough = len(self.stumbles) >= limits.MAX_PROBLEMS
        for token in () if enough else self._following(parser, first):
            depth = self._depth(parser, token, first)
            if depth is None and token.type == "NAME" and self._is_clause(token.start_pos or 0, first):
                depth = self._open_rule(parser.parser_state)
            if depth is not None:
                break
        else:
            token, depth = Token("$END", "", len(self.text)), self._depth(parser, Token("$END", ""), first)
        self._keep_name(state.value_stack[depth:])
        del state.state_stack[(depth or 0) + 1 :], state.value_stack[depth or 0 :]
        parser.lexer_thread.state = LexerState(TextSlice(self.text, token.start_pos or 0, len(self.text)))

    def _following(self, parser: InteractiveParser, start: int) -> Iterator[Token]:
        """The tokens from here on, whatever they mean, as far as a statement can reach."""
        past = start + limits.MAX_STATEMENT
        root = cast(ContextualLexer, parser.lexer_thread.lexer).root_lexer
        state = LexerState(TextSlice(self.text, start, min(len(self.text), past)))
        while True:
            try:
                yield from root.lex(state, parser.parser_state)
                return
            except UnexpectedCharacters:
                state.line_ctr.feed(TextSlice(self.text, state.line_ctr.char_pos, state.line_ctr.char_pos + 1))

    def _depth(self, parser: InteractiveParser, token: Token, stumble: int) -> int | None:
        """How much of what was read so far stands, if reading goes on with this token; None if it can't."""
        start = token.start_pos or 0
        leads = self.leads(start)
        if token.type == "$END" or (token.type in beginnings() and leads):
            marks = {"RULE", "DEFINE", "DROP"}
        elif self.begins_line(stumble) and start >= stumble:
            return None
        elif token.type in _CLAUSES or (token.type in _CLAUSES_AT_MARGIN and leads):
            marks = _CLAUSE_BEGINS
        else:
            return None
        state = parser.parser_state
        for depth in range(len(state.state_stack) - 1, -1, -1):
            if marks <= state.parse_conf.states[state.state_stack[depth]].keys() and _fits(state, depth, token):
                return depth
        return None

    def _is_clause(self, place: int, stumble: int) -> bool:
        """Whether a later line begins there, as far in as the one of the stumble: then it is a clause of its own."""
        indent, far = (self._before(each) for each in (place, stumble))
        return place > stumble and bool(indent) and not indent.strip() and indent == far[: -len(far.lstrip()) or None]

    def _before(self, place: int) -> str:
        """What stands before a place on its line."""
        return self.text[self.text.rfind("\n", 0, place) + 1 : place]

    def _open_rule(self, state: ParserState[Any]) -> int | None:
        """How much of what was read so far stands, if a clause is begun next; None outside rules."""
        states = [state.parse_conf.states[each].keys() for each in state.state_stack]
        return next((depth for depth in range(len(states) - 1, -1, -1) if states[depth] >= _CLAUSE_BEGINS), None)

    def leads(self, place: int) -> bool:
        """Whether nothing stands before a place on its line."""
        return not self._before(place).strip()

    def loses_clause(self, clauses: Sequence[Node], place: int) -> bool:
        """Whether the clause that stumbles in a place of the file was lost whole, so that none is cut short."""
        start = self.origin.base.start
        begins = [
            token.start_pos or 0
            for token in self.tokens
            if (token.start_pos or 0) + start < place
            and (token.type in _CLAUSES or (token.type in _CLAUSES_AT_MARGIN and self.leads(token.start_pos or 0)))
        ]
        last = _last_before(clauses, place)
        return bool(begins) and last >= 0 and begins[-1] + start > clauses[last].span.start

    def begins_line(self, place: int) -> bool:
        """Whether a place is at the very margin, where only statements begin."""
        return place == 0 or self.text[place - 1 : place] == "\n"

    def _keep_name(self, lost: list[Any]) -> None:
        """Remember what a statement that is lost was to be called."""
        kinds = [part.type for part in lost if isinstance(part, Token)]
        names = [part for part in lost if isinstance(part, Token) and part.type == "NAME"]
        if names and beginnings().intersection(kinds) & {"DEFINE", "PARAMETER", "RULE"}:
            self.unread.append(Unread(self.origin.token(names[0]), Name(self.origin.token(names[0]), str(names[0]))))


def _fits(state: ParserState[Any], depth: int, token: Token) -> bool:
    """Whether a token fits after the first so many parts of what was read."""
    conf = copy(state.parse_conf)
    conf.callbacks = {}
    trial = ParserState(conf, state.lexer, state.state_stack[: depth + 1], state.value_stack[:depth])
    try:
        trial.feed_token(token, token.type == "$END")
    except UnexpectedToken:
        return False
    return True


def _start(error: UnexpectedInput, text: str) -> int:
    """Where in the text a mistake was noticed."""
    if isinstance(error, UnexpectedToken):
        token = cast(Token, error.token)
        return len(text) if token.type == "$END" else token.start_pos or 0
    return error.pos_in_stream or 0


# ---- telling -----------------------------------------------------------------------------------


def _explain(reader: _Reader, lines: list[str]) -> Iterator[Diagnostic]:
    """What the parser found, in words."""
    for error, expected in reader.stumbles:
        start = _start(error, reader.text)
        token = cast(Token, error.token) if isinstance(error, UnexpectedToken) else Token("", reader.text[start])
        early = token.type == "$END" or token.type in beginnings() | _CLAUSES | _CLAUSES_AT_MARGIN - {"STRING"}
        if early:
            start = len(reader.text[:start].rstrip())
            found, length = "this ends too early", 1
        elif isinstance(error, UnexpectedToken):
            found, length = f"‘{token}’ is not expected here", max(len(token), 1)
        else:
            found, length = f"‘{token}’ can’t be read here", 1
            if token in '"“„':
                found = "this text has no closing quote on its line"
        line = reader.text.count("\n", 0, start) + 1
        column = start - reader.text.rfind("\n", 0, start)
        line += reader.origin.base.line
        path = reader.origin.path
        yield Diagnostic(path, line, column, length, found, _hint(token, expected, early), _line(lines, line))


def _hint(found: Token, expected: set[str], early: bool) -> str:
    """What could stand here: the nearest word first."""
    known = _HINTS.get(found)
    if known and not early:
        return known
    names = [_TERMINALS.get(name, name.lower().replace("_", " ")) for name in expected if not name.startswith("__")]
    words = sorted({name for name in names if name})
    near = nearest(found.lower(), words) if found.type == "NAME" else None
    if near is not None:
        return f"Did you mean ‘{near}’?"
    return wanted(expected)


def _placed(error: ClauseError, lines: list[str]) -> Diagnostic:
    span = error.span
    line = _line(lines, span.line)
    return Diagnostic(span.path, span.line, span.column, span.length, str(error), error.hint, line)


def _line(lines: list[str], number: int) -> str:
    return lines[number - 1] if 0 < number <= len(lines) else ""


def following(text: str) -> set[str]:
    """The names of the tokens that may come after a text; none if it can’t be read so far."""
    parser = grammar().parse_interactive(text, start="start")
    try:
        for _ in parser.iter_parse():
            pass
    except UnexpectedInput:
        return set()
    return parser.accepts()


@cache
def is_name(word: str) -> bool:
    """Whether a word can stand for a value or an adjective: not all words of the grammar can."""
    text = f"rule x when it is not {word}, {word} or {word} and {word} is 1 at {word}"
    parser = grammar().parse_interactive(text, start="start")
    try:
        return sum(token.type == "NAME" and token == word for token in parser.iter_parse()) == 5
    except UnexpectedInput:
        return False


def parse_phrase(words: str, span: Span) -> Expr:
    """Read a value phrase that stands inside a message, at ``span``; raises ClauseError."""
    builder = Builder(Origin(span.path, span.row, span.column, span.place, span.base))
    try:
        phrase = cast(Expr, builder.transform(grammar().parse(words, start="sum")))
    except UnexpectedInput as error:
        hint = "Write a thing or value there, such as {interval}, {upper} or {degree of upper}."
        raise ClauseError(span, f"‘{words}’ can’t be a placeholder", hint) from error
    for wrong in (*builder.errors, *_too_deep(phrase)):
        raise ClauseError(span, str(wrong), wrong.hint)
    return phrase
