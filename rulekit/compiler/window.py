"""A condition that looks some places back and ahead, judged while the samples go by.

For each sample (the *anchor*) one *case* is open while its window passes. A case starts at the
earliest place the condition looks at and reads every attribute when its sample comes by; as soon as
what it has read settles the outcome the case is closed, and values that can no longer matter are
forgotten at once. So the memory of a rule is just what may still decide something: most rules
remember nothing but that nothing is open.

A case is a tuple ``(stage, skipped, settled, true, values, waits)``: its place in the window (0 at the
anchor), how many of its places a rest has taken away, the literals settled and those of them that are
true (bit sets), the values read and still needed, and for each awaited later note the voice and how many
notes are still to come.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from rulekit.compiler import emit
from rulekit.compiler.emit import Leaf, Reader
from rulekit.compiler.scene import Scene
from rulekit.exercise.model import NO_NOTE
from rulekit.exercise.timeline import NO_DYAD, NO_MOMENT, Moment
from rulekit.language import typed as t
from rulekit.language.typed import Kind

Case = tuple[int, int, int, int, tuple[Any, ...], tuple[Any, ...]]
Cases = tuple[Case, ...] | None
Hit = tuple[int, int]  # samples since the anchor; which outcome (0: no licence, n: licence n)

_OPEN = -1  # the outcome is not settled yet
_NO = -2  # the condition does not hold
_MISSING = {Kind.NOTE: NO_NOTE, Kind.DYAD: NO_DYAD, Kind.MOMENT: NO_MOMENT}
_BEFORE = {Kind.NOTE: "before", Kind.DYAD: "previous", Kind.MOMENT: "previous"}


@dataclass(frozen=True, slots=True)
class _Joint:
    """``and`` or ``or`` of literals and further joints, with no negation left."""

    every: bool
    parts: "tuple[_Joint | int, ...]"


def _is_shallow(leaf: Leaf) -> bool:
    """Whether a leaf can be read on the sample before: it must look at no other note of that time or earlier."""
    if emit.place(leaf).hops or isinstance(leaf, t.Holds | t.Stream):
        return False
    return leaf.name not in ("approach", "motion", "held", "rested", "on_bass")


class Window:
    """The machine of one condition with its licences, on one kind of track.

    ``reach_back`` is how many samples before the anchor it looks (``steps_back`` of them remembered), ``ahead``
    how many after;
    ``notes_ahead`` how many later notes of one voice it may wait for.
    """

    def __init__(self, tests: Sequence[t.Test], track: t.Track, reader: Reader, scene: Scene) -> None:
        self.kind, self.scene, self._names = track.kind, scene, reader.names
        self._reader = reader
        self._literals: list[tuple[t.Test, bool]] = []
        self._outcomes = [self._joint(test, True) for test in tests]
        self._leaves = list(dict.fromkeys(leaf for test, _ in self._literals for leaf in emit.leaves(test)))
        places = [emit.place(leaf) for leaf in self._leaves]
        self.reach_back = reach_back = max([0, *(-place.offset for place in places)])
        earliest = [leaf for leaf, ref in zip(self._leaves, places, strict=True) if ref.offset == -reach_back]
        self._linked = not track.sample and reach_back > 0 and all(map(_is_shallow, earliest))
        self.steps_back = reach_back - 1 if self._linked else reach_back
        self.ahead = max([0, *(place.offset for place in places)])
        self._later = tuple(i for i, place in enumerate(places) if place.hops > 0)
        self.notes_ahead = max([0, *(place.hops for place in places)])
        self._breaks = self.kind == Kind.DYAD and not track.sample
        self.immediate: Callable[[Any, tuple[Any, ...]], int] | None = None
        if self.steps_back == self.ahead == 0 and not self._later:
            self.immediate = self._immediate(tests)
        else:
            self._prepare(places)

    # ---- making -----------------------------------------------------------------------------

    def _joint(self, test: t.Test, holds: bool) -> _Joint | int:
        match test:
            case t.Negation():
                return self._joint(test.inner, not holds)
            case t.All() | t.AnyOf():
                every = isinstance(test, t.All) == holds
                return _Joint(every, tuple(self._joint(part, holds) for part in test.parts))
            case _:
                if (test, holds) not in self._literals:
                    self._literals.append((test, holds))
                return self._literals.index((test, holds))

    def _source(self, leaf: Leaf) -> str:
        """The expression of a leaf on the sample at which it is read."""
        linked = self._linked and emit.place(leaf).offset == -self.steps_back - 1
        return self._reader.read(leaf, f"c.{_BEFORE[self.kind]}" if linked else "c")

    def _immediate(self, tests: Sequence[t.Test]) -> Callable[[Any, tuple[Any, ...]], int]:
        """All of it as one function of the sample: no memory is needed."""
        source = str(_NO)
        forms = [emit.condition(test, True, self._source, self._names) for test in tests]
        chosen = "0"
        for number in range(len(forms) - 1, 0, -1):
            chosen = f"{number} if {forms[number]} else {chosen}"
        source = f"({chosen}) if {forms[0]} else {_NO}"
        self._names.names["x"] = self.scene
        return self._names.function("c, s", source)

    def _prepare(self, places: Sequence[t.Ref]) -> None:
        """The tables that a case is moved by."""
        self._names.names["x"] = self.scene
        index = {leaf: i for i, leaf in enumerate(self._leaves)}
        self._read_at: dict[int, list[tuple[int, Callable[..., Any]]]] = {}
        self._later_reads: dict[int, Callable[..., Any]] = {}
        self._voices: dict[int, Callable[..., Any]] = {}
        self._stage_of: dict[int, int] = {}
        for i, leaf in enumerate(self._leaves):
            stage = max(places[i].offset, -self.steps_back)
            self._stage_of[i] = stage
            if i in self._later:
                note = self._reader.thing(places[i], "c", 0)
                self._voices[i] = self._names.function("c", f"{note}.voice")
                assert isinstance(leaf, t.Attr | t.Flag)
                self._later_reads[i] = self._names.function("c", "False" if leaf.name == "held" else f"c.{leaf.name}")
            else:
                self._read_at.setdefault(stage, []).append((i, self._names.function("c, s", self._source(leaf))))
        self._tests: list[Callable[..., Any]] = []
        self._needs: list[tuple[int, ...]] = []
        for test, holds in self._literals:
            source = emit.literal(test, holds, lambda leaf: f"v[{index[leaf]}]", self._names)
            self._tests.append(self._names.function("v", source))
            self._needs.append(tuple(sorted({index[leaf] for leaf in emit.leaves(test)})))
        self._ready: dict[int, list[int]] = {}
        self._waiting: list[int] = []
        for number, needs in enumerate(self._needs):
            if any(i in self._later for i in needs):
                self._waiting.append(number)
            else:
                stage = max((self._stage_of[i] for i in needs), default=-self.steps_back)
                self._ready.setdefault(stage, []).append(number)
        self._decided: dict[tuple[int, int], tuple[int, int]] = {}
        self._blank: tuple[Any, ...] = (None,) * len(self._leaves)
        self._idle = (0,) * len(self._later)
        self._fresh: Case = (-self.steps_back - 1, 0, 0, 0, self._blank, self._idle)

    # ---- running ----------------------------------------------------------------------------

    def step(self, cases: Cases, moment: Moment, sample: Any, streams: tuple[Any, ...]) -> tuple[Cases, list[Hit]]:
        """Move all open cases by one moment; ``sample`` is None where the track has none here."""
        hits: list[Hit] = []
        if cases is None:
            if sample is None:
                return None, hits
            cases = self._late_starts()
        elif sample is not None and self._breaks and sample.previous is NO_DYAD:
            cases = (*(self._part(case) for case in cases if case[0] >= 0), *self._late_starts())
        kept: list[Case] = []
        if sample is not None:
            cases = (*cases, self._fresh)
        for case in cases:
            moved = self._move(case, moment, sample, streams)
            outcome = self._outcome(moved)
            if outcome[0] == _OPEN:
                kept.append(self._forget(moved, outcome[1]))
            elif outcome[0] != _NO:
                if moved[0] >= 0:
                    hits.append((moved[0] - moved[1], outcome[0]))
                else:
                    kept.append(self._forget(moved, 0))
        return tuple(kept), hits

    def finish(self, cases: Cases) -> list[Hit]:
        """What the open cases come to when nothing more follows."""
        hits: list[Hit] = []
        for case in cases or ():
            if case[0] < 0:
                continue
            ended = self._settle(self._part(case), final=True)
            outcome = self._outcome(ended)[0]
            if outcome >= 0:
                hits.append((case[0] - case[1], outcome))
        return hits

    def _part(self, case: Case) -> Case:
        """A case for which no more samples follow, though awaited notes still may."""
        stage = case[0]
        for later in range(stage + 1, self.ahead + 1):
            case = self._settle(self._read(case, later, _MISSING[self.kind], ()))
        return (case[0], case[1] + case[0] - stage, *case[2:])

    def _late_starts(self) -> tuple[Case, ...]:
        """The cases of the anchors that lie so early that there is not all of their window before them."""
        return tuple(self._late_start(stage) for stage in range(-1, -self.steps_back - 1, -1))

    def _late_start(self, stage: int) -> Case:
        """The case of an anchor so early that its window starts before the first sample."""
        case = self._fresh
        for passed in range(-self.steps_back, stage + 1):
            case = self._settle(self._read(case, passed, _MISSING[self.kind], ()))
        return case

    def _move(self, case: Case, moment: Moment, sample: Any, streams: tuple[Any, ...]) -> Case:
        if self._later and any(case[5]):
            case = self._await(case, moment)
        if sample is not None:
            case = self._read(case, case[0] + 1, sample, streams)
        return self._settle(case)

    def _read(self, case: Case, stage: int, sample: Any, streams: tuple[Any, ...]) -> Case:
        """Read what is to be read on the sample at this stage."""
        _, skipped, settled, true, values, waits = case
        reads = self._read_at.get(stage, ())
        if reads:
            changed = list(values)
            for i, read in reads:
                changed[i] = read(sample, streams)
            values = tuple(changed)
        if self._later:
            waits = tuple(
                self._start_wait(i, sample) if self._stage_of[i] == stage else wait
                for i, wait in zip(self._later, waits, strict=True)
            )
        return (stage, skipped, settled, true, values, waits)

    def _start_wait(self, leaf: int, sample: Any) -> tuple[int, int] | None:
        """The voice whose note is awaited and how many are to come; None if there is no such voice."""
        voice = self._voices[leaf](sample)
        return None if voice is None else (voice, emit.place(self._leaves[leaf]).hops)

    def _await(self, case: Case, moment: Moment) -> Case:
        """Let awaited notes come nearer, and read those that begin here."""
        stage, skipped, settled, true, values, waits = case
        changed, left = list(values), list(waits)
        for place, i in enumerate(self._later):
            wait = waits[place]
            if not wait or not moment.begun[wait[0]]:
                continue
            voice, hops = wait
            left[place] = (voice, hops - 1) if hops > 1 else None
            if hops == 1:
                changed[i] = self._later_reads[i](moment.notes[voice])
        return (stage, skipped, settled, true, tuple(changed), tuple(left))

    def _settle(self, case: Case, final: bool = False) -> Case:
        """Evaluate every literal whose values are all there; at the end, all of them."""
        stage, skipped, settled, true, values, waits = case
        numbers: Iterable[int] = range(len(self._tests)) if final else self._ready.get(stage, ())
        if self._waiting and not final:
            awaited = [n for n in self._waiting if all(self._is_read(i, stage, waits) for i in self._needs[n])]
            numbers = [*numbers, *awaited]
        for number in numbers:
            if not settled >> number & 1:
                settled |= 1 << number
                true |= bool(self._tests[number](values)) << number
        return (stage, skipped, settled, true, values, waits)

    def _is_read(self, leaf: int, stage: int, waits: tuple[Any, ...]) -> bool:
        if stage < self._stage_of[leaf]:
            return False
        return leaf not in self._later or waits[self._later.index(leaf)] is None

    def _outcome(self, case: Case) -> tuple[int, int]:
        """The settled outcome, or _OPEN with the values (a bit set) that may still matter."""
        key = (case[2], case[3])
        found = self._decided.get(key)
        if found is None:
            found = self._decided[key] = self._decide(*key)
        return found

    def _decide(self, settled: int, true: int) -> tuple[int, int]:
        open_literals: set[int] = set()
        broken = self._evaluate(self._outcomes[0], settled, true, open_literals)
        if broken is False:
            return _NO, 0
        if broken is True:
            open_literals.clear()
            for number, joint in enumerate(self._outcomes[1:], 1):
                excused = self._evaluate(joint, settled, true, open_literals)
                if excused is True:
                    return (number, 0) if not open_literals else (_OPEN, self._mask(open_literals))
            if not open_literals:
                return 0, 0
        for joint in self._outcomes[1:]:
            self._evaluate(joint, settled, true, open_literals)
        return _OPEN, self._mask(open_literals)

    def _evaluate(self, joint: _Joint | int, settled: int, true: int, open_literals: set[int]) -> bool | None:
        """Three-valued: None while it is open; literals that could still change it are collected."""
        if isinstance(joint, int):
            if settled >> joint & 1:
                return bool(true >> joint & 1)
            open_literals.add(joint)
            return None
        inner: set[int] = set()
        results = [self._evaluate(part, settled, true, inner) for part in joint.parts]
        if (not joint.every) in results:
            return not joint.every
        if None in results:
            open_literals |= inner
            return None
        return joint.every

    def _mask(self, literals: set[int]) -> int:
        return sum(1 << i for i in {i for number in literals for i in self._needs[number]})

    def _forget(self, case: Case, mask: int) -> Case:
        """Drop the values that can't matter any more."""
        stage, skipped, settled, true, values, waits = case
        values = tuple(value if mask >> i & 1 else None for i, value in enumerate(values))
        if self._later:
            waits = tuple(wait if mask >> i & 1 else None for i, wait in zip(self._later, waits, strict=True))
        return (stage, skipped, settled, true, values, waits)
