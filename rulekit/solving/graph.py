"""All lines that a problem allows, as one small graph: a level for each moment, an edge for each choice of notes.

It is composed rule by rule. The first graph allows everything; each rule's table (:mod:`rulekit.solving.watch`) is run
along it, faults first; then what can't end is trimmed away, nodes from which the same lines lead on are made
one, and points are moved towards the root, so that every node has an edge that costs nothing more. So the graph
never holds more of a rule than still makes a difference. Every line is one path, whose edges' costs are its points.
"""

import time
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from rulekit.beside import Beside
from rulekit.compiler import reach
from rulekit.compiler.monitor import Monitor, monitors
from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.severity import Severity
from rulekit.solving.problem import Problem
from rulekit.solving.watch import DEAD, Choice, Rhythm, Sounding, Watch, most

Edge = tuple[int, int, int]  # which of the level's letters, the node of the next level, the points
Weigh = Callable[[t.Rule], t.Weight | None]
Level = Sequence[Sequence[Edge]]
Tell = Callable[[int, int, int], None]  # given the rule a search is at, how many there are, and the nodes so far
_SHIFT = 24
_OFTEN = 2048  # edges between two looks at the clock
_SELDOM = 256  # edges that are counted by the way
_WIDE = 16  # edges that weigh as much as a node
_HARD = 16  # edges that take as long as a step that is not yet known
_GRACE = 0.2  # seconds for saying what is known when a limit is reached
_KEPT = 4  # rhythms whose tables a ruleset keeps


class Exhausted(Exception):
    """A search ended before it was over: at which rule (from 1) of how many, and why.

    ``lines`` is how many lines the rules before leave, None if that is not known; ``exact`` says that no other rule
    can take any of them away.
    """

    def __init__(
        self, why: str, reached: int = 0, total: int = 0, lines: int | None = None, exact: bool = False
    ) -> None:
        known = "nothing more is known" if lines is None else f"at most {lines} lines are allowed"
        known = f"{lines} lines are allowed, their points are not known" if exact and lines is not None else known
        where = f" at rule {reached} of {total}" if total else ""
        super().__init__(f"{why}{where}; {known}")
        self.where = f"{why}{where}"
        self.why, self.reached, self.total, self.lines, self.exact = why, reached, total, lines, exact


@dataclass(frozen=True, slots=True)
class Limits:
    """How far a search may go: nodes at any one time (about 1 kB each, more with many edges), and seconds in all."""

    nodes: int = 1_000_000
    seconds: float = 600.0

    def start(self, tell: "Tell | None" = None) -> "Meter":
        """Start the clock; ``tell`` is told now and then how far the search has come."""
        return Meter(self, tell)


class Meter:
    """Limits whose clock runs: one for all the parts of a search."""

    def __init__(self, limits: Limits, tell: "Tell | None" = None) -> None:
        self._nodes, self._deadline = limits.nodes, time.monotonic() + limits.seconds
        self._done = 0
        self._tell, self._come = tell, (0, 0, 0)

    def at(self, rule: int, rules: int, nodes: int) -> None:
        """Come to a rule, of so many, with so many nodes; raises Exhausted if a limit is passed."""
        self._come = rule, rules, nodes
        self.look(nodes)

    def look(self, nodes: int = 0) -> None:
        """Raise Exhausted if a limit is passed; else tell how far the search has come."""
        if nodes > self._nodes:
            raise Exhausted("the limit of nodes was reached")
        if time.monotonic() > self._deadline:
            raise Exhausted("the time limit was reached")
        rule, rules, before = self._come
        if self._tell is not None and rule:
            self._tell(rule, rules, nodes or before)

    @contextmanager
    def telling(self, when: str) -> Generator[None]:
        """Tell of a stop within a part that knows nothing yet."""
        try:
            self.look()
            yield
        except (Exhausted, KeyboardInterrupt) as stop:
            raise Exhausted(f"{why(stop)} {when}") from None

    def work(self, edges: int, nodes: int = 0) -> None:
        """Go along so many edges, and look now and then."""
        self._done += 1 + edges
        if self._done > _OFTEN:
            self._done = 0
            self.look(nodes)


