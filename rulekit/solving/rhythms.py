"""The rhythms that a ruleset allows a voice: what its own rules name as the rhythm of a bar, joined as they allow it.

No rhythm is judged here: every rule that speaks of nothing but time is run, as it is in marking, on the rhythm sung
on one pitch.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from heapq import heappop, heappush
from itertools import pairwise
from random import Random
from typing import Any, cast

from rulekit.exercise.model import Event, Exercise, Metre, Voice
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.mode import mode_of
from rulekit.music.pitch import pitch_of
from rulekit.music.rhythm import BarRhythm
from rulekit.severity import Severity

_IN_TIME = {"rhythm", "length", "bar", "beat", "downbeat", "accented", "first", "last", "tied", "rested", "opens_bar"}
_MOST_TRIED = 4_000  # beginnings of rhythms that lead nowhere
_PITCH = pitch_of("C5")
_DORIAN = mode_of("D")
Rhythm = tuple[BarRhythm, ...]  # of a voice, bar by bar


@dataclass(frozen=True, slots=True)
class Stock:
    """The rules of a ruleset that speak of nothing but time, and the bars they name, those with most notes first."""

    rules: Ruleset
    bars: tuple[BarRhythm, ...]

    def rhythms(
        self, bars: int, metre: Metre, look: Callable[[], None] = lambda: None, random: Random | None = None
    ) -> Iterator[Rhythm]:
        """The rhythms of so many bars without a fault, those that lose the fewest points first.

        Among equals come first those with most notes, a bar of more than two in another kind than the bar before it;
        or whatever ``random`` draws. Some may be left out where very many beginnings lead nowhere. ``look`` is called
        for each beginning, and may stop it.
        """
        waiting: list[tuple[int, int, int, Rhythm, Iterator[BarRhythm]]] = [
            (0, 0, 0, (), self._kinds(0, metre, random))
        ]
        tried = since = 0
        while waiting:
            _, _, _, rhythm, kinds = waiting[0]  # it stays: what goes on from it may lose no more than it does
            if len(rhythm) == bars:
                heappop(waiting)
                since = 0
                yield rhythm
                continue
            bar = next(kinds, None) if since < _MOST_TRIED else None
            if bar is None:
                heappop(waiting)
                continue
            look()
            tried, since, longer = tried + 1, since + 1, (*rhythm, bar)
            lost = None if _breaks_tie(longer) else self._lost(longer, bars, metre)
            if lost is not None:
                further = self._kinds(len(longer), metre, random)
                heappush(waiting, (lost, -len(longer), tried, longer, further))

    def _kinds(self, number: int, metre: Metre, random: Random | None) -> Iterator[BarRhythm]:
        """The bars that may follow so many others, in the order in which they are tried."""
        fitting = self._fitting(metre)
        if random is not None:
            return iter(random.sample(fitting, len(fitting)))
        quick = sum(len(each.values) > 2 for each in fitting)  # they stand first
        turn = number % quick if quick else 0
        return iter([*fitting[turn:quick], *fitting[:turn], *fitting[quick:]])

    def near(self, rhythm: Rhythm, metre: Metre) -> list[Rhythm]:
        """The rhythms without a fault that differ from one in a single bar, those that lose the fewest points first."""
        bars = range(len(rhythm))
        varied = ((*rhythm[:bar], kind, *rhythm[bar + 1 :]) for bar in bars for kind in self._fitting(metre))
        whole = (each for each in varied if each != rhythm and not _breaks_tie(each))
        lost = ((self._lost(each, len(bars), metre), number, each) for number, each in enumerate(whole))
        return [each for _, _, each in sorted(each for each in lost if each[0] is not None)]

    def _fitting(self, metre: Metre) -> list[BarRhythm]:
        return [each for each in self.bars if sum(map(abs, each.values)) == metre.bar_length]

    def _lost(self, rhythm: Rhythm, bars: int, metre: Metre) -> int | None:
        """The points that the beginning of a rhythm loses, None for a fault; its last bar is not judged yet."""
        whole = len(rhythm) == bars
        if whole and rhythm[-1].tied:
            return None
        length = bars * metre.bar_length
        rest = length - len(rhythm) * metre.bar_length
        sung = [replace(event, pitch=_PITCH, open=False) for event in events(rhythm)]
        sung = [replace(event, pitch=None) if silent.pitch is None and not silent.open else event
                for event, silent in zip(sung, events(rhythm), strict=True)]  # fmt: skip
        voice = Voice("upper", (*sung, *([Event(None, rest)] if rest else [])))
        cantus = Voice("cantus", (Event(_PITCH, metre.bar_length),) * bars)
        marked = mark(Exercise("", (voice, cantus), _DORIAN, metre, 1), self.rules)
        known = [f for f in marked.findings if f.excuse is None and (whole or (f.bar or bars) < len(rhythm))]
        if any(f.severity == Severity.FAULT for f in known):
            return None
        return sum(self.rules.rule(f.rule).weight.points for f in known)


def stock(ruleset: Ruleset) -> Stock | None:
    """What a ruleset says of rhythm; None where it names none."""
    rules = tuple(rule for rule in ruleset.rules if _is_in_time(rule))
    named = {bar for rule in rules for bar in _named(rule.broken)}
    ordered = sorted(named, key=lambda bar: (-sum(value > 0 for value in bar.values), bar.values, not bar.tied))
    return Stock(replace(ruleset, rules=rules), tuple(ordered)) if named else None


def events(rhythm: Rhythm) -> tuple[Event, ...]:
    """A rhythm as notes still to be found."""
    found: list[Event] = []
    for bar in rhythm:
        for number, value in enumerate(bar.values):
            goes_on = bar.tied and number == len(bar.values) - 1
            found.append(Event(None, abs(value), goes_on, open=value > 0))
    return tuple(found)


def _breaks_tie(rhythm: Rhythm) -> bool:
    """Whether a bar begins with a rest where the bar before it is tied to it."""
    return any(before.tied and bar.values[0] < 0 for before, bar in pairwise(rhythm))


def _is_in_time(rule: t.Rule) -> bool:
    tests = [rule.broken, *(licence.test for licence in rule.licences)]
    streams = [part for stream in rule.streams for part in (stream.test, stream.value)]
    words = {word for part in (*tests, *streams) for word in _words(part)}
    return rule.track.kind == t.Kind.NOTE and not rule.whole and "rhythm" in words | {"rhythm"} and words <= _IN_TIME


def _words(part: Any) -> Iterator[str]:
    """What a condition or value reads of notes; whether a note is there counts as nothing."""
    match part:
        case t.Exists():
            return
        case t.Attr() | t.Flag():
            yield part.name
        case tuple():
            for each in cast("tuple[Any, ...]", part):
                yield from _words(each)
        case _ if is_dataclass(part) and not isinstance(part, t.Const | t.Voices):
            for each in fields(part):
                yield from _words(getattr(part, each.name))
        case _:
            return


def _named(part: Any) -> Iterator[BarRhythm]:
    """The bars that a condition compares a rhythm with."""
    match part:
        case t.Among(value=t.Attr(name="rhythm")):
            yield from cast("frozenset[BarRhythm]", part.members)
        case t.All() | t.AnyOf():
            for each in part.parts:
                yield from _named(each)
        case t.Negation():
            yield from _named(part.inner)
        case _:
            return
