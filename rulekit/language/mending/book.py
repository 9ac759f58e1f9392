"""Lines said by the book of what teachers ask for: in their own rule, or in one that speaks of something else."""

import re

from rulekit.language.intent import Proposal
from rulekit.language.intent.phrasebook import Match, matches
from rulekit.language.mending.attempts import Attempts, Found
from rulekit.language.mending.kept import loses
from rulekit.language.mending.reasons import asked_with, why
from rulekit.language.slips import data

_MOST_SCOPES = 3  # wordings that are tried in a rule on other things
_MOST_WORDINGS = 12
WHOLE = 0.999  # how like a sentence a phrase is that says all of it
_SINGLE = re.compile(r"\s*for \w+ (?:notes?|intervals?|moves?)\b", re.IGNORECASE)


def by_the_book(file: Attempts, number: int, noticed: int, least: float) -> Found | None:
    """Clauses that say at least so much of what a line says, in a rule that speaks of what this one does."""
    if file.is_spent():
        return None
    found = _found(file, number, least)
    place = file.scope_of(number)
    spoken_of = re.match(r"\s*for \w+ (\w+?)s?\b", file.lines[place - 1]) if place else None
    for match in found[:_MOST_WORDINGS]:
        if file.is_spent():
            return None
        here = not spoken_of or spoken_of[1] in match.of or match.of[0] not in data()["subjects"]
        if here and file.fits(number, noticed, f"  {match.clause}"):
            return match.clause, list(why(Proposal(match.clause, open=match.open)))
    return None


def in_another_rule(file: Attempts, number: int, least: float) -> Found | None:
    """The same in a rule that would speak of something else."""
    if file.is_spent():
        return None
    place = file.scope_of(number)
    found = _found(file, number, least)
    is_single = place and _SINGLE.match(file.lines[place - 1])  # an interval may be sung, or stand between voices
    fitting = [match for match in found if place and not (is_single and match.of[0] in ("note", "interval"))]
    others = (_elsewhere(file, number, place, match) for match in fitting[:_MOST_SCOPES])
    return next((each for each in others if each), None)


def _found(file: Attempts, number: int, least: float) -> list[Match]:
    line = file.lines[number - 1]
    found = [match for match in matches(line, file.names) if match.likeness >= least]
    return [match for match in found if not loses(line, match.clause, file.given)]


def _elsewhere(file: Attempts, number: int, place: int, match: Match) -> Found | None:
    """A clause in a rule that speaks of what the clause asks of, if all of it can be used so."""
    subjects = data()["subjects"]
    for scope in (subjects[each] for each in match.of if each in subjects):
        written = list(file.lines)
        written[place - 1], written[number - 1] = f"  {scope}", f"  {match.clause}"
        if file.wrong([*written, ""]) <= file.known_elsewhere(place, number):
            file.better[place] = f"  {scope}"
            return match.clause, [asked_with(scope, file.written[place - 1])]
    return None
