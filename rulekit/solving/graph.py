"""The layered graph of a problem: one layer for each moment, one node for each way things may stand there.

A node is what sounds (with as much of the past as a monitor could still ask for) and the state of
every monitor. An edge is one choice of notes. Faults cut edges off; the points of warnings and
advice are the edges' costs. Every question about the space is a fold over this one graph.
"""

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import product
from typing import Any

from rulekit.compiler import emit
from rulekit.compiler.monitor import Hit, Monitor, monitors
from rulekit.exercise.model import NO_NOTE, Note
from rulekit.exercise.timeline import NO_MOMENT, Moment
from rulekit.language import typed as t
from rulekit.music.pitch import Pitch
from rulekit.solving.problem import Problem, Slot

_DEAD = -1
Key = tuple[Any, ...]


class Exhausted(Exception):
    """A search ended before it was over: at which moment (from 1) of how many, and why.

    ``partial`` is how many partial lines reach the moment before.
    """

    def __init__(self, why: str, reached: int, total: int, partial: int) -> None:
        known = f"{partial} partial lines reach moment {reached - 1}" if reached > 1 else "nothing is known yet"
        super().__init__(f"{why} at moment {reached} of {total}; {known}")
        self.reached, self.total, self.partial = reached, total, partial


@dataclass(frozen=True, slots=True)
class Limits:
    """How far a search may go: nodes in all, and seconds."""

    nodes: int = 4_000_000
    seconds: float = 600.0


@dataclass(slots=True)
class Node:
    """A way things stand: the notes chosen here, and the edges that lead here from the layer before.

    ``states`` numbers the state of every monitor, and then says what every capped rule has cost so far;
    ``edges`` are pairs of a node of the layer before and a cost in points.
    """

    choice: tuple[Pitch | None, ...]
    states: tuple[int, ...]
    edges: list[tuple[int, int]] = field(default_factory=list[tuple[int, int]])


@dataclass(frozen=True, slots=True)
class Graph:
    """All layers; ``ends`` are the nodes of the last layer that may end the line, with the cost of ending there.

    ``died`` is the number of moments (from 1) that some partial line reached.
    """

    problem: Problem
    layers: tuple[tuple[Node, ...], ...]
    ends: tuple[tuple[int, int], ...]
    died: int


class _Bank:
    """A monitor with its states numbered, and a price for its hits; ``purse`` is that of its rule, if it is capped."""

    def __init__(self, monitor: Monitor, purse: int | None) -> None:
        self.monitor, self.purse = monitor, purse
        self.fatal = monitor.rule.weight.severity == "fault"
        self._numbers: dict[Any, int] = {}
        self._states: list[Any] = []
        self.start = self.number(monitor.start)

    def number(self, state: Any) -> int:
        """The number of a state."""
        found = self._numbers.setdefault(state, len(self._states))
        if found == len(self._states):
            self._states.append(state)
        return found

    def step(self, number: int, moment: Moment) -> tuple[int, int]:
        """The number of the next state and the points due, _DEAD as the number after a fault."""
        after, hits = self.monitor.step(self._states[number], moment)
        points = self.price(hits)
        if points == _DEAD or (self.fatal and self.monitor.doomed(after)):
            return _DEAD, 0
        return self.number(after), points

    def finish(self, number: int) -> int:
        """The points due for ending here, or _DEAD."""
        return self.price(self.monitor.finish(self._states[number]))

    def price(self, hits: list[Hit]) -> int:
        """The points due for hits that nothing excuses, or _DEAD if they are faults."""
        bare = sum(hit.licence is None for hit in hits)
        return _DEAD if bare and self.fatal else bare * self.monitor.rule.weight.points


