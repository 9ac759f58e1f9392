"""Trying a ruleset on its own examples: each must break exactly what it says, and nothing else."""

from dataclasses import dataclass, replace

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.language.ruleset import Ruleset
from rulekit.language.syntax import ExampleItem
from rulekit.marking import mark

Breach = tuple[str, int | None]  # the rule and the bar (from 1), None for the whole


@dataclass(frozen=True, slots=True)
class Trial:
    """One example run: ``rule`` is the rule it belongs to, None if it is judged by the whole ruleset.

    ``line`` is where its notes start in ``path``; ``expected`` and ``found`` are breaches in order.
    """

    rule: str | None
    title: str
    path: str
    line: int
    expected: tuple[Breach, ...]
    found: tuple[Breach, ...]

    @property
    def passed(self) -> bool:
        """Whether it broke exactly what it should."""
        return self.expected == self.found


def try_ruleset(ruleset: Ruleset) -> tuple[Trial, ...]:
    """Run a ruleset's own examples: those in a rule by that rule alone, the others by all rules.

    Examples of rules taken from another file belong to that file, where nothing was changed yet.
    An excused finding is no breach. Raises RulekitError when the notes of an example can't be read.
    """
    problems: list[Diagnostic] = []
    trials: list[Trial] = []
    alone = [(rule.name, replace(ruleset, rules=(rule,)), rule.examples) for rule in ruleset.rules]
    for name, judge, examples in [*alone, (None, ruleset, ruleset.examples)]:
        for example in (each for each in examples if each.span.path == ruleset.path):
            exercises, wrong = read_example(example)
            problems += wrong
            if not wrong:
                trials.append(_trial(name, judge, example, exercises))
    if problems:
        raise RulekitError(problems)
    return tuple(trials)


def read_example(example: ExampleItem) -> tuple[list[Exercise], list[Diagnostic]]:
    """The exercise of an example, with mistakes placed in the rules file."""
    path = example.span.path
    exercises, wrong = read_exercises(example.text, path, example.first_line, example.columns)
    if not wrong and len(exercises) != 1:
        span = example.span
        message = f"an example is one exercise, but here are {len(exercises)}"
        wrong = [Diagnostic(path, span.line, span.column, span.length, message)]
    return exercises, wrong


def _trial(name: str | None, judge: Ruleset, example: ExampleItem, exercises: list[Exercise]) -> Trial:
    expected = _ordered({(breach.rule or name or "", breach.bar) for breach in example.breaches})
    findings = mark(exercises[0], judge).findings
    found = _ordered({(f.rule, f.bar) for f in findings if f.excuse is None})
    return Trial(name, example.title, example.span.path, example.first_line, expected, found)


def _ordered(breaches: set[Breach]) -> tuple[Breach, ...]:
    return tuple(sorted(breaches, key=lambda breach: (breach[1] is None, breach[1] or 0, breach[0])))
