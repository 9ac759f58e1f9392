"""Streams: values kept while samples go by, such as a run, a count or a highest note.

A stream has one *member* for each line or pair it gathers over; each keeps its own small state,
``(cases of its condition, what its value reads on the last samples, what is kept)``, and the value of
the stream is put together from them.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from rulekit.compiler import emit
from rulekit.compiler.emit import Namespace, Reader
from rulekit.compiler.passage import Cases
from rulekit.compiler.scene import Scene, lines, pairs
from rulekit.compiler.window import Window
from rulekit.exercise.timeline import NO_DYAD, Moment
from rulekit.language import typed as t
from rulekit.language.typed import Kind

Earlier = tuple[tuple[Any, ...], ...]
MemberState = tuple[Cases, Earlier, Any]
Column = tuple[bytes, Sequence[Any], Sequence[Fraction]]  # for each sample: whether it fulfils the test, value, time


@dataclass(frozen=True, slots=True)
class Feed:
    """Where a track's samples come from in the texture: one voice, a pair, or all; ``takes`` chooses among them."""

    kind: Kind
    voices: tuple[int, ...]
    sample: t.Test | None = None
    takes: Callable[[Any], bool] | None = field(default=None, compare=False, repr=False)

    def of(self, moment: Moment) -> Any:
        """The sample at a moment, None if there is none."""
        found = self._all(moment)
        return found if self.takes is None or (found is not None and self.takes(found)) else None

    def _all(self, moment: Moment) -> Any:
        if self.kind == Kind.NOTE:
            (voice,) = self.voices
            return moment.notes[voice] if moment.begun[voice] else None
        if self.kind == Kind.DYAD:
            return moment.dyad(*self.voices)
        return moment


def feed(kind: Kind, voices: tuple[int, ...], sample: t.Test | None, scene: Scene) -> Feed:
    """What gives the samples of a kind and some voices that a condition on their rhythm keeps, all if there is none."""
    if sample is None:
        return Feed(kind, voices)
    reader = reader_of(kind, voices, scene)
    takes = reader.names.function("c", emit.condition(sample, True, reader.read, reader.names))
    return Feed(kind, voices, sample, takes)


def reader_of(kind: Kind, voices: tuple[int, ...], scene: Scene) -> Reader:
    """What reads samples of a kind, of some voices."""
    names = Namespace()
    names.names["x"] = scene
    return Reader(kind, emit.roles(kind, voices, scene.setting.cantus), names)


def feeds(track: t.Track, own: tuple[int, ...], scene: Scene) -> list[Feed]:
    """The feeds of a track for a rule whose own voices are ``own``."""
    count, cantus, paces = scene.number_of_voices, scene.setting.cantus, scene.setting.paces
    if track.voices is not None and track.kind == Kind.NOTE:
        return [feed(Kind.NOTE, (voice,), track.sample, scene) for voice in lines(track.voices, count, cantus, paces)]
    if track.voices is not None and track.kind == Kind.DYAD:
        return [feed(Kind.DYAD, pair, track.sample, scene) for pair in pairs(track.voices, count, cantus, paces)]
    if track.kind == Kind.NOTE and track.role:
        where = dict(emit.roles(Kind.DYAD, own, cantus)).get(track.role)
        index = {"upper": 0, "lower": 1}.get(where or "")
        return [] if index is None else [feed(Kind.NOTE, (own[index],), track.sample, scene)]
    voices = tuple(range(count)) if track.kind == Kind.MOMENT else own  # everything sounds in a sonority
    return [feed(track.kind, voices, track.sample, scene)]


