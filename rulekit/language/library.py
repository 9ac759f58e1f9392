"""The files of rulesets: where they are found, and their texts."""

from collections.abc import Mapping
from pathlib import Path

from rulekit.diagnostics import Diagnostic, RulekitError, did_you_mean
from rulekit.language import limits
from rulekit.resources import shipped

EXTENSION = ".rules"
NOT_RULES = f"a ruleset is a regular file whose name ends in ‘{EXTENSION}’"


def find_ruleset(name: str, beside: Path | None = None) -> Path | None:
    """The file of a ruleset: a path, a name beside another file, or the name of a shipped one."""
    folder = beside or Path()
    candidates = [folder / name, folder / (name + EXTENSION), shipped("rulesets") / (Path(name).stem + EXTENSION)]
    return next((path for path in candidates if exists(path) and path.suffix == EXTENSION), None)


def shipped_names() -> list[str]:
    """The names of the shipped rulesets."""
    return sorted(path.stem for path in shipped("rulesets").glob("*" + EXTENSION))


def exists(path: Path) -> bool:
    """Whether there is a file of that name."""
    try:
        return path.exists() and not path.is_dir()
    except (OSError, ValueError):  # such as a name too long for the disk, or with a zero in it
        return False


def read(path: Path) -> str:
    """The text of a rules file, and of nothing else: no device, no pipe, no more than is ever read."""
    try:
        if not path.is_file() or path.resolve().suffix != EXTENSION:
            raise RulekitError([Diagnostic(str(path), 1, 1, 1, NOT_RULES)])
        with path.open("rb") as stream:
            data = stream.read(limits.MAX_BYTES + 1)
        if len(data) > limits.MAX_BYTES:
            message = f"the file is larger than {limits.MAX_BYTES // 1000} kB, the most that is read"
            raise RulekitError([Diagnostic(str(path), 1, 1, 1, message)])
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        message = "this is not a text file (UTF-8)"
        raise RulekitError([Diagnostic(str(path), 1, 1, 1, message)]) from error
    except OSError as error:
        raise RulekitError([Diagnostic(str(path), 1, 1, 1, f"can’t be read: {error.strerror}")]) from error


def named(name: str | Path) -> Path:
    """The file of a ruleset, by path or shipped name; raises RulekitError if there is none."""
    path = find_ruleset(str(name))
    if path is None and exists(Path(name)):
        raise RulekitError([Diagnostic(str(name), 1, 1, 1, NOT_RULES)])
    if path is None:
        hint = did_you_mean(Path(name).stem, shipped_names(), f"Shipped rulesets: {', '.join(shipped_names())}.")
        raise RulekitError([Diagnostic(str(name), 1, 1, 1, "there is no such ruleset", hint)])
    return path


def read_ruleset(name: str | Path) -> tuple[Path, str]:
    """The file of a ruleset, by path or shipped name, and its text; raises RulekitError if there is none."""
    path = named(name)
    return path, read(path)


class Texts:
    """The texts of rules files, each read once however many rulesets take it.

    ``known`` texts, by path, stand for the disk’s.
    """

    def __init__(self, known: Mapping[str, str] | None = None) -> None:
        self._known = {str(Path(path).resolve()): text for path, text in (known or {}).items()}

    def of(self, path: Path) -> str:
        """The text of a file; raises RulekitError where it can’t be read."""
        name = str(path.resolve())
        if name not in self._known:
            self._known[name] = read(path)
        return self._known[name]
