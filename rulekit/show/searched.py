"""What the commands that search have found, for a person.

Lines that go into typed notation, beside exercises, are comments.
"""

from collections.abc import Iterator, Mapping, Sequence

from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import write_exercise
from rulekit.music.pitch import pitch_name
from rulekit.show.words import counted
from rulekit.solving.answers import Difference, Edit, Mended, PointsApart, WhyNot, Worth
from rulekit.solving.cantuses import Over
from rulekit.solving.problem import Problem
from rulekit.solving.sketch import range_in_words

_Witness = tuple[Exercise, str] | None  # what is allowed, and the rule of the other ruleset that forbids it
NO_LINE = "-- there is no such line; ‘rulekit whynot’ tells why"
SOLVABLE = "there are lines; ‘rulekit count’ says how many"
AUDIT_HEADING = "rule: share of all candidate lines it removes alone; share of what the other rules leave"
SHARES = {
    "alone": "What each rule removes of all candidate lines", "last": "What it removes of those that the others leave",
}  # fmt: skip
SPLITS = {"by_opening": "by opening", "by_close": "by the note before the last", "by_warnings": "by number of warnings"}


def searched_words(problem: Problem) -> str:
    """What was searched, with the rhythm that the rules gave it on a line of its own."""
    rhythm = f"\n-- rhythm: {problem.rhythm}" if problem.rhythm else ""
    return f"{room_words(problem)}{rhythm}"


def room_words(problem: Problem) -> str:
    """What was searched, on one line."""
    free = [
        f"{label} from {range_in_words(problem, voice)}"
        for voice, label in enumerate(problem.labels)
        if any(len(slot.choices) > 1 for slot in problem.lines[voice])
    ]
    found = f"free: {'; '.join(free)}" if free else "nothing is to be found (write ? where a note is; r is a rest)"
    return f"{problem.heading}: {problem.ruleset.title}; {found}"


def rhythm_line(broken: Sequence[str]) -> str:
    """That the rhythm asked for breaks some rules, and what to do."""
    mend = "leave out --species, for the ruleset says the rhythm, or write another as a sketch"
    return f"-- this rhythm breaks {', '.join(broken)}: {mend}"


# ---- complete, sample, cantus, mend ------------------------------------------------------------------


def loses_words(points: int) -> str:
    """What a line loses that has no fault."""
    return f"loses {counted(points, 'point')} for warnings and advice"


def drawn_words(total: int, seed: int, points: int | None = None) -> str:
    """From how many lines one was drawn; all lose so many ``points`` if that was asked for."""
    losing = "" if points is None else f" that {'loses' if total == 1 else 'lose'} {counted(points, 'point')}"
    return f"one of {total}{losing}, drawn with seed {seed}"


def lost_words(lost: int) -> str:
    """What an exercise loses before it is mended."""
    return f"{counted(lost, 'point')} lost as it stands"


def single_change_line(edit: Edit, lost: int) -> str:
    """The one note that clears most."""
    return f"-- the one note that clears most: {_edit_words(edit)}; then {counted(lost, 'point is', 'points are')} lost"


def mended_words(mended: Mended) -> str:
    """What was changed, and how far in all."""
    edits = "; ".join(map(_edit_words, mended.edits)) or "nothing to change"
    return f"{edits} ({counted(mended.distance, 'step')} in all)"


def _edit_words(edit: Edit) -> str:
    return f"bar {edit.bar}, {edit.voice}: {pitch_name(edit.old)} to {pitch_name(edit.new)}"


# ---- count, audit, whynot ----------------------------------------------------------------------------


def sum_line(heading: str, totals: Sequence[int]) -> str:
    """How many lines there are in several rhythms."""
    return f"\n-- {heading}: {counted(sum(totals), 'line')} in these {len(totals)} rhythms"


def split_line(what: str, split: Mapping[str, str]) -> str:
    """How many lines there are of each kind."""
    return f"  {what}: " + ", ".join(f"{name} {lines}" for name, lines in split.items())


