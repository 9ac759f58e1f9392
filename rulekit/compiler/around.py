"""What of an exercise some conditions and values read round a sample, by the table of words."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from rulekit.compiler import emit, reach
from rulekit.compiler.streams import Feed
from rulekit.language import typed as t
from rulekit.language import vocabulary

Spot = tuple[int, int, int]  # samples from the anchor, voice, notes from the one of that voice that sounds there
_MOST = 50_000  # answers that are kept


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
    def is_near(self) -> bool:
        """Whether it is no more than a note and the one before it."""
        return self.offsets == (0, 0) and all(-1 <= hops <= 0 for _, _, hops in self.spots)


@lru_cache(_MOST)
def around(parts: "tuple[t.Test | t.Value, ...]", feed: Feed, voices: int) -> Around:
    """What conditions and values read on a feed, in a texture of so many voices."""
    found = Around(frozenset((0, voice, 0) for voice in feed.voices), (0, 0), False, False)
    for part in parts:
        for offset, leaf, quantified in _readings(part):
            reads = vocabulary.reads(leaf.name)
            every = (quantified or reads.now) and len(feed.voices) < voices
            hops = leaf.ref.hops
            spots = frozenset(
                (offset, voice, hop)
                for voice in (range(voices) if every else feed.voices)
                for hop in {0, *range(hops - reads.back, hops + 1)}
            )
            found |= Around(spots, (min(0, offset), max(0, offset)), every, leaf.name in reach.DATED)
    return found


def _readings(part: "t.Test | t.Value") -> Iterator[tuple[int, t.Attr | t.Flag, bool]]:
    """Each property read, at how many samples from the anchor, and whether by a quantifier."""
    for leaf in emit.leaves(part):
        if isinstance(leaf, t.Holds):
            yield from ((leaf.offset, inner, True) for _, inner, _ in _readings(leaf.condition))
        elif not isinstance(leaf, t.Stream):
            yield leaf.ref.offset, leaf, False
