"""Questions about a graph: how many lines, which notes where, a fair draw, the cheapest, all in order."""

import heapq
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import islice
from random import Random

from rulekit.music.pitch import Pitch
from rulekit.solving.graph import Graph, Meter, at_most, looking, ways
from rulekit.solving.watch import Choice

Line = tuple[tuple[Pitch, ...], ...]  # the pitches of every voice, from the highest written


def exists(graph: Graph) -> bool:
    """Whether there is any line."""
    return bool(graph)


def count(graph: Graph, meter: Meter | None = None) -> int:
    """How many lines there are, exactly. Raises Exhausted."""
    return ways(graph, meter)[0][0] if graph else 0


def narrowed(graph: Graph, keep: Callable[[int, Choice], bool]) -> Graph:
    """The same lines, but only those whose notes at every moment (its number from 0) are to be kept."""
    kept = [[keep(number, choice) for choice in letters] for number, letters in enumerate(graph.letters)]
    levels = [
        [tuple(edge for edge in node if kept[number][edge[0]]) for node in level] if number < len(kept) else level
        for number, level in enumerate(graph.levels)
    ]
    return replace(graph, levels=tuple(levels))


def count_by_cost(graph: Graph, meter: Meter | None = None) -> dict[int, int]:
    """How many lines cost how many points, from the cheapest. Raises Exhausted."""
    if not graph:
        return {}
    after = [Counter({0: 1})] * len(graph.levels[-1])
    for level in reversed(graph.levels[:-1]):
        current: list[Counter[int]] = []
        for node in looking(level, meter):
            total: Counter[int] = Counter()
            for _, to, cost in node:
                if meter is not None:
                    meter.work(len(after[to]))
                for paid, number in after[to].items():
                    total[paid + cost] += number
            current.append(total)
        after = current
    return {graph.least + cost: number for cost, number in sorted(after[0].items())}


def count_by_choice(graph: Graph, meter: Meter | None = None) -> list[dict[Choice, int]]:
    """For every moment, how many lines have which notes there (of every voice, None where none begins).

    Raises Exhausted.
    """
    if not graph:
        return [{} for _ in graph.letters]
    onward, here = ways(graph, meter), [1]
    counted: list[dict[Choice, int]] = []
    for number, (level, letters) in enumerate(zip(graph.levels, graph.letters, strict=False)):
        following = [0] * len(graph.levels[number + 1])
        totals = [0] * len(letters)
        for before, node in zip(here, looking(level, meter), strict=True):
            for letter, to, _ in node:
                following[to] += before
                totals[letter] += before * onward[number + 1][to]
        counted.append({choice: total for choice, total in zip(letters, totals, strict=True) if total})
        here = following
    return counted


def of_voice(by_choice: dict[Choice, int], voice: int) -> dict[Pitch, int]:
    """The counts of one moment by the notes of one voice, from the lowest."""
    totals: Counter[Pitch] = Counter()
    for choice, number in by_choice.items():
        pitch = choice[voice]
        if pitch is not None:
            totals[pitch] += number
    return dict(sorted(totals.items()))


def sample(graph: Graph, random: Random, number: int = 1, most: int | None = None) -> list[Line]:
    """Lines drawn fairly (each is equally likely), with repetition; empty if there are none.

    ``most`` keeps only lines that cost no more.
    """
    return list(islice(draws(graph if most is None else at_most(graph, most), random), number))


def draws(graph: Graph, random: Random, meter: Meter | None = None) -> Iterator[Line]:
    """Lines drawn fairly, one after another without end; none if there are none. Raises Exhausted."""
    onward = ways(graph, meter)
    while graph:
        if meter is not None:
            meter.look()
        yield spell(graph, _draw(graph, random, onward))


def _draw(graph: Graph, random: Random, onward: list[list[int]]) -> list[int]:
    """The letters of a line, each edge drawn by how many lines lead on from it, in exact whole numbers."""
    place, path = 0, list[int]()
    for level, nodes in enumerate(graph.levels[:-1]):
        left = random.randrange(onward[level][place])
        for letter, to, _ in nodes[place]:
            if left < onward[level + 1][to]:
                path.append(letter)
                place = to
                break
            left -= onward[level + 1][to]
    return path


def best(graph: Graph, number: int = 1, meter: Meter | None = None) -> list[tuple[int, Line]]:
    """The cheapest lines with what they cost, ties in the order of their notes. Raises Exhausted."""
    return list(ranked(graph, number, meter))


def ranked(graph: Graph, number: int, meter: Meter | None = None) -> Iterator[tuple[int, Line]]:
    """As many as ``number`` of the cheapest lines with what they cost, one after another. Raises Exhausted."""
    found = 0
    waiting: list[tuple[int, tuple[int, ...], int]] = [(0, (), 0)] if graph else []
    while waiting and found < number:
        cost, path, place = heapq.heappop(waiting)
        if meter is not None:
            meter.work(1, len(waiting))
        if len(path) == len(graph.letters):
            found += 1
            yield graph.least + cost, spell(graph, path)
            continue
        for letter, to, more in graph.levels[len(path)][place]:
            heapq.heappush(waiting, (cost + more, (*path, letter), to))


def lines(graph: Graph, limit: int | None = None) -> Iterator[Line]:
    """All lines in the order of their notes, from the lowest; at most ``limit``."""
    return islice(_walk(graph), limit)


def _walk(graph: Graph) -> Iterator[Line]:
    def go(place: int, path: tuple[int, ...]) -> Iterator[Line]:
        if len(path) == len(graph.letters):
            yield spell(graph, path)
            return
        for letter, to, _ in graph.levels[len(path)][place]:
            yield from go(to, (*path, letter))

    if graph:
        yield from go(0, ())


def spell(graph: Graph, path: "list[int] | tuple[int, ...]") -> Line:
    """The notes of every voice along a path of letters, one a level."""
    choices = [letters[letter] for letters, letter in zip(graph.letters, path, strict=True)]
    voices = range(len(graph.problem.voices))
    return tuple(tuple(p for p in (choice[voice] for choice in choices) if p is not None) for voice in voices)


class Ranking:
    """All lines in the order of :func:`lines`, any of them to be had by its place without listing the others."""

    def __init__(self, graph: Graph) -> None:
        self._graph, self._ways = graph, ways(graph)
        self.total = self._ways[0][0] if graph else 0

    def line(self, rank: int) -> Line:
        """The line at a place, from 0; IndexError beyond the last."""
        if not 0 <= rank < self.total:
            raise IndexError(f"there is no line {rank} among {self.total}")
        place, path = 0, list[int]()
        for level, nodes in enumerate(self._graph.levels[:-1]):
            for letter, to, _ in nodes[place]:
                if rank < self._ways[level + 1][to]:
                    path.append(letter)
                    place = to
                    break
                rank -= self._ways[level + 1][to]
        return spell(self._graph, path)
