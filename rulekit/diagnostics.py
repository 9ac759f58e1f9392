"""Messages about what an author or a teacher typed: where, what, what was meant, how to mend it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Diagnostic:
    """One mistake in a file: lines and columns count from 1; ``length`` is in characters.

    ``hint`` says one way to mend it; ``source_line`` is the author's line as typed.
    """

    path: str
    line: int
    column: int
    length: int
    message: str
    hint: str = ""
    source_line: str = ""

    def __str__(self) -> str:
        lines = [f"{self.path}:{self.line}:{self.column}: {self.message}"]
        if self.source_line:
            width = max(1, min(self.length, len(self.source_line) - self.column + 1))
            indent = "".join("\t" if c == "\t" else " " for c in self.source_line[: self.column - 1])
            lines += [f"    {self.source_line}", f"    {indent}{'^' * width}"]
        if self.hint:
            lines.append(f"    {self.hint}")
        return "\n".join(lines)


class RulekitError(Exception):
    """Something typed by a person can't be used; ``diagnostics`` says what, all of it at once."""

    def __init__(self, diagnostics: Sequence[Diagnostic]) -> None:
        self.diagnostics = tuple(sorted(set(diagnostics)))
        super().__init__("\n".join(str(diagnostic) for diagnostic in self.diagnostics))


def with_article(noun: str) -> str:
    """``a note``, ``an interval``."""
    return f"{'an' if noun[:1] in 'aeiou' else 'a'} {noun}"


_LONGEST = 32  # characters of a word that are compared with others
_LIKE = 0.68  # twice the letters that two words share in order, over the letters of both


def nearest(word: str, words: Iterable[str]) -> str | None:
    """The valid word most like the one typed, None if nothing is near; a longer word is like none."""
    if len(word) > _LONGEST:
        return None
    from rapidfuzz import process
    from rapidfuzz.distance import Indel, Prefix

    known = list(words)
    likely = process.extract(word, known, scorer=Indel.normalized_similarity, score_cutoff=_LIKE)
    if not likely and "-" in word:  # the parts of a name in another order
        ordered = {_in_order(each): each for each in known}
        found = process.extract(_in_order(word), list(ordered), scorer=Indel.normalized_similarity, score_cutoff=_LIKE)
        likely = [(ordered[each], score, 0) for each, score, _ in found]
    if not likely and "-" in word:  # a part of it
        shared = {each: len({*each.split("-")} & {*word.split("-")}) for each in known if "-" in each}
        likely = [(each, number, 0) for each, number in shared.items() if number]
    return max(likely, key=lambda each: (each[1], Prefix.similarity(word, each[0])), default=(None,))[0]


def _in_order(name: str) -> str:
    """A name with its parts in the order of the alphabet."""
    return "-".join(sorted(name.split("-")))


def did_you_mean(word: str, words: Iterable[str], otherwise: str = "") -> str:
    """The hint that names the nearest valid word, or what else to say if nothing is near."""
    near = nearest(word, words)
    return f"Did you mean ‘{near}’?" if near else otherwise
