"""The lesson sheet: a ruleset for students, told in sentences and by examples on staves; its mode; tasks to solve.

Where a rule has no plain sentence, the message of its own rejected example tells it, about notes that stand beside it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from rulekit.exercise.model import Event, Exercise, Metre, Voice
from rulekit.language.ruleset import Ruleset
from rulekit.language.typed import Rule
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch, alteration, letter, semitone
from rulekit.music.solmization import degree_name, movable_syllable, scale
from rulekit.page.clefs import vocal_clefs
from rulekit.page.data import PageOptions
from rulekit.page.pictures import Pictures
from rulekit.page.render import asset, fill
from rulekit.sentences import GROUPS, group_of, language_of, name, sentence
from rulekit.show.words import source_words
from rulekit.solving.tasks import Side, Task
from rulekit.words import Spoken, Words, words

_WHOLE = Fraction(4)


@dataclass(frozen=True, slots=True)
class Told:
    """A rule for a student: its name, severity and sentence, the faulty example told, pictures, licences, source."""

    name: Spoken
    severity: str
    sentence: Spoken | None
    fault: Spoken
    accepted: str
    rejected: str
    licences: tuple[Spoken, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Step:
    """A note of the scale: letter, degree, syllable, and whether a semitone leads to the next."""

    letter: str
    degree: str
    syllable: str
    semitone: bool


@dataclass(frozen=True, slots=True)
class Work:
    """A task: its name, the cantus between the staves to be filled, and the answers over and under it."""

    title: str
    staves: str
    answers: tuple["Answer", ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """What may be written on one side of a cantus: the name of the voice, how many lines, pictures of a few."""

    voice: str
    count: str
    pictures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """All that a lesson sheet shows; ``groups`` are headings with their rules."""

    options: PageOptions
    title: Spoken
    mode: str
    steps: tuple[Step, ...]
    ladder: str
    altered: str
    groups: tuple[tuple[str, tuple[Told, ...]], ...]
    works: tuple[Work, ...]
    glyphs: str


def lesson_sheet(
    ruleset: Ruleset, mode: Mode, options: PageOptions | None = None, tasks: Sequence[Task] = ()
) -> str:  # fmt: skip
    """The lesson sheet of a ruleset with one of its modes and with tasks to solve, a whole HTML file."""
    return _filled("lesson.html", _sheet(ruleset, mode, options or PageOptions(), tasks))


def answer_sheet(ruleset: Ruleset, mode: Mode, options: PageOptions | None = None, tasks: Sequence[Task] = ()) -> str:
    """The answers to the tasks of a lesson sheet: how many lines each allows, and a few of them."""
    return _filled("answers.html", _sheet(replace(ruleset, rules=()), mode, options or PageOptions(), tasks))


def _filled(template: str, sheet: Sheet) -> str:
    paper = f"@page {{ size: {sheet.options.paper}; margin: 14mm 18mm }}"
    styles = [asset("page.css"), asset("lesson.css"), paper, sheet.options.style]
    return fill(template, sheet.options.language, styles, [], sheet=sheet)


def _sheet(ruleset: Ruleset, mode: Mode, options: PageOptions, tasks: Sequence[Task]) -> Sheet:
    said, pictures = words(options.language), Pictures()
    told = [(group_of(rule), _told(rule, ruleset, said, pictures)) for rule in ruleset.rules]
    groups = [(said.say(name), tuple(each for group, each in told if group == i)) for i, name in enumerate(GROUPS)]
    line = _ladder(mode)
    works = tuple(_work(number, task, said, pictures) for number, task in enumerate(tasks, 1) if task.sides)
    return Sheet(
        options=options,
        title=said.titled(ruleset.title),
        mode=said.mode(mode),
        steps=tuple(_steps(mode, said, options)),
        ladder=pictures.plain(line, measured=False),
        altered=_altered(tasks, said),
        groups=tuple(group for group in groups if group[1]),
        works=works,
        glyphs=pictures.definitions,
    )


def _told(rule: Rule, ruleset: Ruleset, said: Words, pictures: Pictures) -> Told:
    rejected, language = pictures.rejected(rule, ruleset), language_of(rule)
    return Told(
        name=said.authored(name(rule.name), language),
        severity=said.severity(rule.weight.severity),
        sentence=sentence(rule, said),
        fault=Spoken("" if rejected is None else rejected.message, language),
        accepted=pictures.accepted(rule, ruleset) or "",
        rejected="" if rejected is None else rejected.picture,
        licences=tuple(said.authored(licence.reason, language) for licence in rule.licences),
        source=said.authored(source_words(rule.source)).text,
    )


# ---- the mode ---------------------------------------------------------------------------------------


def _ladder(mode: Mode) -> Exercise:
    """The scale up and down, all in one bar."""
    up = scale(mode)
    notes = [*up, *up[-2::-1]]
    return Exercise("", (Voice("", tuple(Event(pitch, _WHOLE) for pitch in notes)),), mode, Metre(len(notes), _WHOLE))


def _steps(mode: Mode, said: Words, options: PageOptions) -> Iterator[Step]:
    notes = scale(mode)
    gaps = [semitone(high) - semitone(low) == 1 for low, high in pairwise(notes)]
    for pitch, narrow in zip(notes, [*gaps, False], strict=True):
        syllable = movable_syllable(pitch, mode, options.minor_final)
        yield Step(said.letter(pitch), degree_name(pitch, mode), syllable, narrow)


def _altered(tasks: Sequence[Task], said: Words) -> str:
    """The notes outside the mode that the lines over and under some cantus firmi have."""
    found = {pitch for task in tasks for side in task.sides for pitch in side.altered}
    names = {said.letter(pitch): (letter(pitch), alteration(pitch)) for pitch in found}
    return ", ".join(sorted(names, key=lambda name: names[name]))


# ---- tasks --------------------------------------------------------------------------------------------


def _work(number: int, task: Task, said: Words, pictures: Pictures) -> Work:
    title = task.cantus.title or said.say("Cantus {number}", number=number)
    return Work(title, _empty_staves(task, pictures), tuple(_answer(side, said, pictures) for side in task.sides))


def _empty_staves(task: Task, pictures: Pictures) -> str:
    """The cantus with an empty staff on each side on which something may stand, in the clef that it would need."""
    cantus = task.cantus.voices[0]
    full = [_sung(task.above), cantus, _sung(task.below)]
    clefs = vocal_clefs(replace(task.cantus, voices=tuple(voice for voice in full if voice is not None)))
    shown = tuple(voice if voice is cantus else Voice(voice.name, ()) for voice in full if voice is not None)
    return pictures.plain(replace(task.cantus, voices=shown), clefs=clefs)


def _sung(side: Side | None) -> Voice | None:
    """A voice that goes through the middle of what it may be."""
    if side is None:
        return None
    index = 1 - (side.problem.setting.cantus or 0)
    events = tuple(Event(_middle(slot.choices), slot.length) for slot in side.problem.lines[index])
    return Voice(side.problem.labels[index], events)


def _middle(choices: Sequence[Pitch]) -> Pitch:
    return sorted(choices)[len(choices) // 2]


def _answer(side: Side, said: Words, pictures: Pictures) -> Answer:
    voice = side.problem.labels[1 - (side.problem.setting.cantus or 0)]
    counted = said.say("more than could be counted")
    if side.count is not None:
        counted = said.count("{number} line", "{number} lines", side.count)
    return Answer(voice, counted, tuple(pictures.plain(line, clefs=vocal_clefs(line)) for line in side.lines))
