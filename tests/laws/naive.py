"""Rules judged the slow and plain way: the whole exercise lies open, and every word of a rule is looked up in it.

Nothing here comes from the compiler. A condition is True, False or None (unknown: something that it
speaks of is not there); a stream is worked out afresh from its definition wherever it is read.
"""

import operator
from dataclasses import dataclass
from fractions import Fraction
from typing import cast

from rulekit.exercise.model import Exercise, Note
from rulekit.exercise.timeline import NO_DYAD, Dyad, Moment, moments
from rulekit.language import typed as t
from rulekit.language.typed import Kind
from rulekit.music.motion import motion
from rulekit.music.pitch import Interval, letter, pitch_name, pitch_of, size, steps

NO_RULE = cast("t.Rule", None)  # of a condition that reads no stream
PACES = {
    "voice in halves": "halves",
    "voice in quarters": "quarters",
    "tied voice": "tied",
    "florid voice": "florid",
}


@dataclass(frozen=True)
class Breach:
    """A rule broken: by which voices, at which sample of its track (None: the whole), excused by which licence."""

    rule: str
    voices: tuple[int, ...]
    index: int | None
    licence: str | None


@dataclass(frozen=True)
class Row:
    """All samples of one track in one choice of voices."""

    kind: Kind
    voices: tuple[int, ...]
    sample: t.Test | None
    things: tuple[Note | Dyad | Moment, ...]


def breaches(rules: tuple[t.Rule, ...], exercise: Exercise) -> set[Breach]:
    """Every place where a rule is broken."""
    judge = Judge(exercise)
    return {breach for rule in rules for voices in judge.choices(rule) for breach in judge.rule(rule, voices)}


