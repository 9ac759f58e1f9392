"""Questions about a graph, each a fold over its layers: how many lines, a fair draw, the cheapest, all in order."""

import heapq
from collections import Counter
from collections.abc import Callable, Iterator
from itertools import islice
from random import Random
from typing import TypeVar

from rulekit.music.pitch import Pitch
from rulekit.solving.graph import Graph, Node

Line = tuple[tuple[Pitch, ...], ...]  # the pitches of every voice, from the highest written
Price = Callable[[int, Node], tuple[int, ...]]
_T = TypeVar("_T")
_Entry = tuple[tuple[int, ...], tuple[tuple[Pitch | None, ...], ...]]  # what is paid, the notes of each layer


def forward(graph: Graph, start: _T, nothing: Callable[[], _T], add: Callable[[_T, _T, int], _T]) -> list[list[_T]]:
    """The value of every node, put together from the nodes that lead to it; ``add`` is given each edge's cost."""
    values = [[start]]
    for layer in graph.layers[1:]:
        before, current = values[-1], list[_T]()
        for node in layer:
            value = nothing()
            for place, cost in node.edges:
                value = add(value, before[place], cost)
            current.append(value)
        values.append(current)
    return values


def exists(graph: Graph) -> bool:
    """Whether there is any line."""
    return bool(graph.ends)


def count(graph: Graph) -> int:
    """How many lines there are, exactly."""
    ways = forward(graph, 1, int, lambda total, before, _: total + before)
    return sum(ways[-1][place] for place, _ in graph.ends)


def count_by_cost(graph: Graph) -> dict[int, int]:
    """How many lines cost how many points, from the cheapest."""
    total: Counter[int] = Counter()
    ways = _ways_by_cost(graph)
    for place, end in graph.ends:
        for cost, number in ways[-1][place].items():
            total[cost + end] += number
    return dict(sorted(total.items()))


def _ways_by_cost(graph: Graph) -> list[list[Counter[int]]]:
    def add(total: Counter[int], before: Counter[int], cost: int) -> Counter[int]:
        for paid, number in before.items():
            total[paid + cost] += number
        return total

    return forward(graph, Counter({0: 1}), Counter, add)


def count_by_opening(graph: Graph) -> dict[tuple[Pitch | None, ...], int]:
    """How many lines open with which notes (of every voice, None where none begins)."""
    return _counted_at(graph, 1)


def count_by_close(graph: Graph) -> dict[tuple[Pitch | None, ...], int]:
    """How many lines have which notes before the last."""
    return _counted_at(graph, len(graph.layers) - 2)


def _counted_at(graph: Graph, level: int) -> dict[tuple[Pitch | None, ...], int]:
    """How many lines pass through each choice of notes in one layer."""
    if not graph.ends or level < 1:
        return {}
    ways = forward(graph, 1, int, lambda total, before, _: total + before)
    after = _ways_to_end(graph)
    totals: Counter[tuple[Pitch | None, ...]] = Counter()
    for place, node in enumerate(graph.layers[level]):
        totals[node.choice] += ways[level][place] * after[level][place]
    return {choice: number for choice, number in sorted(totals.items(), key=str) if number}


def _ways_to_end(graph: Graph) -> list[list[int]]:
    """For every node, how many ways lead from it to an end."""
    after = [[0] * len(layer) for layer in graph.layers]
    for place, _ in graph.ends:
        after[-1][place] = 1
    for number in range(len(graph.layers) - 1, 0, -1):
        for place, node in enumerate(graph.layers[number]):
            for before, _ in node.edges:
                after[number - 1][before] += after[number][place]
    return after


def sample(graph: Graph, random: Random, number: int = 1, accept: Callable[[int], bool] | None = None) -> list[Line]:
    """Lines drawn fairly (each is equally likely), with repetition; empty if there are none.

    ``accept`` keeps only lines of certain costs.
    """
    if accept is None:
        ways = forward(graph, 1, int, lambda total, before, _: total + before)
        return [line for line in (_draw(graph, random, ways) for _ in range(number)) if line is not None]
    by_cost = _ways_by_cost(graph)
    return [line for line in (_draw_cost(graph, random, by_cost, accept) for _ in range(number)) if line is not None]


def _pick(random: Random, weights: list[int]) -> int | None:
    """An index drawn with exact whole-number weights."""
    total = sum(weights)
    if not total:
        return None
    left = random.randrange(total)
    for index, weight in enumerate(weights):
        if left < weight:
            return index
        left -= weight
    return None


def _draw(graph: Graph, random: Random, ways: list[list[int]]) -> Line | None:
    end = _pick(random, [ways[-1][place] for place, _ in graph.ends])
    if end is None:
        return None
    place, path = graph.ends[end][0], list[Node]()
    for number in range(len(graph.layers) - 1, 0, -1):
        node = graph.layers[number][place]
        path.append(node)
        edge = _pick(random, [ways[number - 1][before] for before, _ in node.edges])
        assert edge is not None
        place = node.edges[edge][0]
    return spell(graph, path[::-1])


