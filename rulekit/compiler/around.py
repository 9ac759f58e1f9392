"""What of an exercise some conditions and values read round a sample, by the table of words."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from rulekit.compiler import emit, reach
from rulekit.compiler.streams import Feed
from rulekit.language import typed as t
from rulekit.language import vocabulary

_MOST = 50_000  # answers that are kept


class Spot(NamedTuple):
    """A note: samples from the anchor, voice, notes from the one of that voice that sounds there.

    ``cantus`` means the note of the cantus that sounds when that one begins.
    """

    offset: int
    voice: int
    hops: int
    cantus: bool = False


@dataclass(frozen=True, slots=True)
class Around:
    """What some questions read round a sample: notes, and which samples and voices they look at how."""

    spots: frozenset[Spot]
    offsets: tuple[int, int]
    every: bool
    dated: bool

    def __or__(self, other: "Around") -> "Around":
        low, high = zip(self.offsets, other.offsets, strict=True)
        return Around(
            self.spots | other.spots, (min(low), max(high)), self.every or other.every, self.dated or other.dated
        )

    @property
    def look(self) -> tuple[bool, bool, bool, bool]:
        """How it looks: whether at no more than a note and the one before it, at other voices too, at bar numbers, at
        the cantus beside notes.
        """
        is_near = self.offsets == (0, 0) and all(-1 <= spot.hops <= 0 for spot in self.spots)
        return is_near, self.every, self.dated, any(spot.cantus for spot in self.spots)


def around(parts: "tuple[t.Test | t.Value, ...]", feed: Feed, voices: int) -> Around:
    """What conditions and values read on a feed, in a texture of so many voices."""
    found = {Spot(0, voice, 0) for voice in feed.voices}
    looks, others = _looks(parts), len(feed.voices) < voices
    for look in looks:
        among = range(voices) if look.wide and others else feed.voices
        found |= {Spot(look.offset, voice, look.hops, look.cantus) for voice in among}
    offsets = [0, *(look.offset for look in looks)]
    every, dated = others and any(look.wide for look in looks), any(look.dated for look in looks)
    return Around(frozenset(found), (min(offsets), max(offsets)), every, dated)


class _Look(NamedTuple):
    """A note that is read: samples from the anchor, notes from there, whether of every voice, whether with its bar;
    ``cantus``: not itself, but what the cantus sounds with it.
    """

    offset: int
    hops: int
    wide: bool
    dated: bool
    cantus: bool = False


@lru_cache(_MOST)
def _looks(parts: "tuple[t.Test | t.Value, ...]") -> frozenset[_Look]:
    return frozenset(look for part in parts for leaf in emit.leaves(part) for look in _of_leaf(leaf))


def _of_leaf(leaf: emit.Leaf) -> Iterator[_Look]:
    if isinstance(leaf, t.Holds):
        for look in _looks((leaf.condition,)):
            yield _Look(leaf.offset, look.hops, True, look.dated, look.cantus)
    elif not isinstance(leaf, t.Stream):
        reads, hops = vocabulary.reads(leaf.name), leaf.ref.hops
        for hop in {0, *range(hops - reads.back, hops + 1)}:
            yield _Look(leaf.ref.offset, hop, reads.now, leaf.name in reach.DATED)
        if reads.cantus:
            yield _Look(leaf.ref.offset, hops, False, False, True)
