"""Humdrum files with ``**kern`` spines. Source: the Humdrum User Guide, chapters 2 and 5, and the kern reference."""

import re
from dataclasses import dataclass, field
from fractions import Fraction

from rulekit.exercise.formats import signs
from rulekit.exercise.limits import MAX_BARS, MAX_ITEMS, MAX_PARTS
from rulekit.exercise.model import Clef, Metre
from rulekit.exercise.reading import (
    NOWHERE,
    Place,
    Unreadable,
    check_count,
    checked_time,
    clean_name,
    text_lines,
)
from rulekit.exercise.sheet import Item, Measure, Part, Sheet, put_together
from rulekit.music.mode import church_mode
from rulekit.music.pitch import LETTERS, Pitch

_NAME = "kern"
_HINT = "a file of kern has a column for each voice, headed **kern"
_RHYTHM = re.compile(r"(\d{1,4})(?:%(\d{1,4}))?(\.{0,3})")
_PITCH = re.compile(r"([a-g]{1,7}|[A-G]{1,7})(#{1,3}|-{1,3}|n)?")
_BAR = re.compile(r"=+(\d{1,6})?[a-z]?(.*)")
_TIME = re.compile(r"\*M(\d[^/]*)/(.*)")
_CLEF = re.compile(r"\*clef([GFC])(v{0,2}|\^{0,2})(\d)")
_SIGNATURE = re.compile(r"\*k\[((?:[a-g][#n-]{1,2}){0,7})\]")
_MODES = {"dor": "dorian", "phr": "phrygian", "lyd": "lydian", "mix": "mixolydian", "aeo": "aeolian", "ion": "ionian"}
_LONG = {"0": Fraction(8), "00": Fraction(16), "000": Fraction(32)}


def read_kern(data: bytes, path: str) -> list[Sheet]:
    """The score of a file."""
    reader = _Reader()
    for number, line in enumerate(text_lines(data), 1):
        reader.read(number, line)
    return [reader.sheet()]


@dataclass(slots=True)
class _Column:
    """A part: what its spines say of it. ``lines`` counts the voices that it has at most."""

    name: str = ""
    short: str = ""
    clef: Clef | None = None
    measures: list[Measure] = field(default_factory=list[Measure])
    lines: int = 1


@dataclass(slots=True)
class _Spine:
    """A column of the file as it stands now: its part if it is kern, and when its note ends."""

    part: _Column | None
    end: Fraction = Fraction(0)


