"""What stands on a returned page, as plain data: everything a template shows, and nothing of how it looks."""

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from rulekit.exercise.model import Clef, Exercise, Note, Origin, sounding_notes
from rulekit.language.ruleset import Ruleset
from rulekit.language.typed import Rule
from rulekit.marking import Finding, Marked
from rulekit.music.pitch import Pitch, pitch_name, semitone
from rulekit.music.solmization import MinorFinal, degree_name, fixed_syllable, is_minor, movable_syllable
from rulekit.page.choices import Choice, choices
from rulekit.page.clefs import modern_clefs, source_clefs, vocal_clefs
from rulekit.page.mei import figured
from rulekit.page.pictures import Pictures
from rulekit.page.reach import NoteKey, Reach, numbered, reaches
from rulekit.page.staves import Look, Sign, Wording, again, draw, named
from rulekit.sentences import language_of
from rulekit.severity import Severity
from rulekit.show.words import source_words
from rulekit.solving.answers import Edit, mend
from rulekit.solving.graph import Exhausted, Limits
from rulekit.words import Spoken, Words, words

_WIDE, _NARROW = 88, 42  # staff spaces
_LINES = 2
_CLEFS = {"source": source_clefs, "vocal": vocal_clefs, "modern": modern_clefs}


@dataclass(frozen=True, slots=True)
class PageOptions:
    """A school's choices for its pages.

    ``title`` and ``words`` are the school's heading and the teacher's words to the class, ``style`` a style sheet
    of its own; ``clefs`` and ``reduced`` say what is shown first; ``identifiers`` shows the names of rules;
    ``minor_final`` is the movable syllable of a minor mode's final; ``seconds`` bounds what is searched for a page.
    """

    language: str = "en"
    title: str = ""
    words: str = ""
    style: str = ""
    clefs: Literal["source", "vocal", "modern"] = "source"
    reduced: bool = False
    identifiers: bool = False
    minor_final: MinorFinal = "la"
    paper: Literal["A4", "letter"] = "A4"
    seconds: float = 10.0


@dataclass(frozen=True, slots=True)
class Example:
    """An example of a rule on staves: whether it is accepted, and its picture."""

    accepted: bool
    picture: str


@dataclass(frozen=True, slots=True)
class FindingView:
    """A finding as the page shows it; ``rule`` and ``source`` are empty where none is shown."""

    number: int
    place: str
    severity: str
    points: str
    message: Spoken
    excuse: Spoken | None
    source: str
    rule: str
    on_staff: bool
    licences: tuple[Spoken, ...]
    examples: tuple[Example, ...]


@dataclass(frozen=True, slots=True)
class Staves:
    """The exercise in one choice of clefs, for wide and for narrow screens."""

    key: str
    name: str
    wide: str
    narrow: str


@dataclass(frozen=True, slots=True)
class Line:
    """An allowed line near the student's: its picture, what was changed, and its number on the page from 0."""

    number: int
    changes: tuple[str, ...]
    picture: str


@dataclass(frozen=True, slots=True)
class Part:
    """A marked exercise of a page: its name (empty if it is the only one), its mark and findings, lines near it."""

    name: str
    mark: int
    summary: str
    findings: tuple[FindingView, ...]
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Heard:
    """Voices that may be heard together: what they are called, and their numbers from 0 at the top."""

    name: str
    voices: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PageData:
    """All that a returned page shows.

    ``score`` is what the script plays and answers from, made of plain lists and dictionaries; ``glyphs`` are the
    outlines that all the pictures share.
    """

    options: PageOptions
    title: str
    facts: tuple[str, ...]
    inferred: tuple[str, ...]
    ruleset: Spoken
    staves: tuple[Staves, ...]
    crossed: bool
    parts: tuple[Part, ...]
    heard: tuple[Heard, ...]
    bars: tuple[int, ...]
    minor: bool
    score: dict[str, Any]
    glyphs: str


def file_words(origin: Origin | None) -> str:
    """The file of an exercise without its folders, and its number if others there have its title."""
    if origin is None:
        return ""
    name = Path(origin.file).name
    return name if origin.number is None else f"{name}, {origin.number}"


def page_data(marked: Sequence[Marked], ruleset: Ruleset, options: PageOptions) -> PageData:
    """Everything for a page: a marked exercise, or several that are written on one sheet."""
    return _Page(marked, ruleset, options).data()


