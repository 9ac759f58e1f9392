"""What a teacher asks of the space: the nearest line, why there is none, what differs, what rules are worth."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations
from random import Random

from rulekit.exercise.model import Exercise
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.pitch import Pitch, semitone, step
from rulekit.solving import folds
from rulekit.solving.graph import Graph, Limits, Node, build
from rulekit.solving.problem import Problem, candidates, fixed_line, speaks_of_ficta

_REACH = 9  # diatonic steps round a student's own notes that a mended line may use


# ---- mending ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Edit:
    """One note changed: in which bar and voice, from what to what."""

    bar: int
    voice: str
    old: Pitch
    new: Pitch


@dataclass(frozen=True, slots=True)
class Mended:
    """A legal line near a student's: the exercise, the edits, and how many steps they move in all."""

    exercise: Exercise
    edits: tuple[Edit, ...]
    distance: int


def problem_of(exercise: Exercise, ruleset: Ruleset) -> Problem:
    """The search for lines with the rhythm of an exercise, its cantus fixed, the other voices free near their notes."""
    setting = exercise.setting
    ficta = speaks_of_ficta(ruleset)
    lines = [fixed_line(voice) for voice in exercise.voices]
    for index, line in enumerate(lines):
        if index == exercise.cantus or not line:
            continue
        own = [slot.choices[0] for slot in line]
        low, high = min(own), max(own)
        room = _REACH - min(_REACH, step(high) - step(low)) + 3
        near = candidates(setting.mode, _moved(low, -room), _moved(high, room), ficta)
        lines[index] = tuple(replace(slot, choices=tuple(sorted({*near, *slot.choices}))) for slot in line)
    names = tuple(voice.name for voice in exercise.voices)
    return Problem(ruleset, setting, names, tuple(lines), exercise.title, exercise.first_bar)


def _moved(pitch: Pitch, steps: int) -> Pitch:
    """A pitch some diatonic steps away, near enough to bound a range."""
    return Pitch(pitch + steps * 256 + round(steps * 12 / 7))


def mend(exercise: Exercise, ruleset: Ruleset, number: int = 3, limits: Limits | None = None) -> list[Mended]:
    """The legal lines nearest to an exercise: fewest notes changed, then least distance moved.

    Empty if no legal line has its rhythm near its notes. Raises Exhausted.
    """
    problem = problem_of(exercise, ruleset)
    given = [[slot.choices[0] for slot in fixed_line(voice)] for voice in exercise.voices]
    starts = [{slot.onset: i for i, slot in enumerate(line)} for line in problem.lines]
    onsets = sorted({slot.onset for line in problem.lines for slot in line})

    def price(level: int, node: Node) -> tuple[int, int]:
        onset = onsets[level - 1]
        changed = distance = 0
        for voice, pitch in enumerate(node.choice):
            if pitch is not None:
                old = given[voice][starts[voice][onset]]
                changed += pitch != old
                distance += abs(step(pitch) - step(old)) or (semitone(pitch) != semitone(old))
        return changed, distance

    graph = build(problem, limits=limits)
    found = folds.best(graph, number, price)
    return [Mended(problem.exercise(line), _edits(problem, given, line), paid[1]) for paid, line in found]


def _edits(problem: Problem, given: Sequence[Sequence[Pitch]], line: folds.Line) -> tuple[Edit, ...]:
    metre = problem.setting.metre
    changes = [
        Edit(metre.bar_of(slot.onset) + problem.first_bar - 1, problem.labels[voice], old, new)
        for voice, slots in enumerate(problem.lines)
        for slot, old, new in zip(slots, given[voice], line[voice], strict=True)
        if old != new
    ]
    return tuple(sorted(changes, key=lambda edit: edit.bar))


def best_single_change(exercise: Exercise, ruleset: Ruleset) -> tuple[Edit, int] | None:
    """The one note that, changed, clears most points, and how many points are then lost; None if none helps."""
    problem = problem_of(exercise, ruleset)
    given = tuple(tuple(slot.choices[0] for slot in fixed_line(voice)) for voice in exercise.voices)
    now = mark(exercise, ruleset).lost
    best: tuple[int, int, Edit] | None = None
    for voice, line in enumerate(problem.lines):
        for place, slot in enumerate(line):
            for pitch in slot.choices:
                old = given[voice][place]
                if pitch == old:
                    continue
                changed = (*given[voice][:place], pitch, *given[voice][place + 1 :])
                lost = mark(problem.exercise((*given[:voice], changed, *given[voice + 1 :])), ruleset).lost
                bar = problem.setting.metre.bar_of(slot.onset) + problem.first_bar - 1
                edit = Edit(bar, problem.labels[voice], old, pitch)
                found = (lost, abs(step(pitch) - step(old)), edit)
                if lost < now and (best is None or found[:2] < best[:2]):
                    best = found
    return None if best is None else (best[2], best[0])


