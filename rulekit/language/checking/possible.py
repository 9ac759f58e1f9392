"""What values there can be: comparisons that always or never hold, and things that are never missing, are mistakes."""

from collections.abc import Sequence
from typing import cast

from rulekit.exercise.limits import MAX_VOICES
from rulekit.language import intervals
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language import vocabulary as v
from rulekit.language.checking.context import Context, Draft, what
from rulekit.language.checking.errors import CheckError
from rulekit.language.typed import Kind, Type

_ALL = (t.Pattern(1, v.WIDEST),)
_BOUNDS: dict[Type, tuple[int, int | None]] = {Type.DEGREE: (1, 7), Type.SIZE: (1, None), Type.SHARE: (0, 10_000)}
_COUNTS: dict[str, tuple[int, int | None]] = {
    "bar": (1, None), "beat": (1, None), "number_sounding": (1, MAX_VOICES),
    "number-of-voices": (1, MAX_VOICES), "number-of-bars": (1, None), "simple-size": (1, 8),
    "run": (0, None), "tally": (1, None), "number": (0, None), "longest": (0, None), "climaxes": (1, None),
}  # fmt: skip
_SAID = {"bar": "a bar", "beat": "a beat"}
_THERE = {"pitch", "degree", "letter", "length", "bar", "beat", "interval", "number_sounding"}
_SOUNDING = {"", "upper", "lower", "sounding-upper", "sounding-lower", "bass"}
_TWO_VOICES = ({"upper", "lower"}, {"sounding-upper", "sounding-lower"}, {"cantus", "counterpoint"})


# ---- comparisons -----------------------------------------------------------------------------


def check_possible(value: t.Value, test: t.Test, right: s.Expr, condition: s.Compare, context: Context) -> None:
    """Raise CheckError where a comparison with a value written there holds always or never."""
    if not _is_written(right, context):
        return
    holds = _holds(value, test, context.draft)
    if holds is not None:
        said = condition.comparator if condition.comparator in ("is", *_PLAIN) else f"{condition.comparator} than"
        how = f"{'always' if holds else 'never'}{'' if said == 'is' else f' {said}'}"
        told = f"{_range(value, context.draft)}it is {how} this"
        raise CheckError(right.span, told, _HINTS.get(value.type, "Compare it with another."))


_PLAIN = ("at least", "at most")
_HINTS = {Type.DEGREE: "A degree is a number from 1 to 7.", Type.SHARE: "A share goes from 0% to 100%."}


def _is_written(right: s.Expr, context: Context) -> bool:
    """Whether a value stands there as it is, not by the name of a parameter, which may be set to another."""
    match right:
        case s.Literal_():
            return True
        case s.Group(inner=s.Choice(values=values)):
            return all(_is_written(each, context) for each in values)
        case s.Directed(target=target) | s.Exactly(target=target):
            return target is None or _is_written(target, context)
        case s.Name(word=word) if word not in context.bound:
            body = context.definitions[word].body if word in context.definitions else None
            written = isinstance(body, s.Choice) and all(_is_written(each, context) for each in body.values)
            return written or (body is None and word in v.CONSTANTS)
        case _:
            return False


def _holds(value: t.Value, test: t.Test, draft: Draft) -> bool | None:
    """Whether a comparison holds always (True) or never (False); None if that depends on the music."""
    match test:
        case t.Among(members=members) if value.type in (Type.HARMONIC, Type.MELODIC):
            every = intervals.harmonic(_ALL) if value.type == Type.HARMONIC else intervals.melodic(_ALL)
            return False if not members & every else True if every <= members else None
        case t.Among(members=members) if _bounds(value, draft):
            return False if not any(_within(value, cast(int, each), draft) for each in members) else None
        case t.Relation(operator=operator, left=t.Const(value=bound)) if _bounds(value, draft):
            return _compared(value, cast(int, bound) + (operator == "<"), None, draft)
        case t.Relation(operator=operator, right=t.Const(value=bound)) if _bounds(value, draft):
            return _compared(value, None, cast(int, bound) - (operator == "<"), draft)
        case _:
            return None


def _compared(value: t.Value, least: int | None, most: int | None, draft: Draft) -> bool | None:
    """The same of a comparison that asks for a number between two, None for no bound."""
    low, high = _bounds(value, draft) or (0, None)
    if least is not None:
        return True if least <= low else False if high is not None and least > high else None
    assert most is not None
    return False if most < low else True if high is not None and most >= high else None


