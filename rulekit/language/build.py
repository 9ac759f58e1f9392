"""The builder: it turns what the grammar's rules found into the nodes of the syntax tree.

Most rules are rows of a table: the node (or value) that each makes of its parts, in the order of the grammar.
"""

# Lark's results are untyped: what it gives is unknown to the type checker until it is a node of our own.
# pyright: reportUnknownVariableType=false, reportUnknownArgumentType=false, reportUnknownMemberType=false
# pyright: reportUnknownLambdaType=false, reportUnknownParameterType=false, reportMissingParameterType=false

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Literal

from lark import Token
from lark.tree import Meta
from lark.visitors import Transformer_NonRecursive

from rulekit.language import limits
from rulekit.language import syntax as s
from rulekit.language import vocabulary as v
from rulekit.language.syntax import NOWHERE, TOP, Base, Span
from rulekit.language.typed import Kind
from rulekit.music.pitch import QUALITIES, SIZES
from rulekit.severity import Severity


class ClauseError(Exception):
    """Good phrases that do not go together; ``instead`` takes their place, so that the rest can be read.

    ``more`` are what else is wrong there.
    """

    def __init__(self, span: Span, message: str, hint: str = "", instead: Any = None) -> None:
        super().__init__(message)
        self.span, self.hint, self.instead = span, hint, instead
        self.more: tuple[ClauseError, ...] = ()


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a text that is parsed begins in its file."""

    path: str
    line: int = 1
    column: int = 1
    start: int = 0
    base: Base = TOP

    def span(self, line: int, column: int, start: int, end: int) -> Span:
        """A place of the text as a place of the file."""
        shift = self.column - 1 if line == 1 else 0
        place = start + self.start
        return Span(self.path, line + self.line - 1, column + shift, max(1, end - start), place, self.base)

    def token(self, token: Token) -> Span:
        """Where a token stands."""
        start = token.start_pos or 0
        return self.span(token.line or 1, token.column or 1, start, start + len(token))


def interval_code(words: str) -> str:
    """An interval as it is written in short: ``P5`` for a perfect fifth."""
    quality, *size = words.split()
    return f"{_LETTERS[quality]}{SIZES.index(size[0]) + 1}" if size else words


def note_name(words: str) -> str:
    """A note name as it is written in short: ``Bb`` for B flat."""
    name, *signs = re.split(r"[ -]", words)
    return name + {"flat": "b", "sharp": "#"}.get(signs[-1] if signs else "", "") * max(1, len(signs))


_LETTERS = {word: letter for letter, word in QUALITIES.items()}
_VOICES = {*v.LINE_SCOPES, *v.PAIR_SCOPES, v.BASS_SCOPE}

_Maker = Callable[..., Any]


def _position(unit: Literal["place", "bar"], from_end: bool, span: Span, *found: int | None) -> s.Position:
    """A place: the numbers found, first to last; those from the end count what is left out before them."""
    index, until = (found[0] or 0, found[-1] or 0) if found else (1, 1)
    if index < 1 or until < index:
        instead = s.Position(span, unit, 1, 1, from_end)
        raise ClauseError(span, "places and bars count from 1, the first before the last", instead=instead)
    return s.Position(span, unit, index, until, from_end)


def _last(unit: Literal["place", "bar"], span: Span, but: int | None = None) -> s.Position:
    found = _position(unit, True, span, 1 + (but or 0))
    if but != 0:
        return found
    raise ClauseError(span, "nothing is left out after the last", f"Write ‘{_end(unit)}’.", found)


def _from_end(unit: Literal["place", "bar"], span: Span, number: int) -> s.Position:
    found = _position(unit, True, span, number)
    if number != 1:
        return found
    raise ClauseError(span, "the first from the end is the last", f"Write ‘{_end(unit)}’.", found)


def _end(unit: Literal["place", "bar"]) -> str:
    return "last bar" if unit == "bar" else "last"


def _literal(kind: Literal["interval", "pitch", "number", "percent", "note name"]) -> _Maker:
    return lambda span, text: s.Literal_(span, kind, str(text))


def _arithmetic(operator: Literal["plus", "minus", "times"], span: Span, left: Any, right: s.Expr) -> s.Arithmetic:
    number = s.Literal_(span, "number", str(left)) if isinstance(left, int) else left
    return s.Arithmetic(span, operator, number, right)


def _name_shift(span: Span, name: s.Name, number: int, way: int) -> s.Shift:
    shift = s.Shift(span, name, way * number)
    if number != 1:
        return shift
    hint = f"Write ‘{'previous' if way < 0 else 'next'} {name.word}’."
    raise ClauseError(span, "the one right before or after is written without a number", hint, shift)


def _of(span: Span, word: str, preposition: str, target: s.Expr) -> s.Of:
    asked = s.Of(span, word, target)
    if preposition in ("of", v.PREPOSITIONS.get(word)) or word not in _PROPERTIES:
        return asked
    words = replace(span, length=len(f"{word} {preposition}"))
    hint = f"Write ‘{word} {v.PREPOSITIONS.get(word, 'of')}’."
    raise ClauseError(words, f"‘{word} {preposition}’ is not said", hint, asked)


_PROPERTIES = {*v.ATTRIBUTES[Kind.NOTE], *v.FUNCTIONS}


def _neighbour(word: str, way: int, span: Span, target: s.Expr) -> s.Shift:
    shift = s.Shift(span, target, way)
    if not isinstance(target, s.Shift) or not isinstance(target.target, s.Name):
        return shift
    steps, name = target.offset + way, target.target
    hint = f"Write ‘{name.word} {abs(steps)} {'before' if steps < 0 else 'after'}’."
    raise ClauseError(span, f"‘{word}’ can’t stand before another", hint, s.Shift(span, name, steps))


def _note_shift(span: Span, number: int, way: int, target: s.Expr | None) -> s.NoteShift:
    shift = s.NoteShift(span, target, way * number)
    if number != 1:
        return shift
    hint = f"Write such as ‘note {'before' if way < 0 else 'after'} it’."
    raise ClauseError(span, "the one right before or after is written without a number", hint, shift)


def _example(span: Span, title: str, breaches: tuple[s.Breach, ...], *lines: Any) -> s.ExampleItem:
    text = "\n".join(line.word[1:] for line in lines)
    columns = tuple(line.span.column for line in lines)
    return s.ExampleItem(span, title, breaches, text, lines[0].span, columns)


def _rejects(span: Span, bars: tuple[int | None, ...], *lines: Any) -> s.ExampleItem:
    return _example(span, "", tuple(s.Breach(span, "", bar) for bar in bars), *lines)


def _breach(span: Span, rule: s.Name, bar: int | None = None) -> s.Breach:
    return s.Breach(span, rule.word, bar)


def _licence(span: Span, name: s.Name | None, condition: s.Condition, reason: str) -> s.LicenceItem:
    if name is not None:
        return s.LicenceItem(span, name.word, condition, reason)
    words = replace(span, length=len("excused"))
    unnamed = s.LicenceItem(span, "", condition, reason)
    raise ClauseError(words, "a licence has a name", "Write ‘excused as exception’.", unnamed)


def _excuse(span: Span, *parts: Any) -> s.Excuse:
    *names, name, condition, reason = parts
    return s.Excuse(span, tuple(names), _licence(span, name, condition, reason))


def _grade(span: Span, severity: str, *awards: tuple[str, int]) -> s.Grade:
    given = dict(awards)
    return s.Grade(span, Severity(severity), given.get("points"), given.get("cap"), "once" in given)


def _definition(
    span: Span, name: s.Name, subject: str | None, formals: tuple[s.Formal, ...] | None, body: s.Condition
) -> s.Definition:
    return s.Definition(span, name, subject, formals or (), body)


def _parameter(
    span: Span, name: s.Name, type_: s.TypeName, bounds: tuple[s.Expr, s.Expr] | None, usual: Any, note: str | None
) -> s.ParameterItem:
    low, high = bounds or (None, None)
    return s.ParameterItem(span, name, type_, low, high, usual, note or "")


class _Cut(tuple[str, ...]):
    """Words after which lines follow that are no part of them."""


def _scope(kind: Literal["in", "between"], span: Span, *parts: tuple[str, ...] | str) -> s.Scope:
    """Voices or pairs by the names that are ours where they have several, joined in our way."""
    cut = next((number for number, part in enumerate(parts, 1) if isinstance(part, _Cut)), len(parts))
    said = " ".join(part if isinstance(part, str) else " ".join(part) for part in parts[:cut])
    settled = _any_lines if kind == "in" else _any_pairs
    return s.Scope(span, kind, tuple(" but ".join(map(settled, said.split(" but "))).split()))


def _any_lines(said: str) -> str:
    """A list of voices, each number with its word."""
    return _alternatives(
        [re.sub(r"^(?:voices )?(?=\d+$)", "voice ", name) for name in re.split(" (?:and|or|,) ", said)]
    )


def _any_pairs(said: str) -> str:
    """A list of pairs."""
    return _alternatives([_own_name(name) for name in re.split(" (?:or|,) ", said)])


def _alternatives(names: Sequence[str]) -> str:
    """Names with commas between them, and ‘or’ before the last."""
    *first, last = names
    return f"{' , '.join(first)} or {last}" if first else last


def _own_name(said: str) -> str:
    """The name of a pair that is ours: its voices in the order of the vocabulary."""
    said = v.SAME_PAIRS.get(said, said)
    numbers = re.fullmatch(r"voices? (\d+) and (?:voice )?(\d+)", said)
    if numbers:
        return f"voices {' and '.join(sorted(numbers.groups(), key=int))}"
    voices = ["others" if voice in v.OTHERS else voice for voice in said.split(" and ")]
    places = {voice: place for voice in voices if (place := _place(voice)) is not None}
    if len(voices) != 2 or set(places) != set(voices):
        return said
    return "each pair" if set(voices) == {"others"} else " and ".join(sorted(voices, key=places.__getitem__))


def _place(voice: str) -> int | None:
    """Where a voice stands in a pair by its name; none if nothing is called so."""
    words = re.sub(r"^voice \d+$", "voice", voice)
    order = (*v.LINE_SCOPES, "others")
    return order.index(words) if words in order else None


def _words(span: Span, *words: Any) -> tuple[str, ...]:
    """The words that name voices; a line of its own after them is no part of them."""
    said = tuple(str(getattr(word, "word", word)).lower() for word in words)
    later = next((n for n, word in enumerate(words) if isinstance(word, s.Name) and word.span.line > span.line), None)
    if later is None or _VOICES.issuperset(" ".join(w for w in said if not w.isdecimal()).split(" but ")):
        return said
    names = [word for word in words[later:] if isinstance(word, s.Name)]
    *more, first = (_no_clause(each, _Cut(said[:later])) for each in reversed(_leading(names)))
    first.more = tuple(more)
    raise first


def _leading(names: list[s.Name]) -> list[s.Name]:
    """The first name of each line."""
    return list({name.span.line: name for name in reversed(names)}.values())[::-1]


def _no_clause(name: s.Name, instead: Any) -> ClauseError:
    return ClauseError(name.span, f"no clause begins with ‘{name.word}’", _BEGINNINGS, instead)


_BEGINNINGS = (
    "What must be begins with ‘require’, what must not be with ‘forbid’, a condition with ‘when’, "
    "a place with ‘at’ or ‘in’."
)


def _condition(span: Span, first: s.Condition, *more: Any) -> s.Condition:
    """Join a row of conditions; a bare value after ``or`` belongs to the comparison before it."""
    joined, connectives = [first], []
    for connective, part in zip(more[::2], more[1::2], strict=True):
        merged = _merge(joined[-1], part) if connective == "or" else None
        if merged is None:
            connectives.append(connective)
            joined.append(part)
        else:
            joined[-1] = merged
    if len(set(connectives)) > 1:
        hint = "Put brackets round what belongs together."
        message = "‘and’ and ‘or’ are mixed here, which can be read in two ways"
        raise ClauseError(span, message, hint, s.Logic(span, "or", tuple(joined)))
    return s.Logic(span, connectives[0], tuple(joined)) if connectives else joined[0]


def _merge(left: s.Condition, right: s.Condition) -> s.Condition | None:
    """``x is P5`` and the bare ``P8`` make ``x is P5 or P8``; two bare values make a choice."""
    if not isinstance(right, s.Choice) or any(_is_grouped(value) for value in right.values):
        return None
    span = replace(left.span, length=right.span.end - left.span.start)
    match left:
        case s.Compare():
            return replace(left, span=span, right=left.right + right.values)
        case s.FigureTest(steps=(one,)):
            return replace(left, span=span, steps=(_several(one, right.values),))
        case s.Choice():
            return s.Choice(span, left.values + right.values)
        case s.Not():
            inner = _merge(left.inner, right)
            return None if inner is None or isinstance(inner, s.Choice) else s.Not(span, inner)
        case _:
            return None


def _several(first: s.Expr, others: tuple[s.Expr, ...]) -> s.Group:
    """What something begins or ends, where ‘or’ joins several without brackets."""
    inner = first.inner if isinstance(first, s.Group) and first.span == first.inner.span else None
    before = inner.values if isinstance(inner, s.Choice) else (first,)
    span = replace(first.span, length=others[-1].span.end - first.span.start)
    return s.Group(span, s.Choice(span, before + others))


def _is_grouped(value: s.Expr) -> bool:
    """Whether brackets hold a condition or a choice, rather than a rhythm."""
    return isinstance(value, s.Group) and not isinstance(value.inner, s.Figure)


# What each rule of the grammar makes of its place and its parts.
_MAKERS: dict[str, _Maker] = {
    # statements
    "start": lambda span, *items: s.File(span, items),
    "title": s.Title,
    "build": s.BuildOn,
    "use": s.Use,
    "overlay": s.Overlay,
    "take": lambda span, *parts: s.Take(span, parts[:-1], parts[-1]),
    "lay": lambda span, *references: s.Lay(span, references),
    "reference": lambda span, name: s.Reference(span, name.word if isinstance(name, s.Name) else name),
    "parameter": _parameter,
    "bounds": lambda span, low, high: (low, high),
    "setting": s.SetItem,
    "one_type": lambda span, name: s.TypeName(span, name.word, False),
    "set_type": lambda span, name: s.TypeName(span, name.word, True),
    "define": lambda span, definition: replace(definition, span=span),
    "redefine": lambda span, definition: replace(definition, span=span, replaces=True),
    "definition": _definition,
    "formal": lambda span, name, type_: s.Formal(span, name.word, type_),
    "rule": lambda span, name, *clauses: s.RuleItem(span, name, None, clauses),
    "replace": lambda span, old, new, *clauses: s.RuleItem(span, new or old, old, clauses),
    "drop": lambda span, *names: s.Drop(span, names),
    "drop_all_but": lambda span, *names: s.Drop(span, names, but=True),
    "adjust": s.Adjust,
    "reword": lambda span, name, message: s.Adjust(span, name, None, message),
    "excuse": _excuse,
    # clauses
    "message": s.Message,
    "taught": s.Taught,
    "scope_clause": lambda span, *parts: replace(parts[-2], span=span, sample=parts[-1]),
    "where": lambda span, condition: condition,
    "subject": lambda span, kind, scope=None: s.Subject(span, kind, scope, None),
    "lines": partial(_scope, "in"),
    "between": partial(_scope, "between"),
    "above": lambda span, words: s.Scope(span, "above", words),
    "words": _words,
    "at": lambda span, places: s.Places(span, False, places),
    "except_at": lambda span, places: s.Places(span, True, places),
    "when": s.When,
    "require": lambda span, condition: s.Demand(span, False, condition),
    "forbid": lambda span, condition: s.Demand(span, True, condition),
    "licence": _licence,
    "grade": _grade,
    "points": lambda span, number: ("points", number),
    "cap": lambda span, number: ("cap", number),
    "once": lambda span: ("once", 1),
    "source": s.Source,
    "accepts": lambda span, licence, *lines: replace(
        _example(span, "", (), *lines), licence=licence.word if licence else ""
    ),
    "rejects": _rejects,
    "overall": lambda span: (None,),
    "example": _example,
    "accepted": lambda span: (),
    "breach": _breach,
    # places
    "on_downbeat": lambda span, _: s.Name(span, v.DOWNBEATS["on"]),
    "off_downbeat": lambda span, _: s.Name(span, v.DOWNBEATS["off"]),
    "from_start": partial(_position, "place", False),
    "from_end": lambda span, *found: _last("place", span, *found),
    "ordinal_from_end": partial(_from_end, "place"),
    "penultimate": lambda span, _: _last("place", span, 1),
    "bars_from_start": partial(_position, "bar", False),
    "bars_from_end": partial(_from_end, "bar"),
    "bars_last": partial(_last, "bar"),
    "bars_penultimate": lambda span, _: _last("bar", span, 1),
    "member": s.Member,
    "in_voice": lambda span, words: s.InVoice(span, _scope("in", span, words)),
    "in_bars": lambda span, place: place,
    "count_word": lambda span, number: number,
    "one": lambda span: 1,
    "two": lambda span: 2,
    # conditions
    "condition": _condition,
    "negation": s.Not,
    "compare": lambda span, left, negated, how, *right: s.Compare(span, left, negated, how, right),
    "at_least": lambda span: "at least",
    "at_most": lambda span: "at most",
    "comparative": lambda span, word: word,
    "equals": lambda span, left, negated, *right: s.Compare(span, left, negated, "is", right),
    "missing": s.Missing,
    "begins": lambda span, target, steps: s.FigureTest(span, target, False, steps),
    "ends": lambda span, target, steps: s.FigureTest(span, target, True, steps),
    "choice_of_figures": lambda span, first, *others: (_several(first, others),),
    "sequence": s.Sequence,
    "figure": lambda span, *steps: s.Figure(span, steps),
    "bare": lambda span, *values: s.Choice(span, values),
    "is_": lambda span: False,
    "is_not": lambda span: True,
    "yes": lambda span: True,
    "no": lambda span: False,
    # values
    "name": lambda span, name: name,
    "note": lambda span: s.Name(span, "note"),
    "call": lambda span, name, *arguments: s.Call(span, name.word, arguments),
    "of": lambda span, name, preposition, target: _of(span, name.word, preposition, target),
    "pitch_of": lambda span, preposition=None, target=None: (
        s.Name(span, "pitch") if target is None else _of(span, "pitch", str(preposition), target)
    ),
    "before": lambda span: -1,
    "after": lambda span: 1,
    "name_shift": _name_shift,
    "previous": partial(_neighbour, "previous", -1),
    "next": partial(_neighbour, "next", 1),
    "note_shift": lambda span, way, target: s.NoteShift(span, target, way),
    "note_shift_by": _note_shift,
    "directed": s.Directed,
    "exactly": s.Exactly,
    "group": s.Group,
    "number": _literal("number"),
    "percent": _literal("percent"),
    "interval": _literal("interval"),
    "pitch": _literal("pitch"),
    "note_name": _literal("note name"),
    "plus": partial(_arithmetic, "plus"),
    "minus": partial(_arithmetic, "minus"),
    "times": partial(_arithmetic, "times"),
    "quantified": s.Quantified,
    "run_where": lambda span, condition: s.Run(span, condition, None),
    "run_same": lambda span, value: s.Run(span, None, value),
    "tally": s.Tally,
    "latest": s.Latest,
    "things": lambda span, kind, scope=None: s.Things(span, kind, scope),
    "number_of": lambda span, things, condition: s.Total(span, "number", things, condition),
    "share_of": lambda span, things, condition: s.Total(span, "share", things, condition),
    "longest_where": lambda span, things, condition: s.Total(span, "longest", things, condition),
    "longest_same": lambda span, things, value: s.Total(span, "longest", things, None, value),
    "time_of": s.TimeOf,
    "span": s.SpanBetween,
}
_ROWS = {"choice", "formals", "places", "rejected", "spots", "steps"}  # the parts themselves
_WORDS = set(  # the words as they stand
    "both other connective kind severity preposition quantifier in_voices between_voices whole one_note one_interval "
    "many_notes many_between many_sonorities".split()
)


class Builder(Transformer_NonRecursive[Token, Any]):
    """Lark hands it each finished phrase and each token that matters; ``errors`` are what does not go together."""

    def __init__(self, origin: Origin) -> None:
        super().__init__()
        self.origin = origin
        self.errors: list[ClauseError] = []

    def __default__(self, data: Any, children: list[Any], meta: Meta) -> Any:
        if data in _WORDS:
            return " ".join(map(str, children)).lower()
        if data in _ROWS:
            return tuple(children)
        try:
            return _MAKERS[data](self._span(meta), *children)
        except ClauseError as error:
            self.errors += (error, *error.more)
            return error.instead

    def _span(self, meta: Meta) -> Span:
        if meta.empty:
            return replace(NOWHERE, path=self.origin.path)
        return self.origin.span(meta.line, meta.column, meta.start_pos, meta.end_pos)

    def NAME(self, token: Token) -> s.Name:
        """A name, with its place."""
        return s.Name(self.origin.token(token), str(token))

    EXAMPLE_LINE = NAME

    def STRING(self, token: Token) -> str:
        """A text without its quotes."""
        return str(token)[1:-1]

    def INTERVAL(self, token: Token) -> str:
        """An interval in short."""
        return interval_code(str(token))

    def WITH_CANTUS(self, token: Token) -> s.Name:
        """A property whose name is several words."""
        return s.Name(self.origin.token(token), v.WITH_CANTUS)

    def PACED(self, token: Token) -> str:
        """A voice by how it moves."""
        return " ".join(str(token).split())

    def NOTE_NAME(self, token: Token) -> str:
        """A note name in short."""
        return note_name(str(token))

    def COMPARATIVE(self, token: Token) -> str:
        """The word before ‘than’."""
        return str(token).split()[0]

    def INT(self, token: Token) -> int:
        """A whole number."""
        return self._number(token, str(token), limits.MAX_NUMBER, f"numbers go up to {limits.MAX_NUMBER}")

    def PERCENT(self, token: Token) -> int:
        """A share in percent."""
        return self._number(token, str(token)[:-1], 100, "a share goes up to 100%")

    def ORDINAL(self, token: Token) -> int:
        """A place in a row."""
        return self._number(token, str(token)[:-2], limits.MAX_NUMBER, f"numbers go up to {limits.MAX_NUMBER}")

    def _number(self, token: Token, digits: str, most: int, message: str) -> int:
        if len(digits) < 9 and int(digits) <= most:
            return int(digits)
        self.errors.append(ClauseError(self.origin.token(token), message))
        return 1


def lacking(rule: s.RuleItem) -> Iterator[ClauseError]:
    """What a rule lacks, or has more than once."""
    name = rule.name
    if not rule.clauses:
        yield ClauseError(name.span, f"the rule ‘{name.word}’ has nothing but its name", _EMPTY)
        return
    for kind, what, hint in _ONCE:
        found = len(rule.all(kind))
        if not found:
            yield ClauseError(name.span, f"the rule ‘{name.word}’ lacks {what}", hint)
        elif found > 1:
            message = f"the rule ‘{name.word}’ needs {what} once, not {found} times"
            yield ClauseError(name.span, message, _too_many(kind))
    for again in rule.all(s.Taught)[1:]:
        yield ClauseError(again.span, f"the rule ‘{name.word}’ is taught in one sentence, not in several")


def _too_many(kind: type[Any]) -> str:
    if kind is not s.Demand:
        return "Keep one of them."
    return "Join them with ‘and’ or ‘or’, or write a rule for each. What is only a condition begins ‘when’."


_EMPTY = (
    'Five lines follow it, such as: "A fourth." – for every interval between each pair – forbid interval is P4 – fault '
    '– source "common practice, no source"'
)
_ONCE: tuple[tuple[type[Any], str, str], ...] = (
    (s.Message, "a message in quotes", 'Write in a line of its own what a student is told: "Parallel {interval}."'),
    (
        s.Subject,
        "a ‘for every …’ that says what it speaks of",
        "Write such as ‘for every note in counterpoint’ or ‘for every move between each pair’.",
    ),
    (
        s.Demand,
        "one ‘require’ or ‘forbid’",
        "Write such as ‘forbid approach is wider than octave’ or ‘require interval is third’.",
    ),
    (s.Grade, "a severity: fault, warning or advice", "Write a line such as ‘fault’ or ‘warning, 2 points’."),
    (s.Source, "a source in quotes", 'Write where it is taught, such as: source "common practice, no source"'),
)
