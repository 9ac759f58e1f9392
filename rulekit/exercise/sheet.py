"""A score as it stands on paper, whatever the format it came in, and the exercises it holds.

A reader hands over parts: rows of measures, each with the notes of its voices, placed from the
beginning of the measure. A sheet puts the parts together; exercises are cut from it.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

from rulekit.diagnostics import Diagnostic
from rulekit.exercise.infer import Known, compass_of, infer_mode
from rulekit.exercise.limits import MAX_BARS, MAX_EVENTS, MAX_EXERCISES, MAX_ITEMS, MAX_NOTE, MAX_PARTS, MAX_VOICES
from rulekit.exercise.model import ALLA_BREVE, Bars, Clef, Event, Exercise, Metre, Voice
from rulekit.exercise.reading import (
    NOWHERE,
    Place,
    ReadOptions,
    Unreadable,
    check_count,
    checked_time,
    clean_title,
    listed,
    settled,
    stated_mode,
    with_sound_ties,
)
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch, semitone

_MARK = " (cantus)"
_MOST_NAMED = 5


@dataclass(frozen=True, slots=True)
class Item:
    """A note or rest as written; ``onset`` and ``length`` are in quarter notes.

    ``tie`` says that a tie leads on from it; ``mistake`` why no voice can sing it; a grace note
    has no length and no pitch.
    """

    onset: Fraction
    length: Fraction
    pitch: Pitch | None = None
    tie: bool = False
    mistake: str = ""
    is_grace: bool = False
    place: Place = NOWHERE


@dataclass(slots=True)
class Measure:
    """A measure of one part: its length in quarters, what changes in it, and its voices by their own names."""

    length: Fraction = Fraction(0)
    number: int | None = None
    metre: Metre | None = None
    fifths: int | None = None
    mode: Mode | None = None
    ends_exercise: bool = False
    lines: dict[str, list[Item]] = field(default_factory=dict[str, list[Item]])
    place: Place = NOWHERE

    def add(self, line: str, item: Item) -> None:
        """Put an item into a voice."""
        self.lines.setdefault(line, []).append(item)
        self.length = max(self.length, item.onset + item.length)

    def sung(self) -> Iterator[Item]:
        """What is sung in it, grace notes apart."""
        return (item for items in self.lines.values() for item in items if item.pitch is not None or item.mistake)

    def cut_rests(self, length: Fraction) -> None:
        """Leave out the rests beyond a length, for nothing is sung there."""
        self.length = min(self.length, length)
        for line, items in self.lines.items():
            kept = (item for item in items if item.onset < length)
            self.lines[line] = [replace(item, length=min(item.length, length - item.onset)) for item in kept]


@dataclass(slots=True)
class Part:
    """A part of a score. ``lines`` names its voices from the top; ``clefs`` says what each began in."""

    name: str
    measures: list[Measure] = field(default_factory=list[Measure])
    lines: list[str] = field(default_factory=list[str])
    clefs: dict[str, Clef] = field(default_factory=dict[str, Clef])


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar of the score: its number, its start and length in quarters, and what holds in it.

    ``unfilled`` says, for each part that holds less than the others do, how much that is; ``broken_off`` the same
    for each voice of a part that ends before the part does, ``overfull`` for each part that has rests beyond its end.
    """

    number: int
    start: Fraction
    length: Fraction
    metre: Metre | None
    fifths: int | None
    mode: Mode | None
    ends_exercise: bool
    unfilled: Sequence[str] = ()
    overfull: Sequence[str] = ()
    broken_off: Sequence[str] = ()

    @property
    def full(self) -> Fraction:
        """The length that the time signature says."""
        return (self.metre or ALLA_BREVE).bar_length


