"""Exercises read from files, typed or engraved, and written to MusicXML and MIDI.

music21, which reads and writes the score formats, is loaded only when one is met. Its objects
have no useful static types; here they are ``Any`` and do not leave this module.
"""

import contextlib
import io
import itertools
import re
import shutil
import tempfile
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from rulekit.diagnostics import Diagnostic, nearest
from rulekit.exercise.infer import compass_of, complete, infer_mode, names_cantus
from rulekit.exercise.limits import (
    MAX_BYTES,
    MAX_EVENTS,
    MAX_EXERCISES,
    MAX_QUARTERS,
    MAX_UNPACKED_BYTES,
    MAX_VOICES,
)
from rulekit.exercise.model import ALLA_BREVE, Event, Exercise, Metre, Voice
from rulekit.exercise.notation import read_exercises
from rulekit.music.mode import Mode, mode_of
from rulekit.music.pitch import LETTERS, Pitch, alteration, letter, make_pitch, octave, semitone

NOTATION_SUFFIX = ".notes"
_FORMATS = {
    ".musicxml": "musicxml",
    ".xml": "musicxml",
    ".mxl": "musicxml",
    ".krn": "humdrum",
    ".abc": "abc",
    ".mid": "midi",
    ".midi": "midi",
}
SUFFIXES = (NOTATION_SUFFIX, *_FORMATS)
_BROKEN = {
    "musicxml": ("MusicXML", "export it again, as MusicXML with the parts one after the other (partwise)"),
    "humdrum": ("kern", "a file of kern has a column for each voice, headed **kern"),
    "abc": ("ABC", "a tune begins with X:1, and its header has L: and ends with K:"),
    "midi": ("MIDI", "export it again as a standard MIDI file"),
}
# Modes that a key signature may name; "major" and "minor" are not believed, for programs write them unasked.
_NAMED_MODES = ("dorian", "phrygian", "lydian", "mixolydian", "aeolian", "ionian", "locrian")
_ABC_VOICE = re.compile(r"\[V:\s*([^\s\]]+)[^\]]*\]|V:\s*(\S+).*")
_ABC_TIME = re.compile(r"M:\s*(C\|?|none|\d{1,2}/\d{1,2})?\s*(%.*)?")
_ENDLESS_TIME = re.compile(rb"(?:\*M|<beats>\s*)\d{3,}")  # music21 takes minutes over such
_ENDINGS = ("double", "final", "light-light", "light-heavy", "heavy-heavy")


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """What a teacher knows better than the file.

    ``cantus`` is the number of its voice, 1 at the top, or its label; ``mode`` as in
    :func:`rulekit.music.mode.mode_of`; ``bars`` the first and the last bar to read, by the
    numbers in the score; ``split`` whether a double or final bar line ends an exercise.
    """

    cantus: int | str | None = None
    mode: str | None = None
    bars: tuple[int, int] | None = None
    split: bool = True


_AS_WRITTEN = ReadOptions()


def load_scores(path: Path, options: ReadOptions = _AS_WRITTEN) -> tuple[list[Exercise], list[Diagnostic]]:
    """The exercises of a file, by its suffix; those with mistakes are left out and reported.

    Typed notation, MusicXML, Humdrum kern, ABC and MIDI are read. Never raises for what a
    file holds.
    """
    loader = _Loader(path, options)
    try:
        loader.load()
    except _Unusable as error:
        loader.report(error)
    return loader.exercises, loader.problems


class _Unusable(Exception):
    """A file or a part of it that can't be read, in words for its owner; ``place`` is a line and a column."""

    def __init__(self, message: str, hint: str = "", place: tuple[int, int] = (1, 1)) -> None:
        super().__init__(message)
        self.hint, self.place = hint, place


@dataclass(frozen=True, slots=True)
class _Bar:
    """A bar of the score: its number, its start and length in quarters, and what holds in it."""

    number: int
    start: Fraction
    length: Fraction
    metre: Metre | None
    fifths: int | None
    mode: Mode | None
    ends_exercise: bool


