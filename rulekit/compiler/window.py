"""A condition that looks some places back and ahead, judged while the samples go by.

As soon as what a case (see :mod:`rulekit.compiler.passage`) has read settles the outcome it is closed, and
values that can no longer matter are forgotten at once. So the memory of a rule is just what may still
decide something: most rules remember nothing but that nothing is open.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from rulekit.compiler import emit
from rulekit.compiler.emit import Reader, Where
from rulekit.compiler.passage import Case, Cases, Line, Passage
from rulekit.compiler.scene import Scene
from rulekit.exercise.timeline import Moment
from rulekit.language import typed as t

Hit = tuple[int, int]  # samples since the anchor; which outcome (0: no licence, n: licence n)

_OPEN = -1  # the outcome is not settled yet
_NO = -2  # the condition does not hold


@dataclass(frozen=True, slots=True)
class _Joint:
    """``and`` or ``or`` of literals and further joints, with no negation left."""

    every: bool
    parts: "tuple[_Joint | int, ...]"


class Window(Passage):
    """The machine of one condition with its licences, on one kind of track."""

    def __init__(self, tests: Sequence[t.Test], track: t.Track, reader: Reader, scene: Scene) -> None:
        self._conditions = tuple(tests)
        self._literals: list[tuple[t.Test, bool]] = []
        self._outcomes = [self._joint(test, True) for test in tests]
        leaves = dict.fromkeys(leaf for test, _ in self._literals for leaf in emit.leaves(test))
        super().__init__(tuple(leaves), track, reader, scene)
        self.at_once = self._at_once() if self.immediate else None
        if not self.immediate:
            self.prepare()

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

    @cached_property
    def outright(self) -> Callable[[Line, int, tuple[Any, ...]], int]:
        """All of it as one function of a line, the number of a sample and the streams there, for what is finished."""

        def where(leaf: emit.Leaf) -> str:
            if isinstance(leaf, t.Stream):
                return f"s[{leaf.number}]"
            return f"{self.names.constant(self.reading(leaf))}(p, i)"

        return self.names.function("p, i, s", self._chosen(where))

    def _at_once(self) -> Callable[[Any, tuple[Any, ...]], int]:
        """All of it as one function of the sample: no memory is needed."""
        return self.names.function("c, s", self._chosen(self.source))

    def _chosen(self, where: Where) -> str:
        """The expression of the outcome."""
        forms = [emit.condition(test, True, where, self.names) for test in self._conditions]
        chosen = "0"
        for number in range(len(forms) - 1, 0, -1):
            chosen = f"{number} if {forms[number]} else {chosen}"
        return f"({chosen}) if {forms[0]} else {_NO}"

    def prepare(self) -> None:
        """Make the tables that a case is moved and settled by."""
        super().prepare()
        index = {leaf: i for i, leaf in enumerate(self.leaves)}
        self._tests: list[Callable[..., Any]] = []
        self._needs: list[tuple[int, ...]] = []
        for test, holds in self._literals:
            source = emit.literal(test, holds, lambda leaf: f"v[{index[leaf]}]", self.names)
            self._tests.append(self.names.function("v", source))
            self._needs.append(tuple(sorted({index[leaf] for leaf in emit.leaves(test)})))
        self._ready: dict[int, list[int]] = {}
        self._waiting: list[int] = []
        for number, needs in enumerate(self._needs):
            if any(i in self._later for i in needs):
                self._waiting.append(number)
            else:
                stage = max((self.stage_of[i] for i in needs), default=-self.steps_back)
                self._ready.setdefault(stage, []).append(number)
        self._dues: dict[tuple[int, int, tuple[bool, ...] | None], list[int]] = {}
        self._decided: dict[tuple[int, int], tuple[int, int]] = {}

    # ---- running ----------------------------------------------------------------------------

    def step(self, cases: Cases, moment: Moment, sample: Any, streams: tuple[Any, ...]) -> tuple[Cases, list[Hit]]:
        """Move all open cases by one moment; ``sample`` is None where the track has none here."""
        hits: list[Hit] = []
        cases = self.advance(cases, moment, sample, streams)
        if cases is None:
            return None, hits
        kept: list[Case] = []
        for moved in cases:
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
            ended = self.settle(self.part(case), final=True)
            outcome = self._outcome(ended)[0]
            if outcome >= 0:
                hits.append((case[0] - case[1], outcome))
        return hits

    def settle(self, case: Case, final: bool = False) -> Case:
        """Evaluate every literal whose values are all there; at the end, all of them."""
        stage, skipped, settled, true, values, waits = case
        for number in self._due(stage, settled, None if final else waits):
            settled |= 1 << number
            true |= bool(self._tests[number](values)) << number
        return (stage, skipped, settled, true, values, waits)

    def _due(self, stage: int, settled: int, waits: tuple[Any, ...] | None) -> list[int]:
        """The literals not settled yet whose values are all there, once for each pattern; all without ``waits``."""
        pattern = None if waits is None else tuple([wait is None for wait in waits])
        found = self._dues.get((stage, settled, pattern))
        if found is None:
            numbers: Iterable[int] = range(len(self._tests))
            if waits is not None:
                awaited = [n for n in self._waiting if all(self.is_read(i, stage, waits) for i in self._needs[n])]
                numbers = [*self._ready.get(stage, ()), *awaited]
            found = [number for number in numbers if not settled >> number & 1]
            self._dues[stage, settled, pattern] = found
        return found

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