# ---- why not ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FixedNote:
    """A note that was given beforehand: its voice, bar and pitch."""

    voice: int
    slot: int
    bar: int
    pitch: Pitch


@dataclass(frozen=True, slots=True)
class WhyNot:
    """Why there is no line: rules and given notes that exclude each other, each of them needed for it.

    ``bar`` is where every partial line has ended, of all ``bars``.
    """

    rules: tuple[str, ...]
    notes: tuple[FixedNote, ...]
    bar: int
    bars: int


def why_not(
    problem: Problem, free: dict[tuple[int, int], tuple[Pitch, ...]] | None = None, limits: Limits | None = None
) -> WhyNot | None:
    """A smallest conflict of a problem without solutions, None if it has one.

    ``free`` says, for each given note that may be blamed (voice and slot, from 0), what it might have been
    otherwise. The conflict is minimal: without any one of its members there is a line. Raises Exhausted if
    any one of the searches for it reaches a limit.
    """
    graph = build(problem, limits=limits)
    if graph.ends:
        return None
    every = [_fixed(problem, voice, slot) for voice, slot in sorted(free or {})]
    rules: list[str | FixedNote] = [rule.name for rule in problem.ruleset.rules if rule.weight.severity == "fault"]

    def reach(kept: Sequence[str | FixedNote]) -> tuple[int, bool]:
        found = _reach(problem, kept, every, free or {}, limits)
        return found.died, bool(found.ends)

    # First what stops every line where the last one stops, then, of that, what is needed at all.
    core = _shrink([*every, *rules], lambda kept: reach(kept) <= (graph.died, False))
    core = _shrink(core, lambda kept: not reach(kept)[1])
    names = tuple(member for member in core if isinstance(member, str))
    notes = tuple(member for member in core if isinstance(member, FixedNote))
    return WhyNot(names, notes, _died(graph), problem.setting.bars)


def _shrink(
    members: list[str | FixedNote], conflict: Callable[[Sequence[str | FixedNote]], bool]
) -> list[str | FixedNote]:
    """Leave out every member without which the rest is still a conflict."""
    kept = list(members)
    for member in members:
        trial = [other for other in kept if other != member]
        if conflict(trial):
            kept = trial
    return kept


def _fixed(problem: Problem, voice: int, slot: int) -> FixedNote:
    given = problem.lines[voice][slot]
    return FixedNote(voice, slot, problem.setting.metre.bar_of(given.onset), given.choices[0])


def _reach(
    problem: Problem,
    kept: Sequence[str | FixedNote],
    every: Sequence[FixedNote],
    free: dict[tuple[int, int], tuple[Pitch, ...]],
    limits: Limits | None,
) -> Graph:
    """The graph of the problem with only these rules and given notes."""
    lines = [list(line) for line in problem.lines]
    for note in every:
        if note not in kept:
            choices = free[note.voice, note.slot]
            lines[note.voice][note.slot] = replace(lines[note.voice][note.slot], choices=choices)
    changed = replace(problem, lines=tuple(map(tuple, lines)))
    return build(changed, limits=limits, allowed=lambda rule: rule.name in kept)


def _died(graph: Graph) -> int:
    """The bar at which the last partial line ended."""
    onsets = sorted({slot.onset for line in graph.problem.lines for slot in line})
    return graph.problem.setting.metre.bar_of(onsets[min(graph.died, len(onsets) - 1)])


# ---- comparing -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Difference:
    """Over one cantus: the lines of both rulesets, of only one, and a witness of each with the rule that decides it."""

    both: int
    only_first: int
    only_second: int
    first_witness: tuple[Exercise, str] | None
    second_witness: tuple[Exercise, str] | None