@dataclass(frozen=True, slots=True)
class Staff:
    """One voice of the score from beginning to end; the onsets of its items, in order, count from there."""

    name: str
    items: Sequence[Item]
    clef: Clef | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """A score: bars and voices from the top.

    ``said`` is what was left out or filled in while reading; ``spelled`` is False where the format
    has semitones in place of letters, ``ordered`` where its voices have no order.
    """

    title: str
    bars: Sequence[Bar]
    staves: Sequence[Staff]
    said: Sequence[str] = ()
    spelled: bool = True
    ordered: bool = True

    def exercises(self, options: ReadOptions, path: str) -> tuple[list[Exercise], list[Diagnostic]]:
        """The exercises, and what is wrong with the rest, each under the title it would have."""
        found: list[Exercise] = []
        problems: list[Diagnostic] = []
        whole = self.title or Path(path).stem
        try:
            sections = list(self._sections(options))
        except Unreadable as error:
            return [], [error.told(path, whole)]
        for section in sections[:MAX_EXERCISES]:
            title = whole + (f", from bar {section[0].number}" if len(section) < len(self.bars) else "")
            try:
                found += _Section(self, section, title, options).exercises()
            except Unreadable as error:
                problems.append(error.told(path, title))
        if len(sections) > MAX_EXERCISES:
            problems.append(Unreadable(f"there are more than {MAX_EXERCISES} exercises").told(path, whole))
        return found, problems

    def _sections(self, options: ReadOptions) -> Iterator[Sequence[Bar]]:
        """The bars of each exercise."""
        if options.bars:
            yield _chosen_bars(self.bars, options.bars)
            return
        begin = 0
        for index, bar in enumerate(self.bars, 1):
            if index == len(self.bars) or (bar.ends_exercise and options.split):
                yield self.bars[begin:index]
                begin = index


# ---- putting a sheet together --------------------------------------------------------------------


def put_together(title: str, parts: Sequence[Part], repeats: Sequence[str] = ()) -> Sheet:
    """The sheet of parts that go through the same bars, from the top; ``repeats`` are where something is sung again.

    Raises Unreadable where parts disagree or where there is too much.
    """
    bars = _bars(parts)
    said = [f"repeats: read once ({listed(repeats)})"] if repeats else []
    staves = list(_staves(parts, [bar.start for bar in bars]))
    return Sheet(clean_title(title), _counted_from_one(_joined(bars)), staves, said)


def _bars(parts: Sequence[Part]) -> list[Bar]:
    """One bar for each measure; what a part does not have is silent."""
    count = max((len(part.measures) for part in parts), default=0)
    if not count:
        raise Unreadable("there are no bars in this score")
    check_count(count, MAX_BARS, "bars")
    check_count(len(parts), MAX_PARTS, "parts")
    bars: list[Bar] = []
    start, metre, fifths, mode = Fraction(0), None, None, None
    for index in range(count):
        column = [part.measures[index] for part in parts if index < len(part.measures)]
        ends = any(part.measures[index].ends_exercise for part in parts if index + 1 < len(part.measures))
        number = _number(column, bars)
        metre = _agreed_metre(column, number) or metre
        signed = next((measure for measure in column if measure.fifths is not None), None)
        if signed is not None:
            fifths, mode = signed.fifths, signed.mode
        overfull = list(_overfull(parts, index, number, metre)) if metre is not None else []
        length = max(measure.length for measure in column)
        if not length and metre is not None:
            length = metre.bar_length
        unfilled, broken_off = list(_unfilled(parts, index, number, length)), list(_broken_off(parts, index, number))
        bars.append(Bar(number, start, length, metre, fifths, mode, ends, unfilled, overfull, broken_off))
        start = checked_time(start + length, column[0].place)
    return bars


def _number(column: Sequence[Measure], before: Sequence[Bar]) -> int:
    stated = next((measure.number for measure in column if measure.number is not None), None)
    if stated is not None and (not before or stated > before[-1].number):
        return stated
    return before[-1].number + 1 if before else 1


def _agreed_metre(column: Sequence[Measure], number: int) -> Metre | None:
    stated = [measure.metre for measure in column if measure.metre is not None]
    if len({metre.bar_length for metre in stated}) > 1:
        raise Unreadable(f"the parts have different time signatures in bar {number}", place=column[0].place)
    return stated[0] if stated else None


def _joined(bars: Sequence[Bar]) -> list[Bar]:
    """The bars, with two that fill one together (a repeat in the middle of it) made one."""
    joined: list[Bar] = []
    for index, found in enumerate(bars):
        bar = replace(found, number=found.number - (index - len(joined)))
        last = joined[-1] if joined else None
        if last is not None and _belong_together(last, bar) and not (len(joined) == 1 and last.number == 0):
            joined[-1] = replace(last, length=last.length + bar.length, ends_exercise=bar.ends_exercise,
                                 unfilled=[*last.unfilled, *bar.unfilled],
                                 broken_off=[*last.broken_off, *bar.broken_off],
                                 overfull=[*last.overfull, *bar.overfull])  # fmt: skip
        else:
            joined.append(bar)
    return joined