@dataclass(frozen=True, slots=True)
class _Item:
    """A note or rest where it stands in the score, before it belongs to a voice of an exercise."""

    onset: Fraction
    length: Fraction
    pitch: Pitch | None
    tie: bool
    mistake: str = ""
    is_grace: bool = False


@dataclass(slots=True)
class _Staff:
    """One voice of the score from beginning to end."""

    name: str
    items: list[_Item] = field(default_factory=list[_Item])


class _Loader:
    """Reads one file and gathers exercises and problems."""

    def __init__(self, path: Path, options: ReadOptions) -> None:
        self.path, self.options = path, options
        self.exercises: list[Exercise] = []
        self.problems: list[Diagnostic] = []
        self.mode: Mode | None = None

    def report(self, error: _Unusable, title: str = "") -> None:
        """Note a problem of the file or of one exercise; where there are no lines, the words name bars."""
        message = f"‘{title}’: {error}" if title else str(error)
        self.problems.append(Diagnostic(str(self.path), *error.place, 1, message, error.hint))

    def load(self) -> None:
        """Read the file, whatever its format."""
        suffix = self.path.suffix.lower()
        if suffix not in SUFFIXES:
            kind = f"files of the kind ‘{suffix}’" if suffix else "files without an extension"
            near = nearest(suffix, SUFFIXES)
            known = f"these are: {', '.join(SUFFIXES)}"
            raise _Unusable(f"{kind} are not read", f"did you mean {near}? {known}" if near else known)
        if self.options.mode is not None:
            try:
                self.mode = mode_of(self.options.mode)
            except ValueError as error:
                raise _Unusable(str(error)) from error
        data = _contents(self.path)
        if suffix == NOTATION_SUFFIX:
            self._load_notation(data)
        else:
            self._load_score(suffix, data)

    def _load_notation(self, data: bytes) -> None:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = data.count(b"\n", 0, error.start) + 1
            column = error.start - data.rfind(b"\n", 0, error.start)
            hint = "save the file as plain text, UTF-8"
            raise _Unusable("this character is not in UTF-8", hint, (line, column)) from error
        exercises, self.problems = read_exercises(text, str(self.path))
        for exercise in exercises:
            try:
                self.exercises.append(self._overridden(exercise))
            except _Unusable as error:
                self.report(error, exercise.title)

    def _overridden(self, exercise: Exercise) -> Exercise:
        """A typed exercise with what the options say instead."""
        cantus = _chosen_cantus(self.options.cantus, exercise.voices)
        is_inferred = any(words.startswith("cantus:") for words in exercise.inferred)
        if cantus is None and not is_inferred:
            cantus = exercise.cantus
        said = [words for words in exercise.inferred if words.startswith("mode:") and self.mode is None]
        known = complete(
            exercise.title,
            exercise.voices,
            exercise.metre,
            first_bar=exercise.first_bar,
            mode=self.mode or exercise.mode,
            cantus=cantus,
            has_cantus=cantus is not None or is_inferred,
            said=said,
        )
        return _cut(known, self.options.bars) if self.options.bars else known

    def _load_score(self, suffix: str, data: bytes) -> None:
        if suffix == ".mxl":
            _check_archive(data)
        _check_times(data)
        if _FORMATS[suffix] == "midi":
            _check_midi(data)
        score = _parsed(self.path, suffix, data)
        scores = list(score.scores) if hasattr(score, "scores") else [score]
        for number, each in enumerate(scores, 1):
            title = _title(each) or self.path.stem + (f" {number}" if len(scores) > 1 else "")
            try:
                self._read_score(each, title, is_midi=_FORMATS[suffix] == "midi")
            except _Unusable as error:
                self.report(error, title)
        if not self.exercises and not self.problems:
            raise _Unusable("there are no notes in this score")

    def _read_score(self, score: Any, title: str, is_midi: bool) -> None:
        """Read one score, which may hold several exercises one after the other."""
        try:
            parts = _measured_parts(score)
            bars, staves = _bars(parts), _staves(parts)
        except _Unusable:
            raise
        except Exception as error:  # what music21 makes of a broken file can fail at any touch
            raise _Unusable("this score is broken", "open it in a notation program and export it again") from error
        sections = [_chosen_bars(bars, self.options.bars)] if self.options.bars else [bars]
        if self.options.split and not self.options.bars:
            sections = _split(bars)
        for section in sections:
            name = title
            if len(section) < len(bars):
                name += f", from bar {section[0].number}"
            if len(self.exercises) == MAX_EXERCISES:
                raise _Unusable(f"there are more than {MAX_EXERCISES} exercises; the rest are not read")
            try:
                self._read_section(section, staves, name, is_midi)
            except _Unusable as error:
                self.report(error, name)

    def _read_section(self, bars: Sequence[_Bar], staves: Sequence[_Staff], title: str, is_midi: bool) -> None:
        """Read one exercise; a stretch without notes is none."""
        begin, end = bars[0].start, bars[-1].start + bars[-1].length
        cut = [_Staff(staff.name, _between(staff.items, begin, end)) for staff in staves]
        heard = [staff for staff in cut if any(item.pitch or item.mistake for item in staff.items)]
        if not heard:
            return
        metre, said = _metre(bars)
        _check_bars(bars, metre)
        _check_items(bars, heard)
        if len(bars) > 1 and bars[0].length < metre.bar_length:
            begin -= metre.bar_length - bars[0].length
            said.append(f"pickup: bar {bars[0].number} is short; rests fill it at the start")
        silent = ", ".join(f"‘{staff.name}’" for staff in cut if staff not in heard)
        if silent:
            said.append(f"silent: {silent}, left out")
        graces = [_bar_at(bars, item.onset) for staff in heard for item in staff.items if item.is_grace]
        if graces:
            said.append(f"grace notes: left out in {', '.join(dict.fromkeys(graces))}")
        voices = [_voice(staff, bars, begin) for staff in heard]
        self._add(title, voices, metre, bars, said, is_midi)

    def _add(
        self,
        title: str,
        voices: list[Voice],
        metre: Metre,
        bars: Sequence[_Bar],
        said: list[str],
        is_midi: bool,
    ) -> None:
        mode, fifths = self.mode or bars[0].mode, bars[0].fifths
        voices, marked = _unmarked(_by_height(voices) if is_midi else voices)
        cantus = _chosen_cantus(self.options.cantus, voices)
        try:
            if is_midi:
                if mode is None:
                    mode, reason = infer_mode(voices, None, spelled=False)
                    said.append(reason)
                voices = [_respelled(voice, mode) for voice in voices]
                said.append(f"spelling: MIDI has none; the notes are spelled as in {mode}")
            exercise = complete(
                title,
                voices,
                metre,
                first_bar=bars[0].number,
                mode=mode,
                fifths=fifths,
                cantus=marked if cantus is None else cantus,
                said=said,
            )
        except ValueError as error:
            raise _Unusable(f"the mode cannot be worked out: {error}", "state the mode") from error
        self.exercises.append(exercise)


