"""MusicXML, plain and compressed. Source: MusicXML 4.0, the specification of the W3C Music Notation Community Group."""

import io
import re
import zipfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import chain, pairwise
from math import lcm
from xml.etree import ElementTree

from rulekit.exercise.formats import signs
from rulekit.exercise.formats.xml import Node, parse
from rulekit.exercise.infer import names_cantus
from rulekit.exercise.limits import MAX_BARS, MAX_ITEMS, MAX_PARTS, MAX_SCORE_BYTES, MAX_VOICES
from rulekit.exercise.model import Bars, Clef, Exercise, Metre, Voice
from rulekit.exercise.reading import NOWHERE, Unreadable, check_count, checked_time, clean_name, only
from rulekit.exercise.sheet import Item, Measure, Part, Sheet, put_together
from rulekit.music.mode import church_mode
from rulekit.music.pitch import LETTERS, UNISON, Interval, Pitch, alteration, letter, make_interval, make_pitch, octave

_NAME, _HINT = "MusicXML", "export it again, as MusicXML"
_ENDINGS = ("light-light", "light-heavy", "heavy-heavy", "heavy-light")
_NUMBER = re.compile(r"-?\d{1,9}(?:\.\d{1,6})?")
_ROOT = "META-INF/container.xml"
_TEMPO_JUMPS = ("dacapo", "dalsegno", "tocoda")


def read_musicxml(data: bytes, path: str) -> list[Sheet]:
    """The score of a plain file."""
    root = parse(data, _NAME, _HINT)
    if root.name not in ("score-partwise", "score-timewise"):
        raise Unreadable(f"this cannot be read as {_NAME}", _HINT, root.place)
    return [_Score(root).sheet()]


def read_compressed(data: bytes, path: str) -> list[Sheet]:
    """The score in a compressed file."""
    return read_musicxml(unpacked(data)[1], path)