class Judge:
    """Knows one exercise as a whole."""

    def __init__(self, exercise: Exercise) -> None:
        self.setting = exercise.setting
        self.moments = list(moments(exercise))
        self.lines: list[list[Note]] = [[] for _ in exercise.voices]
        for moment in self.moments:
            for voice, note in enumerate(moment.notes):
                if note is not None and note.onset == moment.time:
                    self.lines[voice].append(note)

    # ---- voices -----------------------------------------------------------------------------

    def choices(self, rule: t.Rule) -> list[tuple[int, ...]]:
        if rule.track.kind in (Kind.NOTE, Kind.LINE):
            return [(voice,) for voice in self.voices(rule.scope)]
        if rule.track.kind in (Kind.DYAD, Kind.PAIR):
            return self.pairs(rule.scope)
        return [tuple(range(self.setting.voice_count))]

    def voices(self, scope: t.Voices) -> list[int]:
        count, cantus = self.setting.voice_count, self.setting.cantus
        return [
            voice
            for voice in range(count)
            if (scope.but is None or voice not in self.voices(scope.but))
            and {
                "each voice": True,
                "cantus": voice == cantus,
                "counterpoint": voice != cantus,
                "highest voice": voice == 0,
                "lowest voice": voice == count - 1,
                "inner voices": 0 < voice < count - 1,
                "outer voices": voice in (0, count - 1),
                "upper voices": voice < count - 1,
                "moving voice": voice in self.moving,
                **{words: voice != cantus and self.setting.paces[voice] == pace for words, pace in PACES.items()},
                "voice": voice + 1 == scope.number,
                "or": any(voice in self.voices(part) for part in scope.parts),
            }[scope.words]
        ]

    @property
    def moving(self) -> set[int]:
        others = {voice for voice in range(self.setting.voice_count) if voice != self.setting.cantus}
        return {voice for voice in others if self.setting.paces[voice] not in ("", "whole")} or others

    def pairs(self, scope: t.Voices) -> list[tuple[int, ...]]:
        count = self.setting.voice_count
        return [
            (high, low)
            for high in range(count)
            for low in range(high + 1, count)
            if (scope.but is None or (high, low) not in self.pairs(scope.but))
            and {
                "each pair": True,
                "outer voices": high == 0 and low == count - 1,
                "neighbouring voices": low - high == 1,
                "inner voices": high > 0 and low < count - 1,
                "upper voices": low < count - 1,
                "and": scope.words == "and" and self.are_of((high, low), *scope.parts),
                "or": scope.words == "or" and any((high, low) in self.pairs(part) for part in scope.parts),
            }[scope.words]
        ]

    def are_of(self, pair: tuple[int, int], first: t.Voices, second: t.Voices) -> bool:
        """Whether one voice of a pair is of the first kind and the other of the second."""
        return any(a in self.voices(first) and b in self.voices(second) for a, b in (pair, pair[::-1]))

    # ---- samples ----------------------------------------------------------------------------

    def row(self, kind: Kind, voices: tuple[int, ...], sample: t.Test | None = None) -> Row:
        things: list[Note | Dyad | Moment] = []
        for moment in self.moments:
            if kind == Kind.NOTE:
                thing = moment.notes[voices[0]]
                begins = thing is not None and thing.onset == moment.time
            elif kind == Kind.DYAD:
                thing = moment.sounding(voices[0], voices[1])
                begins = thing is not None and thing.moment is moment
            else:
                thing, begins = moment, True
            if thing is not None and begins and self.is_taken(kind, voices, thing, sample):
                things.append(thing)
        return Row(kind, voices, sample, tuple(things))

    def is_taken(self, kind: Kind, voices: tuple[int, ...], thing: Note | Dyad | Moment, sample: t.Test | None) -> bool:
        """Whether a thing, looked at by itself, is one of those that a rule is on."""
        return sample is None or self.truth(sample, Here(NO_RULE, Row(kind, voices, None, (thing,)), 0)) is True

    def rows(self, track: t.Track, own: tuple[int, ...]) -> list[Row]:
        """The rows that a stream of a rule on the voices ``own`` gathers over."""
        if track.voices is not None:
            if track.kind == Kind.NOTE:
                return [self.row(Kind.NOTE, (voice,), track.sample) for voice in self.voices(track.voices)]
            return [self.row(Kind.DYAD, pair, track.sample) for pair in self.pairs(track.voices)]
        if track.role:
            voice = self.voice_of(track.role, own)
            return [] if voice is None else [self.row(Kind.NOTE, (voice,), track.sample)]
        return [self.row(track.kind, own, track.sample)]

    def voice_of(self, role: str, pair: tuple[int, ...]) -> int | None:
        cantus = self.setting.cantus
        if role in ("cantus", "counterpoint"):
            if cantus not in pair:
                return None
            other = pair[1] if cantus == pair[0] else pair[0]
            return cantus if role == "cantus" else other
        return pair[0] if role == "upper" else pair[1]

    # ---- things -----------------------------------------------------------------------------

    def sample(self, row: Row, index: int, offset: int) -> Note | Dyad | Moment | None:
        """The sample some places on; two voices that were parted by a rest have none before that."""
        place = index + offset
        if not 0 <= place < len(row.things):
            return None
        if row.kind == Kind.DYAD and not row.sample:
            low, high = sorted((index, place))
            for later in row.things[low + 1 : high + 1]:
                if isinstance(later, Dyad) and later.previous is NO_DYAD:
                    return None
        return row.things[place]

    def thing(self, row: Row, index: int, ref: t.Ref) -> Note | Dyad | Moment | None:
        found = self.sample(row, index, ref.offset)
        if found is None:
            return None
        if ref.role:
            found = self.role(row, found, ref.role)
        if not ref.hops:
            return found
        if not isinstance(found, Note):
            return None
        line = self.lines[found.voice]
        place = line.index(found) + ref.hops
        return line[place] if 0 <= place < len(line) else None

    def role(self, row: Row, sample: Note | Dyad | Moment, role: str) -> Note | None:
        if isinstance(sample, Moment):
            if role == "cantus":
                return None if self.setting.cantus is None else sample.notes[self.setting.cantus]
            return None if sample.bass is None else sample.notes[sample.bass]
        assert isinstance(sample, Dyad)
        if role.startswith("sounding"):
            crossed = sample.upper.pitch < sample.lower.pitch
            return sample.upper if (role == "sounding-upper") != crossed else sample.lower
        voice = self.voice_of(role, row.voices)
        return None if voice is None else sample.upper if voice == sample.upper.voice else sample.lower

    # ---- values -----------------------------------------------------------------------------

    def value(self, node: t.Value, here: "Here") -> object:
        match node:
            case t.Const():
                return node.value
            case t.Attr():
                return self.attribute(node.ref, node.name, here)
            case t.Fixed():
                metre = "triple" if self.setting.metre.beats % 3 == 0 else "duple"
                return {
                    "mode": self.setting.mode.name,
                    "metre": metre,
                    "number-of-voices": self.setting.voice_count,
                    "number-of-bars": self.setting.bars,
                }[node.name]
            case t.Function():
                arguments = [self.value(argument, here) for argument in node.arguments]
                if node.name == "degree" and None not in arguments:
                    return (letter(arguments[0]) - self.setting.mode.letter) % 7 + 1
                return None if None in arguments else function(node.name, arguments)
            case t.Stream():
                return self.stream(here.rule.streams[node.number], here)

    def attribute(self, ref: t.Ref, name: str, here: "Here") -> object:
        thing = self.thing(here.row, here.index, ref)
        if thing is None:
            return None
        if name == "held":
            sample = here.now or self.sample(here.row, here.index, ref.offset)
            assert isinstance(thing, Note)
            if isinstance(sample, Note):
                return False
            moment = sample if isinstance(sample, Moment) else sample.moment if sample else None
            return moment is not None and thing.onset < moment.time
        if name == "with_cantus":
            assert isinstance(thing, Note)
            return self.with_cantus(thing)
        if name == "on_bass":
            assert isinstance(thing, Dyad)
            bass = (here.now or thing.moment).bass
            return bass in here.row.voices
        return getattr(thing, name)

    def with_cantus(self, note: Note) -> Interval | None:
        """The interval of a note and the cantus at the moment when the note begins."""
        cantus = self.setting.cantus
        (moment,) = (moment for moment in self.moments if moment.time == note.onset)
        dyad = None if cantus is None else moment.sounding(*sorted((note.voice, cantus)))
        return None if dyad is None else dyad.interval

    # ---- streams ----------------------------------------------------------------------------

    def stream(self, gathered: t.Gathered, here: "Here") -> object:
        rows = self.rows(gathered.track, here.row.voices)
        until = None if here.rule.whole else here.index
        if until is not None:
            assert len(rows) == 1
        found = [self.gathered(gathered, Here(here.rule, row, 0), until) for row in rows]
        there = [value for value in found if value is not None]
        match gathered.kind:
            case "run" | "tally" | "longest":
                return max(there, default=0)
            case "number":
                return sum(there)
            case "first" | "lowest":
                return min(there, default=None)
            case "last" | "highest":
                return max(there, default=None)
            case _:
                assert len(rows) <= 1
                return found[0] if found else None

    def gathered(self, gathered: t.Gathered, here: "Here", until: int | None) -> object:
        places = range(len(here.row.things) if until is None else until + 1)
        at = [here.at(index) for index in places]
        holding = [here for here in at if gathered.test is None or self.truth(gathered.test, here) is True]
        times = [time_of(here.row.things[here.index]) for here in holding]
        pitches = [here.row.things[here.index].pitch for here in holding if here.row.kind == Kind.NOTE]
        match gathered.kind:
            case "run":
                return self.run(gathered, at)
            case "tally":
                values = [self.value(gathered.value, here) for here in at if gathered.value is not None]
                return 0 if values[-1] is None else values.count(values[-1])
            case "longest":
                return max((self.run(gathered, at[: end + 1]) for end in places), default=0)
            case "latest":
                return self.value(gathered.value, holding[-1]) if holding and gathered.value else None
            case "number":
                return len(holding)
            case "first":
                return min(times, default=None)
            case "last":
                return max(times, default=None)
            case "highest":
                return max(pitches, default=None)
            case "lowest":
                return min(pitches, default=None)
            case "climaxes":
                return pitches.count(max(pitches)) if pitches else 0
            case "climax":
                return times[pitches.index(max(pitches))] if pitches else None

    def run(self, gathered: t.Gathered, at: list["Here"]) -> int:
        """How many of the last samples in a row fulfil the condition and have the last one's value."""
        length = 0
        for here in reversed(at):
            if gathered.test is not None and self.truth(gathered.test, here) is not True:
                break
            if gathered.value is not None:
                value = self.value(gathered.value, here)
                if value is None or value != self.value(gathered.value, at[-1]):
                    break
            length += 1
        return length

    # ---- conditions -------------------------------------------------------------------------

    def truth(self, test: t.Test, here: "Here") -> bool | None:
        match test:
            case t.Among():
                value = self.value(test.value, here)
                return None if value is None else value in test.members
            case t.Relation():
                left, right = self.value(test.left, here), self.value(test.right, here)
                if left is None or right is None:
                    return None
                related = {"==": operator.eq, "<": operator.lt, "<=": operator.le}[test.operator]
                return related(left, right)
            case t.Flag():
                found = self.attribute(test.ref, test.name, here)
                return bool(found) if test.definite or found is not None else None
            case t.Exists():
                return self.value(test.value, here) is not None
            case t.Same():
                left, right = (self.attribute(ref, "voice", here) for ref in (test.left, test.right))
                return None if left is None or right is None else left == right
            case t.InVoices():
                voice = self.attribute(test.ref, "voice", here)
                return None if voice is None else voice in self.voices(test.scope)
            case t.Holds():
                return self.quantified(test, here)
            case t.Negation():
                inner = self.truth(test.inner, here)
                return None if inner is None else not inner
            case t.All():
                parts = [self.truth(part, here) for part in test.parts]
                return False if False in parts else None if None in parts else True
            case t.AnyOf():
                parts = [self.truth(part, here) for part in test.parts]
                return True if True in parts else None if None in parts else False

    def quantified(self, test: t.Holds, here: "Here") -> bool | None:
        sample = self.sample(here.row, here.index, test.offset)
        if sample is None:
            return None
        moment = sample if isinstance(sample, Moment) else sample.moment
        assert isinstance(moment, Moment)
        found: list[bool | None] = []
        if test.kind == Kind.NOTE:
            things = [((voice,), moment.notes[voice]) for voice in self.voices(test.scope)]
        else:
            things = [((high, low), moment.sounding(high, low)) for high, low in self.pairs(test.scope)]
        for voices, thing in things:
            if thing is not None:
                inner = Here(here.rule, Row(test.kind, voices, None, (thing,)), 0, moment)
                found.append(self.truth(test.condition, inner))
        return {"some": True in found, "every": False not in found, "no": True not in found}[test.quantifier]

    # ---- rules ------------------------------------------------------------------------------

    def rule(self, rule: t.Rule, voices: tuple[int, ...]) -> list[Breach]:
        found: list[Breach] = []
        run = told_run(rule)
        told: set[str | None] = set()
        for here in self.places(rule, voices):
            if run is not None and self.stream(run, here) < 2:
                told = set()
            if self.truth(rule.broken, here) is True:
                excuse = next((x.reason for x in rule.licences if self.truth(x.test, here) is True), None)
                if run is None or excuse not in told:
                    found.append(Breach(rule.name, voices, None if rule.whole else here.index, excuse))
                told.add(excuse)
        return found

    def places(self, rule: t.Rule, voices: tuple[int, ...]) -> list["Here"]:
        """Everywhere a rule is judged."""
        if rule.whole:
            return [Here(rule, Row(rule.track.kind, voices, None, ()), 0)]
        row = self.row(rule.track.kind, voices, rule.track.sample)
        return [Here(rule, row, index) for index in range(len(row.things))]


