"""The table of all that is measured, each row in a process of its own, so that nothing is known beforehand."""

import gc
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

from tests.benchmarks import marks, processes, searches
from tests.benchmarks.figures import Case, Figure, peak

_CASES = [*searches.CASES, *marks.CASES, *processes.CASES]


def measured(number: int) -> Figure:
    """The figure of a case."""
    gc.freeze()  # what references import is nothing that our work should be looked through for
    before = peak()
    figure = _CASES[number].measure()
    return replace(figure, memory=peak() - before)


def row(case: Case, figure: Figure) -> str:
    """A line of the table."""
    verdict = "" if figure.meets(case.wanted) else "MISSED"
    memory = f"{figure.memory:.0f} MB"
    figures = f"{figure.took:9.4f} s {figure.ratio:9.3f} × {memory:>8}"
    return f"{case.what:60} {figures}  {case.beside:36} {case.wanted!s:16} {verdict}".rstrip()


def run(words: Sequence[str]) -> int:
    """Print the table; 1 if something is missed."""
    missed = 0
    print(f"{'what':60} {'took':>11} {'ratio':>11} {'memory':>8}  {'beside':36} wanted at most")
    for number, case in enumerate(_CASES):
        if all(word in case.what for word in words):
            with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
                figure = pool.submit(measured, number).result()
            print(row(case, figure), flush=True)
            missed += not figure.meets(case.wanted)
    return int(missed > 0)
