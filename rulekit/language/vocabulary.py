"""The words the language knows by itself: attributes, qualities, constants, voices. Add a word here."""

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import cast

from rulekit.language.typed import Attr, Const, Function, Kind, Pattern, Type, Value
from rulekit.music.mode import MODE_NAMES
from rulekit.music.motion import Motion
from rulekit.music.pitch import SIZES
from rulekit.music.rhythm import BarRhythm

EVERY = 1_000_000  # all earlier notes
WITH_CANTUS = "interval with cantus"


@dataclass(frozen=True, slots=True)
class Reads:
    """What a property depends on besides the thing's own pitches and the rhythm.

    ``back``: the pitches of how many notes before, EVERY for all of them; ``link``: whether anything comes before;
    ``now``: the moment at which the thing is looked at, which may be later than its beginning; ``ahead``: notes
    still to come, which no search can know; ``altered``: it tells altered notes from the mode's own; ``cantus``:
    what the cantus sounds when the note begins.
    """

    back: int = 0
    link: bool = False
    now: bool = False
    ahead: bool = False
    altered: bool = False
    cantus: bool = False


@dataclass(frozen=True, slots=True)
class Attribute:
    """What can be asked of a thing: the slot that holds it, the type of the answer, what it depends on.

    ``numbers`` says that it is the number of a bar, which messages count from the exercise's first.
    """

    slot: str
    type: Type
    reads: Reads = Reads()
    numbers: bool = False


@dataclass(frozen=True, slots=True)
class FlagWord:
    """An adjective: the slot it reads, whether it says the opposite, whether it is never unknown, what it reads."""

    slot: str
    negated: bool = False
    definite: bool = False
    reads: Reads = Reads()


_PLACED = {"bar": Attribute("bar", Type.COUNT, numbers=True), "beat": Attribute("beat", Type.COUNT)}

# What can be asked of a thing.
ATTRIBUTES: dict[Kind, dict[str, Attribute]] = {
    Kind.NOTE: {
        "pitch": Attribute("pitch", Type.PITCH),
        "degree": Attribute("degree", Type.DEGREE),
        "letter": Attribute("letter", Type.LETTER),
        "note-name": Attribute("pitch", Type.NOTE_NAME),
        "length": Attribute("length", Type.LENGTH),
        "rhythm": Attribute("rhythm", Type.RHYTHM),
        **_PLACED,
        "approach": Attribute("approach", Type.MELODIC, Reads(back=1)),
        "departure": Attribute("departure", Type.MELODIC),
        WITH_CANTUS: Attribute("with_cantus", Type.HARMONIC, Reads(cantus=True)),
    },
    Kind.DYAD: {
        "interval": Attribute("interval", Type.HARMONIC),
        "motion": Attribute("motion", Type.MOTION, Reads(back=1)),
        **_PLACED,
    },
    Kind.MOMENT: {
        **_PLACED,
        "number-sounding": Attribute("number_sounding", Type.COUNT),
    },
    Kind.LINE: {
        "highest": Attribute("highest", Type.PITCH),
        "lowest": Attribute("lowest", Type.PITCH),
        "ambitus": Attribute("ambitus", Type.MELODIC),
        "climax": Attribute("climax", Type.TIME),
        "climax-count": Attribute("climaxes", Type.COUNT),
    },
    Kind.PAIR: {},
    Kind.EXERCISE: {},
}

DOWNBEATS = {"on": "on the downbeat", "off": "off the downbeat"}
_PLACES = {
    DOWNBEATS["on"]: FlagWord("downbeat"),
    DOWNBEATS["off"]: FlagWord("downbeat", negated=True),
    "accented": FlagWord("accented"),
    "unaccented": FlagWord("accented", negated=True),
    "first": FlagWord("first", definite=True, reads=Reads(link=True)),
    "last": FlagWord("last", definite=True),
}

_ALTERED = Reads(altered=True)

# What a thing can be said to be.
FLAGS: dict[Kind, dict[str, FlagWord]] = {
    Kind.NOTE: {
        **_PLACES,
        "raised": FlagWord("sharpened", reads=_ALTERED),
        "lowered": FlagWord("flattened", reads=_ALTERED),
        "diatonic": FlagWord("diatonic", reads=_ALTERED),
        "leading-note": FlagWord("leading", reads=_ALTERED),
        "tied": FlagWord("tied"),
        "after-rest": FlagWord("rested", reads=Reads(link=True)),
        "in-compass": FlagWord("in_compass"),
        "held": FlagWord("held", reads=Reads(now=True)),
        "inner": FlagWord("inner"),
        "outer": FlagWord("inner", negated=True),
        "first-in-bar": FlagWord("opens_bar"),
    },
    Kind.DYAD: {**_PLACES, "crossed": FlagWord("crossed"), "on-bass": FlagWord("on_bass", reads=Reads(now=True))},
    Kind.MOMENT: dict(_PLACES),
    Kind.LINE: {},
    Kind.PAIR: {},
    Kind.EXERCISE: {},
}


@cache
def reads(slot: str) -> Reads:
    """What the property in a slot depends on; slots that no word reads depend on nothing more."""
    tables = [*ATTRIBUTES.values(), *FLAGS.values()]
    return next((word.reads for table in tables for word in table.values() if word.slot == slot), Reads())


def numbers_bars(value: Value) -> bool:
    """Whether a value is the number of a bar, or of one so many bars on or back."""
    match value:
        case Attr():
            tables = ATTRIBUTES.values()
            return any(word.numbers and word.slot == value.name for table in tables for word in table.values())
        case Function(name="plus"):
            return sum(map(numbers_bars, value.arguments)) == 1
        case Function(name="minus"):
            first, second = map(numbers_bars, value.arguments)
            return first and not second
        case _:
            return False


