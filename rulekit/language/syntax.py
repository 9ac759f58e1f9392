"""The syntax tree of a rules file, as written: names are not yet looked up."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

from rulekit.language.tree import NOWHERE, TOP, Base, Breach, ExampleItem, Node, Span
from rulekit.severity import Severity

__all__ = ["NOWHERE", "TOP", "Base", "Breach", "ExampleItem", "Node", "Span"]


# ---- values --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Name(Node):
    """A word: an attribute, a constant, a definition, a parameter."""

    word: str


@dataclass(frozen=True, slots=True)
class Call(Node):
    """A definition with what it is given: ``within(P5)``."""

    word: str
    arguments: tuple["Expr", ...]


@dataclass(frozen=True, slots=True)
class Of(Node):
    """An attribute of something: ``degree of upper``."""

    word: str
    target: "Expr"


@dataclass(frozen=True, slots=True)
class Shift(Node):
    """The same thing some places before (negative) or after: ``previous interval``."""

    target: "Expr"
    offset: int


@dataclass(frozen=True, slots=True)
class NoteShift(Node):
    """A note some notes before (negative) or after another, of the rule's own note if target is None."""

    target: "Expr | None"
    offset: int


@dataclass(frozen=True, slots=True)
class Literal_(Node):
    """A written value: an interval, pitch, whole number, percentage or note name."""

    kind: Literal["interval", "pitch", "number", "percent", "note name"]
    text: str


@dataclass(frozen=True, slots=True)
class Position(Node):
    """A place: ``3rd``, ``last but one``; ``index`` counts from 1 at either end."""

    unit: Literal["place", "bar"]
    index: int
    until: int
    from_end: bool


@dataclass(frozen=True, slots=True)
class Member(Node):
    """A place within a figure: ``2nd of cambiata``, ``last of cambiata``."""

    place: Position
    figure: "Expr"


@dataclass(frozen=True, slots=True)
class InVoice(Node):
    """The voice that something is in: ``in cantus``, ``in upper``."""

    scope: "Scope"


@dataclass(frozen=True, slots=True)
class Directed(Node):
    """``rising m6``, ``falling`` alone."""

    rising: bool
    target: "Expr | None"


@dataclass(frozen=True, slots=True)
class Exactly(Node):
    """An interval that is not to be taken with its compounds."""

    target: "Expr"


@dataclass(frozen=True, slots=True)
class Scope(Node):
    """Which voices or pairs: the words, joints among them, as they are settled; ``above`` is ``above bass``."""

    kind: Literal["in", "between", "above"]
    words: tuple[str, ...]

    @property
    def text(self) -> str:
        """The words as they are written."""
        return " ".join(self.words).replace(" ,", ",")


@dataclass(frozen=True, slots=True)
class Quantified(Node):
    """``some interval between …``, ``every note in …`` at this moment."""

    quantifier: Literal["some", "every", "no"]
    kind: Literal["interval", "note"]
    scope: Scope | None


@dataclass(frozen=True, slots=True)
class Run(Node):
    """How many in a row up to here hold a condition, or keep one value."""

    condition: "Condition | None"
    same: "Expr | None"


@dataclass(frozen=True, slots=True)
class Tally(Node):
    """How many up to here, in a row or not, have the value that this one has."""

    same: "Expr"


@dataclass(frozen=True, slots=True)
class Latest(Node):
    """A value as it was where a condition last held, up to here."""

    value: "Expr"
    condition: "Condition"


@dataclass(frozen=True, slots=True)
class Things(Node):
    """What is counted: ``notes in upper``, ``intervals``, ``moves``, ``sonorities``."""

    kind: Literal["notes", "intervals", "moves", "sonorities"]
    scope: Scope | None


@dataclass(frozen=True, slots=True)
class Total(Node):
    """A count, share or longest run over things, over the whole line or exercise."""

    kind: Literal["number", "share", "longest"]
    things: Things
    condition: "Condition | None"
    same: "Expr | None" = None


@dataclass(frozen=True, slots=True)
class TimeOf(Node):
    """When a thing first or last meets a condition."""

    first: bool
    things: Things
    condition: "Condition"


@dataclass(frozen=True, slots=True)
class SpanBetween(Node):
    """The interval from one note to another."""

    start: "Expr"
    end: "Expr"


@dataclass(frozen=True, slots=True)
class Arithmetic(Node):
    """``plus``, ``minus`` or ``times`` of two counts."""

    operator: Literal["plus", "minus", "times"]
    left: "Expr"
    right: "Expr"