def _contents(path: Path) -> bytes:
    """The bytes of a file, if it is there and not too large."""
    try:
        if path.stat().st_size > MAX_BYTES:
            raise _Unusable(f"the file is larger than {MAX_BYTES} bytes")
        return path.read_bytes()
    except OSError as error:
        raise _Unusable(f"the file cannot be read: {error.strerror}") from error


def _check_archive(data: bytes) -> None:
    """Refuse a compressed score that would unpack to too much, or that is not sound inside."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
            unpacked = sum(entry.file_size for entry in entries)
            if unpacked <= MAX_UNPACKED_BYTES:
                for entry in entries:
                    _check_times(archive.read(entry))
    except _Unusable:
        raise
    except Exception as error:  # zipfile raises errors of every kind for a broken archive
        raise _Unusable("this is not a compressed MusicXML file") from error
    if unpacked > MAX_UNPACKED_BYTES:
        raise _Unusable(f"the score is larger than {MAX_UNPACKED_BYTES} bytes when unpacked")


def _check_times(data: bytes) -> None:
    """Refuse a bar of a hundred beats or more."""
    found = _ENDLESS_TIME.search(data)
    if found:
        line = data.count(b"\n", 0, found.start()) + 1
        raise _Unusable("a bar has a hundred beats or more", "correct the time signature", (line, 1))


def _check_midi(data: bytes) -> None:
    """Refuse a MIDI file that would go on for hours, before it is cut into bars."""
    import music21

    file: Any = music21.midi.MidiFile()
    try:
        file.readstr(data)
        ticks = max(sum(event.time for event in track.events if event.isDeltaTime()) for track in file.tracks)
    except Exception as error:  # music21 raises errors of every kind for a broken file
        raise _broken("midi") from error
    if ticks > MAX_QUARTERS * file.ticksPerQuarterNote:
        raise _Unusable(f"the score is longer than {MAX_QUARTERS} quarter notes")


def _broken(format_: str, place: tuple[int, int] = (1, 1)) -> _Unusable:
    name, hint = _BROKEN[format_]
    return _Unusable(f"this cannot be read as {name}", hint, place)


def _parsed(path: Path, suffix: str, data: bytes) -> Any:
    """The score as music21 reads it, at sounding pitch; its own chatter is dropped."""
    import music21

    library: Any = music21
    format_ = _FORMATS[suffix]
    with (
        contextlib.redirect_stderr(io.StringIO()),
        contextlib.redirect_stdout(io.StringIO()),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("ignore")
        try:
            if format_ == "abc":
                text = _abc_by_voice(data.decode("utf-8-sig", errors="replace"))
                return library.converter.parseData(text, format=format_)
            score = library.converter.parseFile(path, format=format_, forceSource=True, storePickle=False)
            return score.toSoundingPitch() if format_ == "musicxml" else score
        except _Unusable:
            raise
        except ElementTree.ParseError as error:
            line, column = error.position
            raise _broken(format_, (line, column + 1) if suffix != ".mxl" else (1, 1)) from error
        except Exception as error:  # music21 raises errors of every kind for a broken file
            raise _broken(format_) from error


def _abc_by_voice(text: str) -> str:
    """ABC with the lines of each voice together, as music21 needs them; each voice is named once.

    A voice begins at the start of a line, with ``V:1`` or ``[V:1]``; music before the first
    belongs to no voice and stays in front.
    """
    lines: list[str] = []
    voices: dict[str, list[str]] = {}
    current = lines
    in_body = False
    for number, line in enumerate(text.splitlines(), 1):
        if re.match(r"X:", line):
            lines += itertools.chain.from_iterable(voices.values())
            voices, current, in_body = {}, lines, False
        begun = _ABC_VOICE.match(line)
        _check_abc_line(line, number)
        if begun is None:
            current.append(line)
        else:
            name = begun[1] or begun[2]
            music = "" if begun[1] is None else line[begun.end() :]
            if in_body or music.strip():
                current = voices.setdefault(name, [f"V:{name}"])
                current += [music] if music.strip() else []
        in_body = in_body or line.startswith("K:")
    return "\n".join([*lines, *itertools.chain.from_iterable(voices.values())]) + "\n"


def _check_abc_line(line: str, number: int) -> None:
    if line.startswith("M:") and not _ABC_TIME.fullmatch(line):
        raise _Unusable("this is not a time signature", "write such as M:2/2 or M:C|", (number, 1))
    found = re.search(r"(?<!^)\[V:", line)
    if found and not line.startswith("%"):
        hint = "begin a new line where another voice begins"
        raise _Unusable("a voice begins in the middle of a line", hint, (number, found.start() + 1))


def _title(score: Any) -> str:
    title = score.metadata.bestTitle if score.metadata is not None else None
    return " ".join(title.split()) if title else ""


def _measured_parts(score: Any) -> list[Any]:
    """The parts from the top, all with measures."""
    parts = list(score.parts) or [score]
    if any(part.highestTime > MAX_QUARTERS for part in parts):
        raise _Unusable(f"the score is longer than {MAX_QUARTERS} quarter notes")
    return [part if part.hasMeasures() else part.makeMeasures() for part in parts]


def _measures(part: Any) -> list[Any]:
    return list(part.getElementsByClass("Measure"))


def _bars(parts: Sequence[Any]) -> list[_Bar]:
    """The bars by the part that has most of them; the others must agree where each begins."""
    columns = [_measures(part) for part in parts]
    measures = max(columns, key=len)
    if not measures:
        raise _Unusable("there are no bars in this score")
    for column in columns:
        for measure, other in zip(measures, column, strict=False):
            if measure.offset != other.offset:
                raise _Unusable(f"bar {other.number} does not begin at the same time in all parts")
    end = max(_quarters(column[-1].offset) + _quarters(column[-1].highestTime) for column in columns if column)
    starts = [*(_quarters(measure.offset) for measure in measures), end]
    metre: Metre | None = None
    fifths: int | None = None
    mode: Mode | None = None
    bars: list[_Bar] = []
    for index, measure in enumerate(measures):
        metre = _time_signature(measure) or metre
        if measure.keySignature is not None:
            fifths, mode = measure.keySignature.sharps, _named_mode(measure.keySignature)
        length = starts[index + 1] - starts[index]
        number = bars[-1].number + 1 if bars and not measure.number else measure.number
        ends = any(_ends_exercise(column, index) for column in columns)
        bars.append(_Bar(number, starts[index], length, metre, fifths, mode, ends))
    first = bars[0]
    if first.number == 0 and (first.metre is None or first.length >= first.metre.bar_length):
        return [replace(bar, number=bar.number + 1) for bar in bars]
    return bars


def _time_signature(measure: Any) -> Metre | None:
    signature = measure.timeSignature
    return None if signature is None else Metre(signature.numerator, Fraction(4, signature.denominator))


def _named_mode(signature: Any) -> Mode | None:
    """The church mode that a key signature names, if it names one."""
    name = getattr(signature, "mode", None)
    if name not in _NAMED_MODES:
        return None
    return Mode(LETTERS.index(signature.tonic.step), int(signature.tonic.alter), name)


def _ends_exercise(measures: Sequence[Any], index: int) -> bool:
    """Whether a double or final bar line stands between a measure and the next of its part."""
    if index + 1 >= len(measures):
        return False
    lines: list[Any] = [measures[index].rightBarline, measures[index + 1].leftBarline]
    return any(line is not None and "Repeat" not in line.classes and line.type in _ENDINGS for line in lines)


def _staves(parts: Sequence[Any]) -> list[_Staff]:
    """The voices of all parts from the top; a part with several voices gives one staff each."""
    staves: list[_Staff] = []
    for number, part in enumerate(parts, 1):
        name = _part_name(part) or f"voice-{number}"
        measures = _measures(part)
        count = max((len(measure.voices) for measure in measures), default=0)
        own = [_Staff(f"{name}-{index + 1}" if count > 1 else name) for index in range(max(count, 1))]
        for measure in measures:
            for staff, voice in zip(own, list(measure.voices) or [measure], strict=False):
                start = measure.offset + (voice.offset if voice is not measure else 0)
                staff.items += [_item(element, start) for element in _elements(voice)]
        staves += own
    return _with_different_names(staves)


def _part_name(part: Any) -> str:
    """The name of a part as one word; kern writes it as an instrument name."""
    name: str = getattr(part, "partName", None) or ""
    for tandem in part.getElementsByClass("MiscTandem"):
        name = name or (tandem.tandem[1:] if tandem.tandem.startswith('"') else "")
    name = "".join(c for c in name if c.isprintable() or c.isspace())
    marked = re.fullmatch(r"(.*?)\s*\(cantus\)\s*", name)
    word = re.sub(r"[\s|():]+", "-", marked[1] if marked else name).strip("-")
    return f"{word} (cantus)" if marked else word


def _with_different_names(staves: list[_Staff]) -> list[_Staff]:
    names = [staff.name for staff in staves]
    for number, staff in enumerate(staves, 1):
        if names.count(staff.name) > 1:
            staff.name = f"{staff.name}-{number}"
    return staves


def _elements(stream: Any) -> Iterator[Any]:
    """The notes, chords and rests of a stream; chord symbols are no notes."""
    return (element for element in stream.notesAndRests if "Harmony" not in element.classes)


def _quarters(value: float | Fraction) -> Fraction:
    """A time of music21's as an exact fraction; it knows no greater denominator than 65535."""
    return Fraction(value).limit_denominator(65535)


