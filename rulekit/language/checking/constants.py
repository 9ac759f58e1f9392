"""Values known beforehand: literals, and some value of each type."""

from fractions import Fraction

from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language import vocabulary as v
from rulekit.language.checking.errors import CheckError
from rulekit.language.typed import Type
from rulekit.music.pitch import interval_of, pitch_of, quality, size
from rulekit.music.rhythm import BarRhythm

TYPICAL: dict[Type, t.Const] = {
    Type.COUNT: t.Const(1, Type.COUNT),
    Type.INTERVAL: t.Const((t.Pattern(5, 5, "P"),), Type.INTERVAL),
    Type.PITCH: t.Const(pitch_of("C4"), Type.PITCH),
    Type.DEGREE: t.Const(1, Type.DEGREE),
    Type.MOTION: v.CONSTANTS["contrary"],
    Type.DIRECTION: v.CONSTANTS["up"],
    Type.LENGTH: v.CONSTANTS["whole-note"],
    Type.SHARE: t.Const(5000, Type.SHARE),
    Type.MODE: v.CONSTANTS["dorian"],
    Type.NOTE_NAME: t.Const(pitch_of("C0"), Type.NOTE_NAME),
    Type.RHYTHM: t.Const(BarRhythm((Fraction(4),)), Type.RHYTHM),
    Type.FIGURE: t.Const((), Type.FIGURE, many=True),
}


def stand_in(type_word: str) -> t.Const | None:
    """Some value of a type, for a parameter whose own value is a mistake; None for an unknown type."""
    type_ = v.NAMED_TYPES.get(type_word)
    return None if type_ is None else TYPICAL[type_]


def literal(expr: s.Literal_) -> t.Const:
    """The value of a written interval, pitch, percentage, number or note name; raises CheckError for no interval."""
    match expr.kind:
        case "interval":
            return _interval(expr)
        case "pitch":
            return t.Const(pitch_of(expr.text), Type.PITCH)
        case "percent":
            return t.Const(int(expr.text) * 100, Type.SHARE)
        case "note name":
            return t.Const(pitch_of(f"{expr.text}0"), Type.NOTE_NAME)
        case "number":
            return t.Const(int(expr.text), Type.COUNT)


def _interval(expr: s.Literal_) -> t.Const:
    try:
        interval = interval_of(expr.text)
    except ValueError as error:
        message, _, near = str(error).partition("; did you mean ")
        hint = f"Did you mean ‘{near}" if near else "Intervals are written such as P5, m3, A4 or M10."
        raise CheckError(expr.span, message, hint.replace("?", "’?")) from error
    number = size(interval)
    return t.Const((t.Pattern(number, number, quality(interval)),), Type.INTERVAL)
