"""What an author said in words of the language, which must stand in a line that is offered for theirs."""

import re
from collections.abc import Iterator

from rulekit.language.intent import semitones
from rulekit.music.pitch import SIZES

_ROLES = re.compile(r"(?<![\w-])(?:sounding-)?(?:upper|lower|cantus|counterpoint)(?![\w-]| than| voices| parts)")
_ALL_VOICES = re.compile(
    r"\b(?:both|each|every|other|all|any|two|no|none|above|below|with)\b|\bvoices\b|\bparts\b|\bcross\w*"
)
_NUMBER = re.compile(r"(?<![\w#./-])\d+(?![\w%./-])")
_IN_A_ROW = re.compile(r"\b(?:in (?:a row|succession)|consecutive\w*|successive\w*|one after (?:the |an)?other)\b")
_FOLLOWING = re.compile(r"\b(?:run|previous|departure|then|ends|begins|sequence|so far|repetition|next|after|before)\b")
_GOOD = re.compile(
    r"(?<![\w-])(?:departure|approach|ambitus|climax-count|degree|letter|note-name|rhythm|held|tied|raised|lowered|"
    r"diatonic|leading-note|accented|unaccented|oblique|similar|parallel|rising|falling|beat(?= \d))(?![\w-])"
)
_SIZES = re.compile(
    rf"(?<![\w-])({'|'.join(SIZES[2:])})s?(?![\w-]| (?:bar|beat|note|degree|species|step|voice|time|place))"
)
_FEW = {  # how so many are said without their number
    1: ("downbeat", "first", "one", "once", "previous", "next", "note before", "note after"),
    2: ("previous", "departure", "both", "then", "pair"),
}
_DEMANDS = re.compile(r"\s*(?:require|forbid)\b[^,]* (?:is|are)\b")
_BOUNDED = re.compile(r"\b(?:at most|at least|less|narrower|lower|shorter|different|when)\b")
_CONDITIONS = re.compile(
    r"\b(?:if|when\w*|where|unless|after|before|then|follow\w*|except|only|but|must|should|once)\b"
)


def loses(line: str, offered: str, names: frozenset[str]) -> bool:
    """Whether an offered line lacks or changes what the author said in words of the language."""
    line, offered = re.sub(r'"[^"]*"?', "", line).lower(), offered.lower()
    return not offered.lstrip().startswith("for ") and any(_lost(line, offered, names))


def loses_interval(line: str, offered: str) -> bool:
    """Whether an offered line lacks an interval that the author named."""
    return any(not _says(SIZES.index(size) + 1, offered.lower()) for size in _SIZES.findall(line.lower()))


def _lost(line: str, offered: str, names: frozenset[str]) -> Iterator[bool]:
    said, now = (set(_ROLES.findall(each)) for each in (line, offered))
    yield bool(said and now - said and not _ALL_VOICES.search(line))
    yield any(not _says(int(number), offered) for number in _NUMBER.findall(line))
    yield bool(_IN_A_ROW.search(line) and not _FOLLOWING.search(offered))
    yield any(good not in offered for good in _GOOD.findall(line))
    yield any(re.search(rf"(?<![\w-]){name}(?![\w-])", line) and name not in offered for name in names)
    yield (
        _denies(line)
        and not _denies(offered)
        and line.split()[0] == offered.split()[0]
        and not _BOUNDED.search(offered)
    )
    yield bool(_DEMANDS.match(line) and "when " in offered and not _CONDITIONS.search(line))


def _denies(line: str) -> bool:
    """Whether a demand has a “not” in it."""
    return bool(re.match(r"\s*(?:require|forbid)\b.*\b(?:not(?! [\w-]+,? but\b)|unless|except)\b", line))


def _says(number: int, offered: str) -> bool:
    """Whether a line says a number: as itself, as that of the moves between so many notes, or as an interval."""
    forms = [f"[pmad]*{number}", str(number - 1), *SIZES[max(0, number - 1) : number], *semitones(number)]
    return any(re.search(rf"(?<![\w-]){form}(?!\d)", offered) for form in (*forms, *_FEW.get(number, ())))
