"""A student's own MusicXML with remarks written over its notes, and not a byte of the rest changed."""

import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from html import escape

from rulekit.exercise.formats import COMPRESSED, MUSICXML
from rulekit.exercise.formats.musicxml import archive_with, read_musicxml, unpacked
from rulekit.exercise.model import ALLA_BREVE
from rulekit.exercise.sheet import Bar, Item, Sheet

SUFFIXES = (*MUSICXML.suffixes, *COMPRESSED.suffixes)
_NOTE_END = b"</note>"
_BELONGS = re.compile(rb"<(voice|staff)>\s*[^<>&]{1,20}</\1>")
_DIVISIONS = re.compile(rb"<divisions>\s*([1-9]\d{0,5})\s*</divisions>")
_PREFIXES = {"#": "sharp", "b": "flat", "n": "natural", "##": "double-sharp", "bb": "flat-flat"}
_WIDE = (b"\xff\xfe", b"\xfe\xff")
_DECLARED = re.compile(r"""^(<\?xml[^>]*?encoding\s*=\s*)(["'])[^"']*\2""")


@dataclass(frozen=True, slots=True)
class Remark:
    """Words for a note: its bar by the numbers in the score, its beat from 1, the name of its voice in the exercise."""

    bar: int
    beat: Fraction
    voice: str
    text: str


@dataclass(frozen=True, slots=True)
class BassFigures:
    """Figures over the bass, the uppermost first (``10``, ``#6``), and for how many quarter notes they hold.

    Their place is told as that of a :class:`Remark`.
    """

    bar: int
    beat: Fraction
    voice: str
    figures: tuple[str, ...]
    length: Fraction


def annotated(data: bytes, suffix: str, remarks: Sequence[Remark | BassFigures]) -> bytes:
    """A score, plain or compressed as it was by its suffix, with each remark over the note that sounds at its place.

    Figures that change while a note is held stand at that note, one after the other.

    A remark on a bar or a voice that the score doesn't have is left out. Raises Unreadable for a file that
    is no MusicXML.
    """
    if suffix not in COMPRESSED.suffixes:
        return with_remarks(data, remarks)
    name, score = unpacked(data)
    return archive_with(data, name, with_remarks(score, remarks))


def with_remarks(data: bytes, remarks: Sequence[Remark | BassFigures]) -> bytes:
    """A plain score with remarks, in the order given where several stand over one note."""
    data = _narrow(data)
    (sheet,) = read_musicxml(data, "")
    at: dict[int, list[Remark | BassFigures]] = {}
    for remark in remarks:
        item = _item(sheet, remark)
        if item is not None:
            at.setdefault(item.place.byte, []).append(remark)
    pieces: list[bytes] = []
    end = len(data)
    for byte, here in sorted(at.items(), reverse=True):
        pieces += [data[byte:end], b"".join(_written(data, byte, each) for each in here)]
        end = byte
    return b"".join([data[:end], *reversed(pieces)])


def _narrow(data: bytes) -> bytes:
    """A document in two-byte characters in UTF-8; any other as it is."""
    if not data.startswith(_WIDE):
        return data
    return _DECLARED.sub(r"\1\2UTF-8\2", data.decode("utf-16", errors="replace")).encode()


def _item(sheet: Sheet, remark: Remark | BassFigures) -> Item | None:
    """The note or rest that sounds at the place of a remark."""
    staff = next((each for each in sheet.staves if each.name.removesuffix(" (cantus)") == remark.voice), None)
    index = next((index for index, bar in enumerate(sheet.bars) if bar.number == remark.bar), None)
    if staff is None or index is None:
        return None
    time = _time(sheet.bars, index, remark.beat)
    items = sorted((item for item in staff.items if not item.is_grace), key=lambda item: item.onset)
    found = bisect_right([item.onset for item in items], time) - 1
    return items[found] if found >= 0 else None


def _time(bars: Sequence[Bar], index: int, beat: Fraction) -> Fraction:
    """When a beat comes; the beats of a pickup are counted as if it were a whole bar."""
    bar = bars[index]
    metre = bar.metre or ALLA_BREVE
    begins = index == 0 or bars[index - 1].ends_exercise
    missing = max(metre.bar_length - bar.length, Fraction(0)) if begins and index + 1 < len(bars) else Fraction(0)
    return bar.start + max((beat - 1) * metre.unit - missing, Fraction(0))


def _written(data: bytes, byte: int, remark: Remark | BassFigures) -> bytes:
    """A remark before the note that begins at a byte, on a line of its own where that has one."""
    margin = data[data.rfind(b"\n", 0, byte) + 1 : byte]
    line = b"\n" + margin if not margin.strip() else b""
    made = _direction(data, byte, remark.text) if isinstance(remark, Remark) else _figures(data, byte, remark)
    return made + line


def _direction(data: bytes, byte: int, text: str) -> bytes:
    """Words above the note that begins at a byte, for its voice and staff."""
    note = data[byte : data.find(_NOTE_END, byte)]
    belongs = b"".join(found[0] for found in sorted(_BELONGS.finditer(note), key=lambda found: found[1] != b"voice"))
    words = escape("".join(c for c in text if c.isprintable())).encode("ascii", errors="xmlcharrefreplace")
    return (
        b'<direction placement="above"><direction-type><words>'
        + words + b"</words></direction-type>" + belongs + b"</direction>"
    )  # fmt: skip


def _figures(data: bytes, byte: int, remark: BassFigures) -> bytes:
    """Figures over the note that begins at a byte, their length by the divisions that hold there."""
    divisions = [int(found[1]) for found in _DIVISIONS.finditer(data, 0, byte)]
    length = remark.length * (divisions[-1] if divisions else 1)
    duration = f"<duration>{length}</duration>" if length.denominator == 1 else ""
    return f"<figured-bass>{''.join(map(_figure, remark.figures))}{duration}</figured-bass>".encode()


def _figure(figure: str) -> str:
    number = figure.lstrip("".join(_PREFIXES))
    sign = figure[: len(figure) - len(number)]
    prefix = f"<prefix>{_PREFIXES[sign]}</prefix>" if sign in _PREFIXES else ""
    return f"<figure>{prefix}<figure-number>{number}</figure-number></figure>"
