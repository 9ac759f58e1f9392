"""What values and conditions come to at every sample of a finished exercise: for messages and explanations.

They are read by the same passage of samples that judges rules, with nothing forgotten on the way.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from rulekit.compiler import emit
from rulekit.compiler.emit import Leaf
from rulekit.compiler.monitor import Monitor
from rulekit.compiler.passage import Case, Cases, Passage
from rulekit.exercise.timeline import Moment
from rulekit.language import typed as t

Seen = tuple[Any, ...]  # for each part its value, or for a condition True, False or None (unknown)


class Witness:
    """Some values and conditions of a rule, seen at each sample of one of its monitors."""

    def __init__(self, monitor: Monitor, parts: Sequence[t.Value | t.Test]) -> None:
        self._monitor = monitor
        leaves = tuple(dict.fromkeys(leaf for part in parts for leaf in emit.leaves(part)))
        self._passage = Passage(leaves, monitor.rule.track, monitor.reader(), monitor.scene)
        self._passage.prepare()
        self._views = [self._reading(part, {leaf: i for i, leaf in enumerate(leaves)}) for part in parts]

    def _reading(self, part: "t.Value | t.Test", index: dict[Leaf, int]) -> Callable[[Seen], Any]:
        """A part as a function of what the leaves were."""

        def where(leaf: Leaf) -> str:
            return f"v[{index[leaf]}]"

        names = self._passage.names
        if isinstance(part, t.Const | t.Attr | t.Fixed | t.Function | t.Stream):
            return names.function("v", emit.value(part, where, names))
        holds, fails = (emit.condition(part, form, where, names) for form in (True, False))
        return names.function("v", f"True if {holds} else False if {fails} else None")

    def over(self, moments: Iterable[Moment]) -> list[Seen]:
        """What was seen at each sample of the track in turn; for a rule on the whole, at the end alone."""
        monitor, state = self._monitor, self._monitor.start
        cases: Cases = None
        seen: list[Seen] = []
        for moment in moments:
            sample = monitor.sample(moment)
            state, _ = monitor.watch(state, moment, sample)
            if sample is not None:
                seen.append(())
            streams = monitor.stream_values(state) if sample is not None else ()
            cases = self._close(self._passage.advance(cases, moment, sample, streams), seen)
        if monitor.rule.whole:
            return [self._all([monitor.totals(state)[leaf.number] for leaf in self._streams()])]
        for case in cases or ():
            if case[0] >= 0:
                self._put(self._passage.part(case), seen)
        return seen

    def _streams(self) -> list[t.Stream]:
        return [leaf for leaf in self._passage.leaves if isinstance(leaf, t.Stream)]

    def _close(self, cases: Cases, seen: list[Seen]) -> Cases:
        """Note what the cases saw that are over; the others."""
        if cases is None:
            return None
        for case in cases:
            if case[0] >= 0 and self._passage.is_over(case):
                self._put(case, seen)
        return tuple(case for case in cases if case[0] < 0 or not self._passage.is_over(case))

    def _put(self, case: Case, seen: list[Seen]) -> None:
        seen[len(seen) - 1 - (case[0] - case[1])] = self._all(case[4])

    def _all(self, values: Sequence[Any]) -> Seen:
        return tuple(view(tuple(values)) for view in self._views)
