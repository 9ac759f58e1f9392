"""Worked examples from J. J. Fux, Gradus ad Parnassum (Vienna, 1725), public domain: five species, two to four voices.

Figure numbers follow A. Mann's English edition (Norton, 1965). Figures up to 88b are in two voices, 101 to 158 in
three, 160 to 203 in four.
"""

import re
from dataclasses import dataclass
from pathlib import Path

from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure: its number, its species (as text, for some mix two) and its notes."""

    number: str
    species: str
    exercise: Exercise

    @property
    def voices(self) -> int:
        return len(self.exercise.voices)


def _read() -> tuple[Figure, ...]:
    text = (Path(__file__).parent / "fux-1725.notes").read_text(encoding="utf-8")
    found, problems = read_exercises(text)
    assert not problems
    titles = [re.fullmatch(r"figure (\w+), species (.+)", exercise.title) for exercise in found]
    return tuple(Figure(title[1], title[2], each) for title, each in zip(titles, found, strict=True) if title)


FIGURES = _read()

# Figures that can't be as Fux wrote them, and the reason: their faults are looked for, not excused.
SLIPS = {
    "118": "the lowest voice ends on A under a cantus in C, sounds sevenths and fourths with the others in"
    " five bars and goes in octaves with the middle voice into the last bar but one",
    "125": "octaves between neighbouring voices, struck one after the other, into bar 4",
    "176": "the third voice stands an octave too high, above the first in six bars; lower its fifths are fourths",
    "184": "the voices go in parallel octaves or fifths into bars 2 and 8 and open on a note foreign to the mode",
    "203": "C# against F and A, in a bar far from the close; with C the bar is sound",
    "86a": "the downbeat of bar 12 strikes the seventh that the half note before it prepares: its tie is missing",
}

# Where the master departs from the rules that follow him: rule and bar of each fault, and the reason.
DEPARTURES: dict[str, tuple[set[tuple[str, int]], str]] = {
    "123": ({("dissonance", 10)}, "the leading note lies in the bass under the diminished fifth of the close"),
    "156": (
        {("resolution", 10), ("dissonance", 10)},
        "the leading note lies in the bass under the diminished fifth of the close",
    ),
}


def judged_by(figure: Figure) -> list[str]:
    """The rulesets that a figure is marked by: that of its species, and what is laid over it."""
    if " " in figure.species:
        return ["fifth-species-strict", "mixed-species", "several-voices"]
    species = {"1": "first", "2": "second", "3": "third", "4": "fourth", "5": "fifth"}
    strict = f"{species[figure.species]}-species-strict"
    return [strict, "several-voices"] if figure.voices > 2 else [strict]


def of_species(species: str, voices: range) -> list[Figure]:
    """The figures of one species in so many voices, slips left out."""
    return [f for f in FIGURES if f.species == species and f.voices in voices and f.number not in SLIPS]
