"""The one folder that a desk works in: its files, read and saved whole, and never over somebody else’s changes."""

import hashlib
from dataclasses import dataclass
from pathlib import Path

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.exercise.limits import MAX_SCORE_BYTES
from rulekit.exercise.scores import SUFFIXES
from rulekit.files import write_whole
from rulekit.language.library import EXTENSION

_MOST = 1_000  # files shown
TYPED = ".notes"


@dataclass(frozen=True, slots=True)
class Kept:
    """A file’s text and a stamp of what the disk holds; the stamp of a file that is not there is empty."""

    text: str
    stamp: str


class Shelf:
    """Files by their names within a folder; nothing outside it is read or written."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()

    def names(self, *suffixes: str) -> list[str]:
        """The files with one of some suffixes, in the folder and below, in order."""
        found: list[str] = []
        for path in sorted(self.folder.rglob("*")):
            hidden = any(part.startswith(".") for part in path.relative_to(self.folder).parts)
            if path.suffix in suffixes and not hidden and path.is_file() and self._holds(path):
                found.append(path.relative_to(self.folder).as_posix())
            if len(found) >= _MOST:
                break
        return found

    def rulesets(self) -> list[str]:
        """The rules files."""
        return self.names(EXTENSION)

    def exercises(self) -> list[str]:
        """The scores, typed and others."""
        return self.names(*SUFFIXES)

    def path(self, name: str) -> Path:
        """Where a file is, or would be; raises RulekitError for what is no file of the folder’s."""
        path = (self.folder / name).resolve() if name and "\0" not in name else self.folder
        if path == self.folder or not self._holds(path) or path.suffix not in (EXTENSION, *SUFFIXES):
            raise _wrong(name, "this is no rules file or exercise of this folder")
        return path

    def _holds(self, path: Path) -> bool:
        return path.resolve().is_relative_to(self.folder)

    def read(self, name: str) -> Kept:
        """A text file as it is on the disk; raises RulekitError if it can’t be read."""
        data = self._bytes(name)
        if data is None:
            raise _wrong(name, "there is no such file")
        try:
            return Kept(data.decode("utf-8-sig").replace("\r\n", "\n"), _stamp(data))
        except UnicodeDecodeError:
            raise _wrong(name, "this is not a text file (UTF-8)") from None

    def save(self, name: str, text: str, stamp: str) -> Kept | None:
        """Write a file if the disk still holds what the stamp says; None, and nothing written, if it doesn’t."""
        data = self._bytes(name)
        if (_stamp(data) if data is not None else "") != stamp:
            return None
        path = self.path(name)
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, text)
        return Kept(text, _stamp(text.encode("utf-8")))

    def _bytes(self, name: str) -> bytes | None:
        path = self.path(name)
        try:
            if not path.is_file() or path.stat().st_size > MAX_SCORE_BYTES:
                return None
            return path.read_bytes()
        except OSError as error:
            raise _wrong(name, f"can’t be read: {error.strerror}") from error


def _stamp(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _wrong(name: str, words: str) -> RulekitError:
    return RulekitError([Diagnostic(name, 1, 1, 1, words)])
