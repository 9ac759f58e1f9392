"""What the desk answers: texts in, plain data out, all of it from the modules that the commands use."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from rulekit.desk.shelf import TYPED, Shelf
from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.editor import meaning
from rulekit.editor.completion import offers
from rulekit.editor.exercises import Stretch
from rulekit.editor.folder import Folder
from rulekit.editor.mends import mend
from rulekit.editor.verdicts import Verdicts
from rulekit.exercise.model import Event, Exercise
from rulekit.exercise.notation import Placed, read_exercises, read_placed, write_exercise
from rulekit.exercise.scores import load_scores, title_numbers
from rulekit.explaining import explain
from rulekit.language.library import read_ruleset, shipped_names
from rulekit.language.loading import load_ruleset
from rulekit.language.ruleset import Ruleset
from rulekit.language.tree import ExampleItem
from rulekit.language.typed import Rule
from rulekit.marking import Finding, Marked, mark
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch, alteration, letter, pitch_name, pitch_of
from rulekit.music.solmization import scale
from rulekit.page.mei import Piece, pieces
from rulekit.page.notebook import signs
from rulekit.page.pictures import Pictures, small
from rulekit.page.reach import numbered
from rulekit.page.staves import Wording, draw, glyph_definitions
from rulekit.show.reasons import reason, sentences
from rulekit.show.words import place_words
from rulekit.solving import answers, folds
from rulekit.solving.graph import Graph, Limits, build
from rulekit.solving.problem import Problem
from rulekit.solving.sketch import Wish, opened, search
from rulekit.trying import read_example, try_example, why
from rulekit.words import words

_SECONDS = 20.0  # of one question
_MOST_SUBMISSIONS = 300
_NOTHING_ON = "no line goes on from here with the other notes as they are"

Data = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Space:
    """All lines over a cantus in the rhythm of an exercise: the search, and the graph that is built once for it.

    ``opened`` is the exercise with every note outside the cantus still to be found.
    """

    opened: Exercise
    problem: Problem
    graph: Graph


@dataclass(slots=True)
class Bench:
    """The desk of one folder. Every method but the last ones takes texts as they stand on the page."""

    shelf: Shelf
    folder: Folder = field(default_factory=Folder)
    verdicts: Verdicts = field(default_factory=Verdicts)
    _space: Space | None = None

    # ---- files -------------------------------------------------------------------------------------

    def files(self) -> Data:
        """What the folder holds, and what is shipped."""
        return {
            "folder": self.shelf.folder.name, "rulesets": self.shelf.rulesets(), "exercises": self.shelf.exercises(),
            "shipped": shipped_names(),
        }  # fmt: skip

    def file(self, name: str) -> Data:
        """A file’s text and stamp; another format than the typed one is shown in it, and can’t be saved over."""
        if name.endswith((TYPED, ".rules")):
            kept = self.shelf.read(name)
            return {"text": kept.text, "stamp": kept.stamp, "typed": True}
        exercises, problems = load_scores(self.shelf.path(name))
        if not exercises:
            raise RulekitError(problems)
        return {"text": "\n".join(map(write_exercise, exercises)), "stamp": "", "typed": False}

    def save(self, name: str, text: str, stamp: str) -> Data:
        """Save a file, unless it has changed on the disk since it was read."""
        kept = self.shelf.save(name, text, stamp)
        return {"saved": kept is not None, "stamp": "" if kept is None else kept.stamp}

    # ---- rules -------------------------------------------------------------------------------------

    def look(self, name: str, text: str) -> Data:
        """What is wrong in a rules file, and how its examples come out."""
        path = self._open(name, text)
        examined, parsed = self.folder.examined(path), self.folder.parsed(path)
        judged = list(self.verdicts.of(examined, parsed))
        problems = [*examined.problems, *(problem for each in judged for problem in each.problems)]
        warnings = () if problems else examined.ruleset.warnings
        return {
            "problems": [*map(problem_data, problems), *(problem_data(each) | {"odd": True} for each in warnings)],
            "examples": [
                {"line": each.example.span.line, "words": each.words, "ok": each.as_expected} for each in judged
            ],
        }  # fmt: skip

    def mends(self, name: str, text: str) -> Data:
        """The changes that the messages to a rules file propose."""
        found = [(problem, mend(problem)) for problem in self.folder.mended(self._open(name, text))]
        return {"problems": [problem_data(problem) | {"mend": _plain(change)} for problem, change in found]}

    def meaning(self, name: str, text: str, place: int) -> Data:
        """What the name or word at a place means."""
        path = self._open(name, text)
        found = self.folder.at(path, place)
        if found is None:
            return {"words": ""}
        return {"words": meaning.of_name(self.folder, path, self.folder.examined(path), found)}

    def offers(self, name: str, text: str, place: int) -> Data:
        """What can be written at a place."""
        found = offers(text, place, self.folder.examined(self._open(name, text)))
        return {"offers": [{"word": each.word, "kind": each.kind, "said": each.said} for each in found]}

    def examples(self, name: str, text: str, line: int) -> Data:
        """The rule that a line belongs to, and its examples on staves with what the rule saw in them."""
        path = self._open(name, text)
        ruleset = self.folder.examined(path).ruleset
        rule = next((rule for rule in ruleset.rules if _spans(rule, str(path), line, text)), None)
        if rule is None:
            return {"rule": "", "examples": [], "glyphs": ""}
        pictures = Pictures()
        shown = [_shown_example(ruleset, rule, example, pictures) for example in rule.examples]
        return {
            "rule": rule.name, "words": meaning.of_rule(rule), "examples": shown, "glyphs": pictures.definitions,
        }  # fmt: skip

    def _open(self, name: str, text: str) -> Path:
        path = self.shelf.path(name)
        self.folder.unsaved[str(path)] = text
        return path

    # ---- an exercise -------------------------------------------------------------------------------

    def mark(self, rules: str, rules_text: str, text: str, number: int) -> Data:
        """An exercise on staves with its findings; ``number`` says which of the text, from 0."""
        exercises, problems = read_exercises(text)
        if not exercises:
            return {"problems": list(map(problem_data, problems))}
        exercise = exercises[min(number, len(exercises) - 1)]
        marked = mark(exercise, self._rules(rules, rules_text))
        glyphs: dict[str, str] = {}
        judged = _judged(marked)
        picture = _staves(judged, glyphs)
        return {
            "problems": list(map(problem_data, problems)), "titles": _titles(exercises),
            "picture": picture, "glyphs": glyph_definitions(glyphs), "mark": marked.mark,
            "open": sum(event.open for voice in exercise.voices for event in voice.events),
            "findings": [_finding(each, n) for n, each in enumerate(judged.findings, 1)],
            "voices": [_voice(exercise, index) for index in range(len(exercise.voices))],
            "signature": _signature(exercise.mode),
        }  # fmt: skip

    def standing(self, rules: str, rules_text: str, text: str, number: int, voice: int, slot: int) -> Data:
        """What may stand in a place: with all the other notes as they are, how many lines go through each note."""
        exercise = self._exercise(text, number)
        space = self._walked(exercise, self._rules(rules, rules_text))
        given = answers.written(exercise)
        levels = {at: level for level, at in enumerate(space.problem.onsets)}
        wanted: dict[int, dict[int, Pitch]] = {}
        for v, line in enumerate(space.problem.lines):
            for n, each in enumerate(line):
                pitch = given[v][n]
                if pitch is not None and (v, n) != (voice, slot):
                    wanted.setdefault(levels[each.onset], {})[v] = pitch

        def keep(level: int, choice: tuple[Any, ...]) -> bool:
            return all(choice[v] == pitch for v, pitch in wanted.get(level, {}).items())

        place = space.problem.lines[voice][slot]
        through = folds.count_by_choice(folds.narrowed(space.graph, keep))[levels[place.onset]]
        counted = folds.of_voice(through, voice)
        others = [pitch for pitch in place.choices if not counted.get(pitch)]
        own = given[voice][slot]
        return {
            "own": None if own is None else pitch_name(own),
            "lines": [{"note": pitch_name(pitch), "lines": str(n)} for pitch, n in sorted(counted.items()) if n],
            "others": list(map(pitch_name, others)),
        }  # fmt: skip

    def because(
        self, rules: str, rules_text: str, text: str, number: int, voice: int, slot: int, notes: list[str]
    ) -> Data:
        """Why notes can’t stand in a place: the first fault that each would bring, or that it is another note’s."""
        exercise = self._exercise(text, number)
        space = self._walked(exercise, self._rules(rules, rules_text))
        return {"because": list(_because(space.problem, exercise, (voice, slot), map(pitch_of, notes)))}

    def put(self, text: str, number: int, voice: int, slot: int, note: str) -> Data:
        """The text with another note in a place, all else as it is typed; without one it is to be found again."""
        placed, problems = read_placed(text, "")
        if not placed:
            raise RulekitError(problems)
        return {"text": _with_note(text, placed[min(number, len(placed) - 1)], voice, slot, note)}

    def begun(self, rules: str, rules_text: str, text: str, number: int, below: bool) -> Data:
        """The text with one more exercise: its cantus, and a voice to be found in a rhythm that the rules allow."""
        ruleset, cantus = self._rules(rules, rules_text), _cantus(self._exercise(text, number))
        problem = search(cantus, ruleset, Wish(below=below))
        held = problem.setting.cantus
        given = [[slot.choices[0] if v == held else None for slot in line] for v, line in enumerate(problem.lines)]
        begun = replace(problem.exercise(given), title=f"{cantus.title}, to be written")
        return {"text": f"{text.rstrip()}\n\n{write_exercise(begun)}"}

    def complete(self, rules: str, rules_text: str, text: str, number: int) -> Data:
        """The best lines for the notes that are still to be found."""
        ruleset, exercise = self._rules(rules, rules_text), self._exercise(text, number)
        problem = search(exercise, ruleset, Wish())
        graph = build(problem, weigh=answers.gentlest, limits=Limits(seconds=_SECONDS))
        lines = [problem.exercise(line) for _, line in folds.best(graph, 3)]
        return {"lines": [_line(each, ruleset) for each in lines]}

    def mended(self, rules: str, rules_text: str, text: str, number: int) -> Data:
        """The allowed lines nearest to an exercise."""
        ruleset = self._rules(rules, rules_text)
        found = answers.mend(self._exercise(text, number), ruleset, 3, Limits(seconds=_SECONDS))
        return {"lines": [_line(each.exercise, ruleset) | {"said": _edits(each)} for each in found]}

    def why(self, rules: str, rules_text: str, text: str, number: int, rule: str, bar: int | None) -> Data:
        """Why a rule is or is not broken in a bar, condition by condition."""
        ruleset = self._rules(rules, rules_text)
        if rule not in {each.name for each in ruleset.rules}:
            return {"places": []}
        found = explain(self._exercise(text, number), ruleset, rule, bar)
        return {
            "places": [
                {"place": place_words(each.bar, each.beat), "outcome": each.outcome, "said": list(sentences(each))}
                for each in found
            ]
        }  # fmt: skip

    def _exercise(self, text: str, number: int) -> Exercise:
        exercises, problems = read_exercises(text)
        if not exercises:
            raise RulekitError(problems)
        return exercises[min(number, len(exercises) - 1)]

    def _walked(self, exercise: Exercise, ruleset: Ruleset) -> Space:
        """The space of an exercise: built anew only for other rules, another cantus or another rhythm."""
        free, space = opened(exercise), self._space
        if space is None or space.problem.ruleset is not ruleset or space.opened != free:
            problem = search(free, ruleset, Wish())
            space = self._space = Space(free, problem, build(problem, limits=Limits(seconds=_SECONDS).start()))
        return space

    def _rules(self, name: str, text: str) -> Ruleset:
        """The ruleset as it stands on the page; a shipped one where there is no text."""
        shipped = name in shipped_names() and not text
        examined = self.folder.examined(read_ruleset(name)[0] if shipped else self._open(name, text))
        if examined.problems:
            raise RulekitError(examined.problems)
        return examined.ruleset

    # ---- what a change does ------------------------------------------------------------------------

    def changes(self, rules: str, rules_text: str) -> Data:
        """Which submissions change their findings if the rules are saved as they stand, and by which rules."""
        before, after = self._before(rules), self._rules(rules, rules_text)
        rows: list[Data] = []
        unread: list[str] = []
        for name in self.shelf.exercises()[:_MOST_SUBMISSIONS]:
            exercises, problems = load_scores(self.shelf.path(name))
            unread += [str(problem).splitlines()[0] for problem in problems[:1]]
            for exercise in exercises:
                rows += _changed(name, mark(exercise, before), mark(exercise, after))
        return {"changed": rows, "unread": unread}

    def lines(self, rules: str, rules_text: str, text: str, number: int) -> Data:
        """Which lines over a cantus become allowed or forbidden if the rules are saved, with one of each."""
        before, after = self._before(rules), self._rules(rules, rules_text)
        problem = search(_cantus(self._exercise(text, number)), before, Wish())
        found = answers.compare(problem, after, limits=Limits(seconds=_SECONDS))
        pictures = Pictures()
        shown: Data = {"both": str(found.both), "forbidden": str(found.only_first), "allowed": str(found.only_second)}
        for key, witness in (("forbidden_example", found.first_witness), ("allowed_example", found.second_witness)):
            if witness is not None:
                shown[key] = {"picture": pictures.plain(witness[0]), "rule": witness[1]}
        return shown | {"glyphs": pictures.definitions}

    def numbers(self, rules: str, rules_text: str, text: str, number: int) -> Data:
        """What each rule removes over a cantus, alone and of what the others leave, and which rules conflict."""
        ruleset, cantus = self._rules(rules, rules_text), _cantus(self._exercise(text, number))
        problems = [search(cantus, ruleset, Wish())]
        rows = answers.audit(problems, ruleset, Limits(seconds=_SECONDS).start())
        found = [{"rule": each.rule, "alone": float(each.alone), "last": float(each.last)} for each in rows]
        pairs = answers.conflicts(problems, ruleset, Limits(seconds=_SECONDS).start())
        return {"rules": found, "conflicts": [list(pair) for pair in pairs]}

    def _before(self, rules: str) -> Ruleset:
        """The ruleset as it is on the disk."""
        return load_ruleset(self.shelf.path(rules))


# ---- exercises -------------------------------------------------------------------------------------


def _cantus(exercise: Exercise) -> Exercise:
    """The cantus of an exercise alone; its first voice if none is marked."""
    voice = exercise.voices[exercise.cantus or 0]
    return replace(exercise, voices=(voice,), cantus=0)


# ---- as plain data ---------------------------------------------------------------------------------


def problem_data(problem: Diagnostic) -> Data:
    """A message with its place."""
    return {
        "file": Path(problem.path).name, "line": problem.line, "column": problem.column, "length": problem.length,
        "words": problem.message, "hint": problem.hint,
    }  # fmt: skip


def _plain(change: Any) -> Data | None:
    if change is None:
        return None
    return {"line": change.line, "column": change.column, "length": change.length, "text": change.text}


def _spans(rule: Rule, path: str, line: int, text: str) -> bool:
    last = rule.span.line + rule.span.of(text).rstrip().count("\n")
    return rule.span.path == path and rule.span.line <= line <= last


def _shown_example(ruleset: Ruleset, rule: Rule, example: ExampleItem, pictures: Pictures) -> Data:
    """An example on staves, how it comes out, and what the rule saw where that is not what the example says."""
    exercises, problems = read_example(example)
    if problems:
        return {"line": example.span.line, "problems": list(map(problem_data, problems))}
    trial = try_example(ruleset, rule, example)
    alone = replace(ruleset, rules=(rule,))
    marked = mark(exercises[0], alone)
    places = explain(exercises[0], alone, rule.name) if trial.holds else why(ruleset, trial)
    return {
        "line": example.span.line, "title": example.title, "accepted": not example.breaches, "ok": trial.holds,
        "picture": pictures.plain(exercises[0], tuple(signs(marked))),
        "findings": [_finding(each, number) for number, each in enumerate(marked.findings, 1)],
        "saw": [f"{place_words(each.bar, each.beat)}: {reason(each)}" for each in places],
    }  # fmt: skip


def _judged(marked: Marked) -> Marked:
    """What can be judged already: nothing of bars in which a note is still to be found, nor of the whole with one."""
    exercise = marked.exercise
    open_ = {
        exercise.bar_at(piece.onset)
        for voice in range(len(exercise.voices))
        for piece in pieces(exercise, voice)
        if piece.open is not None
    }
    if not open_:
        return marked
    return replace(marked, findings=tuple(f for f in marked.findings if f.bar is not None and f.bar not in open_))


def _staves(marked: Marked, glyphs: dict[str, str]) -> str:
    """An exercise on staves whose notes can be chosen."""
    exercise, said = marked.exercise, words()
    names, notes = [voice.name for voice in exercise.voices], dict(numbered(exercise))
    wording = Wording(
        score=exercise.title,
        bar=said.bar,
        note=lambda key: said.note(exercise, notes[key]),
        figures=lambda each: said.figures([names[voice] for voice in each.voices], each.figures),
    )

    def to_write(piece: Piece) -> str:
        return f"{said.bar(exercise.bar_at(piece.onset))}, {names[piece.voice]}: still to be found"

    look = replace(small(exercise), quiet=False, to_write=to_write)
    return draw(exercise, look, tuple(signs(marked)), wording, glyphs)


def _finding(finding: Finding, number: int) -> Data:
    excuse = "" if finding.excuse is None else finding.excuse.reason
    return {
        "number": number, "rule": finding.rule, "severity": finding.severity, "bar": finding.bar,
        "place": place_words(finding.bar, finding.beat), "message": finding.message, "excuse": excuse,
    }  # fmt: skip


def _voice(exercise: Exercise, index: int) -> Data:
    """The notes of a voice by name, None for one still to be found; whether they may be changed."""
    given = answers.written(exercise)[index]
    names = [None if pitch is None else pitch_name(pitch) for pitch in given]
    return {"name": exercise.voices[index].name, "cantus": index == exercise.cantus, "notes": names}


def _signature(mode: Mode) -> list[str]:
    """The sign that each letter from C has in a mode: ``#``, ``b`` or none."""
    signs_ = {letter(pitch): alteration(pitch) for pitch in scale(mode)}
    return ["#" * max(0, signs_[each]) + "b" * max(0, -signs_[each]) for each in range(7)]


