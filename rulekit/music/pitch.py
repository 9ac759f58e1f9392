"""Spelled pitches and intervals as small integers.

A pitch is one integer that holds its diatonic step and its semitone, so that
the difference of two pitches *is* the spelled interval between them::

    pitch    = step * 256 + semitone      step: 7 per octave, C0 = 0
                                          semitone: MIDI number, C4 = 60
    interval = upper - lower              positive when rising

Nothing is ever respelled: B#3 and C4 are different integers.
"""

import re
from collections.abc import Sequence
from functools import cache
from typing import NewType

Pitch = NewType("Pitch", int)
Interval = NewType("Interval", int)

LETTERS = "CDEFGAB"
_WHITE = (0, 2, 4, 5, 7, 9, 11)
_WIDTH = 256
_PITCH = re.compile(r"([A-Ga-g])(#{1,2}|b{1,2}|)([0-9])")
UNISON = Interval(0)
_INTERVAL = re.compile(r"(P|M|m|A{1,4}|d{1,4})([1-9]\d*)")
_PERFECT_CLASSES = (0, 3, 4)  # unison, fourth, fifth


def make_pitch(letter: int, alteration: int, octave: int) -> Pitch:
    """The pitch of a letter (C = 0 … B = 6), an alteration in semitones and an octave."""
    semitone = 12 * (octave + 1) + _WHITE[letter] + alteration
    return Pitch((7 * octave + letter) * _WIDTH + semitone)


@cache
def pitch_of(name: str) -> Pitch:
    """Read a scientific pitch name such as ``C4``, ``F#3`` or ``Bb2`` (C4 = middle C), octaves 0 to 9.

    Raises ValueError when the name is not one.
    """
    match = _PITCH.fullmatch(name)
    if match is None:
        raise ValueError(f"‘{name}’ is not a pitch name such as C4, F#3 or Bb2")
    letter, signs, octave = match.groups()
    alteration = signs.count("#") - signs.count("b")
    return make_pitch(LETTERS.index(letter.upper()), alteration, int(octave))


def step(pitch: Pitch) -> int:
    """The diatonic step number, seven to the octave, C0 = 0."""
    return (pitch + 64) >> 8


def semitone(pitch: Pitch) -> int:
    """The MIDI number, C4 = 60."""
    return pitch - step(pitch) * _WIDTH


def letter(pitch: Pitch) -> int:
    """The letter as a number, C = 0 … B = 6."""
    return step(pitch) % 7


def pitch_class(pitch: Pitch) -> Pitch:
    """The same note in octave 0: equal for all pitches of one note name (C#4 and C#5, but not Db5)."""
    return make_pitch(letter(pitch), alteration(pitch), 0)


def octave(pitch: Pitch) -> int:
    """The scientific octave number of the written letter (B#3 is in octave 3)."""
    return step(pitch) // 7


