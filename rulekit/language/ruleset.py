"""A whole ruleset: its file, the files it uses and builds on, and what it changes in them."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from rulekit.diagnostics import Diagnostic
from rulekit.displays import Displayed
from rulekit.language import typed as t
from rulekit.language.tree import ExampleItem

PASSED_OVER = "not there, so passed over"


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that a ruleset changes in what it builds on."""

    what: str
    name: str
    origin: str


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


@dataclass(frozen=True, slots=True, weakref_slot=True)
class Ruleset(Displayed):
    """A ruleset ready to compile: rules in force, parameters, what was changed and by which file.

    ``warnings`` are diagnostics that do not stop it from being used; ``texts`` are the files it is made of as written,
    by path; ``found`` is what was looked for, from which folder, and which file that is.
    """

    title: str
    path: str
    rules: tuple[t.Rule, ...]
    parameters: tuple[Parameter, ...]
    changes: tuple[Change, ...]
    examples: tuple[ExampleItem, ...]
    warnings: tuple[Diagnostic, ...]
    texts: Mapping[str, str] = field(default_factory=dict[str, str], compare=False, repr=False)
    found: tuple[tuple[str, str, str], ...] = field(default=(), compare=False, repr=False)

    def rule(self, name: str) -> t.Rule:
        """The rule of that name; KeyError if there is none."""
        return {rule.name: rule for rule in self.rules}[name]