def _belong_together(last: Bar, bar: Bar) -> bool:
    if last.metre is None or last.metre != bar.metre or last.ends_exercise:
        return False
    full = last.metre.bar_length
    return last.length < full and bar.length < full and last.length + bar.length == full


def _counted_from_one(bars: list[Bar]) -> list[Bar]:
    """Bars that a program counts from 0 though the first is no pickup."""
    first = bars[0]
    if first.number == 0 and (first.metre is None or first.length >= first.metre.bar_length):
        return [replace(bar, number=bar.number + 1) for bar in bars]
    return bars


def _staves(parts: Sequence[Part], starts: Sequence[Fraction]) -> Iterator[Staff]:
    named = [
        (part, line, f"{part.name or f'voice-{number}'}", place if len(part.lines) > 1 else 0)
        for number, part in enumerate(parts, 1)
        for place, line in enumerate(part.lines, 1)
    ]
    names = [_numbered(name, place) for _, _, name, place in named]
    total = 0
    for number, (part, line, _, _) in enumerate(named):
        name = names[number]
        items = [
            replace(item, onset=start + item.onset)
            for start, measure in zip(starts, part.measures, strict=False)
            for item in measure.lines.get(line, ())
        ]
        total += len(items)
        check_count(total, MAX_ITEMS, "notes and rests")
        items.sort(key=_onset)
        yield Staff(_numbered(name, number + 1) if names.count(name) > 1 else name, items, part.clefs.get(line))


def _numbered(name: str, number: int) -> str:
    """A name with a number behind it, before the mark of the cantus."""
    plain = name.removesuffix(_MARK)
    return f"{plain}-{number}{name[len(plain) :]}" if number else name


def _unfilled(parts: Sequence[Part], index: int, number: int, length: Fraction) -> Iterator[str]:
    """The parts whose measure holds less than the bar does; a rest fills a bar however long it is."""
    for place, measure in _column(parts, index):
        if measure.length < length and any(measure.sung()):
            yield _holds(parts, place, number, measure.length, length)


def _broken_off(parts: Sequence[Part], index: int, number: int) -> Iterator[str]:
    """The voices that end before the measure of the part does that they share with others."""
    for place, measure in _column(parts, index):
        lines = parts[place].lines
        for line, items in measure.lines.items() if len(lines) > 1 else ():
            end = max(item.onset + item.length for item in items)
            if end < measure.length and any(item.pitch is not None for item in items):
                yield _holds(parts, place, number, end, measure.length, lines.index(line) + 1)


def _overfull(parts: Sequence[Part], index: int, number: int, metre: Metre) -> Iterator[str]:
    """The parts that only rest where the bar should end; their rests there are cut. A bar longer in all parts is meant.

    Programs write the rest of a bar into each of its layers, and then one after the other.
    """
    full = metre.bar_length
    column = list(_column(parts, index))
    if any(item.onset + item.length > full for _, measure in column for item in measure.sung()):
        return
    if all(measure.length > full for _, measure in column):
        return
    for place, measure in column:
        if measure.length > full:
            yield _holds(parts, place, number, measure.length, full)
            measure.cut_rests(full)


def _column(parts: Sequence[Part], index: int) -> Iterator[tuple[int, Measure]]:
    """The measures of a bar, with the place of their part."""
    return ((place, part.measures[index]) for place, part in enumerate(parts) if index < len(part.measures))


def _holds(parts: Sequence[Part], place: int, number: int, length: Fraction, full: Fraction, voice: int = 0) -> str:
    name = _numbered(parts[place].name.removesuffix(_MARK) or f"voice-{place + 1}", voice)
    return f"bar {number} of ‘{name}’ holds {length} of {full} quarter notes"


