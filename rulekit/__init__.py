"""Counterpoint rules written once, in words a musician reads.

>>> from rulekit import load_exercises, load_ruleset, mark           # doctest: +SKIP
>>> for exercise in load_exercises("selim-harnas.notes"):                   # doctest: +SKIP
...     print(mark(exercise, load_ruleset("first-species-strict")).mark)
"""

from rulekit import displays

TYPE_CHECKING = False  # as type checkers take it; nothing is loaded before a command begins
if TYPE_CHECKING:
    from pathlib import Path

    from rulekit.diagnostics import RulekitError
    from rulekit.exercise.model import Exercise
    from rulekit.language.loading import load_ruleset
    from rulekit.language.ruleset import Ruleset
    from rulekit.marking import Finding, Marked, mark

__all__ = ["Exercise", "Finding", "Marked", "RulekitError", "Ruleset", "load_exercises", "load_ruleset", "mark"]


_HOMES = {
    "Exercise": "exercise.model", "Finding": "marking", "Marked": "marking", "RulekitError": "diagnostics",
    "Ruleset": "language.ruleset", "load_ruleset": "language.loading", "mark": "marking",
}  # fmt: skip


def _drawn(thing: object) -> str:
    """A thing as a notebook shows it."""
    from rulekit.page.notebook import html_of

    return html_of(thing)


displays.drawn_by(_drawn)


def __getattr__(name: str) -> object:
    """A name from the module that has it, loaded when it is asked for, so that a command begins at once."""
    from importlib import import_module

    if name not in _HOMES:
        raise AttributeError(f"module ‘{__name__}’ has no attribute ‘{name}’")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)


def load_exercises(path: "str | Path") -> "list[Exercise]":
    """The exercises of a file: typed notation, MusicXML, MEI, Humdrum kern, ABC or MIDI.

    Raises RulekitError with every mistake found in it.
    """
    from pathlib import Path

    from rulekit.diagnostics import RulekitError
    from rulekit.exercise.scores import load_scores

    exercises, problems = load_scores(Path(path))
    if problems:
        raise RulekitError(problems)
    return exercises
