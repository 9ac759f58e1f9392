"""Rulesets as they were understood, kept from one run to the next: a command need not read and check them again.

A kept ruleset holds as long as its files say what they said, each name still leads to the same file, and the program
is the same. It is a table of plain values, each made of those before it; what is no such table is not taken.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import fields
from fractions import Fraction
from pathlib import Path
from typing import Any

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.language import cache
from rulekit.language import typed as t
from rulekit.language.library import Texts, find_ruleset, named
from rulekit.language.ruleset import Change, Parameter, Ruleset
from rulekit.language.tree import Breach, ExampleItem, Span
from rulekit.music.motion import Motion
from rulekit.music.rhythm import BarRhythm
from rulekit.resources import shipped
from rulekit.severity import Severity

_Row = int | str | list[int] | None  # a plain value, or the number of a kind with those of its parts
_ENUMS = (t.Type, t.Kind, Severity, Motion)
_KINDS: tuple[type, ...] = (
    tuple, frozenset, Fraction, Span, *_ENUMS, BarRhythm, Breach, ExampleItem, Diagnostic, Change, Parameter, Ruleset,
    t.Ref, t.Const, t.Pattern, t.Attr, t.Fixed, t.Function, t.Stream, t.Among, t.Relation, t.Flag, t.Exists, t.Same,
    t.InVoices, t.Holds, t.Negation, t.All, t.AnyOf, t.Voices, t.Track, t.Gathered, t.Licence, t.Weight, t.Slot, t.Rule,
)  # fmt: skip
_SETTING = "<setting>"  # what stands for a file where the command line sets a parameter
_OF_RULESET = [each.name for each in fields(Ruleset) if each.init]
_WORD = re.compile(r"([a-z]+([-_][a-z]+)*)?")


def kept_ruleset(names: Sequence[str], overrides: Mapping[str, str]) -> Ruleset:
    """As :func:`rulekit.language.loading.load_ruleset`, kept from an earlier run if nothing has changed since."""
    texts = Texts()
    about = ("ruleset", repr([str(named(name).resolve()) for name in names]), repr(names), repr(overrides),
             str(Path.cwd()), _program())  # fmt: skip
    with suppress(Exception):  # anything may have been kept
        found = _made(cache.recalled(*about))
        if _holds(found, texts):
            return found
    from rulekit.language.loading import load_ruleset  # all that reads and checks rules

    loaded = load_ruleset(names, overrides, texts)
    cache.keep(list(_Table(loaded).rows), *about)
    return loaded


def _program() -> str:
    """The program that understands rules, as the sizes and times of its files."""
    folder = Path(__file__).parents[1]
    code = [*folder.glob("*.py"), *(folder / "music").glob("*.py"), *(folder / "language").rglob("*.py")]
    stats = [each.stat() for each in sorted(code)] + [(shipped("grammar") / "rules.lark").stat()]
    return repr([(each.st_size, each.st_mtime_ns) for each in stats])


def _holds(found: Ruleset, texts: Texts) -> bool:
    """Whether all files of a ruleset are where they were and say what they said."""
    try:
        there = all(str(find_ruleset(name, Path(folder))) == path for name, folder, path in found.found)
        files = [(Path(path), text) for path, text in found.texts.items() if path != _SETTING]
        return there and all(_plain(texts.of(path)) == text for path, text in files)
    except RulekitError:
        return False


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


class _Table:
    """Everything that a ruleset is made of, each value once, the whole of it last."""

    def __init__(self, whole: Ruleset) -> None:
        self._known: dict[object, int] = {}
        self.put(whole)

    @property
    def rows(self) -> Iterator[_Row]:
        """A row for each value."""
        return (row[1:] if row[0] is None else row[1] for row in self._known)  # type: ignore[index]

    def put(self, value: object) -> int:
        """The number of a value's row."""
        kind = type(value)
        if value is None or kind in (bool, int, str):
            return self._known.setdefault((kind, value), len(self._known))
        row = (None, _KINDS.index(kind), *map(self.put, _parts(value)))
        return self._known.setdefault(row, len(self._known))


def _parts(value: Any) -> Sequence[object]:
    """What makes a value again, given to its kind."""
    match value:
        case tuple() | frozenset():
            return tuple(value)  # pyright: ignore[reportUnknownVariableType, reportUnknownArgumentType]
        case Fraction():
            return value.as_integer_ratio()
        case Span():
            return value.path, value.line, value.column, value.length, value.start
        case t.Type() | t.Kind() | Severity() | Motion():
            return (value.value,)
        case Ruleset():
            return [tuple(value.texts.items()) if name == "texts" else getattr(value, name) for name in _OF_RULESET]
        case _:
            return [getattr(value, each.name) for each in fields(value)]


def _made(rows: Sequence[_Row]) -> Ruleset:
    """The ruleset of a table; raises an error where there is none."""
    made: list[Any] = []
    for row in rows:
        made.append(_remade(made, *row) if isinstance(row, list) else row)
    assert isinstance(made[-1], Ruleset)
    return made[-1]


def _remade(made: Sequence[Any], kind: int, *places: int) -> Any:
    return _MAKERS[kind](*[made[place] for place in places])


def _ruleset(*parts: Any) -> Ruleset:
    named = dict[str, Any](zip(_OF_RULESET, parts, strict=True))
    named["texts"] = dict[str, str](named["texts"])
    return Ruleset(**named)


def _is_word(part: Any) -> bool:
    return isinstance(part, str) and _WORD.fullmatch(part) is not None


def _is_number(part: Any) -> bool:
    return type(part) is int


# What expressions are written from: words and numbers, and nothing else that somebody might have put there.
_READ: dict[type, dict[int, Callable[[Any], bool]]] = {
    t.Ref: {0: _is_number, 1: _is_word, 2: _is_number},
    t.Attr: {1: _is_word},
    t.Flag: {1: _is_word},
    t.Fixed: {0: _is_word},
    t.Function: {0: _is_word},
    t.Stream: {0: _is_number},
    t.Relation: {0: ("==", "<", "<=").__contains__},
    t.Holds: {0: _is_number},
}


def _maker(kind: type) -> Callable[..., Any]:
    """What makes a value of a kind from its parts."""
    gathered: dict[type, Callable[..., Any]] = {tuple: _tuple, frozenset: _set, Ruleset: _ruleset}
    return _made_by_words(kind) if kind in _READ else gathered.get(kind, kind)


def _tuple(*parts: Any) -> tuple[Any, ...]:
    return parts


def _set(*parts: Any) -> frozenset[Any]:
    return frozenset(parts)


def _made_by_words(kind: type) -> Callable[..., Any]:
    tests = _READ[kind]

    def make(*parts: Any) -> Any:
        if not all(test(parts[place]) for place, test in tests.items()):
            raise ValueError(f"no {kind.__name__} has such parts")
        return kind(*parts)

    return make


_MAKERS = [_maker(kind) for kind in _KINDS]
