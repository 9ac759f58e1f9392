"""What is made of a thing once, and kept beside it as long as the thing is there."""

from collections.abc import Callable
from typing import Generic, TypeVar
from weakref import finalize

_Made = TypeVar("_Made")


class Beside(Generic[_Made]):
    """A note book for each thing, known by the thing itself and not by what it is like; what is in it must not hold it.

    >>> tables = Beside(dict[object, str])
    >>> tables.of(ruleset)["first bar"] = "r/2 D5"              # doctest: +SKIP
    """

    def __init__(self, start: Callable[[], _Made]) -> None:
        self._start = start
        self._kept: dict[int, _Made] = {}

    def of(self, thing: object) -> _Made:
        """What is kept beside a thing, empty at first."""
        found = self._kept.get(id(thing))
        if found is None:
            found = self._kept[id(thing)] = self._start()
            finalize(thing, self._kept.pop, id(thing), None).atexit = False
        return found
