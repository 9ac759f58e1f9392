"""What a teacher asks of the space: the nearest line, why there is none, what differs, what rules are worth."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations
from random import Random

from rulekit.exercise.model import Event, Exercise, Voice
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Finding, mark
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch, semitone, step
from rulekit.severity import Severity
from rulekit.solving import folds
from rulekit.solving.graph import (
    Exhausted,
    Graph,
    Limits,
    Meter,
    Weigh,
    at_most,
    build,
    compose,
    everything,
    faults,
    negated,
    points,
    repriced,
    started,
    without,
)
from rulekit.solving.problem import Problem, Slot, as_given, candidates, fixed_line, problem
from rulekit.solving.watch import Choice

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
    near = [_near(voice, exercise.mode) for voice in exercise.voices]

    def choices(voice: int, event: Event) -> Iterable[Pitch]:
        return as_given(event) if voice == exercise.cantus else sorted({*near[voice], *as_given(event)})

    return problem(ruleset, exercise, choices)


def _near(voice: Voice, mode: Mode) -> tuple[Pitch, ...]:
    """The notes that a voice might have instead of its own."""
    own = [event.pitch for event in voice.events if event.pitch is not None]
    if not own:
        return ()
    low, high = min(own), max(own)
    room = _REACH - min(_REACH, step(high) - step(low)) + 3
    return candidates(mode, _moved(low, -room), _moved(high, room))


def written(exercise: Exercise) -> list[list[Pitch | None]]:
    """The notes of each voice, tied ones as one; None for one that is still to be found."""
    return [[next(iter(slot.choices), None) for slot in fixed_line(voice)] for voice in exercise.voices]


def _moved(pitch: Pitch, steps: int) -> Pitch:
    """A pitch some diatonic steps away, near enough to bound a range."""
    return Pitch(pitch + steps * 256 + round(steps * 12 / 7))


def mend(exercise: Exercise, ruleset: Ruleset, number: int = 3, limits: Limits | Meter | None = None) -> list[Mended]:
    """The legal lines nearest to an exercise: fewest notes changed, then least distance moved, then fewest points lost.

    Empty if no legal line has its rhythm near its notes. Raises Exhausted.
    """
    meter = started(limits)
    search = problem_of(exercise, ruleset)
    own = written(exercise)
    moved = _moves(search, own)
    start, most = everything(search, limits=meter), sum(len(line) for line in search.lines)
    changes, near = 1, start
    while True:  # with so many changes at most, then with twice as many
        with meter.telling("before any line was found"):
            few = repriced(start, lambda level, choice: sum(distance > 0 for distance in moved(level, choice)), meter)
            near = repriced(at_most(few, changes, meter), lambda level, choice: _priced(moved(level, choice)), meter)
            near = compose(near, ruleset, faults, meter, begun=True)
            found = folds.best(near, number, meter)
        if len(found) == number or changes >= most:
            break
        changes *= 2
    if not found:
        return []
    with meter.telling("before the nearest lines were told apart by points"):
        tied = at_most(near, found[-1][0], meter)
        best = folds.best(compose(tied, ruleset, _beside_faults, meter), number, meter)
    return [Mended(search.exercise(line), _edits(search, own, line), paid // _STEP % _STEP) for paid, line in best]


_STEP = 1 << 32  # what a step costs when lines are told apart by points; a change costs as much again times this


def _priced(moved: Sequence[int]) -> int:
    return sum(distance > 0 for distance in moved) * _STEP**2 + sum(moved) * _STEP


def _beside_faults(rule: t.Rule) -> t.Weight | None:
    """What is worth points where faults are excluded already."""
    return None if rule.weight.severity == Severity.FAULT else points(rule)


def _moves(search: Problem, own: Sequence[Sequence[Pitch | None]]) -> Callable[[int, Choice], list[int]]:
    """How far the notes chosen at a level lie from those of an exercise, by voices that begin there."""
    at = [
        {voice: i for voice, line in enumerate(search.lines) for i, slot in enumerate(line) if slot.onset == onset}
        for onset in search.onsets
    ]

    def moved(level: int, choice: Choice) -> list[int]:
        return [_steps_apart(own[v][at[level][v]], pitch) for v, pitch in enumerate(choice) if pitch is not None]

    return moved


def _steps_apart(old: Pitch | None, new: Pitch) -> int:
    """How far a note was moved, in diatonic steps; a mere alteration counts as one, a new note as nothing."""
    return 0 if old is None else abs(step(new) - step(old)) or int(semitone(new) != semitone(old))


def _edits(problem: Problem, own: Sequence[Sequence[Pitch | None]], line: folds.Line) -> tuple[Edit, ...]:
    changes = [
        Edit(_bar(problem, slot), problem.labels[voice], old, new)
        for voice, slots in enumerate(problem.lines)
        for slot, old, new in zip(slots, own[voice], line[voice], strict=True)
        if old is not None and old != new
    ]
    return tuple(sorted(changes, key=lambda edit: edit.bar))


def _bar(problem: Problem, slot: Slot) -> int:
    """The bar in which a slot begins, as the score counts."""
    return problem.setting.metre.bar_of(slot.onset) + problem.first_bar - 1


# ---- other notes -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another note in the place of one, all others as they are: the faults that the exercise then has, and its points.

    ``breaches`` say of each fault what it is, whichever exercise it is in; ``new`` are those of the faults that the
    exercise does not have as it stands.
    """

    pitch: Pitch
    faults: tuple[Finding, ...]
    breaches: tuple[object, ...]
    new: tuple[Finding, ...]
    lost: int


