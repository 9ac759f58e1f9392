"""Exercises read from files, typed or engraved, and written to MusicXML and MIDI.

music21, which reads and writes the score formats, is loaded only when one is met. Its objects
have no useful static types; here they are ``Any`` and do not leave this module.
"""

import contextlib
import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

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
from rulekit.exercise.model import ALLA_BREVE, Event, Exercise, Metre, Voice, sounding_notes
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
_ENDINGS = ("double", "final", "light-light", "light-heavy", "heavy-heavy")


@dataclass(frozen=True, slots=True)
class ScoreOptions:
    """What a teacher knows better than the file.

    ``mode`` as in :func:`rulekit.music.mode.mode_of`; ``cantus`` the number of its voice, 1 at
    the top, or its label; ``bars`` the first and the last bar to read, by the numbers in the
    score; ``split`` whether a double or final bar line ends an exercise.
    """

    mode: str | None = None
    cantus: int | str | None = None
    bars: tuple[int, int] | None = None
    split: bool = True


def load_scores(path: Path, options: ScoreOptions | None = None) -> tuple[list[Exercise], list[Diagnostic]]:
    """The exercises of a file, by its suffix; those with mistakes are left out and reported.

    Typed notation, MusicXML, Humdrum kern, ABC and MIDI are read. Never raises for what a
    file holds.
    """
    options = options or ScoreOptions()
    loader = _Loader(path, options)
    try:
        loader.load()
    except _Unusable as error:
        loader.report(str(error), error.hint)
    return loader.exercises, loader.problems


class _Unusable(Exception):
    """A file or a part of it that can't be read, in words for its owner."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.hint = hint


@dataclass(frozen=True, slots=True)
class _Bar:
    """A bar of the score: its number, its start and length in quarters, and what holds in it."""

    number: int
    start: Fraction
    length: Fraction
    metre: Metre | None
    fifths: int | None
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

    def __init__(self, path: Path, options: ScoreOptions) -> None:
        self.path, self.options = path, options
        self.exercises: list[Exercise] = []
        self.problems: list[Diagnostic] = []
        self.mode: Mode | None = None

    def report(self, message: str, hint: str = "") -> None:
        """Note a problem; a score has no lines to point at, so bars are in the words."""
        self.problems.append(Diagnostic(str(self.path), 1, 1, 1, message, hint))

    def load(self) -> None:
        """Read the file, whatever its format."""
        suffix = self.path.suffix.lower()
        if suffix not in SUFFIXES:
            raise _Unusable(f"files of the kind ‘{suffix}’ are not read", f"these are: {', '.join(SUFFIXES)}")
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
        if self.options.bars is not None:
            raise _Unusable("bars can be chosen from a score only, not from typed notation")
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = data.count(b"\n", 0, error.start) + 1
            raise _Unusable(
                f"line {line} is not text in UTF-8", "save the file as plain text, UTF-8"
            ) from error
        exercises, self.problems = read_exercises(text, str(self.path))
        for exercise in exercises:
            try:
                self.exercises.append(self._overridden(exercise))
            except _Unusable as error:
                self.report(f"‘{exercise.title}’: {error}", error.hint)

    def _overridden(self, exercise: Exercise) -> Exercise:
        """A typed exercise with what the options say instead."""
        cantus = _chosen_cantus(self.options.cantus, exercise.voices)
        replaced = ("mode:",) if self.mode else ()
        replaced += ("cantus:",) if cantus is not None else ()
        return replace(
            exercise,
            mode=self.mode or exercise.mode,
            cantus=exercise.cantus if cantus is None else cantus,
            inferred=tuple(words for words in exercise.inferred if not words.startswith(replaced)),
        )

    def _load_score(self, suffix: str, data: bytes) -> None:
        if suffix == ".mxl":
            _check_archive(data)
        if _FORMATS[suffix] == "midi":
            _check_midi(data)
        score = _parsed(self.path, _FORMATS[suffix])
        scores = list(score.scores) if hasattr(score, "scores") else [score]
        for number, each in enumerate(scores, 1):
            title = _title(each) or self.path.stem + (f" {number}" if len(scores) > 1 else "")
            try:
                self._read_score(each, title, is_midi=_FORMATS[suffix] == "midi")
            except _Unusable as error:
                self.report(f"‘{title}’: {error}", error.hint)
        if not self.exercises and not self.problems:
            self.report("there are no notes in this score")

    def _read_score(self, score: Any, title: str, is_midi: bool) -> None:
        """Read one score, which may hold several exercises one after the other."""
        parts = _measured_parts(score)
        bars = _bars(parts)
        staves = _staves(parts)
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
                self.report(f"‘{name}’: {error}", error.hint)

    def _read_section(
        self, bars: Sequence[_Bar], staves: Sequence[_Staff], title: str, is_midi: bool
    ) -> None:
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
        mode, fifths = self.mode, bars[0].fifths
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
    """Refuse a compressed score that would unpack to too much."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            unpacked = sum(entry.file_size for entry in archive.infolist())
    except zipfile.BadZipFile as error:
        raise _Unusable("this is not a compressed MusicXML file") from error
    if unpacked > MAX_UNPACKED_BYTES:
        raise _Unusable(f"the score is larger than {MAX_UNPACKED_BYTES} bytes when unpacked")


