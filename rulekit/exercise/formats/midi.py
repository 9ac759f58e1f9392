"""Standard MIDI files. Source: Standard MIDI Files 1.0 (MIDI Association, RP-001)."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from rulekit.exercise.formats import signs
from rulekit.exercise.limits import MAX_BARS, MAX_BYTES, MAX_ITEMS, MAX_QUARTERS, MAX_VOICES
from rulekit.exercise.model import ALLA_BREVE, Exercise, Metre, sounding_notes
from rulekit.exercise.reading import Unreadable, check_count, clean_name, clean_title, only
from rulekit.exercise.sheet import Bar, Item, Sheet, Staff
from rulekit.music.pitch import Pitch, make_pitch, semitone

_NAME, _HINT = "MIDI", "export it again as a standard MIDI file"
_GRIDS = (16, 12, 10)  # a time is taken for the nearest of these parts of a quarter note
_DETACHED = Fraction(1, 6)  # the part of a note that a program may cut off at its end
_PLAIN = (1, 2, 3, 4)
_KEYS = ((0, 0), (0, 1), (1, 0), (1, 1), (2, 0), (3, 0), (3, 1), (4, 0), (4, 1), (5, 0), (5, 1), (6, 0))
_NAME_OF_TRACK, _TIME_SIGNATURE = 0x03, 0x58
_TICKS = 10_080  # to the quarter note in what is written


def read_midi(data: bytes, path: str) -> list[Sheet]:
    """The score of a file: a voice for each track, or for each channel where one track has them all."""
    if len(data) > MAX_BYTES:
        raise Unreadable(f"the file is larger than {MAX_BYTES} bytes")
    try:
        return [_File(data).sheet()]
    except IndexError as error:
        raise Unreadable(f"this cannot be read as {_NAME}", _HINT) from error


@dataclass(slots=True)
class _Track:
    """What a track says: its name, and for each channel its notes as (onset, end, key) in ticks."""

    name: str = ""
    notes: dict[int, list[tuple[int, int, int]]] = field(default_factory=dict[int, list[tuple[int, int, int]]])
    end: int = 0


class _File:
    """Goes through the bytes of a file; raises IndexError where it ends too soon."""

    def __init__(self, data: bytes) -> None:
        self.data, self.at = data, 0
        self.times: dict[int, Metre] = {}
        self.count = 0
        if self._take(4) != b"MThd":
            raise IndexError
        length = self._number(4)
        header = self._take(length)
        division = int.from_bytes(header[4:6], "big")
        if len(header) < 6 or not division or division & 0x8000:
            raise Unreadable("the times of this file are not in quarter notes", _HINT)
        self.division = division
        self.tracks: list[_Track] = []
        while self.at < len(data):
            kind, size = self._take(4), self._number(4)
            if kind == b"MTrk":
                self.tracks.append(self._track(self.at + size))
            else:
                self._take(size)

    def _take(self, count: int) -> bytes:
        taken = self.data[self.at : self.at + count]
        if len(taken) < count:
            raise IndexError
        self.at += count
        return taken

    def _number(self, count: int) -> int:
        return int.from_bytes(self._take(count), "big")

    def _variable(self) -> int:
        """A number of variable length, four bytes at most."""
        value = 0
        for _ in range(4):
            byte = self._number(1)
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise IndexError

    def _track(self, end: int) -> _Track:
        track, time, status = _Track(), 0, 0
        sounding: dict[tuple[int, int], list[int]] = {}
        while self.at < end:
            time += self._variable()
            if time > MAX_QUARTERS * self.division:
                raise Unreadable(f"the score is longer than {MAX_QUARTERS} quarter notes")
            if self.data[self.at] >= 0x80:
                status = self._number(1)
            if status >= 0xF0:
                self._read_other(track, status, time)
            elif status:
                self._read_message(track, status, time, sounding)
            else:
                raise IndexError
        track.end = time
        for (channel, key), onsets in sounding.items():
            track.notes.setdefault(channel, []).extend((onset, time, key) for onset in onsets)
        return track

    def _read_other(self, track: _Track, status: int, time: int) -> None:
        """A meta event or a system message."""
        kind = self._number(1) if status == 0xFF else -1
        content = self._take(self._variable())
        if kind == _NAME_OF_TRACK and not track.name:
            track.name = clean_title(content.decode("utf-8", errors="replace"))
        elif kind == _TIME_SIGNATURE and len(content) >= 2:
            if content[1] > 6:
                raise Unreadable("this is no unit of a time signature", _HINT)
            check_count(len(self.times), MAX_BARS, "time signatures")
            self.times[time] = signs.metre(str(content[0]), str(2 ** content[1]))

    def _read_message(self, track: _Track, status: int, time: int, sounding: dict[tuple[int, int], list[int]]) -> None:
        kind, channel = status & 0xF0, status & 0x0F
        first = self._number(1)
        second = self._number(1) if kind not in (0xC0, 0xD0) else 0
        if kind == 0x90 and second:
            self.count += 1
            check_count(self.count, MAX_ITEMS, "notes")
            sounding.setdefault((channel, first), []).append(time)
        elif kind in (0x80, 0x90):
            onsets = sounding.get((channel, first))
            if onsets:
                track.notes.setdefault(channel, []).append((onsets.pop(), time, first))

    # Putting it together

    def sheet(self) -> Sheet:
        """The score."""
        voices = [
            (track.name, channel, notes) for track in self.tracks for channel, notes in sorted(track.notes.items())
        ]
        if not voices:
            raise Unreadable("there are no notes in this score")
        if len(voices) > MAX_VOICES:
            raise Unreadable(f"an exercise may have {MAX_VOICES} voices, no more")
        names = [clean_name(name) if len(self.tracks) > 1 else "" for name, _, _ in voices]
        labels = [n if n and names.count(n) == 1 else f"{n or 'voice'}-{i}" for i, n in enumerate(names, 1)]
        lines = _as_written([self._items(notes) for _, _, notes in voices])
        staves = [Staff(label, line) for label, line in zip(labels, lines, strict=True) if line]
        if not staves:
            raise Unreadable("the notes in this score have no length", _HINT)
        end = max(item.onset + item.length for line in lines for item in line)
        return Sheet(self._title(), list(self._bars(end)), staves, spelled=False, ordered=False)

    def _title(self) -> str:
        """The name of a first track that has no notes is the title."""
        first = self.tracks[0]
        return first.name if not first.notes or len(self.tracks) == 1 else ""

    def _bars(self, end: Fraction) -> Iterator[Bar]:
        metres = {self._time(time): metre for time, metre in sorted(self.times.items())}
        changes = sorted(metres)
        start, number, metre = Fraction(0), 1, None
        while start < end:
            while changes and changes[0] <= start:
                metre = metres[changes.pop(0)]
            length = (metre or ALLA_BREVE).bar_length
            if changes and changes[0] < start + length:
                length = changes[0] - start
            yield Bar(number, start, length, metre, None, None, False)
            start, number = start + length, number + 1
            check_count(number, MAX_BARS, "bars")

    def _time(self, ticks: int) -> Fraction:
        exact = Fraction(ticks, self.division)
        return min((Fraction(round(exact * grid), grid) for grid in _GRIDS), key=lambda near: abs(near - exact))

    def _items(self, notes: Sequence[tuple[int, int, int]]) -> list[Item]:
        """The notes of a voice in order; those that begin together are a chord."""
        items: list[Item] = []
        for onset, end, key in sorted(notes):
            begun, ended = self._time(onset), self._time(end)
            pitch = _unspelled(key)
            if items and items[-1].onset == begun:
                items[-1] = Item(begun, items[-1].length, mistake="a chord")
            elif ended > begun:
                items.append(Item(begun, ended - begun, pitch))
        return items


def _unspelled(key: int) -> Pitch:
    """A key of the keyboard, with any letter: only its semitone counts."""
    letter, alter = _KEYS[key % 12]
    return make_pitch(letter, alter, key // 12 - 1)


def _as_written(lines: Sequence[Sequence[Item]]) -> list[list[Item]]:
    """The notes as written, where a program plays them a little short or lets them overlap a little.

    A short gap that no notation would write (nothing in quarters or thirds of a beat) is none; where
    most short gaps are of that kind, none of them is.
    """
    gaps = [gap for line in lines for item, target in _followed(line) if (gap := _gap(item, target))]
    is_detached = 2 * sum(gap.denominator not in _PLAIN for gap in gaps) > len(gaps)
    return [
        [
            replace(item, length=target - item.onset)
            if (gap := _gap(item, target)) and (is_detached or gap.denominator not in _PLAIN)
            else item
            for item, target in _followed(line)
        ]
        for line in lines
    ]


def _followed(line: Sequence[Item]) -> Iterator[tuple[Item, Fraction]]:
    """Each note and where the next begins; the last should end on a beat."""
    for item, following in zip(line, [*line[1:], None], strict=False):
        end = item.onset + item.length
        yield item, following.onset if following is not None else Fraction(round(end))


def _gap(item: Item, target: Fraction) -> Fraction:
    """How much a note ends before (or after) the next, 0 if it is more than a program cuts off."""
    gap = target - item.onset - item.length
    return gap if abs(gap) <= item.length * _DETACHED else Fraction(0)


# ---- writing -------------------------------------------------------------------------------------


def write_midi(exercises: Sequence[Exercise]) -> bytes:
    """A file with a track for each voice, the first with title and time."""
    exercise = only(exercises, _NAME)
    metre = exercise.metre
    if metre.changes:
        raise ValueError(f"‘{exercise.title}’ has bars whose length changes, which is written in MusicXML")
    unit = int(4 / metre.unit).bit_length() - 1
    first = _meta(_NAME_OF_TRACK, exercise.title.encode()) + _meta(_TIME_SIGNATURE, bytes([metre.beats, unit, 24, 8]))
    tracks = [first, *(_written_voice(exercise, index) for index in range(len(exercise.voices)))]
    chunks = [b"MTrk" + len(track + _END).to_bytes(4, "big") + track + _END for track in tracks]
    header = (6).to_bytes(4, "big") + b"\0\1" + len(chunks).to_bytes(2, "big") + _TICKS.to_bytes(2, "big")
    return b"MThd" + header + b"".join(chunks)


_END = b"\0\xff\x2f\0"


def _meta(kind: int, content: bytes) -> bytes:
    return b"\0\xff" + bytes([kind]) + _written_variable(len(content)) + content


def _written_voice(exercise: Exercise, index: int) -> bytes:
    """A track: name, then each note on and off; tied notes are one."""
    voice, written, now = exercise.voices[index], [b""], 0
    written[0] = _meta(_NAME_OF_TRACK, voice.name.encode())
    for note in sounding_notes(exercise.setting, index, voice.events):
        key = semitone(note.pitch)
        if not 0 <= key < 128:
            raise ValueError(f"‘{exercise.title}’ has a note that MIDI does not know")
        for time, message in ((note.onset, 0x90), (note.end, 0x80)):
            ticks = round(time * _TICKS)
            written.append(_written_variable(ticks - now) + bytes([message, key, 64]))
            now = ticks
    return b"".join(written)


def _written_variable(number: int) -> bytes:
    groups = [number & 0x7F]
    while number := number >> 7:
        groups.append(number & 0x7F | 0x80)
    return bytes(reversed(groups))
