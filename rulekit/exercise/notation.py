"""The typed notation: exercises as lines of note names, one line a voice, the highest first.

::

    exercise: Bryn Tarrowe, second try
    mode: D dorian
    upper   D5 A4 B4 C5 C5 E5 D5 C#5 D5
    cantus  D4 F4 G4 E4 A4 G4 F4 E4 D4

Headers stand before the voices and may all be left out: ``exercise`` (begins a new one),
``mode``, ``time`` (2/2 if missing), ``bars`` (the number of the first bar), ``compass`` (a label
and two notes; may be repeated), ``order: lowest first`` (the voices are typed from the lowest),
``rules`` (the ruleset by which an editor judges it), ``cantus: none``, and ``cantus: shared``: each
voice over or under the cantus is then an exercise of its own with it.

A note is a scientific pitch name (C4 is middle C, ``#`` sharp, ``b`` flat, never taken from a
signature); without its octave it lies within a fourth of the note before. ``r`` is a rest, ``?`` a
note still to be found. A length follows a slash, as a part of a whole note (``A4/2`` is a half
note, ``/breve`` a breve), with dots if need be; it holds until the next one, and at first a note fills a bar.
``~`` ties a note to the next. Bar lines ``|`` are optional and checked. The voice labelled ``cantus``, or
``upper (cantus)``, holds the cantus firmus; a colon may follow a label. After a blank line the
same labels go on with the next system. Lines that begin with ``--`` are comments.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from rulekit.diagnostics import Diagnostic, nearest
from rulekit.exercise.infer import Known, compass_of, names_cantus
from rulekit.exercise.limits import MAX_BYTES, MAX_EVENTS, MAX_EXERCISES, MAX_PROBLEMS, MAX_VOICES
from rulekit.exercise.model import ALLA_BREVE, Compass, Event, Exercise, Metre, Voice
from rulekit.exercise.reading import ReadOptions, Unreadable, clean_title, settled
from rulekit.music.mode import Mode, mode_of
from rulekit.music.pitch import LETTERS, Pitch, letter, make_pitch, octave, pitch_name, pitch_of, step

_HEADERS = ("exercise", "mode", "time", "bars", "compass", "order", "cantus", "rules")
_FORMER = {"range": "compass"}
_OF_CANTUS = ("none", "shared")
_LOWEST_FIRST = "lowest first"
TURNED = "order: the voices are typed from the lowest, as the header says"
_UNITS = {"1": 4, "2": 2, "4": 1, "8": Fraction(1, 2), "16": Fraction(1, 4)}
_MOST_BEATS = 16
_PLAIN_LENGTHS = {"breve": Fraction(8)} | {str(2**n): Fraction(4, 2**n) for n in range(7)}
_DOTS = {"": Fraction(1), ".": Fraction(3, 2), "..": Fraction(7, 4)}
_LENGTHS = {word + dots: plain * _DOTS[dots] for word, plain in _PLAIN_LENGTHS.items() for dots in _DOTS}
_LENGTH_WORDS = {length: word for word, length in _LENGTHS.items()}

_LINE_END = re.compile(r"\r\n|\n|\r")
_HEADER = re.compile(r"\s*([^\s:|]+)\s*:\s*")
_LABEL = re.compile(r"\s*([^\s:|()]+)(\s*\(cantus\))?(?:\s*:|(?=[\s|]|$))")
_TOKEN = re.compile(r"\||[^\s|]+")
_PARTS = re.compile(r"(?P<head>[^/~]*)(?:/(?P<length>[^~]*))?(?P<tie>~?)")
_NOTE = re.compile(r"([A-Ga-g])(#{1,2}|b{1,2}|)([0-9]?)")
_LIKE_A_NOTE = re.compile(r"([A-Ga-g][#b]{0,2}[0-9]|[rR?]$|[A-Ga-g][#b]*/|[rR?]/|\?~).*")
_LONGEST_WORDS = 40
_LONGEST_LINE = 1_000


def read_exercises(
    text: str, path: str = "<text>", first_line: int = 1, columns: Sequence[int] | None = None
) -> tuple[list[Exercise], list[Diagnostic]]:
    """Read all exercises in a text; those with mistakes are left out and the mistakes reported.

    For a text that is part of a file, ``first_line`` is the number of its first line there and
    ``columns`` says how many characters stand before each of its lines (0 where it says nothing).
    """
    return _read(text, path, first_line, columns or ()).end()


@dataclass(frozen=True, slots=True)
class Placed:
    """An exercise with the ruleset that its header names (empty if none), and where its notes and rests are typed.

    ``typed`` has for each voice, by its label, the line and column (from 1) and the length of each of its events.
    """

    exercise: Exercise
    rules: str
    typed: dict[str, tuple[tuple[int, int, int], ...]]


def read_placed(text: str, path: str) -> tuple[list[Placed], list[Diagnostic]]:
    """Read all exercises in a text, with the places of their notes."""
    reader = _read(text, path, 1, ())
    _, problems = reader.end()
    return reader.placed, problems


def _read(text: str, path: str, first_line: int, offsets: Sequence[int]) -> "_Reader":
    reader = _Reader(path)
    if len(text) > MAX_BYTES:
        reader.report(_Span(_Line(first_line, "", 0), 0, 0), f"the text is longer than {MAX_BYTES} characters")
        return reader
    for index, line in enumerate(_LINE_END.split(text)):
        offset = offsets[index] if index < len(offsets) else 0
        reader.read(_Line(first_line + index, line, offset))
    return reader


def write_exercise(exercise: Exercise) -> str:
    """An exercise in the typed notation; reading it gives an equal exercise.

    A length with no single sign is written as tied notes. Raises ValueError for a label, a time
    signature, a pitch or a length that cannot be typed, or a voice without notes.
    """
    metre = exercise.metre
    if metre.changes:
        raise ValueError("bars whose length changes cannot be typed")
    lines = [f"exercise: {' '.join(exercise.title.split())}", f"mode: {exercise.mode}"]
    if metre.beats > _MOST_BEATS or metre.unit not in _UNITS.values():
        raise ValueError(f"the time signature {metre} cannot be typed")
    lines.append(f"time: {metre}")
    if exercise.first_bar != 1:
        lines.append(f"bars: {exercise.first_bar}")
    for voice in exercise.voices:
        if voice.compass and voice.compass != compass_of(voice.name):
            low, high = pitch_name(voice.compass.low), pitch_name(voice.compass.high)
            lines.append(f"compass: {voice.name} {low} {high}")
    if exercise.cantus is None:
        lines.append("cantus: none")
    labels = _written_labels(exercise)
    width = max(map(len, labels), default=0)
    for label, voice in zip(labels, exercise.voices, strict=True):
        lines.append(f"{label:{width}}  {' '.join(written_events(voice, metre))}")
    return "\n".join(lines) + "\n"


def _written_labels(exercise: Exercise) -> list[str]:
    names = [voice.name for voice in exercise.voices]
    for name in names:
        if names.count(name) > 1 or not _LABEL.fullmatch(name) or _label_mistake(name):
            raise ValueError(f"‘{name}’ cannot be typed as the label of a voice")
    if exercise.cantus is not None and not names_cantus(names[exercise.cantus]):
        names[exercise.cantus] += " (cantus)"
    return names


def written_events(voice: Voice, metre: Metre) -> Iterator[str]:
    """The tokens of a voice, with bar lines unless every note fills a bar."""
    if not voice.events:
        raise ValueError(f"‘{voice.name}’ has no notes")
    with_bars = any(event.length != metre.bar_length for event in voice.events)
    time, in_force = Fraction(0), metre.bar_length
    for event in voice.events:
        if with_bars and time and time % metre.bar_length == 0:
            yield "|"
        time += event.length
        name = _name(event)
        if event.pitch is not None and not _NOTE.fullmatch(name):
            raise ValueError(f"the note {name} cannot be typed")
        pieces = [event.length] if event.length == in_force else _typed_lengths(event.length)
        for number, length in enumerate(pieces, 1):
            tied = name != "r" and (number < len(pieces) or event.tie)
            yield name + ("" if length == in_force else f"/{_LENGTH_WORDS[length]}") + "~" * tied
            in_force = length


def _name(event: Event) -> str:
    if event.pitch is None:
        return "?" if event.open else "r"
    return pitch_name(event.pitch)


def _typed_lengths(length: Fraction) -> list[Fraction]:
    """A length as the fewest lengths that have a sign, the longest first."""
    pieces: list[Fraction] = []
    rest = length
    while rest:
        fitting = [known for known in _LENGTH_WORDS if known <= rest]
        if not fitting:
            raise ValueError(f"a length of {length} quarter notes cannot be typed")
        pieces.append(max(fitting))
        rest -= pieces[-1]
    return pieces


@dataclass(frozen=True, slots=True)
class _Line:
    """One line: its number in the file, its text, and how many characters stand before it there."""

    number: int
    text: str
    offset: int


@dataclass(frozen=True, slots=True)
class _Span:
    """A stretch of a line, from one index of its text to another."""

    line: _Line
    start: int
    end: int

    @property
    def text(self) -> str:
        """The text of the stretch as typed."""
        return self.line.text[self.start : self.end]

    @property
    def words(self) -> str:
        """The text of the stretch, fit to be shown in a message."""
        return _shown(self.text)


@dataclass(slots=True)
class _VoiceDraft:
    """A voice while it is read.

    ``length`` is the one in force, ``pitch`` the last note's, ``tie`` where a tie still waits
    (``tied_open``: after a note still to be found);
    ``unsure`` says that since the last bar line a length could not be read.
    """

    name: str
    label: _Span
    length: Fraction
    marked: bool = False
    events: list[Event] = field(default_factory=list[Event])
    typed: list[_Span] = field(default_factory=list[_Span])
    time: Fraction = Fraction(0)
    pitch: Pitch | None = None
    tie: _Span | None = None
    tied_open: bool = False
    systems: int = 0
    unsure: bool = False


@dataclass(slots=True)
class _Draft:
    """An exercise while it is read; ``system`` holds the labels since the last blank line."""

    title: str
    heading: _Span
    metre: Metre = ALLA_BREVE
    mode: Mode | None = None
    first_bar: int = 1
    has_cantus: bool = True
    shares_cantus: bool = False
    rules: str = ""
    lowest_first: bool = False
    headers: set[str] = field(default_factory=set[str])
    compasses: list[tuple[_Span, Compass]] = field(default_factory=list[tuple[_Span, Compass]])
    voices: dict[str, _VoiceDraft] = field(default_factory=dict[str, _VoiceDraft])
    system: set[str] = field(default_factory=set[str])
    starts: list[Fraction] = field(default_factory=list[Fraction])
    events: int = 0
    sound: bool = True


class _Reader:
    """Reads line after line and gathers exercises and problems."""

    def __init__(self, path: str) -> None:
        self.path = path
        self.exercises: list[Exercise] = []
        self.placed: list[Placed] = []
        self.problems: list[Diagnostic] = []
        self.draft: _Draft | None = None
        self.count = 0
        self.last_line = _Line(1, "", 0)

    def report(self, span: _Span, message: str, hint: str = "") -> None:
        """Note a problem; the exercise that is being read is then left out."""
        if self.draft is not None:
            self.draft.sound = False
        if len(self.problems) > MAX_PROBLEMS:
            return
        if len(self.problems) == MAX_PROBLEMS:
            message, hint = f"there are more than {MAX_PROBLEMS} mistakes; the rest are not shown", ""
        line, column = span.line, span.line.offset + span.start + 1
        shown = " " * line.offset + _printable(line.text) if len(line.text) <= _LONGEST_LINE else ""
        length = span.end - span.start
        self.problems.append(Diagnostic(self.path, line.number, column, length, message, hint, shown))

    def read(self, line: _Line) -> None:
        """Read the next line."""
        self.last_line = line
        if self.count > MAX_EXERCISES or line.text.lstrip().startswith("--"):
            return
        if not line.text.strip():
            if self.draft is not None:
                self.draft.system.clear()
            return
        header = _HEADER.match(line.text)
        if header is None or self._labels_voice(header[1], line.text[header.end() :]):
            self._read_voice(line, self.draft or self._begin("", _whole(line)))
            return
        word = _Span(line, *header.span(1))
        value = _Span(line, header.end(), max(header.end(), len(line.text.rstrip())))
        if word.text.casefold() == "exercise":
            self._finish()
            self._begin(clean_title(value.text), value if value.text else word)
        else:
            self._read_header(word, value, self.draft or self._begin("", word))

    def _labels_voice(self, word: str, value: str) -> bool:
        """Whether a word before a colon is the label of a voice and not a header."""
        key = word.casefold()
        if key in _HEADERS or key in _FORMER:
            return names_cantus(key) and value.strip().casefold() not in _OF_CANTUS
        if self.draft is not None and key in self.draft.voices:
            return True
        like_notes = [bool(_LIKE_A_NOTE.fullmatch(typed)) for typed in value.replace("|", " ").split()]
        return any(like_notes) and (like_notes[0] or nearest(key, _HEADERS) is None)

    def end(self) -> tuple[list[Exercise], list[Diagnostic]]:
        """What was read."""
        self._finish()
        if not self.count and not self.problems:
            self.report(_Span(self.last_line, 0, 0), "there is no exercise here", "write a label and its notes")
        return self.exercises, sorted(self.problems)

    def _begin(self, title: str, heading: _Span) -> _Draft:
        self.count += 1
        self.draft = _Draft(title or f"exercise {self.count}", heading)
        if self.count > MAX_EXERCISES:
            self.report(heading, f"there are more than {MAX_EXERCISES} exercises; the rest are not read")
        return self.draft

    def _finish(self) -> None:
        """Add the exercise that was being read, if nothing in it was wrong."""
        draft = self.draft
        if draft is None:
            return
        for voice in draft.voices.values():
            if voice.tie is not None:
                self.report(voice.tie, f"the tie after ‘{voice.tie.words}’ has no note to lead to")
        if not draft.voices and draft.sound:
            self.report(draft.heading, "this exercise has no voices", "write a label and its notes: upper A4 G4")
        cantus = self._cantus(draft)
        voices = [Voice(v.name, tuple(v.events), compass_of(v.name)) for v in draft.voices.values()]
        self._set_compasses(draft, voices)
        self.draft = None
        if not draft.sound:
            return
        first = len(self.exercises)
        try:
            options = ReadOptions(lowest_first=draft.lowest_first, shared_cantus=draft.shares_cantus)
            said = [TURNED] if draft.lowest_first else []
            known = Known(draft.first_bar, draft.mode, cantus=cantus, has_cantus=draft.has_cantus, said=said)
            self.exercises += settled(draft.title, voices, draft.metre, options, known)
        except Unreadable as error:
            self.report(draft.heading, str(error), error.hint)
        typed = {v.name: tuple((t.line.number, t.line.offset + t.start + 1, t.end - t.start) for t in v.typed)
                 for v in draft.voices.values()}  # fmt: skip
        self.placed += [Placed(exercise, draft.rules, typed) for exercise in self.exercises[first:]]

    def _cantus(self, draft: _Draft) -> int | None:
        """The index of the voice marked as cantus, or named so if none is marked."""
        voices = list(draft.voices.values())
        found = [i for i, voice in enumerate(voices) if voice.marked]
        found = found or [i for i, voice in enumerate(voices) if names_cantus(voice.name)]
        for index in found[1:]:
            self.report(voices[index].label, "there is a cantus already", f"‘{voices[found[0]].name}’ is marked")
        if found and not draft.has_cantus:
            self.report(voices[found[0]].label, "this is marked as the cantus, but a header says that there is none")
        return found[0] if found else None

    def _set_compasses(self, draft: _Draft, voices: list[Voice]) -> None:
        """Give the voices the compasses that the headers state."""
        labels = list(draft.voices)
        for span, compass in draft.compasses:
            label = compass.name.casefold()
            if label in labels:
                index = labels.index(label)
                old = voices[index]
                stated = Compass(old.name, compass.low, compass.high)
                voices[index] = Voice(old.name, old.events, stated)
            else:
                self.report(span, f"there is no voice ‘{_shown(compass.name)}’", _nearest_hint(label, labels))

    # Headers

    def _read_header(self, word: _Span, value: _Span, draft: _Draft) -> None:
        name = word.text.casefold()
        if name not in _HEADERS:
            self.report(word, f"there is no header ‘{word.words}’", _header_hint(word))
        elif name != "compass" and name in draft.headers:
            self.report(word, f"‘{name}’ stands here twice")
        elif draft.voices:
            self.report(word, f"‘{name}’ comes after notes", "headers stand before the first voice")
        else:
            draft.headers.add(name)
            readers = {
                "mode": self._read_mode,
                "time": self._read_time,
                "bars": self._read_bars,
                "compass": self._read_compass,
                "order": self._read_order,
                "cantus": self._read_cantus,
                "rules": self._read_rules,
            }
            readers[name](value, draft)

    def _read_mode(self, value: _Span, draft: _Draft) -> None:
        try:
            draft.mode = mode_of(value.words)
        except ValueError as error:
            self.report(value, str(error))

    def _read_time(self, value: _Span, draft: _Draft) -> None:
        match = re.fullmatch(r"([1-9][0-9]?)\s*/\s*([0-9]+)", value.text)
        if match is None or match[2] not in _UNITS or int(match[1]) > _MOST_BEATS:
            units = ", ".join(_UNITS)
            hint = f"write such as 2/2 or 3/4: 1 to {_MOST_BEATS} beats, of {units}"
            self.report(value, f"‘{value.words}’ is not a time signature", hint)
        else:
            draft.metre = Metre(int(match[1]), Fraction(_UNITS[match[2]]))

    def _read_bars(self, value: _Span, draft: _Draft) -> None:
        if re.fullmatch(r"[0-9]{1,4}", value.text):
            draft.first_bar = int(value.text)
        else:
            self.report(value, f"‘{value.words}’ is not a bar number", "write the number of the first bar: bars: 5")

    def _read_compass(self, value: _Span, draft: _Draft) -> None:
        words = value.text.split()
        try:
            name, low, high = words
            compass = Compass(name, pitch_of(low), pitch_of(high))
        except ValueError:
            self.report(value, f"‘{value.words}’ is not a compass", "write a label and two notes: compass: upper C4 A5")
            return
        if compass.low > compass.high:
            hint = f"write {_shown(name)} {high} {low}"
            self.report(value, f"the compass begins with the higher note {high}", hint)
        draft.compasses.append((value, compass))

    def _read_order(self, value: _Span, draft: _Draft) -> None:
        if value.text.casefold() == _LOWEST_FIRST:
            draft.lowest_first = True
        else:
            hint = f"write order: {_LOWEST_FIRST}, or leave the header out where the highest voice comes first"
            self.report(value, f"‘{value.words}’ is no order of the voices", hint)

    def _read_cantus(self, value: _Span, draft: _Draft) -> None:
        """None, or shared; any other value is the notes of a voice called so."""
        draft.has_cantus = value.text.casefold() != "none"
        draft.shares_cantus = draft.has_cantus

    def _read_rules(self, value: _Span, draft: _Draft) -> None:
        draft.rules = value.text

    # Voices

    def _read_voice(self, line: _Line, draft: _Draft) -> None:
        found = _LABEL.match(line.text)
        mistake = _label_mistake(found[1]) if found else "a line begins with the label of its voice"
        if found is None or mistake:
            span = _Span(line, *found.span(1)) if found else _whole(line)
            hint = f"write {found[1]}: …" if found and found[1].casefold() in _HEADERS else "write such as: upper A4 G4"
            self.report(span, mistake, hint)
            return
        voice = self._voice(_Span(line, *found.span(1)), draft)
        if voice is None:
            return
        voice.marked = voice.marked or found[2] is not None
        tokens = [_Span(line, *match.span()) for match in _TOKEN.finditer(line.text, found.end())]
        if not tokens:
            self.report(voice.label, f"‘{voice.name}’ has no notes on this line")
        for token in tokens:
            if token.text == "|":
                self._check_bar_line(token, voice, draft)
            elif draft.events < MAX_EVENTS:
                self._read_event(token, voice, draft)
            else:
                self.report(token, f"an exercise may have {MAX_EVENTS} notes and rests, no more")
                return

    def _voice(self, label: _Span, draft: _Draft) -> _VoiceDraft | None:
        """The voice of a label, new or going on with its next system; None when it can't be read."""
        key = label.text.casefold()
        voice = draft.voices.get(key)
        if voice is None:
            if len(draft.starts) > 1:
                hint = _nearest_hint(key, list(draft.voices)) or "write rests where the voice is silent"
                self.report(label, f"the voice ‘{label.words}’ is not in the first system", hint)
                return None
            if len(draft.voices) == MAX_VOICES:
                self.report(label, f"an exercise may have {MAX_VOICES} voices, no more")
                return None
            voice = draft.voices[key] = _VoiceDraft(label.text, label, draft.metre.bar_length)
        elif key in draft.system:
            hint = "leave a blank line before the next system, or give the voice another label"
            self.report(label, f"‘{label.words}’ is here twice in one system", hint)
            return None
        draft.system.add(key)
        voice.systems += 1
        if voice.systems > len(draft.starts):
            draft.starts.append(voice.time)
        elif voice.time != draft.starts[voice.systems - 1] and draft.sound:
            there, here = _place(draft, draft.starts[voice.systems - 1]), _place(draft, voice.time)
            message = f"this system begins at {here} in ‘{voice.name}’, but at {there} in the voice above"
            self.report(label, message, "write rests where a voice is silent")
        return voice

    def _check_bar_line(self, token: _Span, voice: _VoiceDraft, draft: _Draft) -> None:
        full = draft.metre.bar_length
        bars, held = divmod(voice.time, full)
        if held and not voice.unsure:
            bar = draft.first_bar + bars
            message = f"this bar line comes after {held} of the {full} quarter notes of bar {bar}"
            self.report(token, message)
        voice.time = full * (bars + (1 if 2 * held >= full else 0))
        voice.unsure = False

    def _read_event(self, token: _Span, voice: _VoiceDraft, draft: _Draft) -> None:
        draft.events += 1
        parts = _PARTS.fullmatch(token.line.text, token.start, token.end)
        if parts is None:
            self.report(token, f"‘{token.words}’ is not a note", "a tie ~ comes last: A4/2~")
            return
        length = self._length(_Span(token.line, *parts.span("length")), parts["length"], voice.length)
        head = _Span(token.line, *parts.span("head"))
        is_rest, is_open = head.text in ("r", "R"), head.text == "?"
        pitch = None if is_rest or is_open else self._pitch(head, voice)
        voice.unsure = voice.unsure or length is None
        if length is not None:
            voice.length = length
            voice.time += length
        if length is None or (pitch is None and not is_rest and not is_open):
            voice.tie = None
            return
        if is_rest and parts["tie"]:
            self.report(token, "a rest cannot be tied")
            return
        event = Event(pitch, voice.length, bool(parts["tie"]), is_open)
        self._check_tie(voice, event)
        voice.tie, voice.tied_open = token if parts["tie"] else None, is_open
        voice.pitch = pitch if pitch is not None else voice.pitch
        voice.events.append(event)
        voice.typed.append(token)

    def _check_tie(self, voice: _VoiceDraft, event: Event) -> None:
        before = None if voice.tied_open else voice.pitch
        if voice.tie is not None and (event.pitch, event.open) != (before, voice.tied_open):
            there = {"r": "a rest", "?": "a note to be found"}.get(_name(event), _name(event))
            message = f"the tie after ‘{voice.tie.words}’ leads to {there}"
            self.report(voice.tie, message, "a tie joins two notes of the same pitch")

    def _length(self, span: _Span, typed: str | None, in_force: Fraction) -> Fraction | None:
        """The length after the slash, or the one in force; None when it is mistyped."""
        if typed is None:
            return in_force
        length = _LENGTHS.get(typed)
        if length is None:
            near = None if typed.isdigit() else nearest(typed, _LENGTHS)
            hint = f"lengths are {', '.join(_PLAIN_LENGTHS)}, with up to two dots"
            self.report(span, f"there is no length ‘{span.words}’", f"did you mean {near}? {hint}" if near else hint)
        return length

    def _pitch(self, head: _Span, voice: _VoiceDraft) -> Pitch | None:
        """The pitch of a typed note; None when it is mistyped."""
        match = _NOTE.fullmatch(head.line.text, head.start, head.end)
        if match is None:
            self.report(head, f"‘{head.words}’ is not a note", _note_hint(head.words))
            return None
        if match[3]:
            return pitch_of(match[0])
        if voice.pitch is None:
            hint = f"write such as {match[0].capitalize()}4; middle C is C4"
            self.report(head, "the first note of a voice needs its octave", hint)
            voice.pitch = pitch_of(f"{match[0].capitalize()}4")  # so that it is told once
            return None
        pitch = _nearest_pitch(LETTERS.index(match[1].upper()), match[2], voice.pitch)
        if not 0 <= octave(pitch) <= 9:
            self.report(head, f"{pitch_name(pitch)} is beyond any voice")
            return None
        return pitch


