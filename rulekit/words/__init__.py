"""The program's own words in the language of a page: gettext catalogues, read from their source files.

A message is its own English; ``locale/LANGUAGE.po`` has it in another language, with the sentences of the rulesets
that come with the program. What another author wrote is never translated.
"""

import gettext
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from io import BytesIO
from pathlib import Path

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from rulekit.diagnostics import nearest
from rulekit.exercise.figures import Figures
from rulekit.exercise.model import Exercise, Note
from rulekit.music.mode import Mode
from rulekit.music.pitch import Interval, Pitch, pitch_name, quality, simple, size
from rulekit.music.solmization import german_name, letter_name
from rulekit.severity import Severity

_LOCALE = Path(__file__).parent / "locale"
LANGUAGES = ("en", *sorted(path.stem for path in _LOCALE.glob("*.po")))


class Untranslated(Exception):
    """A language has no words for a message."""


def _(message: str) -> str:
    """Mark a message for the catalogues."""
    return message


_SIZES = [
    _("unison"), _("second"), _("third"), _("fourth"), _("fifth"), _("sixth"), _("seventh"), _("octave"),
    _("ninth"), _("tenth"), _("eleventh"), _("twelfth"), _("thirteenth"), _("fourteenth"), _("fifteenth"),
]  # fmt: skip
_QUALITIES = {"P": _("perfect"), "M": _("major"), "m": _("minor"), "A": _("augmented"), "d": _("diminished")}
_MODES = {
    "dorian": _("dorian"), "phrygian": _("phrygian"), "lydian": _("lydian"), "mixolydian": _("mixolydian"),
    "aeolian": _("aeolian"), "ionian": _("ionian"), "locrian": _("locrian"), "major": _("major mode"),
    "minor": _("minor mode"),
}  # fmt: skip
_SEVERITIES = {Severity.FAULT: _("fault"), Severity.WARNING: _("warning"), Severity.ADVICE: _("advice")}
_CLEFS = {"source": _("as in the score"), "vocal": _("vocal clefs"), "modern": _("treble and bass")}


@dataclass(frozen=True, slots=True)
class Spoken:
    """A text; ``language`` is that of its words, empty where they are an author's and nobody knows it."""

    text: str
    language: str


@dataclass(frozen=True, slots=True)
class Words:
    """The words of a page in one language."""

    language: str
    translations: gettext.NullTranslations

    def say(self, message: str, /, **values: object) -> str:
        """A message with its values filled in."""
        text = self.translations.gettext(message)
        return text.format(**values) if values else text

    def phrase(self, message: str, context: str = "", /, **values: object) -> str:
        """A part of a sentence as it stands in a grammatical context. Raises Untranslated where there are no words."""
        find = self.translations
        text = find.pgettext(context, message) if context else find.gettext(message)
        if text == message and self.language != "en":
            raise Untranslated(message)
        return text.format_map(values) if values else text

    def authored(self, text: str, language: str = "") -> Spoken:
        """An author's words as they stand, in a ``language`` if that is known; translated if the catalogue has them."""
        try:
            return Spoken(self.phrase(text), self.language)
        except Untranslated:
            return Spoken(text, language)

    def titled(self, text: str) -> Spoken:
        """The title of a ruleset, or the titles of several that are laid over each other."""
        parts = [self.authored(part) for part in text.split("; ")]
        known = {part.language for part in parts}
        return Spoken("; ".join(part.text for part in parts), known.pop() if len(known) == 1 else "")

    def count(self, one: str, many: str, number: int) -> str:
        """A message that depends on a number, which it calls ``number``."""
        return self.translations.ngettext(one, many, number).format(number=number)

    def interval(self, interval: Interval) -> str:
        """The name of an interval: ``major tenth``."""
        number = size(interval) if size(interval) <= len(_SIZES) else size(simple(interval))
        return self.quality_and_size(quality(interval), number)

    def quality_and_size(self, kind: str, number: int) -> str:
        """An interval by its quality (``M``, ``dd``), if it has one, and its size: ``major tenth``, ``third``."""
        if not kind:
            return self.say(_SIZES[number - 1])
        name = f"{self.say(_QUALITIES[kind[0]])} {self.say(_SIZES[number - 1])}"
        return name if len(kind) == 1 else self.say("{number} times {interval}", number=len(kind), interval=name)

    def mode(self, mode: Mode) -> str:
        """A mode: ``D dorian``."""
        name = mode.name.removeprefix("hypo")
        told = self.say(_MODES[name]) if name == mode.name else self.say("hypo") + self.say(_MODES[name])
        return f"{mode.final} {told}"

    def severity(self, severity: Severity) -> str:
        """``fault``, ``warning``, ``advice``."""
        return self.say(_SEVERITIES[severity])

    def clefs(self, key: str) -> str:
        """What a choice of clefs is called."""
        return self.say(_CLEFS[key])

    def bar(self, number: int | None, beat: Fraction | None = None) -> str:
        """A place: ``Bar 3``, ``Bar 3, beat 2``, or the whole."""
        if number is None:
            return self.say("The whole exercise")
        if beat is None or beat == 1:
            return self.say("Bar {number}", number=number)
        return self.say("Bar {number}, beat {beat}", number=number, beat=_beat(beat))

    def note(self, exercise: Exercise, note: Note, numbers: tuple[int, ...] = ()) -> str:
        """A note for a screen reader: its bar, voice and name, and the numbers of the findings about it."""
        said = self.say(
            "{bar}, {voice}: {note}",
            bar=self.bar(note.bar + exercise.first_bar - 1, note.beat),
            voice=exercise.voices[note.voice].name,
            note=pitch_name(note.pitch),
        )
        if not numbers:
            return said
        found = self.count("finding", "findings", len(numbers))
        return f"{said}; {found} {', '.join(map(str, numbers))}"

    def figures(self, names: Sequence[str], each: Figures) -> str:
        """The figures of a moment for a screen reader, by the names of the voices that are figured together."""
        told = [
            self.say(
                "{interval} from {lower} to {upper}",
                interval=self.interval(figure.interval),
                lower=names[figure.bass],
                upper=names[figure.voice],
            )
            for figure in each.figures
        ]
        crossed = [self.say("voices crossed")] if each.crossed else []
        return "; ".join([*told, *crossed])

    def letter(self, pitch: Pitch) -> str:
        """The letter name of a note as it is sung in the language."""
        return german_name(pitch) if self.language == "de" else letter_name(pitch)


def _beat(beat: Fraction) -> str:
    whole, part = divmod(beat, 1)
    return f"{whole}{'½' if part == Fraction(1, 2) else f'+{part}' if part else ''}"


@cache
def words(language: str = "en") -> Words:
    """The words of a language. Raises ValueError, with the nearest one, for a language without a catalogue."""
    if language not in LANGUAGES:
        near = nearest(language, LANGUAGES)
        hint = f"did you mean {near}?" if near else f"there are {', '.join(LANGUAGES)}"
        raise ValueError(f"there is no catalogue of the language ‘{language}’; {hint}")
    if language == "en":
        return Words(language, gettext.NullTranslations())
    with (_LOCALE / f"{language}.po").open("rb") as file:
        catalogue = read_po(file, locale=language)
    compiled = BytesIO()
    write_mo(compiled, catalogue)
    compiled.seek(0)
    return Words(language, gettext.GNUTranslations(compiled))
