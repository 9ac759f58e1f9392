"""What a note is sung by: its letter, its degree of the mode, a movable or a fixed syllable.

Source: the syllables of tonic sol-fa with their altered vowels (raised to *i*, lowered to *e*, re to *ra*), and
those of the Italian and French schools for fixed syllables; common practice, no one source.
"""

from typing import Literal

from rulekit.music.mode import Mode
from rulekit.music.pitch import LETTERS, Pitch, alteration, letter, make_pitch, semitone

MinorFinal = Literal["re", "mi", "la"]
_MOVABLE = ("do", "re", "mi", "fa", "sol", "la", "ti")
_FIXED = ("do", "re", "mi", "fa", "sol", "la", "si")
_RAISED = {"do": "di", "re": "ri", "fa": "fi", "sol": "si", "la": "li"}
_LOWERED = {"re": "ra", "mi": "me", "sol": "se", "la": "le", "ti": "te"}
_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
_SIGNS = {-2: "♭♭", -1: "♭", 0: "", 1: "♯", 2: "♯♯"}


def _sign(semitones: int) -> str:
    return _SIGNS.get(semitones, "♯" * semitones or "♭" * -semitones)


def letter_name(pitch: Pitch) -> str:
    """The letter with its sign, without the octave: ``C♯``."""
    return LETTERS[letter(pitch)] + _sign(alteration(pitch))


def german_name(pitch: Pitch) -> str:
    """The German name of a note without its octave: ``cis``, ``b`` for B flat, ``h`` for B."""
    name, signs = LETTERS[letter(pitch)].lower(), alteration(pitch)
    if name == "b":
        name, signs = ("b", signs + 1) if signs < 0 else ("h", signs)
    if signs < 0 and name in "ae":
        return f"{name}s{'es' * (-signs - 1)}"
    return name + ("is" * signs if signs > 0 else "es" * -signs)


def degree_name(pitch: Pitch, mode: Mode) -> str:
    """The degree of the mode, with a sign where the note is raised or lowered against it: ``♯7``."""
    degree, raised = mode.place(pitch)
    return f"{_sign(raised)}{degree}"


def fixed_syllable(pitch: Pitch) -> str:
    """The syllable of the letter, C being do, with the note's sign."""
    return _FIXED[letter(pitch)] + _sign(alteration(pitch))


def movable_syllable(pitch: Pitch, mode: Mode, minor_final: MinorFinal = "la") -> str:
    """The syllable by the place in the mode.

    The final of a mode with a major third is do; that of a mode with a minor third is ``minor_final``,
    as the school has it. Notes between are raised or lowered syllables.
    """
    degree, raised = mode.place(pitch)
    start = _MOVABLE.index(minor_final) if is_minor(mode) else 0
    number = (start + degree - 1) % 7
    above_final = (_scale_semitones(mode)[degree - 1] + raised) % 12
    plain = (_SEMITONES[number] - _SEMITONES[start]) % 12
    return _altered(_MOVABLE[number], (above_final - plain + 6) % 12 - 6)


def is_minor(mode: Mode) -> bool:
    """Whether the third above the final is minor."""
    return _scale_semitones(mode)[2] == 3


def scale(mode: Mode, octave: int = 4) -> list[Pitch]:
    """The notes of the mode from its final in an octave up to the final above."""
    low = make_pitch(mode.letter, mode.alteration, octave)
    high = make_pitch(mode.letter, mode.alteration, octave + 1)
    return mode.pitches(low, high)


def _scale_semitones(mode: Mode) -> list[int]:
    notes = scale(mode)
    return [semitone(pitch) - semitone(notes[0]) for pitch in notes]


def _altered(syllable: str, semitones: int) -> str:
    if semitones == 1 and syllable in _RAISED:
        return _RAISED[syllable]
    if semitones == -1 and syllable in _LOWERED:
        return _LOWERED[syllable]
    return syllable + _sign(semitones)