@dataclass(frozen=True, slots=True)
class Group(Node):
    """Something in brackets."""

    inner: "Condition"


Expr = (
    Name | Call | Of | Shift | NoteShift | Literal_ | Position | Member | InVoice | Directed | Exactly | Quantified
    | Run | Tally | Latest | Total | TimeOf | SpanBetween | Arithmetic | Group
)  # fmt: skip

# ---- conditions ----------------------------------------------------------------------------

Comparator = Literal[
    "is", "at least", "at most", "more", "less", "wider", "narrower", "longer", "shorter", "higher", "lower", "later",
    "earlier",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Compare(Node):
    """``left is right or right …``."""

    left: Expr
    negated: bool
    comparator: Comparator
    right: tuple[Expr, ...]


@dataclass(frozen=True, slots=True)
class Missing(Node):
    """Whether something does not exist here."""

    target: Expr
    negated: bool


@dataclass(frozen=True, slots=True)
class FigureTest(Node):
    """``note begins step then third``: a melodic or harmonic figure from or up to here."""

    target: Expr
    ends: bool
    steps: tuple[Expr, ...]


@dataclass(frozen=True, slots=True)
class Sequence(Node):
    """``it ends a sequence of 3 notes``: the last notes repeat those before them at another step."""

    target: Expr
    length: Expr


@dataclass(frozen=True, slots=True)
class Not(Node):
    """The opposite of a condition."""

    inner: "Condition"


@dataclass(frozen=True, slots=True)
class Logic(Node):
    """Several conditions joined by one connective."""

    operator: Literal["and", "or"]
    parts: tuple["Condition", ...]


@dataclass(frozen=True, slots=True)
class Choice(Node):
    """Values in a row with ``or``, no verb: the body of a set definition, or one bare value."""

    values: tuple[Expr, ...]


@dataclass(frozen=True, slots=True)
class Figure(Node):
    """``falling step then falling third``: the body of a figure definition."""

    steps: tuple[Expr, ...]


Condition = Compare | Missing | FigureTest | Sequence | Not | Logic | Choice | Figure

# ---- statements ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class TypeName(Node):
    """The name of a type, or of a set of it."""

    word: str
    is_set: bool


@dataclass(frozen=True, slots=True)
class Reference(Node):
    """Another rules file, by name or path."""

    target: str


@dataclass(frozen=True, slots=True)
class BuildOn(Node):
    """Take all of another ruleset, to change it."""

    reference: Reference


@dataclass(frozen=True, slots=True)
class Use(Node):
    """Take the definitions and parameters of another file."""

    reference: Reference


@dataclass(frozen=True, slots=True)
class Overlay(Node):
    """The title of a file that is laid over others, and the ruleset that it changes when it stands alone."""

    text: str
    usual: Reference | None


@dataclass(frozen=True, slots=True)
class Lay(Node):
    """Change what has been gathered by other files; what they change and is not there is passed over."""

    references: tuple[Reference, ...]


@dataclass(frozen=True, slots=True)
class Take(Node):
    """Take single rules of another ruleset, with its definitions and parameters."""

    rules: tuple[Name, ...]
    reference: Reference


@dataclass(frozen=True, slots=True)
class ParameterItem(Node):
    """A parameter with its type, bounds and usual value (several where it is a set)."""

    name: Name
    type: TypeName
    low: Expr | None
    high: Expr | None
    usual: tuple[Expr, ...]
    note: str


@dataclass(frozen=True, slots=True)
class SetItem(Node):
    """A parameter given another value."""

    name: Name
    value: tuple[Expr, ...]


@dataclass(frozen=True, slots=True)
class Formal(Node):
    """A parameter of a definition."""

    name: str
    type: TypeName


@dataclass(frozen=True, slots=True)
class Definition(Node):
    """A named set, condition or figure."""

    name: Name
    subject: str | None
    formals: tuple[Formal, ...]
    body: Condition
    replaces: bool = False


@dataclass(frozen=True, slots=True)
class Subject(Node):
    """What a rule speaks of, in which voices; ``sample`` is the word after ``taken on``, or a condition."""

    kind: Literal["note", "interval", "move", "sonority", "line", "pair", "exercise"]
    scope: Scope | None
    sample: "Name | Condition | None"


@dataclass(frozen=True, slots=True)
class Places(Node):
    """The places a rule is limited to, or (negated) kept away from."""

    negated: bool
    places: tuple[Expr, ...]


@dataclass(frozen=True, slots=True)
class Demand(Node):
    """What is required or forbidden."""

    forbids: bool
    condition: Condition


@dataclass(frozen=True, slots=True)
class LicenceItem(Node):
    """A named excuse: when it holds and why."""

    name: str
    condition: Condition
    reason: str


@dataclass(frozen=True, slots=True)
class Grade(Node):
    """Severity, points off each time, at most so many, or once only; None where not said."""

    severity: Severity
    points: int | None
    cap: int | None
    once: bool


@dataclass(frozen=True, slots=True)
class Words(Node):
    """A text of the author’s that ends its clause, with placeholders in braces."""

    text: str

    def pieces(self) -> Iterator[str | tuple[str, Span]]:
        """The texts, and the words between braces with their places; words that no brace closes end without one."""
        opening, rest = self.span.length - len(self.text) - 1, self.text
        while "{" in rest:
            before, _, after = rest.partition("{")
            words, closed, after = after.partition("}")
            passed = opening + len(self.text) - len(rest) + len(before) + 1  # with the brace
            if before:
                yield before
            column, place = self.span.column + passed, self.span.place + passed
            yield words + closed, replace(self.span, column=column, length=max(1, len(words)), place=place)
            rest = after
        if rest:
            yield rest


@dataclass(frozen=True, slots=True)
class Message(Words):
    """What a student is told of a fault."""


@dataclass(frozen=True, slots=True)
class Taught(Words):
    """The rule as a sentence for students."""


@dataclass(frozen=True, slots=True)
class When(Node):
    """A condition that limits a rule."""

    condition: Condition


@dataclass(frozen=True, slots=True)
class Source(Node):
    """Where a rule is taught."""

    text: str


Clause = Message | Taught | Subject | Places | When | Demand | LicenceItem | Grade | Source | ExampleItem

_C = TypeVar("_C", bound=Clause)


@dataclass(frozen=True, slots=True)
class RuleItem(Node):
    """A rule as written, clause by clause; ``replaces`` names the rule whose place it takes, if it takes one.

    ``damaged``: a part of it could not be read, and is missing.
    """

    name: Name
    replaces: Name | None
    clauses: tuple[Clause, ...]
    damaged: bool = False

    def all(self, kind: type[_C]) -> tuple[_C, ...]:
        """The clauses of a kind, as they follow each other."""
        return tuple(clause for clause in self.clauses if isinstance(clause, kind))

    @property
    def subject(self) -> Subject:
        """What the rule speaks of."""
        return self.all(Subject)[0]

    @property
    def places(self) -> tuple[Places, ...]:
        """Where it holds."""
        return self.all(Places)

    @property
    def when(self) -> tuple[Condition, ...]:
        """On what conditions."""
        return tuple(clause.condition for clause in self.all(When))

    @property
    def demand(self) -> Demand:
        """What must or must not be."""
        return self.all(Demand)[0]

    @property
    def licences(self) -> tuple[LicenceItem, ...]:
        """What excuses a finding."""
        return self.all(LicenceItem)

    @property
    def grade(self) -> Grade:
        """Its severity and cost."""
        return self.all(Grade)[0]

    @property
    def source(self) -> str:
        """Where it is taught."""
        return self.all(Source)[0].text

    @property
    def examples(self) -> tuple[ExampleItem, ...]:
        """Its own examples."""
        return self.all(ExampleItem)


@dataclass(frozen=True, slots=True)
class Drop(Node):
    """Rules of the ruleset built on that do not hold here; with ``but`` all others than these."""

    names: tuple[Name, ...]
    but: bool = False


@dataclass(frozen=True, slots=True)
class Adjust(Node):
    """Another severity or weight for a rule, another message, or both; None where not said."""

    name: Name
    grade: Grade | None
    message: Message | None


@dataclass(frozen=True, slots=True)
class Excuse(Node):
    """A licence added to rules."""

    names: tuple[Name, ...]
    licence: LicenceItem


@dataclass(frozen=True, slots=True)
class Title(Node):
    """The title of a ruleset."""

    text: str


@dataclass(frozen=True, slots=True)
class Unread(Node):
    """A statement that could not be read; its name is known, so that its users have no mistake of their own."""

    name: Name


Item = (
    Title | Overlay | BuildOn | Use | Take | Lay | ParameterItem | SetItem | Definition | RuleItem | Drop | Adjust
    | Excuse | ExampleItem | Unread
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class File(Node):
    """A whole rules file."""

    items: tuple[Item, ...]

    @property
    def title(self) -> str:
        """The title, empty if it has none."""
        return next((item.text for item in self.items if isinstance(item, Title | Overlay)), "")