class _Purses:
    """What rules with a cap may cost in all, over all their voices: one purse for each such rule."""

    def __init__(self, rules: Iterable[t.Rule]) -> None:
        self._number: dict[str, int] = {}
        self._most: list[int] = []
        for rule in rules:
            most = _most(rule.weight)
            if most is not None and rule.name not in self._number:
                self._number[rule.name] = len(self._most)
                self._most.append(most)
        self.start = (0,) * len(self._most)

    def of(self, rule: t.Rule) -> int | None:
        """The number of a rule's purse, None for a rule without a cap."""
        return self._number.get(rule.name)

    def pay(self, paid: tuple[int, ...], due: Iterable[tuple[int | None, int]]) -> tuple[int, tuple[int, ...]]:
        """The cost of what is due to each purse (None: no cap), and what has then been paid from the purses."""
        cost, after = 0, list(paid)
        for purse, points in due:
            if purse is not None:
                points = min(points, self._most[purse] - after[purse])
                after[purse] += points
            cost += points
        return cost, tuple(after)


def _most(weight: t.Weight) -> int | None:
    """The most that a rule may cost, None where there is no limit; a fault ends the line and costs nothing."""
    if weight.severity == "fault":
        return None
    limits = [weight.cap] if weight.cap is not None else []
    return min([*limits, weight.points] if weight.once else limits, default=None)


class _Layer:
    """A layer while it is built."""

    def __init__(self) -> None:
        self.nodes: list[Node] = []
        self.index: dict[tuple[Key, tuple[int, ...]], int] = {}
        self.by_key: dict[Key, list[int]] = {}
        self.moments: dict[Key, Moment] = {}

    def add(self, key: Key, moment: Moment, states: tuple[int, ...], choice: tuple[Pitch | None, ...]) -> Node:
        """The node of a key and states, made if it is new."""
        place = self.index.get((key, states))
        if place is None:
            place = self.index[key, states] = len(self.nodes)
            self.nodes.append(Node(choice, states))
            self.by_key.setdefault(key, []).append(place)
            self.moments.setdefault(key, moment)
        return self.nodes[place]


def build(
    problem: Problem,
    *,
    costed: bool = False,
    limits: Limits | None = None,
    progress: Callable[[int, int, int], None] | None = None,
    allowed: Callable[[t.Rule], bool] = lambda rule: True,
) -> Graph:
    """Build the graph of a problem.

    With ``costed`` warnings and advice are watched for their points; without, only faults matter.
    ``allowed`` chooses the rules that hold; ``progress`` is told the moment, how many there are, and the
    nodes so far. Raises Exhausted when a limit is reached.
    """
    return _Builder(problem, costed, limits or Limits(), allowed).run(progress or _silent)


def _matters(weight: t.Weight, costed: bool) -> bool:
    return weight.severity == "fault" or (costed and weight.points > 0)


def _silent(number: int, total: int, nodes: int) -> None:
    """No progress is shown."""


def _is_upright(rule: t.Rule) -> bool:
    """Whether a rule looks only at what sounds together, and not at how it came there."""
    tests = [rule.broken, *(licence.test for licence in rule.licences)]
    return all(
        isinstance(leaf, t.Attr | t.Flag)
        and leaf.ref.offset == leaf.ref.hops == 0
        and leaf.name not in ("approach", "motion", "first", "held", "rested")
        for test in tests
        for leaf in emit.leaves(test)
    )


class _Stop(Exception):
    """A limit is reached within a layer."""


def _partial(layers: Sequence[_Layer]) -> int:
    """How many partial lines the layers built so far hold."""
    ways = [1]
    for layer in layers[1:]:
        ways = [sum(ways[place] for place, _ in node.edges) for node in layer.nodes]
    return sum(ways)


