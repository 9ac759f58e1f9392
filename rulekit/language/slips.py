"""Slips: what musicians write who don't know the language yet, and how the language says it.

They stand in ``slips.toml``: a turn of phrase with one or more ways to say it, and the sentence that explains them.
"""

import re
import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache
from pathlib import Path
from typing import Any

from rulekit.diagnostics import nearest
from rulekit.language.vocabulary import DOWNBEATS
from rulekit.music.pitch import SIZES
from rulekit.numbers import counted, ordinal
from rulekit.resources import shipped

_ALIKE = 0.75  # how like a word a misspelling of it is
_KEYWORDS: Sequence[str] = (
    "ruleset build use parameter set define rule replace drop adjust excuse example for every when require forbid "
    "excused taught fault warning advice source accepts rejects except at in is not and or between above taken first "
    "last usually"
).split()
_BEATEN = {"strong": DOWNBEATS["on"], "weak": DOWNBEATS["off"]}
_DEGREES = "tonic supertonic mediant subdominant dominant submediant leading-tone".split()
_QUALITIES = {"perf": "perfect", "maj": "major", "min": "minor", "aug": "augmented", "dim": "diminished"}


@dataclass(frozen=True, slots=True)
class Slip:
    """A pattern, what it is replaced by (the first that fits), and the sentence that says why."""

    pattern: re.Pattern[str]
    instead: tuple[str, ...]
    why: str

    def ways(self, line: str) -> Iterator[str]:
        """What a line becomes; texts in quotes are left as they are."""
        match = self.pattern.search(line)
        if match is not None and line.count('"', 0, match.start()) % 2 == 0:
            for way in self.instead:
                yield (line[: match.start()] + _TURNED.sub(_turned, match.expand(way)) + line[match.end() :]).rstrip()


@cache
def data() -> dict[str, Any]:
    """What ``slips.toml`` holds: slips, the lists in their patterns, model clauses and reasons."""
    return tomllib.loads((Path(__file__).parent / "slips.toml").read_text(encoding="utf-8"))


@cache
def shipped_names() -> tuple[str, ...]:
    """The names of the rulesets that ship."""
    return tuple(sorted(path.stem for path in shipped("rulesets").glob("*.rules")))


@cache
def slips() -> tuple[Slip, ...]:
    """All slips, in the order in which they are tried."""
    lists = data()["lists"]
    return tuple(Slip(_pattern(each["pattern"], lists), tuple(each["instead"]), each["why"]) for each in data()["slip"])


@cache
def beyond() -> tuple[Slip, ...]:
    """What the language can’t say: nothing takes its place."""
    lists = data()["lists"]
    return tuple(Slip(_pattern(each["pattern"], lists), (), each["why"]) for each in data()["beyond"])


def _pattern(written: str, lists: dict[str, str]) -> re.Pattern[str]:
    """A pattern with whole words between << and >>, and its lists written out."""
    for name, words in reversed(lists.items()):  # a list may speak of those before it
        written = written.replace(f"{{{name}}}", words)
    return re.compile(written.replace("<<", r"(?<![\w-])(?:").replace(">>", r")(?![\w-])"), re.IGNORECASE)


def changes(line: str) -> Iterator[tuple[str, str]]:
    """What one slip, or one misspelling, can make of a line, each with the sentence that says why."""
    for slip in slips():
        yield from ((way, slip.why) for way in slip.ways(line) if way != line)
    yield from _respelt(line)


def _respelt(line: str) -> Iterator[tuple[str, str]]:
    """The line with a word of the language that is misspelt or in capitals put right."""
    for match in re.finditer(r"[A-Za-z]+", line):
        word = match[0]
        if word in _KEYWORDS or line.count('"', 0, match.start()) % 2:
            continue
        near = nearest(word.lower(), _KEYWORDS) if len(word) > 2 or word.lower() in _KEYWORDS else None
        if near is not None and SequenceMatcher(None, word.lower(), near).ratio() > _ALIKE:
            yield line[: match.start()] + near + line[match.end() :], f"‘{word}’ is written ‘{near}’."


# ---- what a replacement can ask for: {size:5th} is ‘fifth’ --------------------------------------------


def _figure(word: str) -> str:
    count = counted(word)
    return word if count is None else str(count)


def _ordinal(word: str) -> str:
    count = counted(word)
    return word if count is None else ordinal(count)


def _size(word: str) -> str:
    """The name of a size: ``fifth`` for 5, 5th, fifths."""
    number = word.rstrip("stndrh")
    if number.isdecimal():
        return SIZES[int(number) - 1] if 0 < int(number) <= len(SIZES) else word
    return word.removesuffix("s")


def _degree(word: str) -> str:
    """The number of a degree that has a name: the final is 1."""
    return str(_DEGREES.index(word) + 1) if word in _DEGREES else "1"


