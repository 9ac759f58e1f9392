"""From one thing to another: places along the track, notes along a voice."""

from dataclasses import replace

from rulekit.language import limits
from rulekit.language import syntax as s
from rulekit.language.checking.context import Context, Thing
from rulekit.language.checking.errors import CheckError
from rulekit.language.typed import Kind, Ref

PLACED = (Kind.NOTE, Kind.DYAD, Kind.MOMENT)  # what follows one another in time


def shifted(thing: Thing, offset: int, span: s.Span) -> Thing:
    """The thing some places on along the track; a note of a dyad or moment goes along its voice."""
    if thing.kind not in PLACED:
        raise CheckError(span, f"there is nothing before or after a {thing.kind}")
    if thing.ref.role:
        return Thing(hopped(thing.ref, offset, span), thing.kind)
    moved = _near(thing.ref.offset + offset, span)
    return Thing(replace(thing.ref, offset=moved), thing.kind)


def hopped(ref: Ref, hops: int, span: s.Span, context: Context | None = None) -> Ref:
    """The note some notes on in its voice; without samples left out, those are the track's own samples."""
    if not ref.role and not (context and context.track.sample):
        return replace(ref, offset=_near(ref.offset + hops, span))
    return replace(ref, hops=_near(ref.hops + hops, span))


def _near(distance: int, span: s.Span) -> int:
    if abs(distance) > limits.MAX_WINDOW:
        raise CheckError(span, f"a rule looks at most {limits.MAX_WINDOW} places before or after")
    return distance
