"""Files of the typed notation, which :mod:`rulekit.exercise.notation` reads and writes."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from rulekit.diagnostics import Diagnostic
from rulekit.exercise.infer import Known
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import TURNED, read_exercises, write_exercise
from rulekit.exercise.reading import Place, ReadOptions, Unreadable, cut, settled


@dataclass(frozen=True, slots=True)
class _Typed:
    """The exercises of a text, and the mistakes in the others."""

    typed: Sequence[Exercise]
    problems: Sequence[Diagnostic] = field(default=())

    def exercises(self, options: ReadOptions, path: str) -> tuple[list[Exercise], list[Diagnostic]]:
        """The exercises, with what the options say in place of what was typed."""
        found: list[Exercise] = []
        problems = list(self.problems)
        for exercise, shared in self._as_typed():
            try:
                found += _settled(exercise, shared, options)
            except Unreadable as error:
                problems.append(error.told(path, exercise.title))
        return found, problems

    def _as_typed(self) -> list[tuple[Exercise, bool]]:
        """Each exercise as it was typed, and whether several share its cantus."""
        sheets: list[tuple[Exercise, bool]] = []
        for exercise in self.typed:
            sheet = exercise.whole or exercise
            if not sheets or sheets[-1][0] is not sheet:
                sheets.append((sheet, exercise.whole is not None))
        return sheets


def _settled(typed: Exercise, shared: bool, options: ReadOptions) -> list[Exercise]:
    guessed = any(words.startswith("cantus:") for words in typed.inferred)
    said = [words for words in typed.inferred if words.startswith("mode:") and options.mode is None]
    turned = TURNED in typed.inferred
    said += [TURNED] if turned else []
    options = replace(
        options,
        shared_cantus=shared or options.shared_cantus,
        lowest_first=options.lowest_first and not turned,
    )
    cantus, has_cantus = None if guessed else typed.cantus, typed.cantus is not None or guessed
    known = Known(typed.first_bar, typed.mode, cantus=cantus, has_cantus=has_cantus, said=said)
    found = settled(typed.title, typed.voices, typed.metre, options, known)
    return [cut(each, options.bars) if options.bars else each for each in found]


def read_notes(data: bytes, path: str) -> list[_Typed]:
    """The exercises of a file of text in UTF-8."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        place = Place(data.count(b"\n", 0, error.start) + 1, error.start - data.rfind(b"\n", 0, error.start))
        raise Unreadable("this character is not in UTF-8", "save the file as plain text, UTF-8", place) from error
    return [_Typed(*read_exercises(text, path))]


def write_notes(exercises: Sequence[Exercise]) -> bytes:
    """A file of exercises, one after the other."""
    return "\n".join(write_exercise(exercise) for exercise in exercises).encode()