def unpacked(data: bytes) -> tuple[str, bytes]:
    """The name of the score in an archive and its content; what else is in it stays unread."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            name = _score_name(archive)
            with archive.open(name) as entry:
                content = entry.read(MAX_SCORE_BYTES + 1)
    except Unreadable:
        raise
    except Exception as error:  # zipfile raises errors of every kind for a broken archive
        raise Unreadable("this is not a compressed MusicXML file", _HINT) from error
    if len(content) > MAX_SCORE_BYTES:
        raise Unreadable(f"the score is larger than {MAX_SCORE_BYTES} bytes when unpacked")
    return name, content


def _score_name(archive: zipfile.ZipFile) -> str:
    """The score that the archive says it holds, else the first that looks like one."""
    names = archive.namelist()
    if _ROOT in names:
        with archive.open(_ROOT) as entry:
            root = parse(entry.read(100_000), _NAME, _HINT)
        stated = [node.get("full-path") for node in root.below() if node.name == "rootfile"]
        names = [name for name in stated if name in names] or names
    likely = [n for n in names if n.lower().endswith((".musicxml", ".xml")) and not n.startswith("META-INF")]
    if not likely:
        raise Unreadable("there is no score in this file", _HINT)
    return likely[0]


# ---- reading -------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Score:
    """A score while it is read."""

    root: Node
    repeats: list[str] = field(default_factory=list[str])

    def sheet(self) -> Sheet:
        """The whole of it."""
        names, rows = self._names(), list(self._measures())
        check_count(len(rows), MAX_PARTS, "parts", self.root.place)
        parts = [_PartReader(self, names.get(key, "")).read(measures) for key, measures in rows]
        return put_together(self._title(), parts, repeats=self.repeats)

    def _title(self) -> str:
        credits = [credit for credit in self.root.all("credit") if credit.words("credit-type") == "title"]
        found = [self.root.words("movement-title"), self.root.words("work", "work-title")]
        return next(filter(None, [*found, *(credit.words("credit-words") for credit in credits)]), "")

    def _names(self) -> dict[str, str]:
        """The name of each part, by its id."""
        listed = self.root.first("part-list")
        parts = listed.all("score-part") if listed is not None else ()
        return {part.get("id"): clean_name(_part_name(part)) for part in parts}

    def _measures(self) -> Iterator[tuple[str, list[tuple[Node, Node]]]]:
        """For each part its id and its measures: the element with the number, and the one with the notes."""
        if self.root.name == "score-partwise":
            for part in self.root.all("part"):
                yield part.get("id"), [(measure, measure) for measure in part.all("measure")]
            return
        rows: dict[str, list[tuple[Node, Node]]] = {}
        for measure in self.root.all("measure"):
            for part in measure.all("part"):
                rows.setdefault(part.get("id"), []).append((measure, part))
        yield from rows.items()


def _part_name(part: Node) -> str:
    instrument = part.first("score-instrument")
    own = instrument.words("instrument-name") if instrument is not None else ""
    return part.words("part-name") or own


@dataclass(slots=True)
class _Written:
    """A note with what decides which voice it belongs to."""

    voice: str
    staff: int
    item: Item
    chord: list[Pitch | None] = field(default_factory=list["Pitch | None"])


@dataclass(slots=True)
class _PartReader:
    """Reads the measures of a part, one after the other."""

    score: _Score
    name: str
    divisions: Fraction = Fraction(1)
    transposition: Interval = UNISON
    key_shift: int = 0
    clefs: dict[int, Clef] = field(default_factory=dict[int, Clef])
    written: list[list[_Written]] = field(default_factory=list[list[_Written]])
    measures: list[Measure] = field(default_factory=list[Measure])

    def read(self, measures: Sequence[tuple[Node, Node]]) -> Part:
        """The part."""
        check_count(len(measures), MAX_BARS, "bars", measures[-1][0].place if measures else NOWHERE)
        for stated, notes in measures:
            self._read_measure(stated, notes)
        keys = self._voices()
        for measure, row in zip(self.measures, self.written, strict=True):
            for note in row:
                measure.add(keys[note.voice, note.staff], note.item)
        lines = list(dict.fromkeys(keys.values()))
        staff_of = {line: staff for (_, staff), line in reversed(keys.items())}
        clefs = {line: self.clefs[staff] for line, staff in staff_of.items() if staff in self.clefs}
        return Part(self.name, self.measures, lines, clefs)

    def _voices(self) -> dict[tuple[str, int], str]:
        """The voice of the part that notes of a voice number and a staff belong to, from the top.

        A voice may go from one staff to the other; the same number on two staves at once is two voices.
        """
        staves: dict[str, Counter[int]] = {}
        for note in chain.from_iterable(self.written):
            staves.setdefault(note.voice, Counter())[note.staff] += 1
        if len(staves) > MAX_VOICES:
            raise Unreadable(f"a part may have {MAX_VOICES} voices, no more", place=self.measures[0].place)
        apart = {voice for voice, found in staves.items() if len(found) > 1 and self._at_once(voice)}
        home = {voice: found.most_common(1)[0][0] for voice, found in staves.items()}
        pairs = [(voice, staff) for voice, found in staves.items() for staff in found]
        pairs.sort(key=lambda pair: (pair[1] if pair[0] in apart else home[pair[0]], _in_order(pair[0])))
        return {(v, s): f"{v}/{s}" if v in apart else v for v, s in pairs}

    def _at_once(self, voice: str) -> bool:
        """Whether notes of a voice number sound on two staves at once."""
        for row in self.written:
            spans = sorted((n.item.onset, n.item.onset + n.item.length, n.staff) for n in row if n.voice == voice)
            if any(onset < end and staff != on for (_, end, on), (onset, _, staff) in pairwise(spans)):
                return True
        return False

    def _read_measure(self, stated: Node, notes: Node) -> None:
        measure = Measure(number=_bar_number(stated), place=stated.place)
        self.measures.append(measure)
        self.written.append([])
        check_count(sum(child.name == "note" for child in notes.children), MAX_ITEMS, "notes and rests", stated.place)
        _MeasureReader(self, measure, self.written[-1]).read(notes)

    def read_attributes(self, node: Node, measure: Measure) -> None:
        """Divisions, transposition, key, time and clefs."""
        divisions = _quantity(node.words("divisions"))
        if node.has("divisions"):
            if not divisions or divisions < 0:
                raise Unreadable("the divisions of a quarter note must be a number above 0", _HINT, node.place)
            self.divisions = divisions
        for transpose in node.all("transpose"):
            self._read_transposition(transpose)
        for key in node.all("key"):
            self._read_key(key, measure)
        for time in node.all("time"):
            measure.metre = _metre(time) or measure.metre
        for clef in node.all("clef"):
            number = int(_quantity(clef.get("number")) or 1)
            found = _clef(clef)
            if found is not None:
                self.clefs.setdefault(number, found)

    def _read_transposition(self, node: Node) -> None:
        chromatic, octaves = _whole(node.words("chromatic")), _whole(node.words("octave-change"))
        diatonic = _whole(node.words("diatonic")) if node.has("diatonic") else round(chromatic * 7 / 12)
        if max(abs(chromatic), abs(diatonic), abs(octaves)) > 48:
            raise Unreadable("a part that sounds more than four octaves away is not read", place=node.place)
        self.transposition = Interval(make_interval(diatonic, chromatic) + octaves * make_interval(7, 12))
        self.key_shift = 7 * chromatic - 12 * diatonic

    def _read_key(self, node: Node, measure: Measure) -> None:
        fifths = _quantity(node.words("fifths"))
        if fifths is None or fifths != int(fifths) or abs(fifths) > 7:
            return
        measure.fifths = int(fifths) + self.key_shift
        measure.mode = church_mode(node.words("mode"), measure.fifths)


@dataclass(slots=True)
class _MeasureReader:
    """Goes through one measure with a hand that moves on with each note, and back and forward as told."""

    part: _PartReader
    measure: Measure
    written: list[_Written]
    time: Fraction = Fraction(0)
    turns: int = 0
    last: _Written | None = None

    def read(self, notes: Node) -> None:
        """Read everything in it."""
        for node in notes.children:
            match node.name:
                case "note":
                    self._read_note(node)
                    continue
                case "backup":
                    self.time = max(self.time - self._length(node), Fraction(0))
                    self.turns += 1
                case "forward":
                    self._move(self._length(node), node)
                case "attributes":
                    self.part.read_attributes(node, self.measure)
                    continue
                case "barline":
                    self._read_bar_line(node)
                case "sound" | "direction":
                    self._read_jumps(node)
                    continue
                case _:
                    continue
            self.last = None

    def _move(self, length: Fraction, node: Node) -> None:
        self.time = checked_time(self.time + length, node.place)
        self.measure.length = max(self.measure.length, self.time)

    def _length(self, node: Node) -> Fraction:
        duration = _quantity(node.words("duration"))
        if duration is None or duration < 0:
            raise Unreadable("this has no duration that can be read", _HINT, node.place)
        return duration / self.part.divisions

    def _read_note(self, node: Node) -> None:
        voice = node.words("voice")[:20] or str(self.turns + 1)
        staff = _whole(node.words("staff")) or 1
        if node.has("grace"):
            if not node.has("chord"):
                item = Item(self.time, Fraction(0), is_grace=True, place=node.place)
                self.written.append(_Written(voice, staff, item))
            return
        if node.has("chord"):
            self._read_chord(node, voice, staff)
            return
        length = self._length(node)
        pitch, mistake = self._pitch(node)
        item = Item(self.time, length, pitch, _ties_on(node), mistake, place=node.place)
        self.last = _Written(voice, staff, item)
        self.written.append(self.last)
        self._move(length, node)

    def _read_chord(self, node: Node, voice: str, staff: int) -> None:
        """A further note of the chord that the note before it begins."""
        last = self.last
        if last is None or last.item.pitch is None:
            mistake = "a note marked as one of a chord, with no note before it"
            item = Item(self.time, Fraction(0), None, False, mistake, place=node.place)
            self.written.append(_Written(voice, staff, item))
            return
        if len(last.chord) >= MAX_VOICES:
            return
        last.chord.append(self._pitch(node)[0])
        last.item = replace(last.item, mistake=signs.chord([last.item.pitch, *last.chord]))

    def _pitch(self, node: Node) -> tuple[Pitch | None, str]:
        """The sounding pitch of a note, None for a rest, and what is wrong with it."""
        if node.has("rest") or node.has("cue"):
            return None, ""
        pitch = node.first("pitch")
        if pitch is None:
            return None, "a note without pitch"
        name, alter, height = pitch.words("step"), _quantity(pitch.words("alter") or "0"), pitch.words("octave")
        if name not in LETTERS or len(name) != 1 or not re.fullmatch(r"[0-9]", height):
            return None, "a note whose pitch cannot be read"
        return signs.sounding(LETTERS.index(name), alter, int(height), self.part.transposition)

    def _read_bar_line(self, node: Node) -> None:
        repeat, ending = node.first("repeat"), node.first("ending")
        where = f"bar {node_number(self.measure)}"
        if ending is not None:
            raise Unreadable(f"{where} has endings that differ", "write the piece out as it is sung", node.place)
        if repeat is not None:
            self.part.score.repeats.append(where)
        elif node.words("bar-style") in _ENDINGS:
            if node.get("location") == "left" and not self.time and not self.written:
                before = self.part.measures[-2:-1]
                for measure in before:
                    measure.ends_exercise = True
            else:
                self.measure.ends_exercise = True

    def _read_jumps(self, node: Node) -> None:
        sounds = [node] if node.name == "sound" else list(node.all("sound"))
        if any(sound.get(jump) not in ("", "no") for sound in sounds for jump in _TEMPO_JUMPS):
            self.part.score.repeats.append(f"bar {node_number(self.measure)}")


def node_number(measure: Measure) -> str:
    """The number of a measure in words."""
    return "without a number" if measure.number is None else str(measure.number)


def _in_order(voice: str) -> tuple[int, str]:
    digits = re.sub(r"\D", "", voice)
    return int(digits[:6] or 0), voice


def _ties_on(node: Node) -> bool:
    notations = [tied for notations in node.all("notations") for tied in notations.all("tied")]
    return any(tie.get("type") == "start" for tie in [*node.all("tie"), *notations])


def _bar_number(node: Node) -> int | None:
    found = re.fullmatch(r"\d{1,6}", node.get("number"))
    return int(found[0]) if (found and node.get("implicit") != "yes") or (found and found[0] == "0") else None


def _quantity(text: str) -> Fraction | None:
    return Fraction(text) if _NUMBER.fullmatch(text) else None


def _whole(text: str) -> int:
    return int(_quantity(text) or 0)


def _metre(node: Node) -> Metre | None:
    """The time signature; None for music without metre."""
    if node.has("senza-misura"):
        return None
    beats, units = list(node.all("beats")), list(node.all("beat-type"))
    if len(beats) != 1 or len(units) != 1:
        raise Unreadable("a time signature of several kinds of beat is not read", place=node.place)
    return signs.metre(beats[0].text, units[0].text, node.place)


def _clef(node: Node) -> Clef | None:
    shape, line = node.words("sign"), _whole(node.words("line"))
    return signs.clef(shape, line, _whole(node.words("clef-octave-change")))


# ---- writing -------------------------------------------------------------------------------------

_TYPES = {
    Fraction(32): "maxima", Fraction(16): "long", Fraction(8): "breve", Fraction(4): "whole", Fraction(2): "half",
    Fraction(1): "quarter", Fraction(1, 2): "eighth", Fraction(1, 4): "16th", Fraction(1, 8): "32nd",
    Fraction(1, 16): "64th",
}  # fmt: skip
_DOTS = {0: Fraction(1), 1: Fraction(3, 2), 2: Fraction(7, 4)}
_SIGNED = {plain * factor: (name, dots) for plain, name in _TYPES.items() for dots, factor in _DOTS.items()}
_TUPLETS = ((3, 2), (5, 4), (7, 4))


def write_musicxml(exercises: Sequence[Exercise]) -> bytes:
    """A plain file. The cantus is marked in the name of its part; what is held over a bar line is tied."""
    exercise = only(exercises, _NAME)
    root = ElementTree.Element("score-partwise", version="4.0")
    _put(root, "movement-title", exercise.title)
    listed = _put(root, "part-list")
    for number, voice in enumerate(exercise.voices, 1):
        is_marked = number - 1 == exercise.cantus and not names_cantus(voice.name)
        score_part = _put(listed, "score-part", id=f"P{number}")
        _put(score_part, "part-name", f"{voice.name} (cantus)" if is_marked else voice.name)
    for number in range(len(exercise.voices)):
        _write_part(_put(root, "part", id=f"P{number + 1}"), exercise, number)
    ElementTree.indent(root)
    return _HEAD + ElementTree.tostring(root, encoding="utf-8") + b"\n"


def write_compressed(exercises: Sequence[Exercise]) -> bytes:
    """A compressed file."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in ((_ROOT, _CONTAINER), (_SCORE, write_musicxml(exercises))):
            archive.writestr(zipfile.ZipInfo(name, _EPOCH), content, zipfile.ZIP_DEFLATED)
    return buffer.getvalue()


