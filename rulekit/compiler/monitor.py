"""Monitors: a rule watching its voices, moment by moment.

A monitor has a start state, a step that takes a state and a moment to the next state and the hits,
and a finish. States are hashable and small; the monitor itself never changes, so one monitor serves
any number of searches at once.
"""

from collections.abc import Callable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import Any

from rulekit.beside import Beside
from rulekit.compiler import emit, future, reach
from rulekit.compiler.emit import Namespace, Reader
from rulekit.compiler.passage import Cases
from rulekit.compiler.scene import Scene, lines, pairs
from rulekit.compiler.streams import Gatherer, MemberState, feed
from rulekit.compiler.window import Window
from rulekit.exercise.model import ALLA_BREVE, NO_NOTE, Setting
from rulekit.exercise.timeline import Moment
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.language.typed import Kind
from rulekit.music.mode import Mode

State = tuple[tuple[tuple[MemberState, ...], ...], Cases, int]  # streams, open cases, what is told of the run
_START_CASES: Cases = None
_SHARES = 8
_ANY_MODE = Mode(0, 0, "ionian")  # for a rule that does not ask


@dataclass(frozen=True, slots=True)
class Hit:
    """A rule broken: how many samples of its track ago (0: the current one), and by which licence excused.

    ``back`` is None for a rule on the whole; ``licence`` is the index among the rule's licences, or None.
    A rule on a run is broken once for each run: ``again`` says that this only goes on with what was told,
    ``run`` how long the run is by now (1 for other rules).
    """

    back: int | None
    licence: int | None
    again: bool = False
    run: int = 1


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
        self.rule, self.voices, self.scene = rule, voices, scene
        self.feed = feed(rule.track.kind, voices, rule.track.sample, scene)
        caps = future.caps(rule) if saturate else {}
        self.gatherers = [Gatherer(g, voices, scene, caps.get(i)) for i, g in enumerate(rule.streams)]
        reader = self.reader()
        tests = [rule.broken, *(licence.test for licence in rule.licences)]
        self.window = Window(tests, rule.track, reader, scene)
        self._immediate = self.window.at_once
        self.run = reach.run_told(rule)
        self.start: State = (tuple(gatherer.start for gatherer in self.gatherers), _START_CASES, 0)
        self._doomed = future.doomed(rule, reader.names) if rule.whole and not rule.licences else None
        self.stateless = self._immediate is not None and not self.gatherers and not rule.whole
        self._share: int | None = None

    def shares(self) -> "Sequence[Monitor]":
        """Monitors that find the same together, each with less to remember.

        A rule that counts how often each value has come asks at a sample for the value there alone, so each of them
        takes only some of the values.
        """
        if not self._is_shared:
            return [self]
        shares = [copy(self) for _ in range(_SHARES)]
        for number, monitor in enumerate(shares):
            monitor._share = number
        return shares

    @property
    def _is_shared(self) -> bool:
        if self.rule.whole or self._immediate is None or [g.kind for g in self.gatherers] != ["tally"]:
            return False
        return self.gatherers[0].members == [self.feed] and not self.gatherers[0].readings[0].start

    def _is_anothers(self, sample: Any) -> bool:
        """Whether the value counted at a sample is that of another share."""
        return hash(self.gatherers[0].readings[0].read((), sample)[1]) % _SHARES != self._share

    def reader(self) -> Reader:
        """What reads the samples that this rule judges."""
        return Reader(self.rule.track.kind, self.roles(), Namespace())

    def roles(self) -> tuple[tuple[str, str], ...]:
        """Where the named notes of a sample, or the named voices of a pair, are: as ``upper``, ``lower`` …"""
        kind = Kind.DYAD if self.rule.track.kind == Kind.PAIR else self.rule.track.kind
        return emit.roles(kind, self.voices, self.scene.setting.cantus)

    @cached_property
    def possible(self) -> tuple[t.Test, Window]:
        """What holds wherever the rule can be broken, whatever its streams come to, and what judges it."""
        test = future.possible(self.rule)
        return test, Window([test], self.rule.track, self.reader(), self.scene)

    @cached_property
    def least_runs(self) -> list[dict[int, int]]:
        """What runs there must be for the rule to be broken, as :func:`future.least_runs` says."""
        return future.least_runs(self.rule, self.window.names)

    @cached_property
    def single(self) -> bool:
        """Whether it keeps nothing and looks only at what sounds together, not at how it came there."""
        return self.stateless and reach.is_upright(self.rule)

    @cached_property
    def watched(self) -> tuple[int, ...]:
        """The voices that the rule looks at: its own, those of its streams, the cantus if it asks what that sounds;
        all if it asks what else sounds then.
        """
        kinds = {self.rule.track.kind, *(stream.track.kind for stream in self.rule.streams)}
        if Kind.MOMENT in kinds or any(r.quantified or r.reads.now for r in self._readings):
            return tuple(range(self.scene.number_of_voices))
        cantus = self.scene.setting.cantus
        met = [cantus] if cantus is not None and any(reading.reads.cantus for reading in self._readings) else []
        return tuple(sorted({*self._own, *met}))

    @cached_property
    def _readings(self) -> list[reach.Reading]:
        return reach.readings(self.rule)

    @cached_property
    def _own(self) -> set[int]:
        """The voices of its own samples and of those of its streams."""
        gathered = (voice for gatherer in self.gatherers for feed in gatherer.members for voice in feed.voices)
        return {*gathered, *(() if self.rule.whole else self.voices)}

    def past(self, voice: int) -> reach.Past:
        """What it reads of the notes of a voice."""
        kinds = {self.rule.track.kind, *(stream.track.kind for stream in self.rule.streams)}
        found = self._readings
        if Kind.MOMENT in kinds or voice in self._own:
            return reach.past(found)
        return reach.past([reading for reading in found if reading.quantified])

    def step(self, state: State, moment: Moment) -> tuple[State, list[Hit]]:
        """The state after a moment, and the rule's hits that it settles."""
        return self.step_on(state, moment, self.sample(moment))

    def sample(self, moment: Moment) -> Any:
        """The sample that the rule judges at a moment, None if there is none."""
        return None if self.rule.whole else self.feed.of(moment)

    def step_on(self, state: State, moment: Moment, sample: Any) -> tuple[State, list[Hit]]:
        """As :meth:`step`, the sample being known."""
        after, hits = self.watch(state, moment, sample)
        return (after, [hit for hit in hits if not hit.again]) if hits else (after, hits)

    def watch(self, state: State, moment: Moment, sample: Any) -> tuple[State, list[Hit]]:
        """As :meth:`step_on`, with the hits that go on with a run told already."""
        if self.stateless:
            if sample is None:
                return state, []
            assert self._immediate is not None
            outcome = self._immediate(sample, ())
            return (state, [hit_of(0, outcome)]) if outcome >= 0 else (state, [])
        if self._share is not None and (sample is None or self._is_anothers(sample)):
            return state, []
        gathered, cases, told = state
        values: tuple[Any, ...] = ()
        if self.gatherers:
            gathered = tuple(g.step(s, moment) for g, s in zip(self.gatherers, gathered, strict=True))
        if self.rule.whole:
            return (gathered, cases, told), []
        if sample is not None:
            values = self.stream_values((gathered, cases, told))
        if self._immediate is not None:
            outcome = -1 if sample is None else self._immediate(sample, values)
            found = [(0, outcome)] if outcome >= 0 else []
        else:
            cases, found = self.window.step(cases, moment, sample, values)
        if self.run is None or sample is None:
            return (gathered, cases, told), [hit_of(back, outcome) for back, outcome in found]
        told, hits = once(told, values[self.run], found)
        return (gathered, cases, told), hits

    def finish(self, state: State) -> list[Hit]:
        """The hits that only the end settles."""
        if self.rule.whole:
            values = self.totals(state)
            assert self._immediate is not None
            outcome = self._immediate(NO_NOTE, values)
            return [hit_of(None, outcome)] if outcome >= 0 else []
        if self._immediate is not None:
            return []
        return [hit_of(back, outcome) for back, outcome in self.window.finish(state[1])]

    def doomed(self, state: State) -> bool:
        """Whether a rule on the whole is broken already, whatever follows; False where that is not sure."""
        return self._doomed is not None and bool(self._doomed(self.stream_values(state)))

    def stream_values(self, state: State) -> tuple[Any, ...]:
        """What the rule's streams are worth up to here."""
        return tuple(g.value(s) for g, s in zip(self.gatherers, state[0], strict=True))

    def totals(self, state: State) -> tuple[Any, ...]:
        """What the rule's streams are worth at the end."""
        return tuple(g.total(s) for g, s in zip(self.gatherers, state[0], strict=True))

    @property
    def budget(self) -> Budget:
        """What the rule needs, known before any exercise."""
        window = self.window
        parts = len(emit.leaves(self.rule.broken)) + sum(len(emit.leaves(x.test)) for x in self.rule.licences)
        kinds = tuple(gatherer.kind for gatherer in self.gatherers)
        return Budget(window.reach_back, window.ahead, window.notes_ahead, kinds, parts + len(kinds))


