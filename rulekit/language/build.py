"""The builder: called by the parser for each phrase, it makes the nodes of the syntax tree."""

# Lark's results are untyped: what it gives is unknown to the type checker until it is a node of our own.
# pyright: reportUnknownVariableType=false, reportUnknownArgumentType=false, reportUnknownMemberType=false

import dataclasses
from collections.abc import Sequence
from typing import Any, Literal, TypeVar, cast

from lark import Token, v_args
from lark.tree import Meta
from lark.visitors import Transformer_NonRecursive

from rulekit.language import limits
from rulekit.language import syntax as s
from rulekit.language.syntax import Span


class ClauseError(Exception):
    """A statement is made of good phrases that do not go together."""

    def __init__(self, span: Span, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.span, self.hint = span, hint


@v_args(meta=True)
class Builder(Transformer_NonRecursive[Token, Any]):
    """Lark calls the method named like the grammar rule with the finished parts.

    ``lines_before`` is the number of lines in the file before the text that was parsed.
    """

    def __init__(self, path: str, lines_before: int) -> None:
        super().__init__()
        self.path, self.lines_before = path, lines_before

    # ---- places in the file -----------------------------------------------------------------

    def _span(self, meta: Meta) -> Span:
        if getattr(meta, "empty", True):
            return Span(self.path, self.lines_before + 1, 1, 1)
        return Span(self.path, meta.line + self.lines_before, meta.column, max(1, meta.end_pos - meta.start_pos))

    def _token_span(self, token: Token) -> Span:
        return Span(self.path, (token.line or 1) + self.lines_before, token.column or 1, max(1, len(token)))

    def _word(self, token: Token) -> s.Name:
        return s.Name(self._token_span(token), str(token))

    def _count(self, token: Token) -> int:
        value = int(token) if len(token) < 8 else limits.MAX_NUMBER + 1
        if value > limits.MAX_NUMBER:
            raise ClauseError(self._token_span(token), f"numbers go up to {limits.MAX_NUMBER}")
        return value

    # ---- values -----------------------------------------------------------------------------

    def name(self, _: Meta, parts: list[Token]) -> s.Name:
        return self._word(parts[0])

    def note(self, meta: Meta, _: list[Any]) -> s.Name:
        return s.Name(self._span(meta), "note")

    def call(self, meta: Meta, parts: list[Any]) -> s.Call:
        return s.Call(self._span(meta), str(parts[0]), tuple(parts[1:]))

    def of(self, meta: Meta, parts: list[Any]) -> s.Of:
        return s.Of(self._span(meta), str(parts[0]), parts[-1])

    def pitch_of(self, meta: Meta, parts: list[Any]) -> s.Expr:
        target = parts[-1] if parts else None
        return s.Name(self._span(meta), "pitch") if target is None else s.Of(self._span(meta), "pitch", target)

    def before(self, _: Meta, __: list[Any]) -> int:
        return -1

    def after(self, _: Meta, __: list[Any]) -> int:
        return 1

    def name_shift(self, meta: Meta, parts: list[Any]) -> s.Shift:
        return s.Shift(self._span(meta), self._word(parts[0]), parts[2] * self._count(parts[1]))

    def previous(self, meta: Meta, parts: list[Any]) -> s.Shift:
        return s.Shift(self._span(meta), parts[0], -1)

    def next(self, meta: Meta, parts: list[Any]) -> s.Shift:
        return s.Shift(self._span(meta), parts[0], 1)

    def note_shift(self, meta: Meta, parts: list[Any]) -> s.NoteShift:
        return s.NoteShift(self._span(meta), parts[1], parts[0])

    def note_shift_by(self, meta: Meta, parts: list[Any]) -> s.NoteShift:
        return s.NoteShift(self._span(meta), parts[2], parts[1] * self._count(parts[0]))

    def rise(self, _: Meta, __: list[Any]) -> bool:
        return True

    def fall(self, _: Meta, __: list[Any]) -> bool:
        return False

    def directed(self, meta: Meta, parts: list[Any]) -> s.Directed:
        return s.Directed(self._span(meta), parts[0], parts[1])

    def exactly(self, meta: Meta, parts: list[Any]) -> s.Exactly:
        return s.Exactly(self._span(meta), parts[0])

    def number(self, meta: Meta, parts: list[Token]) -> s.Literal_:
        self._count(parts[0])
        return s.Literal_(self._span(meta), "number", str(parts[0]))

    def percent(self, meta: Meta, parts: list[Token]) -> s.Literal_:
        number = str(parts[0])[:-1]
        if len(number) > 3 or int(number) > 100:
            raise ClauseError(self._span(meta), "a share goes up to 100%")
        return s.Literal_(self._span(meta), "percent", number)

    def interval(self, meta: Meta, parts: list[Token]) -> s.Literal_:
        return s.Literal_(self._span(meta), "interval", str(parts[0]))

    def pitch(self, meta: Meta, parts: list[Token]) -> s.Literal_:
        return s.Literal_(self._span(meta), "pitch", str(parts[-1]))

    def group(self, meta: Meta, parts: list[Any]) -> s.Group:
        return s.Group(self._span(meta), parts[0])

    def _arithmetic(self, operator: Literal["plus", "minus", "times"], meta: Meta, parts: list[Any]) -> s.Arithmetic:
        left = self.number(meta, [parts[0]]) if isinstance(parts[0], Token) else parts[0]
        return s.Arithmetic(self._span(meta), operator, left, parts[1])

    def plus(self, meta: Meta, parts: list[Any]) -> s.Arithmetic:
        return self._arithmetic("plus", meta, parts)

    def minus(self, meta: Meta, parts: list[Any]) -> s.Arithmetic:
        return self._arithmetic("minus", meta, parts)

    def times(self, meta: Meta, parts: list[Any]) -> s.Arithmetic:
        return self._arithmetic("times", meta, parts)

    def some(self, _: Meta, __: list[Any]) -> str:
        return "some"

    def every(self, _: Meta, __: list[Any]) -> str:
        return "every"

    def no(self, _: Meta, __: list[Any]) -> str:
        return "no"

    def some_interval(self, meta: Meta, parts: list[Any]) -> s.Quantified:
        return s.Quantified(self._span(meta), parts[0], "interval", parts[1])

    def some_note(self, meta: Meta, parts: list[Any]) -> s.Quantified:
        return s.Quantified(self._span(meta), parts[0], "note", self._in(meta, parts[1]))

    def run_where(self, meta: Meta, parts: list[Any]) -> s.Run:
        return s.Run(self._span(meta), parts[0], None)

    def run_same(self, meta: Meta, parts: list[Any]) -> s.Run:
        return s.Run(self._span(meta), None, parts[0])

    def latest(self, meta: Meta, parts: list[Any]) -> s.Latest:
        return s.Latest(self._span(meta), parts[0], parts[1])

    def notes(self, meta: Meta, parts: list[Any]) -> s.Things:
        return s.Things(self._span(meta), "notes", self._in(meta, parts[0]))

    def intervals(self, meta: Meta, parts: list[Any]) -> s.Things:
        return s.Things(self._span(meta), "intervals", parts[0])

    def moves(self, meta: Meta, parts: list[Any]) -> s.Things:
        return s.Things(self._span(meta), "moves", parts[0])

    def moments(self, meta: Meta, _: list[Any]) -> s.Things:
        return s.Things(self._span(meta), "moments", None)

    def number_of(self, meta: Meta, parts: list[Any]) -> s.Total:
        return s.Total(self._span(meta), "number", parts[0], parts[1])

    def share_of(self, meta: Meta, parts: list[Any]) -> s.Total:
        return s.Total(self._span(meta), "share", parts[0], parts[1])

    def longest_where(self, meta: Meta, parts: list[Any]) -> s.Total:
        return s.Total(self._span(meta), "longest", parts[0], parts[1])

    def longest_same(self, meta: Meta, parts: list[Any]) -> s.Total:
        return s.Total(self._span(meta), "longest", parts[0], None, parts[1])

    def earliest(self, _: Meta, __: list[Any]) -> bool:
        return True

    def final(self, _: Meta, __: list[Any]) -> bool:
        return False

    def time_of(self, meta: Meta, parts: list[Any]) -> s.TimeOf:
        return s.TimeOf(self._span(meta), parts[0], parts[1], parts[2])

    def span(self, meta: Meta, parts: list[Any]) -> s.SpanBetween:
        return s.SpanBetween(self._span(meta), parts[0], parts[1])

    # ---- places -----------------------------------------------------------------------------

    def one(self, _: Meta, __: list[Any]) -> int:
        return 1

    def two(self, _: Meta, __: list[Any]) -> int:
        return 2

    def count_word(self, _: Meta, parts: list[Token]) -> int:
        return self._count(parts[0])

    def _position(self, meta: Meta, unit: Literal["place", "bar"], index: int, until: int, end: bool) -> s.Position:
        if index < 1 or until < index:
            raise ClauseError(self._span(meta), "places and bars count from 1, the first before the last")
        return s.Position(self._span(meta), unit, index, until, end)

    def from_start(self, meta: Meta, parts: list[Token]) -> s.Position:
        index = int(str(parts[0])[:-2][:6]) if parts else 1
        return self._position(meta, "place", index, index, False)

    def from_end(self, meta: Meta, parts: list[Any]) -> s.Position:
        part = parts[0] if parts else None
        index = int(str(part)[:-2][:6]) if isinstance(part, Token) else 1 + (part or 0)
        return self._position(meta, "place", index, index, True)

    def bars_from_start(self, meta: Meta, parts: list[Token]) -> s.Position:
        return self._position(meta, "bar", self._count(parts[0]), self._count(parts[-1]), False)

    def bars_from_end(self, meta: Meta, parts: list[Token]) -> s.Position:
        index = self._count(parts[0])
        return self._position(meta, "bar", index, index, True)

    def bars_last(self, meta: Meta, parts: list[Any]) -> s.Position:
        index = 1 + (parts[0] or 0)
        return self._position(meta, "bar", index, index, True)

    def in_bars(self, _: Meta, parts: list[Any]) -> s.Position:
        return parts[0]

    def places(self, _: Meta, parts: list[Any]) -> tuple[s.Expr, ...]:
        return tuple(parts)

    def at(self, meta: Meta, parts: list[Any]) -> s.Places:
        return self._places(meta, False, parts)

    def except_at(self, meta: Meta, parts: list[Any]) -> s.Places:
        return self._places(meta, True, parts)

    def _places(self, meta: Meta, negated: bool, parts: list[Any]) -> s.Places:
        places = parts[0] if isinstance(parts[0], tuple) else tuple(parts)
        return s.Places(self._span(meta), negated, places)

    # ---- conditions -------------------------------------------------------------------------

    def and_(self, _: Meta, __: list[Any]) -> str:
        return "and"

    def or_(self, _: Meta, __: list[Any]) -> str:
        return "or"

    def is_(self, _: Meta, __: list[Any]) -> bool:
        return False

    def is_not(self, _: Meta, __: list[Any]) -> bool:
        return True

    def at_least(self, _: Meta, __: list[Any]) -> str:
        return "at_least"

    def at_most(self, _: Meta, __: list[Any]) -> str:
        return "at_most"

    def more_than(self, _: Meta, __: list[Any]) -> str:
        return "more_than"

    def less_than(self, _: Meta, __: list[Any]) -> str:
        return "less_than"

    def above_(self, _: Meta, __: list[Any]) -> str:
        return "above"

    def below_(self, _: Meta, __: list[Any]) -> str:
        return "below"

    def verb(self, _: Meta, parts: list[Any]) -> tuple[bool, s.Comparator]:
        return parts[0], cast(s.Comparator, parts[1] or "is")

    def negation(self, meta: Meta, parts: list[Any]) -> s.Not:
        return s.Not(self._span(meta), parts[0])

    def compare(self, meta: Meta, parts: list[Any]) -> s.Compare:
        negated, comparator = parts[1]
        return s.Compare(self._span(meta), parts[0], negated, comparator, (parts[2],))

    def missing(self, meta: Meta, parts: list[Any]) -> s.Missing:
        return s.Missing(self._span(meta), parts[0], parts[1])

    def begins(self, meta: Meta, parts: list[Any]) -> s.FigureTest:
        return s.FigureTest(self._span(meta), parts[0], False, parts[1])

    def ends(self, meta: Meta, parts: list[Any]) -> s.FigureTest:
        return s.FigureTest(self._span(meta), parts[0], True, parts[1])

    def steps(self, _: Meta, parts: list[Any]) -> tuple[s.Expr, ...]:
        return tuple(parts)

    def figure(self, meta: Meta, parts: list[Any]) -> s.Figure:
        return s.Figure(self._span(meta), tuple(parts))

    def bare(self, meta: Meta, parts: list[Any]) -> s.Choice:
        return s.Choice(self._span(meta), (parts[0],))

    def condition(self, meta: Meta, parts: list[Any]) -> s.Condition:
        """Join a row of conditions; a bare value after ``or`` belongs to the comparison before it."""
        joined: list[s.Condition] = [parts[0]]
        connectives: list[str] = []
        for connective, part in zip(parts[1::2], parts[2::2], strict=True):
            merged = _merge(joined[-1], part) if connective == "or" else None
            if merged is None:
                connectives.append(connective)
                joined.append(part)
            else:
                joined[-1] = merged
        if not connectives:
            return joined[0]
        if len(set(connectives)) > 1:
            hint = "Put brackets round what belongs together."
            raise ClauseError(self._span(meta), "‘and’ and ‘or’ are mixed here, which can be read in two ways", hint)
        operator: Literal["and", "or"] = "and" if connectives[0] == "and" else "or"
        return s.Logic(self._span(meta), operator, tuple(joined))

    # ---- statements -------------------------------------------------------------------------

    def one_type(self, meta: Meta, parts: list[Token]) -> s.TypeName:
        return s.TypeName(self._span(meta), str(parts[0]), False)

    def set_type(self, meta: Meta, parts: list[Token]) -> s.TypeName:
        return s.TypeName(self._span(meta), str(parts[0]), True)

    def choice(self, _: Meta, parts: list[Any]) -> tuple[s.Expr, ...]:
        return tuple(parts)

    def _reference(self, token: Token) -> s.Reference:
        return s.Reference(self._token_span(token), str(token).strip('"'))

    def build(self, meta: Meta, parts: list[Token]) -> s.BuildOn:
        return s.BuildOn(self._span(meta), self._reference(parts[0]))

    def use(self, meta: Meta, parts: list[Token]) -> s.Use:
        return s.Use(self._span(meta), self._reference(parts[0]))

    def parameter(self, meta: Meta, parts: list[Any]) -> s.ParameterItem:
        name, type_, low, high, usual, note = parts
        return s.ParameterItem(self._span(meta), self._word(name), type_, low, high, usual, _text(note))

    def setting(self, meta: Meta, parts: list[Any]) -> s.SetItem:
        return s.SetItem(self._span(meta), self._word(parts[0]), parts[1])

    def subject_name(self, meta: Meta, _: list[Any]) -> str:
        return {4: "note", 8: "interval", 6: "moment"}[meta.end_pos - meta.start_pos]

    def formal(self, meta: Meta, parts: list[Any]) -> s.Formal:
        return s.Formal(self._span(meta), str(parts[0]), parts[1])

    def formals(self, _: Meta, parts: list[Any]) -> tuple[s.Formal, ...]:
        return tuple(parts)

    def definition(self, meta: Meta, parts: list[Any]) -> s.Definition:
        name, subject, formals, body = parts
        return s.Definition(self._span(meta), self._word(name), subject, formals or (), body)

    def define(self, _: Meta, parts: list[Any]) -> s.Definition:
        return parts[0]

    def redefine(self, _: Meta, parts: list[Any]) -> s.Definition:
        return dataclasses.replace(parts[0], replaces=True)

    def words(self, _: Meta, parts: list[Token]) -> tuple[str, ...]:
        return tuple(str(part).lower() for part in parts)

    def between(self, meta: Meta, parts: list[Any]) -> s.Scope:
        words = parts[0] if parts[1] is None else (*parts[0], "and", *parts[1])
        return s.Scope(self._span(meta), "between", words)

    def above(self, meta: Meta, parts: list[Token]) -> s.Scope:
        return s.Scope(self._span(meta), "above", (str(parts[0]).lower(),))

    def _in(self, meta: Meta, words: tuple[str, ...] | None) -> s.Scope | None:
        return None if words is None else s.Scope(self._span(meta), "in", words)

    def _subject(self, kind: Any, meta: Meta, scope: s.Scope | None) -> s.Subject:
        return s.Subject(self._span(meta), kind, scope, None)

    def note_subject(self, meta: Meta, parts: list[Any]) -> s.Subject:
        return self._subject("note", meta, self._in(meta, parts[0]))

    def interval_subject(self, meta: Meta, parts: list[Any]) -> s.Subject:
        return self._subject("interval", meta, parts[0])

    def move_subject(self, meta: Meta, parts: list[Any]) -> s.Subject:
        return self._subject("move", meta, parts[0])

    def moment_subject(self, meta: Meta, _: list[Any]) -> s.Subject:
        return self._subject("moment", meta, None)

    def line_subject(self, meta: Meta, parts: list[Any]) -> s.Subject:
        return self._subject("line", meta, self._in(meta, parts[0]))

    def pair_subject(self, meta: Meta, parts: list[Any]) -> s.Subject:
        return self._subject("pair", meta, parts[0])

    def exercise_subject(self, meta: Meta, _: list[Any]) -> s.Subject:
        return self._subject("exercise", meta, None)

    def scope_clause(self, meta: Meta, parts: list[Any]) -> s.Subject:
        subject: s.Subject = parts[0]
        sample = None if parts[1] is None else self._word(parts[1])
        return s.Subject(self._span(meta), subject.kind, subject.scope, sample)

    def message(self, _: Meta, parts: list[Token]) -> tuple[str, str, Span]:
        return "message", _text(parts[0]), self._token_span(parts[0])

    def source(self, _: Meta, parts: list[Token]) -> tuple[str, str]:
        return "source", _text(parts[0])

    def when_clause(self, _: Meta, parts: list[Any]) -> tuple[str, s.Condition]:
        return "when", parts[0]

    def require(self, meta: Meta, parts: list[Any]) -> s.Demand:
        return s.Demand(self._span(meta), False, parts[0])

    def forbid(self, meta: Meta, parts: list[Any]) -> s.Demand:
        return s.Demand(self._span(meta), True, parts[0])

    def licence(self, meta: Meta, parts: list[Any]) -> s.LicenceItem:
        name, condition, reason = parts
        return s.LicenceItem(self._span(meta), "" if name is None else str(name), condition, _text(reason))

    def fault(self, _: Meta, __: list[Any]) -> str:
        return "fault"

    def warning(self, _: Meta, __: list[Any]) -> str:
        return "warning"

    def advice(self, _: Meta, __: list[Any]) -> str:
        return "advice"

    def points(self, _: Meta, parts: list[Token]) -> tuple[str, int]:
        return "points", self._count(parts[0])

    def cap(self, _: Meta, parts: list[Token]) -> tuple[str, int]:
        return "cap", self._count(parts[0])

    def once(self, _: Meta, __: list[Any]) -> tuple[str, int]:
        return "once", 1

    def grade(self, meta: Meta, parts: list[Any]) -> s.Grade:
        awards = dict(parts[1:])
        return s.Grade(self._span(meta), parts[0], awards.get("points"), awards.get("cap"), "once" in awards)

    def spot(self, _: Meta, parts: list[Token]) -> int:
        return self._count(parts[0])

    def overall(self, _: Meta, __: list[Any]) -> tuple[None]:
        return (None,)

    def spots(self, _: Meta, parts: list[Any]) -> tuple[int, ...]:
        return tuple(parts)

    def accepts(self, meta: Meta, parts: list[Token]) -> s.ExampleItem:
        return self._example(meta, "", (), parts)

    def rejects(self, meta: Meta, parts: list[Any]) -> s.ExampleItem:
        breaches = tuple(s.Breach(self._span(meta), "", bar) for bar in parts[0])
        return self._example(meta, "", breaches, parts[1:])

    def breach(self, meta: Meta, parts: list[Token]) -> s.Breach:
        bar = self._count(parts[1]) if len(parts) > 1 else None
        return s.Breach(self._span(meta), str(parts[0]), bar)

    def accepted(self, _: Meta, __: list[Any]) -> tuple[s.Breach, ...]:
        return ()

    def rejected(self, _: Meta, parts: list[s.Breach]) -> tuple[s.Breach, ...]:
        return tuple(parts)

    def example(self, meta: Meta, parts: list[Any]) -> s.ExampleItem:
        return self._example(meta, _text(parts[0]), parts[1], parts[2:])

    def _example(self, meta: Meta, title: str, breaches: tuple[s.Breach, ...], lines: Sequence[Token]) -> s.ExampleItem:
        first = (lines[0].line or 1) + self.lines_before
        text = "\n".join(str(line)[1:] for line in lines)
        columns = tuple(line.column or 1 for line in lines)
        return s.ExampleItem(self._span(meta), title, breaches, text, first, columns)

    def rule(self, meta: Meta, parts: list[Any]) -> s.RuleItem:
        return self._rule(meta, parts, replaces=False)

    def replace(self, meta: Meta, parts: list[Any]) -> s.RuleItem:
        return self._rule(meta, parts, replaces=True)

    def _rule(self, meta: Meta, parts: list[Any], replaces: bool) -> s.RuleItem:
        name, clauses = self._word(parts[0]), parts[1:]
        messages = [c for c in clauses if isinstance(c, tuple) and c[0] == "message"]
        sources = [c for c in clauses if isinstance(c, tuple) and c[0] == "source"]
        message = self._single(name, messages, 'a message in quotes, such as "Parallel {interval}."')
        subject = self._single(name, _of(clauses, s.Subject), "a ‘for every …’ that says what it speaks of")
        demand = self._single(name, _of(clauses, s.Demand), "one ‘require’ or ‘forbid’")
        unfinished = "If it stands there, look whether the condition before it is finished."
        grade = self._single(name, _of(clauses, s.Grade), "a severity: fault, warning or advice", unfinished)
        source = self._single(name, sources, 'a source in quotes, or source "common practice"')
        return s.RuleItem(
            self._span(meta), name, replaces, message[1], message[2], subject,
            places=tuple(_of(clauses, s.Places)),
            when=tuple(c[1] for c in clauses if isinstance(c, tuple) and c[0] == "when"),
            demand=demand,
            licences=tuple(_of(clauses, s.LicenceItem)),
            grade=grade,
            source=source[1],
            examples=tuple(_of(clauses, s.ExampleItem)),
        )  # fmt: skip

    def _single(self, name: s.Name, found: list[Any], what: str, hint: str = "") -> Any:
        if not found:
            raise ClauseError(name.span, f"the rule ‘{name.word}’ lacks {what}", hint)
        if len(found) > 1:
            raise ClauseError(name.span, f"the rule ‘{name.word}’ needs {what} once, not {len(found)} times")
        return found[0]

    def drop(self, meta: Meta, parts: list[Token]) -> s.Drop:
        return s.Drop(self._span(meta), tuple(map(self._word, parts)))

    def adjust(self, meta: Meta, parts: list[Any]) -> s.Adjust:
        return s.Adjust(self._span(meta), self._word(parts[0]), parts[1])

    def excuse(self, meta: Meta, parts: list[Any]) -> s.Excuse:
        *names, licence_name, condition, reason = parts
        licence = s.LicenceItem(self._span(meta), str(licence_name), condition, _text(reason))
        return s.Excuse(self._span(meta), tuple(map(self._word, names)), licence)

    def title(self, _: Meta, parts: list[Token]) -> str:
        return _text(parts[0])

    def start(self, meta: Meta, parts: list[Any]) -> s.File:
        title = parts[0] if parts and isinstance(parts[0], str) else ""
        items = tuple(part for part in parts if isinstance(part, s.Node))
        return s.File(self._span(meta), title, cast("tuple[s.Item, ...]", items))


def _text(token: Token | None) -> str:
    return "" if token is None else str(token)[1:-1]


_T = TypeVar("_T")


def _of(clauses: list[Any], kind: type[_T]) -> list[_T]:
    return [clause for clause in clauses if isinstance(clause, kind)]


def _merge(left: s.Condition, right: s.Condition) -> s.Condition | None:
    """``x is P5`` and the bare ``P8`` make ``x is P5 or P8``; two bare values make a choice."""
    if not isinstance(right, s.Choice) or any(isinstance(value, s.Group) for value in right.values):
        return None
    span = Span(left.span.path, left.span.line, left.span.column, left.span.length)
    if isinstance(left, s.Compare):
        return s.Compare(span, left.left, left.negated, left.comparator, left.right + right.values)
    if isinstance(left, s.Choice):
        return s.Choice(span, left.values + right.values)
    return None
