"""A line that can't be understood as one that can: by the slips that were made in it, or by what its words ask for."""

import re
from itertools import islice

from rulekit.language.intent import Proposal, proposals
from rulekit.language.mending.attempts import STRUCTURE, Attempts, Found
from rulekit.language.mending.book import WHOLE, by_the_book, in_another_rule
from rulekit.language.mending.ellipsis import completed
from rulekit.language.mending.kept import loses, loses_interval
from rulekit.language.mending.reasons import leaves_out, why
from rulekit.language.mending.wording import hyphened, scoped, sized
from rulekit.language.slips import changes

_DEEPEST = 3  # slips in one line
_MOST_PROPOSALS = 12  # readings of a sentence that are tried
_BARE_PLACE = re.compile(r"(?:require|forbid) it is (?:not )?(?:first|last)")  # it says where, but not what
_ARTICLE = re.compile(r"(?<![\w-])(?:an?|the) (?=[^\"]*$)", re.IGNORECASE)
SPEAKS = re.compile(r"\s*for (?:every|each|all|any) (\w+?)s?(?!\w)|rule ", re.IGNORECASE)
_OF_NOTES = r"\b(?:approach|departure|pitch|degree) is\b"
_FOREIGN = {"interval": _OF_NOTES, "move": _OF_NOTES, "note": r"(?<!\()\b(?:interval|motion) is\b"}
UNFINISHED = re.compile(r"(?:\b(?:and|or|is|are|than)|,)\s*$")


def mended(file: Attempts, number: int, noticed: int, deepest: int = _DEEPEST) -> Found | None:
    """The nearest line that can be used in the place of a line, with the reasons for each change."""
    written = file.lines[number - 1]
    bare = _ARTICLE.sub("", written)  # articles mean nothing, but may stand in the way of a pattern
    layer: list[Found] = [(each, []) for each in dict.fromkeys((written, bare))]
    if number in file.reworded:
        layer.append(file.reworded[number])
    seen = {line for line, _ in layer}
    said: Found | None = None
    for depth in range(deepest):
        found, likely, layer = _layer(file, layer, seen, number, noticed)
        said = _said(file, number, noticed) if depth == 0 and not found else said
        found = found or (None if said and leaves_out(said) else said) or likely
        if found or file.is_spent():
            return found or said
    return said


def _layer(
    file: Attempts, layer: list[Found], seen: set[str], number: int, noticed: int
) -> tuple[Found | None, Found | None, list[Found]]:
    """The first line that one more slip makes good, one that only uncovers other mistakes, those to go on from."""
    likely: Found | None = None
    following: list[Found] = []
    for line, reasons in layer:
        for changed, reason in (
            *changes(line),
            *completed(line),
            *hyphened(line, file.names | file.given),
            *sized(line),
            *(() if reasons else scoped(line)),
        ):
            if changed in seen:
                continue
            if file.is_spent():
                return None, likely, []
            seen.add(changed)
            left = file.left(number, changed)
            found = changed, [*reasons, reason]
            new = left - file.known
            if not {line for line, told in left if STRUCTURE not in told} & {number, noticed}:
                if loses(file.written[number - 1], changed, file.given):
                    continue
                if not new:
                    return found, None, []
                likely = likely or (found if file.only_uncovers(new, number, changed) else None)
            following.append(found)
    return None, likely, following


def _said(file: Attempts, number: int, noticed: int) -> Found | None:
    """The line as the clause that says what its words ask for: the one that leaves least amiss."""
    found: list[tuple[int, Proposal]] = []
    if not file.unclear or UNFINISHED.search(file.lines[number - 1]):
        return None
    line = file.lines[number - 1]
    whole = by_the_book(file, number, noticed, WHOLE) or in_another_rule(file, number, WHOLE)
    if whole:
        return whole
    for proposal in islice(proposals(line, file.names), _MOST_PROPOSALS):
        if file.is_spent():
            break
        if (
            _changes_kind(line, proposal.clause)
            or _is_said_of_others(file, number, proposal.clause)
            or _BARE_PLACE.fullmatch(proposal.clause)
            or loses(line, proposal.clause, file.given)
            or loses_interval(line, proposal.clause)
        ):
            continue
        left = file.left(number, f"  {proposal.clause}")
        if not {line for line, _ in left} & {number, noticed} and left <= file.known:
            found.append((len(left), proposal))
    if not found:
        return None
    _, best = min(found, key=lambda each: each[0])
    return best.clause, list(why(best))


def _is_said_of_others(file: Attempts, number: int, clause: str) -> bool:
    """Whether a clause asks what can’t be asked of the things that its rule speaks of."""
    above = (SPEAKS.match(line) for line in reversed(file.lines[: number - 1]))
    kind = next((match[1] for match in above if match), "")
    return kind in _FOREIGN and bool(re.search(_FOREIGN[kind], clause))


def _changes_kind(line: str, clause: str) -> bool:
    """Whether a line begins as a statement of the language does, and what is offered as another."""
    begun = re.match(r"\s*(set|drop|take|use|build|lay|adjust|excuse|excused|replace|example)\b", line, re.IGNORECASE)
    return begun is not None and not clause.lower().startswith(begun[1].lower())