def _item(element: Any, start: Any) -> _Item:
    onset, length = _quarters(start) + _quarters(element.offset), _quarters(element.quarterLength)
    tie = element.tie is not None and element.tie.type in ("start", "continue")
    if element.duration.isGrace:
        return _Item(onset, Fraction(0), None, False, is_grace=True)
    if element.isRest:
        return _Item(onset, length, None, False)
    pitches = list(element.pitches)
    if len(pitches) != 1:
        what = f"a chord ({', '.join(p.nameWithOctave for p in pitches)})" if pitches else "a note without pitch"
        return _Item(onset, length, None, False, mistake=what.replace("-", "b"))
    pitch, mistake = _pitch(pitches[0])
    return _Item(onset, length, pitch, tie, mistake)


def _pitch(pitch: Any) -> tuple[Pitch | None, str]:
    """The pitch, or what is wrong with it."""
    if pitch.alter != int(pitch.alter):
        return None, "a quarter tone"
    return make_pitch(LETTERS.index(pitch.step), int(pitch.alter), pitch.implicitOctave), ""


def _split(bars: Sequence[_Bar]) -> list[Sequence[_Bar]]:
    """The bars of each exercise."""
    sections: list[Sequence[_Bar]] = []
    begin = 0
    for index, bar in enumerate(bars, 1):
        if bar.ends_exercise or index == len(bars):
            sections.append(bars[begin:index])
            begin = index
    return sections


