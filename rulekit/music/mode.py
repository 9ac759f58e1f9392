"""Modes by final and signature: the church modes, major and minor, at any pitch."""

import re
from dataclasses import dataclass
from functools import cached_property

from rulekit.diagnostics import nearest
from rulekit.music.pitch import LETTERS, Pitch, alteration, letter, make_pitch, octave, semitone, step
from rulekit.numbers import COUNTS

# Sharps that a mode has more than the major key on its final: D dorian has two fewer than D major.
# Source: Glareanus, Dodecachordon (1547), for the twelve modes; the rest is common practice, no source.
_AUTHENTIC = {"dorian": -2, "phrygian": -4, "lydian": 1, "mixolydian": -1, "aeolian": -3, "ionian": 0}
_OFFSETS = {
    **_AUTHENTIC,
    **{f"hypo{name}": offset for name, offset in _AUTHENTIC.items()},
    "locrian": -5,
    "major": 0,
    "minor": -3,
}
_NAME_OF_OFFSET = {offset: name for name, offset in _AUTHENTIC.items()} | {-5: "locrian"}
MODE_NAMES = tuple(_OFFSETS)

# Places on the line of fifths, C = 0, G = 1, F = -1; a sharp adds seven.
_FIFTHS = (0, 2, 4, -1, 1, 3, 5)
_MOST_SIGNS = 7

_MODE = re.compile(
    r"(?P<letter>[A-Ga-g])(?P<signs>#{1,2}|b{1,2}|)"
    r"(?:\s*,\s*(?P<count>\d)\s*(?P<kind>flat|sharp)s?|\s+(?P<name>[A-Za-z]+))?"
)