@dataclass(frozen=True, slots=True)
class Alternatives:
    """What might stand in the place of one note (or of one still to be found), from the lowest.

    ``slot`` numbers the notes of its voice from 0, tied ones as one; ``always`` are the faults that are there
    whichever note is chosen.
    """

    voice: int
    slot: int
    onset: Fraction
    own: Pitch | None
    choices: tuple[Alternative, ...]
    always: frozenset[object]

    @property
    def good(self) -> tuple[Pitch, ...]:
        """The notes that leave no fault, all others as they are."""
        return tuple(each.pitch for each in self.choices if not each.faults)

    def here(self, choice: Alternative) -> tuple[Finding, ...]:
        """The faults of a choice that stand here: without those that are there whichever note is chosen."""
        return _beside(choice.faults, choice.breaches, self.always)


def alternatives(
    exercise: Exercise,
    ruleset: Ruleset,
    limits: Limits | None = None,
    near: Callable[[Pitch, Pitch], bool] | None = None,
) -> Iterator[Alternatives]:
    """For each note outside the cantus, one after another, what might stand there instead, its own pitch included.

    ``near`` says of a written note and another whether that is to be tried at all. Raises Exhausted.
    """
    meter = (limits or Limits()).start()
    search = problem_of(exercise, ruleset)
    own = written(exercise)
    now = frozenset(map(breach, mark(exercise, ruleset).faults))
    for voice, line in enumerate(search.lines):
        for place, slot in enumerate(line if voice != exercise.cantus else ()):
            choices: list[Alternative] = []
            for pitch in _tried(slot, own[voice][place], near):
                meter.look()
                choices.append(alternative(search, own, voice, place, pitch, now))
            faults = [frozenset(choice.breaches) for choice in choices]
            always = frozenset[object]().union(*faults[:1]).intersection(*faults)
            yield Alternatives(voice, place, slot.onset, own[voice][place], tuple(choices), always)


def _tried(slot: Slot, own: Pitch | None, near: Callable[[Pitch, Pitch], bool] | None) -> Iterator[Pitch]:
    for pitch in slot.choices:
        if near is None or own is None or pitch == own or near(own, pitch):
            yield pitch