def _octave_marked(word: str) -> str:
    """A pitch whose octave is said by marks: ``c'`` is C4, ``c`` C3, ``C`` C2."""
    letter, rest = word[0], word[1:].rstrip("',’")
    marks = word[1 + len(rest) :]
    octave = (2 if letter.isupper() else 3) + len(marks.replace(",", "")) - marks.count(",")
    sign = {"is": "#", "es": "b", "s": "b", "sharp": "#", "flat": "b"}.get(rest.strip(" -"), rest)
    return f"pitch {'B' if letter in 'hH' else letter.upper()}{sign}{octave}"


def _way(word: str) -> str:
    """The direction that a word says, before what goes there; nothing if none is said."""
    return "rising " if word[:2] in ("ri", "as", "up") else "falling " if word else ""


def _shares(parts: str) -> tuple[str, str, str, str]:
    """Forbid or require, the comparison, the percentage and the things of a share."""
    how, percent, half, third, _, *things = (*parts.split("|"), "")[:6] if parts.count("|") else (parts, "", "", "", "")
    value = percent or ("50" if half else "33" if third else "25")
    said = {"no more than": "at most", "fewer than": "less than"}.get(how, how or "at least")
    thing = {"mo": "moves", "in": "intervals", "no": "notes", "so": "sonorities"}.get("".join(things)[:2], "moves")
    return "require", said, f"{value}%", thing


_SYLLABLES: dict[str, str] = dict(zip("do re mi fa sol la si".split(), "CDEFGAB", strict=True))
_SIGNS: dict[str, str] = {
    **dict.fromkeys(("sharp", "diesis", "is", "dièse", "♯"), "#"),
    **dict.fromkeys(("flat", "bemolle", "es", "bémol", "♭"), "b"),
}
_NOTE = re.compile(
    r"(do|re|mi|fa|sol|la|si|[a-h])"
    r"(?:[ -]?(##?|♯|♭|bb?|sharp|flat|diesis|bemolle|is|es|dièse|bémol))?(?![a-z])"
)


def _notes(words: str) -> str:
    """Note names as the language writes them: ``B`` for H or si, ``F#`` for Fis."""
    return _NOTE.sub(_note, words)


def _note(match: re.Match[str]) -> str:
    letter = _SYLLABLES.get(match[1], match[1].upper())
    return ("B" if letter == "H" else letter) + _SIGNS.get(match[2] or "", match[2] or "")


_SEMITONES: Sequence[str] = "P1 m2 M2 m3 M3 P4 tritone P5 m6 M6 m7 M7 P8".split()


def _semitones(number: str) -> str:
    """The interval of so many semitones; a tritone has two names."""
    count = counted(number) or 0
    return _SEMITONES[count].replace("tritone", "A4 or d5") if count < len(_SEMITONES) else number


def _degrees(words: str) -> str:
    """Numbers of degrees, for their names."""
    found = re.split(r",? or |, ", words)
    return " or ".join(word if word.isdecimal() else _degree(word) if word in _FINALS else word for word in found)


_FINALS = {*_DEGREES, "final", "finalis", "keynote", "root", "1st degree", "first degree"}


def _ruleset(words: str) -> str:
    """The shipped ruleset of which all the words are said, the longest name; or the words with hyphens."""
    said = set(re.split(r"[ -]", words))
    known = [name for name in shipped_names() if set(name.split("-")) <= said]
    return max(known, key=len, default=words.replace(" ", "-"))


def _kinds(words: str) -> str:
    """The intervals that are meant: perfect or imperfect consonances, all of them, dissonances, or one."""
    kind = {"perfec": "P1, P5 or P8", "imperf": "third or sixth"}.get(words[:6])
    return kind or _harmony(words).removeprefix("interval is ")


def _harmony(word: str) -> str:
    """A condition on the interval."""
    kinds = {"disson": "second or seventh or P4", "conson": "P1, P5, P8, third or sixth"}
    return f"interval is {kinds.get(word[:6], word.removesuffix('s'))}"


def _turn(words: str) -> str:
    """A melodic interval as the language says it: ‘rising leap’ for a skip upwards, ‘falling’ for ‘goes down’."""
    heading = re.search(r"(?<![\w-])(?:(ris|asc|up)|(fall|desc|down))", words)
    kinds = {"skip": "leap", "jump": "leap", "is repeated": "repetition"}
    rest = re.sub(r"(?<![\w-])(?:ris|asc|up|fall|desc|down|goes|moves)\w*", "", words).strip().removesuffix("s")
    way = "" if heading is None else "rising" if heading[1] else "falling"
    return f"{way} {kinds.get(rest, rest)}".strip()


