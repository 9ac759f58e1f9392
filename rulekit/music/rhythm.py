"""The rhythm of single bars, and how a whole voice moves."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise
from math import lcm

Span = tuple[Fraction, bool]  # a length in quarter notes, and whether it is a rest; tied notes are one


@dataclass(frozen=True, slots=True)
class BarRhythm:
    """What fills one bar: lengths in quarter notes, rests negative; ``tied``: the last note sounds on in the next bar.

    A note that is tied into the bar counts with what of it lies here, tied notes within the bar are one, and so are
    rests that follow each other.
    """

    values: tuple[Fraction, ...]
    tied: bool = False


def total(lengths: Iterable[Fraction]) -> Fraction:
    """The sum of lengths, worked out in whole numbers, which is many times faster."""
    parts = [length.as_integer_ratio() for length in lengths]
    under = lcm(*[each for _, each in parts])
    return Fraction(sum([number * (under // each) for number, each in parts]), under)


def bar_rhythms(spans: Iterable[Span], bars: Iterable[Fraction]) -> list[BarRhythm]:
    """The rhythm of each bar of a voice, the last one filled with a rest where it is short; ``bars`` are as long as
    they say, and at least as many as the voice has."""
    rhythms: list[BarRhythm] = []
    values: list[Fraction] = []
    lengths = iter(bars)
    room = next(lengths)
    for length, is_rest in spans:
        left = length
        while left > 0:
            part = min(left, room)
            _add(values, -part if is_rest else part)
            left, room = left - part, room - part
            if room == 0:
                rhythms.append(BarRhythm(tuple(values), left > 0 and not is_rest))
                values, room = [], next(lengths)
    if values:
        _add(values, -room)
        rhythms.append(BarRhythm(tuple(values)))
    return rhythms


def _add(values: list[Fraction], value: Fraction) -> None:
    if values and values[-1] < 0 and value < 0:
        values[-1] += value
    else:
        values.append(value)


def pace(rhythms: Sequence[BarRhythm], bar: Fraction) -> str:
    """How a voice moves in most of its bars, the last one apart: ``whole``, ``halves``, ``quarters``, ``tied`` over
    the bar, or ``florid``; empty for a voice that is silent.

    Halves are two notes in a bar, quarters four (in triple time three, or six).
    """
    inner = rhythms[:-1] or rhythms
    if not any(value > 0 for rhythm in rhythms for value in rhythm.values):
        return ""
    kinds = [_kind(rhythm, bar) for rhythm in inner]
    common = max(dict.fromkeys(kinds), key=kinds.count)
    if 2 * kinds.count(common) <= len(kinds):
        return "florid"
    ties = sum(rhythm.tied for rhythm in inner)
    return "tied" if common == "halves" and 2 * ties >= len(inner) else common


def _kind(rhythm: BarRhythm, bar: Fraction) -> str:
    sizes = {abs(value) for value in rhythm.values}
    if len(sizes) > 1:
        return "florid"
    return {1: "whole", 2: "halves", 3: "quarters", 4: "quarters", 6: "quarters"}.get(len(rhythm.values), "florid")


def begins_bar(spans: Sequence[Span], bar_of: Callable[[Fraction], int]) -> list[bool]:
    """For each span whether it is a note, the first to begin in its bar, which ``bar_of`` tells of its onset."""
    onsets = accumulate((length for length, _ in spans), initial=Fraction(0))
    bars = [bar_of(onset) for onset, (_, is_rest) in zip(onsets, spans, strict=False) if not is_rest]
    firsts = iter([True, *(a != b for a, b in pairwise(bars))])
    return [not is_rest and next(firsts) for _, is_rest in spans]
