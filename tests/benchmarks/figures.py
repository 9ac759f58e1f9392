"""What is measured: a figure beside a reference that does comparable work in the same process, and what is wanted."""

import resource
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

_PER_MB = 2**20 if sys.platform == "darwin" else 2**10


@dataclass(frozen=True, slots=True)
class Wanted:
    """The most that a figure may be: so many times its reference, so many seconds, the process so many MB."""

    ratio: float | None = None
    seconds: float | None = None
    memory: float | None = None

    def __str__(self) -> str:
        parts = [(self.ratio, "×"), (self.seconds, " s"), (self.memory, " MB")]
        return ", ".join(f"{bound:g}{unit}" for bound, unit in parts if bound is not None)


@dataclass(frozen=True, slots=True)
class Figure:
    """Seconds that some work took and that its reference took, and how many MB the process grew by."""

    took: float
    reference: float
    memory: float = 0.0

    @property
    def ratio(self) -> float:
        """How many times the reference it took."""
        return self.took / self.reference

    def meets(self, wanted: Wanted) -> bool:
        """Whether it is within all that is wanted."""
        pairs = [(self.ratio, wanted.ratio), (self.took, wanted.seconds), (self.memory, wanted.memory)]
        return all(bound is None or value <= bound for value, bound in pairs)


@dataclass(frozen=True, slots=True)
class Case:
    """What is measured, beside what, and what is wanted of it."""

    what: str
    beside: str
    wanted: Wanted
    measure: Callable[[], Figure]


def timed(work: Callable[[], object]) -> float:
    """How many seconds of the processor some work takes in this process."""
    start = time.process_time()
    work()
    return time.process_time() - start


def best_of(number: int, work: Callable[[], object]) -> float:
    """The fewest such seconds in a number of trials."""
    return min(timed(work) for _ in range(number))


def peak() -> float:
    """The most memory of this process so far, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / _PER_MB
