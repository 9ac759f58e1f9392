"""Whether each example of a rules file comes out as it says; only what was changed is judged again."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.language.parser import Parsed
from rulekit.language.ruleset import Ruleset
from rulekit.language.syntax import Definition, ExampleItem, ParameterItem, SetItem
from rulekit.language.typed import Rule
from rulekit.language.whole import Examined
from rulekit.trying import Breach, Trial, try_example

_MOST_KEPT = 5_000  # examples whose verdicts are remembered


@dataclass(frozen=True, slots=True)
class Verdict:
    """How an example came out: in words, whether that is what it says, and what can’t be read in its notes."""

    example: ExampleItem
    words: str
    as_expected: bool
    problems: tuple[Diagnostic, ...] = ()


@dataclass(slots=True)
class Verdicts:
    """Judges the examples of rulesets, and remembers."""

    _known: dict[tuple[str, ...], Verdict] = field(default_factory=dict[tuple[str, ...], Verdict])

    def of(self, examined: Examined, parsed: Parsed) -> Iterator[Verdict]:
        """The verdicts on a file’s own examples, as far as their rules have no mistake."""
        ruleset, meanings = examined.ruleset, _meanings(examined)
        for rule in ruleset.rules:
            if rule.span.path == ruleset.path:
                for example in rule.examples:
                    key = (meanings, rule.span.of(parsed.text), example.span.of(parsed.text))
                    yield self._judged(key, ruleset, rule, example)
        everything = tuple(ruleset.texts.values())
        for example in ruleset.examples:
            if example.span.path == ruleset.path:
                yield self._judged((*everything, example.span.of(parsed.text)), ruleset, None, example)

    def _judged(self, key: tuple[str, ...], ruleset: Ruleset, rule: Rule | None, example: ExampleItem) -> Verdict:
        known = self._known.get(key)
        if known is None or known.problems:
            if len(self._known) > _MOST_KEPT:
                self._known.clear()
            known = self._known[key] = _verdict(ruleset, rule, example)
        return Verdict(example, known.words, known.as_expected, known.problems)


def _meanings(examined: Examined) -> str:
    """What the words of a ruleset mean: its definitions and parameters as written."""
    kinds = (Definition, ParameterItem, SetItem)
    return "\n".join(
        item.span.of(parsed.text)
        for parsed in examined.files.values()
        for item in parsed.file.items
        if isinstance(item, kinds)
    )


def _verdict(ruleset: Ruleset, rule: Rule | None, example: ExampleItem) -> Verdict:
    try:
        trial = try_example(ruleset, rule, example)
    except RulekitError as error:
        return Verdict(example, "its notes can’t be read", False, error.diagnostics)
    if trial.holds:
        return Verdict(example, "as expected", True)
    return Verdict(example, f"not as expected: {_found(trial)}", False)


def _found(trial: Trial) -> str:
    """What happened instead."""
    if trial.expected == trial.found:
        return f"it is not excused as {trial.example.licence}"
    own = trial.rule
    missing = [_breach(each, own) for each in trial.expected if each not in trial.found]
    more = [_breach(each, own) for each in trial.found if each not in trial.expected]
    said = [f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} not broken"] if missing else []
    said += [f"{' and '.join(more)} {'is' if len(more) == 1 else 'are'} broken"] if more else []
    return "; ".join(said)


def _breach(breach: Breach, own: str | None) -> str:
    """A place where a rule is broken; the rule’s name only where it is not plain which."""
    name, bar = breach
    place = "the whole" if bar is None else f"bar {bar}"
    return place if name == own else f"{place} by {name}"
