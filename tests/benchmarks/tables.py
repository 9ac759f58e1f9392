"""Plain tables and stop-watches for the benchmarks."""

import time
from collections.abc import Callable, Sequence
from typing import TypeVar

T = TypeVar("T")


def show(title: str, head: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Print a table with its columns aligned."""
    texts = [list(head), *([str(cell) for cell in row] for row in rows)]
    widths = [max(len(row[column]) for row in texts) for column in range(len(head))]
    print(f"\n{title}")
    for row in texts:
        print("  " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)))


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """How many seconds of the processor some work takes in this process, and its result."""
    start = time.process_time()
    result = work()
    return time.process_time() - start, result


def best_of(number: int, work: Callable[[], object]) -> float:
    """The fewest seconds of the processor that some work takes in a number of trials."""
    return min(timed(work)[0] for _ in range(number))