def alternative(
    search: Problem, own: Sequence[Sequence[Pitch | None]], voice: int, place: int, pitch: Pitch, now: frozenset[object]
) -> Alternative:
    """A note in a place of an exercise with these notes, judged; ``now`` are the faults that it has as it stands."""
    changed = [list(line) for line in own]
    changed[voice][place] = pitch
    marked = mark(search.exercise(changed), search.ruleset)
    breaches = tuple(map(breach, marked.faults))
    return Alternative(pitch, marked.faults, breaches, _beside(marked.faults, breaches, now), marked.lost)


def _beside(faults: Sequence[Finding], breaches: Sequence[object], known: frozenset[object]) -> tuple[Finding, ...]:
    """The faults but for those that are known, by what each of them breaks."""
    return tuple(fault for fault, each in zip(faults, breaches, strict=True) if each not in known)


def breach(finding: Finding) -> object:
    """What makes two findings of two exercises the same: the rule and the notes concerned."""
    return finding.rule, finding.bar, finding.places


def passing(search: Problem, limits: Limits | Meter) -> list[list[dict[Pitch, int]]] | None:
    """For every note of every voice, how many allowed lines have which pitch there; None beyond the limits."""
    meter = started(limits)
    try:
        by_choice = folds.count_by_choice(build(search, limits=meter), meter)
    except Exhausted:
        return None
    places = {onset: level for level, onset in enumerate(search.onsets)}
    return [
        [folds.of_voice(by_choice[places[slot.onset]], voice) for slot in line]
        for voice, line in enumerate(search.lines)
    ]


def best_single_change(
    exercise: Exercise, ruleset: Ruleset, limits: Limits | Meter | None = None
) -> tuple[Edit, int] | None:
    """The one note that, changed, clears most points, and how many points are then lost; None if none helps.

    Of several as good, the one that moves least. Raises Exhausted.
    """
    meter = started(limits)
    search = problem_of(exercise, ruleset)
    own = written(exercise)
    if any(pitch is None for line in own for pitch in line):
        return None
    moved = _moves(search, own)
    with meter.telling("before the best change of one note was found"):
        start = everything(search, _all_points, limits=meter)
        few = repriced(start, lambda level, choice: sum(d > 0 for d in moved(level, choice)), meter)
        near = repriced(at_most(few, 1, meter), lambda level, choice: sum(moved(level, choice)), meter)
        weighed = compose(near, ruleset, lambda rule: _times(_all_points(rule), _STEP), meter)
        ((paid, line),) = folds.best(weighed, 1, meter)
    edits = _edits(search, own, line)
    return (edits[0], paid // _STEP) if edits and paid // _STEP < mark(exercise, ruleset).lost else None


def _all_points(rule: t.Rule) -> t.Weight | None:
    """Faults cost their points, too, instead of ending a line."""
    return replace(rule.weight, severity=Severity.WARNING) if rule.weight.points else None


def _times(weight: t.Weight | None, factor: int) -> t.Weight | None:
    """A weight so many times as heavy."""
    if weight is None:
        return None
    cap = None if weight.cap is None else weight.cap * factor
    return replace(weight, points=weight.points * factor, cap=cap)


# ---- the best lines ----------------------------------------------------------------------------------


def gentlest(rule: t.Rule) -> t.Weight | None:
    """Faults are watched, points come first, and of lines that lose as many those with the fewest pieces of advice.

    Advice that looks at more than a few notes at a time is not watched: it would make most searches endless.
    """
    weight = points(rule)
    if weight is not None:
        return weight if weight.severity == Severity.FAULT else _times(weight, _STEP)
    return None if rule.streams else replace(rule.weight, severity=Severity.WARNING, points=1, cap=None)


def points_of(cost: int) -> int:
    """The points in what a line costs by :func:`gentlest`."""
    return cost // _STEP


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
    problem: Problem,
    free: dict[tuple[int, int], tuple[Pitch, ...]] | None = None,
    limits: Limits | Meter | None = None,
) -> WhyNot | None:
    """A smallest conflict of a problem without solutions, None if it has one.

    ``free`` says, for each given note that may be blamed (voice and slot, from 0), what it might have been
    otherwise. The conflict is minimal: without any one of its members there is a line. Raises Exhausted if
    the searches for it reach a limit.
    """
    meter = started(limits)
    if build(problem, limits=meter):
        return None
    every = [_fixed(problem, voice, slot) for voice, slot in sorted(free or {})]
    rules: list[str | FixedNote] = [
        rule.name for rule in problem.ruleset.rules if rule.weight.severity == Severity.FAULT
    ]

    def leads(kept: Sequence[str | FixedNote], until: int | None = None) -> bool:
        return bool(_limited(problem, kept, every, free or {}, meter, until))

    core = [*every, *rules]
    with meter.telling("after all lines were ruled out, before it was found by what"):
        died = _furthest(len(problem.onsets), lambda until: leads([*every, *rules], until))
        # First what stops every line where the last one stops, then, of that, what is needed at all.
        if died < len(problem.onsets):
            core = _shrink(core, lambda kept: not leads(kept, died + 1))
        core = _shrink(core, lambda kept: not leads(kept))
    names = tuple(member for member in core if isinstance(member, str))
    notes = tuple(member for member in core if isinstance(member, FixedNote))
    onset = problem.onsets[min(died, len(problem.onsets) - 1)]
    return WhyNot(names, notes, problem.setting.metre.bar_of(onset), problem.setting.bars)


