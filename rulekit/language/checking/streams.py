"""Values kept while the music goes by: runs, the latest, counts over the whole."""

from dataclasses import replace

from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language import vocabulary as v
from rulekit.language.checking.conditions import test
from rulekit.language.checking.context import Context, Kept, Thing
from rulekit.language.checking.errors import CheckError, together
from rulekit.language.checking.moving import PLACED
from rulekit.language.checking.scopes import voices
from rulekit.language.checking.values import as_value, meaning
from rulekit.language.checking.words import unknown
from rulekit.language.typed import HERE, Kind, Ref, Type

_KINDS = {"notes": Kind.NOTE, "intervals": Kind.DYAD, "moves": Kind.DYAD, "sonorities": Kind.MOMENT}


def stream(expr: Kept, context: Context) -> t.Stream | t.Function:
    """The stream that a phrase names, gathered into the draft; raises CheckError."""
    if isinstance(expr, s.Run | s.Tally | s.Latest):
        return _running(expr, context)
    if not context.whole:
        hint = "Write ‘for every line …’, ‘for every pair …’ or ‘for every exercise’; or use ‘run where’."
        raise CheckError(expr.span, "only a rule about the whole can count over the whole", hint)
    return _over_whole(expr, context)


# ---- up to here ------------------------------------------------------------------------------


def _running(expr: s.Run | s.Tally | s.Latest, context: Context) -> t.Stream:
    _check_place(expr, context)
    inner = replace(context, inner=True)
    written = None if isinstance(expr, s.Tally) else expr.condition
    condition, value = together(lambda: _condition(written, inner), lambda: _value(expr, inner))
    _check_past(expr.span, condition, value)
    if isinstance(expr, s.Tally):
        return context.draft.gather("tally", context.track, Type.COUNT, None, value)
    if isinstance(expr, s.Latest) and value is not None:
        return context.draft.gather("latest", context.track, value.type, condition, value)
    return context.draft.gather("run", context.track, Type.COUNT, condition, value)


def _condition(condition: s.Condition | None, context: Context) -> t.Test | None:
    return None if condition is None else test(condition, context)


def _value(expr: Kept, context: Context) -> t.Value | None:
    """The value that is kept, or that must stay the same."""
    match expr:
        case s.Latest():
            return as_value(expr.value, context)
        case s.Tally(same=same) | s.Run(same=same) | s.Total(same=same) if same is not None:
            return _key(same, _named(expr), context)
        case _:
            return None


def _check_place(expr: s.Run | s.Tally | s.Latest, context: Context) -> None:
    it, what = context.it, _named(expr)
    if context.inner:
        raise CheckError(expr.span, f"{what} can’t stand inside another run, a count or a ‘some’, ‘every’ or ‘no’")
    if context.whole or it.ref.role or it.kind not in PLACED:
        hint = "Write it in a rule ‘for every note …’, ‘for every interval …’ or ‘for every sonority’."
        raise CheckError(
            expr.span, f"{what} is counted along the notes, intervals or sonorities a rule speaks of", hint
        )
    if it.ref.offset:
        raise CheckError(expr.span, f"{what} is counted up to here, not up to somewhere else")


def _named(expr: Kept) -> str:
    return "a ‘number so far’" if isinstance(expr, s.Tally) else "a run"


def _key(expr: s.Expr, what: str, context: Context) -> t.Value:
    value = meaning(expr, context)
    if isinstance(value, (Thing, t.Const)):
        raise CheckError(expr.span, f"{what} needs a value that changes, such as motion or size of interval")
    return value


def _check_past(span: s.Span, *parts: "t.Test | t.Value | None") -> None:
    read = [ref for part in parts if part is not None for ref in t.refs(part)]
    if any(ref.offset > 0 or ref.hops > 0 for ref in read):
        message = "this can’t look ahead: it is kept while the music goes by"
        raise CheckError(span, message, "Say it from the later place, with ‘previous’.")


# ---- over the whole --------------------------------------------------------------------------


def _over_whole(expr: s.Total | s.TimeOf, context: Context) -> t.Stream | t.Function:
    kind = _KINDS[expr.things.kind]
    inner = Context(context.draft, Thing(HERE, kind), t.Track(kind), False, context.bound, inner=True)
    track, condition, value = together(
        lambda: _counted_over(expr.things, kind, context),
        lambda: _condition(expr.condition, inner),
        lambda: _value(expr, inner),
    )
    gather, counted = context.draft.gather, _counted(expr.things)
    both = t.All((counted, condition)) if counted and condition else counted or condition
    if isinstance(expr, s.TimeOf):
        _check_past(expr.span, both)
        return gather("first" if expr.first else "last", track, Type.TIME, both)
    if expr.kind == "longest":
        _check_past(expr.span, both, value)
        return gather("longest", track, Type.COUNT, both, value)
    number = gather("number", track, Type.COUNT, both)
    if expr.kind == "number":
        return number
    return t.Function("share", (number, gather("number", track, Type.COUNT, counted)), Type.SHARE)


def _counted(things: s.Things) -> t.Test | None:
    """Which samples count as the things at all: a move comes from somewhere, ‘above bass’ has the bass in it."""
    parts: list[t.Test] = []
    if things.kind == "moves":
        parts.append(t.Exists(t.Attr(Ref(-1), "interval", Type.HARMONIC)))
    if things.scope is not None and things.scope.kind == "above":
        parts.append(t.Flag(HERE, "on_bass"))
    return t.All(tuple(parts)) if parts else None


def _counted_over(things: s.Things, kind: Kind, context: Context) -> t.Track:
    """The voice of the rule’s pair, or the voices or pairs, that are counted over."""
    whole, scope = context.it.kind, things.scope
    if kind == Kind.NOTE and whole == Kind.PAIR and scope is not None and len(scope.words) == 1:
        return t.Track(kind, _role(scope, context))
    if scope is not None:
        return t.Track(kind, voices=voices(scope, lines=kind == Kind.NOTE))
    if kind == Kind.NOTE and whole == Kind.PAIR:
        raise CheckError(things.span, "a pair has two voices", "Write ‘notes in upper’ or ‘notes in lower’.")
    if kind == Kind.DYAD and whole == Kind.LINE:
        raise CheckError(things.span, "a line has no intervals", "Write ‘for every pair between …’.")
    if whole == Kind.EXERCISE and kind != Kind.MOMENT:
        return t.Track(kind, voices=t.Voices("each voice" if kind == Kind.NOTE else "each pair"))
    return t.Track(kind)


def _role(scope: s.Scope, context: Context) -> str:
    (role,) = scope.words
    if role not in v.ROLES[Kind.PAIR]:
        raise unknown(scope.span, role, v.ROLES[Kind.PAIR], "voice of a pair", context.draft.environment)
    return role