@dataclass(frozen=True)
class Mode:
    """A mode: its final, as a letter (C = 0 … B = 6) with an alteration in semitones, and its name.

    A hypo- mode has the final and the notes of its authentic mode; only the name differs.
    Raises ValueError for an unknown name, or when the signature needs more than seven signs.
    """

    letter: int
    alteration: int
    name: str

    def __post_init__(self) -> None:
        if self.name not in _OFFSETS:
            raise ValueError(_unknown_name(self.name))
        if abs(self.signature) > _MOST_SIGNS:
            raise ValueError(f"{self} needs {signs_in_words(self.signature)}; a signature has at most seven")

    def __str__(self) -> str:
        return f"{self.final} {self.name}"

    @property
    def final(self) -> str:
        """The name of the final without octave: ``D``, ``F#``."""
        return _final_name(self.letter, self.alteration)

    @cached_property
    def signature(self) -> int:
        """The key signature in fifths: 2 is two sharps, -1 is one flat."""
        return _major_signature(self.letter, self.alteration) + _OFFSETS[self.name]

    def place(self, pitch: Pitch) -> tuple[int, int]:
        """The degree of a pitch, 1 (the final) to 7, and how many semitones the mode's note is raised there.

        In D dorian, C#4 is (7, 1) and Bb4 is (6, -1).
        """
        found = self._places.get(pitch)
        if found is None:
            degree = (letter(pitch) - self.letter) % 7 + 1
            found = self._places[pitch] = degree, alteration(pitch) - self._signed(letter(pitch))
        return found

    @cached_property
    def _places(self) -> dict[Pitch, tuple[int, int]]:
        return {}

    def _signed(self, letter_: int) -> int:
        """The alteration that the signature gives a letter, in semitones."""
        return -((_FIFTHS[letter_] - self.signature + 1) // 7)

    def is_leading(self, pitch: Pitch) -> bool:
        """Whether a pitch is a leading note: degree 7, a semitone under the final."""
        above = step(pitch) + 1
        if above % 7 != self.letter:
            return False
        return semitone(make_pitch(self.letter, self.alteration, above // 7)) - semitone(pitch) == 1

    def pitches(self, low: Pitch, high: Pitch) -> list[Pitch]:
        """The notes of the mode in a range, both ends included, from the lowest."""
        octaves = range(octave(low), octave(high) + 1)
        scale = (make_pitch(letter_, self._signed(letter_), o) for o in octaves for letter_ in range(7))
        return [pitch for pitch in scale if low <= pitch <= high]

    def spell(self, semitone_: int) -> Pitch:
        """The spelling of a MIDI number in the mode.

        A note of the mode keeps its letter; the note a semitone under the final is the leading
        note; any other takes the spelling nearest to the mode's notes on the line of fifths,
        the sharp of two that are equally near. Common practice, no source.
        """
        leading = _major_signature(self.letter, self.alteration) + 5
        lowest = self.signature - 3
        fifths = lowest + (7 * semitone_ - lowest) % 12
        if (fifths - leading) % 12 == 0:
            fifths = leading
        letter_, alteration_ = _on_line_of_fifths(fifths)
        natural = make_pitch(letter_, 0, 0)
        return make_pitch(letter_, alteration_, (semitone_ - alteration_ - semitone(natural)) // 12)


def signs_in_words(fifths: int) -> str:
    """A signature in words: ``one flat`` is -1, ``no sharps or flats`` is 0."""
    if fifths == 0:
        return "no sharps or flats"
    count = COUNTS[abs(fifths)] if abs(fifths) <= _MOST_SIGNS else str(abs(fifths))
    return f"{count} {'sharp' if fifths > 0 else 'flat'}{'s' if abs(fifths) > 1 else ''}"


def mode_from(letter: int, alteration: int, fifths: int) -> Mode:
    """The mode of a final (letter C = 0 … B = 6, alteration in semitones) under a signature in fifths.

    Raises ValueError when no mode on that final has the signature.
    """
    name = _NAME_OF_OFFSET.get(fifths - _major_signature(letter, alteration))
    if name is None:
        final = _final_name(letter, alteration)
        raise ValueError(f"no mode with the final {final} has {signs_in_words(fifths)} in its signature")
    return Mode(letter, alteration, name)


def church_mode(name: str, fifths: int) -> Mode | None:
    """The mode of a name under a signature in fifths; None for any name but a church mode's.

    Major and minor are not taken, for programs write them unasked.
    """
    offset = {**_AUTHENTIC, "locrian": _OFFSETS["locrian"]}.get(name.casefold())
    if offset is None or abs(fifths) > _MOST_SIGNS:
        return None
    letter_, alteration_ = _on_line_of_fifths(fifths - offset)
    return Mode(letter_, alteration_, name.casefold())


def modes_on(letter: int, alteration: int) -> list[Mode]:
    """The authentic church modes on a final whose signature has seven signs at most."""
    major = _major_signature(letter, alteration)
    return [Mode(letter, alteration, name) for name, offset in _AUTHENTIC.items() if abs(major + offset) <= _MOST_SIGNS]


def mode_of(text: str) -> Mode:
    """Read a mode: ``D`` (the church mode on D), ``G dorian``, ``F# minor``, ``D, 1 flat``.

    Raises ValueError, in a musician's words, when the text is not a mode.
    """
    text = text.strip()
    match = _MODE.fullmatch(text)
    if match is None:
        raise ValueError(_not_a_mode(text))
    letter_ = LETTERS.index(match["letter"].upper())
    alteration_ = match["signs"].count("#") - match["signs"].count("b")
    if match["name"]:
        return Mode(letter_, alteration_, match["name"].lower())
    if match["count"]:
        return mode_from(letter_, alteration_, int(match["count"]) * (1 if match["kind"] == "sharp" else -1))
    if alteration_:
        raise ValueError(f"‘{text}’ is a final without its mode; write such as ‘{text} minor’")
    return mode_from(letter_, 0, 0)


def _final_name(letter_: int, alteration_: int) -> str:
    return LETTERS[letter_] + ("#" * alteration_ or "b" * -alteration_)


def _major_signature(letter_: int, alteration_: int) -> int:
    """The signature of the major key on a note, which is also its place on the line of fifths."""
    return _FIFTHS[letter_] + 7 * alteration_


def _on_line_of_fifths(place: int) -> tuple[int, int]:
    """The letter and alteration of a place on the line of fifths, C = 0."""
    return _FIFTHS.index((place + 1) % 7 - 1), (place + 1) // 7


def _unknown_name(name: str) -> str:
    near = nearest(name.lower(), MODE_NAMES)
    help_ = f"did you mean {near}?" if near else f"the modes are {', '.join(MODE_NAMES)}"
    return f"there is no mode ‘{name}’; {help_}"


def _not_a_mode(text: str) -> str:
    if text.lower() in _OFFSETS:
        return f"‘{text}’ lacks its final; write such as ‘D {text}’"
    return f"‘{text}’ is not a mode; write a final and a name such as ‘D dorian’, or ‘D, 1 flat’"