@dataclass(frozen=True)
class Here:
    """Where a condition is judged: the rule, its samples and which of them.

    ``now`` is the moment that a quantifier looks at, which may be later than where its things began.
    """

    rule: t.Rule
    row: Row
    index: int
    now: Moment | None = None

    def at(self, index: int) -> "Here":
        return Here(self.rule, self.row, index, self.now)


def told_run(rule: t.Rule) -> t.Gathered | None:
    """The only run that a condition speaks of, unless the rule looks at what follows: each run is told once."""
    tests = [rule.broken, *(licence.test for licence in rule.licences)]
    ahead = any(ref.offset > 0 or ref.hops > 0 for test in tests for ref in t.refs(test))
    runs = {number for number in streams_of(rule.broken) if rule.streams[number].kind == "run"}
    return rule.streams[runs.pop()] if len(runs) == 1 and not ahead else None


def streams_of(part: t.Test | t.Value) -> set[int]:
    """The numbers of the streams in a condition or value."""
    match part:
        case t.Stream():
            return {part.number}
        case t.Negation():
            return streams_of(part.inner)
        case t.All() | t.AnyOf():
            return set().union(*map(streams_of, part.parts))
        case t.Among() | t.Exists():
            return streams_of(part.value)
        case t.Relation():
            return streams_of(part.left) | streams_of(part.right)
        case t.Function():
            return set().union(*map(streams_of, part.arguments))
        case _:
            return set()


def time_of(thing: Note | Dyad | Moment) -> Fraction:
    if isinstance(thing, Note):
        return thing.onset
    return thing.moment.time if isinstance(thing, Dyad) else thing.time


def function(name: str, arguments: list) -> object:
    """The value of a function of the language, all its arguments known."""
    first, second = arguments[0], arguments[-1]
    match name:
        case "direction":
            return 1 if first > 0 else -1 if first < 0 else 0
        case "letter":
            return letter(first)
        case "note-name":
            return pitch_of(pitch_name(first)[:-1] + "0")
        case "opposite":
            return -first
        case "size":
            return size(first)
        case "simple-size":
            number = abs(steps(first)) + 1
            while number > 8:
                number -= 7
            return number
        case "width":
            return abs(first)
        case "span" | "minus":
            return second - first if name == "span" else first - second
        case "motion":
            return motion(*arguments)
        case "plus":
            return first + second
        case "times":
            return first * second
        case "share":
            return Fraction(10000 * first, second) if second else None
    raise AssertionError(f"{name} is not known here")
