"""An exercise as MEI, with an id on every written note, for the engraver.

A written note is a piece: a long note is cut at the bar lines and where it has no single sign, its parts tied.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from html import escape
from itertools import pairwise

from rulekit.exercise.figures import Figures, figures
from rulekit.exercise.model import Bars, Clef, Exercise, Metre
from rulekit.music.pitch import LETTERS, Pitch, alteration, letter, octave, step

_PLAIN = {Fraction(8): "breve"} | {Fraction(4, 2**n): str(2**n) for n in range(9)}
_SIGNS = {
    length * part: (name, dots) for length, name in _PLAIN.items() for dots, part in enumerate((1, Fraction(3, 2)))
}
_ACCIDENTALS = {-3: "tf", -2: "ff", -1: "f", 0: "n", 1: "s", 2: "x", 3: "ts"}
_SOUNDING = {**_ACCIDENTALS, 2: "ss"}
_SHARPS, _FLATS = (3, 0, 4, 1, 5, 2, 6), (6, 2, 5, 1, 4, 0, 3)
_LONGEST_LABEL = 12
_WIDEST_SYLLABLE, _WIDEST_FIGURE = "sol♯", "10"
_ROOT = '<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0">'


@dataclass(frozen=True, slots=True)
class Piece:
    """A written note or (pitch None) rest: its id, its voice from 0 at the top, and where it stands in quarter notes.

    ``note`` is the number of the sounding note it belongs to, from 0 in its voice, None for a rest;
    ``tied`` says that a tie goes on from it; ``open`` is the number of a note still to be found, which is written
    as a rest, counted with the sounding ones.
    """

    id: str
    voice: int
    onset: Fraction
    length: Fraction
    pitch: Pitch | None
    note: int | None
    tied: bool = False
    open: int | None = None


def pieces(exercise: Exercise, voice: int) -> list[Piece]:
    """The written notes and rests of a voice."""
    made: list[Piece] = []
    time, note, going, open_ = Fraction(0), -1, False, 0
    events = exercise.voices[voice].events
    for number, event in enumerate(events):
        follows = events[number + 1].pitch if number + 1 < len(events) else None
        tied = event.tie and event.pitch is not None and follows == event.pitch
        if event.pitch is not None and not going:
            note += 1
        before = events[number - 1] if number else None
        open_ += event.open and not (before is not None and before.open and before.tie)
        left = note + open_ if event.open else None
        parts = list(_parts(time, event.length, exercise.metre))
        for index, (onset, length) in enumerate(parts):
            held = event.pitch is not None and (index < len(parts) - 1 or tied)
            own = None if event.pitch is None else note
            made.append(Piece(f"v{voice}p{len(made)}", voice, onset, length, event.pitch, own, held, left))
        time, going = time + event.length, tied
    return made


def _parts(onset: Fraction, length: Fraction, metre: Metre) -> Iterator[tuple[Fraction, Fraction]]:
    """A length cut at bar lines and into lengths that have a sign, the longest first."""
    while length > 0:
        room = metre.end_of(onset) - onset
        part = _longest(min(length, room))
        yield onset, part
        onset, length = onset + part, length - part


@cache
def _longest(length: Fraction) -> Fraction:
    """The longest part of a length that has a sign, by itself or in a tuplet."""
    odd = length.denominator
    while odd % 2 == 0:
        odd //= 2
    stretch = Fraction(odd, 2 ** (odd.bit_length() - 1))
    return max((known for known in _SIGNS if known <= length * stretch), default=length * stretch) / stretch


@dataclass(frozen=True, slots=True)
class Figured:
    """The figures of a moment over the lowest of some voices, which are measured with each other only."""

    id: str
    voices: tuple[int, ...]
    figures: Figures


def figured(exercise: Exercise, together: Sequence[tuple[int, ...]]) -> Iterator[Figured]:
    """The figures of each group of voices in an exercise; voices count from the highest written, 0."""
    for group, voices in enumerate(together):
        part = replace(exercise, voices=tuple(exercise.voices[voice] for voice in voices))
        for number, each in enumerate(figures(part)):
            yield Figured(f"f{group}n{number}", voices, each)


def mei(
    exercise: Exercise,
    clefs: Sequence[Clef],
    *,
    breaks: Sequence[int] = (),
    figured: Sequence[Figured] = (),
    sung: bool = True,
    measured: bool = True,
) -> str:
    """The exercise in MEI, each voice on a staff of its own in its clef.

    ``breaks`` are the bars, from 1, that begin a new line; ``figured`` and ``sung`` leave room for figures and for
    syllables under every staff; not ``measured``, no time signature is shown.
    """
    numbers = range(1, exercise.setting.bars + 1)
    written = [pieces(exercise, voice) for voice in range(len(exercise.voices))]
    bars = "".join(
        "<sb/>" * (n in breaks) + _signed(exercise, n) * measured + _bar(exercise, written, n, figured, sung)
        for n in numbers
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n{_ROOT}<meiHead><fileDesc><titleStmt>'
        f"<title>{escape(_printable(exercise.title))}</title></titleStmt><pubStmt/></fileDesc></meiHead>"
        f"<music><body><mdiv><score>{_heading(exercise, clefs, measured)}<section>{bars}</section>"
        "</score></mdiv></body></music></mei>"
    )


def _printable(text: str) -> str:
    return "".join(sign for sign in text if sign.isprintable())


def _heading(exercise: Exercise, clefs: Sequence[Clef], measured: bool) -> str:
    staves = "".join(
        f'<staffDef n="{number}" lines="5" clef.shape="{clef.shape}" clef.line="{clef.line}"{_octaves(clef)}>'
        f"<label>{escape(_label(voice.name))}</label></staffDef>"
        for number, (voice, clef) in enumerate(zip(exercise.voices, clefs, strict=True), 1)
    )
    signature = _metre(exercise.metre.at(Fraction(0))) if measured else ""
    return (
        f'<scoreDef {signature} keysig="{_signature(exercise.mode.signature)}">'
        f'<staffGrp bar.thru="true">{staves}</staffGrp></scoreDef>'
    )


def _label(name: str) -> str:
    """The label of a staff, no longer than there is room for."""
    text = _printable(name)
    return text if len(text) <= _LONGEST_LABEL else f"{text[: _LONGEST_LABEL - 1]}…"


def _octaves(clef: Clef) -> str:
    """A clef that sounds one octave or two lower or higher."""
    if not clef.octaves:
        return ""
    return f' clef.dis="{7 * abs(clef.octaves) + 1}" clef.dis.place="{"above" if clef.octaves > 0 else "below"}"'


def _signed(exercise: Exercise, number: int) -> str:
    """The time signature of a bar, where it is not that of the bar before."""
    time = exercise.metre.start_of(number)
    now, before = exercise.metre.at(time), exercise.metre.at(max(time - Fraction(1, 1000), Fraction(0)))
    return f"<scoreDef {_metre(now)}/>" if (now.beats, now.unit) != (before.beats, before.unit) else ""


def _metre(metre: Bars) -> str:
    """The time signature; alla breve has its sign."""
    unit = 4 / metre.unit
    count = metre.beats
    while unit.denominator > 1:
        unit, count = unit * unit.denominator, count * unit.denominator
    sign = ' meter.sym="cut"' if (count, unit) == (2, 2) else ""
    return f'meter.count="{count}" meter.unit="{unit}"{sign}'


def _signature(fifths: int) -> str:
    return f"{abs(fifths)}{'s' if fifths > 0 else 'f'}" if fifths else "0"


def _bar(
    exercise: Exercise, written: Sequence[Sequence[Piece]], number: int, figured: Sequence[Figured], sung: bool
) -> str:
    """One bar: its number counts from 1 whatever the exercise calls its first."""
    start, end = exercise.metre.start_of(number), exercise.metre.start_of(number + 1)
    last = ' right="end"' if number == exercise.setting.bars else ""
    staves = "".join(
        f'<staff n="{voice + 1}"><layer n="1">{_layer(exercise, line, start, end, sung)}</layer></staff>'
        for voice, line in enumerate(written)
    )
    harm = "".join(_harm(each, start, exercise.metre) for each in figured if start <= each.figures.time < end)
    return f'<measure n="{number}" xml:id="bar{number}"{last}>{staves}{harm}</measure>'


def _layer(exercise: Exercise, line: Sequence[Piece], start: Fraction, end: Fraction, sung: bool) -> str:
    inside = [piece for piece in line if start <= piece.onset < end]
    ties = {piece.id for before, piece in pairwise(line) if before.tied}
    force = dict(enumerate(_own_signs(exercise.mode.signature)))
    events = [_event(piece, piece.id in ties, force, sung) for piece in inside]
    filled = inside[-1].onset + inside[-1].length if inside else start
    if not inside:
        return "<mSpace/>"
    if filled < min(end, exercise.setting.length):
        room = min(end, exercise.setting.length) - filled
        events += [_timed("space", "", length) for _, length in _parts(filled, room, exercise.metre)]
    return "".join(events)


def _own_signs(fifths: int) -> list[int]:
    """What the signature makes of each letter, in semitones."""
    order = _SHARPS if fifths > 0 else _FLATS
    signed = order[: abs(fifths)]
    return [(1 if fifths > 0 else -1) * (letter_ in signed) for letter_ in range(7)]


def _event(piece: Piece, continued: bool, force: dict[int, int], sung: bool) -> str:
    if piece.pitch is None:
        return _timed("rest", f' xml:id="{piece.id}"', piece.length)
    tie = {(True, True): "m", (True, False): "t", (False, True): "i"}.get((continued, piece.tied))
    pitch = piece.pitch
    tied = f' tie="{tie}"' if tie else ""
    place = f' pname="{LETTERS[letter(pitch)].lower()}" oct="{octave(pitch)}"'
    fields = f' xml:id="{piece.id}"{place}{_accidental(pitch, continued, force)}{tied}'
    syllable = f'<verse n="1"><syl>{_WIDEST_SYLLABLE}</syl></verse>' if sung and not continued else ""
    return _timed("note", fields, piece.length, syllable)


def _timed(tag: str, fields: str, length: Fraction, inner: str = "") -> str:
    """A note, rest or space of a length; one whose length only a tuplet has stands in a tuplet of its own."""
    odd = length.denominator
    while odd % 2 == 0:
        odd //= 2
    if odd == 1:
        return f"<{tag}{fields} {_length(length)}>{inner}</{tag}>"
    base = 2 ** (odd.bit_length() - 1)
    written = length * odd / base
    return f'<tuplet num="{odd}" numbase="{base}"><{tag}{fields} {_length(written)}>{inner}</{tag}></tuplet>'


def _accidental(pitch: Pitch, continued: bool, force: dict[int, int]) -> str:
    """The sign a note needs where it stands: none where one in its bar, the signature or a tie says it already."""
    place, alteration_ = step(pitch), alteration(pitch)
    if continued or force.get(place + 7, force[place % 7]) == alteration_:
        return f' accid.ges="{_SOUNDING[alteration_]}"' if alteration_ else ""
    force[place + 7] = alteration_
    return f' accid="{_ACCIDENTALS[alteration_]}"'


def _length(length: Fraction) -> str:
    name, dots = _SIGNS.get(length, ("1", 0))
    return f'dur="{name}"' + (f' dots="{dots}"' if dots else "")


def _harm(figured: Figured, start: Fraction, metre: Metre) -> str:
    """Room for figures over a staff."""
    beat = (figured.figures.time - start) * _beats_per_quarter(metre.at(start)) + 1
    rows = "".join(f"<f>{_WIDEST_FIGURE}</f>" for _ in figured.voices[1:])
    place = f'xml:id="{figured.id}" staff="{figured.voices[-1] + 1}" tstamp="{float(beat):.6f}" place="above"'
    return f"<harm {place}><fb>{rows}</fb></harm>"


def _beats_per_quarter(metre: Bars) -> Fraction:
    """How many of the written metre's units a quarter note is."""
    unit = 4 / metre.unit
    while unit.denominator > 1:
        unit *= unit.denominator
    return unit / 4
