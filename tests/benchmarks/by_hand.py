"""Checks of note against note in two voices written by hand with music21's voice-leading classes.

About what the strict ruleset says of two voices, as one would write it without a rule language. The
findings are told as (check, bar) and serve to see that the checks do find something.
"""

import itertools
from collections.abc import Iterator, Sequence

from music21 import interval, note
from music21.voiceLeading import VoiceLeadingQuartet

Found = tuple[str, int]


def check(upper: Sequence[note.Note], lower: Sequence[note.Note], counterpoint_is_upper: bool) -> list[Found]:
    """Everything that is wrong with two voices of equal length."""
    line = upper if counterpoint_is_upper else lower
    return [*_intervals(upper, lower), *_moves(upper, lower), *_line(line), *_ends(upper, lower)]


def _intervals(upper: Sequence[note.Note], lower: Sequence[note.Note]) -> Iterator[Found]:
    thirds = sixths = wide = perfect = imperfect = 0
    for bar, (high, low) in enumerate(zip(upper, lower, strict=True), 1):
        between = interval.Interval(low, high)
        inner = 1 < bar < len(upper)
        if between.semiSimpleName not in ("P1", "P5", "P8", "m3", "M3", "m6", "M6"):
            yield "dissonance", bar
        if between.specifier.name in ("AUGMENTED", "DIMINISHED"):
            yield "altered", bar
        if inner and between.name == "P1":
            yield "unison", bar
        if high.pitch < low.pitch:
            yield "crossing", bar
        thirds = thirds + 1 if between.generic.semiSimpleUndirected == 3 else 0
        sixths = sixths + 1 if between.generic.semiSimpleUndirected == 6 else 0
        wide = wide + 1 if abs(between.semitones) > 16 else 0
        perfect += inner and between.generic.perfectable
        imperfect += inner and not between.generic.perfectable
        if thirds > 3:
            yield "thirds", bar
        if sixths > 3:
            yield "sixths", bar
        if wide > 2:
            yield "spacing", bar
    if len(upper) > 3 and imperfect <= perfect:
        yield "imperfect", 0


def _moves(upper: Sequence[note.Note], lower: Sequence[note.Note]) -> Iterator[Found]:
    parallel = contrary = direct = 0
    for bar in range(2, len(upper) + 1):
        move = VoiceLeadingQuartet(upper[bar - 2], upper[bar - 1], lower[bar - 2], lower[bar - 1])
        if move.parallelFifth() or move.parallelUnisonOrOctave():
            yield "parallels", bar
        if move.hiddenFifth() or move.hiddenOctave():
            yield "direct", bar
        if move.antiParallelMotion():
            yield "same perfect", bar
        if move.voiceOverlap():
            yield "overlap", bar
        if move.noMotion():
            yield "stillness", bar
        if (move.similarMotion() or move.parallelMotion()) and _leaps(move.hIntervals):
            yield "leap together", bar
        for one, other in ((move.v1n1, move.v2n2), (move.v2n1, move.v1n2)):
            if one.step == other.step and one.pitch.alter != other.pitch.alter:
                yield "cross-relation", bar
        parallel = parallel + 1 if move.parallelMotion() else 0
        contrary += move.contraryMotion()
        direct += move.parallelMotion() or move.similarMotion()
        if parallel > 3:
            yield "shadow", bar
    if contrary < direct:
        yield "contrary", 0


def _leaps(steps: Sequence[interval.Interval]) -> bool:
    return all(step.generic.undirected > 2 for step in steps)


def _line(line: Sequence[note.Note]) -> Iterator[Found]:
    steps = [interval.Interval(one, other) for one, other in itertools.pairwise(line)]
    repeated = in_one_direction = 0
    for bar, step in enumerate(steps, 2):
        if step.directedName not in ("P1", "P-1") and step.generic.undirected > 2:
            singable = step.name in ("m3", "M3", "P4", "P5", "P8") or step.directedName == "m6"
            if not singable:
                yield "leap", bar
        if step.isChromaticStep and step.generic.undirected == 1:
            yield "chromatic", bar
        repeated = repeated + 1 if step.name == "P1" else 0
        if repeated > 1:
            yield "repetition", bar
        if bar > 2 and step.generic.undirected == 2 and steps[bar - 3].direction == step.direction:
            in_one_direction += 1
        else:
            in_one_direction = 0
        if in_one_direction > 4:
            yield "steps in a row", bar
    for bar, (one, other) in enumerate(itertools.pairwise(steps), 3):
        if one.generic.undirected > 4 and not (other.generic.undirected == 2 and other.direction != one.direction):
            yield "unrecovered", bar
        if one.direction == other.direction and min(one.generic.undirected, other.generic.undirected) > 2:
            outer = interval.add([one, other])
            if outer.generic.simpleUndirected in (2, 7):
                yield "leaps together", bar
    pitches = [sounding.pitch for sounding in line]
    if interval.Interval(min(pitches), max(pitches)).semitones > 16:
        yield "range", 0
    if pitches.count(max(pitches)) > 1:
        yield "climax", 0
    if max(pitches) in (pitches[0], pitches[-1]):
        yield "climax at an end", 0
    leaps = sum(step.generic.undirected > 2 for step in steps)
    if leaps >= sum(step.generic.undirected == 2 for step in steps):
        yield "steps", 0


def _ends(upper: Sequence[note.Note], lower: Sequence[note.Note]) -> Iterator[Found]:
    if interval.Interval(lower[0], upper[0]).semiSimpleName not in ("P1", "P5", "P8"):
        yield "opening", 1
    if interval.Interval(lower[-1], upper[-1]).semiSimpleName not in ("P1", "P8"):
        yield "ending", len(upper)
    if interval.Interval(lower[-2], upper[-2]).generic.simpleUndirected not in (3, 6):
        yield "close", len(upper) - 1
