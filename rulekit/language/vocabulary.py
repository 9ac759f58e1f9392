"""The words the language knows by itself: attributes, qualities, constants, voices. Add a word here."""

from dataclasses import dataclass
from fractions import Fraction

from rulekit.language.typed import Const, Kind, Pattern, Type
from rulekit.music.mode import MODE_NAMES
from rulekit.music.motion import Motion


@dataclass(frozen=True, slots=True)
class FlagWord:
    """An adjective: the attribute it reads, whether it says the opposite, whether it is never unknown."""

    attribute: str
    negated: bool = False
    definite: bool = False


# What can be asked of a thing, and the type of the answer.
ATTRIBUTES: dict[Kind, dict[str, tuple[str, Type]]] = {
    Kind.NOTE: {
        "pitch": ("pitch", Type.PITCH),
        "degree": ("degree", Type.DEGREE),
        "letter": ("letter", Type.LETTER),
        "length": ("length", Type.LENGTH),
        "bar": ("bar", Type.COUNT),
        "beat": ("beat", Type.COUNT),
        "approach": ("approach", Type.MELODIC),
        "departure": ("departure", Type.MELODIC),
    },
    Kind.DYAD: {
        "interval": ("interval", Type.HARMONIC),
        "motion": ("motion", Type.MOTION),
        "bar": ("bar", Type.COUNT),
        "beat": ("beat", Type.COUNT),
    },
    Kind.MOMENT: {
        "bar": ("bar", Type.COUNT),
        "beat": ("beat", Type.COUNT),
        "number-sounding": ("number_sounding", Type.COUNT),
    },
    Kind.LINE: {
        "highest": ("highest", Type.PITCH),
        "lowest": ("lowest", Type.PITCH),
        "range": ("range", Type.MELODIC),
        "climax": ("climax", Type.TIME),
        "climax-count": ("climaxes", Type.COUNT),
    },
    Kind.PAIR: {},
    Kind.EXERCISE: {},
}

_PLACES = {
    "strong": FlagWord("strong"),
    "weak": FlagWord("strong", negated=True),
    "accented": FlagWord("accented"),
    "unaccented": FlagWord("accented", negated=True),
    "first": FlagWord("first", definite=True),
    "last": FlagWord("last", definite=True),
}

# What a thing can be said to be.
FLAGS: dict[Kind, dict[str, FlagWord]] = {
    Kind.NOTE: {
        **_PLACES,
        "raised": FlagWord("sharpened"),
        "lowered": FlagWord("flattened"),
        "diatonic": FlagWord("diatonic"),
        "leading-note": FlagWord("leading"),
        "tied": FlagWord("tied"),
        "after-rest": FlagWord("rested"),
        "in-compass": FlagWord("in_compass"),
        "held": FlagWord("held"),
        "inner": FlagWord("inner"),
        "outer": FlagWord("inner", negated=True),
    },
    Kind.DYAD: {**_PLACES, "crossed": FlagWord("crossed"), "on-bass": FlagWord("on_bass")},
    Kind.MOMENT: dict(_PLACES),
    Kind.LINE: {},
    Kind.PAIR: {},
    Kind.EXERCISE: {},
}

# Notes that have a name within a dyad, a moment or (as lines) a pair.
ROLES: dict[Kind, tuple[str, ...]] = {
    Kind.NOTE: (),
    Kind.DYAD: ("upper", "lower", "cantus", "counterpoint", "sounding-upper", "sounding-lower"),
    Kind.MOMENT: ("bass", "cantus"),
    Kind.LINE: (),
    Kind.PAIR: ("upper", "lower", "cantus", "counterpoint"),
    Kind.EXERCISE: (),
}

FIXED: dict[str, Type] = {
    "mode": Type.MODE,
    "metre": Type.METRE,
    "number-of-voices": Type.COUNT,
    "number-of-bars": Type.COUNT,
}

# ``X of value``: functions of a value, by the type they take and the type they give.
FUNCTIONS: dict[str, tuple[tuple[Type, ...], Type]] = {
    "direction": ((Type.MELODIC,), Type.DIRECTION),
    "degree": ((Type.PITCH,), Type.DEGREE),
    "opposite": ((Type.DIRECTION,), Type.DIRECTION),
    "size": ((Type.HARMONIC, Type.MELODIC), Type.SIZE),
    "simple-size": ((Type.HARMONIC, Type.MELODIC), Type.SIZE),
}

SIZES = (
    "unison second third fourth fifth sixth seventh octave ninth tenth eleventh twelfth thirteenth fourteenth fifteenth"
).split()
WIDEST = 99


def _intervals() -> dict[str, Const]:
    families = {name: Pattern(i, i) for i, name in enumerate(SIZES, 1)}
    families |= {
        "step": Pattern(2, 2, exact=True),
        "leap": Pattern(3, WIDEST, exact=True),
        "repetition": Pattern(1, 1, "P", exact=True),
        "chromatic": Pattern(1, 1, "A", exact=True),
        "perfect": Pattern(1, WIDEST, "P"),
        "major": Pattern(1, WIDEST, "M"),
        "minor": Pattern(1, WIDEST, "m"),
        "augmented": Pattern(1, WIDEST, "A"),
        "diminished": Pattern(1, WIDEST, "d"),
    }
    return {name: Const((family,), Type.INTERVAL) for name, family in families.items()}


def _lengths() -> dict[str, Const]:
    names = {"breve": 8, "whole-note": 4, "half-note": 2, "quarter-note": 1, "eighth-note": Fraction(1, 2)}
    lengths = {name: Const(Fraction(value), Type.LENGTH) for name, value in names.items()}
    lengths |= {f"dotted-{n}": Const(Fraction(v) * Fraction(3, 2), Type.LENGTH) for n, v in names.items()}
    return lengths


CONSTANTS: dict[str, Const] = {
    **_intervals(),
    **_lengths(),
    **{kind.value: Const(kind, Type.MOTION) for kind in Motion},
    "up": Const(1, Type.DIRECTION),
    "down": Const(-1, Type.DIRECTION),
    "level": Const(0, Type.DIRECTION),
    "duple": Const("duple", Type.METRE),
    "triple": Const("triple", Type.METRE),
    **{name: Const(name, Type.MODE) for name in MODE_NAMES},
}

# Types an author may name for a parameter or a definition.
NAMED_TYPES: dict[str, Type] = {
    "count": Type.COUNT, "interval": Type.INTERVAL, "pitch": Type.PITCH, "degree": Type.DEGREE,
    "motion": Type.MOTION, "direction": Type.DIRECTION, "length": Type.LENGTH, "proportion": Type.SHARE,
    "mode": Type.MODE, "size": Type.INTERVAL,
}  # fmt: skip
THING_TYPES: dict[str, Kind] = {"note": Kind.NOTE}


def is_known(word: str) -> bool:
    """Whether a word has a meaning already, so that an author can't give it another."""
    if word in CONSTANTS or word in FIXED or word in FUNCTIONS or word in ("it", "here", "note"):
        return True
    return any(word in ATTRIBUTES[kind] or word in FLAGS[kind] or word in ROLES[kind] for kind in Kind)


LINE_SCOPES = (
    "each voice", "cantus", "counterpoint", "highest voice", "lowest voice", "inner voices", "outer voices",
    "upper voices", "voice",
)  # fmt: skip
PAIR_SCOPES = (
    "each pair", "outer voices", "neighbouring voices", "inner voices", "upper voices", "cantus and counterpoint",
    "voices and",
)  # fmt: skip
BASS_SCOPE = "bass"
