"""Pitches, time signatures and clefs out of the numbers and letters that formats write."""

from collections.abc import Iterable
from fractions import Fraction

from rulekit.exercise.limits import MAX_BEATS
from rulekit.exercise.model import Clef, Metre
from rulekit.exercise.reading import NOWHERE, Place, Unreadable
from rulekit.music.pitch import UNISON, Interval, Pitch, alteration, make_pitch, octave, pitch_name

_UNITS = {1, 2, 4, 8, 16, 32, 64}
_LINES = {"G": 2, "F": 4, "C": 3}


def metre(beats: str, unit: str, place: Place = NOWHERE) -> Metre:
    """The metre of a time signature such as 2 and 2, or 3+2 and 8; raises Unreadable."""
    terms = [term.strip() for term in beats.split("+")]
    if len(terms) > MAX_BEATS or not all(term.isdecimal() and len(term) < 4 for term in terms):
        raise Unreadable("this is not a time signature", "write such as 2/2 or 3/4", place)
    count = sum(map(int, terms))
    if not 1 <= count <= MAX_BEATS:
        raise Unreadable(f"a bar may have {MAX_BEATS} beats, no more", "correct the time signature", place)
    unit = unit.strip()
    if not unit.isdecimal() or len(unit) > 2 or int(unit) not in _UNITS:
        raise Unreadable("this is no unit of a time signature", "a whole note 1, a half 2, a quarter 4, …", place)
    return Metre(count, Fraction(4, int(unit)))


def sounding(
    letter: int, alter: Fraction | int | None, octave_: int, transposition: Interval = UNISON
) -> tuple[Pitch | None, str]:
    """The sounding pitch of a written one (letter C = 0 … B = 6), or what is wrong with it."""
    if alter is None or alter != int(alter):
        return None, "a quarter tone"
    if abs(alter) > 2:
        return None, "a note with more than two sharps or flats"
    pitch = Pitch(make_pitch(letter, int(alter), octave_) + transposition)
    if not 0 <= octave(pitch) <= 9 or abs(alteration(pitch)) > 2:
        return None, "a note beyond any voice"
    return pitch, ""


def chord(pitches: Iterable[Pitch | None]) -> str:
    """What is wrong with notes that one voice has at once."""
    return f"a chord ({', '.join(pitch_name(pitch) for pitch in pitches if pitch is not None)})"


def clef(shape: str, line: int, octaves: int = 0) -> Clef | None:
    """The clef of a shape G, F or C; None for any other."""
    if shape not in _LINES or abs(octaves) > 2:
        return None
    return Clef(shape, line if 1 <= line <= 5 else _LINES[shape], octaves)