def worth_line(worth: Worth) -> str:
    """What a rule is worth."""
    note = "  never decides anything here" if not worth.last else ""
    note = "  forbids everything" if worth.alone == 1 else note
    return f"  {worth.rule:32} {float(worth.alone):8.2%} {float(worth.last):8.2%}{note}"


def conflict_lines(pairs: Iterator[tuple[str, str]]) -> Iterator[str]:
    """The pairs of rules that leave no line together, as they are found."""
    yield "pairs of rules that leave no line together, though each alone does:"
    found = False
    for one, other in pairs:
        found = True
        yield f"  {one} and {other}"
    if not found:
        yield "  none"


def fixed_notes(reason: WhyNot, problem: Problem) -> list[str]:
    """The given notes that stand in the way."""
    return [f"{problem.labels[n.voice]} {pitch_name(n.pitch)} in bar {n.bar}" for n in reason.notes]


def reason_lines(reason: WhyNot, notes: Sequence[str]) -> Iterator[str]:
    """Why there is no line."""
    yield (
        f"no line gets past bar {reason.bar} of {reason.bars}. "
        "These alone exclude each other; without any one of them the others could be met:"
    )
    yield from (f"  rule {name}" for name in reason.rules)
    yield from (f"  note {note}" for note in notes)


# ---- compare -----------------------------------------------------------------------------------------


def differing_lines(
    names: tuple[str, str], rules: Mapping[str, Sequence[str]], left_out: Sequence[str]
) -> Iterator[str]:
    """Which rules two rulesets do not share, and which of them were left out."""
    first, second = names
    yield f"-- rules only in {first}: {', '.join(rules['only_first']) or 'none'}"
    yield f"-- rules only in {second}: {', '.join(rules['only_second']) or 'none'}"
    yield f"-- rules of both that differ: {', '.join(rules['changed']) or 'none'}"
    if left_out:
        yield f"-- left out, for no version of them is a fault (--points compares them): {', '.join(left_out)}"


def both_line(found: Difference | Over) -> str:
    """How much both rulesets allow."""
    if isinstance(found, Over):
        return f"--   pairs of cantus and line allowed by both: {found.both}"
    return f"--   allowed by both: {found.both}"


def apart_lines(names: tuple[str, str], found: Difference | Over) -> Iterator[str]:
    """What only one of two rulesets allows: how much, and a witness."""
    for name, other, number, witness in _apart(names, found):
        yield f"--   allowed by {name} and not by {other}: {number}"
        if witness is not None:
            exercise, rule = witness
            notation = write_exercise(exercise).rstrip()
            yield f"--   such as this, which {other} forbids by {rule}:\n\n{notation}\n"


def witnesses(names: tuple[str, str], found: Difference | Over) -> Iterator[tuple[str, Exercise]]:
    """What one of two rulesets allows and the other forbids, with a note on it."""
    for name, other, _, witness in _apart(names, found):
        if witness is not None:
            yield f"allowed by {name}; {other} forbids it by {witness[1]}", witness[0]


def _apart(names: tuple[str, str], found: Difference | Over) -> Iterator[tuple[str, str, int, _Witness]]:
    first, second = names
    yield first, second, found.only_first, found.first_witness
    yield second, first, found.only_second, found.second_witness


def points_line(names: tuple[str, str], apart: PointsApart) -> str:
    """Which of two rulesets takes more points off what both allow."""
    first, second = names
    return (
        f"--   of those allowed by both, {first} takes more points off {apart.first} (up to {apart.most[0]} more), "
        f"{second} off {apart.second} (up to {apart.most[1]} more), as many off {apart.alike}"
    )


def strictness_lines(names: tuple[str, str], strict: bool, lenient: bool) -> Iterator[str]:
    """Whether each of two rulesets is at least as strict as the other."""
    first, second = names
    for one, other, proved in ((first, second, strict), (second, first, lenient)):
        said = "at least as strict" if proved else "not at least as strict"
        yield f"-- over these, by faults, {one} is {said} as {other} (proved)"
