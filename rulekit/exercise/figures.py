"""Interval figures as the trade writes them over a bass: 3 5 6 8 10, with a sign where a note is altered.

Source: thoroughbass and counterpoint teaching since the seventeenth century; common practice, no one source.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from rulekit.exercise.model import Exercise, Note
from rulekit.exercise.timeline import Moment, moments
from rulekit.music.mode import Mode
from rulekit.music.pitch import Interval, alteration, interval_name, rising, simple, size


@dataclass(frozen=True, slots=True)
class Figure:
    """One interval above the voice that really sounds lowest.

    ``voice`` is the voice figured and ``bass`` the one measured from, both counted from the highest written, 0;
    ``interval`` is spelled and rising; ``sign`` is how the higher note is altered against the mode's signature
    (``#``, ``b``, ``n`` for a natural, doubled where the note is), empty where it is the mode's own.
    """

    voice: int
    bass: int
    interval: Interval
    sign: str = ""

    def words(self, reduced: bool = False) -> str:
        """The figure as written: ``10``, ``#6``; with ``reduced`` within the octave, an octave being 8."""
        return f"{self.sign}{size(simple(self.interval) if reduced else self.interval)}"

    @property
    def name(self) -> str:
        """The whole name of the interval: ``M10``."""
        return interval_name(self.interval)


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of one moment, in the order of the written voices, and the pairs of voices that are crossed.

    ``time`` is in quarter notes from the start; a pair is the higher and the lower written voice, from 0.
    """

    time: Fraction
    figures: tuple[Figure, ...]
    crossed: tuple[tuple[int, int], ...]


def figures(exercise: Exercise) -> Iterator[Figures]:
    """The figures of every moment at which two voices or more sound."""
    for moment in moments(exercise):
        found = figures_at(moment)
        if found.figures:
            yield found


def figures_at(moment: Moment) -> Figures:
    """The figures of a moment: every other sounding voice measured from the one that really sounds lowest."""
    mode, bass = moment.setting.mode, moment.bass_note
    others = [note for note in moment.notes if note is not None and note is not bass]
    found = tuple(_figure(note, bass, mode) for note in others)
    return Figures(moment.time, found, crossings(moment))


def _figure(note: Note, bass: Note, mode: Mode) -> Figure:
    return Figure(note.voice, bass.voice, rising(Interval(note.pitch - bass.pitch)), _sign(note, mode))


def _sign(note: Note, mode: Mode) -> str:
    """The sign that a note needs against the signature."""
    if mode.place(note.pitch)[1] == 0:
        return ""
    signs = alteration(note.pitch)
    return "#" * signs or "b" * -signs or "n"


def crossings(moment: Moment) -> tuple[tuple[int, int], ...]:
    """The pairs of voices, the higher written one first, whose lower one sounds above the other."""
    sounding = [(note.voice, note.pitch) for note in moment.notes if note is not None]
    return tuple((high, low) for (high, upper), (low, lower) in combinations(sounding, 2) if upper < lower)
