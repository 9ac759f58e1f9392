"""The layered graph of a problem: one layer for each moment, one node for each way things may stand there.

A node is what sounds (with as much of the past as a monitor could still ask for) and the state of
every monitor. An edge is one choice of notes. Faults cut edges off; the points of warnings and
advice are the edges' costs. Every question about the space is a fold over this one graph.
"""

import time
from collections.abc import Callable, Iterable, Iterator
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
    """A limit was reached before the search was over: at which moment (from 1), of how many."""

    def __init__(self, what: str, reached: int, total: int) -> None:
        super().__init__(f"the {what} limit was reached at moment {reached} of {total}")
        self.reached, self.total = reached, total


@dataclass(frozen=True, slots=True)
class Limits:
    """How far a search may go: nodes in all, and seconds."""

    nodes: int = 4_000_000
    seconds: float = 600.0


@dataclass(slots=True)
class Node:
    """A way things stand: the notes chosen here, and the edges that lead here from the layer before.

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
    """A monitor with its states numbered, and a price for its hits."""

    def __init__(self, monitor: Monitor) -> None:
        self.monitor = monitor
        weight = monitor.rule.weight
        self.fatal = weight.severity == "fault"
        self.points = weight.points
        self._most = 1 if weight.once else None if weight.cap is None or not weight.points else weight.cap
        self._numbers: dict[Any, int] = {}
        self._states: list[Any] = []
        self.start = self.number((monitor.start, 0))

    def number(self, state: Any) -> int:
        """The number of a state, together with the hits that still count towards its cap."""
        found = self._numbers.setdefault(state, len(self._states))
        if found == len(self._states):
            self._states.append(state)
        return found

    def step(self, number: int, moment: Moment) -> tuple[int, int]:
        """The number of the next state and the cost, _DEAD as the number after a fault."""
        state, counted = self._states[number]
        after, hits = self.monitor.step(state, moment)
        cost, counted = self._price(hits, counted)
        if cost == _DEAD or (self.fatal and self.monitor.doomed(after)):
            return _DEAD, 0
        return self.number((after, counted)), cost

    def finish(self, number: int) -> int:
        """The cost of ending here, or _DEAD."""
        state, counted = self._states[number]
        return self._price(self.monitor.finish(state), counted)[0]

    def _price(self, hits: list[Hit], counted: int) -> tuple[int, int]:
        bare = sum(hit.licence is None for hit in hits)
        if not bare:
            return 0, counted
        if self.fatal:
            return _DEAD, 0
        if self._most is None:
            return bare * self.points, counted
        if self.monitor.rule.weight.once:
            return (self.points, 1) if not counted else (0, 1)
        after = min(self._most, counted + bare * self.points)
        return after - counted, after


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


class _Builder:
    def __init__(self, problem: Problem, costed: bool, limits: Limits, allowed: Callable[[t.Rule], bool]) -> None:
        self.problem, self.limits = problem, limits
        chosen = [
            monitor
            for monitor in monitors(problem.ruleset, problem.setting, saturate=True)
            if allowed(monitor.rule) and _matters(monitor.rule.weight, costed)
        ]
        self.filters = [monitor for monitor in chosen if monitor.stateless]
        self.banks = [_Bank(monitor) for monitor in chosen if not monitor.stateless]
        self._notes: dict[tuple[int, int, Pitch], Note] = {}
        self.depth = max([0, *(_memory(monitor.rule) for monitor in chosen)])
        self.onsets = sorted({slot.onset for line in problem.lines for slot in line})
        self.following = dict(zip(self.onsets, [*self.onsets[1:], problem.setting.length], strict=True))

    def run(self, progress: Callable[[int, int, int], None]) -> Graph:
        deadline = time.monotonic() + self.limits.seconds
        layer = _Layer()
        start = tuple(bank.start for bank in self.banks)
        layer.add((), NO_MOMENT, start, ())
        layers, total, reached = [layer], 0, 0
        for number, onset in enumerate(self.onsets, 1):
            layer = self._next(layer, onset, deadline, number)
            total += len(layer.nodes)
            if layer.nodes:
                reached = number
            if total > self.limits.nodes:
                raise Exhausted("memory", number, len(self.onsets))
            progress(number, len(self.onsets), total)
            layers.append(layer)
            if not layer.nodes:
                break
        ends = tuple(self._ends(layer)) if reached == len(self.onsets) else ()
        return Graph(self.problem, tuple(tuple(each.nodes) for each in layers), ends, reached)

    def _ends(self, layer: _Layer) -> Iterator[tuple[int, int]]:
        for place, node in enumerate(layer.nodes):
            costs = [bank.finish(state) for bank, state in zip(self.banks, node.states, strict=True)]
            if _DEAD not in costs:
                yield place, sum(costs)

    def _next(self, before: _Layer, onset: Fraction, deadline: float, number: int) -> _Layer:
        """The layer after another: every edge from every node."""
        layer = _Layer()
        beginning = self._beginning(onset)
        for key, places in before.by_key.items():
            if time.monotonic() > deadline:
                raise Exhausted("time", number, len(self.onsets))
            previous = before.moments[key]
            for choice in product(*(slot.choices for _, slot in beginning)):
                moment = self._moment(previous, onset, beginning, choice)
                cost = self._filter(moment)
                if cost != _DEAD:
                    self._edges(before, places, layer, moment, cost)
        return layer

    def _beginning(self, onset: Fraction) -> list[tuple[int, Slot]]:
        """The slots that begin at an onset, each with its voice."""
        return [(v, slot) for v, line in enumerate(self.problem.lines) for slot in line if slot.onset == onset]

    def _moment(
        self, previous: Moment, onset: Fraction, beginning: list[tuple[int, Slot]], choice: tuple[Pitch, ...]
    ) -> Moment:
        setting = self.problem.setting
        notes: list[Note | None] = [None] * setting.voice_count
        if previous is not NO_MOMENT:
            notes = [n if n is not None and n.onset + n.length > onset else None for n in previous.notes]
        for (voice, slot), pitch in zip(beginning, choice, strict=True):
            before = NO_NOTE if previous is NO_MOMENT else previous.latest[voice]
            rested = before is not NO_NOTE and before.onset + before.length < slot.onset
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

    def _filter(self, moment: Moment) -> int:
        """The cost of an edge by the rules that remember nothing."""
        cost = 0
        for monitor in self.filters:
            for hit in monitor.step(monitor.start, moment)[1]:
                if hit.licence is None:
                    if monitor.rule.weight.severity == "fault":
                        return _DEAD
                    cost += monitor.rule.weight.points
        return cost

    def _edges(self, before: _Layer, places: Iterable[int], layer: _Layer, moment: Moment, base: int) -> None:
        """The edge of one choice from each node in ``places``."""
        memo: list[dict[int, tuple[int, int]]] = [{} for _ in self.banks]
        following = self.following[moment.time]
        key = tuple(self._trace(note, following) for note in moment.latest)
        sounding = zip(moment.notes, moment.begun, strict=True)
        choice = tuple(note.pitch if note is not None and begun else None for note, begun in sounding)
        steps = list(zip(memo, self.banks, strict=True))
        for place in places:
            cost = base
            after: list[int] = []
            for state, (known, bank) in zip(before.nodes[place].states, steps, strict=True):
                found = known.get(state)
                if found is None:
                    found = known[state] = bank.step(state, moment)
                if found[0] == _DEAD:
                    break
                after.append(found[0])
                cost += found[1]
            else:
                layer.add(key, moment, tuple(after), choice).edges.append((place, cost))

    def _trace(self, note: Note, until: Fraction) -> tuple[Pitch, ...]:
        """The pitches of a note and as many before it as may still be asked for from the next moment on."""
        pitches: list[Pitch] = []
        held = note is not NO_NOTE and note.onset + note.length > until
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
