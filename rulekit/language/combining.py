"""Files put together: what each takes from others and changes in them, statement by statement, before it is checked.

A file is taken once, however many paths lead to it; what the files say counts in the order in which they are reached.
"""

from collections.abc import Callable, Container, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rulekit.diagnostics import Diagnostic, RulekitError, did_you_mean
from rulekit.language import limits, vocabulary
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language.assembly import Assembly, Pick, RuleState
from rulekit.language.build import ClauseError
from rulekit.language.checking import CheckError, told_elsewhere
from rulekit.language.library import Texts, find_ruleset, shipped_names
from rulekit.language.parser import Parsed, beginnings, is_name, of_files, parse, parsed, word_of
from rulekit.language.ruleset import PASSED_OVER, Change
from rulekit.language.taking import bring, is_told_before, used
from rulekit.resources import shipped
from rulekit.severity import Severity

if TYPE_CHECKING:
    from rulekit.language.memory import Memory

_WORDS = frozenset({"words"})  # what ‘use’ takes: definitions and parameters
_HALVES = _WORDS | {"rules"}


class Sources:
    """The files read so far, what was looked for from which folder to find them, and the mistakes in them."""

    def __init__(self, memory: "Memory | None" = None) -> None:
        self._memory = memory
        self.files: dict[str, Parsed] = {}
        self.found: list[tuple[str, str, str]] = []
        self.problems: list[Diagnostic] = []

    def parsed(self, text: str, path: str) -> Parsed:
        """A file as read; its mistakes are told once."""
        if path not in self.files:
            known = self._memory
            self.files[path] = parsed(text, path) if known is None else parse(text, path, known.pieces)
            self.problems += self.files[path].diagnostics
        return self.files[path]

    @property
    def is_enough(self) -> bool:
        """Whether so many mistakes are known that more would be of no use."""
        return len(self.problems) >= limits.MAX_PROBLEMS

    def report(self, error: CheckError | ClauseError) -> None:
        """Keep all that an error tells."""
        for each in error.mistakes if isinstance(error, CheckError) else (error,):
            self.problem(each.span, str(each), each.hint)

    def problem(self, span: s.Span, message: str, hint: str = "") -> None:
        """Keep a mistake."""
        found = self.diagnostic(span, message, hint)
        if found not in self.problems:
            self.problems.append(found)

    def diagnostic(self, span: s.Span, message: str, hint: str) -> Diagnostic:
        """A mistake with the line that it stands in."""
        parsed = self.files.get(span.path)
        lines = [] if parsed is None else parsed.text.split("\n")
        line = lines[span.line - 1] if 0 < span.line <= len(lines) else ""
        return Diagnostic(span.path, span.line, span.column, span.length, message, hint, line)


@dataclass(frozen=True, slots=True)
class _Reading:
    """A file being read into an assembly.

    ``above`` are the files that lead to it, itself the last; ``laid``: what it changes and is not there is passed
    over; ``halves``: which of its halves are taken, its definitions and parameters or all that is about rules.
    """

    path: str
    folder: Path
    above: tuple[str, ...] = ()
    laid: bool = False
    halves: frozenset[str] = _HALVES

    @property
    def origin(self) -> str:
        """The name of the file."""
        return Path(self.path).stem