def differing_rules(first: Ruleset, second: Ruleset) -> tuple[list[str], list[str], list[str]]:
    """The names of rules only in the first, only in the second, and in both but not alike."""
    ours, theirs = ({rule.name: _meaning(rule) for rule in ruleset.rules} for ruleset in (first, second))
    changed = [name for name in ours if name in theirs and ours[name] != theirs[name]]
    return [n for n in ours if n not in theirs], [n for n in theirs if n not in ours], changed


def _meaning(rule: t.Rule) -> object:
    tests = tuple(licence.test for licence in rule.licences)
    return rule.track, rule.scope, rule.broken, tests, rule.streams, rule.weight


def compare(problem: Problem, other: Ruleset, seed: int = 1, limits: Limits | None = None) -> Difference:
    """What a ruleset and another allow over the same cantus, counted exactly. Raises Exhausted."""
    first, second = problem, replace(problem, ruleset=other)
    lost_by_second, both = _forbidden(first, other, seed, limits)
    lost_by_first, _ = _forbidden(second, problem.ruleset, seed, limits)
    return Difference(both, lost_by_second[0], lost_by_first[0], lost_by_second[1], lost_by_first[1])


def _forbidden(
    problem: Problem, other: Ruleset, seed: int, limits: Limits | None
) -> tuple[tuple[int, tuple[Exercise, str] | None], int]:
    """How many lines of the problem another ruleset forbids, with a witness, and how many it allows."""
    watched = [
        replace(rule, name=f"{rule.name} ", weight=t.Weight("warning", 1, None, False))
        for rule in other.rules
        if rule.weight.severity == "fault"
    ]
    own = [rule for rule in problem.ruleset.rules if rule.weight.severity == "fault"]
    both = replace(problem.ruleset, rules=(*own, *watched))
    graph = build(replace(problem, ruleset=both), costed=True, limits=limits)
    by_cost = folds.count_by_cost(graph)
    allowed = by_cost.get(0, 0)
    forbidden = sum(by_cost.values()) - allowed
    witness = folds.sample(graph, Random(seed), 1, lambda cost: cost > 0)
    if not witness:
        return (forbidden, None), allowed
    exercise = problem.exercise(witness[0])
    deciding = mark(exercise, other).faults[0].rule
    return (forbidden, (exercise, deciding)), allowed


def at_least_as_strict(problems: Iterable[Problem], other: Ruleset) -> bool:
    """Whether over every problem the problem's ruleset allows nothing that the other forbids."""
    return all(_forbidden(problem, other, 1, None)[0][0] == 0 for problem in problems)


# ---- audit -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Worth:
    """What a rule is worth over some cantus firmi, as parts of 1.

    ``alone``: the share of all candidate lines that it removes by itself; ``last``: the share of the
    lines that all other rules leave which it removes.
    """

    rule: str
    alone: Fraction
    last: Fraction


def audit(problems: Sequence[Problem], ruleset: Ruleset, limits: Limits | None = None) -> list[Worth]:
    """What each fault rule of a ruleset is worth over the problems. Raises Exhausted."""
    names = [rule.name for rule in ruleset.rules if rule.weight.severity == "fault"]
    problems = [replace(problem, ruleset=ruleset) for problem in problems]
    every = sum(_count(problem, set(), limits) for problem in problems)
    left = sum(_count(problem, set(names), limits) for problem in problems)
    worth: list[Worth] = []
    for name in names:
        alone = sum(_count(problem, {name}, limits) for problem in problems)
        others = sum(_count(problem, set(names) - {name}, limits) for problem in problems)
        removed = Fraction(others - left, others) if others else Fraction(0)
        worth.append(Worth(name, 1 - Fraction(alone, every) if every else Fraction(0), removed))
    return worth


def conflicts(problems: Sequence[Problem], ruleset: Ruleset, limits: Limits | None = None) -> list[tuple[str, str]]:
    """The pairs of fault rules that together leave no line over any problem, though each alone leaves some.

    Raises Exhausted.
    """
    names = [rule.name for rule in ruleset.rules if rule.weight.severity == "fault"]
    problems = [replace(problem, ruleset=ruleset) for problem in problems]

    def leaves_some(chosen: set[str]) -> bool:
        return any(_count(problem, chosen, limits) for problem in problems)

    possible = [name for name in names if leaves_some({name})]
    return [pair for pair in combinations(possible, 2) if not leaves_some(set(pair))]


def _count(problem: Problem, names: set[str], limits: Limits | None) -> int:
    return folds.count(build(problem, limits=limits, allowed=lambda rule: rule.name in names))