def _voiced(word: str) -> str:
    """Which voices a word says: outer, inner, upper or neighbouring ones."""
    kinds = {"ex": "outer", "ou": "outer", "in": "inner", "mi": "inner", "ne": "neighbouring", "ad": "neighbouring"}
    return kinds.get(word[:2], "upper")


_CHOIR: Sequence[str] = ("soprano", "alto", "tenor", "bass")


def _choir(words: str) -> str:
    """Voices of a choir by their numbers from the top."""
    numbers = sorted(_CHOIR.index(word.replace("treble", "soprano")) + 1 for word in words.split())
    if numbers == [1, 4]:
        return "outer voices"
    return f"voices {numbers[0]} and {numbers[1]}" if len(numbers) == 2 else f"voice {numbers[0]}"


def _compound(word: str) -> str:
    """An octave and another interval as one."""
    return SIZES[SIZES.index(word) + 7] if SIZES.index(word) + 7 < len(SIZES) else word


def _filling(words: str) -> str:
    """Lengths in a row, which fill a bar: ``half-note then half-note``."""
    return " then ".join(f"{each}-note" for each in re.findall(r"whole|half|quarter|eighth", words))


_LIMITS = {
    "no more than": "at most", "not more than": "at most", "maximum": "at most", "up to": "at most",
    "fewer than": "less than", "no fewer than": "at least", "minimum": "at least", "exactly": "", "": "at least",
}  # fmt: skip

_TURNS: dict[str, Callable[[str], str]] = {
    "ruleset": _ruleset,
    "named": lambda word: word or "exception",
    "given": lambda text: text or ' "say why"',
    "place": lambda place: re.sub(r"^at (?=first|last|\d)", "", place),
    "beaten": lambda word: _BEATEN.get(word, word),
    "downbeats": lambda word: f"{_BEATEN[word].split()[0]} downbeats",
    "degrees": _degrees,
    "degreed": _figure,
    "semitones": _semitones,
    "sounded": lambda word: f"{word} interval is" if word in ("forbid", "require", "when") else word,
    "limit": lambda words: _LIMITS.get(words, words),
    "turn": _turn,
    "choir": _choir,
    "bare": str.strip,
    "joined": lambda word: "and" if word == "but" else word,
    "row": lambda words: " then ".join(words.split()),
    "degree_number": lambda word: str(counted(word) or _degree(word)),
    "sized": lambda words: ", ".join(_size(word) for word in words.replace(",", " ").split()),
    "counted": lambda word: {"measures": "bars", "parts": "voices"}.get(word, word),
    "kinds": _kinds,
    "filling": _filling,
    "compound": _compound,
    "lengthy": lambda words: words.removesuffix("s").replace(" ", "-"),
    "graded": lambda words: re.sub(r"^error", "fault", re.sub(r"^(\w+)[ ,]+(\d+)( points?)?", r"\1, \2 points", words)),
    "sizes": lambda words: re.sub(r"s\b", "", words.replace(" and ", " or ")),
    "samed": lambda word: {"note": "pitch", "direction": "direction of approach"}.get(word, word),
    "asking": lambda word: {"range": "ambitus", "distance": "interval"}.get(word, word),
    "voiced": _voiced,
    "flag": lambda word: "leading-note" if word == "leading" else word,
    "opposite": lambda word: "falling" if _turn(word) == "rising" else "rising",
    "figured": _figure,
    "before": lambda word: str(int(_figure(word)[:4]) - 1),
    "harmony": _harmony,
    "sided": lambda word: "lower" if word in ("below", "under") else "higher",
    "other": lambda word: "cantus" if word == "counterpoint" else "counterpoint",
    "figure": _figure,
    "ordinal": _ordinal,
    "size": _size,
    "asked": lambda word: {"approach": "approach to", "departure": "departure from"}.get(word, f"{word} of"),
    "notes": _notes,
    "way": _way,
    "portion": lambda parts: f"{_shares(parts)[0]} share of {_shares(parts)[3]}",
    "least": lambda parts: f" is {_shares(parts)[1]} {_shares(parts)[2]}",
    "degree": _degree,
    "octave": _octave_marked,
    "hyphens": lambda words: re.sub(r"^(?:an?|the) ", "", words).replace(" ", "-"),
    "heading": lambda word: "rising" if word in ("up", "rises") else "falling",
    "motion": lambda word: {"direct": "similar", "hidden": "similar"}.get(word, word),
    "quality": lambda word: _QUALITIES.get(word, word),
    "ors": lambda words: words.replace(",", "").replace(" and ", " or "),
}
_TURNED = re.compile(r"\{(\w+):([^{}]*)\}")


def _turned(match: re.Match[str]) -> str:
    word = match[2] if match[1] in ("hyphens", "octave", "given") else match[2].lower()
    return _TURNS[match[1]](word)
