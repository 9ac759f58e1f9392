"""What was read and understood of rules files before, statement by statement.

An editor asks about the same files after every stroke of a key. A statement that stands as it stood is not read
again, and one whose words mean what they meant is not checked again.

>>> memory = Memory()
>>> examine(text, path, folder, memory=memory)              # doctest: +SKIP
"""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from rulekit.language import typed as t
from rulekit.language.build import ClauseError, Origin
from rulekit.language.checking import CheckError, Environment
from rulekit.language.parser import Piece, split
from rulekit.language.syntax import Definition, Node

T = TypeVar("T")
_Words = tuple[Mapping[str, Definition], Mapping[str, t.Const], frozenset[str], bool]


@dataclass(frozen=True, slots=True)
class _Checked:
    """What came of checking a statement: its result or its mistake, and what it told the environment."""

    parts: tuple[object, ...]
    result: Any
    error: CheckError | ClauseError | None
    told: Environment


@dataclass(slots=True)
class Memory:
    """What is known of one ruleset and the files it is made of.

    A statement that moves keeps its tree, whose places move with it: what was found of an earlier text tells
    places in the latest one.
    """

    _read: dict[str, dict[tuple[str, int], Piece]] = field(default_factory=dict[str, dict[tuple[str, int], Piece]])
    _checked: dict[str, _Checked] = field(default_factory=dict[str, _Checked])
    _words: _Words = ({}, {}, frozenset(), False)

    def pieces(self, text: str, path: str, read: Callable[[str, Origin], Piece]) -> list[Piece]:
        """The statements of a file, read by ``read`` where they were not there before."""
        known, now = self._read.get(path, {}), dict[tuple[str, int], Piece]()
        seen = Counter[str]()
        for part, base in split(text):
            seen[part] += 1
            key = (part, seen[part])
            now[key] = known.get(key) or read(part, Origin(path, base=base))
            now[key].base.line, now[key].base.start = base.line, base.start
        self._read[path] = {key: piece for key, piece in now.items() if piece.is_sound}
        return list(now.values())

    def begin(self, environment: Environment) -> None:
        """Forget what was checked if the words of the ruleset mean something else than before."""
        definitions, *others = self._words
        now = environment.definitions
        alike = definitions.keys() == now.keys() and all(definitions[word] is now[word] for word in now)
        self._words = dict(now), dict(environment.parameters), frozenset(environment.faulty), environment.incomplete
        if not alike or others != list(self._words[1:]):
            self._checked.clear()

    def checked(
        self, name: str, parts: tuple[object, ...], environment: Environment, check: Callable[[Environment], T]
    ) -> T:
        """What ``check`` gives (or raises) for a statement; it is asked only if any of its parts is another."""
        known = self._checked.get(name)
        if known is None or len(known.parts) != len(parts) or not all(map(_is_same, known.parts, parts)):
            known = self._checked[name] = _look(parts, environment, check)
        environment.used |= known.told.used
        environment.faulty |= known.told.faulty
        environment.remarks += known.told.remarks
        environment.parts += known.told.parts
        if known.error is not None:
            raise known.error.with_traceback(None)
        return known.result


def _is_same(known: object, now: object) -> bool:
    return known is now or (not isinstance(now, Node) and known == now)


def _look(parts: tuple[object, ...], environment: Environment, check: Callable[[Environment], Any]) -> _Checked:
    own = replace(environment, used=set[str](), faulty=set(environment.faulty), remarks=list[CheckError]())
    result = error = None
    try:
        result = check(own)
    except (CheckError, ClauseError) as wrong:
        error = wrong
    own.faulty -= environment.faulty
    own.parts -= environment.parts
    return _Checked(parts, result, error, own)
