"""The whole of a ruleset put together from its files and checked, with the values in force."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from rulekit.diagnostics import Diagnostic, RulekitError, did_you_mean, with_article
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language import vocabulary
from rulekit.language.assembly import Assembly, RuleState
from rulekit.language.build import ClauseError
from rulekit.language.checking import (
    CheckError,
    Environment,
    check_definition,
    check_rule,
    constant,
    constant_set,
    stand_in,
    together,
)
from rulekit.language.combining import Combiner
from rulekit.language.library import Texts
from rulekit.language.parser import Parsed
from rulekit.language.ruleset import Parameter, Ruleset
from rulekit.music.pitch import interval_words

if TYPE_CHECKING:
    from rulekit.language.memory import Memory

_T = TypeVar("_T")


def loaded(
    text: str, path: str, folder: Path, overrides: Mapping[str, str], laid: Sequence[tuple[Path, str]], texts: Texts
) -> Ruleset:
    """A ruleset from its text; raises RulekitError with every mistake in all files, and what would mend it."""
    problems, ruleset = _checked(text, path, folder, overrides, laid, texts)
    if problems:
        from rulekit.language.mending import explained

        told = partial(_told, path=path, folder=folder, laid=laid, texts=texts)
        raise RulekitError(explained(problems, text, path, told))
    return ruleset


@dataclass(frozen=True, slots=True)
class Examined:
    """A ruleset as far as it can be understood, and what is wrong with the rest of it.

    ``environment`` holds the names known to it, for whoever asks what else could be written; ``files`` are those that
    it is made of, as read, by path.
    """

    ruleset: Ruleset
    files: Mapping[str, Parsed]
    environment: Environment
    problems: tuple[Diagnostic, ...]


def examine(
    text: str, path: str, folder: Path, unsaved: Mapping[str, str] | None = None, memory: "Memory | None" = None
) -> Examined:
    """Understand as much of a ruleset as can be; ``unsaved`` texts, by resolved path, stand for the disk’s.

    With a ``memory`` of the same ruleset only what was changed since is read and checked again. Its problems are
    told without the lines that would mend them, which take longer to find.
    """
    combiner = Combiner(Texts(unsaved), memory)
    assembly = combiner.ruleset(text, path, folder)
    checked = _Checked(combiner, memory)
    ruleset = checked.finish(assembly, path)
    return Examined(ruleset, combiner.sources.files, checked.environment, tuple(sorted(set(combiner.sources.problems))))


def _told(text: str, path: str, folder: Path, laid: Sequence[tuple[Path, str]], texts: Texts) -> list[Diagnostic]:
    """What is wrong with a text."""
    return _checked(text, path, folder, {}, laid, texts)[0]


def _checked(
    text: str, path: str, folder: Path, overrides: Mapping[str, str], laid: Sequence[tuple[Path, str]], texts: Texts
) -> tuple[list[Diagnostic], Ruleset]:
    combiner = Combiner(texts)
    assembly = combiner.ruleset(text, path, folder)
    for over, said in laid:
        combiner.lay(said, str(over), over.parent, assembly)
    for name, value in overrides.items():
        combiner.setting(name, value, assembly)
    together = " + ".join([path, *(str(over) for over, _ in laid)])
    return combiner.sources.problems, _Checked(combiner).finish(assembly, together)


class _Checked:
    """Checks the whole of what was put together; keeps every mistake on the way."""

    def __init__(self, combiner: Combiner, memory: "Memory | None" = None) -> None:
        self.sources, self.unread, self.untaken = combiner.sources, combiner.unread, combiner.untaken
        self._memory = memory
        self.environment = Environment({}, {})

    # ---- checking the whole -----------------------------------------------------------------

    def finish(self, assembly: Assembly, path: str) -> Ruleset:
        """Check everything with the values in force."""
        environment = self.environment = Environment(
            assembly.definitions, {}, faulty=set(self.unread), incomplete=self.untaken
        )
        parameters = [p for p in (self._parameter(n, assembly, environment) for n in assembly.parameters) if p]
        stand_ins = {name: stand_in(item.type.word) for name, (item, _) in assembly.parameters.items()}
        environment.parameters = {name: const for name, const in stand_ins.items() if const is not None}
        environment.parameters |= {parameter.name: parameter.value for parameter in parameters}
        environment.faulty |= stand_ins.keys() - environment.parameters.keys()
        if self._memory is not None:
            self._memory.begin(environment)
        for definition in assembly.definitions.values():
            self._try(lambda d=definition: self._definition(d))
        rules = [self._typed(state) for state in assembly.rules.values()]
        self._example_rules(assembly, path)
        return Ruleset(
            assembly.title, path, tuple(rule for rule in rules if rule is not None), tuple(parameters),
            tuple(assembly.changes), tuple(assembly.examples), self._warnings(assembly, environment, path),
            {path: parsed.text for path, parsed in self.sources.files.items()}, tuple(self.sources.found),
        )  # fmt: skip

    def _once(self, name: str, parts: tuple[object, ...], check: Callable[[Environment], _T]) -> _T:
        """What comes of checking a statement, remembered while none of its parts changes."""
        if self._memory is None:
            return check(self.environment)
        return self._memory.checked(name, parts, self.environment, check)

    def _definition(self, definition: s.Definition) -> None:
        self._once(f"define {definition.name.word}", (definition,), lambda within: check_definition(definition, within))

    def _try(self, action: "object") -> None:
        try:
            if not self.sources.is_enough:
                action()  # type: ignore[operator]
        except (CheckError, ClauseError) as error:
            self.sources.report(error)

    def _typed(self, state: RuleState) -> t.Rule | None:
        if self.sources.is_enough or not state.item.all(s.Subject):
            return None
        try:
            parts = (state.item, *state.licences, state.weight, state.origin)
            return self._once(f"rule {state.item.name.word}", parts, lambda within: _rule(state, within))
        except (CheckError, ClauseError) as error:
            self.sources.report(error)
            return None

    def _parameter(self, name: str, assembly: Assembly, environment: Environment) -> Parameter | None:
        item, origin = assembly.parameters[name]
        setting, origin = assembly.settings.get(name, (None, origin))
        try:
            chosen = item.usual if setting is None else setting.value
            first, *others = chosen
            span = first.span
            if others and not item.type.is_set:
                hint = f"Write ‘is a set of {item.type.word}’ where it is declared, to allow several."
                raise CheckError(others[0].span, f"‘{name}’ is one {item.type.word}, but here are {len(chosen)}", hint)
            word = item.type.word
            _type_of(item)
            low, high, value = (
                _as_type(const, word)
                for const in together(
                    lambda: None if item.low is None else constant(item.low, word, environment),
                    lambda: None if item.high is None else constant(item.high, word, environment),
                    lambda: (
                        constant_set(chosen, word, environment)
                        if item.type.is_set
                        else constant(first, word, environment)
                    ),
                )
            )
            assert value is not None
            _check_parameter(item, value, low, high, span)
            return Parameter(name, item.type.word, value, low, high, item.note, origin)
        except (CheckError, ClauseError) as error:
            type_ = vocabulary.NAMED_TYPES.get(item.type.word)
            if type_ is not None and isinstance(error, CheckError) and "there is no word" in str(error):
                hint = f"‘{name}’ is {with_article(item.type.word)}: write such as {vocabulary.SUCH_AS[type_]}."
                error = CheckError(error.span, str(error), hint)
            self.sources.report(error)
            return None

    def _example_rules(self, assembly: Assembly, path: str) -> None:
        """Look for the rules and licences that the file's own examples name."""
        for example in assembly.examples:
            for breach in example.breaches:
                known = breach.rule in assembly.rules or breach.rule in self.unread or self.untaken
                if not known and breach.span.path == path:
                    some = f"Name a rule of this ruleset, such as ‘{next(iter(assembly.rules), 'no-parallels')}’."
                    hint = did_you_mean(breach.rule, assembly.rules, some)
                    self.sources.problem(breach.span, f"there is no rule ‘{breach.rule}’", hint)

        for name, state in assembly.rules.items():
            licences = [licence.name for licence in (*state.item.licences, *state.licences)]
            for example in state.item.examples:
                if example.licence and example.licence not in licences and not state.item.damaged:
                    hint = did_you_mean(example.licence, licences, f"Write ‘excused as {example.licence} when …’.")
                    self.sources.problem(example.span, f"the rule ‘{name}’ has no licence ‘{example.licence}’", hint)

    def _warnings(self, assembly: Assembly, environment: Environment, path: str) -> tuple[Diagnostic, ...]:
        remarks = [self.sources.diagnostic(each.span, str(each), each.hint) for each in environment.remarks]
        return (*self._unused(assembly, environment, path), *remarks)

    def _unused(self, assembly: Assembly, environment: Environment, path: str) -> list[Diagnostic]:
        """Definitions and parameters of the file itself that nothing uses; a file without rules is a vocabulary."""
        if not any(state.item.span.path == path for state in assembly.rules.values()):
            return []
        names = [definition.name for definition in assembly.definitions.values()]
        names += [item.name for item, _ in assembly.parameters.values()]
        return [
            self.sources.diagnostic(name.span, f"nothing uses ‘{name.word}’", "Use it, or take it out.")
            for name in names
            if name.span.path == path and name.word not in environment.used
        ]