def _furthest(moments: int, leads: Callable[[int], bool]) -> int:
    """How many moments some partial line lives through."""
    low, high = 0, moments
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if leads(middle) else (low, middle - 1)
    return low


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


def _limited(
    problem: Problem,
    kept: Sequence[str | FixedNote],
    every: Sequence[FixedNote],
    free: dict[tuple[int, int], tuple[Pitch, ...]],
    meter: Meter,
    until: int | None,
) -> Graph:
    """The graph of the problem with only these rules and given notes, up to a moment."""
    lines = [list(line) for line in problem.lines]
    for note in every:
        if note not in kept:
            choices = free[note.voice, note.slot]
            lines[note.voice][note.slot] = replace(lines[note.voice][note.slot], choices=choices)
    changed = replace(problem, lines=tuple(map(tuple, lines)))
    return build(changed, limits=meter, until=until, weigh=_only({name for name in kept if isinstance(name, str)}))


def _only(names: set[str]) -> Weigh:
    """Only the faults of these names hold."""
    return lambda rule: faults(rule) if rule.name in names else None


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


def compare(problem: Problem, other: Ruleset, seed: int = 1, limits: Limits | Meter | None = None) -> Difference:
    """What a ruleset and another allow over the same cantus, counted exactly. Raises Exhausted."""
    meter = started(limits)
    with meter.telling("before both rulesets were explored"):
        first = build(problem, limits=meter)
        second = build(replace(problem, ruleset=other), limits=meter)
        both = folds.count(compose(first, other, faults, meter), meter)
    witnesses = [
        _witness(problem, allowing, forbidding, ruleset, seed, meter)
        for allowing, forbidding, ruleset in ((first, second, other), (second, first, problem.ruleset))
    ]
    only_first, only_second = folds.count(first, meter) - both, folds.count(second, meter) - both
    return Difference(both, only_first, only_second, *witnesses)


def _witness(
    problem: Problem, allowing: Graph, forbidding: Graph, ruleset: Ruleset, seed: int, meter: Meter
) -> tuple[Exercise, str] | None:
    """A line that one ruleset allows and the other forbids, drawn fairly, and the rule that decides it."""
    with meter.telling("before a line was found that tells them apart"):
        drawn = next(folds.draws(without(allowing, forbidding, meter), Random(seed), meter), None)
    if drawn is None:
        return None
    exercise = problem.exercise(drawn)
    return exercise, mark(exercise, ruleset).faults[0].rule


