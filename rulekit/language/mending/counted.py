"""How many times in a row something is, as a run; what is said to come so often is read by itself."""

import re
from collections.abc import Iterator

from rulekit.language.mending.attempts import Attempts, Found
from rulekit.numbers import counted

_TIMES = {"twice": "2 times", "thrice": "3 times", "once": "1 times"}
_IN_A_ROW = r"(?:in (?:a row|succession|sequence)|running|consecutively|successively|one after (?:an|the )?other)"
_COUNT = (
    r"(?P<limit>more than|no more than|not more than|at most|at least|less than|fewer than|up to|exactly )?\s*"
    r"(?P<count>[\w-]+)(?: times)?"
)
_RUN = re.compile(
    rf"(\s*)(?P<word>require|forbid|when) (?P<said>[^\"()]*?(?:is|are) [^\"()]+?|\w+ motion),? {_COUNT} {_IN_A_ROW}",
    re.IGNORECASE,
)
_LIMITS = {
    "no more than": "is at most", "not more than": "is at most", "up to": "is at most", "fewer than": "is less than",
    "exactly": "is",
}  # fmt: skip
_WHY = "How many in a row is asked with ‘run where (…)’."


def run_counted(file: Attempts, number: int, noticed: int) -> Found | None:
    """The line as a count of a run, if the file can be used with it."""
    line = file.lines[number - 1]
    for word, times in _TIMES.items():
        line = re.sub(rf"\b{word}\b", times, line)
    found = _RUN.fullmatch(line)
    for clause in _runs(found, file.names) if found else ():
        if not file.is_spent() and file.fits(number, noticed, clause):
            return clause, [_WHY]
    return None


def _runs(found: re.Match[str], names: frozenset[str]) -> Iterator[str]:
    """The clause with the number that was said; a name may be one."""
    word, limit = found["word"].lower(), (found["limit"] or "").strip()
    said = re.sub(r"^(\w+) motion$", r"motion is \1", found["said"])
    count = counted(found["count"])
    number = found["count"] if found["count"] in names else "" if count is None else str(count)
    if number:
        usual = "is at most" if word == "require" else "is at least"
        operator = _LIMITS.get(limit, f"is {limit}" if limit else usual)
        yield f"{found[1]}{word} run where ({said}) {operator} {number}"
