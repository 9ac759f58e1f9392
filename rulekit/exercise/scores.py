"""Files of exercises, typed or engraved: one way to load them and one to save them, whatever the format."""

import stat
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from rulekit.diagnostics import Diagnostic, nearest
from rulekit.exercise.clock import TimeUp, within
from rulekit.exercise.formats import FORMATS
from rulekit.exercise.limits import MAX_EXERCISES, MAX_SCORE_BYTES, MAX_SECONDS
from rulekit.exercise.model import Exercise, Origin
from rulekit.exercise.reading import Format, ReadOptions, Unreadable
from rulekit.files import whole

__all__ = [
    "SUFFIXES", "WRITTEN", "ReadOptions", "check_written", "content_of", "load_scores", "save_scores", "title_numbers",
    "written",
]  # fmt: skip

SUFFIXES = tuple(suffix for known in FORMATS for suffix in known.suffixes)
WRITTEN = tuple(suffix for known in FORMATS if known.write is not None for suffix in known.suffixes)
_AS_WRITTEN = ReadOptions()


def load_scores(
    path: Path, options: ReadOptions = _AS_WRITTEN, content: bytes | None = None
) -> tuple[list[Exercise], list[Diagnostic]]:
    """The exercises of a file, by its suffix; those with mistakes are left out and reported.

    ``content`` is what stands in the file, for whoever has opened it already. Never raises for what a file holds.
    """
    exercises: list[Exercise] = []
    problems: list[Diagnostic] = []
    try:
        with within(MAX_SECONDS):
            _read(path, content, options, exercises, problems)
    except TimeUp:
        exercises.clear()
        problems[:] = [_TOO_LONG.told(str(path))]
    return list(_told_apart(exercises, path)), problems


_TOO_LONG = Unreadable(
    f"this takes longer than {MAX_SECONDS:g} s to read", "export it again, or cut it into smaller files"
)


def _read(
    path: Path, content: bytes | None, options: ReadOptions, exercises: list[Exercise], problems: list[Diagnostic]
) -> None:
    """Add what is in a file, and what is wrong with it."""
    try:
        read = _format(path, SUFFIXES, "read").read
        for piece in read(_content(path) if content is None else content, str(path)):
            if len(exercises) + len(problems) > MAX_EXERCISES:
                raise Unreadable(f"there are more than {MAX_EXERCISES} exercises in this file; the rest are not read")
            found, wrong = piece.exercises(options, str(path))
            exercises += found
            problems += wrong
        if not exercises and not problems:
            raise Unreadable("there are no notes in this score")
    except Unreadable as error:
        problems.append(error.told(str(path)))


def _told_apart(exercises: Sequence[Exercise], path: Path) -> Iterator[Exercise]:
    """The exercises of a file with where they come from, numbered where a title is there again."""
    numbers = title_numbers([exercise.title for exercise in exercises])
    for exercise, number in zip(exercises, numbers, strict=True):
        yield replace(exercise, origin=Origin(str(path), number))


def title_numbers(titles: Sequence[str]) -> Iterator[int | None]:
    """For each title its number among those that read the same, from 1; None for one that is there once."""
    shared, met = Counter(titles), Counter[str]()
    for title in titles:
        met[title] += 1
        yield met[title] if shared[title] > 1 else None


def check_written(path: Path) -> None:
    """Raise ValueError, in words, where no score can be written under a name."""
    try:
        _format(path, WRITTEN, "written")
    except Unreadable as error:
        raise ValueError(f"‘{path.name}’: {error}; {error.hint}") from error


def written(exercises: Sequence[Exercise], path: Path) -> bytes:
    """The file that a path of its suffix should hold. Raises ValueError, in words, for what can't be written in it."""
    check_written(path)
    write = _format(path, WRITTEN, "written").write
    assert write is not None
    return write(exercises)


def save_scores(exercises: Sequence[Exercise], path: Path) -> None:
    """Write exercises to a file by its suffix, whole or not at all.

    Raises ValueError, in words, for what the format can't hold, and RulekitError for what can't be written.
    """
    content = written(exercises, path)
    with whole(path) as new:
        new.write_bytes(content)


def _format(path: Path, suffixes: Sequence[str], done: str) -> Format:
    """The format of a path by its suffix, among those that may be read or written."""
    suffix = path.suffix.lower()
    if suffix not in suffixes:
        kind = "folders without scores" if path.is_dir() else "files without an extension"
        kind = f"files of the kind ‘{suffix}’" if suffix else kind
        near = nearest(suffix, suffixes)
        known = f"these are: {', '.join(suffixes)}"
        raise Unreadable(f"{kind} are not {done}", f"did you mean {near}? {known}" if near else known)
    return next(known for known in FORMATS if suffix in known.suffixes)


def content_of(path: Path) -> bytes | None:
    """The bytes of a file of a kind that is read; None for others: :func:`load_scores` tells what is wrong."""
    try:
        _format(path, SUFFIXES, "read")
        return _content(path)
    except Unreadable:
        return None


def _content(path: Path) -> bytes:
    """The bytes of a file, if it is one and not too large; a device or a pipe might never end. Raises Unreadable."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise Unreadable("this is not a file" if not path.is_dir() else "this is a folder")
        with path.open("rb") as file:
            data = file.read(MAX_SCORE_BYTES + 1)
    except ValueError as error:  # a name with a null character
        raise Unreadable("this is not the name of a file") from error
    except OSError as error:
        raise Unreadable(f"the file cannot be read: {error.strerror}") from error
    if len(data) > MAX_SCORE_BYTES:
        raise Unreadable(f"the file is larger than {MAX_SCORE_BYTES} bytes")
    return data
