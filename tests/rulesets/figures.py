"""Worked examples of note against note from J. J. Fux, Gradus ad Parnassum (Vienna, 1725), public domain.

Figure numbers follow A. Mann's English edition (Norton, 1965). Voices stand from the highest staff to the
lowest; a note is a whole note. Figures 5 to 23 are in two voices, 101 to 118 in three, 160 to 172 in four.
"""

from dataclasses import dataclass

from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure: its number, its final, which voice (from 0 at the top) has the cantus, and its voices."""

    number: str
    final: str
    cantus: int
    voices: tuple[str, ...]

    @property
    def exercise(self) -> Exercise:
        """The figure as an exercise in the mode of its final."""
        labels = ["cantus" if i == self.cantus else f"voice-{i + 1}" for i in range(len(self.voices))]
        lines = [f"{label} {notes}" for label, notes in zip(labels, self.voices, strict=True)]
        (exercise,), problems = read_exercises("\n".join([f"mode: {self.final}", *lines]))
        assert not problems
        return exercise


FIGURES = (
    Figure(
        "5",
        "D",
        1,
        (
            "A4 A4 G4 A4 B4 C5 C5 B4 D5 C#5 D5",
            "D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4",
        ),
    ),
    Figure(
        "6",
        "D",
        0,
        (
            "D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4",
            "D3 D3 A3 F3 E3 D3 F3 C4 D4 C#4 D4",
        ),
    ),
    Figure(
        "11",
        "E",
        1,
        (
            "B4 C5 F4 G4 A4 C5 B4 E5 D5 E5",
            "E4 C4 D4 C4 A3 A4 G4 E4 F4 E4",
        ),
    ),
    Figure(
        "15",
        "G",
        1,
        (
            "G4 E4 D4 G4 G4 G4 A4 B4 G4 C5 A4 G4 F#4 G4",
            "G3 C4 B3 G3 C4 E4 D4 G4 E4 C4 D4 B3 A3 G3",
        ),
    ),
    Figure(
        "23",
        "A",
        0,
        (
            "A3 C4 B3 D4 C4 E4 F4 E4 D4 C4 B3 A3",
            "A3 A3 G3 F3 E3 E3 D3 C3 G3 A3 G#3 A3",
        ),
    ),
    Figure(
        "101",
        "D",
        0,
        (
            "D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4",
            "F3 A3 C4 A3 B3 D4 C4 E4 D4 C#4 D4",
            "D3 D3 A3 F3 E3 D3 F3 C3 D3 A3 D3",
        ),
    ),
    Figure(
        "105",
        "D",
        2,
        (
            "F4 A4 G4 F4 E4 F4 E4 G4 D4 C#4 D4",
            "D4 C4 C4 D4 Bb3 A3 C4 Bb3 A3 G3 A3",
            "D3 F3 E3 D3 G3 F3 A3 G3 F3 E3 D3",
        ),
    ),
    Figure(
        "108",
        "E",
        1,
        (
            "G4 E4 F4 A4 C5 C5 E5 C5 A4 G#4",
            "E4 C4 D4 C4 A3 A4 G4 E4 F4 E4",
            "E3 A3 D3 F3 F3 F3 C4 C4 D4 E4",
        ),
    ),
    Figure(
        "110",
        "F",
        0,
        (
            "F4 G4 A4 F4 D4 E4 F4 C5 A4 F4 G4 F4",
            "C4 C4 C4 D4 Bb3 B3 A3 A4 F4 D4 E4 F4",
            "F3 E3 F3 D3 G3 G3 F3 A2 D3 D3 C3 F2",
        ),
    ),
    Figure(
        "112",
        "F",
        2,
        (
            "A4 Bb4 C5 A4 Bb4 C5 A4 G4 C5 A4 Bb4 A4",
            "F4 D4 C4 C4 F4 G4 C4 E4 E4 F4 E4 F4",
            "F3 G3 A3 F3 D3 E3 F3 C4 A3 F3 G3 F3",
        ),
    ),
    Figure(
        "114",
        "G",
        1,
        (
            "B4 G4 G4 B4 G4 A4 B4 B4 C5 E4 F#4 G4 F#4 G4",
            "G3 C4 B3 G3 C4 E4 D4 G4 E4 C4 D4 B3 A3 G3",
            "G3 E3 E3 E3 E3 C3 G3 E3 C3 C3 B2 G2 D3 G2",
        ),
    ),
    Figure(
        "116",
        "A",
        1,
        (
            "E4 E4 G4 F4 E4 C5 A4 C5 B4 A4 G#4 A4",
            "A3 C4 B3 D4 C4 E4 F4 E4 D4 C4 B3 A3",
            "A2 A2 E3 D3 A3 A3 D3 C3 G3 A3 E3 A2",
        ),
    ),
    Figure(
        "118",
        "C",
        0,
        (
            "C4 E4 F4 G4 E4 A4 G4 E4 F4 E4 D4 C4",
            "G3 C4 A3 G3 C4 C4 E4 C4 B3 C4 B3 C4",
            "A2 C3 B2 D3 C3 E3 F3 E3 D3 C3 B2 A2",
        ),
    ),
    Figure(
        "160",
        "D",
        1,
        (
            "F4 A4 C5 B4 B4 D5 C5 E5 D5 C#5 D5",
            "D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4",
            "A3 F3 G3 G3 G3 A3 A3 C4 A3 A3 A3",
            "D3 D3 C3 G3 E3 D3 F3 C3 D3 A2 D3",
        ),
    ),
    Figure(
        "164",
        "D",
        2,
        (
            "F4 D4 C4 D4 D4 F4 E4 E4 D4 C#4 D4",
            "A3 A3 A3 F3 Bb3 A3 C4 C4 A3 A3 A3",
            "D3 F3 E3 D3 G3 F3 A3 G3 F3 E3 D3",
            "D3 D3 A2 Bb2 G2 D3 A2 C3 D3 A2 D3",
        ),
    ),
    Figure(
        "166",
        "E",
        0,
        (
            "E4 C4 D4 C4 A3 A4 G4 E4 F4 E4",
            "B3 A3 A3 A3 C4 C4 E4 C4 D4 B3",
            "G#3 A3 F3 E3 E3 F3 C4 C4 A3 G#3",
            "E3 F3 D3 A2 A2 F2 E2 A2 D3 E3",
        ),
    ),
    Figure(
        "168",
        "E",
        2,
        (
            "B4 A4 A4 C5 C5 C5 E5 E5 D5 B4",
            "G#4 A4 F4 G4 A4 F4 C5 C5 A4 G#4",
            "E4 C4 D4 C4 A3 A4 G4 E4 F4 E4",
            "E3 F3 D3 E3 F3 F3 E3 A3 D3 E3",
        ),
    ),
    Figure(
        "170",
        "F",
        0,
        (
            "F4 G4 A4 F4 D4 E4 F4 C5 A4 F4 G4 F4",
            "C4 C4 C4 C4 Bb3 B3 A3 A4 F4 F4 E4 F4",
            "A3 G3 F3 A3 F3 G3 F3 E3 F3 A3 C4 A3",
            "F3 E3 F3 F2 Bb2 G2 D3 A2 D3 D3 C3 F2",
        ),
    ),
    Figure(
        "172",
        "F",
        3,
        (
            "C5 B4 C5 A4 A4 C5 C5 C5 C5 A4 Bb4 A4",
            "A4 G4 E4 F4 F4 G4 A4 G4 F4 F4 E4 F4",
            "F4 D4 C4 C4 D4 C4 C4 E4 C4 D4 Bb3 C4",
            "F3 G3 A3 F3 D3 E3 F3 C4 A3 F3 G3 F3",
        ),
    ),
)

# Figures that can't be as Fux wrote them, and the reason: their faults are looked for, not excused.
SLIPS = {
    "118": "the lowest voice ends on A under a cantus in C, sounds sevenths and fourths with the others in"
    " five bars and goes in octaves with the middle voice into the last bar but one",
}
