"""Why a rule is or is not broken, on the screen and in words."""

from collections.abc import Iterator, Sequence

from rulekit.exercise.model import Exercise
from rulekit.explaining import Explained
from rulekit.severity import Severity
from rulekit.show.grid import STYLES
from rulekit.show.reasons import reason, sentences
from rulekit.show.terminal import Screen
from rulekit.show.words import place_words

_OUTCOMES = {"broken": "broken", "excused": "excused", "kept": "not broken", "unknown": "could not be judged",
    "passed over": "not looked at",
}  # fmt: skip


def explained_lines(screen: Screen, exercise: Exercise, found: Sequence[Explained], *, full: bool) -> Iterator[str]:
    """How a rule judged an exercise; places where it is not broken take one line unless ``full``."""
    yield screen.hanging(exercise.heading, "bold", indent=0)
    if not found:
        yield "The rule finds nothing to look at here."
    for each in found:
        in_full = full or each.outcome in ("broken", "excused", "passed over")
        yield screen.line((_heading(each), STYLES[Severity.FAULT] if each.outcome == "broken" else ""))
        yield from map(screen.hanging, sentences(each) if in_full else [reason(each)])


def _heading(each: Explained) -> str:
    who = ", ".join(f"{place.voice} {place.note}" for place in each.places) or ", ".join(each.voices)
    outcome = f"excused as {each.licence}" if each.licence else _OUTCOMES[each.outcome]
    return f"{place_words(each.bar, each.beat)} ({who}): {outcome}"
