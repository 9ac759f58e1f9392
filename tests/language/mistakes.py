"""The catalogue of mistakes: files in ``errors`` whose name ends in ``.cases``.

A file begins with a frame, a rules file in which ``@`` stands for the line with the mistake, and a line of hyphens.
A case is the line as an author typed it, then for each message its place and words, and what it says to do, indented.
``python -m tests.language.mistakes`` writes all messages anew, to be read before they are kept.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.language.loading import load_text

FILES = sorted((Path(__file__).parent / "errors").glob("*.cases"))


@dataclass(frozen=True, slots=True)
class Mistake:
    """A line with a mistake in its frame, and the whole of what is told of it."""

    frame: str
    line: str
    told: str

    @property
    def text(self) -> str:
        """The file with the mistake in it."""
        return self.frame.replace("@", self.line)


@cache
def diagnostics(text: str) -> tuple[Diagnostic, ...]:
    """What is wrong with a rules file."""
    try:
        load_text(text, "own.rules")
        return ()
    except RulekitError as error:
        return error.diagnostics


def words(found: tuple[Diagnostic, ...]) -> str:
    """Messages as a file of cases has them."""
    lines = (f"  {d.line}:{d.column} {d.message}\n" + (f"      {d.hint}\n" if d.hint else "") for d in found)
    return "".join(lines)


def read(path: Path) -> Iterator[Mistake]:
    """The cases of a file."""
    frame, _, cases = path.read_text(encoding="utf-8").partition("----\n")
    for case in cases.split("\n\n"):
        line, _, told = case.strip("\n").partition("\n")
        yield Mistake(frame, line, told + "\n")


def _write(path: Path) -> None:
    cases = list(read(path))
    blocks = [f"{case.line}\n{words(diagnostics(case.text))}" for case in cases]
    path.write_text(f"{cases[0].frame}----\n" + "\n".join(blocks), encoding="utf-8")


if __name__ == "__main__":
    for each in FILES:
        _write(each)
