"""The typed tree: rules with every name looked up and every type known.

A rule watches *samples* on a track: the notes of one voice, the dyads of a pair, or the moments
of the whole texture. A :class:`Ref` points from the sample that is judged (offset 0) to something
near it; everything a rule reads is an attribute of such a thing, a stream (a value kept while the
exercise goes by) or a constant.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal, cast

from rulekit.language.tree import ExampleItem, Span
from rulekit.severity import Severity


class Type(StrEnum):
    """The types of the language, by the names that messages use."""

    INTERVAL = "interval"
    HARMONIC = "harmonic interval"
    MELODIC = "melodic interval"
    PITCH = "pitch"
    LETTER = "letter"
    NOTE_NAME = "note name"
    SIZE = "generic size"
    DEGREE = "degree"
    MOTION = "motion"
    DIRECTION = "direction"
    COUNT = "count"
    LENGTH = "length"
    SHARE = "proportion"
    TIME = "time"
    MODE = "mode"
    METRE = "metre"
    RHYTHM = "rhythm"
    FIGURE = "figure"


class Kind(StrEnum):
    """The things that rules speak of."""

    NOTE = "note"
    DYAD = "interval"
    MOMENT = "sonority"
    LINE = "line"
    PAIR = "pair"
    EXERCISE = "exercise"


@dataclass(frozen=True, slots=True)
class Ref:
    """A thing near the sample that is judged.

    ``offset`` counts samples on the track (negative: earlier); ``role`` names a note in that sample
    (``""`` is the sample itself); ``hops`` counts notes along that note's own voice.
    """

    offset: int = 0
    role: str = ""
    hops: int = 0


HERE = Ref()


class Node:
    """The base of all values and conditions."""

    __slots__ = ()

    def children(self) -> "Iterator[Value | Test]":
        """The values and conditions that this one is made of, in their order; not what a quantifier says of others."""
        for name in self.__slots__:
            value: object = getattr(self, name)
            for part in cast("tuple[object, ...]", value) if isinstance(value, tuple) else (value,):
                if isinstance(part, Node):
                    yield cast("Value | Test", part)


class _Leaf(Node):
    """What is made of no others."""

    __slots__ = ()

    def children(self) -> "Iterator[Value | Test]":
        """None."""
        return iter(())


# ---- values ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Const(_Leaf):
    """A value known beforehand; an INTERVAL's value is a tuple of :class:`Pattern`.

    ``many`` says that the value is a tuple of values of the type: a set that a parameter names.
    """

    value: object
    type: Type
    many: bool = False


@dataclass(frozen=True, slots=True)
class Pattern:
    """A family of intervals: generic sizes from ``low`` to ``high``, of one quality or any.

    ``heading`` is 1 for rising, -1 for falling, 0 for both; ``exact`` keeps compounds out; ``sung`` ones are said of
    a line only.
    """

    low: int
    high: int
    quality: str = ""
    heading: int = 0
    exact: bool = False
    sung: bool = False


@dataclass(frozen=True, slots=True)
class Attr(_Leaf):
    """An attribute of a thing, None where the thing is missing."""

    ref: Ref
    name: str
    type: Type


@dataclass(frozen=True, slots=True)
class Fixed(_Leaf):
    """Something of the setting, known before the first note: ``mode``, ``number-of-bars``."""

    name: str
    type: Type


@dataclass(frozen=True, slots=True)
class Function(Node):
    """A pure function of values: ``direction``, ``size``, ``width``, ``span``, ``motion``, ``plus`` …"""

    name: str
    arguments: tuple["Value", ...]
    type: Type


@dataclass(frozen=True, slots=True)
class Stream(_Leaf):
    """The value that the rule's stream of this number has at the sample (or at the end)."""

    number: int
    type: Type


Value = Const | Attr | Fixed | Function | Stream

_TOLD = {Kind.NOTE: ("pitch", Type.PITCH), Kind.DYAD: ("interval", Type.HARMONIC), Kind.MOMENT: ("time", Type.TIME)}


def told(ref: Ref, kind: Kind) -> Attr | None:
    """What is told of a thing that is named: a note's pitch, an interval, a moment's bar; None of lines and more.

    ``kind`` is that of the thing, or of the samples that it is a note of.
    """
    found = Kind.NOTE if kind in _TOLD and (ref.role or ref.hops) else kind
    return Attr(ref, *_TOLD[found]) if found in _TOLD else None


# ---- conditions ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Among(Node):
    """Whether a value is in a set."""

    value: Value
    members: frozenset[object]


@dataclass(frozen=True, slots=True)
class Relation(Node):
    """Whether two values are ``==``, ``<``, ``<=`` (greater is written the other way round)."""

    operator: Literal["==", "<", "<="]
    left: Value
    right: Value


@dataclass(frozen=True, slots=True)
class Flag(_Leaf):
    """A yes-or-no attribute. ``definite``: a missing thing does not have it, rather than unknown."""

    ref: Ref
    name: str
    definite: bool = False


@dataclass(frozen=True, slots=True)
class Exists(Node):
    """Whether a thing is there; never unknown."""

    value: Value


@dataclass(frozen=True, slots=True)
class Same(_Leaf):
    """Whether two things are in one voice."""

    left: Ref
    right: Ref


