"""Files written whole or not at all."""

import contextlib
import os
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

from rulekit.diagnostics import Diagnostic, RulekitError

_PART = ".part"


@contextmanager
def whole(path: Path) -> Generator[Path]:
    """A file to write in the place of ``path``, which it takes only when it is complete and on the disk.

    A link is followed and stays a link; an older file's permissions are kept. What is no regular
    file (a device, a pipe) is written as it is. Raises RulekitError when the file can't be
    written; then the older one is as it was.
    """
    try:
        if path.exists() and not path.is_file():
            yield path
        else:
            yield from _beside(path.resolve())
    except OSError as error:
        reason = error.strerror or str(error)
        raise RulekitError([Diagnostic(str(path), 1, 1, 1, f"can’t be written: {reason}")]) from error


def _beside(target: Path) -> Generator[Path]:
    """A file in the same folder, which replaces the target."""
    import tempfile

    number, name = tempfile.mkstemp(prefix=f".{target.stem[:40]}-", suffix=f"{_PART}{target.suffix}", dir=target.parent)
    os.close(number)
    new = Path(name)
    try:
        yield new
        _settle(new)
        _take_permissions(new, target)
        new.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            new.unlink()
        raise


def _settle(path: Path) -> None:
    """Wait until a file is on the disk: a full one is told here."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _take_permissions(new: Path, target: Path) -> None:
    if target.exists():
        import shutil

        shutil.copymode(target, new)
    elif os.name == "posix":
        mask = os.umask(0)
        os.umask(mask)
        new.chmod(0o666 & ~mask)


def folder(path: Path) -> None:
    """Make a folder if it isn't there. Raises RulekitError if it can't be made."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RulekitError([Diagnostic(str(path), 1, 1, 1, f"can’t be made: {error.strerror}")]) from error


def free_name(stem: str, suffix: str, taken: set[str]) -> str:
    """The name of a file that is not taken yet, numbered if it has to be; then it is taken."""
    names = (f"{stem}{'' if number == 1 else f'-{number}'}{suffix}" for number in range(1, len(taken) + 2))
    name = next(each for each in names if each not in taken)
    taken.add(name)
    return name


def sweep(place: Path) -> None:
    """Remove from a folder what processes that were killed had half written."""
    for each in place.glob(f".*{_PART}.*"):
        with contextlib.suppress(OSError):
            each.unlink()


def write_whole(path: Path, text: str) -> None:
    """Write a text file, UTF-8 with its line ends as they are.

    What is no character (a file name's byte that is not UTF-8) is written as a question mark.
    """
    with whole(path) as new:
        new.write_text(text, encoding="utf-8", errors="replace", newline="\n")
