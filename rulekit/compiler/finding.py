"""What the rules of a ruleset find in an exercise: rows looked up, and streams folded over columns of them."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from math import inf
from typing import Any, NamedTuple

from rulekit.compiler.marker import Marker, Streamed, Whole
from rulekit.compiler.monitor import Hit, hit_of, licence_of, monitors, once
from rulekit.compiler.plan import Plan
from rulekit.compiler.rows import MOST_ROWS, Lines, answers
from rulekit.exercise.model import NO_NOTE, Exercise, Setting
from rulekit.exercise.timeline import Heard
from rulekit.language.ruleset import Ruleset

_MOST_PLANS = 1_000


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
        flat = [b"".join([row.tests for row in rows]) for rows in self._rows]
        self._columns = [flat[table][place :: len(tables[table].tests)] for table, place in self._marker.columns]

    def found(self) -> list[Found]:
        """Everything found by the rules that are a matter of rows."""
        found, columns, marker = self._plain(), self._columns, self._marker
        for rule, suspect in zip(marker.streamed, marker.suspects(columns), strict=True):
            if suspect:
                found += self._streamed(rule)
        totals = marker.totals(columns, self._sung, self._plan.tracks, self._values)
        for rule in marker.whole:
            found += self._whole(rule, totals)
        return found

    def _plain(self) -> list[Found]:
        """What rules without streams find."""
        found: list[Found] = []
        for table, rows in zip(self._marker.tables, self._rows, strict=True):
            for i, row in enumerate(rows):
                if row.hits:
                    moment = self._plan.tracks[table.track].moments[i]
                    found += [Found(moment, number, i, i, licence, 1) for number, licence in row.hits]
        return found

    def _values(self, table: int, place: int) -> list[Any]:
        return [row.values[place] for row in self._rows[table]]

    def _whole(self, rule: Whole, totals: list[Any]) -> list[Found]:
        """What a rule on the whole finds."""
        values = tuple([totals[number] for number in rule.streams])
        outcome = rule.known.get(values)
        if outcome is None:
            assert rule.monitor.window.at_once is not None
            outcome = rule.known[values] = rule.monitor.window.at_once(NO_NOTE, values)
        return [Found(None, rule.number, None, None, licence_of(outcome), 1)] if outcome >= 0 else []

    def _streamed(self, rule: Streamed) -> list[Found]:
        """What a rule with streams finds."""
        worth = rule.along(self._columns, self._sung, self._plan.tracks, self._values)
        broken = self._outcomes(rule, list(zip(*worth, strict=True)))
        return _told(rule.number, self._hits(rule, broken), self._plan.track(rule.number).moments)

    def _outcomes(self, rule: Streamed, worth: list[tuple[Any, ...]]) -> list[tuple[int, int, tuple[Any, ...]]]:
        """The samples where a rule is broken, with the outcome and what the streams are worth."""
        known, rows = rule.known, self._rows[rule.table]
        places = {i: (rows[i].number, worth[i]) for i, may in enumerate(self._columns[rule.possible]) if may}
        if any(key not in known for key in places.values()):
            if len(known) > MOST_ROWS:
                known.clear()
            found = answers(rule.monitor.window, self._lines.of(rule.monitor.feed), places, worth)
            known.update((key, found[i]) for i, key in places.items())
        return [(i, known[key], worth[i]) for i, key in places.items() if known[key] >= 0]

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
    plans: dict[object, Plan] = ruleset.compiled.setdefault("plans", {})
    plan = plans.get(heard.rhythm)
    if plan is None:
        if len(plans) > _MOST_PLANS:
            _forget(ruleset)
        plan = plans[heard.rhythm] = Plan(_marker(ruleset, heard.setting), heard)
    return plan


def _forget(ruleset: Ruleset) -> None:
    """Begin afresh with no rhythms and no rows."""
    kept = {key: made for key, made in ruleset.compiled.items() if not isinstance(made, Marker)}
    ruleset.compiled.clear()
    ruleset.compiled.update(kept)
    ruleset.compiled["plans"].clear()


def _marker(ruleset: Ruleset, setting: Setting) -> Marker:
    """The tables of a ruleset for a setting; exercises of all settings share them if their monitors do."""
    own = monitors(ruleset, setting)
    key = ("rows", setting.voice_count, tuple(map(id, own)))
    if key not in ruleset.compiled:
        ruleset.compiled[key] = Marker(own, setting.voice_count)
    return ruleset.compiled[key]


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
