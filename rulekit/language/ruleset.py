"""A whole ruleset: its file, the files it uses and builds on, and what it changes in them."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from rulekit.diagnostics import Diagnostic, RulekitError, did_you_mean, with_article
from rulekit.language import limits, vocabulary
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language.build import ClauseError
from rulekit.language.check import (
    CheckError,
    Environment,
    check_definition,
    check_licence,
    check_rule,
    constant,
    constant_set,
    stand_in,
)
from rulekit.language.parser import parse
from rulekit.resources import shipped

EXTENSION = ".rules"
_USUAL_POINTS = {"fault": 4, "warning": 2, "advice": 0}


@dataclass(frozen=True, slots=True)
class Parameter:
    """A parameter in force: its value, its bounds if it has any, and where the value comes from."""

    name: str
    type: str
    value: t.Const
    low: t.Const | None
    high: t.Const | None
    note: str
    origin: str


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that a ruleset changes in what it builds on."""

    what: str
    name: str
    origin: str


@dataclass(frozen=True, slots=True)
class Ruleset:
    """A ruleset ready to compile: rules in force, parameters, what was changed and by which file.

    ``warnings`` are diagnostics that do not stop it from being used; ``compiled`` keeps its monitors by setting.
    """

    title: str
    path: str
    rules: tuple[t.Rule, ...]
    parameters: tuple[Parameter, ...]
    changes: tuple[Change, ...]
    examples: tuple[s.ExampleItem, ...]
    warnings: tuple[Diagnostic, ...]
    compiled: dict[object, Any] = field(default_factory=dict[object, Any], init=False, compare=False, repr=False)

    def rule(self, name: str) -> t.Rule:
        """The rule of that name; KeyError if there is none."""
        return {rule.name: rule for rule in self.rules}[name]


@dataclass(slots=True)
class _RuleState:
    """A rule while files are put together."""

    item: s.RuleItem
    weight: t.Weight
    origin: str
    licences: list[s.LicenceItem] = field(default_factory=list[s.LicenceItem])


@dataclass(slots=True)
class _Assembly:
    """Everything gathered from a file and the files it names."""

    rules: dict[str, _RuleState] = field(default_factory=dict[str, _RuleState])
    definitions: dict[str, s.Definition] = field(default_factory=dict[str, s.Definition])
    parameters: dict[str, tuple[s.ParameterItem, str]] = field(default_factory=dict[str, tuple[s.ParameterItem, str]])
    settings: dict[str, tuple[s.SetItem, str]] = field(default_factory=dict[str, tuple[s.SetItem, str]])
    changes: list[Change] = field(default_factory=list[Change])
    examples: list[s.ExampleItem] = field(default_factory=list[s.ExampleItem])
    title: str = ""


def find_ruleset(name: str, beside: Path | None = None) -> Path | None:
    """The file of a ruleset: a path, a name beside another file, or the name of a shipped one."""
    candidates = [Path(name), Path(name + EXTENSION)]
    if beside is not None:
        candidates = [beside / name, beside / (name + EXTENSION)]
    candidates.append(shipped("rulesets") / (Path(name).name + ("" if name.endswith(EXTENSION) else EXTENSION)))
    return next((path for path in candidates if _is_file(path)), None)


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:  # such as a name too long for the disk
        return False


def shipped_names() -> list[str]:
    """The names of the shipped rulesets."""
    return sorted(path.stem for path in shipped("rulesets").glob("*" + EXTENSION))


def read_ruleset(name: str | Path) -> tuple[Path, str]:
    """The file of a ruleset, by path or shipped name, and its text; raises RulekitError if there is none."""
    path = find_ruleset(str(name))
    if path is None:
        hint = did_you_mean(Path(name).stem, shipped_names(), f"Shipped rulesets: {', '.join(shipped_names())}.")
        raise RulekitError([Diagnostic(str(name), 1, 1, 1, "there is no such ruleset", hint)])
    return path, _read(path)


def load_ruleset(name: str | Path, overrides: Mapping[str, str] | None = None) -> Ruleset:
    """Load a ruleset by path or shipped name, with all it uses and builds on.

    ``overrides`` gives parameters other values, as text in the language (``{"most-thirds": "4"}``).
    Raises RulekitError with every mistake found in all its files.
    """
    path, text = read_ruleset(name)
    return load_text(text, str(path), path.parent, overrides)


def load_text(
    text: str, path: str = "<text>", folder: Path | None = None, overrides: Mapping[str, str] | None = None
) -> Ruleset:
    """Load a ruleset from its text; files it names are looked for in ``folder``, then among the shipped.

    Raises RulekitError with every mistake found.
    """
    loader = _Loader()
    assembly = loader.file(text, path, folder or Path(), ())
    for name, value in (overrides or {}).items():
        loader.add(f"set {name} to {value}", "<setting>", folder or Path(), assembly)
    ruleset = loader.finish(assembly, path)
    if loader.problems:
        raise RulekitError(loader.problems)
    return ruleset