def _check_midi(data: bytes) -> None:
    """Refuse a MIDI file that would go on for hours, before it is cut into bars."""
    import music21

    file: Any = music21.midi.MidiFile()
    try:
        file.readstr(data)
        ticks = max(sum(event.time for event in track.events if event.isDeltaTime()) for track in file.tracks)
    except Exception as error:  # music21 raises errors of every kind for a broken file
        raise _Unusable("this cannot be read as midi") from error
    if ticks > MAX_QUARTERS * file.ticksPerQuarterNote:
        raise _Unusable(f"the score is longer than {MAX_QUARTERS} quarter notes")


def _parsed(path: Path, format_: str) -> Any:
    """The score as music21 reads it; its own chatter is dropped."""
    import music21

    library: Any = music21
    with (
        contextlib.redirect_stderr(io.StringIO()),
        contextlib.redirect_stdout(io.StringIO()),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("ignore")
        try:
            return library.converter.parseFile(path, format=format_, forceSource=True, storePickle=False)
        except Exception as error:  # music21 raises errors of every kind for a broken file
            reason = " ".join(str(error).split())[:200] or type(error).__name__
            raise _Unusable(f"this cannot be read as {format_}: {reason}") from error


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
    end = max(Fraction(column[-1].offset + column[-1].highestTime) for column in columns if column)
    starts = [*(Fraction(measure.offset) for measure in measures), end]
    metre: Metre | None = None
    fifths: int | None = None
    bars: list[_Bar] = []
    for index, measure in enumerate(measures):
        metre = _time_signature(measure) or metre
        fifths = measure.keySignature.sharps if measure.keySignature is not None else fifths
        length = starts[index + 1] - starts[index]
        ends = any(_ends_exercise(column, index) for column in columns)
        bars.append(_Bar(measure.number, starts[index], length, metre, fifths, ends))
    first = bars[0]
    if first.number == 0 and (first.metre is None or first.length >= first.metre.bar_length):
        return [replace(bar, number=bar.number + 1) for bar in bars]
    return bars


def _time_signature(measure: Any) -> Metre | None:
    signature = measure.timeSignature
    return None if signature is None else Metre(signature.numerator, Fraction(4, signature.denominator))


def _ends_exercise(measures: Sequence[Any], index: int) -> bool:
    """Whether a double or final bar line closes a measure, or opens the next."""
    lines: list[Any] = [measures[index].rightBarline] if index < len(measures) else []
    lines += [measures[index + 1].leftBarline] if index + 1 < len(measures) else []
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
    name: str = part.partName or ""
    for tandem in part.getElementsByClass("MiscTandem"):
        name = name or (tandem.tandem[1:] if tandem.tandem.startswith('"') else "")
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


def _item(element: Any, start: Any) -> _Item:
    onset, length = Fraction(start + element.offset), Fraction(element.quarterLength)
    tie = element.tie is not None and element.tie.type in ("start", "continue")
    if element.duration.isGrace:
        return _Item(onset, Fraction(0), None, False, is_grace=True)
    if element.isRest:
        return _Item(onset, length, None, False)
    pitches = list(element.pitches)
    if len(pitches) != 1:
        what = (
            f"a chord ({', '.join(p.nameWithOctave for p in pitches)})" if pitches else "a note without pitch"
        )
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
        replace(event, tie=event.tie and event.pitch == pitch)
        for event, pitch in zip(events, following, strict=True)
    )


