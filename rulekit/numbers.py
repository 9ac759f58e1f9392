"""Numbers in words: ``two``, ``second``, ``2nd``."""

from collections.abc import Sequence

COUNTS: Sequence[str] = "no one two three four five six seven eight nine ten eleven twelve".split()
ORDINALS: Sequence[str] = "first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth".split()
_KNOWN = {"zero": 0, **dict(zip(COUNTS, range(13), strict=True)), **dict(zip(ORDINALS, range(1, 13), strict=True))}


def counted(word: str) -> int | None:
    """The number that a word says, which may count or say a place in a row; None if it says none."""
    return int(word) if word.isdecimal() else _KNOWN.get(word)


def ordinal(number: int) -> str:
    """A place in a row in figures: ``2nd``, ``11th``."""
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"
