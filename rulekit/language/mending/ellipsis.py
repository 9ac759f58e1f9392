"""Values after ‘and’, ‘but not’ or ‘except’ with the words that are to be understood before them."""

import re
from collections.abc import Iterator

_LINK = re.compile(
    r",? (?P<link>and not|or not|but not|except(?: for)?|other than|apart from|unless|and|or) (?P<rest>[^\"()]+)$",
    re.IGNORECASE,
)
_SAID = re.compile(r"(?<![\w-])(?P<of>[a-z][\w-]*(?: (?:to|from|of) [a-z][\w-]*)*) (?P<verb>is|are) (?P<not>not )?")
_VERB = re.compile(r"\b(?:is|are|begins|ends|when|if)\b")
_MOTION = re.compile(r"(?:contrary|oblique|similar|parallel)\b")
_PLACE = r"(?:\d+(?:st|nd|rd|th)?|first|second|third|last)"
_MEMBERS = re.compile(rf"{_PLACE}(?: \w+)?,? (?:and|but) (?:the )?{_PLACE}(?: \w+)? of\b", re.IGNORECASE)
_WHY = "Each condition has its own verb: ‘and … is not …’."


def completed(line: str) -> Iterator[tuple[str, str]]:
    """The line with what was said before repeated before the values that stand alone."""
    for found in _LINK.finditer(line):
        before = [*_SAID.finditer(line[: found.start()])]
        if not before or _VERB.search(found["rest"]) or _MEMBERS.search(line):
            continue
        of_motion = _MOTION.match(found["rest"])
        subject = "motion is" if of_motion else f"{before[-1]['of']} {before[-1]['verb']}"
        for word in _joins(found["link"].lower(), line):
            yield f"{line[: found.start()]} {word[0]} {subject}{word[1]} {found['rest']}", _WHY


def _joins(link: str, line: str) -> Iterator[tuple[str, str]]:
    """How a condition is joined to the one before, and whether it denies."""
    if link in ("and", "or"):
        yield link, ""
    elif link in ("and not", "or not"):
        yield link.split()[0], " not"
    else:
        bounded = re.search(r"require .*\b(?:at most|at least|than)\b", line)
        yield from (("or", ""), ("and", " not")) if bounded else (("and", " not"), ("or", ""))