def _within(value: t.Value, number: int, draft: Draft) -> bool:
    low, high = _bounds(value, draft) or (0, None)
    return number >= low and (high is None or number <= high)


def _bounds(value: t.Value, draft: Draft) -> tuple[int, int | None] | None:
    """Between which numbers a value lies; None if it is no number, or not known."""
    return _COUNTS.get(_kept(value, draft)) or _BOUNDS.get(value.type)


def _kept(value: t.Value, draft: Draft) -> str:
    """What a value is called that is counted."""
    if isinstance(value, t.Stream):
        return draft.streams[value.number].kind
    return value.name if isinstance(value, t.Attr | t.Fixed | t.Function) else ""


def _range(value: t.Value, draft: Draft) -> str:
    found = _bounds(value, draft)
    if found is None:
        return ""
    low, high = (f"{each / 100:g}%" if value.type == Type.SHARE and each is not None else each for each in found)
    name = _SAID.get(_kept(value, draft)) or ("this count" if value.type == Type.COUNT else what(value))
    return f"{name} goes from {low} {'up' if high is None else f'to {high}'}, so "


def check_sung(value: t.Value, choice: t.Value, span: s.Span, right: s.Expr | None = None) -> None:
    """Raise CheckError where what is said of a melodic interval is said of two voices."""
    if value.type != Type.HARMONIC or not isinstance(choice, t.Const) or choice.type != Type.INTERVAL:
        return
    if any(pattern.sung or pattern.heading for pattern in cast("Sequence[t.Pattern]", choice.value)):
        message = "this is said of a line, not of the interval between two voices"
        raise CheckError(span, message, _harmonic_words(right))


def _harmonic_words(right: s.Expr | None) -> str:
    if isinstance(right, s.Directed) and isinstance(right.target, s.Name | s.Literal_):
        right = right.target
        word = right.word if isinstance(right, s.Name) else right.text
        return f"Write ‘{v.BETWEEN_VOICES.get(word, word)}’."
    word = right.word if isinstance(right, s.Name) else ""
    said = v.BETWEEN_VOICES.get(word)
    return f"Write ‘{said}’." if said else "Write such as ‘interval is second’, ‘interval is wider than second’."


# ---- things ----------------------------------------------------------------------------------


def check_missing(found: t.Value, condition: s.Missing, context: Context) -> None:
    """Raise CheckError where something is asked to be missing that never is; what a definition speaks of may be."""
    if not context.draft.open and _is_always_there(found, context):
        raise CheckError(condition.target.span, "this is never missing", _may_be_missing(found))


def _may_be_missing(found: t.Value) -> str:
    """What may be meant instead of something that is always there."""
    if isinstance(found, t.Attr) and not found.ref.role and found.name in ("pitch", "interval"):
        return f"Write ‘{'note after it' if found.name == 'pitch' else 'previous interval'}’."
    return "Ask what may be missing, such as ‘note after it’, ‘approach’ or ‘previous interval’."


def _is_always_there(found: t.Value, context: Context) -> bool:
    match found:
        case t.Attr(ref=ref, name=name):
            is_here = not ref.offset and not ref.hops and ref.role in _SOUNDING
            return is_here and name in _THERE and context.it.kind in (Kind.NOTE, Kind.DYAD, Kind.MOMENT)
        case t.Stream():
            return _kept(found, context.draft) in ("run", "tally", "number", "longest")
        case t.Function(arguments=arguments):
            return found.name not in ("share", "motion") and all(_is_always_there(x, context) for x in arguments)
        case t.Fixed() | t.Const():
            return True


def check_voices(left: t.Ref, right: t.Ref, span: s.Span) -> None:
    """Raise CheckError where two notes are asked to be in one voice that always or never are."""
    roles = {left.role, right.role}
    if left.role and left.role == right.role:
        raise CheckError(span, "a note is always in its own voice", _OF_VOICES)
    if any(roles == pair for pair in _TWO_VOICES):
        raise CheckError(span, "these are always two voices", _OF_VOICES)


_OF_VOICES = "Ask such as ‘upper is in the cantus’; pitches are compared with ‘pitch of upper is pitch of lower’."
