"""What the readers and writers of all formats share: their shape, their words of refusal, a teacher's options."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Protocol

from rulekit.diagnostics import Diagnostic, nearest
from rulekit.exercise.infer import Known, complete, sharing_in_words
from rulekit.exercise.limits import MAX_BYTES, MAX_DIVISION, MAX_LINES, MAX_QUARTERS
from rulekit.exercise.model import Event, Exercise, Metre, Voice
from rulekit.music.mode import Mode, mode_of

_LONGEST_TITLE, _LONGEST_NAME = 120, 40
_MOST_LISTED = 8


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands in a file: line and column from 1, and the byte it begins at where that is known."""

    line: int = 1
    column: int = 1
    byte: int = 0


NOWHERE = Place()


class Unreadable(Exception):
    """A file, or a part of it, that can't be read, in words for its owner; ``hint`` says how to mend it."""

    def __init__(self, message: str, hint: str = "", place: Place = NOWHERE) -> None:
        super().__init__(message)
        self.hint, self.place = hint, place

    def told(self, path: str, title: str = "") -> Diagnostic:
        """The problem of a file, or of the exercise of a title in it."""
        message = f"‘{title}’: {self}" if title else str(self)
        return Diagnostic(path, self.place.line, self.place.column, 1, message, self.hint)


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """What a teacher knows better than the file.

    ``cantus`` is the number of its voice, 1 at the top, or its label; ``mode`` as in
    :func:`rulekit.music.mode.mode_of`; ``bars`` the first and the last bar to read, by the
    numbers in the score; ``split`` whether a double or final bar line ends an exercise;
    ``lowest_first`` that the voices are written from the lowest; ``shared_cantus`` that each
    voice over or under the cantus is an exercise of its own with it.
    """

    cantus: int | str | None = None
    mode: str | None = None
    bars: tuple[int, int] | None = None
    split: bool = True
    lowest_first: bool = False
    shared_cantus: bool = False


class Piece(Protocol):
    """What a file holds: exercises that only the options settle."""

    def exercises(self, options: ReadOptions, path: str) -> tuple[list[Exercise], list[Diagnostic]]:
        """The exercises, and what is wrong with the rest; ``path`` is for messages."""
        ...


class Reader(Protocol):
    """Reads a file of one format. Raises Unreadable; never anything else, whatever the file holds."""

    def __call__(self, data: bytes, path: str) -> Sequence[Piece]:
        """The pieces in a file; ``path`` is for messages, and its stem the title of what has none."""
        ...


class Writer(Protocol):
    """Writes exercises in one format. Raises ValueError, in words, for what the format can't hold."""

    def __call__(self, exercises: Sequence[Exercise]) -> bytes:
        """The file."""
        ...


@dataclass(frozen=True, slots=True)
class Format:
    """A format: the suffixes of its files, and how it is read and (if at all) written."""

    suffixes: tuple[str, ...]
    read: Reader
    write: Writer | None = None


def only(exercises: Sequence[Exercise], format_: str) -> Exercise:
    """The one exercise that a file of some formats holds; raises ValueError for several."""
    if len(exercises) != 1:
        raise ValueError(f"a file of {format_} holds one exercise; write several in the typed notation")
    return exercises[0]


# ---- words and numbers out of files --------------------------------------------------------------


def text_lines(data: bytes) -> list[str]:
    """The lines of a file of text in UTF-8, whatever ends them; what is not UTF-8 becomes a sign without meaning."""
    if len(data) > MAX_BYTES:
        raise Unreadable(f"the text is longer than {MAX_BYTES} bytes")
    lines = data.decode("utf-8-sig", errors="replace").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if len(lines) > MAX_LINES:
        raise Unreadable(f"the text has more than {MAX_LINES} lines", place=Place(MAX_LINES + 1))
    return lines


def clean_title(text: str) -> str:
    """A title fit for a terminal and a page: one line, without control characters, not endless."""
    return _shortened(" ".join(_printable(text).split()), _LONGEST_TITLE)


def clean_name(text: str) -> str:
    """The name of a voice as one word, with the mark of the cantus kept behind it."""
    text = " ".join(_printable(text).split())
    plain = text.removesuffix("(cantus)").rstrip()
    word = "-".join(part for part in "".join(" " if c in "|():" else c for c in plain).split())
    word = _shortened(word, _LONGEST_NAME)
    return f"{word} (cantus)" if plain != text else word


def listed(words: Iterable[str]) -> str:
    """Each word once, and of many the first with how many more there are."""
    found = list(dict.fromkeys(words))
    more = len(found) - _MOST_LISTED
    return ", ".join(found) if more <= 0 else f"{', '.join(found[:_MOST_LISTED])} and {more} more"


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() or c.isspace() else "" for c in text[: 10 * _LONGEST_TITLE])