def _draw_cost(
    graph: Graph, random: Random, ways: list[list[Counter[int]]], accept: Callable[[int], bool]
) -> Line | None:
    ends = [
        (place, cost, number)
        for place, end in graph.ends
        for cost, number in ways[-1][place].items()
        if accept(cost + end)
    ]
    chosen = _pick(random, [number for *_, number in ends])
    if chosen is None:
        return None
    place, paid, _ = ends[chosen]
    path: list[Node] = []
    for number in range(len(graph.layers) - 1, 0, -1):
        node = graph.layers[number][place]
        path.append(node)
        edge = _pick(random, [ways[number - 1][before][paid - cost] for before, cost in node.edges])
        assert edge is not None
        place, paid = node.edges[edge][0], paid - node.edges[edge][1]
    return spell(graph, path[::-1])


def best(graph: Graph, number: int = 1, price: Price | None = None) -> list[tuple[tuple[int, ...], Line]]:
    """The cheapest lines with what they cost, ties in the order of their notes.

    The cost is that of the edges, or, with ``price``, the sum of what each layer's node is priced at,
    the edges' cost coming last.
    """
    width = len(price(1, graph.layers[1][0])) if price is not None and len(graph.layers) > 1 and graph.layers[1] else 0
    values: list[list[_Entry]] = [[((0,) * (width + 1), ())]]
    for level, layer in enumerate(graph.layers[1:], 1):
        before, values = values, []
        for node in layer:
            own = price(level, node) if price is not None else ()
            entries = (
                (tuple(a + b for a, b in zip(paid, (*own, cost), strict=True)), (*notes, node.choice))
                for place, cost in node.edges
                for paid, notes in before[place]
            )
            values.append(heapq.nsmallest(number, entries, key=_order))
    ended = (((*paid[:-1], paid[-1] + end), notes) for place, end in graph.ends for paid, notes in values[place])
    return [(paid, _voices(notes)) for paid, notes in heapq.nsmallest(number, ended, key=_order)]


def _order(entry: _Entry) -> tuple[object, ...]:
    paid, notes = entry
    return paid, tuple(tuple(pitch or 0 for pitch in choice) for choice in notes)


def lines(graph: Graph, limit: int | None = None) -> Iterator[Line]:
    """All lines in the order of their notes, from the lowest; at most ``limit``."""
    return islice(_walk(graph), limit)


def _walk(graph: Graph) -> Iterator[Line]:
    after = _after(graph, _ways_to_end(graph))

    def go(place: int, path: list[Node]) -> Iterator[Line]:
        if len(path) == len(graph.layers) - 1:
            yield spell(graph, path)
            return
        for reached in after[len(path)][place]:
            yield from go(reached, [*path, graph.layers[len(path) + 1][reached]])

    if graph.ends:
        yield from go(0, [])


def _after(graph: Graph, ways: list[list[int]]) -> list[list[list[int]]]:
    """For every node, the nodes it leads to from which there is a way to an end, in the order of their notes."""
    after: list[list[list[int]]] = [[[] for _ in layer] for layer in graph.layers]
    for number, layer in enumerate(graph.layers[1:], 1):
        for place in sorted((p for p in range(len(layer)) if ways[number][p]), key=lambda p: _notes(layer[p])):
            for before, _ in layer[place].edges:
                after[number - 1][before].append(place)
    return after


def _notes(node: Node) -> tuple[int, ...]:
    return tuple(pitch or 0 for pitch in node.choice)


def spell(graph: Graph, path: list[Node]) -> Line:
    """The notes of every voice along a path of nodes, one a layer."""
    return _voices(tuple(node.choice for node in path))


def _voices(choices: tuple[tuple[Pitch | None, ...], ...]) -> Line:
    return tuple(
        tuple(pitch for pitch in (choice[voice] for choice in choices) if pitch is not None)
        for voice in range(len(choices[0]) if choices else 0)
    )


class Ranking:
    """All lines in the order of :func:`lines`, any of them to be had by its place without listing the others."""

    def __init__(self, graph: Graph) -> None:
        self._graph = graph
        self._ways = _ways_to_end(graph)
        self._after = _after(graph, self._ways)
        self.total = self._ways[0][0] if graph.ends else 0

    def line(self, rank: int) -> Line:
        """The line at a place, from 0; IndexError beyond the last."""
        if not 0 <= rank < self.total:
            raise IndexError(f"there is no line {rank} among {self.total}")
        place, path = 0, list[Node]()
        for level in range(1, len(self._graph.layers)):
            for after in self._after[level - 1][place]:
                if rank < self._ways[level][after]:
                    place = after
                    break
                rank -= self._ways[level][after]
            path.append(self._graph.layers[level][place])
        return spell(self._graph, path)