@dataclass(slots=True)
class _Reader:
    """Reads line after line; all spines go through the same bars."""

    spines: list[_Spine] = field(default_factory=list[_Spine])
    parts: list[_Column] = field(default_factory=list[_Column])
    title: str = ""
    begun: bool = False
    time: Fraction = Fraction(0)
    bar_start: Fraction = Fraction(0)
    repeats: list[str] = field(default_factory=list[str])
    items: int = 0

    def read(self, number: int, line: str) -> None:
        """Read the next line."""
        if line.startswith("!!!OTL") and not self.title:
            self.title = line.partition(":")[2]
        if not line.strip() or line.startswith("!!"):
            return
        fields = line.split("\t")
        place = Place(number)
        if not self.begun:
            self._begin(fields, place)
            return
        if len(fields) != len(self.spines):
            words = f"this line has {len(fields)} columns in place of {len(self.spines)}"
            raise Unreadable(words, "columns are parted by one tab each", place)
        if line.startswith("*"):
            self._read_interpretations(fields, place)
        elif line.startswith("="):
            self._read_bar_line(fields[0], place)
        elif not line.startswith("!"):
            self._read_notes(fields, place)

    def sheet(self) -> Sheet:
        """What was read, the leftmost spine lowest."""
        if not self.parts:
            raise Unreadable(f"this cannot be read as {_NAME}", _HINT)
        self._close_bar(None)
        parts: list[Part] = []
        for column in reversed(self.parts):
            lines = [str(number) for number in range(column.lines)]
            clefs = {line: column.clef for line in lines if column.clef}
            parts.append(Part(column.name or column.short, column.measures, lines, clefs))
        return put_together(self.title, parts, repeats=self.repeats)

    def _begin(self, fields: list[str], place: Place) -> None:
        """The line that says what each column is."""
        if not all(field.startswith("**") for field in fields) or len(fields) > MAX_PARTS:
            raise Unreadable(f"this cannot be read as {_NAME}", _HINT, place)
        for kind in fields:
            part = _Column(measures=[Measure(place=place)]) if kind == "**kern" else None
            self.spines.append(_Spine(part))
            self.parts += [part] if part is not None else []
        self.begun = True

    # Interpretations

    def _read_interpretations(self, fields: list[str], place: Place) -> None:
        if any(field in ("*^", "*v", "*x", "*+", "*-") for field in fields):
            self._change_spines(fields, place)
            return
        for spine, word in zip(self.spines, fields, strict=True):
            if spine.part is not None:
                self._read_word(spine.part, word, place)

    def _change_spines(self, fields: list[str], place: Place) -> None:
        """Spines that split, join, change places or end."""
        spines: list[_Spine] = []
        joining: list[_Spine] = []
        crossing: list[int] = []
        for spine, word in zip(self.spines, fields, strict=True):
            if word == "*v" and joining and joining[-1].part is spine.part:
                joining[-1].end = max(joining[-1].end, spine.end)
                continue
            joining = [spine] if word == "*v" else []
            match word:
                case "*-":
                    continue
                case "*^":
                    spines += [spine, _Spine(spine.part, spine.end)]
                case "*+":
                    raise Unreadable("a column that begins in the middle is not read", place=place)
                case "*x":
                    crossing.append(len(spines))
                    spines.append(spine)
                case _:
                    spines.append(spine)
        if len(crossing) == 2:
            one, other = crossing
            spines[one], spines[other] = spines[other], spines[one]
        elif crossing:
            raise Unreadable("two columns change places, no more and no less", place=place)
        check_count(len(spines), MAX_PARTS, "columns", place)
        self.spines = spines
        for part in self.parts:
            part.lines = max(part.lines, sum(spine.part is part for spine in spines))

    def _read_word(self, part: _Column, word: str, place: Place) -> None:
        measure = part.measures[-1]
        if word.startswith('*I"'):
            part.name = part.name or clean_name(word[3:])
        elif word.startswith("*I'"):
            part.short = part.short or clean_name(word[3:])
        elif time := _TIME.fullmatch(word):
            measure.metre = self._metre(measure, signs.metre(time[1], time[2], place), place)
        elif signature := _SIGNATURE.fullmatch(word):
            measure.fifths = signature[1].count("#") - signature[1].count("-")
        elif clef := _CLEF.fullmatch(word):
            octaves = len(clef[2]) * (1 if "^" in clef[2] else -1)
            part.clef = part.clef or signs.clef(clef[1], int(clef[3]), octaves)
        elif (found := re.fullmatch(r"\*[A-Ga-g][#-]*:([a-z]{3})", word)) and measure.fifths is not None:
            measure.mode = church_mode(_MODES.get(found[1], ""), measure.fifths)

    def _metre(self, measure: Measure, metre: Metre, place: Place) -> Metre:
        if self.time != self.bar_start:
            raise Unreadable("the time signature changes in the middle of a bar", place=place)
        return metre

    # Bars

    def _read_bar_line(self, word: str, place: Place) -> None:
        found = _BAR.fullmatch(word)
        number = int(found[1]) if found and found[1] else None
        style = found[2] if found else ""
        ends = word.startswith("==") or "||" in style
        if ":" in style or "!:" in style:
            self.repeats.append(f"line {place.line}")
            ends = False
        if self.time == self.bar_start:
            self._number(number)
        else:
            self._close_bar(place, ends)
            self._number(number)

    def _number(self, number: int | None) -> None:
        """The number of the bar that begins; a pickup before it is one less."""
        for part in self.parts:
            part.measures[-1].number = number if number is not None else part.measures[-1].number
            if len(part.measures) == 2 and part.measures[0].number is None and number is not None:
                part.measures[0].number = max(number - 1, 0)

    def _close_bar(self, place: Place | None, ends: bool = False) -> None:
        """End the bar here; ``place`` is None at the end of the file."""
        for part in self.parts:
            check_count(len(part.measures), MAX_BARS, "bars", place or NOWHERE)
            part.measures[-1].length = self.time - self.bar_start
            part.measures[-1].ends_exercise = ends
            if place is not None:
                part.measures.append(Measure(place=place))
            elif not part.measures[-1].length:
                part.measures.pop()
        self.bar_start = self.time

    # Notes

    def _read_notes(self, fields: list[str], place: Place) -> None:
        """A line of notes that begin together; the time goes on to where the next of them ends."""
        counted: dict[int, int] = {}
        silent: list[int] = []
        for column, (spine, written) in enumerate(zip(self.spines, fields, strict=True), 1):
            if spine.part is None:
                continue
            line = counted[id(spine.part)] = counted.get(id(spine.part), -1) + 1
            if written != ".":
                self._read_field(spine, written, str(line), Place(place.line, column))
            elif spine.end <= self.time and line == 0:
                silent.append(column)
        ends = [spine.end for spine in self.spines if spine.part is not None and spine.end > self.time]
        if ends and silent:
            raise Unreadable(f"nothing sounds in column {silent[0]}", "write a rest, such as 1r", place)
        if ends:
            self.time = checked_time(min(ends), place)

    def _read_field(self, spine: _Spine, written: str, line: str, place: Place) -> None:
        if spine.end > self.time:
            raise Unreadable(f"in column {place.column} this begins before the note before it ends", place=place)
        assert spine.part is not None
        self.items += 1
        check_count(self.items, MAX_ITEMS, "notes and rests", place)
        item = _item(written, self.time - self.bar_start, place)
        spine.part.measures[-1].lines.setdefault(line, []).append(item)
        spine.end = checked_time(self.time + item.length, place)