def _rule(state: RuleState, environment: Environment) -> t.Rule:
    item = replace(state.item, clauses=(*state.item.clauses, *state.licences))
    return check_rule(_mended(item) if item.damaged else item, environment, state.weight, state.origin)


def _mended(item: s.RuleItem) -> s.RuleItem:
    """A rule of which parts could not be read, with parts that say nothing in their place."""
    always = s.Logic(item.span, "and", ())
    instead = (s.Message(item.span, ""), s.Demand(item.span, True, always), s.Source(item.span, ""))
    return replace(item, clauses=(*item.clauses, *instead))


def _as_type(const: t.Const | None, word: str) -> t.Const | None:
    """A whole number as a degree, where a degree is wanted."""
    if const is not None and word == "degree" and const.type == t.Type.COUNT:
        return t.Const(const.value, t.Type.DEGREE, const.many)
    return const


def _type_of(item: s.ParameterItem) -> t.Type:
    """The type of a parameter; raises CheckError where there is none of that name."""
    known = vocabulary.NAMED_TYPES
    if item.type.word in known:
        return known[item.type.word]
    hint = did_you_mean(item.type.word, known, f"Types are {', '.join(known)}.")
    raise CheckError(item.type.span, f"there is no type ‘{item.type.word}’", hint)


def _check_parameter(
    item: s.ParameterItem, value: t.Const, low: t.Const | None, high: t.Const | None, span: s.Span
) -> None:
    """Compare a parameter's value with its type and bounds; raises CheckError."""
    type_ = _type_of(item)
    for const in (value, low, high):
        if const is not None and const.type != type_:
            raise CheckError(
                span,
                f"‘{item.name.word}’ is {with_article(item.type.word)}, but this is {with_article(const.type)}",
                f"Write such as {vocabulary.SUCH_AS[type_]}.",
            )
    if low is not None and high is not None:
        if value.many:
            raise CheckError(item.type.span, "a set has no ‘from … to …’", "Leave the bounds out.")
        if type_ in (t.Type.MOTION, t.Type.MODE, t.Type.FIGURE):
            raise CheckError(
                item.type.span, f"{with_article(item.type.word)} has no ‘from … to …’", "Leave the bounds out."
            )
        size, least, most = _measure(value), _measure(low, "d"), _measure(high, "A")
        if least > most:
            raise CheckError(item.span, f"{_shown(low)} is above {_shown(high)}", "Write the lower bound first.")
        if not least <= size <= most:
            raise CheckError(span, f"‘{item.name.word}’ goes from {_shown(low)} to {_shown(high)}")


def _measure(const: t.Const, of_family: str = "P") -> float:
    """A number that orders values of one type; a family (third) counts as its interval of one quality."""
    if const.type == t.Type.INTERVAL:
        patterns: tuple[t.Pattern, ...] = const.value  # type: ignore[assignment]
        return max(p.high + "dmPMA".find(p.quality[:1] or of_family) / 10 for p in patterns)
    return float(const.value)  # type: ignore[arg-type]


def _shown(const: t.Const) -> str:
    if const.type == t.Type.INTERVAL:
        patterns: tuple[t.Pattern, ...] = const.value  # type: ignore[assignment]
        return " or ".join(f"{p.quality}{p.high}" if p.quality else interval_words("", p.high) for p in patterns)
    return str(const.value)
