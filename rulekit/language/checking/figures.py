"""Figures: rows of moves, or of values that follow one another, and the places of their members."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import cast

from rulekit.language import limits
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language import vocabulary as v
from rulekit.language.checking.comparisons import comparable, equals, one_of
from rulekit.language.checking.context import Context, Meaning, Thing, nowhere
from rulekit.language.checking.errors import CheckError, each
from rulekit.language.checking.moving import hopped, shifted
from rulekit.language.checking.possible import check_sung
from rulekit.language.checking.values import alternatives, bind, defined, known_figures, meaning
from rulekit.language.typed import Kind, Type
from rulekit.numbers import ordinal

_DEFINED = "A figure is defined such as ‘define turn for a note as it begins rising step then falling step’."


@dataclass(frozen=True, slots=True)
class Row:
    """A figure by its name, if it has one, and its steps: the values that each may be, and where they are said."""

    name: str
    steps: tuple[tuple[Sequence[t.Value], s.Span], ...]
    span: s.Span


class NoMember(CheckError):
    """A figure does not have the place that is asked for."""


Figure = Row | s.Name | s.Call  # a row, or the name of a condition on the first of a figure


# ---- what a phrase names ---------------------------------------------------------------------


def figures(steps: Sequence[s.Expr], span: s.Span, context: Context) -> tuple[Figure, ...]:
    """The figure that is written out, or those that a name or brackets stand for; raises CheckError."""
    if len(steps) > 1:
        return (_row("", steps, span, context),)
    return each(lambda one: _figure(one, span, context), _named(steps[0], context))


def _named(expr: s.Expr, context: Context) -> list[s.Expr]:
    """Each figure that a phrase names: those of a parameter or of brackets, or it itself."""
    if isinstance(expr, s.Group) and isinstance(expr.inner, s.Choice):
        found = [(part, _named(part, context)) for part in expr.inner.values]
        if any(names != [part] or _is_figure(part, context) for part, names in found):
            return [name for _, names in found for name in names]
    held = known_figures(expr, context)
    return [expr] if held is None else [s.Name(expr.span, word) for word in held]


def _is_figure(expr: s.Expr, context: Context) -> bool:
    """Whether this is the name of a row, or of a condition."""
    definition = defined(expr, context)
    return definition is not None and (definition.subject is not None or isinstance(definition.body, s.Figure))


def _figure(expr: s.Expr, span: s.Span, context: Context) -> Figure:
    definition = defined(expr, context)
    if isinstance(expr, s.Name) and definition is None and any(expr.word in v.FLAGS[kind] for kind in Kind):
        raise CheckError(expr.span, f"‘{expr.word}’ is no figure", _DEFINED)
    if definition is not None and definition.subject is not None:
        return cast("s.Name | s.Call", expr)
    name, said = ("", span) if definition is None else (definition.name.word, definition.body.span)
    row = _row(name, (expr,), said, context)
    if isinstance(expr, s.Name) and len(row.steps) == 1 and len(row.steps[0][0]) > 1:
        context.draft.environment.remarks.append(_no_row(expr))
    return row


def _no_row(step: s.Name) -> CheckError:
    """What is told of a choice of values that stands where a figure is asked: only one step is looked at."""
    message = f"‘{step.word}’ is a choice of values, not a row: one step is looked at, and may be any of them"
    return CheckError(step.span, message, "Steps in a row are joined by ‘then’ where it is defined.")


def _row(name: str, steps: Sequence[s.Expr], span: s.Span, context: Context) -> Row:
    written = each(lambda step: _steps(step, context), steps)
    found = [(choices, step.span) for rows, step in zip(written, steps, strict=True) for choices in rows]
    if len(found) > limits.MAX_WINDOW:
        raise CheckError(span, f"a figure has at most {limits.MAX_WINDOW} steps")
    return Row(name, tuple(found), span)


def _steps(step: s.Expr, context: Context) -> list[Sequence[t.Value]]:
    """A step of a figure; the name of a defined figure stands for all its steps."""
    if known_figures(step, context) is not None:
        hint = "Ask for each by itself, as in ‘it begins ornaments’."
        raise CheckError(step.span, "this stands for whole figures: nothing goes before or after it", hint)
    definition = defined(step, context)
    if definition is None or not isinstance(definition.body, s.Figure):
        return [alternatives(step, context)]
    inner = nowhere(context.draft, bind(definition, step, context))
    with context.draft.opened(definition, step.span):
        return [row for rows in each(lambda part: _steps(part, inner), definition.body.steps) for row in rows]


# ---- places ----------------------------------------------------------------------------------


def in_row(target: Meaning, left: s.Expr, place: s.Position, row: Row, context: Context) -> t.Test:
    """Whether something, said as ``left``, has a place in a row."""
    is_note = isinstance(target, Thing) and target.kind == Kind.NOTE
    members = len(row.steps) + is_note  # a move leads from one note to the next
    back = before(place, members, "note" if is_note else "member", row.name)

    def step_test(step: tuple[int, tuple[Sequence[t.Value], s.Span]]) -> t.Test:
        offset, (choices, span) = step
        value = comparable(_value(target, left, offset, place.span, context), span)
        for choice in choices:
            check_sung(value, choice, span)
        return one_of(value, [equals(value, choice, span) for choice in choices])

    found = t.All(each(step_test, enumerate(row.steps, -back)))
    context.draft.said[found] = (row.span, row.span)
    return found


def before(place: s.Position, members: int, member: str, name: str) -> int:
    """How many members of a figure stand before a place; raises CheckError for a place that it does not have."""
    back = members - place.index if place.from_end else place.index - 1
    if 0 <= back < members:
        return back
    said = f"‘{name}’" if name else "this figure"
    if members == 1:
        raise NoMember(place.span, f"{said} asks nothing of what follows: it is no figure with members", _DEFINED)
    raise NoMember(place.span, f"{said} has {members} {member}s", f"Count them from 1st to {ordinal(members)}.")


def _value(target: Meaning, left: s.Expr, offset: int, span: s.Span, context: Context) -> Meaning:
    """What a step is compared with that stands so many steps after the first that comes after something."""
    if isinstance(target, Thing) and target.kind == Kind.NOTE:
        return t.Attr(hopped(target.ref, offset + 1, span, context), "approach", Type.MELODIC)
    if isinstance(target, t.Attr | t.Function):
        return meaning(left, _elsewhere(context, offset, span))
    hint = "Say which of its notes: ‘upper begins …’, ‘upper is 2nd of …’." if isinstance(target, Thing) else ""
    raise CheckError(left.span, "only a note, an interval or a motion begins or ends a figure", hint)


def _elsewhere(context: Context, offset: int, span: s.Span) -> Context:
    """A context some places on: what is looked at, and the notes that a definition is given."""
    given = context.bound.items()
    bound = {word: shifted(each, offset, span) if isinstance(each, Thing) else each for word, each in given}
    return replace(context, it=shifted(context.it, offset, span), bound=bound)


def moved(thing: Thing, offset: int, span: s.Span, context: Context) -> Thing:
    """The note, interval or sonority some members on."""
    if thing.kind == Kind.NOTE:
        return Thing(hopped(thing.ref, offset, span, context), Kind.NOTE)
    return shifted(thing, offset, span)


def length(found: t.Test, thing: Thing) -> int:
    """How many members a condition on the first of them speaks of."""
    ahead = [_place(ref, thing.kind) for ref in t.refs(found) if thing.kind != Kind.NOTE or ref.role == thing.ref.role]
    return 1 + max([0, *(place - _place(thing.ref, thing.kind) for place in ahead)])


def _place(ref: t.Ref, kind: Kind) -> int:
    return ref.offset + ref.hops if kind == Kind.NOTE else ref.offset
