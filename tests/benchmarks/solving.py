"""How fast spaces of lines are searched: ``python -m tests.benchmarks.solving``."""

import tracemalloc

from rulekit.exercise.model import Compass
from rulekit.language.ruleset import Ruleset, load_ruleset, load_text
from rulekit.music.pitch import pitch_of
from rulekit.solving import folds
from rulekit.solving.graph import Exhausted, Graph, Limits, build
from rulekit.solving.problem import Problem, over_cantus
from tests.benchmarks.tables import best_of, show, timed
from tests.solving.cases import D_DORIAN, over, voice
from tests.solving.outside import REDUCED, count_by_hand, count_by_solver, lines_by_trying, tone, white_notes

# A cantus of our own for each length from 6 to 14 notes: this one, cut before its close.
_OURS = "D4 F4 E4 G4 F4 A4 G4 E4 F4 D4 F4 G4".split()
_LOW, _HIGH = "C4", "G5"
_TRIED_UP_TO, _SOLVED_UP_TO = 12, 11


def cantus(length: int) -> str:
    return " ".join([*_OURS[: length - 2], "E4", "D4"])


def nodes(graph: Graph) -> int:
    return sum(len(layer) for layer in graph.layers)


def four_ways() -> None:
    """The same count by the graph and by others, for lengths 6 to 14, under the reduced rules."""
    rules, notes = load_text(REDUCED), white_notes(_LOW, _HIGH)
    rows: list[list[object]] = []
    for length in range(6, 15):
        sung = [tone(name) for name in cantus(length).split()]
        problem = over(rules, cantus(length), _LOW, _HIGH)
        build(problem)
        ours, graph = timed(lambda problem=problem: build(problem))
        ours = min(ours, best_of(3, lambda problem=problem: folds.count(build(problem))))
        by_hand = best_of(3, lambda sung=sung: count_by_hand(sung, notes))
        counts = {folds.count(graph), count_by_hand(sung, notes)}
        tried = solved = "-"
        if length <= _TRIED_UP_TO:
            seconds, found = timed(lambda sung=sung: sum(1 for _ in lines_by_trying(sung, notes)))
            tried = f"{seconds:.2f}"
            counts.add(found)
        if length <= _SOLVED_UP_TO:
            seconds, found = timed(lambda sung=sung: count_by_solver(sung, notes))
            solved = f"{seconds:.2f}"
            counts.add(found)
        assert len(counts) == 1, f"the counts differ: {counts}"
        took = [f"{ours * 1e3:.0f}", f"{by_hand * 1e3:.1f}", f"{ours / by_hand:.1f}", tried, solved]
        rows.append([length, *counts, *took, nodes(graph), max(map(len, graph.layers))])
    show(
        "counting, reduced rules, one free voice C4-G5",
        ["notes", "lines", "graph ms", "hand ms", "ratio", "one by one s", "CP-SAT s", "nodes", "most a moment"],
        rows,
    )
    print("  wanted: ratio 5 or less; nodes grow by as much for every note")


def strict() -> None:
    """The strict ruleset, by lengths, with its nodes and memory."""
    rows: list[list[object]] = []
    rules = load_ruleset("first-species-strict")
    for length in range(6, 15):
        problem = over(rules, cantus(length), "A3", "D5")
        build(problem)
        seconds, graph = timed(lambda problem=problem: build(problem))
        costed, priced = timed(lambda problem=problem: _costed(problem)) if length <= 10 else (None, "-")
        rows.append([length, folds.count(graph), f"{seconds:.3f}", nodes(graph), max(map(len, graph.layers)),
                     f"{_peak(problem):.1f}", "-" if costed is None else f"{costed:.2f}", priced])  # fmt: skip
    show(
        "the strict ruleset, one free voice A3-D5 with its alterations",
        ["notes", "lines", "s", "nodes", "most a moment", "peak MB", "with points s", "nodes"],
        rows,
    )
    print("  wanted: 12 notes in less than 0.2 s")


def _costed(problem: Problem) -> str:
    try:
        return str(nodes(build(problem, costed=True, limits=Limits(seconds=20))))
    except Exhausted as reached:
        return str(reached)


def _peak(problem: Problem) -> float:
    """The most memory that a search keeps at once, in MB."""
    tracemalloc.start()
    build(problem)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def two_free_voices() -> None:
    """Two free voices over one cantus, reduced rules without those on the close, which are for two voices."""
    rows: list[list[object]] = []
    for left_out in (["close", "ending"], ["close", "ending", "range"]):
        for length in (6, 8, 10, 12):
            problem = _pair(_without(left_out), length)
            try:
                seconds, graph = timed(lambda problem=problem: build(problem, limits=Limits(seconds=60)))
                row = [folds.count(graph), f"{seconds:.1f}", nodes(graph), max(map(len, graph.layers))]
            except Exhausted as reached:
                row = ["-", str(reached), "-", "-"]
            rows.append([", ".join(left_out), length, *row])
    head = ["left out", "notes", "lines", "s", "nodes", "most a moment"]
    show("two free voices, G4-F5 and C4-C5, over a cantus, reduced rules", head, rows)
    print("  wanted: within 20 s")


def _without(names: list[str]) -> Ruleset:
    kept = [block for block in REDUCED.split("\n\n") if block.split()[1] not in names]
    return load_text("\n\n".join(kept))


def _pair(rules: Ruleset, length: int) -> Problem:
    ranges = (("upper", "G4", "F5"), ("middle", "C4", "C5"))
    free = [Compass(name, pitch_of(low), pitch_of(high)) for name, low, high in ranges]
    return over_cantus(rules, voice("cantus", cantus(length)), D_DORIAN, free, cantus_index=2)


if __name__ == "__main__":
    four_ways()
    strict()
    two_free_voices()
