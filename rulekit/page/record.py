"""What has been returned to a class so far, kept beside its pages: so that a return goes on where it was left."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from rulekit.files import write_whole
from rulekit.page.index import Entry, Said

_NAME = ".returned.json"


@dataclass(slots=True)
class Record:
    """The pages of a folder.

    ``made`` holds for each page what it was made from, as a hash, and the entries of its exercises; ``marks`` the mark
    of each exercise at the last return that was finished, ``said`` its findings then.
    """

    path: Path
    made: dict[str, tuple[str, tuple[Entry, ...]]] = field(default_factory=dict[str, "tuple[str, tuple[Entry, ...]]"])
    marks: dict[str, int] = field(default_factory=dict[str, int])
    said: dict[str, tuple[Said, ...]] = field(default_factory=dict[str, "tuple[Said, ...]"])

    def known(self, page: str, source: str) -> bool:
        """Whether a page was made from just this and is still there."""
        made, _ = self.made.get(page, ("", ()))
        return made == source and (self.path.parent / page).is_file()

    def add(self, page: str, source: str, entries: tuple[Entry, ...]) -> None:
        """Note, on the disk as well, that a page is made."""
        self.made[page] = source, entries
        self._write()

    def since(self, name: str, entry: Entry) -> Entry:
        """An exercise’s entry with what is known of it from the last return, by the name it is known by."""
        return entry.since(self.marks[name], self.said.get(name, ())) if name in self.marks else entry

    def finish(self, entries: dict[str, Entry], pages: Iterable[str]) -> None:
        """Note that a return is finished: what it did not have is forgotten, but for its mark and findings."""
        self.marks |= {name: entry.mark for name, entry in entries.items()}
        self.said |= {name: entry.said for name, entry in entries.items()}
        self.made = {page: self.made[page] for page in pages}
        self._write()

    def _write(self) -> None:
        made = {
            page: {"source": source, "entries": list(map(asdict, each))} for page, (source, each) in self.made.items()
        }
        write_whole(self.path, json.dumps({"made": made, "marks": self.marks, "said": self.said}, indent=1))


def record_of(folder: Path) -> Record:
    """The record of a folder; an empty one if it has none or none that can be read."""
    path = folder / _NAME
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        made = {page: (str(each["source"]), tuple(map(_entry, each["entries"]))) for page, each in kept["made"].items()}
        said = {exercise: _said(each) for exercise, each in kept["said"].items()}
        return Record(path, made, {exercise: int(mark) for exercise, mark in kept["marks"].items()}, said)
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return Record(path)


def source_of(*parts: object) -> str:
    """What something is made from, as a hash."""
    return sha256(repr(parts).encode("utf-8", "surrogatepass")).hexdigest()


@cache
def program() -> str:
    """The program that makes the pages, as a hash of its code, templates and catalogues."""
    folder = Path(__file__).parents[1]
    kinds = {".py", ".html", ".css", ".js", ".po"}
    files = sorted(each for each in folder.rglob("*") if each.suffix in kinds)
    return source_of(*((each.relative_to(folder).as_posix(), each.read_bytes()) for each in files))


def _entry(kept: dict[str, Any]) -> Entry:
    rules, bars = tuple(map(str, kept["rules"])), tuple(map(int, kept["bars"]))
    read: dict[str, Any] = {"rules": rules, "bars": bars, "said": _said(kept["said"]), "came": (), "went": ()}
    return Entry(**(kept | read))


def _said(kept: list[Any]) -> tuple[Said, ...]:
    return tuple((None if bar is None else int(bar), str(message)) for bar, message in kept)
