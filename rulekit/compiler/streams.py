"""Streams: values kept while samples go by, such as a run, a count or a highest note.

A stream has one *member* for each line or pair it gathers over; each keeps its own small state,
``(cases of its condition, what its value reads on the last samples, what is kept)``, and the value of
the stream is put together from them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from rulekit.compiler import emit
from rulekit.compiler.emit import Namespace, Reader
from rulekit.compiler.scene import Scene, lines, pairs
from rulekit.compiler.window import Cases, Window
from rulekit.exercise.timeline import NO_DYAD, Moment
from rulekit.language import typed as t
from rulekit.language.typed import Kind

Earlier = tuple[tuple[Any, ...], ...]
MemberState = tuple[Cases, Earlier, Any]


@dataclass(frozen=True, slots=True)
class Feed:
    """Where a track's samples come from in the texture: one voice, a pair, or all."""

    kind: Kind
    voices: tuple[int, ...]
    sample: str = ""

    def of(self, moment: Moment) -> Any:
        """The sample at a moment, None if there is none."""
        if (self.sample == "strong" and not moment.strong) or (self.sample == "accented" and not moment.accented):
            return None
        if self.kind == Kind.NOTE:
            (voice,) = self.voices
            return moment.notes[voice] if moment.begun[voice] else None
        if self.kind == Kind.DYAD:
            return moment.dyad(*self.voices)
        return moment


def feeds(track: t.Track, own: tuple[int, ...], scene: Scene) -> list[Feed]:
    """The feeds of a track for a rule whose own voices are ``own``."""
    count, cantus = scene.number_of_voices, scene.setting.cantus
    if track.voices is not None and track.kind == Kind.NOTE:
        return [Feed(Kind.NOTE, (voice,), track.sample) for voice in lines(track.voices, count, cantus)]
    if track.voices is not None and track.kind == Kind.DYAD:
        return [Feed(Kind.DYAD, pair, track.sample) for pair in pairs(track.voices, count, cantus)]
    if track.kind == Kind.NOTE and track.role:
        where = dict(emit.roles(Kind.DYAD, own, cantus)).get(track.role)
        index = {"upper": 0, "lower": 1}.get(where or "")
        return [] if index is None else [Feed(Kind.NOTE, (own[index],), track.sample)]
    return [Feed(track.kind, own, track.sample)]


class Gatherer:
    """One stream of one rule, for one choice of the rule's voices."""

    def __init__(self, gathered: t.Gathered, own: tuple[int, ...], scene: Scene, cap: int | None = None) -> None:
        self.kind = gathered.kind
        self.members = feeds(gathered.track, own, scene)
        self._fold, self._start, self._join = _FOLDS[gathered.kind]
        if cap is not None:
            self._fold = _capped(self._fold, gathered.kind, cap)
        self._windows = [self._window(gathered, feed, scene) for feed in self.members]
        self._values = [Reading(gathered, self._reader(feed, scene)) for feed in self.members]
        self.start: tuple[MemberState, ...] = tuple((None, x.start, self._start) for x in self._values)

    @staticmethod
    def _reader(feed: Feed, scene: Scene) -> Reader:
        names = Namespace()
        names.names["x"] = scene
        return Reader(feed.kind, emit.roles(feed.kind, feed.voices, scene.setting.cantus), names)

    def _window(self, gathered: t.Gathered, feed: Feed, scene: Scene) -> Window | None:
        if gathered.test is None:
            return None
        return Window([gathered.test], gathered.track, self._reader(feed, scene), scene)

    def step(self, states: tuple[MemberState, ...], moment: Moment) -> tuple[MemberState, ...]:
        """The states after a moment."""
        return tuple(self._step(i, state, moment) for i, state in enumerate(states))

    def _step(self, member: int, state: MemberState, moment: Moment) -> MemberState:
        cases, earlier, kept = state
        sample = self.members[member].of(moment)
        window = self._windows[member]
        if window is None:
            hits = sample is not None
        elif window.immediate is not None:
            hits = sample is not None and window.immediate(sample, ()) == 0
        else:
            cases, found = window.step(cases, moment, sample, ())
            hits = len(found)
        if sample is not None:
            earlier, value = self._values[member].read(earlier, sample)
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
        for (cases, _, kept), window in zip(states, self._windows, strict=True):
            late = len(window.finish(cases)) if window is not None and window.immediate is None else 0
            closed.append(kept + late if late else kept)  # only a number can have cases that the end decides
        return self._join(closed)


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

        own = "c.pitch" if gathered.kind in _PITCHED else "True"
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
_PITCHED = ("highest", "lowest", "climaxes", "climax")
