"""What the rules of a ruleset find in an exercise: rows looked up, and streams folded over columns of them."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain, compress, count
from math import inf
from typing import Any, NamedTuple

from rulekit.beside import Beside
from rulekit.compiler.marker import Marker, Streamed
from rulekit.compiler.monitor import Hit, hit_of, licence_of, monitors, once
from rulekit.compiler.plan import Plan
from rulekit.compiler.rows import MOST_ROWS, Lines, answers
from rulekit.exercise.model import NO_NOTE, Exercise, Setting
from rulekit.exercise.timeline import Heard
from rulekit.language.ruleset import Ruleset

_MOST_NOTES = 12_000  # in the rhythms that are kept


class Found(NamedTuple):
    """A hit in its place: its moment and sample, the last sample of its run, and how long the run is at the first."""

    moment: int | None
    monitor: int
    sample: int | None
    until: int | None
    licence: int | None
    run: int


class _Marking:
    """One exercise on its way through the tables."""

    def __init__(self, plan: Plan, heard: Heard) -> None:
        self._plan, self._lines, self._marker = plan, Lines(heard), plan.marker
        tables, self._sung = self._marker.tables, heard.sung
        pitches = [None, *chain.from_iterable(self._sung)]
        self._rows = [view.rows(table, pitches, self._lines) for table, view in zip(tables, plan.views, strict=True)]
        self._flags = [b"".join([row.flags for row in rows]) for rows in self._rows]
        columns = self._marker.columns
        self._columns = [self._flags[table][place :: tables[table].width] for table, place in columns]
        self._worth: dict[int, list[Any]] = {}

    def found(self) -> list[Found]:
        """Everything found by the rules that are a matter of rows."""
        marker = self._marker
        found = [*self._plain(), *self._whole()]
        for rule, suspect in zip(marker.streamed, marker.suspects(self._columns), strict=True):
            if suspect:
                found += self._streamed(rule)
        return found

    def _plain(self) -> Iterator[Found]:
        """What rules without streams find."""
        for table, rows, flags in zip(self._marker.tables, self._rows, self._flags, strict=True):
            for i in compress(count(), flags[:: table.width]):
                moment = self._plan.tracks[table.track].moments[i]
                for number, licence in rows[i].hits:
                    yield Found(moment, number, i, i, licence, 1)

    def _values(self, table: int, place: int) -> list[Any]:
        return [row.values[place] for row in self._rows[table]]

    def _whole(self) -> Iterator[Found]:
        """What rules on the whole find."""
        marker = self._marker
        totals = marker.totals(self._columns, self._sung, self._plan.tracks, self._values)
        for rule, values in zip(marker.whole, marker.shared_out(totals), strict=True):
            outcome = rule.known.get(values)
            if outcome is None:
                assert rule.monitor.window.at_once is not None
                outcome = rule.known[values] = rule.monitor.window.at_once(NO_NOTE, values)
            if outcome >= 0:
                yield Found(None, rule.number, None, None, licence_of(outcome), 1)

    def _along(self, number: int) -> list[Any]:
        """What a stream is worth at each sample."""
        if number not in self._worth:
            along = self._marker.along[number]
            self._worth[number] = along(self._columns, self._sung, self._plan.tracks, self._values)
        return self._worth[number]

    def _streamed(self, rule: Streamed) -> Sequence[Found]:
        """What a rule with streams finds."""
        rows, worth = self._rows[rule.table], list(zip(*map(self._along, rule.along), strict=True))
        places = list(compress(count(), self._columns[rule.possible]))
        keys = [(rows[i].number, worth[i]) for i in places]
        try:
            outcomes = list(map(rule.known.__getitem__, keys))
        except KeyError:
            outcomes = self._learnt(rule, places, keys, worth)
        broken = [(i, outcome, worth[i]) for i, outcome in zip(places, outcomes, strict=True) if outcome >= 0]
        return _told(rule.number, self._hits(rule, broken), self._plan.track(rule.number).moments) if broken else ()

    def _learnt(self, rule: Streamed, places: list[int], keys: list[Any], worth: list[tuple[Any, ...]]) -> list[int]:
        """The outcomes of a rule at some samples, kept by what they depend on."""
        if len(rule.known) > MOST_ROWS:
            rule.known.clear()
        found = answers(rule.monitor.window, self._lines.of(rule.monitor.feed), places, worth)
        outcomes = [found[i] for i in places]
        rule.known.update(zip(keys, outcomes, strict=True))
        return outcomes

    def _hits(self, rule: Streamed, broken: list[tuple[int, int, Any]]) -> Iterator[tuple[int, Hit]]:
        """Each break of a rule; of a rule on a run each knows whether the run was told."""
        number = rule.monitor.run
        told = start = 0
        for i, outcome, worth in broken:
            if number is None:
                yield i, hit_of(0, outcome)
                continue
            run = worth[number]
            told, (hit,) = once(told if i - run == start else 0, run, [(0, outcome)])
            start = i - run
            yield i, hit


# ---- an exercise -----------------------------------------------------------------------------------------


def search(exercise: Exercise, ruleset: Ruleset, heard: Heard) -> tuple[Plan, list[Found]]:
    """Everything that a ruleset finds in an exercise, in the order of moments and then of the monitors."""
    plan = _plan(ruleset, heard)
    marker = plan.marker
    found = _Marking(plan, heard).found()
    for number in marker.others:
        found += watched(plan, number, heard)
    if len(found) > 1:
        found.sort(key=_order)
    return plan, found


def _order(found: Found) -> tuple[float, int]:
    return (inf if found.moment is None else found.moment, found.monitor)


def _plan(ruleset: Ruleset, heard: Heard) -> Plan:
    """The rhythm of an exercise as the tables of a ruleset see it; made once."""
    known = _KNOWN.of(ruleset)
    plan = known.plans.get(heard.rhythm)
    if plan is None:
        if known.notes > _MOST_NOTES:
            known.forget()
        known.notes += sum(map(len, heard.sung))
        plan = known.plans[heard.rhythm] = Plan(known.marker(ruleset, heard.setting), heard)
    return plan


@dataclass(slots=True)
class _Known:
    """The tables of a ruleset, the rhythms that were met, and how many notes these have."""

    markers: dict[object, Marker] = field(default_factory=dict[object, Marker])
    plans: dict[object, Plan] = field(default_factory=dict[object, Plan])
    notes: int = 0

    def forget(self) -> None:
        """Begin afresh with no rhythms and no rows."""
        self.markers.clear()
        self.plans.clear()
        self.notes = 0

    def marker(self, ruleset: Ruleset, setting: Setting) -> Marker:
        """The tables for a setting; exercises of all settings share them if their monitors do."""
        own = monitors(ruleset, setting)
        key = (setting.voice_count, tuple(map(id, own)))
        if key not in self.markers:
            self.markers[key] = Marker(own, setting.voice_count)
        return self.markers[key]


_KNOWN = Beside(_Known)


def watched(plan: Plan, number: int, heard: Heard) -> list[Found]:
    """What a monitor finds that steps through the whole exercise."""
    monitor = plan.marker.monitors[number]
    at = () if monitor.rule.whole else plan.track(number).moments
    state, seen, hits = monitor.start, 0, list[tuple[int | None, Hit]]()
    for moment in heard.moments:
        sample = monitor.sample(moment)
        seen += sample is not None
        state, here = monitor.watch(state, moment, sample)
        hits += [(None if hit.back is None else seen - 1 - hit.back, hit) for hit in here]
    hits += [(None if hit.back is None else seen - 1 - hit.back, hit) for hit in monitor.finish(state)]
    return _told(number, hits, at)


def _told(number: int, hits: Iterable[tuple[int | None, Hit]], at: Sequence[int]) -> list[Found]:
    """Hits by samples as what is told of them: those that go on with a run are put to it."""
    found: list[Found] = []
    for index, hit in hits:
        if hit.again:
            last = max(n for n, known in enumerate(found) if known.licence == hit.licence)
            found[last] = found[last]._replace(until=index)
        else:
            found.append(Found(None if index is None else at[index], number, index, index, hit.licence, hit.run))
    return found
