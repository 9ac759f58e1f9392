"""Values compared with each other: which types go together, and what a constant means beside a value."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import Literal, cast

from rulekit.diagnostics import with_article
from rulekit.language import intervals
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language import vocabulary as v
from rulekit.language.checking.context import Meaning, Thing, what
from rulekit.language.checking.errors import CheckError
from rulekit.language.typed import Type
from rulekit.music.pitch import Pitch, alteration, letter
from rulekit.music.rhythm import BarRhythm

_ORDERED = (Type.PITCH, Type.COUNT, Type.LENGTH, Type.SHARE, Type.TIME, Type.SIZE, Type.DEGREE)
_INTERVALS = (Type.INTERVAL, Type.HARMONIC, Type.MELODIC)
_NUMBERS = {Type.COUNT, Type.DEGREE, Type.SIZE}
_WIDE = (Type.HARMONIC, Type.MELODIC)
_WANTED = {
    Type.MOTION: "A motion is contrary, oblique, similar, parallel or none.",
    Type.DIRECTION: "A direction is up, down or level.",
    Type.DEGREE: "A degree is a number from 1 to 7.",
    Type.SIZE: "A size is a number: 3 for a third.",
    Type.LENGTH: "A length is such as whole-note, half-note or dotted-half-note.",
    Type.PITCH: "A pitch is written such as ‘pitch C4’; in any octave it is asked with ‘note-name is C’.",
    Type.NOTE_NAME: "A note name is such as B, Bb or F#, a pitch such as ‘pitch Bb3’.",
    Type.LETTER: "A letter is one from A to G.",
    Type.HARMONIC: "An interval is such as P5, third or augmented.",
    Type.MELODIC: "A melodic interval is such as step, rising m6 or falling third.",
    Type.MODE: "A mode is such as dorian or phrygian.",
    Type.METRE: "A metre is duple or triple.",
    Type.RHYTHM: "A rhythm is such as whole-note, or in brackets (half-rest then tied-half-note).",
}


def agree(left: Meaning, right: Meaning) -> bool:
    """Whether two values can be compared for equality."""
    if isinstance(left, Thing) or isinstance(right, Thing):
        return isinstance(left, Thing) and isinstance(right, Thing) and left.kind == right.kind
    if left.type == right.type or (left.type in _INTERVALS and right.type in _INTERVALS):
        return True
    return {left.type, right.type} <= _NUMBERS


def any_of(parts: Sequence[t.Test]) -> t.Test:
    """Whether at least one of some conditions holds; a single one is itself."""
    return parts[0] if len(parts) == 1 else t.AnyOf(tuple(parts))


def patterns(const: t.Const) -> tuple[t.Pattern, ...]:
    """The families of an interval constant."""
    return cast("tuple[t.Pattern, ...]", const.value)


def as_rhythm(const: t.Const) -> BarRhythm:
    """A rhythm constant, or a length that fills the bar by itself."""
    return cast(BarRhythm, const.value) if const.type == Type.RHYTHM else BarRhythm((cast(Fraction, const.value),))


def is_intervals(value: Meaning) -> bool:
    """Whether this is an interval constant."""
    return isinstance(value, t.Const) and value.type == Type.INTERVAL


def comparable(found: Meaning, span: s.Span) -> t.Value:
    """What stands on the left of a comparison; raises CheckError for a thing, a figure and a known interval."""
    if isinstance(found, Thing):
        message = f"{with_article(found.kind)} is no value to compare"
        raise CheckError(span, message, "Name its pitch, degree, length …")
    if found.type == Type.FIGURE:
        raise CheckError(span, "a figure is no value to compare", "Write such as ‘it begins …’, ‘it is 2nd of …’.")
    if is_intervals(found):
        hint = "Write such as ‘approach is P5’, ‘interval is P5’."
        raise CheckError(span, "what is compared must come first", hint)
    return found


def equals(value: t.Value, choice: t.Value, span: s.Span) -> t.Among | t.Relation:
    """Whether a value equals another, or is in the set that a constant means."""
    if isinstance(choice, t.Const):
        return t.Among(value, _members(value, choice, span))
    if agree(value, choice):
        return t.Relation("==", value, choice)
    raise CheckError(span, f"{what(choice)} can’t equal {what(value)}")


def one_of(value: t.Value, tests: Iterable[t.Among | t.Relation]) -> t.Test:
    """Whether one of some tests of a value holds; its constants make one set."""
    parts = list(tests)
    sets = [part.members for part in parts if isinstance(part, t.Among)]
    others = [part for part in parts if not isinstance(part, t.Among)]
    return any_of([t.Among(value, frozenset[object]().union(*sets)), *others] if sets else others)


def _members(value: t.Value, const: t.Const, span: s.Span) -> frozenset[object]:
    """What a constant means as a set of values like the one on the left."""
    if const.type == Type.INTERVAL and value.type in _INTERVALS:
        written_out = intervals.harmonic if value.type == Type.HARMONIC else intervals.melodic
        return written_out(patterns(const))
    if const.type == Type.NOTE_NAME and value.type == Type.LETTER:
        return frozenset(_letters(const, span))
    if const.type == Type.LENGTH and value.type == Type.RHYTHM:
        return frozenset({as_rhythm(const)})
    if const.type == value.type or (const.type == Type.COUNT and value.type in _NUMBERS):
        named = cast("tuple[object, ...]", const.value) if const.many else (const.value,)
        return frozenset(_with_plagal(named) if value.type == Type.MODE else named)
    raise CheckError(
        span, f"{what(const)} can’t equal {what(value)}", _number_of(const, value) or _WANTED.get(value.type, "")
    )


def _number_of(const: t.Const, value: t.Value) -> str:
    """The number that is meant by an interval where sizes are asked."""
    if const.type != Type.INTERVAL or value.type != Type.SIZE:
        return ""
    numbers = {number for pattern in patterns(const) for number in (pattern.low, pattern.high)}
    return f"Write ‘{numbers.pop()}’." if len(numbers) == 1 else _WANTED[Type.SIZE]


def _letters(const: t.Const, span: s.Span) -> Iterator[int]:
    """The letters of note names; raises CheckError for one that is altered."""
    for each in cast("tuple[Pitch, ...]", const.value if const.many else (const.value,)):
        if alteration(each):
            hint = "Write ‘note-name is …’ of a sharp or flat note."
            raise CheckError(span, "a letter is neither sharp nor flat", hint)
        yield letter(each)


def _with_plagal(modes: Sequence[object]) -> list[object]:
    return [name for each in modes for name in (each, f"hypo{each}")]


def order(left: t.Value, condition: s.Compare, right: t.Value, span: s.Span) -> t.Test:
    """``at least``, ``at most``, and the words before ‘than’, each said of its own type."""
    greater, strict = is_said_of(left, condition, span)
    operator: Literal["<", "<="] = "<" if strict else "<="
    if left.type in _WIDE and isinstance(right, t.Const) and right.type == Type.INTERVAL:
        return t.Among(left, intervals.by_width(operator, patterns(right), greater))
    left, right = _measured(left, right, span)
    return t.Relation(operator, right, left) if greater else t.Relation(operator, left, right)


def says(left: t.Value, comparator: s.Comparator) -> bool:
    """Whether a comparator is said of a value."""
    return comparator not in v.COMPARATIVES or left.type in v.COMPARATIVES[comparator][1]


def is_said_of(left: t.Value, condition: s.Compare, span: s.Span) -> tuple[bool, bool]:
    """Whether a comparator asks for more, and whether the same is not enough; raises CheckError if not said of this."""
    comparator = condition.comparator
    if comparator not in v.COMPARATIVES:
        return comparator == "at least", False
    greater, _ = v.COMPARATIVES[comparator]
    if not says(left, comparator):
        raise _not_said(left, condition, greater, span)
    return greater, True


def _measured(left: t.Value, right: t.Value, span: s.Span) -> tuple[t.Value, t.Value]:
    """Both sides as values of one order."""
    if left.type in _WIDE and right.type in _WIDE:
        return t.Function("width", (left,), Type.COUNT), t.Function("width", (right,), Type.COUNT)
    if left.type in _ORDERED and agree(left, right):
        return left, right
    hint = "A pitch has its octave: write such as ‘pitch C4’." if right.type == Type.NOTE_NAME else ""
    hint = hint or (_number_of(right, left) if isinstance(right, t.Const) else "")
    raise CheckError(span, f"{what(left)} can’t be more or less than {what(right)}", hint)


def _not_said(left: t.Value, condition: s.Compare, greater: bool, span: s.Span) -> CheckError:
    """What is said of a value instead of a word that is said of others."""
    fitting = (word for word, (more, types) in v.COMPARATIVES.items() if more == greater and left.type in types)
    word = next(fitting, None)
    verb = "is not" if condition.negated else "is"
    hint = f"Write ‘{verb} {word} than’." if word else f"Use ‘is’ or ‘is not’ with {with_article(left.type)}."
    return CheckError(span, f"‘{condition.comparator} than’ is not said of {what(left)}", hint)
