"""Lines that can be said only in a rule that speaks of other things."""

from rulekit.language.intent import left_out
from rulekit.language.mending.attempts import Attempts, Found
from rulekit.language.mending.lines import SPEAKS, mended
from rulekit.language.mending.reasons import OPEN, asked_with, forgets_limit, forgets_voices, leaves_out
from rulekit.language.slips import data


def asked_of_others(file: Attempts, number: int) -> Found | None:
    """A line that is good as it stands in a rule that speaks of other things, and of what that rule speaks."""
    place = file.scope_of(number)
    for subject in data()["subjects"].values() if place else ():
        written = [*file.lines[: place - 1], f"  {subject}", *file.lines[place:]]
        if not file.is_spent() and file.wrong([*written, ""]) <= file.known_elsewhere(place, number):
            file.better[place] = f"  {subject}"
            return file.lines[number - 1], [asked_with(subject, file.lines[place - 1])]
    return None


def said_of_others(file: Attempts, number: int) -> Found | None:
    """A line as it is said in a rule that speaks of other things, if all of it can be said there."""
    place = file.scope_of(number) if file.unclear else 0
    speaks = SPEAKS.match(file.lines[place - 1]) if place else None
    for kind, subject in data()["subjects"].items() if speaks else ():
        said = _said_in(file, f"  {subject}", place, number) if speaks and kind != speaks[1] else None
        if said:
            why = asked_with(subject, file.lines[place - 1])
            file.better[place] = f"  {subject}"
            return said[0], [*said[1], why]
    return None


def _said_in(file: Attempts, scope: str, place: int, number: int) -> Found | None:
    """A line as it is said in a rule that begins so; it is tried in one."""
    written, better = file.lines, dict(file.better)
    file.lines, file.tried = [*written[: place - 1], scope, *written[place:]], {}
    said = mended(file, number, number, deepest=1)
    left = file.left(number, said[0]) if said else set[tuple[int, str]]()
    file.lines, file.tried, file.better, changed = written, {}, better, file.better != better
    if (
        said is None
        or changed
        or leaves_out(said)
        or OPEN in said[1]
        or not left <= file.known_elsewhere(place, number)
    ):
        return None
    line = written[number - 1]
    lost = any(left_out(line, said[0])) or forgets_limit(line, said[0]) or forgets_voices(line, said[0])
    return None if lost else said
