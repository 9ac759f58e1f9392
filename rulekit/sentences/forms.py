"""The forms of clauses, each a whole pattern of words for the catalogues: what is asked, what is said, what is denied.

Contexts tell translators where a phrase stands: ``refused`` in a clause that denies it, ``of`` where something belongs
to it. ``asked`` patterns follow the place of a rule, so that a language may put its verb first in them; the other
patterns follow a conjunction.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from rulekit.numbers import COUNTS
from rulekit.words import Words

REFUSED, OF = "refused", "of"


class Unsayable(Exception):
    """There are no plain words for a part of a rule."""


def _(message: str) -> str:
    """Mark a message for the catalogues."""
    return message


def c_(context: str, message: str) -> tuple[str, str]:
    """Mark a message in a context for the catalogues."""
    return message, context


@dataclass(frozen=True, slots=True)
class Form:
    """A kind of clause: what is asked, what is refused, what is so, what is not so (empty: never said)."""

    asked: str
    refused: tuple[str, str]
    stated: str
    denied: str


BE = Form(
    _("{it} {must} be {what}"), c_("refused", "{it} {must} be {what}"), _("{it} is {what}"), _("{it} is not {what}")
)
REACHED = Form(
    _("{it} {must} be reached {what}"), c_("refused", "{it} {must} be reached {what}"),
    _("{it} is reached {what}"), _("{it} is not reached {what}"),
)  # fmt: skip
MOVE = Form(
    _("{it} {must} move in {what}"), c_("refused", "{it} {must} move in {what}"),
    _("{it} move in {what}"), _("{it} do not move in {what}"),
)  # fmt: skip
LIE = Form(
    _("{it} {must} lie {what}"),
    c_("refused", "{it} {must} lie {what}"),
    _("{it} lies {what}"),
    _("{it} does not lie {what}"),
)
BELONG = Form(
    _("{it} {must} belong to the mode"), c_("refused", "{it} {must} belong to the mode"),
    _("{it} belongs to the mode"), _("{it} does not belong to the mode"),
)  # fmt: skip
STAY = Form(
    _("both voices {must} repeat their notes"), c_("refused", "the voices {must} both repeat their notes"),
    _("both voices repeat their notes"), _("the voices do not both repeat their notes"),
)  # fmt: skip
CROSS = Form(
    _("{it} {must} cross"), c_("refused", "{it} {must} cross"), _("{it} cross"), _("{it} do not cross")
)  # fmt: skip
SOUND = Form(
    _("every voice {must} sound"), c_("refused", "every voice {must} sound"),
    _("every voice sounds"), _("not every voice sounds"),
)  # fmt: skip
SUMMIT = Form(
    _("the highest note {must} come {what}"), c_("refused", "the highest note {must} come {what}"),
    _("the highest note comes {what}"), _("the highest note does not come {what}"),
)  # fmt: skip
SUMMITS = Form(
    _("the voices {must} reach their highest notes together"),
    c_("refused", "the voices {must} reach their highest notes together"),
    _("the voices reach their highest notes together"), _("the voices do not reach their highest notes together"),
)  # fmt: skip
THERE = Form(
    _("there {must} be {what}"), c_("refused", "there {must} be {what}"),
    _("there are {what}"), _("there are not {what}"),
)  # fmt: skip
FOLLOW = Form(
    _("{what} {must} follow each other"), c_("refused", "{what} {must} follow each other"),
    _("{what} follow each other"), _("it is not so that {what} follow each other"),
)  # fmt: skip
HAPPEN = Form(
    _("it {must} be so that {what}"), c_("refused", "it {must} happen that {what}"),
    _("it is so that {what}"), _("it is not so that {what}"),
)  # fmt: skip
OFTEN = Form("", c_("refused", "it {must} happen more than {times} in a row that {what}"), "", "")

_MUST = {
    (True, True, False): _("must"), (True, False, False): _("must not"),
    (False, True, False): _("should"), (False, False, False): _("should not"),
    (True, True, True): c_("plural", "must"), (True, False, True): c_("plural", "must not"),
    (False, True, True): c_("plural", "should"), (False, False, True): c_("plural", "should not"),
}  # fmt: skip


def must(said: Words, strict: bool, yes: bool, plural: bool) -> str:
    """What a fault asks, or (not ``strict``) what is good: ``must``, ``should not``."""
    found = _MUST[strict, yes, plural]
    return said.phrase(found) if isinstance(found, str) else said.phrase(*found)


# ---- what is joined --------------------------------------------------------------------------------

_JOINTS = {
    "or": _("{first} or {last}"), "and": _("{first} and {last}"), "nor": c_("refused", "{first} or {last}"),
    "or where": _("{first}, or where {last}"), "or that": _("{first}, or that {last}"),
    "and where": _("{first}, and where {last}"), "and that": _("{first}, and that {last}"),
}  # fmt: skip


def joined(said: Words, parts: Sequence[str], word: str) -> str:
    """``a``, ``a or b``, ``a, b or c``. Raises Unsayable if there is nothing."""
    if not parts:
        raise Unsayable
    *first, last = parts
    if not first:
        return last
    joint = _JOINTS[word]
    values = {"first": ", ".join(first), "last": last}
    return said.phrase(joint, **values) if isinstance(joint, str) else said.phrase(*joint, **values)


# ---- numbers -----------------------------------------------------------------------------------------


def counted(number: object, said: Words) -> str:
    """A number in words where it has one: ``three``, ``15``."""
    return said.phrase(COUNTS[number]) if isinstance(number, int) and 0 <= number < len(COUNTS) else str(number)


_ONCE, _TWICE, _TIMES = _("once"), _("twice"), _("{number} times")


def times(number: object, said: Words) -> str:
    """``once``, ``twice``, ``three times``."""
    if number in (1, 2):
        return said.phrase(_ONCE if number == 1 else _TWICE)
    return said.phrase(_TIMES, number=counted(number, said))
