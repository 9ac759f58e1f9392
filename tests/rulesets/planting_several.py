"""Mistakes put into sound exercises in three and four voices.

The ways of ``planting`` work on any two voices. What is here says on which, and adds what only several can do wrong.
"""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from rulekit.exercise.model import Event, Exercise
from rulekit.music.pitch import Pitch, between, interval_of, simple, steps
from tests.rulesets.planting import BAR, SHORTEST, Line, Planted, Way, inside

ENTIRE = frozenset((Fraction(BAR),))


def lines_of(exercise: Exercise) -> list[Line]:
    """Each voice but the cantus beside each other one."""
    every = range(len(exercise.voices))
    return [Line(exercise, at, other) for at in every if at != exercise.cantus for other in every if other != at]


# ---- on which voices ------------------------------------------------------------------------------


def sounding(exercise: Exercise, time: Fraction) -> list[Pitch | None]:
    """What each voice has at a time, None where it rests."""
    return [
        next((event.pitch for start, event in voice.placed() if start <= time < start + event.length), None)
        for voice in exercise.voices
    ]


def on_bass(exercise: Exercise, line: Line, time: Fraction) -> bool:
    """Whether one of two voices is the lowest that sounds at a time; of two in unison the lower written one is."""
    heard = [(pitch, -voice) for voice, pitch in enumerate(sounding(exercise, time)) if pitch is not None]
    return -min(heard)[1] in (line.at, line.other)


def with_bass(way: Way) -> Way:
    """Only where one of the voices is the bass when the mistake is made."""
    return _where(way, lambda line, spoilt, time: on_bass(spoilt, line, time))


def above_bass(way: Way) -> Way:
    """Only where both voices are above the bass when the mistake is made."""
    return _where(way, lambda line, spoilt, time: not on_bass(spoilt, line, time))


def outer(way: Way) -> Way:
    """Between the highest and the lowest voice."""
    return _between(way, lambda line, lowest: {line.at, line.other} == {0, lowest})


def outer_and_inner(way: Way) -> Way:
    """Between an inner voice and an outer one."""
    return _between(way, lambda line, lowest: len({line.at, line.other} & {0, lowest}) == 1)


def unclean(way: Way) -> Way:
    """Only where the two voices come to a second or a seventh; a fourth above the bass is none."""

    def kept(line: Line, spoilt: Exercise, time: Fraction) -> bool:
        heard = sounding(spoilt, time)
        one, other = heard[line.at], heard[line.other]
        return one is not None and other is not None and steps(simple(between(one, other))) in (1, 6)

    return _where(way, kept)


def inner(way: Way) -> Way:
    """Between the inner voices of four."""
    return _between(way, lambda line, lowest: not {line.at, line.other} & {0, lowest})


def neighbours(way: Way) -> Way:
    return _between(way, lambda line, lowest: abs(line.at - line.other) == 1)


def alone(way: Way) -> Way:
    """Beside one voice only, for what no other voice has a part in."""
    return _between(way, lambda line, lowest: line.other == int(line.at == 0))


def in_three(way: Way) -> Way:
    return _between(way, lambda line, lowest: lowest == 2)


def in_bass(way: Way) -> Way:
    """In the lowest voice."""
    return _between(alone(way), lambda line, lowest: line.at == lowest)


def over_bass(way: Way) -> Way:
    """In a higher voice, beside the lowest."""
    return _between(way, lambda line, lowest: line.other == lowest)


def moving(way: Way) -> Way:
    """In a voice that has more than one note in most bars."""
    return lambda line, number: way(line, number) if _moves(line) else None


def _moves(line: Line) -> bool:
    return 2 * sum(not note.strong for note in line.notes) > line.last_bar


def still(way: Way) -> Way:
    """In a voice that goes in whole notes."""
    return lambda line, number: way(line, number) if lengths(line) == ENTIRE else None


def lengths(line: Line) -> frozenset[Fraction]:
    return frozenset(note.end - note.start for note in line.notes)


def _between(way: Way, kept: Callable[[Line, int], bool]) -> Way:
    return lambda line, number: way(line, number) if kept(line, len(line.exercise.voices) - 1) else None


def _where(way: Way, kept: Callable[[Line, Exercise, Fraction], bool]) -> Way:
    def plant(line: Line, number: int) -> Planted:
        made = way(line, number)
        if made is None:
            return None
        spoilt, time = made
        return made if kept(line, spoilt, line.notes[number].start if time is None else time) else None

    return plant


# ---- chords ---------------------------------------------------------------------------------------


def over_the_bass(exercise: Exercise, time: Fraction) -> set[int]:
    """The sizes of the intervals over the lowest note, within the octave: 0 for the octave, 2 for the third."""
    heard = [pitch for pitch in sounding(exercise, time) if pitch is not None]
    return {steps(simple(between(min(heard), pitch))) % 7 for pitch in heard}


def emptied(line: Line, number: int) -> Planted:
    """The only third or sixth over the bass moved to its fifth or octave."""
    note = line.notes[number]
    if not inside(line, number) or not note.strong or not on_bass(line.exercise, line, note.start):
        return None
    if any(each and start < note.start < start + length for start, length, each in _notes(line.exercise)):
        return None
    for name in ("P8", "P5", "P12"):
        spoilt = line.put({number: line.beside(name, note.start)})
        if not over_the_bass(spoilt, note.start) & {2, 5} and on_bass(spoilt, line, note.start):
            return spoilt, note.start
    return None