class Gatherer:
    """One stream of one rule, for one choice of the rule's voices."""

    def __init__(self, gathered: t.Gathered, own: tuple[int, ...], scene: Scene, cap: int | None = None) -> None:
        self.kind = gathered.kind
        self.members = feeds(gathered.track, own, scene)
        self._fold, self._start, self._join = _FOLDS[gathered.kind]
        self._whole = _WHOLE.get(gathered.kind, self._folded)
        self.alone = _ALONE.get(gathered.kind, self._lone)
        self._along = _ALONG.get((gathered.kind, gathered.value is not None))
        if cap is not None:
            self._fold = _capped(self._fold, gathered.kind, cap)
        self.windows = [self._window(gathered, feed, scene) for feed in self.members]
        self.readings = [Reading(gathered, reader_of(feed.kind, feed.voices, scene)) for feed in self.members]
        self.start: tuple[MemberState, ...] = tuple((None, x.start, self._start) for x in self.readings)

    def _window(self, gathered: t.Gathered, feed: Feed, scene: Scene) -> Window | None:
        if gathered.test is None:
            return None
        return Window([gathered.test], gathered.track, reader_of(feed.kind, feed.voices, scene), scene)

    def step(self, states: tuple[MemberState, ...], moment: Moment) -> tuple[MemberState, ...]:
        """The states after a moment."""
        return tuple(self._step(i, state, moment) for i, state in enumerate(states))

    def _step(self, member: int, state: MemberState, moment: Moment) -> MemberState:
        cases, earlier, kept = state
        sample = self.members[member].of(moment)
        window = self.windows[member]
        if window is None:
            hits = sample is not None
        elif window.at_once is not None:
            hits = sample is not None and window.at_once(sample, ()) == 0
        else:
            cases, found = window.step(cases, moment, sample, ())
            hits = len(found)
        if sample is not None:
            earlier, value = self.readings[member].read(earlier, sample)
            kept = self._fold(kept, int(hits), value, moment.time)
        elif hits:
            kept = self._fold(kept, int(hits), None, moment.time)
        return cases, earlier, kept

    def value(self, states: tuple[MemberState, ...]) -> Any:
        """What the stream is worth up to here."""
        return self._join([kept for _, _, kept in states])

    def total(self, states: tuple[MemberState, ...]) -> Any:
        """What the stream is worth when nothing more follows."""
        closed: list[Any] = []
        for (cases, _, kept), window in zip(states, self.windows, strict=True):
            late = len(window.finish(cases)) if window is not None and window.at_once is None else 0
            closed.append(kept + late if late else kept)  # only a number can have cases that the end decides
        return self._join(closed)

    def over(self, columns: Iterable[Column]) -> Any:
        """As :meth:`total`, from the columns of what each member saw at all its samples; ``alone`` is that of one."""
        return self._join([self._whole(*column) for column in columns])

    def _lone(self, hits: bytes, values: Sequence[Any], times: Sequence[Fraction]) -> Any:
        return self._join([self._whole(hits, values, times)])

    def along(self, hits: bytes, values: Sequence[Any], times: Sequence[Fraction]) -> list[Any]:
        """What a stream with one member is worth at each sample, if its condition looks at nothing to come."""
        if self._along is not None:
            return self._along(hits, values)
        kept, found = self._start, list[Any]()
        for hit, value, time in zip(hits, values, times, strict=True):
            kept = self._fold(kept, hit, value, time)
            found.append(self._join([kept]))
        return found

    def _folded(self, hits: bytes, values: Sequence[Any], times: Sequence[Fraction]) -> Any:
        kept = self._start
        for hit, value, time in zip(hits, values, times, strict=True):
            kept = self._fold(kept, hit, value, time)
        return kept


