"""Marking: the monitors run over an exercise, and what they hit told as findings.

>>> from rulekit import load_ruleset, load_exercises, mark            # doctest: +SKIP
>>> mark(load_exercises("clara.notes")[0], load_ruleset("first-species-strict")).findings
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any, cast

from rulekit.compiler import emit
from rulekit.compiler.emit import Leaf, Namespace
from rulekit.compiler.monitor import Hit, Monitor, monitors
from rulekit.compiler.scene import Scene
from rulekit.exercise.model import NO_NOTE, Exercise, Note
from rulekit.exercise.timeline import NO_DYAD, NO_MOMENT, Dyad, Moment, moments
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.language.typed import Kind, Ref, Type
from rulekit.language.vocabulary import SIZES
from rulekit.music.pitch import Interval, Pitch, interval_name, pitch_name

_FULL_MARK = 100
_LENGTHS = {8: "breve", 4: "whole note", 2: "half note", 1: "quarter note", Fraction(1, 2): "eighth note"}


@dataclass(frozen=True, slots=True)
class Place:
    """A note that a finding is about: its bar (from 1), beat (from 1), voice label and pitch name."""

    bar: int
    beat: Fraction
    voice: str
    note: str


@dataclass(frozen=True, slots=True)
class Excuse:
    """The licence that excuses a finding, and why."""

    name: str
    reason: str


@dataclass(frozen=True, slots=True)
class Finding:
    """A rule broken in a place. ``bar`` and ``beat`` are None for a rule about the whole.

    ``values`` pairs each placeholder of the message with what it stood for.
    """

    rule: str
    severity: str
    bar: int | None
    beat: Fraction | None
    voices: tuple[str, ...]
    places: tuple[Place, ...]
    values: tuple[tuple[str, str], ...]
    message: str
    excuse: Excuse | None
    source: str


@dataclass(frozen=True, slots=True)
class Marked:
    """An exercise with its findings, in the order of bars and then of the rules, and its mark."""

    exercise: Exercise
    ruleset: str
    findings: tuple[Finding, ...]
    lost: int

    @property
    def mark(self) -> int:
        """What is left of 100, never below 0."""
        return max(0, _FULL_MARK - self.lost)

    @property
    def faults(self) -> tuple[Finding, ...]:
        """The faults that nothing excuses."""
        return tuple(f for f in self.findings if f.severity == "fault" and f.excuse is None)


def mark(exercise: Exercise, ruleset: Ruleset) -> Marked:
    """Mark an exercise by a ruleset."""
    setting = exercise.setting
    scene = Scene(setting)
    watchers = [_Watcher(monitor, exercise, scene) for monitor in monitors(ruleset, setting)]
    for moment in moments(exercise):
        for watcher in watchers:
            watcher.see(moment)
    findings = [finding for watcher in watchers for finding in watcher.findings()]
    order = {rule.name: number for number, rule in enumerate(ruleset.rules)}
    findings.sort(key=lambda f: (f.bar is None, f.bar or 0, f.beat or 0, order[f.rule]))
    return Marked(exercise, ruleset.title, tuple(findings), points_lost(findings, ruleset))


def points_lost(findings: Sequence[Finding], ruleset: Ruleset) -> int:
    """The points that the unexcused findings cost, each rule up to its cap."""
    total = 0
    for rule in ruleset.rules:
        count = sum(finding.rule == rule.name and finding.excuse is None for finding in findings)
        points = rule.weight.points * (min(count, 1) if rule.weight.once else count)
        total += points if rule.weight.cap is None else min(points, rule.weight.cap)
    return total


class _Watcher:
    """A monitor on its way through one exercise, and the samples it has seen."""

    def __init__(self, monitor: Monitor, exercise: Exercise, scene: Scene) -> None:
        self.monitor, self.exercise, self.scene = monitor, exercise, scene
        self.state = monitor.start
        self.samples: list[Any] = []
        self.values: list[tuple[Any, ...]] = []
        self.hits: list[tuple[int | None, Hit]] = []

    def see(self, moment: Moment) -> None:
        """Step by one moment."""
        monitor = self.monitor
        sample = monitor.sample(moment)
        self.state, hits = monitor.step_on(self.state, moment, sample)
        if sample is not None:
            self.samples.append(sample)
            if monitor.rule.streams:
                self.values.append(monitor.stream_values(self.state))
        for hit in hits:
            assert hit.back is not None
            self.hits.append((len(self.samples) - 1 - hit.back, hit))

    def findings(self) -> list[Finding]:
        """Everything found, once the exercise is over."""
        for hit in self.monitor.finish(self.state):
            index = None if hit.back is None else len(self.samples) - 1 - hit.back
            self.hits.append((index, hit))
        return [self._finding(index, hit) for index, hit in self.hits]

    def _finding(self, index: int | None, hit: Hit) -> Finding:
        rule = self.monitor.rule
        anchor = None if index is None else self.samples[index]
        licence = None if hit.licence is None else rule.licences[hit.licence]
        values = tuple((slot.words, self._shown(slot, index)) for slot in rule.message if isinstance(slot, t.Slot))
        texts = iter(value for _, value in values)
        message = "".join(part if isinstance(part, str) else next(texts) for part in rule.message)
        return Finding(
            rule=rule.name,
            severity=rule.weight.severity,
            bar=None if anchor is None else anchor.bar + self.exercise.first_bar - 1,
            beat=None if anchor is None else anchor.beat,
            voices=tuple(self.exercise.voices[voice].name for voice in self.monitor.voices),
            places=self._places(anchor),
            values=values,
            message=message,
            excuse=None if licence is None else Excuse(licence.name, licence.reason),
            source=rule.source,
        )

    def _places(self, anchor: Any) -> tuple[Place, ...]:
        if isinstance(anchor, Note):
            notes = [anchor]
        elif isinstance(anchor, Dyad):
            notes = [anchor.upper, anchor.lower]
        elif isinstance(anchor, Moment):
            notes = [note for note in anchor.notes if note is not None]
        else:
            notes = []
        first = self.exercise.first_bar - 1
        return tuple(
            Place(note.bar + first, note.beat, self.exercise.voices[note.voice].name, pitch_name(note.pitch))
            for note in notes
        )

    # ---- filling the message ----------------------------------------------------------------

    def _shown(self, slot: t.Slot, index: int | None) -> str:
        if isinstance(slot.value, Ref):
            return _show_thing(self._thing(slot.value, index))
        leaves, compute = _reading(slot.value)
        value = compute([self._leaf(leaf, index) for leaf in leaves], self.scene)
        first = self.exercise.first_bar - 1
        if value is not None and slot.value.type == Type.TIME:
            return f"bar {self.exercise.metre.bar_of(value) + first}"
        if value is not None and isinstance(slot.value, t.Attr) and slot.value.name == "bar":
            value += first
        return show(value, slot.value.type)

    def _leaf(self, leaf: Leaf, index: int | None) -> Any:
        if isinstance(leaf, t.Stream):
            values = self.monitor.totals(self.state) if index is None else self.values[index]
            return values[leaf.number]
        return getattr(self._thing(emit.place(leaf), index), cast(t.Attr, leaf).name)

    def _thing(self, ref: Ref, index: int | None) -> Any:
        """What a ref points to, looked up among all samples of the exercise."""
        track = self.monitor.rule.track
        missing = {Kind.NOTE: NO_NOTE, Kind.DYAD: NO_DYAD, Kind.MOMENT: NO_MOMENT}.get(track.kind, NO_NOTE)
        place = -1 if index is None else index + ref.offset
        sample = self.samples[place] if 0 <= place < len(self.samples) else missing
        if not ref.role:
            return sample
        roles = dict(emit.roles(track.kind, self.monitor.voices, self.scene.setting.cantus))
        note: Note = getattr(sample, roles[ref.role]) if ref.role in roles else NO_NOTE
        for _ in range(-ref.hops):
            note = note.before
        for _ in range(ref.hops):
            note = self._after(note)
        return note

    def _after(self, note: Note) -> Note:
        for sample in self.samples:
            for near in (sample.upper, sample.lower) if isinstance(sample, Dyad) else ():
                if near.before is note and note is not NO_NOTE:
                    return near
        return NO_NOTE


@cache
def _reading(value: t.Value) -> tuple[tuple[Leaf, ...], Callable[[list[Any], Scene], Any]]:
    """What a placeholder reads, and the function that makes its value of it."""
    read: list[Leaf] = []

    def where(leaf: Leaf) -> str:
        read.append(leaf)
        return f"r[{len(read) - 1}]"

    names = Namespace()
    source = emit.value(value, where, names)
    return tuple(read), names.function("r, x", source)


def _show_thing(thing: Any) -> str:
    if thing in (NO_NOTE, NO_DYAD, NO_MOMENT):
        return "nothing"
    if isinstance(thing, Note):
        return pitch_name(thing.pitch)
    if isinstance(thing, Dyad):
        return interval_name(thing.interval)
    return f"bar {thing.bar}" if isinstance(thing, Moment) else "the whole"


def show(value: Any, type_: Type) -> str:
    """A value in words: ``P5``, ``C#5``, ``whole note``; ``nothing`` where it is missing."""
    if value is None:
        return "nothing"
    if type_ != Type.INTERVAL and isinstance(value, tuple):
        values = cast("tuple[Any, ...]", value)
        return " or ".join(show(each, type_) for each in values)
    return _show_one(value, type_)


def _show_one(value: Any, type_: Type) -> str:
    match type_:
        case Type.HARMONIC | Type.MELODIC:
            return interval_name(cast(Interval, value))
        case Type.PITCH:
            return pitch_name(cast(Pitch, value))
        case Type.LETTER:
            return "CDEFGAB"[value]
        case Type.DIRECTION:
            return {1: "up", -1: "down", 0: "level"}[value]
        case Type.LENGTH:
            return _LENGTHS.get(value, f"{value} quarter notes")
        case Type.SHARE:
            return f"{float(value) / 100:g}%"
        case Type.INTERVAL:
            patterns = cast("tuple[t.Pattern, ...]", value)
            return " or ".join(
                f"{p.quality}{p.high}" if p.quality else SIZES[min(p.high, len(SIZES)) - 1] for p in patterns
            )
        case _:
            return str(value)
