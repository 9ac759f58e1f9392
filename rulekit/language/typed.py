"""The typed tree: rules with every name looked up and every type known.

A rule watches *samples* on a track: the notes of one voice, the dyads of a pair, or the moments
of the whole texture. A :class:`Ref` points from the sample that is judged (offset 0) to something
near it; everything a rule reads is an attribute of such a thing, a stream (a value kept while the
exercise goes by) or a constant.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from rulekit.language.syntax import ExampleItem, Span


class Type(StrEnum):
    """The types of the language, by the names that messages use."""

    INTERVAL = "interval"
    HARMONIC = "harmonic interval"
    MELODIC = "melodic interval"
    PITCH = "pitch"
    LETTER = "letter"
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


class Kind(StrEnum):
    """The things that rules speak of."""

    NOTE = "note"
    DYAD = "interval"
    MOMENT = "moment"
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

# ---- values ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Const:
    """A value known beforehand; an INTERVAL's value is a tuple of :class:`Pattern`.

    ``many`` says that the value is a tuple of values of the type: a set that a parameter names.
    """

    value: object
    type: Type
    many: bool = False


@dataclass(frozen=True, slots=True)
class Pattern:
    """A family of intervals: generic sizes from ``low`` to ``high``, of one quality or any.

    ``heading`` is 1 for rising, -1 for falling, 0 for both; ``exact`` keeps compounds out.
    """

    low: int
    high: int
    quality: str = ""
    heading: int = 0
    exact: bool = False


@dataclass(frozen=True, slots=True)
class Attr:
    """An attribute of a thing, None where the thing is missing."""

    ref: Ref
    name: str
    type: Type


@dataclass(frozen=True, slots=True)
class Fixed:
    """Something of the setting, known before the first note: ``mode``, ``number-of-bars``."""

    name: str
    type: Type


@dataclass(frozen=True, slots=True)
class Function:
    """A pure function of values: ``direction``, ``size``, ``width``, ``span``, ``motion``, ``plus`` …"""

    name: str
    arguments: tuple["Value", ...]
    type: Type


@dataclass(frozen=True, slots=True)
class Stream:
    """The value that the rule's stream of this number has at the sample (or at the end)."""

    number: int
    type: Type


Value = Const | Attr | Fixed | Function | Stream

# ---- conditions ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Among:
    """Whether a value is in a set."""

    value: Value
    members: frozenset[object]


@dataclass(frozen=True, slots=True)
class Relation:
    """Whether two values are ``==``, ``<``, ``<=`` (greater is written the other way round)."""

    operator: Literal["==", "<", "<="]
    left: Value
    right: Value


@dataclass(frozen=True, slots=True)
class Flag:
    """A yes-or-no attribute. ``definite``: a missing thing does not have it, rather than unknown."""

    ref: Ref
    name: str
    definite: bool = False


@dataclass(frozen=True, slots=True)
class Exists:
    """Whether a thing is there; never unknown."""

    value: Value


@dataclass(frozen=True, slots=True)
class Same:
    """Whether two things are in one voice."""

    left: Ref
    right: Ref


@dataclass(frozen=True, slots=True)
class Holds:
    """A quantifier over what sounds at the sample's moment; unknown only where there is no such moment.

    ``condition`` speaks of each dyad or note of ``scope`` as HERE. ``some``: at least one fulfils it;
    ``every``: none breaks it; ``no``: none fulfils it.
    """

    offset: int
    quantifier: Literal["some", "every", "no"]
    kind: Kind
    scope: "Voices"
    condition: "Test"


@dataclass(frozen=True, slots=True)
class Negation:
    """The opposite; unknown stays unknown."""

    inner: "Test"


@dataclass(frozen=True, slots=True)
class All:
    """Whether all hold."""

    parts: tuple["Test", ...]


@dataclass(frozen=True, slots=True)
class AnyOf:
    """Whether at least one holds."""

    parts: tuple["Test", ...]


Test = Among | Relation | Flag | Exists | Same | Holds | Negation | All | AnyOf

# ---- tracks and streams ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Voices:
    """Which voices, or which pairs of voices, by the words of the language.

    ``numbers`` are voice numbers from 1 at the top, where the words name them.
    """

    words: str
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Track:
    """Where samples come from.

    ``role`` chooses, within the rule's own voices, whose: ``""`` the rule's own line or pair,
    ``upper``, ``lower``, ``cantus``, ``counterpoint`` a line of its pair; ``voices`` (for a rule on the
    whole exercise) names them outright. ``sample`` keeps strong or accented places only.
    """

    kind: Kind
    role: str = ""
    sample: Literal["", "strong", "accented"] = ""
    voices: Voices | None = None


@dataclass(frozen=True, slots=True)
class Gathered:
    """A stream: what is kept while samples of a track go by.

    ``run``: how many in a row up to here fulfil ``test`` (or have the same ``value``);
    ``latest``: ``value`` where ``test`` last held; ``number``, ``longest``: over all samples;
    ``first``, ``last``: the time where ``test`` first or last held; ``highest``, ``lowest``: pitches;
    ``climaxes``: how often the highest pitch is reached; ``climax``: when first.
    """

    kind: Literal["run", "latest", "number", "longest", "first", "last", "highest", "lowest", "climaxes", "climax"]
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

    severity: Literal["fault", "warning", "advice"]
    points: int
    cap: int | None
    once: bool


@dataclass(frozen=True, slots=True)
class Slot:
    """A placeholder in a message: the words in braces and the value or thing they stand for."""

    words: str
    value: "Value | Ref"


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule ready to compile.

    ``track`` is where its samples come from; ``whole`` rules are judged once, at the end. It is broken
    where ``broken`` holds; ``message`` alternates text and slots.
    """

    name: str
    span: Span
    message: tuple[str | Slot, ...]
    track: Track
    scope: Voices
    whole: bool
    broken: Test
    licences: tuple[Licence, ...]
    weight: Weight
    source: str
    streams: tuple[Gathered, ...]
    examples: tuple[ExampleItem, ...]
    origin: str