class Reading:
    """The value that a stream takes from each sample, which may speak of some samples before it.

    The state is what the value reads on those samples, the latest first; a rest between two voices clears it.
    """

    def __init__(self, gathered: t.Gathered, reader: Reader) -> None:
        value, names = gathered.value, reader.names
        earlier = [] if value is None else [leaf for leaf in emit.leaves(value) if emit.place(leaf).offset < 0]
        depth = max([0, *(-emit.place(leaf).offset for leaf in earlier)])
        self.start: Earlier = ((None,) * len(earlier),) * depth
        self._breaks = reader.kind == Kind.DYAD and not gathered.track.sample
        note = "".join(f"{reader.read(leaf)}, " for leaf in earlier)
        self._note: Callable[[Any], tuple[Any, ...]] = names.function("c", f"({note})")

        def where(leaf: emit.Leaf) -> str:
            offset = emit.place(leaf).offset
            return f"e[{-offset - 1}][{earlier.index(leaf)}]" if offset else reader.read(leaf)

        own = "c.pitch" if gathered.kind in PITCHED else "True"
        source = own if value is None else emit.value(value, where, names)
        self._value: Callable[[Any, Earlier], Any] = names.function("c, e", source)

    def read(self, earlier: Earlier, sample: Any) -> tuple[Earlier, Any]:
        """What is kept of the sample for later ones, and its value."""
        if self._breaks and sample.previous is NO_DYAD:
            earlier = self.start
        value = self._value(sample, earlier)
        return (self._note(sample), *earlier[:-1]) if earlier else earlier, value


# ---- folds: (kept, hits, value, time) -> kept ------------------------------------------------------


def _run(kept: tuple[int, Any], hits: int, value: Any, time: Fraction) -> tuple[int, Any]:
    if not hits or value is None:
        return (0, None)
    return (kept[0] + 1, value) if value == kept[1] else (1, value)


def _tally(kept: tuple[frozenset[Any], int], hits: int, value: Any, time: Fraction) -> tuple[frozenset[Any], int]:
    """How often each value has come, and how often the one that is here: none is 0 where there is no value."""
    if value is None:
        return kept[0], 0
    counts: dict[Any, int] = dict(kept[0])
    counts[value] = counts.get(value, 0) + 1
    return frozenset(counts.items()), counts[value]


def _longest(kept: tuple[int, tuple[int, Any]], hits: int, value: Any, time: Fraction) -> tuple[int, tuple[int, Any]]:
    run = _run(kept[1], hits, value, time)
    return max(kept[0], run[0]), run


def _latest(kept: Any, hits: int, value: Any, time: Fraction) -> Any:
    return value if hits else kept


def _number(kept: int, hits: int, value: Any, time: Fraction) -> int:
    return kept + hits


def _first(kept: Any, hits: int, value: Any, time: Fraction) -> Any:
    return time if hits and kept is None else kept


def _last(kept: Any, hits: int, value: Any, time: Fraction) -> Any:
    return time if hits else kept


def _highest(kept: Any, hits: int, value: Any, time: Fraction) -> Any:
    return value if kept is None or value > kept else kept


def _lowest(kept: Any, hits: int, value: Any, time: Fraction) -> Any:
    return value if kept is None or value < kept else kept


def _climaxes(kept: tuple[Any, int], hits: int, value: Any, time: Fraction) -> tuple[Any, int]:
    if kept[0] is None or value > kept[0]:
        return value, 1
    return (value, kept[1] + 1) if value == kept[0] else kept


def _climax(kept: tuple[Any, Any], hits: int, value: Any, time: Fraction) -> tuple[Any, Any]:
    return (value, time) if kept[0] is None or value > kept[0] else kept


def _capped(fold: Callable[..., Any], kind: str, cap: int) -> Callable[..., Any]:
    """The same fold with its count stopped at ``cap``."""

    def stopped(kept: Any, hits: int, value: Any, time: Fraction) -> Any:
        after = fold(kept, hits, value, time)
        if kind == "number":
            return min(after, cap)
        if kind == "tally":
            return frozenset((key, min(count, cap)) for key, count in after[0]), min(after[1], cap)
        if kind == "run":
            return min(after[0], cap), after[1]
        if kind == "climaxes":
            return after[0], min(after[1], cap)
        longest, (run, key) = after
        return min(longest, cap), (min(run, cap), key)

    return stopped


# ---- joins: what the members come to together --------------------------------------------------------


def _only(choose: Callable[[list[Any]], Any]) -> Callable[[Sequence[Any]], Any]:
    """Choose among what is there, None if nothing is."""

    def join(kept: Sequence[Any]) -> Any:
        there = [value for value in kept if value is not None]
        return choose(there) if there else None

    return join