def _chosen_bars(bars: Sequence[_Bar], chosen: tuple[int, int]) -> Sequence[_Bar]:
    numbers = [bar.number for bar in bars]
    first, last = chosen
    if first not in numbers or last not in numbers or first > last:
        raise _Unusable(f"there are no bars {first} to {last}; the score has {numbers[0]} to {numbers[-1]}")
    return bars[numbers.index(first) : len(numbers) - numbers[::-1].index(last)]


def _cut(exercise: Exercise, chosen: tuple[int, int]) -> Exercise:
    """The chosen bars of a typed exercise; a note that is held into or out of them is cut."""
    first, last = chosen
    low, high = exercise.first_bar, exercise.first_bar + exercise.setting.bars - 1
    if not low <= first <= last <= high:
        raise _Unusable(f"there are no bars {first} to {last}; the exercise has {low} to {high}")
    bar = exercise.metre.bar_length
    begin, end = (first - low) * bar, (last - low + 1) * bar
    voices = [replace(voice, events=_cut_events(voice, begin, end)) for voice in exercise.voices]
    if not any(event.pitch is not None for voice in voices for event in voice.events):
        raise _Unusable(f"there are no notes in bars {first} to {last}")
    title = exercise.title if chosen == (low, high) else f"{exercise.title}, from bar {first}"
    return replace(exercise, title=title, voices=tuple(voices), first_bar=first)