# What stands before that of which a property is asked, where it can be another word than ‘of’.
PREPOSITIONS = {"approach": "to", "departure": "from"}

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
    "letter": ((Type.PITCH,), Type.LETTER),
    "note-name": ((Type.PITCH,), Type.NOTE_NAME),
    "opposite": ((Type.DIRECTION,), Type.DIRECTION),
    "size": ((Type.HARMONIC, Type.MELODIC), Type.SIZE),
    "simple-size": ((Type.HARMONIC, Type.MELODIC), Type.SIZE),
}

WIDEST = 99


def _intervals() -> dict[str, Const]:
    families = {name: Pattern(i, i) for i, name in enumerate(SIZES, 1)}
    families |= {
        "step": Pattern(2, 2, exact=True, sung=True),
        "leap": Pattern(3, WIDEST, exact=True, sung=True),
        "repetition": Pattern(1, 1, "P", exact=True, sung=True),
        "chromatic": Pattern(1, 1, "A", exact=True, sung=True),
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


def _rhythms() -> dict[str, Const]:
    """Rests, and notes that are tied into the next bar: what only a rhythm is made of."""
    found: dict[str, Const] = {}
    for name, const in _lengths().items():
        value = cast(Fraction, const.value)
        found[name.replace("-note", "") + "-rest"] = Const(BarRhythm((-value,)), Type.RHYTHM)
        found[f"tied-{name}"] = Const(BarRhythm((value,), tied=True), Type.RHYTHM)
    return found


CONSTANTS: dict[str, Const] = {
    **_intervals(),
    **_lengths(),
    **_rhythms(),
    **{kind.value: Const(kind, Type.MOTION) for kind in Motion},
    "up": Const(1, Type.DIRECTION),
    "down": Const(-1, Type.DIRECTION),
    "level": Const(0, Type.DIRECTION),
    "duple": Const("duple", Type.METRE),
    "triple": Const("triple", Type.METRE),
    **{name: Const(name, Type.MODE) for name in MODE_NAMES},
}

# What is said of two voices for what is sung.
BETWEEN_VOICES = {"step": "second", "repetition": "P1", "chromatic": "A1"}

# The words before ‘than’: whether they mean more, and of what values they are said.
COMPARATIVES: dict[str, tuple[bool, tuple[Type, ...]]] = {
    word: (greater, types)
    for pair, types in {
        ("wider", "narrower"): (Type.HARMONIC, Type.MELODIC),
        ("longer", "shorter"): (Type.LENGTH,),
        ("higher", "lower"): (Type.PITCH,),
        ("later", "earlier"): (Type.TIME,),
        ("more", "less"): (Type.COUNT, Type.DEGREE, Type.SIZE, Type.SHARE),
    }.items()
    for word, greater in zip(pair, (True, False), strict=True)
}

# What is called otherwise than an author may expect.
OTHERWISE = {"range": "ambitus", "moment": "sonority", "moments": "sonorities", "here": "it"}

# What a value of a type is like.
SUCH_AS: dict[Type, str] = {
    Type.COUNT: "3, a whole number", Type.INTERVAL: "P5 or third", Type.PITCH: "‘pitch C4’",
    Type.DEGREE: "5, a number from 1 to 7", Type.MOTION: "contrary", Type.DIRECTION: "up", Type.LENGTH: "half-note",
    Type.SHARE: "50%", Type.NOTE_NAME: "B or F#", Type.MODE: "dorian", Type.RHYTHM: "‘(half-rest then half-note)’",
    Type.FIGURE: "cambiata, the name of a figure that is defined",
}  # fmt: skip

# Types an author may name for a parameter or a definition.
NAMED_TYPES: dict[str, Type] = {
    "count": Type.COUNT, "interval": Type.INTERVAL, "pitch": Type.PITCH, "degree": Type.DEGREE,
    "motion": Type.MOTION, "direction": Type.DIRECTION, "length": Type.LENGTH, "proportion": Type.SHARE,
    "mode": Type.MODE, "rhythm": Type.RHYTHM, "note-name": Type.NOTE_NAME, "figure": Type.FIGURE,
}  # fmt: skip
THING_TYPES: dict[str, Kind] = {"note": Kind.NOTE}


def is_known(word: str) -> bool:
    """Whether a word has a meaning already, so that an author can't give it another."""
    if word in CONSTANTS or word in FIXED or word in FUNCTIONS or word in ("it", "note"):
        return True
    return any(word in ATTRIBUTES[kind] or word in FLAGS[kind] or word in ROLES[kind] for kind in Kind)


LINE_SCOPES = (
    "each voice", "cantus", "counterpoint", "highest voice", "lowest voice", "inner voices", "outer voices",
    "upper voices", "moving voice", "voice in halves", "voice in quarters", "tied voice", "florid voice", "voice",
)  # fmt: skip
# Pairs by one name; others are two kinds of voices joined by ‘and’.
PAIR_SCOPES = ("each pair", "outer voices", "neighbouring voices", "inner voices", "upper voices")
SINGLE_VOICES = ("cantus", "highest voice", "lowest voice")  # of which there is never a second
BASS_SCOPE = "bass"
# Pairs that can be named in another way as well.
OTHERS = (
    "others",
    "other voices",
    "other voice",
    "another voice",
    "each other voice",
    "every other voice",
    "each voice",
)
_UPPER_AND_LOWER = ("upper and lower", "lower and upper", "upper and lower voices", "lower and upper voices")
SAME_PAIRS: dict[str, str] = dict.fromkeys(_UPPER_AND_LOWER, "each pair")
