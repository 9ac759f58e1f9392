"""A condition and a demand in one line, whichever comes first, as ‘when … require …’; each half is read by itself."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from rulekit.language.intent import proposals
from rulekit.language.mending.attempts import Attempts, Found
from rulekit.language.mending.kept import loses
from rulekit.language.slips import changes

_MOST_READINGS = 6  # of one half
_IF = r"(?:if|when|whenever|where|in case|as long as|provided(?: that)?|given(?: that)?)"
_UNLESS = r"(?:unless|except(?: for)? (?:if|when|where)|but not (?:if|when|where)|if not|when not)"
_LAST = re.compile(rf"(?P<asked>.+?),? (?:(?P<un>{_UNLESS})|(?P<only>only {_IF})|{_IF}) (?P<given>.+)", re.IGNORECASE)
_FIRST = re.compile(rf"(?:(?P<un>{_UNLESS})|(?:(?:require|forbid)(?: that)? )?{_IF}) (?P<rest>.+)", re.IGNORECASE)
_BREAK = re.compile(r",? then (?!-)|[:,] (?:then )?| (?=(?:require|forbid) )", re.IGNORECASE)
_BARE = re.compile(
    r"(?!(?:require|forbid|when|at|in|except|excused)\b)"
    r"(?P<given>[^:\"]* (?:is|are) [^:\"]+): (?P<asked>[^:\"]+)"
)
_ELSE = re.compile(r"(.+?)[,;:]? (?<!or )(?:else|otherwise)[,:]? (.+)", re.IGNORECASE)
_NOTHING = re.compile(r"(?:nothing|none|ok(?:ay)?|fine|no rule|anything|all is (?:fine|allowed))\W*", re.IGNORECASE)
_NO = re.compile(r"(?:no|never|avoid|don['’]?t|do not|must not|not)(?: be)? ", re.IGNORECASE)
_MUST = re.compile(r" (?:(must|should|has to|have to|shall|may|can)( not|not|n['’]t| never)?)(?: always)?(?: be)? ")
_DEMANDED = " require number-of-bars is more than 1"  # some demand, so that a condition can be read without its own
_ORDER = "A condition comes first, with ‘when’, then what must be (‘require’) or must not be (‘forbid’)."
_UNLESS_SAID = "‘unless’ is said with ‘when not (…)’, which comes first."
_ELSE_SAID = "What holds otherwise goes into a rule of its own."


@dataclass(frozen=True, slots=True)
class Halves:
    """What is asked, on what condition, and whether it is asked where that does not hold."""

    asked: str
    given: str
    negated: bool


def halved(file: Attempts, number: int, noticed: int) -> Found | None:
    """The line as a condition and a demand, if each of them can be read and the file used with both."""
    line = file.lines[number - 1]
    if not line[:1].isspace() or '"' in line:
        return None
    whole = _ELSE.fullmatch(line.strip())
    told = [_ELSE_SAID] if whole and not _NOTHING.fullmatch(whole[2]) else []
    for halves in _parted(whole[1] if whole else line.strip()):
        if file.is_spent():
            return None
        clause = _together(file, number, halves)
        if clause and file.fits(number, noticed, f"  {clause}"):
            return clause, [_UNLESS_SAID if halves.negated else _ORDER, *told]
    return None


def _parted(line: str) -> Iterator[Halves]:
    """Where a line may be divided into what is asked and its condition."""
    first = _FIRST.fullmatch(line)
    if first:
        for place in _BREAK.finditer(first["rest"]):
            given, asked = first["rest"][: place.start()], first["rest"][place.end() :]
            yield Halves(asked, given, bool(first["un"]))
        return
    bare = _BARE.fullmatch(line)
    if bare:
        yield Halves(bare["asked"], bare["given"], negated=False)
    last = _LAST.fullmatch(line)
    if last and last["only"]:
        forbids = not re.match(r"(?:require|forbid) ", last["asked"])  # what may be only there may not be elsewhere
        yield Halves(f"forbid {last['asked']}" if forbids else last["asked"], last["given"], forbids)
    elif last:
        yield Halves(last["asked"], last["given"], bool(last["un"]))


def _together(file: Attempts, number: int, halves: Halves) -> str:
    """Both halves as clauses of the language; nothing if one can’t be read."""
    asked = next((each for each in _demands(halves.asked) if _reads(file, number, each)), "")
    asked = asked or _reading(file, number, next(_demands(halves.asked)), "")
    given = _reading(file, number, f"when {halves.given}", _DEMANDED) if asked else ""
    if not given:
        return ""
    return f"when not ({given.removeprefix('when ')}) {asked}" if halves.negated else f"{given} {asked}"


def _demands(words: str) -> Iterator[str]:
    """What is asked with its first word, as the words or their “must” say."""
    if re.match(r"(?:require|forbid) ", words, re.IGNORECASE):
        yield words
        return
    must = _MUST.search(words)
    if must:
        forbids = bool(must[2]) or must[1] in ("may", "can")
        yield f"{'forbid' if forbids else 'require'} {words[: must.start()]} is {words[must.end() :]}"
    elif _NO.match(words):
        yield f"forbid {_NO.sub('', words, count=1)}"
    else:
        yield f"require {words}"


def _reads(file: Attempts, number: int, clause: str) -> bool:
    return not file.is_spent() and file.fits(number, number, f"  {clause}")


def _reading(file: Attempts, number: int, clause: str, rest: str) -> str:
    """A half as it can be read: as it stands, with one slip mended, or as what its words say."""
    if _reads(file, number, clause + rest):
        return clause
    word = clause.split()[0]
    mended = (changed.strip() for changed, _ in changes(f"  {clause}"))
    said = (each.clause for each in proposals(f"  {clause}", file.names) if not (each.unknown or each.open))
    for way in (mended, said):
        kept = (each for each in way if re.match(rf"{word}\b(?!.*\b(?:when|require|forbid)\b)", each))
        for each in islice(kept, _MOST_READINGS):
            if _reads(file, number, each + rest) and not loses(clause, each, file.given):
                return each
    return ""
