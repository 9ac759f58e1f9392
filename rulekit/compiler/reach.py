"""What of an exercise a rule reads, by the table of words: how far into the past, and whether at altered notes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from rulekit.compiler import emit
from rulekit.compiler.scene import BY_PACE
from rulekit.language import typed as t
from rulekit.language import vocabulary

DATED = ("bar", "time")  # what depends on which bar it is


@dataclass(frozen=True, slots=True)
class Reading:
    """A property that a rule reads: its leaf, whether a quantifier does so, and what the property depends on."""

    leaf: t.Attr | t.Flag
    quantified: bool
    reads: vocabulary.Reads

    @property
    def new(self) -> bool:
        """Whether what is asked has just begun when it is read: the sample itself, and no note within it."""
        return not self.quantified and not self.leaf.ref.role

    @property
    def back(self) -> int:
        """How many notes before the one that is pointed to are read."""
        return max(0, -self.leaf.ref.hops) + self.reads.back


def readings(rule: t.Rule) -> list[Reading]:
    """Everything that a rule reads, in its condition, its licences and its streams."""
    parts: list[t.Test | t.Value | None] = [rule.broken, *(licence.test for licence in rule.licences)]
    parts += [part for stream in rule.streams for part in (stream.test, stream.value)]
    return [reading for part in parts if part is not None for reading in within(part)]


def within(part: "t.Test | t.Value", quantified: bool = False) -> Iterator[Reading]:
    """Everything that a condition or value reads, outside its streams."""
    for leaf in emit.leaves(part):
        if isinstance(leaf, t.Holds):
            yield from within(leaf.condition, True)
        elif not isinstance(leaf, t.Stream):
            yield Reading(leaf, quantified, vocabulary.reads(leaf.name))


class Past(NamedTuple):
    """How many notes of a voice are read when the next one begins, and how many before one that is held.

    ``met``: the same of those of which it is asked what the cantus sounded with them; None if of none.
    """

    new: int
    held: int
    met: tuple[int, int] | None = None


def past(found: Sequence[Reading]) -> Past:
    """What is read of the notes of a voice; the sample before counts as a note."""
    new = [max(reading.back, int(reading.leaf.ref.offset < 0)) for reading in found if not reading.quantified]
    held = [reading.back for reading in found if not reading.new]
    met = [reading for reading in found if reading.reads.cantus]
    return Past(max(new, default=0), max(held, default=0), _met(met) if met else None)


def _met(found: Sequence[Reading]) -> tuple[int, int]:
    new = [reading.back for reading in found]
    return max(new), max([reading.back for reading in found if not reading.new], default=0)


def furthest(pasts: Sequence[Past]) -> Past:
    """What several read together."""
    met = [past.met for past in pasts if past.met is not None]
    both = (max(new for new, _ in met), max(held for _, held in met)) if met else None
    return Past(max(past.new for past in pasts), max(past.held for past in pasts), both)


def is_dated(rule: t.Rule) -> bool:
    """Whether a rule tells one bar from another by its number or time."""
    return any(reading.leaf.name in DATED for reading in readings(rule)) or any(
        stream.kind in ("climax", "first", "last") for stream in rule.streams
    )


def asks(rule: t.Rule) -> frozenset[str]:
    """What of a setting a rule asks for, in a condition, a stream or its message: ``mode``, ``number-of-bars`` …,
    and ``paces`` if it names voices by how they move.
    """
    roots: list[t.Test | t.Value | None] = [rule.track.sample, rule.broken, *(each.test for each in rule.licences)]
    roots += [part for each in rule.streams for part in (each.track.sample, each.test, each.value)]
    roots += [slot.value for slot in rule.message if isinstance(slot, t.Slot) and not isinstance(slot.value, t.Ref)]
    scopes = [rule.scope, *(each.track.voices for each in rule.streams)]
    asked = (name for root in roots if root is not None for name in _asked(root))
    return frozenset([*asked, *(name for scope in scopes for name in _of_scope(scope))])


def _asked(part: "t.Test | t.Value") -> Iterator[str]:
    """As :func:`asks` of a condition or value, conditions on other samples included."""
    for each in t.walk(part):
        match each:
            case t.Fixed():
                yield each.name
            case t.Function(name="degree"):
                yield "mode"
            case t.InVoices():
                yield from _of_scope(each.scope)
            case t.Holds():
                yield from _of_scope(each.scope)
                yield from _asked(each.condition)
            case _:
                pass


def _of_scope(voices: t.Voices | None) -> Iterator[str]:
    if voices is not None:
        yield from ["paces"] if voices.words in BY_PACE else []
        for each in (*voices.parts, voices.but):
            yield from _of_scope(each)


def run_told(rule: t.Rule) -> int | None:
    """The number of the run that a rule is told once for, where it is broken first; None if it is told each time.

    That is a rule whose condition speaks of just one run, and which (with its licences) looks at nothing to come.
    """
    if all(stream.kind != "run" for stream in rule.streams):
        return None
    found = {leaf.number for leaf in emit.leaves(rule.broken) if isinstance(leaf, t.Stream)}
    runs = [number for number in found if rule.streams[number].kind == "run"]
    tests = [rule.broken, *(licence.test for licence in rule.licences)]
    places = [emit.place(leaf) for test in tests for leaf in emit.leaves(test)]
    ahead = any(place.offset > 0 or place.hops > 0 for place in places)
    return runs[0] if len(runs) == 1 and not ahead else None


def is_upright(rule: t.Rule) -> bool:
    """Whether a rule looks only at what sounds together, and not at how it came there."""
    tests = [rule.broken, *(licence.test for licence in rule.licences)]
    plain = all(isinstance(leaf, t.Attr | t.Flag) for test in tests for leaf in emit.leaves(test))
    return plain and all(
        not reading.leaf.ref.offset and not reading.leaf.ref.hops and not reading.back and not reading.reads.link
        for reading in readings(rule)
    )


def is_shallow(leaf: emit.Leaf) -> bool:
    """Whether a leaf can be read on the sample before: it must look at no other note of that time or earlier."""
    if isinstance(leaf, t.Holds | t.Stream):
        return False
    reads = vocabulary.reads(leaf.name)
    return not leaf.ref.hops and not reads.back and not reads.now and not reads.cantus
