"""What is known where a phrase stands: the names of the ruleset, the rule being written out, what ``it`` is."""

from collections.abc import Callable, Generator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Literal, cast

from rulekit.diagnostics import with_article
from rulekit.language import limits
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language.checking.errors import CheckError, told_elsewhere
from rulekit.language.typed import HERE, Kind, Ref, Type


@dataclass(frozen=True, slots=True)
class Thing:
    """A note, dyad, moment or line that a phrase points to."""

    ref: Ref
    kind: Kind


Meaning = Thing | t.Value
Kept = s.Run | s.Tally | s.Latest | s.Total | s.TimeOf


@dataclass(slots=True)
class Environment:
    """Names known to the whole ruleset.

    ``used`` collects the names that were looked up, ``faulty`` the definitions that have a mistake,
    ``remarks`` what is odd but no mistake; ``parts`` counts what has been written out so far. ``incomplete``: a file
    that could not be taken may hold other names.
    """

    definitions: Mapping[str, s.Definition]
    parameters: Mapping[str, t.Const]
    used: set[str] = field(default_factory=set[str])
    faulty: set[str] = field(default_factory=set[str])
    remarks: list[CheckError] = field(default_factory=list[CheckError])
    parts: int = 0
    incomplete: bool = False


@dataclass(slots=True)
class Draft:
    """One rule or definition while it is written out: its streams, what was said where, how large it has become.

    ``stream`` reads the phrases that keep a value while the music goes by; ``open`` are the definitions being written
    out, to find a circle.
    """

    environment: Environment
    stream: "Callable[[Kept, Context], t.Stream | t.Function]"
    streams: list[t.Gathered] = field(default_factory=list[t.Gathered])
    said: dict[t.Test | t.Value, tuple[s.Span, s.Span]] = field(
        default_factory=dict["t.Test | t.Value", tuple[s.Span, s.Span]]
    )
    parts: int = 0
    depth: int = 0
    open: list[str] = field(default_factory=list[str])

    def gather(
        self, kind: str, track: t.Track, type_: Type, test: t.Test | None = None, value: t.Value | None = None
    ) -> t.Stream:
        """A stream of the rule; the same one again if it is there already."""
        gathered = t.Gathered(cast(Literal["run"], kind), track, test, value)
        if gathered not in self.streams:
            self.streams.append(gathered)
        return t.Stream(self.streams.index(gathered), type_)

    @contextmanager
    def within_limits(self, node: s.Node) -> Generator[None, None, None]:
        """Count a part of the rule and how deep it stands; raises CheckError past the limits."""
        self.parts += 1
        self.environment.parts += 1
        self._check_size(node.span)
        self.depth += 1
        try:
            yield
        finally:
            self.depth -= 1

    def _check_size(self, span: s.Span) -> None:
        if self.environment.parts > limits.MAX_PARTS + 1:
            raise told_elsewhere(span, "the ruleset is too large")
        if self.environment.parts > limits.MAX_PARTS:
            message = "with all its definitions written out, the ruleset is too large from here on"
            raise CheckError(span, message, "Divide it, or say it with fewer definitions inside each other.")
        if self.parts > limits.MAX_NODES:
            raise CheckError(span, "with its definitions written out, this is too large", "Divide it into rules.")
        if self.depth > limits.MAX_NESTED:
            message = "with its definitions written out, this is too deep within brackets, ‘not’ and definitions"
            raise CheckError(span, message, "Say it with fewer definitions inside each other.")

    @contextmanager
    def opened(self, definition: s.Definition, span: s.Span) -> Generator[None, None, None]:
        """A definition while it is written out; opening it again inside itself is a circle."""
        word = definition.name.word
        if word in self.open:
            circle = " → ".join([*self.open[self.open.index(word) :], word])
            raise CheckError(span, f"the definition goes round in a circle: {circle}")
        self.environment.used.add(word)
        if word in self.environment.faulty:
            raise told_elsewhere(span, f"‘{word}’ has a mistake")
        self.open.append(word)
        try:
            yield
        finally:
            self.open.pop()


@dataclass(frozen=True, slots=True)
class Context:
    """What ``it`` is, where its samples come from, and what a definition's parameters stand for.

    ``inner`` says that this is inside a run, a count or a quantifier, which can't hold another run.
    """

    draft: Draft
    it: Thing
    track: t.Track
    whole: bool = False
    bound: Mapping[str, Meaning] = field(default_factory=dict[str, Meaning])
    inner: bool = False

    @property
    def definitions(self) -> Mapping[str, s.Definition]:
        """The definitions of the ruleset."""
        return self.draft.environment.definitions


def nowhere(draft: Draft, bound: Mapping[str, Meaning] | None = None) -> Context:
    """The context of a set, a figure or a constant: it speaks of nothing in particular."""
    return Context(draft, Thing(HERE, Kind.EXERCISE), t.Track(Kind.EXERCISE), True, bound or {})


def what(meaning: Meaning) -> str:
    """What a meaning is, in words: ``a note``, ``a melodic interval``."""
    return with_article(meaning.kind if isinstance(meaning, Thing) else meaning.type)