def _unmarked(voices: Sequence[Voice]) -> tuple[list[Voice], int | None]:
    """The voices without the mark of the cantus in a name, and the index of the one marked."""
    mark = " (cantus)"
    found = [index for index, voice in enumerate(voices) if voice.name.endswith(mark)]
    plain = [
        replace(v, name=v.name.removesuffix(mark), compass=compass_of(v.name.removesuffix(mark)))
        for v in voices
    ]
    return plain, found[0] if found else None


def _chosen_cantus(chosen: int | str | None, voices: Sequence[Voice]) -> int | None:
    """The index of the voice that the options name."""
    if chosen is None:
        return None
    names = [voice.name.casefold() for voice in voices]
    if isinstance(chosen, int):
        if not 1 <= chosen <= len(voices):
            raise _Unusable(
                f"there is no voice {chosen} to be the cantus; voices are numbered 1 to {len(voices)}"
            )
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
    """Write an exercise as MusicXML; the cantus is marked in the name of its part."""
    _write(exercise, path, "musicxml")


def write_midi(exercise: Exercise, path: Path) -> None:
    """Write an exercise as a MIDI file, one track a voice."""
    _write(exercise, path, "midi")


def _write(exercise: Exercise, path: Path, format_: str) -> None:
    from music21 import metadata, stream

    score: Any = stream.Score()
    score.metadata = metadata.Metadata(title=exercise.title)
    for index in range(len(exercise.voices)):
        score.insert(0, _part(exercise, index))
    score.write(format_, path)


def _part(exercise: Exercise, index: int) -> Any:
    """A voice as a music21 part with measures."""
    from music21 import key, meter, note, stream

    voice, metre = exercise.voices[index], exercise.metre
    is_marked = index == exercise.cantus and not names_cantus(voice.name)
    part: Any = stream.Part()
    part.partName = f"{voice.name} (cantus)" if is_marked else voice.name
    part.append(meter.TimeSignature(f"{metre.beats}/{4 / metre.unit}"))
    part.append(key.KeySignature(exercise.mode.signature))
    time = Fraction(0)
    for sounding in sounding_notes(exercise.setting, index, voice.events):
        if sounding.onset > time:
            part.append(note.Rest(quarterLength=sounding.onset - time))
        part.append(_note(sounding.pitch, sounding.length))
        time = sounding.onset + sounding.length
    if voice.length > time:
        part.append(note.Rest(quarterLength=voice.length - time))
    measured = part.makeMeasures()
    measured.partName = part.partName
    measured.makeTies(inPlace=True)
    for number, measure in enumerate(_measures(measured), exercise.first_bar):
        measure.number = number
    return measured


def _note(pitch: Pitch, length: Fraction) -> Any:
    from music21 import note
    from music21 import pitch as spelled

    shift = alteration(pitch)
    name = LETTERS[letter(pitch)] + ("#" * shift or "-" * -shift)
    return note.Note(spelled.Pitch(f"{name}{octave(pitch)}"), quarterLength=length)
