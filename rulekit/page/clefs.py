"""Clefs, and which of them suit the voices of an exercise."""

from collections.abc import Sequence

from rulekit.exercise.model import Clef, Exercise, Voice
from rulekit.music.pitch import pitch_of, step

_WITHOUT_LEDGER = 5  # diatonic steps from the middle line that need none
_LEDGER, _LEFT_OUT = 1000, 3000  # the dislike of a ledger line, and of a clef left out between neighbours


# Source: the clefs of vocal music since the sixteenth century; common practice, no one source.
CLEFS = tuple(Clef(sign, line) for sign, line in (("G", 2), ("C", 1), ("C", 2), ("C", 3), ("C", 4), ("C", 5), ("F", 4)))
_SIGNED = {"G": step(pitch_of("G4")), "C": step(pitch_of("C4")), "F": step(pitch_of("F3"))}
_MODERN = (CLEFS[0], CLEFS[-1])


def middle(clef: Clef) -> int:
    """The diatonic step of the note on the middle line, C0 = 0."""
    return _SIGNED[clef.shape] + 2 * (3 - clef.line) + 7 * clef.octaves


def ledger_lines(voice: Voice, clef: Clef) -> int:
    """How many ledger lines a voice needs in a clef, all its notes together."""
    away = (abs(step(event.pitch) - middle(clef)) for event in voice.events if event.pitch is not None)
    return sum(max(0, distance - _WITHOUT_LEDGER + 1) // 2 for distance in away)


def modern_clefs(exercise: Exercise) -> tuple[Clef, ...]:
    """Treble or bass for each voice, whichever needs fewer ledger lines."""
    return tuple(min(_MODERN, key=lambda clef: ledger_lines(voice, clef)) for voice in exercise.voices)


def source_clefs(exercise: Exercise) -> tuple[Clef, ...]:
    """The clefs of the score, nothing if it does not say them all."""
    clefs = tuple(voice.clef for voice in exercise.voices if voice.clef is not None and voice.clef.shape in _SIGNED)
    return clefs if len(clefs) == len(exercise.voices) else ()


def vocal_clefs(exercise: Exercise) -> tuple[Clef, ...]:
    """Clefs with few ledger lines, neighbouring voices in neighbouring clefs, the higher never in the lower.

    Of all choices the one with the least dislike: ledger lines, clefs left out between neighbours, notes far
    from the middle line.
    """
    best: dict[int, tuple[int, tuple[int, ...]]] = dict.fromkeys(range(len(CLEFS)), (0, ()))
    for voice in exercise.voices:
        own = [_LEDGER * ledger_lines(voice, clef) + _off_centre(voice, clef) for clef in CLEFS]
        best = {number: _cheapest(best, number, own[number]) for number in range(len(CLEFS))}
    return tuple(CLEFS[number] for number in min(best.values())[1])


def _off_centre(voice: Voice, clef: Clef) -> int:
    """How far from the middle line the notes of a voice lie, less than a ledger line counts."""
    away = [abs(step(event.pitch) - middle(clef)) for event in voice.events if event.pitch is not None]
    return min(_LEDGER - 1, 10 * sum(away) // max(1, len(away)))


def _cheapest(best: dict[int, tuple[int, tuple[int, ...]]], clef: int, own: int) -> tuple[int, tuple[int, ...]]:
    """The best way to come to a clef from the voices above."""
    ways = [
        (paid + own + _dislike(chosen, clef), (*chosen, clef))
        for paid, chosen in best.values()
        if not chosen or chosen[-1] <= clef
    ]
    return min(ways)


def _dislike(above: Sequence[int], clef: int) -> int:
    return _LEFT_OUT * max(0, clef - above[-1] - 1) if above else 0