def once(told: int, run: int, found: list[tuple[int, int]]) -> tuple[int, list[Hit]]:
    """The outcomes told of a run (a bit set), and hits that know whether theirs was; a run of 1 or less is new."""
    told, hits = told if run > 1 else 0, list[Hit]()
    for back, outcome in found:
        hits.append(replace(hit_of(back, outcome), again=bool(told >> outcome & 1), run=max(1, run)))
        told |= 1 << outcome
    return told, hits


def hit_of(back: int | None, outcome: int) -> Hit:
    """The hit of an outcome of a rule: 0 if nothing excuses it, else the number of the licence."""
    return Hit(back, licence_of(outcome))


def licence_of(outcome: int) -> int | None:
    """The index of the licence of an outcome."""
    return None if outcome == 0 else outcome - 1


@dataclass(slots=True)
class _Known:
    """What is made of a ruleset: its monitors by setting, those of each rule, and what of a setting each asks."""

    by_setting: dict[tuple[Setting, bool], list[Monitor]] = field(default_factory=dict[Any, list[Monitor]])
    by_rule: dict[tuple[str, Setting, bool], list[Monitor]] = field(default_factory=dict[Any, list[Monitor]])
    asks: dict[str, frozenset[str]] = field(default_factory=dict[str, frozenset[str]])

    def told(self, rule: t.Rule, setting: Setting) -> Setting:
        """A setting as far as a rule can tell it from others: its monitors serve all that are alike so."""
        if rule.name not in self.asks:
            self.asks[rule.name] = reach.asks(rule)
        asks = self.asks[rule.name]
        if "number-of-bars" in asks:
            return setting
        mode, metre = setting.mode if "mode" in asks else _ANY_MODE, setting.metre if "metre" in asks else ALLA_BREVE
        paces = setting.paces if "paces" in asks else ()
        return Setting(mode, metre, setting.voice_count, setting.cantus, Fraction(0), (), paces)


