"""The rules files that are open in an editor, and those beside them on the disk."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.editor.names import NameKind, Occurrence, declarations, occurrences, references
from rulekit.language.library import EXTENSION, find_ruleset, read_ruleset
from rulekit.language.loading import load_text
from rulekit.language.memory import Memory
from rulekit.language.parser import Parsed, parse
from rulekit.language.vocabulary import is_known
from rulekit.language.whole import Examined, examine
from rulekit.resources import shipped

_Texts = tuple[str, ...]
_Problems = tuple[Diagnostic, ...]
_MOST_FILES = 500  # of a folder in which a name is looked for


@dataclass(frozen=True, slots=True)
class Located:
    """A name somewhere in a file."""

    path: Path
    occurrence: Occurrence


@dataclass(slots=True)
class Folder:
    """Texts by resolved path: those open in the editor (``unsaved``) stand for the disk's."""

    unsaved: dict[str, str] = field(default_factory=dict[str, str])
    _parsed: dict[str, tuple[str, Parsed]] = field(default_factory=dict[str, tuple[str, Parsed]])
    _read: Memory = field(default_factory=Memory)
    _memories: dict[str, Memory] = field(default_factory=dict[str, Memory])
    _examined: dict[str, tuple[_Texts, Examined]] = field(default_factory=dict[str, tuple[_Texts, Examined]])
    _mended: dict[str, tuple[_Texts, _Problems]] = field(default_factory=dict[str, tuple[_Texts, _Problems]])

    def text(self, path: Path) -> str:
        """The text of a file as it stands in the editor, or else on the disk; empty if it can't be read."""
        open_text = self.unsaved.get(str(path.resolve()))
        if open_text is not None:
            return open_text
        try:
            return read_ruleset(path)[1]
        except RulekitError:
            return ""

    def parsed(self, path: Path) -> Parsed:
        """A file's tree; only statements that are others than before are read again."""
        key, text = str(path.resolve()), self.text(path)
        known = self._parsed.get(key)
        if known is None or known[0] != text:
            known = self._parsed[key] = (text, parse(text, str(path), self._read.pieces))
        return known[1]

    def examined(self, path: Path) -> Examined:
        """A ruleset as far as it can be understood; the same as before while no text has changed that it is made of."""
        key, texts = str(path.resolve()), self._texts(path)
        known = self._examined.get(key)
        if known is None or known[0] != texts:
            memory = self._memories.setdefault(key, Memory())
            known = self._examined[key] = texts, examine(texts[0], str(path), path.parent, self.unsaved, memory)
        return known[1]

    def mended(self, path: Path) -> tuple[Diagnostic, ...]:
        """What is wrong with a ruleset, with the lines that would mend it: they are looked for once for a text."""
        key, texts = str(path.resolve()), self._texts(path)
        known = self._mended.get(key)
        if known is None or known[0] != texts:
            known = self._mended[key] = texts, _problems(texts[0], path)
        return known[1]

    def _texts(self, path: Path) -> _Texts:
        """The texts that a ruleset is made of, its own first."""
        return tuple(self.text(each) for each in self.reached(path))

    def reached(self, path: Path) -> Iterator[Path]:
        """A file, then those that it names, and those that these name."""
        waiting, seen = [path], set[str]()
        while waiting:
            here = waiting.pop(0)
            if str(here.resolve()) in seen:
                continue
            seen.add(str(here.resolve()))
            yield here
            named = (find_ruleset(each.target, here.parent) for each in references(self.parsed(here)))
            waiting += [each for each in named if each is not None]

    def named_in(self, path: Path) -> set[str]:
        """The names of the files that a file names, and that these name, whether they are there or not."""
        return {Path(each.target).stem for here in self.reached(path) for each in references(self.parsed(here))}

    def beside(self, path: Path) -> Iterator[Path]:
        """The rules files of a file's folder and below, and the shipped ones."""
        for number, each in enumerate(sorted(path.parent.rglob(f"*{EXTENSION}"))):
            if number < _MOST_FILES:
                yield each
        yield from sorted(shipped("rulesets").glob(f"*{EXTENSION}"))

    # ---- names -------------------------------------------------------------------------------------

    def at(self, path: Path, place: int) -> Occurrence | None:
        """The name at a place in a file, in characters from its start."""
        here = (each for each in occurrences(self.parsed(path)) if each.span.start <= place <= each.span.end)
        return next(here, None)

    def declaration(self, path: Path, name: Occurrence) -> Located | None:
        """Where the thing of that name, as a file understands it, gets its name; None for a word of the language."""
        if name.kind in ("file", "given"):
            return None
        wanted: tuple[NameKind, ...] = ("definition", "parameter") if name.kind == "word" else (name.kind,)
        for each in self.reached(path):
            for kind in wanted:
                found = declarations(self.parsed(each)).get((kind, name.word))
                if found:
                    return Located(each.resolve(), found)
        return None

    def named_file(self, path: Path, name: str) -> Path | None:
        """The file that another names."""
        return find_ruleset(name, path.parent)

    def may_rename(self, path: Path, name: Occurrence) -> bool:
        """Whether a name is the author’s own: no word of the language, nothing shipped, no file."""
        if name.kind == "given":
            return True
        home = self.declaration(path, name)
        return home is not None and not home.path.is_relative_to(shipped("rulesets").resolve())

    def is_free(self, path: Path, word: str) -> bool:
        """Whether a word can be the name of something in a file: it is one name, and nothing is called so yet."""
        dropped = parse(f"drop {word}", "")
        if is_known(word) or dropped.diagnostics or [token.type for token in dropped.tokens] != ["DROP", "NAME"]:
            return False
        return not any(word == name for each in self.reached(path) for _, name in declarations(self.parsed(each)))

    def everywhere(self, path: Path, name: Occurrence) -> list[Located]:
        """Every place that means the same thing, in all files of the folder; the declaration among them."""
        if name.kind == "given":
            return [Located(path, each) for each in self._given(path, name)]
        home = self.declaration(path, name)
        if home is None:
            return []
        files = {str(each.resolve()): each for each in (home.path, path, *self.beside(path))}
        return [
            Located(each.resolve(), other)
            for each in files.values()
            for other in occurrences(self.parsed(each))
            if other.word == name.word and self.declaration(each, other) == home
        ]

    def _given(self, path: Path, name: Occurrence) -> list[Occurrence]:
        """What a definition is given, within that definition."""
        items = self.parsed(path).file.items
        (span,) = [item.span for item in items if item.span.start <= name.span.start < item.span.end]
        named = occurrences(self.parsed(path))
        return [
            each
            for each in named
            if (each.kind, each.word) == ("given", name.word) and span.start <= each.span.start < span.end
        ]


def _problems(text: str, path: Path) -> _Problems:
    try:
        load_text(text, str(path), path.parent)
    except RulekitError as error:
        return error.diagnostics
    return ()