def why(stop: Exhausted | KeyboardInterrupt) -> str:
    """What ended a search, in words."""
    return stop.why if isinstance(stop, Exhausted) else "it was stopped"


def weight(edges: Sequence[object]) -> int:
    """For how many nodes one of these edges counts."""
    return 1 + len(edges) // _WIDE


def started(limits: Limits | Meter | None) -> Meter:
    """A clock that runs, that of the search as a whole if it does already."""
    return limits if isinstance(limits, Meter) else (limits or Limits()).start()


@dataclass(frozen=True, slots=True)
class Graph:
    """All lines: ``levels[i][node]`` are the edges from level i to the next, in the order of their notes.

    ``letters[i]`` are the choices of notes between the two; level 0 has one node, the root, or none if there is no
    line; the last level has one. Every line costs ``least`` and what its edges cost.
    """

    problem: Problem
    letters: tuple[tuple[Choice, ...], ...]
    levels: tuple[Level, ...]
    least: int

    @property
    def size(self) -> int:
        """How many nodes there are."""
        return sum(map(len, self.levels))

    def __bool__(self) -> bool:
        return bool(self.levels[0])


def faults(rule: t.Rule) -> t.Weight | None:
    """Only faults are watched."""
    return rule.weight if rule.weight.severity == Severity.FAULT else None


def points(rule: t.Rule) -> t.Weight | None:
    """Faults are watched, and warnings and advice for what they cost."""
    return rule.weight if rule.weight.severity == Severity.FAULT or rule.weight.points else None


def build(
    problem: Problem,
    *,
    costed: bool = False,
    weigh: Weigh | None = None,
    limits: Limits | Meter | None = None,
    until: int | None = None,
) -> Graph:
    """The graph of a problem.

    With ``costed`` warnings and advice cost their points; without, only faults matter; ``weigh`` says otherwise
    what each rule is worth (None: it does not hold).
    ``until`` stops after so many moments, whatever would follow. Raises Exhausted when a limit is reached.
    """
    weigh = weigh or (points if costed else faults)
    meter = started(limits)
    return compose(everything(problem, weigh, until, meter), problem.ruleset, weigh, meter, begun=True)


def everything(
    problem: Problem, weigh: Weigh = faults, until: int | None = None, limits: Limits | Meter | None = None
) -> Graph:
    """The graph of all choices of notes, but for those that some fault forbids whatever comes before.

    Raises Exhausted.
    """
    meter = started(limits)
    single = _Singles(problem, weigh, meter)
    moments = len(problem.onsets) if until is None else until
    letters = tuple(tuple(single.choices(moment)) for moment in range(moments))
    levels: list[Level] = [[[(letter, 0, 0) for letter in range(len(choices))]] for choices in letters]
    return minimised(Graph(problem, letters, (), 0), levels, [0], meter)