_KNOWN = Beside(_Known)


def monitors(
    ruleset: Ruleset, setting: Setting, saturate: bool = False, look: Callable[[], None] = lambda: None
) -> list[Monitor]:
    """The monitors of a ruleset for exercises of one setting, in the order of the rules, then of the voices.

    With ``saturate`` counts stop just above the numbers they are compared with, and a rule that counts by values is
    shared among several, which keeps states few and changes no hit; messages can't be filled from them then. They are
    made once for each setting; ``look`` is called while they are made, and may stop it.
    """
    known = _KNOWN.of(ruleset).by_setting
    key = (setting, saturate)
    if key not in known:
        known[key] = _make(ruleset, setting, saturate, look)
    return known[key]


def _make(ruleset: Ruleset, setting: Setting, saturate: bool, look: Callable[[], None]) -> list[Monitor]:
    known, made = _KNOWN.of(ruleset), list[Monitor]()
    for rule in ruleset.rules:
        look()
        key = (rule.name, known.told(rule, setting), saturate)
        if key not in known.by_rule:
            known.by_rule[key] = list(_of_rule(rule, key[1], saturate))
        made += known.by_rule[key]
    return made


def _of_rule(rule: t.Rule, setting: Setting, saturate: bool) -> Iterator[Monitor]:
    """The monitors of a rule, one for each choice of voices."""
    for voices in _choices(rule, setting):
        monitor = Monitor(rule, voices, Scene(setting), saturate)
        yield from monitor.shares() if saturate else [monitor]


def _choices(rule: t.Rule, setting: Setting) -> list[tuple[int, ...]]:
    """The voices or pairs that a rule watches, each with a monitor of its own."""
    count, cantus, paces = setting.voice_count, setting.cantus, setting.paces
    kind = rule.track.kind
    if kind in (Kind.NOTE, Kind.LINE):
        return [(voice,) for voice in lines(rule.scope, count, cantus, paces)]
    if kind in (Kind.DYAD, Kind.PAIR):
        return list(pairs(rule.scope, count, cantus, paces))
    return [tuple(range(count))]
