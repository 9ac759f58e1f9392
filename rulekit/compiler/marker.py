"""The monitors of a ruleset as tables and columns: which questions each rule asks, and what folds their answers."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from rulekit.compiler.around import around
from rulekit.compiler.emit import Namespace
from rulekit.compiler.monitor import Monitor
from rulekit.compiler.rows import Table
from rulekit.compiler.streams import PITCHED, Feed, Gatherer, Reading
from rulekit.compiler.window import Window
from rulekit.language import typed as t


@dataclass(frozen=True, slots=True)
class Member:
    """A member of a stream: the column of its condition (None: all samples), and where its values come from.

    That is a table and place in its rows, or the voice whose pitches they are, or neither if they are of no account.
    """

    track: int
    test: int | None
    value: tuple[int, int] | None
    voice: int | None

    @property
    def source(self) -> str:
        """What it sees all along, as an expression: conditions, values and times."""
        hits = f"t[{self.track}].all" if self.test is None else f"c[{self.test}]"
        values = hits if self.value is None else f"v({self.value[0]}, {self.value[1]})"
        return f"{hits}, {values if self.voice is None else f's[{self.voice}]'}, t[{self.track}].times"


Stream = tuple[Gatherer, tuple[Member, ...]]


@dataclass(slots=True)
class Whole:
    """A rule on the whole with the numbers of its streams; ``known`` keeps what it comes to by their totals."""

    number: int
    monitor: Monitor
    streams: tuple[int, ...]
    known: dict[tuple[Any, ...], int] = field(default_factory=dict[tuple[Any, ...], int])


@dataclass(slots=True)
class Streamed:
    """A rule on samples with the numbers of what its streams, of one member each, are worth along the exercise.

    ``possible`` is the column of where it can be broken whatever the streams come to; ``ways`` are columns with
    runs, all of one of which there must be; ``known`` keeps what it comes to by surroundings and streams.
    """

    number: int
    monitor: Monitor
    table: int
    possible: int
    ways: tuple[tuple[tuple[int, bytes], ...], ...]
    along: tuple[int, ...]
    known: dict[Any, int] = field(default_factory=dict[Any, int])


class Marker:
    """All monitors of a ruleset for one setting, as tables.

    ``columns`` are the conditions of streams: a table and a place in its rows. ``streams`` are those of rules on the
    whole, ``shared_out`` gives each rule its own of what they come to; ``along`` tells what the others are worth at
    each sample. ``tracks`` says for each monitor which of the ``feeds`` it judges. Rules that are no matter of rows
    are in ``others``, by number.
    """

    def __init__(self, monitors: Sequence[Monitor], voices: int) -> None:
        self.monitors, self.count = monitors, voices
        self.feeds: list[Feed] = []
        self.tables: list[Table] = []
        self.columns: list[tuple[int, int]] = []
        self.streams: list[Stream] = []
        self.along: list[Callable[..., list[Any]]] = []
        self.whole: list[Whole] = []
        self.streamed: list[Streamed] = []
        self.others: list[int] = []
        self._numbers, self._asked = dict[Any, int](), dict[Any, Any]()
        for number, monitor in enumerate(monitors):
            self._place(number, monitor)
        self.tracks = [None if monitor.rule.whole else self._track(monitor.feed) for monitor in monitors]
        names = Namespace()
        self.suspects = names.function("c", f"({''.join(self._suspect(rule, names) for rule in self.streamed)})")
        self.totals = names.function("c, s, t, v", f"({''.join(self._total(*each, names) for each in self.streams)})")
        each = (f"({''.join(f'w[{number}], ' for number in rule.streams)}), " for rule in self.whole)
        self.shared_out = names.function("w", f"({''.join(each)})")

    def _place(self, number: int, monitor: Monitor) -> None:
        rule = monitor.rule
        gathered = list(zip(rule.streams, monitor.gatherers, strict=True))
        if not rule.streams and not rule.whole:
            table = self._table(monitor.feed, _judged(rule))
            self.tables[table].rules.append((number, monitor.window))
        elif not all(_is_plain(one, gatherer, monitor) for one, gatherer in gathered):
            self.others.append(number)
        elif rule.whole:
            self.whole.append(Whole(number, monitor, tuple(self._stream(*each) for each in gathered)))
        else:
            self.streamed.append(self._streamed(number, monitor))

    def _track(self, feed: Feed) -> int:
        """The number of a feed."""
        if feed not in self.feeds:
            self.feeds.append(feed)
        return self.feeds.index(feed)

    @staticmethod
    def _suspect(rule: Streamed, names: Namespace) -> str:
        """An expression on columns that is true where a rule with streams may be broken."""
        ways = [" and ".join(f"{names.constant(run)} in c[{column}]" for column, run in way) for way in rule.ways]
        return f"1 in c[{rule.possible}] and ({' or '.join(way or 'True' for way in ways) or 'False'}), "

    @staticmethod
    def _total(gatherer: Gatherer, members: tuple[Member, ...], names: Namespace) -> str:
        """An expression of what a stream comes to in all."""
        if gatherer.kind == "number" and all(member.test is not None for member in members):
            return f"{' + '.join(f'c[{member.test}].count(1)' for member in members) or '0'}, "
        if len(members) == 1:
            return f"{names.constant(gatherer.alone)}({members[0].source}), "
        return f"{names.constant(gatherer.over)}(({''.join(f'({member.source}), ' for member in members)})), "

    def _stream(self, gathered: t.Gathered, gatherer: Gatherer) -> int:
        """The number of a stream of a rule on the whole."""
        key = (gathered, tuple(gatherer.members))
        if key not in self._asked:
            self.streams.append((gatherer, self._members(gathered, gatherer)))
            self._asked[key] = len(self.streams) - 1
        return self._asked[key]

    def _members(self, gathered: t.Gathered, gatherer: Gatherer) -> tuple[Member, ...]:
        each = zip(gatherer.members, gatherer.windows, gatherer.readings, strict=True)
        return tuple(self._member(gathered, *parts) for parts in each)

    def _member(self, gathered: t.Gathered, feed: Feed, window: Window | None, reading: Reading) -> Member:
        test = value = voice = None
        if window is not None and gathered.test is not None:
            test = self._column(feed, gathered.test, window)
        pitched = gathered.kind in PITCHED
        if pitched and not feed.sample:
            (voice,) = feed.voices
        elif pitched or gathered.value is not None:
            table = self._table(feed, [] if gathered.value is None else [gathered.value])
            self.tables[table].values.append(reading)
            value = table, len(self.tables[table].values) - 1
        return Member(self._track(feed), test, value, voice)

    def _column(self, feed: Feed, test: t.Test, window: Window) -> int:
        """The number of the column of a condition."""
        if (feed, test) not in self._asked:
            table = self._table(feed, [test])
            self.tables[table].tests.append(window)
            self.columns.append((table, len(self.tables[table].tests)))
            self._asked[feed, test] = len(self.columns) - 1
        return self._asked[feed, test]

    def _table(self, feed: Feed, parts: "Sequence[t.Test | t.Value]") -> int:
        """The number of the table for what is read so on a feed; questions that read no more than a move share one."""
        look = around(tuple(parts), feed, self.count)
        key = (feed, look.look)
        number: int = self._asked.setdefault(key, len(self.tables))
        if number == len(self.tables):
            self.tables.append(Table(feed, self._track(feed), look))
        self.tables[number].around |= look
        return number

    def _streamed(self, number: int, monitor: Monitor) -> Streamed:
        rule, (test, window) = monitor.rule, monitor.possible
        possible = self._column(monitor.feed, test, window)
        gathered = list(zip(rule.streams, monitor.gatherers, strict=True))
        members = [self._members(*each)[0] for each in gathered]
        ways = tuple(
            tuple((column, b"\1" * run) for n, run in way.items() if (column := members[n].test) is not None)
            for way in monitor.least_runs
        )
        along = tuple(self._along(*each, member) for each, member in zip(gathered, members, strict=True))
        return Streamed(number, monitor, self._table(monitor.feed, _judged(rule)), possible, ways, along)

    def _along(self, gathered: t.Gathered, gatherer: Gatherer, member: Member) -> int:
        """The number of what a stream is worth at each sample."""
        key = ("along", gathered, tuple(gatherer.members))
        if key not in self._asked:
            names = Namespace()
            self.along.append(names.function("c, s, t, v", f"{names.constant(gatherer.along)}({member.source})"))
            self._asked[key] = len(self.along) - 1
        return self._asked[key]

    def number(self, thing: Any) -> int:
        """A number for each thing, the same for equal ones."""
        return self._numbers.setdefault(thing, len(self._numbers))


def _judged(rule: t.Rule) -> list[t.Test]:
    return [rule.broken, *(licence.test for licence in rule.licences)]


def _is_plain(gathered: t.Gathered, gatherer: Gatherer, monitor: Monitor) -> bool:
    """Whether it is known at each sample what a stream is worth there."""
    if not monitor.rule.whole and gatherer.members != [monitor.feed]:
        return False
    ahead = any(window and (window.ahead or window.notes_ahead) for window in gatherer.windows)
    return not ahead or (monitor.rule.whole and gathered.kind == "number")
