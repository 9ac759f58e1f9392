"""The syntax tree of a rules file, as written: names are not yet looked up."""

from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True, slots=True)
class Span:
    """Where something stands in its file; line and column from 1, length in characters."""

    path: str
    line: int
    column: int
    length: int


NOWHERE = Span("", 1, 1, 1)


@dataclass(frozen=True, slots=True)
class Node:
    """The base of all syntax; the place does not count when trees are compared."""

    span: Span = field(compare=False, repr=False)


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
    """A written value: an interval, pitch, whole number or percentage."""

    kind: Literal["interval", "pitch", "number", "percent"]
    text: str


@dataclass(frozen=True, slots=True)
class Position(Node):
    """A place: ``3rd``, ``last but one``; ``index`` counts from 1 at either end."""

    unit: Literal["place", "bar"]
    index: int
    until: int
    from_end: bool


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
    """Which voices or pairs: the words as written; ``above`` is ``above bass``."""

    kind: Literal["in", "between", "above"]
    words: tuple[str, ...]


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
class Latest(Node):
    """A value as it was where a condition last held, up to here."""

    value: "Expr"
    condition: "Condition"


@dataclass(frozen=True, slots=True)
class Things(Node):
    """What is counted: ``notes in upper``, ``intervals``, ``moves``, ``moments``."""

    kind: Literal["notes", "intervals", "moves", "moments"]
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
    Name | Call | Of | Shift | NoteShift | Literal_ | Position | Directed | Exactly | Quantified
    | Run | Latest | Total | TimeOf | SpanBetween | Arithmetic | Group
)  # fmt: skip

# ---- conditions ----------------------------------------------------------------------------

Comparator = Literal["is", "at_least", "at_most", "more_than", "less_than", "above", "below"]


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


Condition = Compare | Missing | FigureTest | Not | Logic | Choice | Figure

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
    """What a rule speaks of, in which voices; ``sample`` is the beat word after ``taken on``."""

    kind: Literal["note", "interval", "move", "moment", "line", "pair", "exercise"]
    scope: Scope | None
    sample: Name | None


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

    severity: Literal["fault", "warning", "advice"]
    points: int | None
    cap: int | None
    once: bool


@dataclass(frozen=True, slots=True)
class Breach(Node):
    """A rule broken in a bar (counted from 1), or over the whole (bar None)."""

    rule: str
    bar: int | None


@dataclass(frozen=True, slots=True)
class ExampleItem(Node):
    """An exercise in the typed notation and what it must break: nothing if it is accepted.

    ``first_line`` is the line of its text in the file; ``columns`` the column before each line's text.
    """

    title: str
    breaches: tuple[Breach, ...]
    text: str
    first_line: int
    columns: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class RuleItem(Node):
    """A rule as written."""

    name: Name
    replaces: bool
    message: str
    message_span: Span
    subject: Subject
    places: tuple[Places, ...]
    when: tuple[Condition, ...]
    demand: Demand
    licences: tuple[LicenceItem, ...]
    grade: Grade
    source: str
    examples: tuple[ExampleItem, ...]


@dataclass(frozen=True, slots=True)
class Drop(Node):
    """Rules of the ruleset built on that do not hold here."""

    names: tuple[Name, ...]


@dataclass(frozen=True, slots=True)
class Adjust(Node):
    """Another severity or weight for a rule."""

    name: Name
    grade: Grade


@dataclass(frozen=True, slots=True)
class Excuse(Node):
    """A licence added to rules."""

    names: tuple[Name, ...]
    licence: LicenceItem


Item = BuildOn | Use | ParameterItem | SetItem | Definition | RuleItem | Drop | Adjust | Excuse | ExampleItem


@dataclass(frozen=True, slots=True)
class File(Node):
    """A whole rules file."""

    title: str
    items: tuple[Item, ...]