@dataclass(frozen=True, slots=True)
class _Found:
    """A finding of a page and its notes, by the voices of the sheet."""

    finding: Finding
    reach: Reach


class _Page:
    def __init__(self, marked: Sequence[Marked], ruleset: Ruleset, options: PageOptions) -> None:
        self.marked, self.ruleset, self.options = marked, ruleset, options
        self.sheet = marked[0].exercise.sheet
        self.words: Words = words(options.language)
        self.glyphs: dict[str, str] = {}
        self.pictures = Pictures(self.glyphs)
        self.deadline = time.monotonic() + options.seconds
        self.together = tuple(each.exercise.on_sheet for each in marked)
        self.found = [found for each in marked for found in _found(each, ruleset)]
        self.reasons: dict[tuple[str, str, str], int] = {}
        self.examples: dict[str, tuple[Example, ...]] = {}
        self.lines: list[Exercise] = []
        self.notes = dict(numbered(self.sheet))

    def data(self) -> PageData:
        sheet = self.sheet
        first = sheet.first_bar
        staves = tuple(self._staves())
        return PageData(
            options=self.options,
            title=sheet.title,
            facts=(self.words.mode(sheet.mode), self._metre(), self._bars(), *self._file()),
            inferred=sheet.inferred,
            ruleset=self.words.titled(self.ruleset.title),
            staves=staves,
            crossed=any(each.figures.crossed for each in figured(sheet, self.together)),
            parts=tuple(self._parts()),
            heard=tuple(self._heard()),
            bars=tuple(range(first, first + sheet.setting.bars)),
            minor=is_minor(sheet.mode),
            score=self._score(),
            glyphs=self.pictures.definitions,
        )

    def _metre(self) -> str:
        return str(self.sheet.metre)

    def _bars(self) -> str:
        return self.words.count("{number} bar", "{number} bars", self.sheet.setting.bars)

    def _file(self) -> Iterator[str]:
        """Where the exercise comes from, if that is known."""
        told = file_words(self.marked[0].exercise.origin)
        if told:
            yield told

    def _parts(self) -> Iterator[Part]:
        """The exercises of the sheet; their findings are numbered through."""
        number = 0
        for marked in self.marked:
            numbers = range(number + 1, number + 1 + len(marked.findings))
            number += len(marked.findings)
            findings, lines = tuple(map(self._finding, numbers)), tuple(self._lines(marked))
            name = self._name(marked.exercise) if len(self.marked) > 1 else ""
            yield Part(name, marked.mark, self._summary(marked), findings, lines)

    def _name(self, exercise: Exercise) -> str:
        """What an exercise on a sheet of several is called: its voices beside the cantus."""
        return ", ".join(voice.name for index, voice in enumerate(exercise.voices) if index != exercise.cantus)

    def _heard(self) -> Iterator[Heard]:
        """What may be played: what is judged together first, then each voice, then all if that is something else."""
        every = tuple(range(len(self.sheet.voices)))
        names = [voice.name for voice in self.sheet.voices]
        for voices in self.together:
            yield Heard(self.words.say("all") if voices == every else " + ".join(names[v] for v in voices), voices)
        yield from (Heard(name, (voice,)) for voice, name in enumerate(names))
        if every not in self.together:
            yield Heard(self.words.say("all"), every)

    def _summary(self, marked: Marked) -> str:
        """How many findings of each kind, and what they cost."""
        count = self.words.count
        open_ = [finding.severity for finding in marked.findings if finding.excuse is None]
        excused = len(marked.findings) - len(open_)
        kinds = [
            count("{number} fault", "{number} faults", open_.count(Severity.FAULT)),
            count("{number} warning", "{number} warnings", open_.count(Severity.WARNING)),
            count("{number} piece of advice", "{number} pieces of advice", open_.count(Severity.ADVICE)),
            count("{number} excused", "{number} excused", excused),
        ]
        numbers = [open_.count(Severity.FAULT), open_.count(Severity.WARNING), open_.count(Severity.ADVICE), excused]
        told = [kind for kind, number in zip(kinds, numbers, strict=True) if number]
        return ", ".join(told) or self.words.say("nothing found")

    # ---- staves -----------------------------------------------------------------------------------

    def _staves(self) -> Iterator[Staves]:
        kinds = {key: choose(self.sheet) for key, choose in _CLEFS.items()}
        shown: set[tuple[Clef, ...]] = set()
        for key in sorted(kinds, key=lambda key: key != self.options.clefs):
            clefs = kinds[key]
            if clefs and clefs not in shown:
                shown.add(clefs)
                wide, narrow = (self._drawn(width, clefs) for width in (_WIDE, _NARROW))
                yield Staves(key, self.words.clefs(key), wide, narrow)

    def _drawn(self, width: int, clefs: tuple[Clef, ...]) -> str:
        together = self.together if len(self.sheet.voices) > 1 else ()
        look = Look(width, clefs, reduced=self.options.reduced, together=together)
        return draw(self.sheet, look, list(self._signs()), self._wording(), self.glyphs)

    def _signs(self) -> Iterator[Sign]:
        for number, each in enumerate(self.found, 1):
            if each.reach.own:
                said = self.words.say("Finding {number}: {message}", number=number, message=each.finding.message)
                yield Sign(number, each.reach, each.finding.excuse is not None, said)

    def _wording(self) -> Wording:
        return Wording(
            score=self.words.say("Score"),
            bar=self.words.bar,
            note=lambda key: self.words.note(self.sheet, self.notes[key], self._numbers(key)),
            figures=lambda each: self.words.figures([self.sheet.voices[v].name for v in each.voices], each.figures),
        )

    def _numbers(self, key: NoteKey) -> tuple[int, ...]:
        return tuple(n for n, each in enumerate(self.found, 1) if key in each.reach.notes)

    # ---- findings ---------------------------------------------------------------------------------

    def _finding(self, number: int) -> FindingView:
        finding, reach = self.found[number - 1].finding, self.found[number - 1].reach
        rule = self.ruleset.rule(finding.rule)
        language = language_of(rule)
        return FindingView(
            number=number,
            place=self._place(finding),
            severity=self.words.severity(finding.severity),
            points=self._points(rule, finding),
            message=Spoken(finding.message, language),
            excuse=None if finding.excuse is None else self.words.authored(finding.excuse.reason, language),
            source=self.words.authored(source_words(finding.source)).text,
            rule=finding.rule if self.options.identifiers else "",
            on_staff=bool(reach.own),
            licences=tuple(self.words.authored(licence.reason, language) for licence in rule.licences),
            examples=self._rule_examples(rule),
        )

    def _place(self, finding: Finding) -> str:
        first, last = finding.extent or (0, 0)
        if first == last:
            return self.words.bar(finding.bar, finding.beat)
        return self.words.say("Bars {first} to {last}", first=first, last=last)

    def _points(self, rule: Rule, finding: Finding) -> str:
        if finding.excuse is not None or not rule.weight.points:
            return ""
        return self.words.count("{number} point", "{number} points", rule.weight.points)

    def _rule_examples(self, rule: Rule) -> tuple[Example, ...]:
        """The examples of a rule; those of a rule that is broken again are shown again, not drawn again."""
        if rule.name in self.examples:
            return tuple(replace(each, picture=again(each.picture)) for each in self.examples[rule.name])
        self.examples[rule.name] = tuple(self._examples(rule))
        return self.examples[rule.name]

    def _examples(self, rule: Rule) -> Iterator[Example]:
        """The first example that a rule accepts and the first that it rejects."""
        accepted, rejected = self.pictures.accepted(rule, self.ruleset), self.pictures.rejected(rule, self.ruleset)
        if accepted is not None:
            yield Example(True, named(accepted, f"e{len(self.examples)}a"))
        if rejected is not None:
            yield Example(False, named(rejected.picture, f"e{len(self.examples)}b"))

    # ---- nearest lines ----------------------------------------------------------------------------

    def _lines(self, marked: Marked) -> Iterator[Line]:
        if not marked.faults or len(marked.exercise.voices) < 2:
            return
        try:
            seconds = self.options.seconds / 3 / len(self.marked)
            found = mend(marked.exercise, self.ruleset, _LINES, Limits(200_000, seconds))
        except Exhausted:
            return
        for each in found:
            changes = tuple(map(self._change, each.edits))
            picture = self.pictures.plain(each.exercise, changed=frozenset(_changed(marked.exercise, each.exercise)))
            yield Line(len(self.lines), changes, picture)
            self.lines.append(each.exercise)

    def _change(self, edit: Edit) -> str:
        return self.words.say(
            "{bar}, {voice}: {old} becomes {new}",
            bar=self.words.bar(edit.bar),
            voice=edit.voice,
            old=pitch_name(edit.old),
            new=pitch_name(edit.new),
        )

    # ---- what the script needs --------------------------------------------------------------------

    def _score(self) -> dict[str, Any]:
        metre, bars = self.sheet.metre, self.sheet.setting.bars
        found = {f"{v}.{n}": self._strip(self.notes[v, n], each) for (v, n), each in self._choices()}
        return {
            "bars": [float(metre.start_of(number)) for number in range(1, bars + 1)],
            "voices": played(self.sheet),
            "together": [list(voices) for voices in self.together],
            "lines": [played(each) for each in self.lines],
            "sung": {f"{v}.{n}": self._sung(note.pitch) for (v, n), note in self.notes.items()},
            "choices": found,
            "reasons": list(self.reasons),
            "findings": [_noted(each.reach) for each in self.found],
            "words": self._script_words(),
        }

    def _sung(self, pitch: Pitch) -> list[str]:
        """Letter, degree, movable and fixed syllable."""
        mode = self.sheet.mode
        movable = movable_syllable(pitch, mode, self.options.minor_final)
        return [self.words.letter(pitch), degree_name(pitch, mode), movable, fixed_syllable(pitch)]

    def _choices(self) -> Iterator[tuple[NoteKey, tuple[Choice, ...]]]:
        """What else might stand at the notes of each exercise; the time that is left is shared out among them."""
        for left, marked in zip(range(len(self.marked), 0, -1), self.marked, strict=True):
            seconds = max(0.0, self.deadline - time.monotonic()) / left
            for (voice, number), each in choices(marked.exercise, self.ruleset, seconds).items():
                yield (marked.exercise.on_sheet[voice], number), each

    def _reason(self, fault: Finding) -> int:
        """The number of a reason in the list of all, with the language of its words; many notes share theirs."""
        reason = self.words.bar(fault.bar, fault.beat), fault.message, language_of(self.ruleset.rule(fault.rule))
        return self.reasons.setdefault(reason, len(self.reasons))

    def _strip(self, note: Note, found: Sequence[Choice]) -> list[dict[str, Any]]:
        return [
            {
                "note": pitch_name(choice.pitch),
                "midi": semitone(choice.pitch),
                "here": choice.pitch == note.pitch,
                "lines": choice.lines,
                "faults": [self._reason(fault) for fault in choice.faults[:3]],
            }
            for choice in found
        ]

    def _script_words(self) -> dict[str, str]:
        say = self.words.say
        return {
            "fits": say("would do"),
            "here": say("as it stands"),
            "bars": say("would not do"),
            "cantus": say("This note is given, or was not looked at in the time there was."),
            "lines": say("allowed lines through it"),
            "play": say("Play"),
            "stop": say("Stop"),
        }


def _found(marked: Marked, ruleset: Ruleset) -> Iterator[_Found]:
    """The findings of an exercise with their notes, whose voices are counted on its sheet."""
    exercise = marked.exercise
    for finding, reach in zip(marked.findings, reaches(exercise, ruleset, marked.findings), strict=True):
        yield _Found(finding, reach.moved(exercise.on_sheet))


def _changed(exercise: Exercise, mended: Exercise) -> Iterator[NoteKey]:
    """The notes of a mended exercise that are others than they were."""
    old = dict(numbered(exercise))
    for key, note in numbered(mended):
        if key not in old or old[key].pitch != note.pitch:
            yield key


def played(exercise: Exercise) -> list[list[list[float]]]:
    """Every sounding note of every voice: onset and length in quarter notes, and its MIDI number."""
    setting = exercise.setting
    return [
        [[float(n.onset), float(n.length), semitone(n.pitch)] for n in sounding_notes(setting, index, voice.events)]
        for index, voice in enumerate(exercise.voices)
    ]


def _noted(reach: Reach) -> list[str]:
    return [f"{voice}.{number}" for voice, number in reach.notes]