def alteration(pitch: Pitch) -> int:
    """Sharps (positive) or flats (negative) on the letter, in semitones."""
    number = step(pitch)
    return semitone(pitch) - 12 * (number // 7 + 1) - _WHITE[number % 7]


@cache
def pitch_name(pitch: Pitch) -> str:
    """The scientific name: ``C#5``."""
    shift = alteration(pitch)
    signs = "#" * shift if shift >= 0 else "b" * -shift
    return f"{LETTERS[letter(pitch)]}{signs}{octave(pitch)}"


def between(start: Pitch, end: Pitch) -> Interval:
    """The interval from one pitch to another, negative when it falls.

    A diminished unison or second may have signs that disagree (C4 to Cb4 keeps the
    letter and loses a semitone); :func:`steps` and :func:`semitones` give both parts.
    """
    return Interval(end - start)


def make_interval(steps_: int, semitones_: int) -> Interval:
    """The interval of a number of diatonic steps (0 = unison) and of semitones."""
    return Interval(steps_ * _WIDTH + semitones_)


def steps(interval: Interval) -> int:
    """Diatonic steps, 0 for a unison, negative when it falls."""
    return (interval + 128) >> 8


def semitones(interval: Interval) -> int:
    """Chromatic semitones, negative when it falls."""
    return interval - steps(interval) * _WIDTH


def rising(interval: Interval) -> Interval:
    """The same interval turned upward (a diminished unison becomes an augmented one)."""
    return Interval(-interval) if interval < 0 else interval


def size(interval: Interval) -> int:
    """The generic size, 1 for a unison, 3 for a third, 10 for a tenth."""
    return abs(steps(interval)) + 1


def _natural_semitones(steps_: int) -> int:
    octaves, rest = divmod(steps_, 7)
    return 12 * octaves + _WHITE[rest]


@cache
def quality(interval: Interval) -> str:
    """``P``, ``M``, ``m``, or a run of ``A`` or ``d`` as long as the interval is augmented or diminished."""
    up = rising(interval)
    excess = semitones(up) - _natural_semitones(steps(up))
    if steps(up) % 7 in _PERFECT_CLASSES:
        return "P" if excess == 0 else "A" * excess or "d" * -excess
    if excess in (0, -1):
        return "M" if excess == 0 else "m"
    return "A" * excess if excess > 0 else "d" * (-excess - 1)


@cache
def interval_name(interval: Interval) -> str:
    """The name without direction: ``P5``, ``m10``, ``A4``."""
    return f"{quality(interval)}{size(interval)}"


@cache
def interval_short(interval: Interval) -> str:
    """The name where there is little room and notes stand near: ``P5``, ``m10``, ``aug4`` (A4 is a note), ``dim5``."""
    kind = quality(interval)
    altered = {"A": "aug", "d": "dim"}.get(kind[0])
    return f"{altered * len(kind)}{size(interval)}" if altered else interval_name(interval)


QUALITIES = {"P": "perfect", "M": "major", "m": "minor", "A": "augmented", "d": "diminished"}
SIZES: Sequence[str] = (
    "unison second third fourth fifth sixth seventh octave ninth tenth eleventh twelfth thirteenth fourteenth fifteenth"
).split()


def interval_words(quality: str, size: int) -> str:
    """An interval as musicians say it: ``diminished fifth``, ``octave``, ``doubly augmented fourth``, ``third``."""
    said = SIZES[size - 1] if size <= len(SIZES) else f"{size}th"
    if not quality or (quality == "P" and (size - 1) % 7 == 0):
        return said
    times = ["", "", "doubly ", "triply "][min(len(quality), 3)]
    return f"{times}{QUALITIES[quality[0]]} {said}"


@cache
def interval_of(name: str) -> Interval:
    """Read an interval name: ``P5``, ``m3``, ``A4``, ``M10``; always rising.

    Raises ValueError when there is no such interval (``M5``, ``P3``).
    """
    match = _INTERVAL.fullmatch(name)
    if match is None:
        raise ValueError(f"‘{name}’ is not an interval name such as P5, m3 or A4")
    kind, number = match[1], int(match[2])
    if number > 64:
        raise ValueError(f"‘{name}’ is wider than any instrument")
    perfect = (number - 1) % 7 in _PERFECT_CLASSES
    if (kind == "P") != perfect and kind in ("P", "M", "m"):
        right = f"P{number}" if perfect else f"M{number} or m{number}"
        raise ValueError(f"there is no interval ‘{name}’; did you mean {right}?")
    if kind[0] == "d" and number == 1:
        raise ValueError(f"a unison cannot be diminished; did you mean {'A' * len(kind)}1?")
    below = len(kind) if perfect else len(kind) + 1
    shift = {"P": 0, "M": 0, "m": -1, "A": len(kind), "d": -below}[kind[0]]
    return make_interval(number - 1, _natural_semitones(number - 1) + shift)


def simple(interval: Interval) -> Interval:
    """The interval brought within the octave; octaves stay octaves, unisons stay unisons."""
    up = rising(interval)
    octaves = max(steps(up) - 1, 0) // 7
    return make_interval(steps(up) - 7 * octaves, semitones(up) - 12 * octaves)