_FOLDS: dict[str, tuple[Callable[..., Any], Any, Callable[[Sequence[Any]], Any]]] = {
    "run": (_run, (0, None), lambda kept: max((run for run, _ in kept), default=0)),
    "tally": (_tally, (frozenset(), 0), lambda kept: max((count for _, count in kept), default=0)),
    "latest": (_latest, None, _only(lambda there: there[0])),
    "number": (_number, 0, sum),
    "longest": (_longest, (0, (0, None)), lambda kept: max((longest for longest, _ in kept), default=0)),
    "first": (_first, None, _only(min)),
    "last": (_last, None, _only(max)),
    "highest": (_highest, None, _only(max)),
    "lowest": (_lowest, None, _only(min)),
    "climaxes": (_climaxes, (None, 0), lambda kept: max(kept, key=lambda pair: pair[0] or 0)[1] if kept else None),
    "climax": (_climax, (None, None), lambda kept: max(kept, key=lambda pair: pair[0] or 0)[1] if kept else None),
}

PITCHED = (
    "highest",
    "lowest",
    "climaxes",
    "climax",
)

# ---- what folding all samples comes to, where that is quicker said of the whole column ----------------


def _all_highest(hits: bytes, values: Sequence[Any], times: Sequence[Fraction]) -> Any:
    return max(values, default=None)


def _all_lowest(hits: bytes, values: Sequence[Any], times: Sequence[Fraction]) -> Any:
    return min(values, default=None)


def _all_climaxes(hits: bytes, values: Sequence[Any], times: Sequence[Fraction]) -> tuple[Any, int]:
    top = max(values, default=None)
    return top, values.count(top)


def _all_climax(hits: bytes, values: Sequence[Any], times: Sequence[Fraction]) -> tuple[Any, Any]:
    top = max(values, default=None)
    return top, times[values.index(top)] if values else None


def _all_number(hits: bytes, values: Sequence[Any], times: Sequence[Fraction]) -> int:
    return hits.count(1)


def _all_first(hits: bytes, values: Sequence[Any], times: Sequence[Fraction]) -> Any:
    return times[hits.index(1)] if 1 in hits else None


def _all_last(hits: bytes, values: Sequence[Any], times: Sequence[Fraction]) -> Any:
    return times[hits.rindex(1)] if 1 in hits else None


_WHOLE: dict[str, Callable[[bytes, Sequence[Any], Sequence[Fraction]], Any]] = {
    "number": _all_number,
    "first": _all_first,
    "last": _all_last,
    "highest": _all_highest,
    "lowest": _all_lowest,
    "climaxes": _all_climaxes,
    "climax": _all_climax,
}

_ALONE: dict[str, Callable[[bytes, Sequence[Any], Sequence[Fraction]], Any]] = {  # those of one member, joined
    **{kind: _WHOLE[kind] for kind in ("number", "first", "last", "highest", "lowest")},
    "climaxes": lambda hits, values, times: _all_climaxes(hits, values, times)[1],
    "climax": lambda hits, values, times: _all_climax(hits, values, times)[1],
}


def _along_run(hits: bytes, values: Sequence[Any]) -> list[int]:
    run, found = 0, list[int]()
    for hit in hits:
        run = run + 1 if hit else 0
        found.append(run)
    return found


def _along_latest(hits: bytes, values: Sequence[Any]) -> list[Any]:
    kept, found = None, list[Any]()
    for hit, value in zip(hits, values, strict=True):
        kept = value if hit else kept
        found.append(kept)
    return found


def _along_tally(hits: bytes, values: Sequence[Any]) -> list[int]:
    counts, found = dict[Any, int](), list[int]()
    for value in values:
        counts[value] = counts.get(value, 0) + 1
        found.append(0 if value is None else counts[value])
    return found


_ALONG: dict[tuple[str, bool], Callable[[bytes, Sequence[Any]], list[Any]]] = {
    ("run", False): _along_run,
    ("latest", True): _along_latest,
    ("tally", True): _along_tally,
}
