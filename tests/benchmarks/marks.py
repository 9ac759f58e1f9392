"""What marking costs, beside checks written by hand with music21 and beside reading."""

from collections.abc import Sequence
from itertools import combinations, cycle

from music21 import note

from rulekit.compiler.monitor import monitors
from rulekit.exercise.formats.musicxml import read_musicxml, write_musicxml
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.reading import ReadOptions
from rulekit.language.library import read_ruleset
from rulekit.language.loading import load_ruleset
from rulekit.language.memory import Memory
from rulekit.language.ruleset import Ruleset
from rulekit.language.whole import examine
from rulekit.marking import mark
from rulekit.music.pitch import pitch_name
from rulekit.solving.answers import alternatives
from tests.benchmarks.by_hand import check
from tests.benchmarks.figures import Case, Figure, Wanted, best_of, timed
from tests.rulesets.figures import FIGURES

_ROUNDS = 20
_AS_WRITTEN = ReadOptions()
_RULES = {"plain": "first-species-strict", "florid": "second-species-strict", "several": "several-voices"}


def as_notes(exercise: Exercise) -> list[list[note.Note]]:
    """The voices as notes of music21."""
    return [
        [note.Note(pitch_name(event.pitch).replace("b", "-")) for event in voice.events if event.pitch is not None]
        for voice in exercise.voices
    ]


def _is_plain(exercise: Exercise) -> bool:
    """Whether it is note against note."""
    lengths = {event.length for voice in exercise.voices for event in voice.events}
    return len(lengths) == 1 and all(event.pitch for voice in exercise.voices for event in voice.events)


def figures(kind: str) -> list[Exercise]:
    """Fux's figures: in two voices plain or florid, or several voices note against note."""
    every = [figure.exercise for figure in FIGURES]
    voices, plain = kind == "several", kind != "florid"
    return [each for each in every if (len(each.voices) > 2) == voices and _is_plain(each) == plain]


def _by_hand(exercises: Sequence[Exercise]) -> float:
    """What the checks by hand take for all pairs.

    Florid lines are held against the checks of note against note, which are simpler: as much a note.
    """
    plain = exercises if all(map(_is_plain, exercises)) else figures("plain")
    pairs = [pair for exercise in plain for pair in combinations(as_notes(exercise), 2)]
    return best_of(3, lambda: [check(*pair, True) for pair in pairs]) / _notes(plain) * _notes(exercises)


def _notes(exercises: Sequence[Exercise]) -> int:
    return sum(len(voice.events) for exercise in exercises for voice in exercise.voices)


def _ready(kind: str) -> tuple[list[Exercise], Ruleset]:
    """Figures, and their ruleset with its monitors made."""
    exercises, ruleset = figures(kind), load_ruleset(_RULES[kind])
    for exercise in exercises:
        monitors(ruleset, exercise.setting)
    return exercises, ruleset


def _again(kind: str) -> Figure:
    exercises, ruleset = _ready(kind)
    ours = best_of(_ROUNDS, lambda: [mark(exercise, ruleset) for exercise in exercises])
    return Figure(ours, _by_hand(exercises))


def _first(kind: str) -> Figure:
    exercises, ruleset = _ready(kind)
    return Figure(timed(lambda: [mark(exercise, ruleset) for exercise in exercises]), _by_hand(exercises))


def _changed() -> Figure:
    """One note of a figure changed, all that may stand there tried: each of these markings."""
    exercises, ruleset = _ready("plain")
    tried = 0

    def change() -> None:
        nonlocal tried
        tried += sum(len(place.choices) for each in exercises for place in alternatives(each, ruleset))

    ours = timed(change)
    return Figure(ours / tried, _by_hand(exercises) / len(exercises))


def _long_piece(rounds: int) -> Figure:
    """Two hundred bars in four voices, against reading them from MusicXML."""
    lines = {"high": "A4/2 B4", "middle": "E4/1", "tenor": "C4/2 D4", "low": "A3/1"}
    text = "\n".join(f"{name} " + " | ".join([line] * 200) for name, line in lines.items())
    (exercise,), _ = read_exercises(text)
    ruleset = load_ruleset("several-voices")
    monitors(ruleset, exercise.setting)
    score = write_musicxml([exercise])
    reading = best_of(3, lambda: [piece.exercises(_AS_WRITTEN, "") for piece in read_musicxml(score, "")])
    trials = [timed(lambda: mark(exercise, ruleset)) for _ in range(rounds)]
    return Figure(trials[-1], reading)


def _checked_again() -> Figure:
    """A ruleset of 900 lines and more after an edit of one rule, against reading and checking all of it."""
    path, text = read_ruleset("first-species-strict")
    edited = text.replace("forbid motion is none", "-- a remark\n  forbid motion is oblique")
    memory, texts = Memory(), cycle([edited, text])
    whole = best_of(3, lambda: examine(text, str(path), path.parent))
    examine(text, str(path), path.parent, memory=memory)
    return Figure(best_of(6, lambda: examine(next(texts), str(path), path.parent, memory=memory)), whole)


_HAND = "checks by hand on music21"
CASES = [
    Case("figures in two voices, note against note: mark again", _HAND, Wanted(1 / 50), lambda: _again("plain")),
    Case("figures in two voices, florid: mark again", _HAND, Wanted(1 / 30), lambda: _again("florid")),
    Case("figures in three and four voices: mark again", _HAND, Wanted(1 / 30), lambda: _again("several")),
    Case("figures in two voices, note against note: mark, tables empty", _HAND, Wanted(1), lambda: _first("plain")),
    Case("figures in two voices, florid: mark, tables empty", _HAND, Wanted(1), lambda: _first("florid")),
    Case("figures in three and four voices: mark, tables empty", _HAND, Wanted(1), lambda: _first("several")),
    Case("figures in two voices, one note changed: mark each", _HAND, Wanted(1), _changed),
    Case("200 bars in four voices: mark, tables empty", "reading them", Wanted(1), lambda: _long_piece(1)),
    Case("200 bars in four voices: mark again", "reading them", Wanted(1), lambda: _long_piece(3)),
    Case("a ruleset after an edit: check", "checking all of it", Wanted(seconds=0.02), _checked_again),
]
