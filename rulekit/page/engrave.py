"""The engraver: MEI laid out on staves, as raw SVG, and what it plays.

Verovio does the engraving. Its units are hundredths of a staff space here, times 1.8; ids are those of the MEI.
"""

from fractions import Fraction
from functools import cache
from importlib.resources import files
from itertools import pairwise
from math import ceil
from typing import Any
from xml.etree import ElementTree

import verovio

from rulekit.exercise.model import Exercise
from rulekit.exercise.timeline import moments

_START, _BAR = 13, 9.5  # staff spaces: what stands before the first bar, and a bar with one moment
_ROOMY_START, _ROOMY_BAR = 18, 10  # the same where the engraver is sure to break no line by itself
_FINEST = 192  # parts of a quarter note that times are read to
SPACE = 180.0  # Verovio's units to a staff space
_OPTIONS = {
    "adjustPageHeight": True,
    "font": "Bravura",
    "footer": "none",
    "header": "none",
    "minLastJustification": 0.6,
    "mnumInterval": 0,
    "pageHeight": 60000,
    "pageMarginBottom": 0,
    "pageMarginLeft": 20,
    "pageMarginRight": 15,
    "pageMarginTop": 0,
    "scale": 40,
    "smuflTextFont": "none",
    "svgViewBox": True,
    "svgHtml5": True,
    "xmlIdSeed": 1,
}


class EngravingError(RuntimeError):
    """The engraver refused what it was given."""


def engrave(text: str, width: int, *, whole: bool = False) -> ElementTree.Element:
    """The raw SVG of an MEI text, ``width`` staff spaces wide, or ``whole`` on one line. Raises EngravingError."""
    return ElementTree.fromstring(_load(text, width, "none" if whole else "encoded").renderToSVG(1))


def played(text: str) -> dict[str, tuple[Fraction, Fraction, int]]:
    """What the engraver plays: for each id of a note its onset and end in quarter notes and its MIDI number."""
    toolkit = _load(text, 100)
    start: dict[str, Fraction] = {}
    end: dict[str, Fraction] = {}
    for entry in toolkit.renderToTimemap({}):
        time = Fraction(entry["qstamp"]).limit_denominator(_FINEST)
        start |= dict.fromkeys(entry.get("on", ()), time)
        end |= dict.fromkeys(entry.get("off", ()), time)
    return {each: (start[each], end[each], _midi(toolkit, each)) for each in start}


def _midi(toolkit: Any, each: str) -> int:
    return int(toolkit.getMIDIValuesForElement(each)["pitch"])


def _load(text: str, width: int, breaks: str = "encoded") -> Any:
    toolkit = _toolkit()
    toolkit.setOptions({**_OPTIONS, "breaks": breaks, "pageWidth": round(width * SPACE / 10)})
    if not toolkit.loadData(text):
        raise EngravingError("the engraver can’t read this score")
    return toolkit


@cache
def _toolkit() -> Any:
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit(False)
    toolkit.setResourcePath(str(files("verovio") / "data"))  # the library’s own path holds in one thread only
    return toolkit


# ---- bars to a line -----------------------------------------------------------------------------


def line_breaks(exercise: Exercise, width: int) -> tuple[int, ...]:
    """The bars that begin a new line of some staff spaces, so that lines hold about equally much."""
    weights = _weights(exercise)
    room = max(1.0, (width - _START) / _BAR)
    lines = max(1, -int(-sum(weights) // room))
    share = sum(weights) / lines
    sums = [sum(weights[:number]) for number in range(len(weights) + 1)]
    return tuple(number + 2 for number, (a, b) in enumerate(pairwise(sums[1:])) if _line(a, share) < _line(b, share))


def natural_width(exercise: Exercise) -> int:
    """How wide an exercise on one line is, in staff spaces."""
    return ceil(_ROOMY_START + _ROOMY_BAR * sum(_weights(exercise)))


def _line(upto: float, share: float) -> int:
    """In which line a bar stands that ends so far from the start."""
    return int((upto - share / 1000) // share)


def _weights(exercise: Exercise) -> list[float]:
    """How wide each bar is, a bar with one moment being 1."""
    counts = [0] * exercise.setting.bars
    for moment in moments(exercise):
        counts[moment.bar - 1] += 1
    return [1 + 0.5 * max(0, count - 1) for count in counts]