def _shortened(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"


def check_count(count: int, most: int, what: str, place: Place = NOWHERE) -> None:
    """Refuse a score that has more of something than is read."""
    if count > most:
        raise Unreadable(f"there are more than {most} {what} in this score", place=place)


def checked_time(time: Fraction, place: Place = NOWHERE) -> Fraction:
    """The time, if a score may last so long and count so finely."""
    if time > MAX_QUARTERS:
        raise Unreadable(f"the score is longer than {MAX_QUARTERS} quarter notes", place=place)
    if time.denominator > MAX_DIVISION:
        raise Unreadable("this note begins at a time that no notation writes", "correct its length", place)
    return time


# ---- options -------------------------------------------------------------------------------------


def stated_mode(options: ReadOptions) -> Mode | None:
    """The mode that the options name."""
    if options.mode is None:
        return None
    try:
        return mode_of(options.mode)
    except ValueError as error:
        raise Unreadable(str(error)) from error


def chosen_cantus(options: ReadOptions, voices: Sequence[Voice]) -> int | None:
    """The index of the voice that the options name."""
    chosen = options.cantus
    if chosen is None:
        return None
    if isinstance(chosen, int):
        if not 1 <= chosen <= len(voices):
            raise Unreadable(f"there is no voice {chosen} to be the cantus; voices are numbered 1 to {len(voices)}")
        return chosen - 1
    names = [voice.name.casefold() for voice in voices]
    label = clean_name(chosen).casefold()
    if label not in names:
        near = nearest(label, names)
        hint = f"did you mean {near}?" if near else f"the voices are {', '.join(names)}"
        raise Unreadable(f"there is no voice ‘{chosen}’ to be the cantus", hint)
    return names.index(label)


def settled(title: str, voices: Sequence[Voice], metre: Metre, options: ReadOptions, known: Known) -> list[Exercise]:
    """The exercise, or those over one cantus, from what a file says and what the options say instead.

    ``voices`` are in the order of the file.
    """
    cantus = known.cantus
    if options.lowest_first:
        voices = voices[::-1]
        cantus = None if cantus is None else len(voices) - 1 - cantus
    chosen = chosen_cantus(options, voices)
    stated = replace(
        known,
        mode=stated_mode(options) or known.mode,
        cantus=cantus if chosen is None else chosen,
        has_cantus=known.has_cantus or chosen is not None,
    )
    try:
        exercise = complete(title, voices, metre, stated)
    except ValueError as error:
        hint = "write a header such as mode: D dorian, or --mode"
        raise Unreadable(f"the mode cannot be worked out: {error}", hint) from error
    if not options.shared_cantus:
        asked = sharing_in_words(exercise.voices, exercise.cantus)
        return [replace(exercise, inferred=(*exercise.inferred, *asked))]
    try:
        return exercise.pairs()
    except ValueError as error:
        raise Unreadable(str(error), "name the voice that holds it cantus") from error


def cut(exercise: Exercise, chosen: tuple[int, int]) -> Exercise:
    """The chosen bars of an exercise; a note that is held into or out of them is cut."""
    first, last = chosen
    low, high = exercise.first_bar, exercise.first_bar + exercise.setting.bars - 1
    if not low <= first <= last <= high:
        raise Unreadable(f"there are no bars {first} to {last}; the exercise has {low} to {high}")
    if exercise.metre.changes:
        raise Unreadable("bars cannot be chosen where their length changes")
    begin, end = exercise.metre.start_of(first - low + 1), exercise.metre.start_of(last - low + 2)
    voices = [replace(voice, events=_cut_events(voice, begin, end)) for voice in exercise.voices]
    if not any(event.pitch is not None for voice in voices for event in voice.events):
        raise Unreadable(f"there are no notes in bars {first} to {last}")
    title = exercise.title if chosen == (low, high) else f"{exercise.title}, from bar {first}"
    whole = None if exercise.whole is None else cut(exercise.whole, chosen)
    return replace(exercise, title=title, voices=tuple(voices), first_bar=first, whole=whole)


def _cut_events(voice: Voice, begin: Fraction, end: Fraction) -> tuple[Event, ...]:
    events: list[Event] = []
    time = Fraction(0)
    for event in voice.events:
        length = min(time + event.length, end) - max(time, begin)
        time += event.length
        if length > 0:
            events.append(replace(event, length=length))
    return with_sound_ties(events)


def with_sound_ties(events: Sequence[Event]) -> tuple[Event, ...]:
    """The events, without ties that do not lead to a note of the same pitch."""
    following = [*(event.pitch for event in events[1:]), None]
    return tuple(
        replace(event, tie=event.tie and event.pitch == pitch) for event, pitch in zip(events, following, strict=True)
    )