class Combiner:
    """Puts files together; those that a file names stand in (or below) the folder of a ruleset or the working one."""

    def __init__(self, texts: Texts, memory: "Memory | None" = None) -> None:
        self.texts = texts
        self.sources = Sources(memory)
        self.folders = [Path(), shipped("rulesets")]
        self.unread: set[str] = set()
        self.untaken = False  # whether a file that could not be taken may hold what is missing
        self.growing: set[str] = set()  # files that take rules of others, so that their own are added to them
        self.apart: dict[str, Assembly] = {}

    def ruleset(self, text: str, path: str, folder: Path) -> Assembly:
        """All that a file says and takes from other files."""
        assembly = Assembly()
        self._first(text, _Reading(path, folder), assembly)
        assembly.title = self._title(path)
        return assembly

    def lay(self, text: str, path: str, folder: Path, over: Assembly) -> None:
        """Lay another file over what has been gathered."""
        self._first(text, _Reading(path, folder, laid=True), over)
        over.title = f"{over.title}; {self._title(path)}"

    def setting(self, name: str, value: str, assembly: Assembly) -> None:
        """Give a parameter another value, as text in the language."""
        self.sources.files.pop("<setting>", None)
        self._file(f"set {name} to {value}", _Reading("<setting>", Path()), assembly)

    def _first(self, text: str, reading: _Reading, into: Assembly) -> None:
        name = str(Path(reading.path).resolve())
        halves = _missing(name, _HALVES, into)
        self.folders.append(reading.folder)
        self._file(text, replace(reading, above=(name,), halves=halves), into)

    def _title(self, path: str) -> str:
        return self.sources.files[path].file.title or Path(path).stem

    def _file(self, text: str, reading: _Reading, into: Assembly) -> None:
        """Do what a file says."""
        parsed = self.sources.parsed(text, reading.path)
        items = parsed.file.items
        self.untaken |= any(_may_take(problem.source_line) for problem in parsed.diagnostics)
        if any(isinstance(item, s.BuildOn | s.Lay | s.Take | s.Overlay) for item in items):
            self.growing.add(reading.path)
        for item in items:
            if self.sources.is_enough:
                return
            try:
                self._item(item, into, reading)
            except (CheckError, ClauseError) as error:
                self.untaken |= isinstance(item, s.BuildOn | s.Use | s.Overlay)
                self.sources.report(error)

    def _item(self, item: s.Item, into: Assembly, reading: _Reading) -> None:
        match item:
            case s.Unread():
                self.unread.add(item.name.word)
            case s.Overlay() | s.BuildOn() | s.Use() | s.Lay() | s.Take():
                self._grow(item, into, reading)
            case s.ParameterItem() | s.Definition() | s.SetItem():
                if "words" in reading.halves:
                    self._word(item, into, reading)
            case _:
                if "rules" in reading.halves:
                    self._rules(item, into, reading)

    def _grow(self, item: s.Overlay | s.BuildOn | s.Use | s.Lay | s.Take, into: Assembly, reading: _Reading) -> None:
        """Take from other files what a statement names."""
        match item:
            case s.Overlay():
                if item.usual is not None and not reading.laid and not into.rules:
                    self._take(item.usual, into, reading)
            case s.BuildOn(reference=reference):
                self._beside_picks(lambda: self._take(reference, into, reading), into)
            case s.Use(reference=reference):
                words = replace(reading, halves=reading.halves & _WORDS)
                self._beside_picks(lambda: self._take(reference, into, words), into)
            case s.Lay():
                for reference in item.references:
                    self._take(reference, into, replace(reading, laid=True))
            case s.Take():
                self._pick(item, into, reading)

    def _word(self, item: s.ParameterItem | s.Definition | s.SetItem, into: Assembly, reading: _Reading) -> None:
        match item:
            case s.ParameterItem():
                if not is_told_before(item, into.parameters.get(item.name.word, (None,))[0]):
                    self._new(item.name, into)
                    into.parameters[item.name.word] = (item, reading.origin)
            case s.Definition() if item.replaces:
                self._redefine(item, into, reading)
            case s.Definition():
                if not is_told_before(item, into.definitions.get(item.name.word)):
                    self._new(item.name, into)
                    into.definitions[item.name.word] = item
            case s.SetItem():
                self._set(item, into, reading)

    def _rules(self, item: s.Item, into: Assembly, reading: _Reading) -> None:
        match item:
            case s.RuleItem():
                self._rule(item, into, reading)
            case s.Drop():
                self._drop(item, into, reading)
            case s.Adjust():
                self._adjust(item, into, reading)
            case s.Excuse():
                self._excuse(item, into, reading)
            case s.ExampleItem():
                into.examples.append(item)
            case _:
                pass

    # ---- other files ------------------------------------------------------------------------

    def _take(self, reference: s.Reference, into: Assembly, reading: _Reading) -> None:
        """Do what another file says, each half of it once: its definitions and parameters, and all about rules."""
        found = self._found(reference, reading)
        name = str(found.resolve())
        halves = _missing(name, reading.halves, into)
        if halves:
            inner = _Reading(str(found), found.parent, (*reading.above, name), reading.laid, halves)
            self._file(self._text(found, reference), inner, into)

    def _found(self, reference: s.Reference, reading: _Reading) -> Path:
        """The file that a statement names, if it may be read and does not take this one."""
        target = reference.target
        found = find_ruleset(target, reading.folder)
        if found is None:
            looked = f"It is looked for in {reading.folder.resolve()} and among the shipped."
            hint = did_you_mean(target, shipped_names(), looked)
            raise CheckError(reference.span, f"there is no rules file ‘{target}’", hint)
        if not any(found.resolve().is_relative_to(folder.resolve()) for folder in self.folders):
            hint = f"Put it into {self.folders[-1].resolve()}, or below."
            raise CheckError(reference.span, f"‘{target}’ is outside the folder of this ruleset", hint)
        self.sources.found.append((target, str(reading.folder), str(found)))
        name = str(found.resolve())
        if name in reading.above:
            circle = " → ".join(Path(each).stem for each in (*reading.above[reading.above.index(name) :], name))
            raise CheckError(reference.span, f"the files take each other in a circle: {circle}")
        return found

    def _text(self, found: Path, reference: s.Reference) -> str:
        known = self.sources.files.get(str(found))
        if known is not None:
            return known.text
        if len(self.sources.files) >= limits.MAX_FILES:
            raise CheckError(reference.span, f"a ruleset is made of at most {limits.MAX_FILES} files")
        try:
            return self.texts.of(found)
        except RulekitError as error:
            raise CheckError(reference.span, f"‘{reference.target}’: {error.diagnostics[0].message}") from error

    # ---- single rules -----------------------------------------------------------------------

    def _pick(self, item: s.Take, into: Assembly, reading: _Reading) -> None:
        """Take single rules of a file, as they stand there, and what they use."""
        apart = self._apart(item.reference, reading)
        for name in item.rules:
            state = apart.rules.get(name.word)
            if state is None:
                hint = did_you_mean(name.word, apart.rules)
                raise CheckError(name.span, f"there is no rule ‘{name.word}’ in ‘{item.reference.target}’", hint)
            self._pick_words(name, state, apart, into)
            change = Change(f"taken from {apart.title}", name.word, reading.origin)
            if "rules" in reading.halves and bring(Pick("rules", name.word, state, name, change), state, into):
                into.changes.append(change)

    def _apart(self, reference: s.Reference, reading: _Reading) -> Assembly:
        """A file put together by itself."""
        found = self._found(reference, reading)
        name = str(found.resolve())
        if name not in self.apart:
            self.apart[name] = Assembly(title=found.stem)
            inner = _Reading(str(found), found.parent, (*reading.above, name))
            self._file(self._text(found, reference), inner, self.apart[name])
        return self.apart[name]

    def _pick_words(self, asked: s.Name, state: RuleState, apart: Assembly, into: Assembly) -> None:
        """Bring the definitions and parameters that a rule uses, with the values that they are set to."""
        needed = used((state.item, *state.licences), apart)
        for kind in ("definitions", "parameters"):
            for word, each in apart.table(kind).items():
                if word in needed:
                    bring(Pick(kind, word, each, asked), each, into)
        for word, (item, origin) in apart.settings.items():
            if word in needed and into.settings.get(word, (None,))[0] is not item:
                into.settings[word] = (item, origin)
                into.changes.append(Change("parameter set", word, origin))

    def _beside_picks(self, take: Callable[[], None], into: Assembly) -> None:
        """Take a whole file as if single rules came after it, so that what both bring is one."""
        picks, into.picks = into.picks, []
        order = list(into.rules)
        aside = [(pick, now) for pick in picks if (now := into.table(pick.kind).pop(pick.word, None)) is not None]
        try:
            take()
        finally:
            self._put_back(aside, into)
            into.rules = {word: into.rules[word] for word in dict.fromkeys((*order, *into.rules)) if word in into.rules}

    def _put_back(self, aside: Sequence[tuple[Pick, Any]], into: Assembly) -> None:
        """Bring what was picked, as it is now, beside what was taken since; a clash of each rule is told once."""
        clashes: dict[s.Name, CheckError] = {}
        for pick, now in aside:
            try:
                if not bring(pick, now, into) and pick.change in into.changes:
                    into.changes.remove(pick.change)
            except CheckError as error:
                clashes.setdefault(pick.asked, error)
        for error in clashes.values():
            self.sources.report(error)

    # ---- definitions and parameters ---------------------------------------------------------

    def _new(self, name: s.Name, into: Assembly) -> None:
        word = name.word
        if word in into.definitions or word in into.parameters:
            known = into.definitions[word] if word in into.definitions else into.parameters[word][0]
            if known.span.path == name.span.path:
                raise CheckError(name.span, f"‘{word}’ is defined twice", "Give one of them another name.")
            message = f"‘{word}’ has another meaning in ‘{Path(known.span.path).stem}’"
            raise CheckError(name.span, message, f"Give one another name, or write ‘replace define {word}’.")
        if vocabulary.is_known(word):
            raise CheckError(name.span, f"‘{word}’ is a word of the language already", "Choose another name.")
        if not is_name(word):
            raise CheckError(name.span, f"‘{word}’ is a word of the grammar and no name", "Choose another name.")

    def _redefine(self, item: s.Definition, into: Assembly, reading: _Reading) -> None:
        """Another meaning for a definition taken from another file; all rules that use it follow."""
        word = item.name.word
        if not self._is_there(item.name, into.definitions, into, reading):
            return
        if word not in into.definitions and self.untaken:
            raise told_elsewhere(item.name.span, "this definition could not be read")
        if word not in into.definitions:
            hint = did_you_mean(word, into.definitions)
            raise CheckError(item.name.span, f"there is no definition ‘{word}’", hint)
        if into.definitions[word].span.path == item.span.path:
            raise CheckError(item.name.span, f"‘{word}’ is defined in this file already", "Change it there.")
        into.meanings.setdefault(word, []).append(into.definitions[word])
        into.definitions[word] = item
        into.changes.append(Change("definition replaced", word, reading.origin))

    def _set(self, item: s.SetItem, into: Assembly, reading: _Reading) -> None:
        word = item.name.word
        if word in self.unread or not self._is_there(item.name, into.parameters, into, reading):
            return
        if word not in into.parameters and self.untaken:
            raise told_elsewhere(item.name.span, "this parameter could not be read")
        if word not in into.parameters:
            hint = did_you_mean(word, into.parameters, _values_of(into.rules.get(word), into))
            raise CheckError(item.name.span, f"there is no parameter ‘{word}’", hint)
        known = into.settings[word][0].span if word in into.settings else s.NOWHERE
        if known == item.span:
            return
        if known.path == item.span.path:
            raise CheckError(item.name.span, f"‘{word}’ is set twice in this file", "Keep one of the two.")
        into.settings[word] = (item, reading.origin)
        into.changes.append(Change("parameter set", word, reading.origin))

    # ---- rules ------------------------------------------------------------------------------

    def _rule(self, item: s.RuleItem, into: Assembly, reading: _Reading) -> None:
        """A rule of the file's own, perhaps in the place of another."""
        word, old = item.name.word, item.replaces
        grade = next(iter(item.all(s.Grade)), s.Grade(item.span, Severity.FAULT, None, None, False))
        state = RuleState(item, weight(grade), reading.origin)
        if old is None:
            known = into.rules.get(word)
            if known is not None and is_told_before(state.item, known.item):
                return
            self._free(item.name, into)
            into.touched.add((reading.path, word))
            into.rules[word] = state
            if reading.laid or reading.path in self.growing:
                into.changes.append(Change("added", word, reading.origin))
        elif self._is_there(old, into.rules, into, reading):
            self._known(old, into, reading)
            if old.word != word:
                self._free(item.name, into)
                into.gone[old.word] = f"‘{word}’ of ‘{reading.origin}’ has taken its place"
            into.rules = {word if n == old.word else n: state if n == old.word else r for n, r in into.rules.items()}
            what = "replaced" if old.word == word else f"replaces {old.word}"
            into.changes.append(Change(what, word, reading.origin))

    def _drop(self, item: s.Drop, into: Assembly, reading: _Reading) -> None:
        there = [name for name in item.names if self._is_there(name, into.rules, into, reading)]
        for name in there:
            self._known(name, into, reading)
        kept = {name.word for name in item.names}
        for word in [word for word in into.rules if word not in kept] if item.but else [name.word for name in there]:
            del into.rules[word]
            into.gone[word] = f"‘{reading.origin}’ has dropped it"
            into.changes.append(Change("dropped", word, reading.origin))

    def _adjust(self, item: s.Adjust, into: Assembly, reading: _Reading) -> None:
        word = item.name.word
        if not self._is_there(item.name, into.rules, into, reading):
            return
        state = self._known(item.name, into, reading)
        if item.grade is not None:
            into.rules[word] = state = replace(state, weight=weight(item.grade))
            into.changes.append(Change(f"now {item.grade.severity}", word, reading.origin))
        if item.message is not None:
            kept = (clause for clause in state.item.clauses if not isinstance(clause, s.Message))
            into.rules[word] = replace(state, item=replace(state.item, clauses=(item.message, *kept)))
            into.changes.append(Change("message replaced", word, reading.origin))

    def _excuse(self, item: s.Excuse, into: Assembly, reading: _Reading) -> None:
        for name in item.names:
            if self._is_there(name, into.rules, into, reading):
                state = self._known(name, into)
                into.rules[name.word] = replace(state, licences=(*state.licences, item.licence))
                into.changes.append(Change(f"excused as {item.licence.name}", name.word, reading.origin))

    def _is_there(self, name: s.Name, known: Container[str], into: Assembly, reading: _Reading) -> bool:
        """Whether there is what a statement changes; a file that is laid over others passes over what is not."""
        if name.word in known or not reading.laid:
            return True
        into.changes.append(Change(PASSED_OVER, name.word, reading.origin))
        return False

    def _known(self, name: s.Name, into: Assembly, reading: _Reading | None = None) -> RuleState:
        """The rule to change; two changes of one rule in one file clash."""
        word = name.word
        if reading and (reading.path, word) in into.touched:
            raise CheckError(name.span, f"‘{word}’ is changed twice in this file", "Keep one of the two changes.")
        if word not in into.rules and (word in self.unread or self.untaken):
            raise told_elsewhere(name.span, "this rule could not be read")
        if word not in into.rules:
            gone = f"there is no rule ‘{word}’ any more: {into.gone.get(word)}"
            message = gone if word in into.gone else f"there is no rule ‘{word}’"
            raise CheckError(name.span, message, "" if word in into.gone else did_you_mean(word, into.rules))
        if reading:
            into.touched.add((reading.path, word))
        return into.rules[word]

    def _free(self, name: s.Name, into: Assembly) -> None:
        """Raise CheckError where there is a rule of that name."""
        word = name.word
        if word in into.rules:
            origin = into.rules[word].origin
            here = into.rules[word].item.span.path == name.span.path
            message = f"there is already a rule ‘{word}’" + ("" if here else f", of ‘{origin}’")
            raise CheckError(name.span, message, f"Write ‘replace rule {word}’ to put this one in its place.")


