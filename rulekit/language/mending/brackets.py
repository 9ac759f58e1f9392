"""‘and’ and ‘or’ mixed in one condition: the line with brackets, as it is most likely read."""

import re
from collections.abc import Iterator

from rulekit.language.mending.attempts import Attempts, Found

MIXED = "‘and’ and ‘or’ are mixed here"
_WORD = re.compile(r" (and|or) (?![^(]*\))")
_BEGINS = re.compile(
    r"(\s*(?:require|forbid|when|excused(?: as [\w-]+)? when|define [\w-]+ for \w+ as) )([^\"]+?)"
    r"( (?:require|forbid) .*|\s*\"[^\"]*\")?"
)
_VERB = re.compile(r"\b(?:is|are|begins|ends)\b")


def bracketed(file: Attempts, number: int, noticed: int) -> Found | None:
    """The line with brackets that can be used, and the other way to set them if there is one."""
    parts = _BEGINS.fullmatch(file.lines[number - 1])
    if parts is None:
        return None
    ways = [f"{parts[1]}{way}{parts[3] or ''}" for way in _ways(parts[2])]
    found = [way for way in dict.fromkeys(ways) if not file.is_spent() and file.fits(number, noticed, way)]
    if not found:
        return None
    other = [f"If it is meant otherwise: {found[1].strip()}."] if len(found) > 1 else []
    return found[0], ["Put brackets round what belongs together.", *other]


def _ways(condition: str) -> Iterator[str]:
    """The condition with brackets round what ‘or’ joins if that is said of one thing, round what ‘and’ joins if not."""
    links, parts = _links(condition)
    ways = [_grouped(links, parts, "and"), _grouped(links, parts, "or")]
    said = [(part.split()[0], _VERB.split(part)[-1]) for part in parts]  # of what, and what
    alike = any(link == "or" and {*said[n]} & {*said[n + 1]} for n, link in enumerate(links))
    both = {"and", "or"} <= set(links) and len(parts) == 3
    yield from reversed(ways) if alike and both else ways if both else ways[:1]


def _links(condition: str) -> tuple[list[str], list[str]]:
    """The words between conditions, and the conditions: each has its verb."""
    first, *rest = _WORD.split(condition)
    links: list[str] = []
    parts = [first]
    for link, part in zip(rest[::2], rest[1::2], strict=True):
        if _VERB.search(part):
            links.append(link)
            parts.append(part)
        else:
            parts[-1] += f" {link} {part}"
    return links, parts


def _grouped(links: list[str], parts: list[str], word: str) -> str:
    """The conditions with brackets round those that one word joins."""
    groups = [[parts[0]]]
    for link, part in zip(links, parts[1:], strict=True):
        if link == word:
            groups[-1].append(part)
        else:
            groups.append([part])
    other = "or" if word == "and" else "and"
    return f" {other} ".join(f"({f' {word} '.join(group)})" if len(group) > 1 else group[0] for group in groups)
