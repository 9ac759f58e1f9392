"""Which intervals a family means: patterns of the language written out as sets of integers."""

from collections.abc import Iterable
from functools import cache

from rulekit.language.typed import Pattern
from rulekit.music.pitch import Interval, make_interval, quality, rising, size, steps

_OCTAVE_STEPS = 7
_WIDEST_STEPS = 4 * _OCTAVE_STEPS
_WHITE = (0, 2, 4, 5, 7, 9, 11)


@cache
def _universe() -> tuple[Interval, ...]:
    """All rising intervals up to four octaves, doubly augmented and diminished ones included."""
    found: list[Interval] = []
    for distance in range(_WIDEST_STEPS + 1):
        natural = 12 * (distance // 7) + _WHITE[distance % 7]
        found += [make_interval(distance, natural + shift) for shift in range(-4, 5)]
    return tuple(interval for interval in found if interval >= 0)


@cache
def harmonic(patterns: tuple[Pattern, ...]) -> frozenset[object]:
    """The vertical intervals of the patterns, with their compounds unless exact."""
    return frozenset(i for i in _universe() if any(_fits(i, pattern, True) for pattern in patterns))


@cache
def melodic(patterns: tuple[Pattern, ...]) -> frozenset[object]:
    """The melodic intervals of the patterns, falling ones negative; never with compounds."""
    both = {*_universe(), *(Interval(-i) for i in _universe())}
    return frozenset(i for i in both if any(_fits(i, pattern, False) for pattern in patterns))


def _fits(interval: Interval, pattern: Pattern, compounds: bool) -> bool:
    if pattern.heading and (interval > 0) - (interval < 0) != pattern.heading:
        return False
    up = rising(interval)
    number = size(up)
    if compounds and not pattern.exact and pattern.high <= 8 and number > 8:
        number = (steps(up) - 1) % _OCTAVE_STEPS + 2
    if not pattern.low <= number <= pattern.high:
        return False
    wanted = pattern.quality
    if not wanted:
        return True
    found = quality(up)
    return found.startswith(wanted) if wanted in ("A", "d") and pattern.low != pattern.high else found == wanted


def compare_width(operator: str, interval: Interval, patterns: Iterable[Pattern]) -> bool:
    """Whether an interval is wider (``<``) or at least as wide (``<=``) as all the patterns: by size, then quality."""
    order = ["d", "m", "P", "M", "A"]

    def width(number: int, kind: str) -> tuple[int, int]:
        return number, order.index(kind[0]) if kind else 2

    for pattern in patterns:
        here = width(size(interval), quality(rising(interval)) if pattern.quality else "")
        bound = width(pattern.high, pattern.quality)
        if not (bound < here or (operator == "<=" and bound == here)):
            return False
    return True


def by_width(operator: str, patterns: tuple[Pattern, ...], greater: bool) -> frozenset[object]:
    """All intervals, rising and falling, that are wider (or, not ``greater``, narrower) than the patterns."""
    both = {*_universe(), *(Interval(-i) for i in _universe())}
    if greater:
        return frozenset(i for i in both if compare_width(operator, i, patterns))
    flipped = "<=" if operator == "<" else "<"
    return frozenset(i for i in both if not compare_width(flipped, i, patterns))


def is_all_wider(members: frozenset[object]) -> bool:
    """Whether a set holds, with any rising interval, every wider one too."""
    rising_members = [i for i in _universe() if i in members]
    return bool(rising_members) and rising_members == [i for i in _universe() if i >= rising_members[0]]
