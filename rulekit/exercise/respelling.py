"""A line of notes as musicians write it elsewhere, spelt as typed notation wants it."""

import re
from collections.abc import Callable, Iterator

_NAMES = {"do": "C", "re": "D", "mi": "E", "fa": "F", "sol": "G", "la": "A", "si": "B", "ut": "C", "ti": "B"}
_SYLLABLE = re.compile(r"(?i)\b(sol|do|ut|re|mi|fa|la|si|ti)(#|b)?(\d)")
_MARKED = re.compile(r"(?<![\w])([A-Ha-h])(#|b|is|es|s)?('+|,+)(?!\w)")
_USUAL = 4  # the octave of a first note without one
_MIDDLE = 3  # the octave of a small letter without a stroke


def respelt(line: str) -> Iterator[str]:
    """What an example line (with its label) could be meant to be, the nearest first."""
    bare = re.sub(r"^(\s*\|?\s*[^\W\d][\w-]*)\s*:", r"\1", line)
    plain = _signs(bare)
    for way in (_marked, _syllables, _separated):
        plain = way(plain)
    plain = re.sub(r"(?<![\w])([a-g])(?=[#b]?\d)", lambda match: match[1].upper(), plain)
    plain = re.sub(r"(?<![\w])[Hh](?=\d)", "B", plain)
    plain = re.sub(r"(?<![\w])([A-G])(\d)(##?|bb?)(?![\w#])", r"\1\3\2", plain)
    plain = re.sub(r"^(\s*\|?\s*[^\W\d][\w-]*\s+[A-G][#b]?)(?=\s|/|$)", rf"\g<1>{_USUAL}", plain)
    labelled = re.sub(r"^(\s*\|?\s*)(?=[A-G][#b]?\d)", r"\1upper ", plain)
    yield from dict.fromkeys(each for each in (plain, labelled) if each != line)


def _signs(line: str) -> str:
    line = line.replace("♯", "#").replace("♭", "b")
    line = re.sub(r"(?i)(?<=\b[a-h])[ -]?(?:flat|moll)[ -]?(?=\d)", "b", line)
    line = re.sub(r"(?i)(?<=\b[a-h])[ -]?sharp[ -]?(?=\d)", "#", line)
    return re.sub(r"(?i)(?<=\s)(?:rest|pause|-{2,}|x)(?=\s|$)", "r", line)


def _marked(line: str) -> str:
    """Notes with strokes: ``c''`` is C5."""

    def spelt(match: re.Match[str]) -> str:
        strokes = match[3]
        octave = _MIDDLE + len(strokes) if strokes[0] == "'" else _MIDDLE - len(strokes)
        sign = {"is": "#", "es": "b", "s": "b"}.get(match[2] or "", match[2] or "")
        letter = match[1].upper()
        return f"{'B' if letter == 'H' else letter}{sign}{octave}"

    return _MARKED.sub(spelt, line) if "'" in line else line


def _syllables(line: str) -> str:
    return _SYLLABLE.sub(lambda match: f"{_NAMES[match[1].lower()]}{match[2] or ''}{match[3]}", line)


def _separated(line: str) -> str:
    """Notes apart by spaces only."""
    return re.sub(r"\s*(?:[,;]|(?<=\s)[-–—](?=\s))\s*(?=\S|$)", " ", line).rstrip()


Read = Callable[[str], bool]


def mended(line: str, is_read: Read) -> str:
    """The first respelling that can be read; nothing if there is none."""
    return next((each for each in respelt(line) if is_read(each)), "")