def _nearest_pitch(letter_: int, signs: str, before: Pitch) -> Pitch:
    """The note of a letter that lies within a fourth of the note before, by letters."""
    near = step(before) + (letter_ - letter(before) + 3) % 7 - 3
    return make_pitch(letter_, signs.count("#") - signs.count("b"), near // 7)


def _place(draft: _Draft, time: Fraction) -> str:
    bar = draft.metre.bar_of(time) + draft.first_bar - 1
    return f"bar {bar}, beat {draft.metre.beat_of(time)}"


def _whole(line: _Line) -> _Span:
    """All of a line but the blanks around it."""
    text = line.text.rstrip()
    return _Span(line, len(text) - len(text.lstrip()), len(text))


def _shown(text: str) -> str:
    """A text that was typed, fit to be shown in a message."""
    words = _printable(text)
    return words if len(words) <= _LONGEST_WORDS else words[: _LONGEST_WORDS - 1] + "…"


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() or c == "\t" else "·" for c in text)


def _label_mistake(label: str) -> str:
    """What is wrong with a word as the label of a voice; empty when nothing is."""
    if len(label) > _LONGEST_WORDS or not label.isprintable():
        return f"a label is one word of {_LONGEST_WORDS} characters at most, all of them printable"
    if label.startswith("--"):
        return "a line that begins with -- is a comment"
    if label.casefold() in _HEADERS and not names_cantus(label):
        return f"after the header ‘{label}’ comes a colon"
    if _LIKE_A_NOTE.fullmatch(label):
        return f"this line begins with the note ‘{label[:30]}’, not with the label of its voice"
    return ""


def _header_hint(word: _Span) -> str:
    if word.text.casefold() in _FORMER:
        return f"write {_FORMER[word.text.casefold()]}"
    known = f"the headers are {', '.join(_HEADERS)}; the first note of a voice needs its octave"
    return _nearest_hint(word.words.casefold(), _HEADERS) or known


def _nearest_hint(word: str, words: Sequence[str]) -> str:
    near = nearest(word, words)
    return f"did you mean {near}?" if near else ""


def _note_hint(words: str) -> str:
    if words[:1] in ("H", "h"):
        return "B is B natural here, Bb is B flat"
    if "♯" in words or "♭" in words:
        return "write # for a sharp and b for a flat"
    if words.startswith("("):
        return "the cantus is marked so: upper (cantus)"
    if words.endswith("."):
        return "dots follow a length: A4/2."
    return "write such as C#4, Bb3/2 or G, r for a rest, ? for a note to be found"