def _cut_events(voice: Voice, begin: Fraction, end: Fraction) -> tuple[Event, ...]:
    """The events of a voice in a stretch of time."""
    cut: list[Event] = []
    time = Fraction(0)
    for event in voice.events:
        length = min(time + event.length, end) - max(time, begin)
        time += event.length
        if length > 0:
            cut.append(replace(event, length=length))
    return _with_sound_ties(cut)


def _metre(bars: Sequence[_Bar]) -> tuple[Metre, list[str]]:
    """The metre of an exercise, which has one."""
    for bar in bars:
        if bar.metre != bars[0].metre:
            raise _Unusable(f"the time signature changes in bar {bar.number}", "an exercise has one")
    if bars[0].metre is None:
        return ALLA_BREVE, ["time: 2/2, for the score has no time signature"]
    return bars[0].metre, []


def _check_items(bars: Sequence[_Bar], staves: Sequence[_Staff]) -> None:
    """There must not be too many notes, nor chords and other things that no voice can sing."""
    if len(staves) > MAX_VOICES or sum(len(staff.items) for staff in staves) > MAX_EVENTS:
        raise _Unusable(f"an exercise may have {MAX_VOICES} voices and {MAX_EVENTS} notes and rests, no more")
    mistakes = [
        f"{_bar_at(bars, item.onset)} of ‘{staff.name}’ has {item.mistake}"
        for staff in staves
        for item in staff.items
        if item.mistake
    ]
    if mistakes:
        raise _Unusable("; ".join(mistakes[:5]), "a voice has one note at a time, and of a known pitch")


