"""Counterpoint rules written once, in words a musician reads.

    >>> from rulekit import load_exercises, load_ruleset, mark           # doctest: +SKIP
    >>> for exercise in load_exercises("clara.notes"):                   # doctest: +SKIP
    ...     print(mark(exercise, load_ruleset("first-species-strict")).mark)
"""

from pathlib import Path

from rulekit.diagnostics import RulekitError
from rulekit.exercise.model import Exercise
from rulekit.exercise.scores import load_scores
from rulekit.language.ruleset import Ruleset, load_ruleset
from rulekit.marking import Finding, Marked, mark

__all__ = ["Exercise", "Finding", "Marked", "RulekitError", "Ruleset", "load_exercises", "load_ruleset", "mark"]


def load_exercises(path: str | Path) -> list[Exercise]:
    """The exercises of a file: typed notation, MusicXML, Humdrum kern, ABC or MIDI.

    Raises RulekitError with every mistake found in it.
    """
    exercises, problems = load_scores(Path(path))
    if problems:
        raise RulekitError(problems)
    return exercises