@dataclass(frozen=True, slots=True)
class InVoices(_Leaf):
    """Whether a note is in a voice that the words name."""

    ref: Ref
    scope: "Voices"


@dataclass(frozen=True, slots=True)
class Holds(Node):
    """A quantifier over what sounds at the sample's moment; unknown only where there is no such moment.

    ``condition`` speaks of each dyad or note of ``scope`` as HERE. ``some``: at least one fulfils it;
    ``every``: none breaks it; ``no``: none fulfils it.
    """

    offset: int
    quantifier: Literal["some", "every", "no"]
    kind: Kind
    scope: "Voices"
    condition: "Test"

    def children(self) -> "Iterator[Value | Test]":
        """None: the condition speaks of other samples."""
        return iter(())


@dataclass(frozen=True, slots=True)
class Negation(Node):
    """The opposite; unknown stays unknown."""

    inner: "Test"


@dataclass(frozen=True, slots=True)
class All(Node):
    """Whether all hold."""

    parts: tuple["Test", ...]


@dataclass(frozen=True, slots=True)
class AnyOf(Node):
    """Whether at least one holds."""

    parts: tuple["Test", ...]


Test = Among | Relation | Flag | Exists | Same | InVoices | Holds | Negation | All | AnyOf


def walk(part: Value | Test) -> Iterator[Value | Test]:
    """A value or condition and all that it is made of."""
    waiting = [part]
    while waiting:
        part = waiting.pop()
        yield part
        waiting += reversed([*part.children()])


def refs(part: Value | Test) -> list[Ref]:
    """Every thing that a condition or value points to, outside its streams."""
    return [ref for each in walk(part) for ref in _own_refs(each)]


def _own_refs(part: Value | Test) -> tuple[Ref, ...]:
    match part:
        case Attr() | Flag() | InVoices():
            return (part.ref,)
        case Same():
            return part.left, part.right
        case Holds():
            return (Ref(part.offset),)
        case Stream():
            return (HERE,)
        case _:
            return ()


# ---- tracks and streams ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Voices:
    """Which voices, or which pairs of voices, by the words of the language.

    ``number`` is that of a voice from 1 at the top, where the words name it; ``but`` are those left out. The word
    ``or`` stands for whatever any of its ``parts`` names, ``and`` for pairs of one voice of each of its two parts.
    """

    words: str
    number: int = 0
    parts: tuple["Voices", ...] = ()
    but: "Voices | None" = None


@dataclass(frozen=True, slots=True)
class Track:
    """Where samples come from.

    ``role`` chooses, within the rule's own voices, whose: ``""`` the rule's own line or pair,
    ``upper``, ``lower``, ``cantus``, ``counterpoint`` a line of its pair; ``voices`` (for a rule on the
    whole exercise) names them outright. ``sample`` keeps only the samples that fulfil it,
    a condition on nothing but their own rhythm.
    """

    kind: Kind
    role: str = ""
    sample: "Test | None" = None
    voices: Voices | None = None


@dataclass(frozen=True, slots=True)
class Gathered:
    """A stream: what is kept while samples of a track go by.

    ``run``: how many in a row up to here fulfil ``test`` (or have the same ``value``);
    ``tally``: how many up to here have the ``value`` that is here;
    ``latest``: ``value`` where ``test`` last held; ``number``, ``longest``: over all samples;
    ``first``, ``last``: the time where ``test`` first or last held; ``highest``, ``lowest``: pitches;
    ``climaxes``: how often the highest pitch is reached; ``climax``: when first.
    """

    kind: Literal[
        "run", "tally", "latest", "number", "longest", "first", "last", "highest", "lowest", "climaxes", "climax"
    ]  # fmt: skip
    track: Track
    test: Test | None
    value: Value | None


# ---- rules -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Licence:
    """A named excuse."""

    name: str
    test: Test
    reason: str


@dataclass(frozen=True, slots=True)
class Weight:
    """What a finding costs: points each time, at most ``cap`` in all (None: no limit), or once only."""

    severity: Severity
    points: int
    cap: int | None
    once: bool


@dataclass(frozen=True, slots=True)
class Slot:
    """A placeholder in a message: the words in braces and the value, or line, pair or exercise, they stand for."""

    words: str
    value: "Value | Ref"


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule ready to compile.

    ``track`` is where its samples come from; ``whole`` rules are judged once, at the end. It looks only
    ``where`` its scope and places let it, and is broken where ``broken`` holds, which includes that;
    ``message`` alternates text and slots, and so does ``taught``, the rule as its author tells it to students (empty
    if they did not), whose slots are constants. ``said`` tells where its conditions and
    values stand in the author's own words: from the beginning of one place to the end of another.
    """

    name: str
    span: Span
    message: tuple[str | Slot, ...]
    taught: tuple[str | Slot, ...]
    track: Track
    scope: Voices
    whole: bool
    where: Test
    broken: Test
    licences: tuple[Licence, ...]
    weight: Weight
    source: str
    streams: tuple[Gathered, ...]
    examples: tuple[ExampleItem, ...]
    origin: str
    said: tuple[tuple["Test | Value", tuple[Span, Span]], ...] = field(default=(), compare=False, repr=False)
