"""Where a rule holds and what it looks at, as a sentence says it."""

import re
from collections.abc import Iterator

from rulekit.language.intent.words import Token, figure, matcher, rows

_A_PLACE = re.compile(
    r"first|last(?: but (?:one|\d+))?(?: bar)?|(?:on|off) the downbeat|bars? \d+(?: to \d+)?|\d+(?:st|nd|rd|th)"
)
_BEGINS = re.compile(
    r"(?:bars?|measures?|strong|weak|(?:on |off )?(?:the )?downbeat|(?:the )?(?:first|last|middle)|inside|interior).*"
)


def place_clauses(sentence: str, tokens: list[Token]) -> Iterator[str]:
    """The sentence as a clause that says where the rule holds."""
    text = sentence.lower().strip().rstrip(".:;,")
    if not matcher("opening").match(text) and not _BEGINS.fullmatch(text):
        return
    for pattern, word in rows("place"):
        text = re.sub(pattern, word, text)
    text = re.sub(r"(?<=bar )\w+|(?<=bars )\w+|(?<= to )\w+", lambda match: figure(match[0]), text)
    onward = re.fullmatch(r"(?:only )?from (?:the )?bar (\d+)(?: on| onwards?| to (?:the )?(?:end|last))", text)
    if onward and int(onward[1]) > 1:
        yield f"except in bars 1 to {int(onward[1]) - 1}"
        return
    outside = re.fullmatch(r"(?:only )?(before|after) (first|last|bar \d+|last bar)", re.sub(r"\b(?:the|a) ", "", text))
    if outside:
        yield from _outside(outside[1], outside[2])
        return
    places = _A_PLACE.findall(text)
    if not places or matcher("idle").sub("", _A_PLACE.sub("", text)).strip():
        return
    away = "except " if matcher("away").search(text) else ""
    bars = all("bar" in place for place in places)
    said = "" if places[0].endswith("downbeat") else "in " if bars else "at "
    yield f"{away}{said}{' or '.join(dict.fromkeys(places))}"


def _outside(way: str, place: str) -> Iterator[str]:
    number = re.search(r"\d+", place)
    if number and int(number[0]) > 1:
        bar = int(number[0])
        yield f"except in bars 1 to {bar}" if way == "after" else f"in bars 1 to {bar - 1}"
    elif (way, place.split()[0]) in (("after", "first"), ("before", "last"), ("after", "bar")):
        yield f"except {'in' if 'bar' in place else 'at'} {place}"


_EVERYWHERE: dict[str, str] = {
    "note": " in each voice", "line": " in each voice", "interval": " between each pair",
    "move": " between each pair", "pair": " between each pair",
}  # fmt: skip


def scopes(sentence: str, tokens: list[Token]) -> Iterator[str]:
    """The sentence as the clause that says what the rule looks at."""
    text = re.sub(r"\b(?:the|a|an) ", "", sentence.lower().strip().rstrip(".:;,"))
    if not matcher("scope").match(text):
        return
    words: dict[str, str] = dict(rows("subject"))
    named = [subject for pattern, subject in words.items() if re.search(rf"\b{pattern}\b", text)]
    for subject in dict.fromkeys(named or ["note", "interval", "line"]):
        own = "|".join(rf"\b{pattern}\b" for pattern, each in words.items() if each == subject)
        rest = re.sub(own, "", text) if named else text
        kind = "line" if subject in ("note", "line") else "pair"
        for pattern, scope in rows(kind) if subject in _EVERYWHERE else []:
            match = re.search(rf"\b(?:{pattern})\b", rest)
            if match and not matcher("scope-idle").sub("", rest[: match.start()] + rest[match.end() :]).strip():
                way = "in " if subject in ("note", "line") else ""
                yield f"for every {subject} {way}{match.expand(scope)}"
                break
        else:
            if not matcher("scope-idle").sub("", rest).strip():
                yield f"for every {subject}{_EVERYWHERE.get(subject, '')}"