def _item(written: str, onset: Fraction, place: Place) -> Item:
    """The note, rest or chord of a field."""
    words = written.split()
    if any(sign in written for sign in "qQ"):
        return Item(onset, Fraction(0), is_grace=True, place=place)
    length = _length(written, place)
    if "r" in words[0]:
        return Item(onset, length, place=place)
    if len(words) > 1:
        return Item(onset, length, mistake=signs.chord([_pitch(word)[0] for word in words]), place=place)
    pitch, mistake = _pitch(written)
    return Item(onset, length, pitch, "[" in written or "_" in written, mistake, place=place)


def _length(written: str, place: Place) -> Fraction:
    found = _RHYTHM.search(written)
    if found is None:
        raise Unreadable(f"‘{clean_name(written)}’ has no length", "such as 1 for a whole note: 1d", place)
    if set(found[1]) == {"0"}:
        if found[1] not in _LONG:
            raise Unreadable("there is no such length", place=place)
        plain = _LONG[found[1]]
    else:
        plain = Fraction(4 * int(found[2] or 1), int(found[1]))
    if not plain:
        raise Unreadable("a note must have a length", place=place)
    return plain * (2 - Fraction(1, 2 ** len(found[3])))


def _pitch(written: str) -> tuple[Pitch | None, str]:
    found = _PITCH.search(written)
    if found is None or len(set(found[1])) > 1:
        return None, "a note whose pitch cannot be read"
    letters, accidental = found[1], found[2] or ""
    octave = 3 + len(letters) if letters.islower() else 4 - len(letters)
    alter = accidental.count("#") - accidental.count("-")
    return signs.sounding(LETTERS.index(letters[0].upper()), alter, octave)