def _read(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            data = stream.read(limits.MAX_BYTES + 1)
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        message = "this is not a text file (UTF-8)"
        raise RulekitError([Diagnostic(str(path), 1, 1, 1, message)]) from error
    except OSError as error:
        raise RulekitError([Diagnostic(str(path), 1, 1, 1, f"can’t be read: {error.strerror}")]) from error


class _Loader:
    """Puts files together, then checks the whole; gathers every mistake on the way."""

    def __init__(self) -> None:
        self.problems: list[Diagnostic] = []
        self.lines: dict[str, list[str]] = {}
        self.loaded: dict[str, _Assembly] = {}

    # ---- putting files together -------------------------------------------------------------

    def file(self, text: str, path: str, folder: Path, above: tuple[str, ...]) -> _Assembly:
        """All that a file says and takes from other files."""
        assembly = _Assembly(title=Path(path).stem)
        self.add(text, path, folder, assembly, (*above, str(Path(path).resolve())))
        return assembly

    def add(self, text: str, path: str, folder: Path, assembly: _Assembly, above: tuple[str, ...] = ()) -> None:
        """Add what a text says to what has been gathered; ``above`` are the files that lead to it, itself the last."""
        parsed = parse(text, path)
        self.lines[path] = parsed.text.splitlines()
        self.problems += parsed.diagnostics
        assembly.title = parsed.file.title or assembly.title
        for item in parsed.file.items:
            try:
                self._item(item, assembly, path, folder, above)
            except (CheckError, ClauseError) as error:
                self._report(error)

    def _report(self, error: CheckError | ClauseError) -> None:
        self._problem(error.span, str(error), error.hint)

    def _problem(self, span: s.Span, message: str, hint: str = "") -> None:
        lines = self.lines.get(span.path, [])
        line = lines[span.line - 1] if 0 < span.line <= len(lines) else ""
        self.problems.append(Diagnostic(span.path, span.line, span.column, span.length, message, hint, line))

    def _item(self, item: s.Item, into: _Assembly, path: str, folder: Path, above: tuple[str, ...]) -> None:
        origin = Path(path).stem
        match item:
            case s.BuildOn() | s.Use():
                self._take(item, into, folder, above)
            case s.ParameterItem():
                self._new(item.name, into)
                into.parameters[item.name.word] = (item, origin)
            case s.Definition() if item.replaces:
                self._redefine(item, into, origin)
            case s.Definition():
                self._new(item.name, into)
                into.definitions[item.name.word] = item
            case s.SetItem():
                self._set(item, into, origin)
            case s.RuleItem():
                self._rule(item, into, origin)
            case s.Drop():
                for name in item.names:
                    self._known_rule(name, into, origin)
                    del into.rules[name.word]
                    into.changes.append(Change("dropped", name.word, origin))
            case s.Adjust():
                state = self._known_rule(item.name, into, origin)
                state.weight = _weight(item.grade)
                into.changes.append(Change(f"now {item.grade.severity}", item.name.word, origin))
            case s.Excuse():
                for name in item.names:
                    self._known_rule(name, into, "").licences.append(item.licence)
                    into.changes.append(Change(f"excused as {item.licence.name}", name.word, origin))
            case s.ExampleItem():
                into.examples.append(item)

    def _take(self, item: s.BuildOn | s.Use, into: _Assembly, folder: Path, above: tuple[str, ...]) -> None:
        target = item.reference.target
        found = find_ruleset(target, folder)
        if found is None:
            looked = f"It is looked for in {folder.resolve()} and among the shipped."
            hint = did_you_mean(target, shipped_names(), looked)
            raise CheckError(item.reference.span, f"there is no rules file ‘{target}’", hint)
        resolved = str(found.resolve())
        if resolved in above:
            circle = " → ".join(Path(name).stem for name in (*above[above.index(resolved) :], resolved))
            raise CheckError(item.reference.span, f"the files take each other in a circle: {circle}")
        if resolved not in self.loaded:
            if len(self.lines) >= limits.MAX_FILES:
                raise CheckError(item.span, f"a ruleset is made of at most {limits.MAX_FILES} files")
            self.loaded[resolved] = self.file(_read(found), str(found), found.parent, above)
        taken = self.loaded[resolved]
        for name, definition in taken.definitions.items():
            if into.definitions.setdefault(name, definition) is not definition:
                raise CheckError(item.span, f"‘{name}’ is defined both in ‘{target}’ and before it")
        for name, parameter in taken.parameters.items():
            if into.parameters.setdefault(name, parameter) is not parameter:
                raise CheckError(item.span, f"the parameter ‘{name}’ is both in ‘{target}’ and before it")
        into.settings |= taken.settings
        if isinstance(item, s.BuildOn):
            for name, state in taken.rules.items():
                if name in into.rules:
                    raise CheckError(item.span, f"the rule ‘{name}’ is both in ‘{target}’ and before it")
                into.rules[name] = replace(state, licences=list(state.licences))
            into.changes += taken.changes

    def _redefine(self, item: s.Definition, into: _Assembly, origin: str) -> None:
        """Another meaning for a definition taken from another file; all rules that use it follow."""
        word = item.name.word
        if word not in into.definitions:
            hint = did_you_mean(word, into.definitions)
            raise CheckError(item.name.span, f"there is no definition ‘{word}’", hint)
        if into.definitions[word].span.path == item.span.path:
            raise CheckError(item.name.span, f"‘{word}’ is defined in this file already", "Change it there.")
        into.definitions[word] = item
        into.changes.append(Change("definition replaced", word, origin))

    def _new(self, name: s.Name, into: _Assembly) -> None:
        word = name.word
        if word in into.definitions or word in into.parameters:
            raise CheckError(name.span, f"‘{word}’ is defined twice", "Give one of them another name.")
        if vocabulary.is_known(word):
            raise CheckError(name.span, f"‘{word}’ is a word of the language already", "Choose another name.")

    def _set(self, item: s.SetItem, into: _Assembly, origin: str) -> None:
        word = item.name.word
        if word not in into.parameters:
            raise CheckError(item.name.span, f"there is no parameter ‘{word}’", did_you_mean(word, into.parameters))
        if word in into.settings and into.settings[word][1] == origin:
            raise CheckError(item.name.span, f"‘{word}’ is set twice in this file", "Keep one of the two.")
        into.settings[word] = (item, origin)
        into.changes.append(Change("parameter set", word, origin))

    def _rule(self, item: s.RuleItem, into: _Assembly, origin: str) -> None:
        word = item.name.word
        if item.replaces:
            self._known_rule(item.name, into, origin)
            into.changes.append(Change("replaced", word, origin))
        elif word in into.rules:
            hint = f"Write ‘replace rule {word}’ to put this one in its place."
            raise CheckError(item.name.span, f"there is already a rule ‘{word}’", hint)
        elif into.rules and any(state.origin != origin for state in into.rules.values()):
            into.changes.append(Change("added", word, origin))
        into.rules[word] = _RuleState(item, _weight(item.grade), origin)

    def _known_rule(self, name: s.Name, into: _Assembly, origin: str) -> _RuleState:
        """The rule to change; two changes of one rule in one file clash."""
        if any(change.name == name.word and change.origin == origin for change in into.changes if origin):
            raise CheckError(name.span, f"‘{name.word}’ is changed twice in this file", "Keep one of the two changes.")
        if name.word not in into.rules:
            raise CheckError(name.span, f"there is no rule ‘{name.word}’", did_you_mean(name.word, into.rules))
        return into.rules[name.word]

    # ---- checking the whole -----------------------------------------------------------------

    def finish(self, assembly: _Assembly, path: str) -> Ruleset:
        """Check everything with the values in force."""
        environment = Environment(assembly.definitions, {})
        parameters = [p for p in (self._parameter(n, assembly, environment) for n in assembly.parameters) if p]
        stand_ins = {name: stand_in(item.type.word) for name, (item, _) in assembly.parameters.items()}
        environment.parameters = {name: const for name, const in stand_ins.items() if const is not None}
        environment.parameters |= {parameter.name: parameter.value for parameter in parameters}
        for definition in assembly.definitions.values():
            self._try(lambda d=definition: check_definition(d, environment))
        rules = [self._typed(state, environment) for state in assembly.rules.values()]
        self._example_rules(assembly)
        return Ruleset(
            assembly.title, path, tuple(rule for rule in rules if rule is not None), tuple(parameters),
            tuple(assembly.changes), tuple(assembly.examples), tuple(self._unused(assembly, environment, path)),
        )  # fmt: skip

    def _try(self, action: "object") -> None:
        try:
            action()  # type: ignore[operator]
        except (CheckError, ClauseError) as error:
            self._report(error)

    def _typed(self, state: _RuleState, environment: Environment) -> t.Rule | None:
        try:
            for licence in state.licences:
                check_licence(state.item, licence, environment)
            item = replace(state.item, licences=(*state.item.licences, *state.licences))
            return check_rule(item, environment, state.weight, state.origin)
        except (CheckError, ClauseError) as error:
            self._report(error)
            return None

    def _parameter(self, name: str, assembly: _Assembly, environment: Environment) -> Parameter | None:
        item, origin = assembly.parameters[name]
        try:
            low = None if item.low is None else constant(item.low, environment)
            high = None if item.high is None else constant(item.high, environment)
            setting, origin = assembly.settings.get(name, (None, origin))
            chosen = item.usual if setting is None else setting.value
            first, *others = chosen
            span = first.span
            if others and not item.type.is_set:
                hint = f"Write ‘is a set of {item.type.word}’ where it is declared, to allow several."
                raise CheckError(others[0].span, f"‘{name}’ is one {item.type.word}, but here are {len(chosen)}", hint)
            read = constant_set(chosen, environment) if item.type.is_set else constant(first, environment)
            low, high, value = (_as_type(const, item.type.word) for const in (low, high, read))
            assert value is not None
            _check_parameter(item, value, low, high, span)
            return Parameter(name, item.type.word, value, low, high, item.note, origin)
        except (CheckError, ClauseError) as error:
            self._report(error)
            return None

    def _example_rules(self, assembly: _Assembly) -> None:
        for example in assembly.examples:
            for breach in example.breaches:
                if breach.rule not in assembly.rules:
                    hint = did_you_mean(breach.rule, assembly.rules)
                    self._problem(breach.span, f"there is no rule ‘{breach.rule}’", hint)

    def _unused(self, assembly: _Assembly, environment: Environment, path: str) -> list[Diagnostic]:
        """Definitions and parameters of the file itself that nothing uses; a file without rules is a vocabulary."""
        if not any(state.item.span.path == path for state in assembly.rules.values()):
            return []
        names = [definition.name for definition in assembly.definitions.values()]
        names += [item.name for item, _ in assembly.parameters.values()]
        lines = self.lines.get(path, [])
        return [
            Diagnostic(
                path, name.span.line, name.span.column, name.span.length, f"nothing uses ‘{name.word}’",
                "Use it, or take it out.", lines[name.span.line - 1] if name.span.line <= len(lines) else "",
            )
            for name in names
            if name.span.path == path and name.word not in environment.used
        ]  # fmt: skip


def _weight(grade: s.Grade) -> t.Weight:
    points = _USUAL_POINTS[grade.severity] if grade.points is None else grade.points
    return t.Weight(grade.severity, points, grade.cap, grade.once)


def _as_type(const: t.Const | None, word: str) -> t.Const | None:
    """A whole number as a degree, where a degree is wanted."""
    if const is not None and word == "degree" and const.type == t.Type.COUNT:
        return t.Const(const.value, t.Type.DEGREE, const.many)
    return const


def _check_parameter(
    item: s.ParameterItem, value: t.Const, low: t.Const | None, high: t.Const | None, span: s.Span
) -> None:
    """Compare a parameter's value with its type and bounds; raises CheckError."""
    type_ = vocabulary.NAMED_TYPES.get(item.type.word)
    if type_ is None:
        known = vocabulary.NAMED_TYPES
        hint = did_you_mean(item.type.word, known, f"Types are {', '.join(known)}.")
        raise CheckError(item.type.span, f"there is no type ‘{item.type.word}’", hint)
    for const in (value, low, high):
        if const is not None and const.type != type_:
            raise CheckError(
                span, f"‘{item.name.word}’ is {with_article(item.type.word)}, but this is {with_article(const.type)}"
            )
    if low is not None and high is not None:
        if value.many:
            raise CheckError(item.type.span, "a set has no ‘from … to …’", "Leave the bounds out.")
        if type_ in (t.Type.MOTION, t.Type.MODE):
            raise CheckError(
                item.type.span, f"{with_article(item.type.word)} has no ‘from … to …’", "Leave the bounds out."
            )
        size, least, most = (_measure(const) for const in (value, low, high))
        if least > most:
            raise CheckError(item.span, f"{_shown(low)} is above {_shown(high)}", "Write the lower bound first.")
        if not least <= size <= most:
            raise CheckError(span, f"‘{item.name.word}’ goes from {_shown(low)} to {_shown(high)}")


def _measure(const: t.Const) -> float:
    """A number that orders values of one type."""
    if const.type == t.Type.INTERVAL:
        patterns: tuple[t.Pattern, ...] = const.value  # type: ignore[assignment]
        return max(p.high + "dmPMA".find(p.quality[:1] or "P") / 10 for p in patterns)
    return float(const.value)  # type: ignore[arg-type]


def _shown(const: t.Const) -> str:
    if const.type == t.Type.INTERVAL:
        patterns: tuple[t.Pattern, ...] = const.value  # type: ignore[assignment]
        return " or ".join(f"{p.quality}{p.high}" for p in patterns)
    return str(const.value)
