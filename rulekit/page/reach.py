"""Which notes a finding is about: those it is pinned to, and those before them that its rule looked at.

A parallel concerns two places, a run all of its places; the rule's typed tree says how far it looks back.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from rulekit.compiler import emit
from rulekit.compiler.monitor import Monitor, monitors
from rulekit.compiler.reach import readings
from rulekit.exercise.model import NO_NOTE, Exercise, Note, sounding_notes
from rulekit.exercise.timeline import Dyad, Moment, moments
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Finding

_LOOK_BACK = ("motion", "approach")  # attributes that speak of the sample before as well
NoteKey = tuple[int, int]  # voice from 0 at the top, number of the sounding note from 0


@dataclass(frozen=True, slots=True)
class Reach:
    """The notes of a finding, in the order of time.

    ``own`` stand at its place, ``earlier`` led there, ``later`` go on with a run.
    """

    own: tuple[NoteKey, ...]
    earlier: tuple[NoteKey, ...]
    later: tuple[NoteKey, ...] = ()

    @property
    def notes(self) -> tuple[NoteKey, ...]:
        """All of them."""
        return (*self.earlier, *self.own, *self.later)

    def moved(self, places: Sequence[int]) -> "Reach":
        """The same notes, the voices numbered as their ``places`` say."""
        groups = ([(places[voice], number) for voice, number in each] for each in (self.own, self.earlier, self.later))
        return Reach(*map(tuple, groups))


def reaches(exercise: Exercise, ruleset: Ruleset, findings: tuple[Finding, ...]) -> list[Reach]:
    """The reach of each finding of an exercise; empty for a rule on the whole."""
    flow = list(moments(exercise))
    numbers = _numbers(flow)
    running = monitors(ruleset, exercise.setting)
    names = [voice.name for voice in exercise.voices]
    found: list[Reach] = []
    for finding in findings:
        watching = (m for m in running if m.rule.name == finding.rule and _names(m, names) == finding.voices)
        monitor = next(watching, None)
        if finding.bar is None or monitor is None:
            found.append(Reach((), ()))
            continue
        first = exercise.first_bar - 1
        until = (finding.extent or (0, 0))[1] - first
        found.append(_reach(monitor, flow, (finding.bar - first, finding.beat), until, numbers))
    return found


def numbered(exercise: Exercise) -> Iterator[tuple[NoteKey, Note]]:
    """Every sounding note of an exercise by its key."""
    for voice, each in enumerate(exercise.voices):
        for number, note in enumerate(sounding_notes(exercise.setting, voice, each.events)):
            yield (voice, number), note


def _names(monitor: Monitor, names: list[str]) -> tuple[str, ...]:
    return tuple(names[voice] for voice in monitor.voices)


def _numbers(flow: list[Moment]) -> dict[int, NoteKey]:
    """The number of each sounding note in its voice, by the identity of the note."""
    numbers: dict[int, NoteKey] = {}
    counts: dict[int, int] = {}
    for moment in flow:
        for note, begun in zip(moment.notes, moment.begun, strict=True):
            if begun and note is not None:
                numbers[id(note)] = note.voice, counts.setdefault(note.voice, 0)
                counts[note.voice] += 1
    return numbers


def _reach(
    monitor: Monitor, flow: list[Moment], place: tuple[int, Any], until: int, numbers: dict[int, NoteKey]
) -> Reach:
    samples: list[Any] = []
    runs: list[int] = []
    state = monitor.start
    left = iter(flow)
    for moment in left:
        sample = monitor.sample(moment)
        state, _ = monitor.step_on(state, moment, sample)
        if sample is not None:
            samples.append(sample)
            runs.append(_run(monitor, state))
            if (sample.bar, sample.beat) == place:
                break
    span = max(back(monitor.rule), runs[-1] + _looks_back(monitor.rule.streams) - 1 if runs[-1] else 0)
    first = max(0, len(samples) - 1 - span)
    own = list(_keys(samples[-1], numbers))
    before = dict.fromkeys(key for sample in samples[first:-1] for key in _keys(sample, numbers))
    before |= dict.fromkeys(_met(monitor.rule, samples[first:], numbers))
    earlier = tuple(key for key in before if key not in own)
    if monitor.rule.track.kind == t.Kind.DYAD:
        earlier = tuple(dict.fromkeys((*earlier, *_line_before(samples[-1], monitor.rule, numbers, own))))
    return Reach(tuple(own), earlier, tuple(_going_on(monitor, state, left, until, numbers)) if runs[-1] else ())


def _going_on(
    monitor: Monitor, state: Any, left: Iterator[Moment], until: int, numbers: dict[int, NoteKey]
) -> Iterator[NoteKey]:
    """The notes with which a run goes on, up to a bar."""
    for moment in left:
        sample = monitor.sample(moment)
        state, _ = monitor.step_on(state, moment, sample)
        if moment.bar > until or not _run(monitor, state):
            return
        if sample is not None:
            yield from _keys(sample, numbers)


def _run(monitor: Monitor, state: Any) -> int:
    """How long the longest run is that the rule keeps here."""
    values = monitor.stream_values(state)
    kinds = zip(monitor.rule.streams, values, strict=True)
    return max((value for stream, value in kinds if stream.kind == "run" and value), default=0)


def _looks_back(streams: tuple[t.Gathered, ...]) -> int:
    """1 if a run counts moves, which have a place before them, 0 if it counts places."""
    leaves = [leaf for s in streams if s.kind == "run" and s.test is not None for leaf in emit.leaves(s.test)]
    return int(any(isinstance(leaf, t.Attr) and leaf.name in _LOOK_BACK for leaf in leaves))


def back(rule: t.Rule) -> int:
    """How many samples before the one it judges a rule looks at."""
    return max((_distance(leaf, rule.track.kind) for leaf in emit.leaves(rule.broken)), default=0)


def _distance(leaf: emit.Leaf, kind: t.Kind) -> int:
    if not isinstance(leaf, t.Attr | t.Flag):
        return 0
    moves = leaf.name in _LOOK_BACK and (kind == t.Kind.NOTE or leaf.name == "motion")
    hops = -leaf.ref.hops if kind == t.Kind.NOTE else 0
    return max(0, hops - leaf.ref.offset + moves)


def _line_before(sample: Any, rule: t.Rule, numbers: dict[int, NoteKey], own: list[NoteKey]) -> Iterator[NoteKey]:
    """For a rule on intervals that asks how a voice came here: the note before in that voice."""
    for leaf in emit.leaves(rule.broken):
        if isinstance(leaf, t.Attr) and leaf.name == "approach" and leaf.ref.role in ("upper", "lower"):
            note: Note = getattr(sample, leaf.ref.role).before
            if note is not NO_NOTE and numbers[id(note)] not in own:
                yield numbers[id(note)]


def _met(rule: t.Rule, samples: Sequence[Any], numbers: dict[int, NoteKey]) -> Iterator[NoteKey]:
    """For a rule on notes that asks what they make with the cantus: its notes that sound with them."""
    if rule.track.kind == t.Kind.NOTE and any(reading.reads.cantus for reading in readings(rule)):
        yield from (numbers[id(note.cantus)] for note in samples if note.cantus is not NO_NOTE)


def _keys(sample: Any, numbers: dict[int, NoteKey]) -> Iterator[NoteKey]:
    """The notes of a sample."""
    if isinstance(sample, Dyad):
        yield from (numbers[id(sample.upper)], numbers[id(sample.lower)])
    elif isinstance(sample, Moment):
        yield from (numbers[id(note)] for note in sample.notes if note is not None)
    else:
        yield numbers[id(sample)]