# ---- cutting exercises from it -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Section:
    """The bars of one exercise in a sheet."""

    sheet: Sheet
    bars: Sequence[Bar]
    title: str
    options: ReadOptions

    def exercises(self) -> list[Exercise]:
        """The exercise, or those over its cantus; a stretch without notes is none."""
        begin, end = self.bars[0].start, self.bars[-1].start + self.bars[-1].length
        staves = [replace(staff, items=_between(staff.items, begin, end)) for staff in self.sheet.staves]
        heard = [staff for staff in staves if any(item.pitch is not None or item.mistake for item in staff.items)]
        if not heard:
            return []
        metre, said = _metre(self.bars)
        self._check(metre, heard)
        if len(self.bars) > 1 and self.bars[0].length < metre.bar_length:
            begin -= metre.bar_length - self.bars[0].length
            said.append(f"pickup: bar {self.bars[0].number} is short; rests fill it at the start")
        if unfilled := [words for bar in self.bars for words in (*bar.unfilled, *bar.broken_off)]:
            said.append(f"not full: {listed(unfilled)}; rests fill them")
        if overfull := [words for bar in self.bars for words in bar.overfull]:
            said.append(f"too full: {listed(overfull)}; the rests beyond are left out")
        said += [*self.sheet.said, *self._left_out(staves, heard)]
        voices = [self._voice(staff, begin) for staff in heard]
        return self._settled(voices, metre, said)

    def _settled(self, voices: list[Voice], metre: Metre, said: list[str]) -> list[Exercise]:
        first = self.bars[0]
        voices, cantus = _unmarked(voices if self.sheet.ordered else _by_height(voices))
        mode, fifths = first.mode, first.fifths
        if not self.sheet.spelled:
            mode, reasons = self._mode_of_semitones(voices)
            said += reasons
            voices = [_respelled(voice, mode) for voice in voices]
        known = Known(first.number, mode, fifths, cantus, said=said)
        return settled(self.title, voices, metre, self.options, known)

    def _mode_of_semitones(self, voices: Sequence[Voice]) -> tuple[Mode, list[str]]:
        """The mode to spell notes in that come without letters, and what to say of it."""
        mode, reasons = stated_mode(self.options), list[str]()
        if mode is None:
            try:
                mode, reason = infer_mode(voices, None, spelled=False)
            except ValueError as error:
                raise Unreadable(f"the mode cannot be worked out: {error}", "state the mode") from error
            reasons = [reason]
        return mode, [*reasons, f"spelling: MIDI has none; the notes are spelled as in {mode}"]

    def _left_out(self, staves: Sequence[Staff], heard: Sequence[Staff]) -> Iterator[str]:
        silent = ", ".join(f"‘{staff.name}’" for staff in staves if staff not in heard)
        if silent:
            yield f"silent: {silent}, left out"
        graces = [self._bar_at(item.onset) for staff in heard for item in staff.items if item.is_grace]
        if graces:
            yield f"grace notes: left out in {listed(graces)}"

    def _check(self, metre: Metre, staves: Sequence[Staff]) -> None:
        """Bars that are not full or too full are so in all parts, no voice is a chord, and there is not too much.

        The first bar may be a pickup and the last may end early, or late in some parts.
        """
        if len(staves) > MAX_VOICES or sum(len(staff.items) for staff in staves) > MAX_EVENTS:
            raise Unreadable(f"an exercise may have {MAX_VOICES} voices and {MAX_EVENTS} notes and rests, no more")
        mistakes = [(staff.name, item) for staff in staves for item in staff.items if item.mistake]
        if mistakes:
            words = [f"{self._bar_at(item.onset)} of ‘{name}’ has {item.mistake}" for name, item in mistakes]
            hint = "a voice has one note at a time, and of a known pitch"
            raise Unreadable("; ".join(words[:_MOST_NAMED]), hint, mistakes[0][1].place)
        for bar in self.bars[:-1]:
            if bar.unfilled and (bar.length > bar.full or (bar.length < bar.full and bar is not self.bars[0])):
                words = (
                    f"bar {bar.number} has {bar.length} quarter notes in place of {bar.full}, but not in all parts: "
                )
                raise Unreadable(words + listed(bar.unfilled), "a bar of another length is so in all parts")

    def _voice(self, staff: Staff, begin: Fraction) -> Voice:
        """The events of a voice, with rests where the score has nothing."""
        events: list[Event] = []
        time = begin
        for item in staff.items:
            if item.is_grace:
                continue
            if item.onset < time:
                words = f"{self._bar_at(item.onset)} of ‘{staff.name}’: two notes sound at once, or the bar is too full"
                raise Unreadable(words, place=item.place)
            if item.onset > time:
                events.append(Event(None, item.onset - time))
            if item.pitch is not None and item.length > MAX_NOTE:
                words = f"{self._bar_at(item.onset)} of ‘{staff.name}’ has a note of {item.length} quarter notes"
                raise Unreadable(words, "no notation has a sign for so long a note; tie shorter ones", item.place)
            if item.length:
                events.append(Event(item.pitch, item.length, item.tie))
            time = item.onset + item.length
        return Voice(staff.name, with_sound_ties(events), compass_of(staff.name), staff.clef)

    def _bar_at(self, time: Fraction) -> str:
        starts = [bar.start for bar in self.bars]
        return f"bar {self.bars[max(bisect_right(starts, time) - 1, 0)].number}"


