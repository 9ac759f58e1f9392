"""Monitors: a rule watching its voices, moment by moment.

A monitor has a start state, a step that takes a state and a moment to the next state and the hits,
and a finish. States are hashable and small; the monitor itself never changes, so one monitor serves
any number of searches at once.
"""

from dataclasses import dataclass
from typing import Any

from rulekit.compiler import emit, future
from rulekit.compiler.emit import Namespace, Reader
from rulekit.compiler.scene import Scene, lines, pairs
from rulekit.compiler.streams import Feed, Gatherer, MemberState
from rulekit.compiler.window import Cases, Window
from rulekit.exercise.model import NO_NOTE, Setting
from rulekit.exercise.timeline import Moment
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.language.typed import Kind

State = tuple[tuple[tuple[MemberState, ...], ...], Cases]
_START_CASES: Cases = None


@dataclass(frozen=True, slots=True)
class Hit:
    """A rule broken: how many samples of its track ago (0: the current one), and by which licence excused.

    ``back`` is None for a rule on the whole; ``licence`` is the index among the rule's licences, or None.
    """

    back: int | None
    licence: int | None


@dataclass(frozen=True, slots=True)
class Budget:
    """What a rule needs: samples it looks back and ahead, notes it waits for, streams it keeps, parts per moment."""

    back: int
    ahead: int
    notes_ahead: int
    streams: tuple[str, ...]
    parts: int


class Monitor:
    """One rule on one choice of voices."""

    def __init__(self, rule: t.Rule, voices: tuple[int, ...], scene: Scene, saturate: bool = False) -> None:
        self.rule, self.voices = rule, voices
        self.feed = Feed(rule.track.kind, voices, rule.track.sample)
        caps = future.caps(rule) if saturate else {}
        self._gatherers = [Gatherer(g, voices, scene, caps.get(i)) for i, g in enumerate(rule.streams)]
        names = Namespace()
        reader = Reader(rule.track.kind, emit.roles(rule.track.kind, voices, scene.setting.cantus), names)
        tests = [rule.broken, *(licence.test for licence in rule.licences)]
        self._window = Window(tests, rule.track, reader, scene)
        self._immediate = self._window.immediate
        self.start: State = (tuple(gatherer.start for gatherer in self._gatherers), _START_CASES)
        self._doomed = future.doomed(rule, names) if rule.whole and not rule.licences else None
        self.stateless = self._immediate is not None and not self._gatherers and not rule.whole

    def step(self, state: State, moment: Moment) -> tuple[State, list[Hit]]:
        """The state after a moment, and the rule's hits that it settles."""
        return self.step_on(state, moment, self.sample(moment))

    def sample(self, moment: Moment) -> Any:
        """The sample that the rule judges at a moment, None if there is none."""
        return None if self.rule.whole else self.feed.of(moment)

    def step_on(self, state: State, moment: Moment, sample: Any) -> tuple[State, list[Hit]]:
        """As :meth:`step`, the sample being known."""
        if self.stateless:
            if sample is None:
                return state, []
            assert self._immediate is not None
            outcome = self._immediate(sample, ())
            return (state, [_hit(0, outcome)]) if outcome >= 0 else (state, [])
        gathered, cases = state
        values: tuple[Any, ...] = ()
        if self._gatherers:
            gathered = tuple(g.step(s, moment) for g, s in zip(self._gatherers, gathered, strict=True))
        if self.rule.whole:
            return (gathered, cases), []
        if sample is not None:
            values = self.stream_values((gathered, cases))
        if self._immediate is not None:
            outcome = -1 if sample is None else self._immediate(sample, values)
            return (gathered, cases), [_hit(0, outcome)] if outcome >= 0 else []
        cases, hits = self._window.step(cases, moment, sample, values)
        return (gathered, cases), [_hit(back, outcome) for back, outcome in hits]

    def finish(self, state: State) -> list[Hit]:
        """The hits that only the end settles."""
        if self.rule.whole:
            values = self.totals(state)
            assert self._immediate is not None
            outcome = self._immediate(NO_NOTE, values)
            return [_hit(None, outcome)] if outcome >= 0 else []
        if self._immediate is not None:
            return []
        return [_hit(back, outcome) for back, outcome in self._window.finish(state[1])]

    def doomed(self, state: State) -> bool:
        """Whether a rule on the whole is broken already, whatever follows; False where that is not sure."""
        return self._doomed is not None and bool(self._doomed(self.stream_values(state)))

    def stream_values(self, state: State) -> tuple[Any, ...]:
        """What the rule's streams are worth up to here."""
        return tuple(g.value(s) for g, s in zip(self._gatherers, state[0], strict=True))

    def totals(self, state: State) -> tuple[Any, ...]:
        """What the rule's streams are worth at the end."""
        return tuple(g.total(s) for g, s in zip(self._gatherers, state[0], strict=True))

    @property
    def budget(self) -> Budget:
        """What the rule needs, known before any exercise."""
        window = self._window
        parts = len(emit.leaves(self.rule.broken)) + sum(len(emit.leaves(x.test)) for x in self.rule.licences)
        kinds = tuple(gatherer.kind for gatherer in self._gatherers)
        return Budget(window.reach_back, window.ahead, window.notes_ahead, kinds, parts + len(kinds))


def _hit(back: int | None, outcome: int) -> Hit:
    return Hit(back, None if outcome == 0 else outcome - 1)


def monitors(ruleset: Ruleset, setting: Setting, saturate: bool = False) -> list[Monitor]:
    """The monitors of a ruleset for exercises of one setting, in the order of the rules, then of the voices.

    With ``saturate`` counts stop just above the numbers they are compared with, which keeps states few
    and changes no hit; messages can't be filled from them then. They are made once for each setting.
    """
    key = (setting, saturate)
    if key not in ruleset.compiled:
        ruleset.compiled[key] = _make(ruleset, setting, saturate)
    return ruleset.compiled[key]


def _make(ruleset: Ruleset, setting: Setting, saturate: bool) -> list[Monitor]:
    scene = Scene(setting)
    return [Monitor(rule, voices, scene, saturate) for rule in ruleset.rules for voices in _choices(rule, setting)]


def _choices(rule: t.Rule, setting: Setting) -> list[tuple[int, ...]]:
    """The voices or pairs that a rule watches, each with a monitor of its own."""
    count, cantus = setting.voice_count, setting.cantus
    kind = rule.track.kind
    if kind in (Kind.NOTE, Kind.LINE):
        return [(voice,) for voice in lines(rule.scope, count, cantus)]
    if kind in (Kind.DYAD, Kind.PAIR):
        return list(pairs(rule.scope, count, cantus))
    return [tuple(range(count))]
