"""Values and conditions as Python expressions, made from the typed tree only.

Names in the expressions are fixed by this module; every constant is passed in by number, never
written out, so that nothing an author typed becomes code. In an expression ``c`` is the sample,
``s`` the values of the streams, ``x`` the scene and ``v`` the values captured earlier.

A condition has two forms: *positive* is true where it surely holds, *negative* where it surely
does not. Where something it speaks of is missing, neither is.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from types import CodeType
from typing import Any, cast

from rulekit.compiler.scene import Scene, lines, pairs
from rulekit.exercise.model import NO_NOTE, Note
from rulekit.exercise.timeline import NO_DYAD, Dyad, Moment
from rulekit.language import typed as t
from rulekit.language import vocabulary
from rulekit.language.typed import Kind, Ref
from rulekit.music.motion import motion
from rulekit.music.pitch import Interval, Pitch, letter, pitch_class, rising, simple, size

Leaf = t.Attr | t.Flag | t.Holds | t.Stream
Where = Callable[[Leaf], str]


@dataclass(slots=True)
class Namespace:
    """The constants and helpers that expressions refer to, by name."""

    names: dict[str, Any] = field(default_factory=lambda: dict(_HELPERS))
    _numbers: dict[object, str] = field(default_factory=dict[object, str])

    def constant(self, value: object) -> str:
        """The name of a constant."""
        name = self._numbers.get((type(value), value))
        if name is None:
            name = self._numbers[type(value), value] = f"k{len(self._numbers)}"
            self.names[name] = value
        return name

    def function(self, arguments: str, body: str) -> Callable[..., Any]:
        """An expression as a function."""
        return cast(Callable[..., Any], eval(_code(f"lambda {arguments}: {body}"), self.names))


@cache
def _code(source: str) -> CodeType:
    return compile(source, "<rule>", "eval")


def value(node: t.Value, where: Where, names: Namespace) -> str:
    """The expression of a value; it gives None where something is missing."""
    match node:
        case t.Const():
            return names.constant(node.value)
        case t.Attr() | t.Stream():
            return where(node)
        case t.Fixed():
            return f"x.{node.name.replace('-', '_')}"
        case t.Function():
            arguments = ", ".join(value(argument, where, names) for argument in node.arguments)
            if node.name == "degree":
                return f"x.degree({arguments})"
            return f"_{node.name.replace('-', '_')}({arguments})"


def condition(test: t.Test, holds: bool, where: Where, names: Namespace) -> str:
    """The positive (``holds``) or negative form of a condition."""
    match test:
        case t.Negation():
            return condition(test.inner, not holds, where, names)
        case t.All() | t.AnyOf():
            joint = " and " if isinstance(test, t.All) == holds else " or "
            parts = joint.join(condition(part, holds, where, names) for part in test.parts)
            return f"({parts})" if test.parts else str(isinstance(test, t.All) == holds)
        case _:
            return literal(test, holds, where, names)


def literal(test: t.Test, holds: bool, where: Where, names: Namespace) -> str:
    """The positive or negative form of a condition without parts."""
    match test:
        case t.Among():
            members = names.constant(test.members)
            if holds:
                return f"{value(test.value, where, names)} in {members}"
            return f"((a := {value(test.value, where, names)}) is not None and a not in {members})"
        case t.Relation():
            left, right = value(test.left, where, names), value(test.right, where, names)
            related = f"a {test.operator} b" if holds else f"not a {test.operator} b"
            return f"((a := {left}) is not None and (b := {right}) is not None and {related})"
        case t.Flag():
            if holds:
                return where(test)
            return f"not {where(test)}" if test.definite else f"{where(test)} is False"
        case t.Exists():
            return f"{value(test.value, where, names)} is {'not ' if holds else ''}None"
        case t.Same():
            same = t.Relation("==", t.Attr(test.left, "voice", t.Type.COUNT), t.Attr(test.right, "voice", t.Type.COUNT))
            return literal(same, holds, where, names)
        case t.InVoices():
            voice = where(t.Attr(test.ref, "voice", t.Type.COUNT))
            return f"x.has({names.constant(test.scope)}, {voice}) is {holds}"
        case t.Holds():
            return where(test) if holds else f"{where(test)} is False"
        case _:
            raise TypeError(test)


def leaves(part: "t.Test | t.Value") -> list[Leaf]:
    """What a condition or value reads, in order."""
    return [leaf for each in t.walk(part) for leaf in _own_leaves(each)]


def _own_leaves(part: "t.Test | t.Value") -> tuple[Leaf, ...]:
    match part:
        case t.Attr() | t.Flag() | t.Holds() | t.Stream():
            return (part,)
        case t.Same():
            return t.Attr(part.left, "voice", t.Type.COUNT), t.Attr(part.right, "voice", t.Type.COUNT)
        case t.InVoices():
            return (t.Attr(part.ref, "voice", t.Type.COUNT),)
        case _:
            return ()


def place(leaf: Leaf) -> Ref:
    """The thing that a leaf reads."""
    match leaf:
        case t.Attr() | t.Flag():
            return leaf.ref
        case t.Holds():
            return Ref(leaf.offset)
        case t.Stream():
            return Ref()


def asked(thing: str, slot: str, now: str) -> str:
    """The expression of a property of a thing that is looked at from the sample or moment ``now``."""
    return f"_{slot}({thing}, {now})" if vocabulary.reads(slot).now else f"{thing}.{slot}"


@dataclass(frozen=True, slots=True)
class Reader:
    """Writes what a leaf reads as an expression on a sample of one kind.

    ``roles`` says where cantus and counterpoint are in this pair, as attribute names; ``now`` is the
    expression of the moment at which the sample is looked at, if that may be later than where it began.
    """

    kind: Kind
    roles: tuple[tuple[str, str], ...]
    names: Namespace
    now: str = ""

    def read(self, leaf: Leaf, sample: str = "c", hops: int | None = None) -> str:
        """The expression of a leaf whose sample is ``sample``; ``hops`` (0 or less) replaces its own."""
        match leaf:
            case t.Stream():
                return f"s[{leaf.number}]"
            case t.Holds():
                moment = sample if self.kind == Kind.MOMENT else f"{sample}.moment"
                return f"{self._quantifier(leaf)}({moment}, x)"
            case t.Attr() | t.Flag():
                note = self.thing(leaf.ref, sample, hops)
                return asked(note, leaf.name, self.now or sample)

    def thing(self, ref: Ref, sample: str = "c", hops: int | None = None) -> str:
        """The expression of the thing a ref points to."""
        found = sample
        if ref.role:
            attribute = dict(self.roles).get(ref.role, "")
            found = f"{sample}.{attribute}" if attribute else "NO_NOTE"
        return found + ".before" * -(ref.hops if hops is None else hops)

    def _quantifier(self, leaf: t.Holds) -> str:
        inner = Reader(leaf.kind, _plain_roles(leaf.kind), self.names, now="m")
        forms = [
            self.names.function("c, m, x", condition(leaf.condition, holds, inner.read, self.names))
            for holds in (True, False)
        ]
        return self.names.constant(_Quantifier(leaf, forms[0], forms[1]))


class _Quantifier:
    """``some``, ``every`` or ``no`` over what sounds at a moment."""

    def __init__(self, leaf: t.Holds, fulfils: Callable[..., Any], breaks: Callable[..., Any]) -> None:
        self.leaf, self.fulfils, self.breaks = leaf, fulfils, breaks

    def __call__(self, moment: Moment | None, scene: Scene) -> bool | None:
        if moment is None or moment.notes is None:  # pyright: ignore[reportUnnecessaryComparison]
            return None
        test = self.breaks if self.leaf.quantifier == "every" else self.fulfils
        found = any(test(thing, moment, scene) for thing in self._things(moment))
        return found if self.leaf.quantifier == "some" else not found

    def _things(self, moment: Moment) -> list[Note] | list[Dyad]:
        setting = moment.setting
        voices = self.leaf.scope, setting.voice_count, setting.cantus, setting.paces
        if self.leaf.kind == Kind.NOTE:
            notes = (moment.notes[i] for i in lines(*voices))
            return [note for note in notes if note is not None]
        dyads = (moment.sounding(high, low) for high, low in pairs(*voices))
        return [dyad for dyad in dyads if dyad is not None]


def _plain_roles(kind: Kind) -> tuple[tuple[str, str], ...]:
    return roles(kind, (0, 0), None)


def roles(kind: Kind, voices: tuple[int, ...], cantus: int | None) -> tuple[tuple[str, str], ...]:
    """The attribute of a sample that holds each named note, for a track of these voices."""
    if kind == Kind.MOMENT:
        return (("bass", "bass_note"), ("cantus", "cantus_note"))
    if kind != Kind.DYAD:
        return ()
    fixed = (
        ("upper", "upper"),
        ("lower", "lower"),
        ("sounding-upper", "sounding_upper"),
        ("sounding-lower", "sounding_lower"),
    )
    if cantus is None or cantus not in voices:
        return fixed
    here, other = ("upper", "lower") if voices[0] == cantus else ("lower", "upper")
    return (*fixed, ("cantus", here), ("counterpoint", other))


# ---- helpers that expressions call: None in, None out --------------------------------------------


def _direction(interval: Interval | None) -> int | None:
    return None if interval is None else (interval > 0) - (interval < 0)


def _opposite(direction: int | None) -> int | None:
    return None if direction is None else -direction


def _size(interval: Interval | None) -> int | None:
    return None if interval is None else size(interval)


def _simple_size(interval: Interval | None) -> int | None:
    return None if interval is None else size(simple(interval))


def _width(interval: Interval | None) -> int | None:
    return None if interval is None else rising(interval)


def _letter(pitch: Pitch | None) -> int | None:
    return None if pitch is None else letter(pitch)


def _note_name(pitch: Pitch | None) -> Pitch | None:
    return None if pitch is None else pitch_class(pitch)


def _span(start: Pitch | None, end: Pitch | None) -> Interval | None:
    return None if start is None or end is None else Interval(end - start)


def _motion(*pitches: Pitch | None) -> object:
    if None in pitches:
        return None
    upper, lower, next_upper, next_lower = cast("tuple[Pitch, ...]", pitches)
    return motion(upper, lower, next_upper, next_lower)


def _plus(left: int | None, right: int | None) -> int | None:
    return None if left is None or right is None else left + right


def _minus(left: int | None, right: int | None) -> int | None:
    return None if left is None or right is None else left - right


def _times(left: int | None, right: int | None) -> int | None:
    return None if left is None or right is None else left * right


def _held(note: Note, sample: Dyad | Moment | Note) -> bool | None:
    if note is NO_NOTE:
        return None
    if isinstance(sample, Note):
        return False
    moment = sample.moment if isinstance(sample, Dyad) else sample
    return note.onset < moment.time


def _on_bass(dyad: Dyad, seen: Dyad | Moment) -> bool | None:
    if dyad is NO_DYAD:
        return None
    moment = seen.moment if isinstance(seen, Dyad) else seen
    return moment.bass in (dyad.upper.voice, dyad.lower.voice)


def _share(part: int, whole: int) -> Fraction | None:
    return Fraction(10000 * part, whole) if whole else None


_HELPERS: dict[str, Any] = {
    "__builtins__": {}, "NO_NOTE": NO_NOTE, "_direction": _direction, "_opposite": _opposite, "_size": _size,
    "_simple_size": _simple_size, "_width": _width, "_span": _span, "_motion": _motion, "_plus": _plus,
    "_minus": _minus, "_times": _times, "_held": _held, "_on_bass": _on_bass, "_share": _share, "_letter": _letter,
    "_note_name": _note_name,
}  # fmt: skip