def _check_bars(bars: Sequence[_Bar], metre: Metre) -> None:
    """All bars but the first and the last must be full, and the first not too full."""
    for bar in bars[:-1]:
        if bar.length > metre.bar_length or (bar.length < metre.bar_length and bar is not bars[0]):
            holds, full = bar.length, metre.bar_length
            raise _Unusable(f"bar {bar.number} has {holds} quarter notes in place of {full}")


def _voice(staff: _Staff, bars: Sequence[_Bar], begin: Fraction) -> Voice:
    """The events of a voice, with rests where the score has nothing."""
    events: list[Event] = []
    time = begin
    for item in staff.items:
        if item.is_grace:
            continue
        if item.onset < time:
            where = _bar_at(bars, item.onset)
            raise _Unusable(f"{where} of ‘{staff.name}’: two notes sound at once, or the bar is too full")
        if item.onset > time:
            events.append(Event(None, item.onset - time))
        events.append(Event(item.pitch, item.length, item.tie))
        time = item.onset + item.length
    return Voice(staff.name, _with_sound_ties(events), compass_of(staff.name))


def _between(items: Iterable[_Item], begin: Fraction, end: Fraction) -> list[_Item]:
    """The items that begin in a stretch of time, in order."""
    return sorted((item for item in items if begin <= item.onset < end), key=lambda item: item.onset)


def _bar_at(bars: Sequence[_Bar], time: Fraction) -> str:
    return f"bar {next(bar.number for bar in reversed(bars) if bar.start <= time)}"


def _with_sound_ties(events: Sequence[Event]) -> tuple[Event, ...]:
    """The events, without ties that do not lead to a note of the same pitch."""
    following = [*(event.pitch for event in events[1:]), None]
    return tuple(
        replace(event, tie=event.tie and event.pitch == pitch) for event, pitch in zip(events, following, strict=True)
    )


def _unmarked(voices: Sequence[Voice]) -> tuple[list[Voice], int | None]:
    """The voices without the mark of the cantus in a name, and the index of the one marked."""
    mark = " (cantus)"
    found = [index for index, voice in enumerate(voices) if voice.name.endswith(mark)]
    plain = [replace(v, name=v.name.removesuffix(mark), compass=compass_of(v.name.removesuffix(mark))) for v in voices]
    return plain, found[0] if found else None