class _Builder:
    def __init__(self, problem: Problem, costed: bool, limits: Limits, allowed: Callable[[t.Rule], bool]) -> None:
        self.problem, self.limits = problem, limits
        chosen = [
            monitor
            for monitor in monitors(problem.ruleset, problem.setting, saturate=True)
            if allowed(monitor.rule) and _matters(monitor.rule.weight, costed)
        ]
        self.purses = _Purses(monitor.rule for monitor in chosen)
        banks = [_Bank(monitor, self.purses.of(monitor.rule)) for monitor in chosen]
        self.filters = [bank for bank in banks if bank.monitor.stateless]
        fatal = [bank.monitor for bank in self.filters if bank.monitor.rule.weight.severity == "fault"]
        self.upright = [monitor for monitor in fatal if _is_upright(monitor.rule)]
        self.banks = [bank for bank in banks if not bank.monitor.stateless]
        self._notes: dict[tuple[int, int, Pitch], Note] = {}
        self.depth = max([0, *(_memory(monitor.rule) for monitor in chosen)])
        self.onsets = sorted({slot.onset for line in problem.lines for slot in line})
        self.following = dict(zip(self.onsets, [*self.onsets[1:], problem.setting.length], strict=True))

    def run(self, progress: Callable[[int, int, int], None]) -> Graph:
        deadline = time.monotonic() + self.limits.seconds
        layer = _Layer()
        start = (*(bank.start for bank in self.banks), *self.purses.start)
        layer.add((), NO_MOMENT, start, ())
        layers, total, reached = [layer], 0, 0
        for number, onset in enumerate(self.onsets, 1):
            try:
                layer = self._next(layer, onset, deadline, self.limits.nodes - total)
            except (_Stop, KeyboardInterrupt) as stop:
                why = str(stop) or "it was stopped"
                raise Exhausted(why, number, len(self.onsets), _partial(layers)) from None
            total += len(layer.nodes)
            if layer.nodes:
                reached = number
            progress(number, len(self.onsets), total)
            layers.append(layer)
            if not layer.nodes:
                break
        ends = tuple(self._ends(layer)) if reached == len(self.onsets) else ()
        return Graph(self.problem, tuple(tuple(each.nodes) for each in layers), ends, reached)

    def _ends(self, layer: _Layer) -> Iterator[tuple[int, int]]:
        for place, node in enumerate(layer.nodes):
            due = [(bank.purse, bank.finish(state)) for bank, state in zip(self.banks, node.states, strict=False)]
            if all(points != _DEAD for _, points in due):
                yield place, self.purses.pay(node.states[len(self.banks) :], due)[0]

    def _next(self, before: _Layer, onset: Fraction, deadline: float, room: int) -> _Layer:
        """The layer after another: every edge from every node; raises _Stop at a limit."""
        layer = _Layer()
        beginning = self._beginning(onset)
        choices = self._standing(onset, beginning)
        for key, places in before.by_key.items():
            if time.monotonic() > deadline:
                raise _Stop("the time limit was reached")
            if len(layer.nodes) > room:
                raise _Stop("the limit of nodes was reached")
            previous = before.moments[key]
            for choice in choices:
                moment = self._moment(previous, onset, beginning, choice)
                due = self._filter(moment)
                if due is not None:
                    self._edges(before, places, layer, moment, due)
        return layer

    def _beginning(self, onset: Fraction) -> list[tuple[int, Slot]]:
        """The slots that begin at an onset, each with its voice."""
        return [(v, slot) for v, line in enumerate(self.problem.lines) for slot in line if slot.onset == onset]

    def _standing(self, onset: Fraction, beginning: list[tuple[int, Slot]]) -> list[tuple[Pitch, ...]]:
        """The choices of notes that no rule forbids whatever came before; all, unless every voice begins here."""
        choices = product(*(slot.choices for _, slot in beginning))
        if len(beginning) < self.problem.setting.voice_count:
            return list(choices)
        return [choice for choice in choices if self._stands(self._moment(NO_MOMENT, onset, beginning, choice))]

    def _stands(self, moment: Moment) -> bool:
        return not any(
            hit.licence is None for monitor in self.upright for hit in monitor.step(monitor.start, moment)[1]
        )

    def _moment(
        self, previous: Moment, onset: Fraction, beginning: list[tuple[int, Slot]], choice: tuple[Pitch, ...]
    ) -> Moment:
        setting = self.problem.setting
        notes: list[Note | None] = [None] * setting.voice_count
        if previous is not NO_MOMENT:
            notes = [n if n is not None and n.end > onset else None for n in previous.notes]
        for (voice, slot), pitch in zip(beginning, choice, strict=True):
            before = NO_NOTE if previous is NO_MOMENT else previous.latest[voice]
            rested = before is not NO_NOTE and before.end < slot.onset
            rested = rested or (before is NO_NOTE and slot.onset > 0)
            notes[voice] = self._note(voice, slot, pitch).following(before, rested)
        return Moment(setting, onset, tuple(notes), previous)

    def _note(self, voice: int, slot: Slot, pitch: Pitch) -> Note:
        """A note by itself, made once for each slot and pitch."""
        found = self._notes.get((voice, id(slot), pitch))
        if found is None:
            found = Note(self.problem.setting, voice, pitch, slot.onset, slot.length, NO_NOTE)
            self._notes[voice, id(slot), pitch] = found
        return found

    def _filter(self, moment: Moment) -> list[tuple[int | None, int]] | None:
        """What an edge owes by the rules that remember nothing, by their purses; None after a fault."""
        due: list[tuple[int | None, int]] = []
        for bank in self.filters:
            points = bank.price(bank.monitor.step(bank.monitor.start, moment)[1])
            if points == _DEAD:
                return None
            if points:
                due.append((bank.purse, points))
        return due

    def _edges(
        self, before: _Layer, places: Iterable[int], layer: _Layer, moment: Moment, base: list[tuple[int | None, int]]
    ) -> None:
        """The edge of one choice from each node in ``places``; ``base`` is what it owes from any of them."""
        memo: list[dict[int, tuple[int, int]]] = [{} for _ in self.banks]
        following = self.following[moment.time]
        key = tuple(self._trace(note, following) for note in moment.latest)
        choice = tuple(
            n.pitch if n is not None and b else None for n, b in zip(moment.notes, moment.begun, strict=True)
        )
        steps = list(zip(memo, self.banks, strict=True))
        for place in places:
            states = before.nodes[place].states
            due = base.copy()
            after: list[int] = []
            for state, (known, bank) in zip(states, steps, strict=False):
                found = known.get(state)
                if found is None:
                    found = known[state] = bank.step(state, moment)
                if found[0] == _DEAD:
                    break
                after.append(found[0])
                if found[1]:
                    due.append((bank.purse, found[1]))
            else:
                cost, paid = self.purses.pay(states[len(steps) :], due)
                layer.add(key, moment, (*after, *paid), choice).edges.append((place, cost))

    def _trace(self, note: Note, until: Fraction) -> tuple[Pitch, ...]:
        """The pitches of a note and as many before it as may still be asked for from the next moment on."""
        pitches: list[Pitch] = []
        held = note is not NO_NOTE and note.end > until
        for _ in range(max(1, self.depth + held)):
            if note is NO_NOTE:
                break
            pitches.append(note.pitch)
            note = note.before
        return tuple(pitches)


def _memory(rule: t.Rule) -> int:
    """How many notes before a held one its voice must remember for a rule to read them later."""
    tests = [rule.broken, *(licence.test for licence in rule.licences)]
    tests += [stream.test for stream in rule.streams if stream.test is not None]
    leaves = [leaf for test in tests for leaf in emit.leaves(test)]
    leaves += [leaf for stream in rule.streams if stream.value is not None for leaf in emit.leaves(stream.value)]
    depths = [0]
    for leaf in leaves:
        if isinstance(leaf, t.Attr | t.Flag) and leaf.ref.role:
            depths.append(max(0, -leaf.ref.hops) + (leaf.name == "approach"))
    return max(depths)
