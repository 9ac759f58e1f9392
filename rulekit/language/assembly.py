"""What files put together have come to: rules, definitions, parameters, settings, and what was changed on the way."""

from dataclasses import dataclass, field
from typing import Any, Literal

from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language.ruleset import Change


@dataclass(frozen=True, slots=True)
class Pick:
    """Something taken by itself: what it is called and what it was there.

    ``asked`` names the rule that it came with; ``change`` is what is told of it.
    """

    kind: Literal["rules", "definitions", "parameters"]
    word: str
    value: Any
    asked: s.Name
    change: Change | None = None


@dataclass(slots=True)
class RuleState:
    """A rule while files are put together."""

    item: s.RuleItem
    weight: t.Weight
    origin: str
    licences: tuple[s.LicenceItem, ...] = ()


@dataclass(slots=True)
class Assembly:
    """Everything gathered from a file and the files it names.

    ``gone`` says of rules that are no longer there what became of them; ``taken`` holds what was taken of which file,
    ``touched`` which file has said or changed which rule; ``picks`` is what came with single rules and stands in no
    file that was taken whole; ``meanings`` are those that definitions had before they were replaced.
    """

    title: str = ""
    rules: dict[str, RuleState] = field(default_factory=dict[str, RuleState])
    definitions: dict[str, s.Definition] = field(default_factory=dict[str, s.Definition])
    parameters: dict[str, tuple[s.ParameterItem, str]] = field(default_factory=dict[str, tuple[s.ParameterItem, str]])
    settings: dict[str, tuple[s.SetItem, str]] = field(default_factory=dict[str, tuple[s.SetItem, str]])
    changes: list[Change] = field(default_factory=list[Change])
    examples: list[s.ExampleItem] = field(default_factory=list[s.ExampleItem])
    gone: dict[str, str] = field(default_factory=dict[str, str])
    taken: set[tuple[str, str]] = field(default_factory=set[tuple[str, str]])
    touched: set[tuple[str, str]] = field(default_factory=set[tuple[str, str]])
    picks: list[Pick] = field(default_factory=list[Pick])
    meanings: dict[str, list[s.Definition]] = field(default_factory=dict[str, list[s.Definition]])

    def table(self, kind: str) -> dict[str, Any]:
        """The rules, definitions or parameters by their names."""
        return getattr(self, kind)