def _notes(exercise: Exercise) -> list[tuple[Fraction, Fraction, bool]]:
    """Every note, with what is tied to it: its start, its length, and that it is no rest."""
    found: list[tuple[Fraction, Fraction, bool]] = []
    for voice in exercise.voices:
        tied: tuple[Fraction, Fraction] | None = None
        for start, event in voice.placed():
            begun, before = tied or (start, Fraction(0))
            tied = (begun, before + event.length) if event.tie else None
            if not event.tie:
                found.append((begun, before + event.length, event.pitch is not None))
    return found


def doubled_leading_note(line: Line, number: int) -> Planted:
    """The leading note of another voice, an octave or more away, where both begin a note or the other has one."""
    mode, note = line.exercise.mode, line.notes[number]
    there = line.against(note.start)
    if not inside(line, number) or mode is None or not mode.is_leading(there):
        return None
    octaves = [Pitch(there + times * interval_of("P8")) for times in (-2, -1, 0, 1, 2)]
    return line.put({number: min(octaves, key=lambda pitch: abs(pitch - note.pitch))}), note.start


def bass_at(place: int, interval: str) -> Way:
    """The bass so far under its first or last note."""

    def plant(line: Line, number: int) -> Planted:
        if number != place % len(line.notes):
            return None
        note = line.notes[number]
        return line.put({number: note.pitch - interval_of(interval)}), note.start

    return plant


# ---- how voices move --------------------------------------------------------------------------------


def uncovered(way: Way) -> Way:
    """Only where no licence holds: the upper voice leaps, and the chord lacks its third or its fifth."""

    def kept(line: Line, spoilt: Exercise, time: Fraction) -> bool:
        upper = min(line.at, line.other)
        now, before = (sounding(spoilt, when)[upper] for when in (time, time - SHORTEST))
        leapt = now is not None and before is not None and abs(steps(between(before, now))) > 1
        return leapt and not over_the_bass(spoilt, time) >= {2, 4}

    return _where(way, kept)


def leaping_three(line: Line, number: int) -> Planted:
    """A leap the way that two other voices leap."""
    note = line.notes[number]
    if not inside(line, number) or not note.strong:
        return None
    now, before = (sounding(line.exercise, when) for when in (note.start, note.start - SHORTEST))
    moves = [steps(between(was, there)) for was, there in zip(before, now, strict=True) if was and there]
    del moves[line.at]
    for way in (1, -1):
        if sum(way * move > 1 for move in moves) == 2:
            return line.put({number: line.notes[number - 1].pitch + way * interval_of("M3")}), note.start
    return None


def repeated_five_times(line: Line, number: int) -> Planted:
    """A note five times, and no more."""
    if not inside(line, number, 5):
        return None
    pitch = line.notes[number - 4].pitch
    if pitch in (line.notes[number - 5].pitch, line.notes[number + 1].pitch):
        return None
    return line.put(dict.fromkeys(range(number - 3, number + 1), pitch)), line.notes[number].start


# ---- ties -------------------------------------------------------------------------------------------


def tied_against(*intervals: str) -> Way:
    """A tied note a second or seventh from a voice that strikes on the downbeat, and leaping on from there."""

    def plant(line: Line, number: int) -> Planted:
        note = line.notes[number]
        downbeat = Fraction((note.end - 1) // BAR * BAR)
        if not inside(line, number) or not note.tied or note.strong or line.notes[number + 1].start != downbeat + 2:
            return None
        if line.against(downbeat) == line.against(downbeat - SHORTEST):
            return None
        pitch = line.beside(intervals[number % len(intervals)], downbeat)
        return line.put({number: pitch, number + 1: pitch - interval_of("P4")}), downbeat

    return plant


# ---- rhythm -----------------------------------------------------------------------------------------


def silent_bar(line: Line, number: int) -> Planted:
    """A rest in place of a whole note."""
    note = line.notes[number]
    if not inside(line, number) or note.end - note.start != BAR or not note.strong:
        return None
    (place,) = note.events
    return line.written([*line.events[:place], Event(None, Fraction(BAR)), *line.events[place + 1 :]]), note.start


def in_quarters(line: Line, number: int) -> Planted:
    """A half note as two quarters, in a voice of half notes."""
    note = line.notes[number]
    if not inside(line, number) or note.end - note.start != 2 or lengths(line) != {Fraction(2), Fraction(4)}:
        return None
    return _as_two(line, number), note.start


def in_halves(line: Line, number: int) -> Planted:
    """Two quarters from a beat as one half note, in a voice of quarter notes."""
    note = line.notes[number]
    if not inside(line, number, 1, 2) or lengths(line) != {Fraction(1), Fraction(4)} or note.start % 2:
        return None
    first, second = note.events[0], line.notes[number + 1].events[0]
    if second != first + 1:
        return None
    half = replace(line.events[first], length=Fraction(2))
    return line.written([*line.events[:first], half, *line.events[second + 1 :]]), note.start


def _as_two(line: Line, number: int) -> Exercise:
    note = line.notes[number]
    (place,) = note.events
    half = line.events[place].length / 2
    two = [Event(note.pitch, half), Event(Pitch(note.pitch - interval_of("M2")), half)]
    return line.written([*line.events[:place], *two, *line.events[place + 1 :]])