def _because(problem: Problem, exercise: Exercise, place: tuple[int, int], pitches: Iterable[Pitch]) -> Iterator[Data]:
    """For each note the first fault that it would bring where it is put; or that the fault is another note’s."""
    now = frozenset(map(answers.breach, mark(exercise, problem.ruleset).faults))
    given = answers.written(exercise)
    for pitch in pitches:
        new = answers.alternative(problem, given, *place, pitch, now).new
        told = [f"{place_words(fault.bar, fault.beat)}: {fault.message}" for fault in new[:1]]
        yield {"note": pitch_name(pitch), "because": told[0] if told else _NOTHING_ON}


def _with_note(text: str, placed: Placed, voice: int, slot: int, note: str) -> str:
    """A text with another note in a place; tied notes are one."""
    wanted = pitch_name(pitch_of(note)) if note else "?"
    lines, line = text.split("\n"), placed.exercise.voices[voice]
    for row, column, length in reversed(list(_stretches(line.events, placed.typed[line.name], slot))):
        before, typed, after = _cut(lines[row - 1], column - 1, length)
        lines[row - 1] = before + re.sub(r"^[^/~]+", wanted, typed) + after
    return "\n".join(lines)


def _stretches(events: Sequence[Event], typed: Sequence[Stretch], slot: int) -> Iterator[Stretch]:
    """Where the notes are typed that make up one place of a voice."""
    count, tied = -1, False
    for event, stretch in zip(events, typed, strict=True):
        sounds = event.pitch is not None or event.open
        count += int(sounds and not tied)
        if sounds and count == slot:
            yield stretch
        tied = event.tie


