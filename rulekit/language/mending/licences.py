"""A licence that an example names, where its condition stands as ‘unless …’ or ‘except when …’."""

import re

from rulekit.language.mending.attempts import Attempts, Found

_UNLESS = re.compile(
    r"(\s+)(?:unless|(?:except|but not) (?:if|when|where)|allowed if|allow if) ([^\"]+)", re.IGNORECASE
)
_NAMED = re.compile(r"\s+accepts by ([\w-]+)")
_WHY = "What is excused is a licence: it has a name, and its reason in quotes."


def licensed(file: Attempts, number: int, noticed: int) -> Found | None:
    """The line as the licence that an example of its rule is accepted by, if the rule has none of that name."""
    unless, rule = _UNLESS.fullmatch(file.lines[number - 1]), file.rest_of_rule(number)
    names = [found[1] for found in map(_NAMED.match, rule) if found]
    known = {found[1] for found in map(re.compile(r"\s+excused as ([\w-]+)").match, file.lines) if found}
    if unless is None:
        return None
    for name in dict.fromkeys(names):
        clause = f'excused as {name} when {unless[2]} "say why"'
        if name not in known and not file.is_spent() and file.fits(number, noticed, f"  {clause}"):
            return clause, [_WHY]
    return None