def _chosen_bars(bars: Sequence[Bar], chosen: tuple[int, int]) -> Sequence[Bar]:
    numbers = [bar.number for bar in bars]
    first, last = chosen
    if first not in numbers or last not in numbers or first > last:
        raise Unreadable(f"there are no bars {first} to {last}; the score has {numbers[0]} to {numbers[-1]}")
    return bars[numbers.index(first) : len(numbers) - numbers[::-1].index(last)]


def _metre(bars: Sequence[Bar]) -> tuple[Metre, list[str]]:
    """The metre of an exercise with the bars that differ, and what to say of it.

    A short first bar is a pickup and is filled, a short last one ends the piece; both are as long as the others here.
    """
    first = bars[0].metre or ALLA_BREVE
    said = [] if bars[0].metre else [f"time: {first}, for the score has no time signature"]
    in_force = Bars(Fraction(0), 1, first.beats, first.unit, first.bar_length)
    changes: list[Bars] = []
    time, odd, signed = Fraction(0), list[str](), list[str]()
    for number, bar in enumerate(bars, 1):
        metre = bar.metre or ALLA_BREVE
        at_end = number in (1, len(bars)) and bar.length < bar.full
        length = bar.full if at_end else bar.length
        if (metre.beats, metre.unit) != (in_force.beats, in_force.unit):
            signed.append(f"{metre} from bar {bar.number}")
        if not at_end and bar.length != bar.full:
            odd.append(f"bar {bar.number} holds {bar.length} of {bar.full} quarter notes")
        here = Bars(time, number, metre.beats, metre.unit, length)
        if (here.beats, here.unit, here.length) != (in_force.beats, in_force.unit, in_force.length):
            in_force = here
            changes.append(here)
        time += length
    said += [f"time: {listed(signed)}"] if signed else []
    said += [f"bars of other lengths: {listed(odd)}"] if odd else []
    return replace(first, changes=tuple(changes)), said


def _between(items: Sequence[Item], begin: Fraction, end: Fraction) -> Sequence[Item]:
    """The items that begin in a stretch of time; there may be many stretches, so none looks at all items."""
    first, last = (bisect_left(items, time, key=_onset) for time in (begin, end))
    return items[first:last]


def _onset(item: Item) -> Fraction:
    return item.onset


def _unmarked(voices: Sequence[Voice]) -> tuple[list[Voice], int | None]:
    """The voices without the mark of the cantus in a name, and the index of the one marked."""
    found = [index for index, voice in enumerate(voices) if voice.name.endswith(_MARK)]
    plain = [voice.name.removesuffix(_MARK) for voice in voices]
    named = [replace(voice, name=name, compass=compass_of(name)) for voice, name in zip(voices, plain, strict=True)]
    return named, found[0] if found else None


def _by_height(voices: Sequence[Voice]) -> list[Voice]:
    """The voices from the highest on the whole."""

    def mean(voice: Voice) -> Fraction:
        pitches = [event.pitch for event in voice.events if event.pitch is not None]
        return Fraction(sum(pitches), len(pitches))

    return sorted(voices, key=mean, reverse=True)


def _respelled(voice: Voice, mode: Mode) -> Voice:
    events = (e if e.pitch is None else replace(e, pitch=mode.spell(semitone(e.pitch))) for e in voice.events)
    return replace(voice, events=tuple(events))