def _cut(line: str, start: int, length: int) -> tuple[str, str, str]:
    return line[:start], line[start : start + length], line[start + length :]


def _line(exercise: Exercise, ruleset: Ruleset) -> Data:
    pictures = Pictures()
    picture = pictures.plain(exercise)
    return {
        "text": write_exercise(exercise), "picture": picture, "glyphs": pictures.definitions,
        "mark": mark(exercise, ruleset).mark,
    }  # fmt: skip


def _edits(mended: answers.Mended) -> str:
    said = (f"bar {each.bar}, {each.voice}: {pitch_name(each.old)} to {pitch_name(each.new)}" for each in mended.edits)
    return "; ".join(said) or "nothing to change"


def _titles(exercises: Sequence[Exercise]) -> list[str]:
    """What each exercise of a text is called: its title, with its number where it is there again."""
    titles = [each.title for each in exercises]
    return list(map(_called, titles, title_numbers(titles)))


def _called(title: str, number: int | None) -> str:
    return (title or "untitled") + (f", number {number}" if number else "")


def _changed(name: str, before: Marked, after: Marked) -> Iterator[Data]:
    """How the mark of a submission changes, and which findings come and go."""
    old, new = (set(map(_told, marked.findings)) for marked in (before, after))
    if old == new and before.mark == after.mark:
        return
    origin = before.exercise.origin
    yield {
        "file": name, "title": _called(before.exercise.title, origin and origin.number),
        "before": before.mark, "after": after.mark, "gone": sorted(old - new), "come": sorted(new - old),
    }  # fmt: skip


def _told(finding: Finding) -> str:
    excused = " (excused)" if finding.excuse else ""
    return f"{finding.severity}, {place_words(finding.bar, finding.beat)}: {finding.rule}{excused}"
