"""Plots of counts and shares, as a page draws them: one bar a name."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bin:
    """One bar of a plot: what it counts, how that is written, and its part of the longest bar, from 0 to 100."""

    name: str
    label: str
    share: float


@dataclass(frozen=True, slots=True)
class Plot:
    """A plot: its heading, what the names and the values are, its bars."""

    heading: str
    name: str
    value: str
    bins: tuple[Bin, ...]


def counts(counted: Iterable[tuple[str, int]]) -> tuple[Bin, ...]:
    """Bars of whole numbers, however large; the greatest is the longest."""
    pairs = tuple(counted)
    most = max((number for _, number in pairs), default=1) or 1
    return tuple(Bin(name, str(number), number * 1000 // most / 10) for name, number in pairs)


def shares(parts: Mapping[str, float]) -> tuple[Bin, ...]:
    """Bars of parts of 1; the longest would be all of it."""
    return tuple(Bin(name, f"{part:.2%}", round(100 * part, 2)) for name, part in parts.items())