def _may_take(line: str) -> bool:
    """Whether a line that can’t be read may have been meant to take another file: no other statement begins it."""
    others = beginnings() - of_files() - {"RULESET"}  # a title is easily mixed up with that of an overlay
    first = line.split(maxsplit=1)[0].rstrip(":,").lower() if line[:1].isalnum() else ""
    return bool(first) and first not in map(word_of, others)


def _missing(name: str, halves: frozenset[str], into: Assembly) -> frozenset[str]:
    """Those halves of a file that were not taken before; from now on they are."""
    missing = frozenset(half for half in halves if (name, half) not in into.taken)
    into.taken |= {(name, half) for half in missing}
    return missing


def _values_of(rule: RuleState | None, into: Assembly) -> str:
    """What is told where a rule is named instead of a parameter: those that it asks."""
    if rule is None:
        return ""
    named = used((rule.item,), into)
    asked = [f"‘{name}’" for name in into.parameters if name in named]
    told = "That is a rule; what can be set is a parameter."
    if not asked:
        return f"{told} It asks none: write ‘replace rule …’ to change it."
    return f"{told} {'It asks ' + ' and '.join(asked) + '.' if asked[1:] else f'Did you mean {asked[0]}?'}"


def weight(grade: s.Grade) -> t.Weight:
    """What a finding costs by a grade."""
    points = grade.severity.usual_points if grade.points is None else grade.points
    return t.Weight(grade.severity, points, grade.cap, grade.once)