def _chosen_cantus(chosen: int | str | None, voices: Sequence[Voice]) -> int | None:
    """The index of the voice that the options name."""
    if chosen is None:
        return None
    names = [voice.name.casefold() for voice in voices]
    if isinstance(chosen, int):
        if not 1 <= chosen <= len(voices):
            raise _Unusable(f"there is no voice {chosen} to be the cantus; voices are numbered 1 to {len(voices)}")
        return chosen - 1
    if chosen.casefold() not in names:
        near = nearest(chosen.casefold(), names)
        hint = f"did you mean {near}?" if near else f"the voices are {', '.join(names)}"
        raise _Unusable(f"there is no voice ‘{chosen}’ to be the cantus", hint)
    return names.index(chosen.casefold())


def _by_height(voices: Sequence[Voice]) -> list[Voice]:
    """The voices from the highest on the whole; the tracks of a MIDI file have no order."""

    def mean(voice: Voice) -> Fraction:
        pitches = [event.pitch for event in voice.events if event.pitch is not None]
        return Fraction(sum(pitches), len(pitches))

    return sorted(voices, key=mean, reverse=True)


def _respelled(voice: Voice, mode: Mode) -> Voice:
    events = (e if e.pitch is None else replace(e, pitch=mode.spell(semitone(e.pitch))) for e in voice.events)
    return replace(voice, events=tuple(events))


def write_musicxml(exercise: Exercise, path: Path) -> None:
    """Write an exercise as MusicXML, compressed if the path ends in ``.mxl``.

    The cantus is marked in the name of its part. Raises ValueError for a length that has no sign.
    """
    _write(exercise, path, "musicxml")


def write_midi(exercise: Exercise, path: Path) -> None:
    """Write an exercise as a MIDI file, one track a voice."""
    _write(exercise, path, "midi")


def _write(exercise: Exercise, path: Path, format_: str) -> None:
    from music21 import exceptions21, metadata, stream

    score: Any = stream.Score()
    score.metadata = metadata.Metadata(title=exercise.title)
    for index in range(len(exercise.voices)):
        score.insert(0, _part(exercise, index))
    with tempfile.TemporaryDirectory() as folder:  # music21 drops an .mxl's .musicxml namesake beside it
        written = Path(folder) / path.name
        try:
            score.write(format_, written)
        except exceptions21.Music21Exception as error:
            raise ValueError(f"‘{exercise.title}’ has a length that cannot be written") from error
        shutil.copyfile(written, path)


def _part(exercise: Exercise, index: int) -> Any:
    """A voice as a music21 part with measures."""
    from music21 import meter, stream

    voice, metre = exercise.voices[index], exercise.metre
    is_marked = index == exercise.cantus and not names_cantus(voice.name)
    part: Any = stream.Part()
    part.partName = f"{voice.name} (cantus)" if is_marked else voice.name
    part.append(meter.TimeSignature(f"{metre.beats}/{4 / metre.unit}"))
    part.append(_key(exercise.mode))
    tied = False
    for event in voice.events:
        part.append(_written(event, tied))
        tied = event.tie
    measured = part.makeMeasures()
    measured.partName = part.partName
    measured.makeTies(inPlace=True)
    for number, measure in enumerate(_measures(measured), exercise.first_bar):
        measure.number = number
    return measured


def _key(mode: Mode) -> Any:
    """The key signature with the name of the mode; a hypo- mode has the name of its authentic one."""
    from music21 import key

    return key.Key(mode.final.replace("b", "-"), mode.name.removeprefix("hypo"))


def _written(event: Event, is_tied: bool) -> Any:
    """A note or a rest; ``is_tied`` says that a tie leads to it."""
    from music21 import note, tie
    from music21 import pitch as spelled

    if event.pitch is None:
        return note.Rest(quarterLength=event.length)
    shift = alteration(event.pitch)
    name = LETTERS[letter(event.pitch)] + ("#" * shift or "-" * -shift)
    written: Any = note.Note(spelled.Pitch(f"{name}{octave(event.pitch)}"), quarterLength=event.length)
    if is_tied or event.tie:
        written.tie = tie.Tie("continue" if is_tied and event.tie else "start" if event.tie else "stop")
    return written
