"""Mistakes put into sound exercises: a line beside another voice, and ways to spoil it at a note.

Every way is a function of a line and the number of a note. It gives the spoilt exercise and where (at which time, None
for the whole) the mistake must be told, or None where it can't be made there.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from rulekit.exercise.model import Event, Exercise
from rulekit.music.pitch import Pitch, between, interval_name, interval_of, pitch_of, semitones, simple, steps

Planted = tuple[Exercise, Fraction | None] | None
Way = Callable[["Line", int], Planted]
BAR = 4  # quarter notes
SHORTEST = Fraction(1, 2)
DISSONANT = frozenset("m2 M2 P4 m7 M7".split())


@dataclass(frozen=True, slots=True)
class Class:
    """A class of mistakes: its name, how it is made, and for species (as letters) the rules of which one tells it."""

    name: str
    way: Way
    rules: dict[str, str]

    def rule(self, species: str) -> set[str]:
        return {rule for where, rules in self.rules.items() if species in where for rule in rules.split(", ")}


@dataclass(frozen=True, slots=True)
class Sung:
    """A note of the line: its pitch, when it begins and ends, and the events that write it."""

    pitch: Pitch
    start: Fraction
    end: Fraction
    events: range

    @property
    def strong(self) -> bool:
        return self.start % BAR == 0

    @property
    def tied(self) -> bool:
        """Over the bar line."""
        return self.start // BAR < (self.end - 1) // BAR


@dataclass(frozen=True)
class Line:
    """One voice of an exercise, and another beside it: in two voices the counterpoint and the cantus."""

    exercise: Exercise
    at: int
    other: int

    @property
    def above(self) -> bool:
        return self.at < self.other

    @property
    def events(self) -> tuple[Event, ...]:
        return self.exercise.voices[self.at].events

    @cached_property
    def notes(self) -> tuple[Sung, ...]:
        found: list[Sung] = []
        time, first = Fraction(0), 0
        for number, event in enumerate(self.events):
            time += event.length
            if event.tie:
                continue
            if event.pitch is not None:
                length = sum((each.length for each in self.events[first : number + 1]), Fraction(0))
                found.append(Sung(event.pitch, time - length, time, range(first, number + 1)))
            first = number + 1
        return tuple(found)

    @property
    def last_bar(self) -> int:
        """The number of the last bar, from 0."""
        return int(self.notes[-1].start // BAR)

    @cached_property
    def _sung_beside(self) -> tuple[tuple[Fraction, Pitch], ...]:
        placed = self.exercise.voices[self.other].placed()
        return tuple((start, event.pitch) for start, event in placed if event.pitch is not None)

    @property
    def together(self) -> Fraction:
        """From when on both voices sound."""
        return max(self.notes[0].start, self._sung_beside[0][0])

    def against(self, time: Fraction) -> Pitch:
        """What the other voice has at a time; before it begins, its first note."""
        sung = self._sung_beside
        return [pitch for start, pitch in sung if start <= max(time, sung[0][0])][-1]

    def beside(self, interval: str, time: Fraction) -> Pitch:
        """The pitch so far from the other voice, on the side where this one is."""
        away = interval_of(interval)
        return Pitch(self.against(time) + (away if self.above else -away))

    def apart(self, pitch: Pitch, time: Fraction) -> str:
        """The interval between a pitch and the other voice, within the octave."""
        return interval_name(simple(between(self.against(time), pitch)))

    def moves(self, number: int) -> int:
        """Which way the other voice goes at the beginning of a note: 1, -1, or 0 where it does not."""
        now = self.notes[number].start
        return direction(between(self.against(now - SHORTEST), self.against(now))) if now > self.together else 0

    def put(self, pitches: Mapping[int, Pitch | int]) -> Exercise:
        """The exercise with other pitches at some notes."""
        events = list(self.events)
        for number, pitch in pitches.items():
            for event in self.notes[number].events:
                events[event] = replace(events[event], pitch=Pitch(pitch))
        return self.written(events)

    def written(self, events: Sequence[Event]) -> Exercise:
        """The exercise with another counterpoint."""
        voices = list(self.exercise.voices)
        voices[self.at] = replace(voices[self.at], events=tuple(events))
        return replace(self.exercise, voices=tuple(voices))


def counterpoint(exercise: Exercise) -> Line:
    """The counterpoint of an exercise in two voices, beside its cantus."""
    cantus = exercise.cantus or 0
    return Line(exercise, 1 - cantus, cantus)


def direction(interval: int) -> int:
    return (interval > 0) - (interval < 0)


def inside(line: Line, number: int, before: int = 1, after: int = 1) -> bool:
    """Whether so many notes stand before and after it, and both voices have begun."""
    return before <= number < len(line.notes) - after and line.notes[number - before].end > line.together


def on_the_beat(line: Line, number: int) -> bool:
    """Whether both voices begin a note there, and the note before is not far away in time."""
    return inside(line, number) and line.notes[number].strong and line.moves(number) != 0


# ---- leaps and steps of the line ------------------------------------------------------------------


def leap(interval: str, way: int = 1) -> Way:
    """To a note by an interval, up (1) or down (-1)."""

    def plant(line: Line, number: int) -> Planted:
        if not inside(line, number):
            return None
        return line.put({number: line.notes[number - 1].pitch + way * interval_of(interval)}), line.notes[number].start

    return plant


def run(*intervals: str, told: int) -> Way:
    """From a note by one interval after another (‘-’ before it: down); told at the note so many after it."""

    def plant(line: Line, number: int) -> Planted:
        if not inside(line, number, 0, len(intervals)):
            return None
        pitch, pitches = line.notes[number].pitch, dict[int, Pitch | int]()
        for after, name in enumerate(intervals, 1):
            away = interval_of(name.lstrip("-"))
            pitch = Pitch(pitch + (-away if name.startswith("-") else away))
            pitches[number + after] = pitch
        return line.put(pitches), line.notes[number + told].start

    return plant


def foreign(line: Line, number: int) -> Planted:
    """A note of the mode raised, or if the mode raises it at the close, lowered."""
    note, mode = line.notes[number], line.exercise.mode
    if not inside(line, number) or mode is None or note.start // BAR >= line.last_bar - 1:
        return None
    degree, altered = mode.place(note.pitch)
    if altered or degree in (6, 7):
        return None
    return line.put({number: note.pitch + interval_of("A1")}), note.start


def two_forms_of_b(line: Line, number: int) -> Planted:
    """B flat, a note, and B."""
    if not inside(line, number, 0, 2):
        return None
    low = pitch_of("Bb2" if line.notes[number].pitch < pitch_of("F3") else "Bb3")
    flat = Pitch(low if line.notes[number].pitch < pitch_of("F4") else low + interval_of("P8"))
    pitches: dict[int, Pitch | int] = {number: flat, number + 1: flat - interval_of("m2")}
    return line.put({**pitches, number + 2: flat + interval_of("A1")}), line.notes[number + 2].start


def out_of_range(line: Line, number: int) -> Planted:
    """A thirteenth over the lowest note."""
    if not inside(line, number):
        return None
    return line.put({number: min(note.pitch for note in line.notes) + interval_of("M13")}), None


def again(line: Line, number: int) -> Planted:
    """The note before struck again, though it is not the resolution of a tied note before its time."""
    if not inside(line, number, 2):
        return None
    two, one = (line.notes[number - before].pitch for before in (2, 1))
    if steps(between(two, one)) == -1:
        return None
    return line.put({number: one}), line.notes[number].start


def third_time(line: Line, number: int) -> Planted:
    """A note three times, and no more."""
    if not inside(line, number, 3):
        return None
    pitch = line.notes[number - 2].pitch
    if line.notes[number - 3].pitch == pitch:
        return None
    return line.put({number - 1: pitch, number: pitch}), line.notes[number].start


# ---- what sounds with the other voice ------------------------------------------------------------------


def struck(*intervals: str) -> Way:
    """On the downbeat, where both voices begin, an interval."""

    def plant(line: Line, number: int) -> Planted:
        if not on_the_beat(line, number):
            return None
        time = line.notes[number].start
        return line.put({number: line.beside(intervals[number % len(intervals)], time)}), time

    return plant


def at_end(interval: str, number: int) -> Way:
    """At the first or last note an interval."""

    def plant(line: Line, place: int) -> Planted:
        if place != number % len(line.notes):
            return None
        time = line.notes[number].start
        return line.put({number: line.beside(interval, time)}), time

    return plant


def below(way: Way) -> Way:
    """Only where the line lies below the other voice."""
    return lambda line, number: None if line.above else way(line, number)


def perfects(first: str, second: str, motion: int) -> Way:
    """Into a downbeat from one perfect consonance to another, going with the other voice (1) or against it (-1)."""

    def plant(line: Line, number: int) -> Planted:
        if not on_the_beat(line, number):
            return None
        time = line.notes[number].start
        before, now = line.beside(first, time - SHORTEST), line.beside(second, time)
        if direction(now - before) != motion * line.moves(number):
            return None
        return line.put({number - 1: before, number: now}), time

    return plant


def hidden(interval: str) -> Way:
    """A perfect consonance reached by both voices going one way, from where the line was."""

    def plant(line: Line, number: int) -> Planted:
        if not on_the_beat(line, number):
            return None
        time, before = line.notes[number].start, line.notes[number - 1].pitch
        now = line.beside(interval, time)
        if direction(now - before) != line.moves(number) or line.apart(before, time - SHORTEST)[0] == "P":
            return None
        return line.put({number: now}), time

    return plant


def from_beat(beat: int, interval: str) -> Way:
    """The same perfect consonance on a beat (0 or 2) and on the downbeat after it, a step between."""

    def plant(line: Line, number: int) -> Planted:
        now = line.notes[number]
        on = [n for n, note in enumerate(line.notes) if note.start == now.start - BAR + beat]
        if not on_the_beat(line, number) or not on or number - on[0] < 2:
            return None
        (first,) = on
        start = line.beside(interval, line.notes[first].start)
        pitches: dict[int, Pitch | int] = {first: start, number: line.beside(interval, now.start)}
        pitches[first + 1] = start + interval_of("M2")
        return line.put(pitches), now.start

    return plant


def in_a_row(interval: str) -> Way:
    """Four of an interval on end, after another."""

    def plant(line: Line, number: int) -> Planted:
        if not inside(line, number, 4):
            return None
        before = line.notes[number - 4]
        if line.apart(before.pitch, before.start)[1] == interval[1]:
            return None
        row = range(number - 3, number + 1)
        return line.put({n: line.beside(interval, line.notes[n].start) for n in row}), line.notes[number].start

    return plant


def leaping_together(line: Line, number: int) -> Planted:
    """Both voices leap one way."""
    if not on_the_beat(line, number):
        return None
    now, before = line.notes[number], line.notes[number - 1]
    if abs(steps(between(line.against(now.start - SHORTEST), line.against(now.start)))) < 2:
        return None
    return line.put({number: before.pitch + line.moves(number) * interval_of("M3")}), now.start


def crossing(line: Line, number: int) -> Planted:
    """A third beyond the other voice."""
    if not inside(line, number):
        return None
    away = interval_of("m3")
    time = line.notes[number].start
    return line.put({number: line.against(time) + (-away if line.above else away)}), time


def overlapping(line: Line, number: int) -> Planted:
    """Between where the other voice was and where it leaps away to."""
    if not on_the_beat(line, number):
        return None
    time = line.notes[number].start
    was, now = line.against(time - SHORTEST), line.against(time)
    away = direction(now - was)
    crossed = (line.notes[number - 1].pitch < was) == line.above
    if abs(steps(between(was, now))) < 2 or (away < 0) != line.above or crossed:
        return None
    return line.put({number: was + away * interval_of("M2")}), time


def far_apart(line: Line, number: int) -> Planted:
    """A thirteenth between neighbours on three downbeats in a row, after a nearer one."""
    on = [n for n, note in enumerate(line.notes[: number + 1]) if note.strong]
    if not inside(line, number) or len(on) < 4 or on[-1] != number or line.notes[on[-4]].end <= line.together:
        return None
    bars = [line.notes[n].start // BAR for n in on[-4:]]
    first = line.notes[on[-4]]
    if bars != list(range(int(bars[0]), int(bars[0]) + 4)) or _wide(line, first.pitch, first.start):
        return None
    return line.put({n: line.beside("M13", line.notes[n].start) for n in on[-3:]}), line.notes[number].start


def _wide(line: Line, pitch: Pitch, time: Fraction) -> bool:
    return abs(between(line.against(time), pitch)) > interval_of("M10")


def false_relation(line: Line, number: int) -> Planted:
    """What the other voice has just left, altered."""
    if not on_the_beat(line, number):
        return None
    time = line.notes[number].start
    return line.put({number: line.against(time - SHORTEST) + interval_of("A8")}), time


# ---- dissonance off the downbeat ----------------------------------------------------------------------


def dissonances(line: Line, time: Fraction) -> list[Pitch]:
    """Dissonant pitches of two octaves on the side of the counterpoint."""
    return [line.beside(name, time) for name in ("M2", "P4", "m7", "M9", "P11", "m14")]


def leapt_to(line: Line, number: int) -> Planted:
    """A dissonance off the downbeat, reached by a fourth or more."""
    now = line.notes[number]
    if not inside(line, number) or now.strong:
        return None
    before = line.notes[number - 1].pitch
    far = [pitch for pitch in dissonances(line, now.start) if 3 <= abs(steps(between(before, pitch))) <= 7]
    return (line.put({number: far[number % len(far)]}), now.start) if far else None


def stepped_to(onward: str) -> Way:
    """A dissonance off the downbeat reached by step, and left by an interval on (in its direction) or (‘-’) back."""

    def plant(line: Line, number: int) -> Planted:
        now = line.notes[number]
        if not inside(line, number, 1, 1) or now.strong:
            return None
        before = line.notes[number - 1].pitch
        for pitch in dissonances(line, now.start):
            away = between(before, pitch)
            if abs(steps(away)) == 1 and abs(semitones(away)) in (1, 2):
                on = direction(away) * interval_of(onward.lstrip("-")) * (-1 if onward.startswith("-") else 1)
                return line.put({number: pitch, number + 1: pitch + on}), now.start
        return None

    return plant


def with_accent(way: Way) -> Way:
    """Only on the half bar, and where the note before it is no longer than a quarter."""

    def plant(line: Line, number: int) -> Planted:
        start = line.notes[number].start
        accented = start % BAR == 2 and number and line.notes[number - 1].start == start - 1
        return way(line, number) if accented else None

    return plant


def tied_over(way: Way) -> Way:
    """Only at notes that are tied over the bar line, from off the downbeat."""

    def plant(line: Line, number: int) -> Planted:
        note = line.notes[number]
        return way(line, number) if note.tied and not note.strong else None

    return plant


def resolved_by(interval: str) -> Way:
    """A suspended dissonance that goes on by another interval on the half bar."""

    def plant(line: Line, number: int) -> Planted:
        note = line.notes[number]
        downbeat = Fraction((note.end - 1) // BAR * BAR)
        if not inside(line, number) or not note.tied or line.notes[number + 1].start != downbeat + 2:
            return None
        if line.apart(note.pitch, downbeat) not in DISSONANT:
            return None
        away = interval_of(interval.lstrip("-")) * (-1 if interval.startswith("-") else 1)
        return line.put({number + 1: note.pitch + away}), downbeat

    return plant


def tied_into(interval: str) -> Way:
    """A note tied into a downbeat where it stands at an interval."""

    def plant(line: Line, number: int) -> Planted:
        note = line.notes[number]
        downbeat = Fraction((note.end - 1) // BAR * BAR)
        if not inside(line, number) or not note.tied or note.strong:
            return None
        return line.put({number: line.beside(interval, downbeat)}), downbeat

    return plant


def put_off(line: Line, number: int) -> Planted:
    """Octaves from upbeat to upbeat, the second put off by a tie."""
    note = line.notes[number]
    downbeat = Fraction((note.end - 1) // BAR * BAR)
    if not inside(line, number) or not note.tied or note.strong or line.notes[number + 1].start != downbeat + 2:
        return None
    octave, next_one = line.beside("P8", note.start), line.beside("P8", downbeat)
    if steps(between(octave, next_one)) != -1:
        return None
    return line.put({number: octave, number + 1: next_one}), downbeat


def late_cambiata(line: Line, number: int) -> Planted:
    """A cambiata that begins on the second or fourth quarter, so that its dissonance has the accent."""
    if not inside(line, number, 0, 3) or any(note.end - note.start != 1 for note in line.notes[number : number + 3]):
        return None
    if line.notes[number].start % 2 != 1 or line.notes[number + 1].strong:
        return None
    time = line.notes[number + 1].start
    for second in dissonances(line, time):
        first = second + interval_of("M2")
        if line.apart(Pitch(first), line.notes[number].start) in ("P5", "P8", "m3", "M3", "m6", "M6"):
            third = second - interval_of("m3")
            return line.put({number: first, number + 1: second, number + 2: third, number + 3: third + 258}), time
    return None


# ---- rhythm ---------------------------------------------------------------------------------------


def split(line: Line, number: int) -> Planted:
    """A note as two of half its length, the second a step away."""
    note = line.notes[number]
    if not inside(line, number, 0, 0) or len(note.events) > 1:
        return None
    (place,) = note.events
    half = line.events[place].length / 2
    two = [Event(note.pitch, half), Event(Pitch(note.pitch + interval_of("M2")), half)]
    return line.written([*line.events[:place], *two, *line.events[place + 1 :]]), note.start


def split_end(line: Line, number: int) -> Planted:
    return split(line, number) if number == len(line.notes) - 1 else None


def split_inside(line: Line, number: int) -> Planted:
    return split(line, number) if number < len(line.notes) - 1 else None


def silent(line: Line, number: int) -> Planted:
    """A rest in place of a note, in a bar where another begins."""
    note = line.notes[number]
    bar = [n for n in line.notes if n.start // BAR == note.start // BAR]
    if not inside(line, number) or note.tied or (len(bar) == 1 and not note.strong):
        return None
    return _without(line, number), note.start


def silent_after_a_tie(line: Line, number: int) -> Planted:
    """A rest in place of what follows a note that is tied into the bar."""
    if not inside(line, number) or not line.notes[number - 1].tied or not line.notes[number + 1].strong:
        return None
    return _without(line, number), line.notes[number + 1].start


def _without(line: Line, number: int) -> Exercise:
    own = line.notes[number].events
    rests = [Event(None, line.events[place].length) for place in own]
    return line.written([*line.events[: own.start], *rests, *line.events[own.stop :]])


def whole_bar(line: Line, number: int) -> Planted:
    """One whole note in place of all that fills a bar."""
    note = line.notes[number]
    bar = [n for n in line.notes if n.start // BAR == note.start // BAR]
    end = note.start + BAR
    if not note.strong or note.start // BAR >= line.last_bar - 1 or bar[-1].end != end or len(bar) < 2:
        return None
    first, last = bar[0].events[0], bar[-1].events[-1]
    whole = Event(note.pitch, Fraction(BAR))
    return line.written([*line.events[:first], whole, *line.events[last + 1 :]]), note.start


def late_entry(line: Line, number: int) -> Planted:
    """A rest for the whole first bar."""
    if number:
        return None
    later = next(note for note in line.notes if note.start >= BAR)
    if any(note.start < BAR < note.end for note in line.notes):
        later = next(note for note in line.notes if note.start > BAR)
    rests = [Event(None, Fraction(BAR))] + ([Event(None, later.start - BAR)] if later.start > BAR else [])
    return line.written([*rests, *line.events[later.events[0] :]]), later.start


def tie_left_out(line: Line, number: int) -> Planted:
    """The tie into the last bar but one left out, and another note struck there."""
    note = line.notes[number]
    if not note.tied or (note.end - 1) // BAR != line.last_bar - 1:
        return None
    events = list(line.events)
    *_, before, after = note.events
    events[before] = replace(events[before], tie=False)
    events[after] = replace(events[after], pitch=Pitch(note.pitch - interval_of("M2")))
    return line.written(events), Fraction((line.last_bar - 1) * BAR)


def tied_to_the_end(line: Line, number: int) -> Planted:
    """The last note struck a half note before its bar, and tied over."""
    if number != len(line.notes) - 2:
        return None
    note, last = line.notes[number], line.notes[-1]
    events = list(line.events)
    for event in note.events:
        events[event] = replace(events[event], pitch=last.pitch)
    events[note.events[-1]] = replace(events[note.events[-1]], tie=True)
    return line.written(events), note.start


# ---- the close ------------------------------------------------------------------------------------------


def leading_note(line: Line) -> int | None:
    """The number of the last leading note."""
    mode = line.exercise.mode
    found = [n for n, note in enumerate(line.notes) if mode is not None and mode.is_leading(note.pitch)]
    return found[-1] if found and found[-1] == len(line.notes) - 2 else None


def not_raised(line: Line, number: int) -> Planted:
    """The last note but one a tone under the final."""
    if number != leading_note(line):
        return None
    return line.put({number: line.notes[number].pitch - interval_of("A1")}), line.notes[number].start


def not_rising(line: Line, number: int) -> Planted:
    """The leading note falls."""
    if number != leading_note(line):
        return None
    return line.put({number + 1: line.notes[number].pitch - interval_of("M3")}), line.notes[number].start


def other_close(line: Line, number: int) -> Planted:
    """A fifth before the end."""
    if number != len(line.notes) - 2:
        return None
    time = line.notes[number].start
    return line.put({number: line.beside("P5", time)}), time
