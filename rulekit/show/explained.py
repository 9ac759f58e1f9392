"""Why a rule is or is not broken, on the screen and in words."""

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from rulekit.exercise.model import Exercise
from rulekit.explaining import Explained
from rulekit.severity import Severity
from rulekit.show.grid import STYLES
from rulekit.show.reasons import reason, sentences
from rulekit.show.report import print_hanging
from rulekit.show.words import place_words

_OUTCOMES = {"broken": "broken", "excused": "excused", "kept": "not broken", "unknown": "could not be judged"}


def print_explained(console: Console, exercise: Exercise, found: Sequence[Explained], *, full: bool) -> None:
    """Print how a rule judged an exercise; places where it is not broken take one line unless ``full``."""
    console.print(Text(exercise.heading, style="bold"))
    if not found:
        console.print(Text("The rule finds nothing to look at here."))
    for each in found:
        broken = each.outcome in ("broken", "excused")
        style = STYLES[Severity.FAULT] if each.outcome == "broken" else ""
        console.print(Text(_heading(each), style=style), soft_wrap=True)
        for line in sentences(each) if full or broken else [reason(each)]:
            print_hanging(console, Text(line))


def _heading(each: Explained) -> str:
    who = ", ".join(f"{place.voice} {place.note}" for place in each.places) or ", ".join(each.voices)
    outcome = f"excused as {each.licence}" if each.licence else _OUTCOMES[each.outcome]
    return f"{place_words(each.bar, each.beat)} ({who}): {outcome}"
