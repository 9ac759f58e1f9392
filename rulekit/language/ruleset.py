"""A whole ruleset: its file, the files it uses and builds on, and what it changes in them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from rulekit.diagnostics import Diagnostic
from rulekit.language import typed as t
from rulekit.language.library import read_ruleset, shipped_names
from rulekit.language.tree import ExampleItem

__all__ = ["read_ruleset", "shipped_names"]

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


@dataclass(frozen=True, slots=True)
class Ruleset:
    """A ruleset ready to compile: rules in force, parameters, what was changed and by which file.

    ``warnings`` are diagnostics that do not stop it from being used; ``texts`` are the files it is made of as written,
    by path; ``found`` is what was looked for, from which folder, and which file that is; ``compiled`` keeps its
    monitors by setting.
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
    compiled: dict[object, Any] = field(default_factory=dict[object, Any], init=False, compare=False, repr=False)

    def _repr_html_(self) -> str:
        """The rules in a table, as a notebook shows them."""
        from rulekit.page.notebook import ruleset_html

        return ruleset_html(self)

    def rule(self, name: str) -> t.Rule:
        """The rule of that name; KeyError if there is none."""
        return {rule.name: rule for rule in self.rules}[name]


def load_ruleset(name: str | Path | Sequence[str | Path], overrides: Mapping[str, str] | None = None) -> Ruleset:
    """Load a ruleset by path or shipped name, with all it uses and builds on; several are laid each over those before.

    ``overrides`` gives parameters other values, as text in the language (``{"most-thirds": "4"}``).
    Raises RulekitError with every mistake found in all files.
    """
    from rulekit.language.whole import loaded  # all that reads and checks rules

    names = [name] if isinstance(name, str | Path) else name
    (path, text), *laid = [read_ruleset(each) for each in names]
    return loaded(text, str(path), path.parent, overrides or {}, laid)


def load_text(
    text: str, path: str = "<text>", folder: Path | None = None, overrides: Mapping[str, str] | None = None
) -> Ruleset:
    """Load a ruleset from its text; files it names are looked for in ``folder``, then among the shipped.

    Raises RulekitError with every mistake found.
    """
    from rulekit.language.whole import loaded

    return loaded(text, path, folder or Path(), overrides or {})
