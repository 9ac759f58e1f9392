"""Sequences: whether the last notes repeat those before them at another step."""

from typing import cast

from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language.checking.comparisons import any_of
from rulekit.language.checking.context import Context, Thing, what
from rulekit.language.checking.errors import CheckError, together
from rulekit.language.checking.moving import hopped
from rulekit.language.checking.values import alternatives, meaning
from rulekit.language.typed import Kind, Type

_NO_STEP = frozenset({1, 8})  # the same letter


def sequence(condition: s.Sequence, context: Context) -> t.Test:
    """Whether a note is the last of a pattern that repeats the one before it at another step."""
    target, lengths = together(
        lambda: meaning(condition.target, context), lambda: alternatives(condition.length, context)
    )
    if not isinstance(target, Thing) or target.kind != Kind.NOTE:
        hint = "Write such as ‘upper ends sequence of 3 notes’."
        raise CheckError(condition.target.span, "only a note ends a sequence", hint)
    numbers = [number for each in lengths for number in _numbers(each, condition)]
    return any_of([_repeats(number, target, condition, context) for number in numbers])


def _numbers(value: t.Value, condition: s.Sequence) -> tuple[int, ...]:
    """How many notes a pattern may have."""
    if not isinstance(value, t.Const) or value.type != Type.COUNT:
        message = f"the number of notes in a pattern is a count that is known beforehand, not {what(value)}"
        raise CheckError(condition.length.span, message, "Write such as ‘it ends sequence of 3 notes’.")
    numbers = cast("tuple[int, ...]", value.value if value.many else (value.value,))
    if min(numbers) < 2:
        raise CheckError(
            condition.length.span, "a pattern has at least two notes", "Write such as ‘it ends sequence of 3 notes’."
        )
    return numbers


def _repeats(number: int, target: Thing, condition: s.Sequence, context: Context) -> t.Test:
    """The moves within the last notes are those within the notes before, at another step and not all one way."""

    def note(back: int) -> t.Ref:
        return hopped(target.ref, -back, condition.span, context)

    def move(name: str, type_: Type, back: int) -> t.Function:
        return t.Function(name, (t.Attr(note(back), "approach", Type.MELODIC),), type_)

    same = [
        t.Relation("==", move(name, type_, back), move(name, type_, back + number))
        for back in range(number - 1)
        for name, type_ in (("size", Type.SIZE), ("direction", Type.DIRECTION))
    ]
    ways = [move("direction", Type.DIRECTION, back) for back in range(number)]
    one_way = t.All(tuple(t.Relation("==", ways[0], way) for way in ways[1:]))
    ends = tuple(t.Attr(note(back), "pitch", Type.PITCH) for back in (number, 0))
    far = t.Function("simple-size", (t.Function("span", ends, Type.MELODIC),), Type.SIZE)
    return t.All((*same, t.Negation(t.Among(far, _NO_STEP)), t.Negation(one_way)))