def at_least_as_strict(problems: Iterable[Problem], other: Ruleset) -> bool:
    """Whether over every problem the problem's ruleset allows nothing that the other forbids."""
    for each in problems:
        first = build(each)
        if folds.count(first) != folds.count(compose(first, other, faults)):
            return False
    return True


@dataclass(frozen=True, slots=True)
class PointsApart:
    """Over the lines that two rulesets both allow: how many lose more points by the first, as many, more by the second.

    ``most`` are the greatest leads of the first and of the second, in points.
    """

    first: int
    alike: int
    second: int
    most: tuple[int, int]


def compare_points(problem: Problem, other: Ruleset, limits: Limits | Meter | None = None) -> PointsApart:
    """How two rulesets differ by points on the lines that both allow, counted exactly. Raises Exhausted."""
    meter = started(limits)
    both = compose(build(problem, limits=meter), other, faults, meter)
    ours, theirs = ({rule.name: _meaning(rule) for rule in ruleset.rules} for ruleset in (problem.ruleset, other))
    alike = {name for name in ours if ours[name] == theirs.get(name)}

    def weigh(rule: t.Rule) -> t.Weight | None:
        return None if rule.name in alike else _beside_faults(rule)

    apart = compose(both, problem.ruleset, weigh, meter)
    lead = compose(negated(apart, meter), other, weigh, meter)
    counts = folds.count_by_cost(lead, meter)
    first, second = (sum(n for cost, n in counts.items() if cost * sign > 0) for sign in (-1, 1))
    return PointsApart(first, counts.get(0, 0), second, (max([0, *(-c for c in counts)]), max([0, *counts])))


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


def audit(problems: Sequence[Problem], ruleset: Ruleset, limits: Limits | Meter | None = None) -> Iterator[Worth]:
    """What each fault rule of a ruleset is worth over the problems, one after another. Raises Exhausted."""
    meter = started(limits)
    names = [rule.name for rule in ruleset.rules if rule.weight.severity == Severity.FAULT]
    problems = [replace(problem, ruleset=ruleset) for problem in problems]

    def lines(chosen: set[str]) -> int:
        return sum(_count(problem, chosen, meter) for problem in problems)

    with meter.telling("before any rule was judged"):
        every, left = lines(set()), lines(set(names))
    for number, name in enumerate(names):
        with meter.telling(f"when {number} of {len(names)} rules were judged"):
            alone, others = lines({name}), lines(set(names) - {name})
        removed = Fraction(others - left, others) if others else Fraction(0)
        yield Worth(name, 1 - Fraction(alone, every) if every else Fraction(0), removed)


def conflicts(
    problems: Sequence[Problem], ruleset: Ruleset, limits: Limits | Meter | None = None
) -> Iterator[tuple[str, str]]:
    """The pairs of fault rules that together leave no line over any problem, though each alone leaves some.

    One after another. Raises Exhausted.
    """
    meter = started(limits)
    names = [rule.name for rule in ruleset.rules if rule.weight.severity == Severity.FAULT]
    problems = [replace(problem, ruleset=ruleset) for problem in problems]

    def leaves_some(chosen: set[str]) -> bool:
        return any(build(problem, limits=meter, weigh=_only(chosen)) for problem in problems)

    with meter.telling("before any pair was tried"):
        possible = [name for name in names if leaves_some({name})]
    pairs = list(combinations(possible, 2))
    for number, pair in enumerate(pairs):
        with meter.telling(f"when {number} of {len(pairs)} pairs were tried"):
            none = not leaves_some(set(pair))
        if none:
            yield pair


def _count(problem: Problem, names: set[str], meter: Meter) -> int:
    return folds.count(build(problem, limits=meter, weigh=_only(names)), meter)