class _Singles:
    """Which notes may sound together, by the faults that look at nothing else; each set of voices by itself."""

    def __init__(self, problem: Problem, weigh: Weigh, meter: Meter) -> None:
        self._meter, self._found = meter, 0
        groups: dict[tuple[int, ...], list[tuple[Monitor, t.Weight]]] = {}
        for monitor in monitors(problem.ruleset, problem.setting, saturate=True, look=meter.look):
            weight = weigh(monitor.rule)
            if weight and weight.severity == Severity.FAULT and monitor.single:
                groups.setdefault(monitor.watched, []).append((monitor, weight))
        tables = _tables(problem.ruleset, problem)
        self._watches = [tables.watch(parts) for parts in groups.values()]
        begins = [{slot.onset: slot.choices for slot in line} for line in problem.lines]
        self._at = [[choices.get(onset) for choices in begins] for onset in tables.rhythm.onsets]

    def choices(self, level: int) -> list[Choice]:
        """The choices of notes of a level, in the order of their notes."""
        begun = {voice for voice, pitches in enumerate(self._at[level]) if pitches is not None}
        found: list[Choice] = [()]
        for number, pitches in enumerate(self._at[level]):
            watches = [w for w in self._watches if w.voices[-1] == number and begun.issuperset(w.voices)]
            longer: list[Choice] = []
            for choice in found:
                self._meter.work(_HARD, (self._found + len(longer)) // _WIDE)
                for pitch in (None,) if pitches is None else pitches:
                    more = (*choice, pitch)
                    if all(watch.allows(level, more) for watch in watches):
                        longer.append(more)
            found = longer
        self._found += len(found)
        return found


# ---- composing -------------------------------------------------------------------------------------


def compose(
    graph: Graph,
    ruleset: Ruleset,
    weigh: Weigh,
    limits: Limits | Meter | None = None,
    *,
    begun: bool = False,
) -> Graph:
    """What rules leave of a graph, and what they make it cost; ``begun`` says that it comes from :func:`everything`
    by the same rules and weights. Raises Exhausted.
    """
    meter = started(limits)
    watches = _watches(ruleset, graph.problem, weigh, begun)
    graph = _tidied(graph)
    for number, watch in enumerate(watches, 1):
        if not graph:
            break
        try:
            meter.at(number, len(watches), graph.size)
            graph = _along(graph, watch, meter)
        except (Exhausted, KeyboardInterrupt) as stop:
            known = _known(graph) if number > 1 and graph else None
            raise Exhausted(why(stop), number, len(watches), known, not watch.fatal) from None
        if watch.memoryless:
            graph = _tidied(graph)
    return graph


def _known(graph: Graph) -> int | None:
    """How many lines there are, if that can be said at once."""
    try:
        return ways(graph, Limits(seconds=_GRACE).start())[0][0]
    except Exhausted:
        return None


def _tidied(graph: Graph) -> Graph:
    """The graph without letters that no edge has."""
    letters: list[tuple[Choice, ...]] = []
    levels: list[Level] = []
    for choices, level in zip(graph.letters, graph.levels[:-1], strict=True):
        used = sorted({letter for node in level for letter, _, _ in node})
        if len(used) < len(choices):
            place = {letter: number for number, letter in enumerate(used)}
            level = [tuple((place[letter], to, cost) for letter, to, cost in node) for node in level]
        letters.append(tuple(choices[letter] for letter in used))
        levels.append(level)
    return Graph(graph.problem, tuple(letters), (*levels, graph.levels[-1]), graph.least)


def _watches(ruleset: Ruleset, problem: Problem, weigh: Weigh, begun: bool) -> list[Watch]:
    """The tables of all rules that matter, faults first; those without memory are put together.

    Where a graph is ``begun`` faults are left out that notes which begin together show by themselves.
    """
    tables = _tables(ruleset, problem)
    groups: dict[object, list[tuple[Monitor, t.Weight]]] = {}
    own = monitors(ruleset, problem.setting, saturate=True)
    weights = {id(monitor.rule): weigh(monitor.rule) for monitor in own}
    for number, monitor in enumerate(own):
        weight = weights[id(monitor.rule)]
        if weight is None:
            continue
        _refuse_foresight(monitor.rule)
        fatal = weight.severity == Severity.FAULT
        if begun and fatal and monitor.single and tables.rhythm.together(monitor.watched):
            continue
        group: object = number
        if most(weight) is not None:
            group = monitor.rule.name
        elif monitor.stateless:
            group = fatal, monitor.watched, tuple(map(monitor.past, monitor.watched))
        groups.setdefault(group, []).append((monitor, weight))
    watches = [tables.watch(parts) for parts in groups.values()]
    return sorted(watches, key=lambda watch: (not watch.fatal, *watch.rank))


def _refuse_foresight(rule: t.Rule) -> None:
    """Refuse a rule that reads properties of notes to come; raises RulekitError."""
    if any(reading.reads.ahead for reading in reach.readings(rule)):
        span = rule.span
        said = f"the rule ‘{rule.name}’ asks for what only a whole exercise shows"
        hint = "Exercises can be marked by it; a search has to leave it out."
        raise RulekitError((Diagnostic(span.path, span.line, span.column, span.length, said, hint),))


class _Tables:
    """The tables of a ruleset's rules for one setting and rhythm."""

    def __init__(self, rhythm: Rhythm) -> None:
        self.rhythm = rhythm
        self._watches: dict[object, Watch] = {}
        self._soundings: dict[object, Sounding] = {}

    def watch(self, parts: list[tuple[Monitor, t.Weight]]) -> Watch:
        """The table of some monitors with their weights."""
        key = tuple((id(monitor), weight) for monitor, weight in parts)
        found = self._watches.get(key)
        if found is None:
            chosen = [monitor for monitor, _ in parts]
            voices = tuple(sorted({voice for monitor in chosen for voice in monitor.watched}))
            pasts = tuple(reach.furthest([monitor.past(voice) for monitor in chosen]) for voice in voices)
            where = voices, pasts, any(reach.is_dated(monitor.rule) for monitor in chosen)
            if where not in self._soundings:
                self._soundings[where] = Sounding(self.rhythm, *where)
            found = self._watches[key] = Watch(parts, self._soundings[where])
        return found


_TABLES = Beside(dict[object, _Tables])


def _tables(ruleset: Ruleset, problem: Problem) -> _Tables:
    """The tables kept with a ruleset, those of the last few rhythms."""
    kept = _TABLES.of(ruleset)
    rhythm = tuple(tuple((slot.onset, slot.length, slot.tied) for slot in line) for line in problem.lines)
    key = problem.setting, rhythm
    if key not in kept:
        while len(kept) >= _KEPT:
            del kept[next(iter(kept))]
        kept[key] = _Tables(Rhythm(problem.setting, problem.lines))
    return kept[key]


def _along(graph: Graph, watch: Watch, meter: Meter) -> Graph:
    """A graph and a rule's table run side by side, then made small again."""
    places = [0]
    levels: list[Level] = []
    nodes = done = 0
    for level, (letters, own) in enumerate(zip(graph.letters, graph.levels, strict=False)):
        codes, rows, step = watch.codes(letters), watch.rows(level), watch.step
        index: dict[int, int] = {}
        current: list[list[Edge]] = []
        for place in places:
            state = place & (1 << _SHIFT) - 1
            row = rows[state]
            node, edges = own[place >> _SHIFT], list[Edge]()
            done += 1 + len(node)
            if done > _SELDOM:
                meter.work(done, nodes + len(index))
                done = 0
            for letter, to, cost in node:
                found = row.get(codes[letter])
                if found is None:
                    meter.work(_HARD)
                    found = step(level, state, codes[letter])
                after, due = found
                if after != DEAD:
                    key = to << _SHIFT | after
                    edges.append((letter, index.setdefault(key, len(index)), cost + due))
            current.append(edges)
            nodes += 1 + len(edges) // _WIDE
        levels.append(current)
        places = list(index)
    is_whole = len(graph.letters) == len(watch.sounding.begins)
    ends = [watch.finish(place & (1 << _SHIFT) - 1) if is_whole else 0 for place in places]
    return minimised(graph, levels, [None if due == DEAD else due for due in ends], meter)


def minimised(graph: Graph, levels: Sequence[Level], ends: Sequence[int | None], meter: Meter | None = None) -> Graph:
    """The smallest graph of the lines along ``levels`` (all but the last), which cost what ``graph`` does at least.

    ``ends`` says what ending in each last node costs beside, None where no line may end.

    From the last level to the first, what can't end is left out, the least that must still be paid is moved
    towards the root, and nodes with the same edges become one.
    """
    places = [DEAD if end is None else 0 for end in ends]
    owed = [end or 0 for end in ends]
    smaller: list[Level] = [[()] if any(place != DEAD for place in places) else []]
    done = 0
    for level in reversed(levels):
        index: dict[tuple[Edge, ...], int] = {}
        before: list[int] = []
        least: list[int] = []
        for node in level:
            done += 1 + len(node)
            if done > _SELDOM and meter is not None:
                meter.work(done, len(index))
                done = 0
            edges = [(letter, places[to], cost + owed[to]) for letter, to, cost in node if places[to] != DEAD]
            if not edges:
                before.append(DEAD)
                least.append(0)
                continue
            lowest = min([cost for _, _, cost in edges])
            if lowest:
                edges = [(letter, to, cost - lowest) for letter, to, cost in edges]
            before.append(index.setdefault(tuple(edges), len(index)))
            least.append(lowest)
        smaller.append(list(index))
        places, owed = before, least
    return Graph(graph.problem, graph.letters, tuple(smaller[::-1]), graph.least + (owed[0] if owed else 0))


def ways(graph: Graph, meter: Meter | None = None) -> list[list[int]]:
    """For every node, how many lines lead on from it. Raises Exhausted."""
    counts: list[list[int]] = [[1] * len(graph.levels[-1])]
    for level in reversed(graph.levels[:-1]):
        after = counts[-1]
        counts.append([sum(after[to] for _, to, _ in node) for node in looking(level, meter)])
    return counts[::-1]


def looking(level: Level, meter: Meter | None) -> Iterator[Sequence[Edge]]:
    """The nodes of a level, with a look at the clock now and then."""
    for node in level:
        if meter is not None:
            meter.work(len(node))
        yield node


# ---- further graphs of a graph -----------------------------------------------------------------------


def at_most(graph: Graph, cost: int, meter: Meter | None = None) -> Graph:
    """The lines that cost no more than so much."""
    levels: list[Level] = []
    places = [(0, cost - graph.least)] if graph and graph.least <= cost else []
    nodes = 0
    for level in graph.levels[:-1]:
        index: dict[tuple[int, int], int] = {}
        current: list[list[Edge]] = []
        for place, room in places:
            if meter is not None:
                meter.work(len(level[place]), nodes + len(index))
            current.append([
                (letter, index.setdefault((to, room - paid), len(index)), paid)
                for letter, to, paid in level[place]
                if paid <= room
            ])  # fmt: skip
            nodes += weight(current[-1])
        levels.append(current)
        places = list(index)
    return minimised(graph, levels, [0] * len(places), meter)


def without(graph: Graph, other: Graph, meter: Meter | None = None) -> Graph:
    """The lines of a graph that another of the same problem has not."""
    if not other or not graph:
        return graph
    gone = -1
    levels: list[Level] = []
    places: list[tuple[int, int]] = [(0, 0)]
    nodes = 0
    for level, (own, theirs) in enumerate(zip(graph.levels[:-1], other.levels[:-1], strict=True)):
        index: dict[tuple[int, int], int] = {}
        current: list[list[Edge]] = []
        choices, names = graph.letters[level], other.letters[level]
        follows = [{names[letter]: to for letter, to, _ in node} for node in theirs]
        follows.append({})
        for place, shadow in places:
            if meter is not None:
                meter.work(len(own[place]), nodes + len(index))
            current.append([
                (letter, index.setdefault((to, follows[shadow].get(choices[letter], gone)), len(index)), cost)
                for letter, to, cost in own[place]
            ])  # fmt: skip
            nodes += weight(current[-1])
        levels.append(current)
        places = list(index)
    ends = [0 if shadow == gone else None for _, shadow in places]
    return minimised(graph, levels, ends, meter)


def repriced(graph: Graph, price: Callable[[int, Choice], int], meter: Meter | None = None) -> Graph:
    """The same lines, each choice of notes costing what ``price`` says of its level (from 0) and notes."""
    prices = [[price(level, choice) for choice in letters] for level, letters in enumerate(graph.letters)]
    levels = [
        [[(letter, to, own[letter]) for letter, to, _ in node] for node in looking(level, meter)]
        for own, level in zip(prices, graph.levels[:-1], strict=True)
    ]
    return minimised(replace(graph, least=0), levels, [0] * len(graph.levels[-1]), meter)


def negated(graph: Graph, meter: Meter | None = None) -> Graph:
    """The same lines, each costing what it cost below nothing."""
    levels = [
        [[(letter, to, -cost) for letter, to, cost in node] for node in looking(level, meter)]
        for level in graph.levels[:-1]
    ]
    return minimised(replace(graph, least=-graph.least), levels, [0] * len(graph.levels[-1]), meter)