def archive_with(data: bytes, name: str, content: bytes) -> bytes:
    """An archive with other content for one of its files; the others, and their order, stay as they are."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old:
        if sum(entry.file_size for entry in old.infolist()) > 2 * MAX_SCORE_BYTES:
            raise Unreadable(f"this is larger than {2 * MAX_SCORE_BYTES} bytes when unpacked")
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            new.writestr(entry, content if entry.filename == name else old.read(entry))
    return buffer.getvalue()


_HEAD = b"""<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">
"""
_SCORE = "score.musicxml"
_CONTAINER = f"""<?xml version="1.0" encoding="UTF-8"?>
<container><rootfiles><rootfile full-path="{_SCORE}"/></rootfiles></container>
"""
_EPOCH = (1980, 1, 1, 0, 0, 0)


def _put(parent: ElementTree.Element, name: str, text: str = "", **attributes: str) -> ElementTree.Element:
    child = ElementTree.SubElement(parent, name, attributes)
    child.text = text or None
    return child


def _write_part(part: ElementTree.Element, exercise: Exercise, index: int) -> None:
    """A voice, cut at the bar lines."""
    voice, metre = exercise.voices[index], exercise.metre
    cut = [list(_pieces(event.length, onset, metre)) for onset, event in voice.placed()]
    divisions = lcm(*(piece.denominator for pieces in cut for piece in pieces))
    time, measure, is_tied = Fraction(0), part, False
    for event, pieces in zip(voice.events, cut, strict=True):
        for number, piece in enumerate(pieces, 1):
            if metre.is_strong(time):
                measure = _put(part, "measure", number=str(metre.bar_of(time) - 1 + exercise.first_bar))
                if not time:
                    _write_attributes(measure, exercise, index, divisions)
                elif metre.at(time).start == time:
                    _write_time(_put(measure, "attributes"), metre.at(time))
            ties_on = event.pitch is not None and (event.tie or number < len(pieces))
            _write_note(measure, event.pitch, piece, divisions, is_tied, ties_on, exercise.title)
            is_tied = ties_on
            time += piece


def _pieces(length: Fraction, time: Fraction, metre: Metre) -> Iterator[Fraction]:
    """A length from a time on, cut at the bar lines, then into lengths that have a sign."""
    while length:
        piece = rest = min(length, metre.end_of(time) - time)
        while rest:
            sign = rest if _sign(rest) else max((known for known in _SIGNED if known < rest), default=rest)
            yield sign
            rest -= sign
        length, time = length - piece, time + piece


def _sign(length: Fraction) -> tuple[str, int, tuple[int, int] | None] | None:
    """The type and dots of a length, and the tuplet it belongs to (three in the time of two) if it does."""
    if length in _SIGNED:
        return *_SIGNED[length], None
    for count, base in _TUPLETS:
        if (length * count / base) in _SIGNED:
            return *_SIGNED[length * count / base], (count, base)
    return None


def _write_attributes(measure: ElementTree.Element, exercise: Exercise, index: int, divisions: int) -> None:
    attributes = _put(measure, "attributes")
    _put(attributes, "divisions", str(divisions))
    key = _put(attributes, "key")
    _put(key, "fifths", str(exercise.mode.signature))
    _put(key, "mode", exercise.mode.name.removeprefix("hypo"))
    _write_time(attributes, exercise.metre.at(Fraction(0)))
    clef = exercise.voices[index].clef or usual_clef(exercise.voices[index])
    written = _put(attributes, "clef")
    _put(written, "sign", clef.shape)
    _put(written, "line", str(clef.line))
    if clef.octaves:
        _put(written, "clef-octave-change", str(clef.octaves))


def _write_time(attributes: ElementTree.Element, bars: Bars) -> None:
    time = _put(attributes, "time")
    _put(time, "beats", str(bars.beats))
    _put(time, "beat-type", str(4 / bars.unit))


def usual_clef(voice: Voice) -> Clef:
    """The treble clef, or the bass clef for a voice that lies below middle C on the whole."""
    pitches = [event.pitch for event in voice.events if event.pitch is not None]
    is_low = bool(pitches) and sum(pitches) < len(pitches) * make_pitch(0, 0, 4)
    return Clef("F", 4) if is_low else Clef("G", 2)


def _write_note(
    measure: ElementTree.Element,
    pitch: Pitch | None,
    length: Fraction,
    divisions: int,
    is_tied: bool,
    ties_on: bool,
    title: str,
) -> None:
    sign = _sign(length)
    if sign is None:
        raise ValueError(f"‘{title}’ has a length that cannot be written")
    note = _put(measure, "note")
    if pitch is None:
        _put(note, "rest")
    else:
        written = _put(note, "pitch")
        _put(written, "step", LETTERS[letter(pitch)])
        if alteration(pitch):
            _put(written, "alter", str(alteration(pitch)))
        _put(written, "octave", str(octave(pitch)))
    _put(note, "duration", str(length * divisions))
    ties = [kind for kind, there in (("stop", is_tied), ("start", ties_on)) if there]
    for kind in ties:
        _put(note, "tie", type=kind)
    _put(note, "voice", "1")
    _put(note, "type", sign[0])
    for _ in range(sign[1]):
        _put(note, "dot")
    if sign[2]:
        modification = _put(note, "time-modification")
        _put(modification, "actual-notes", str(sign[2][0]))
        _put(modification, "normal-notes", str(sign[2][1]))
    if ties:
        notations = _put(note, "notations")
        for kind in ties:
            _put(notations, "tied", type=kind)
