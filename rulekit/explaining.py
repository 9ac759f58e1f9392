"""Why a rule is or is not broken in a place: each of its conditions in the author's words, with what it saw.

>>> explain(exercise, ruleset, "direct-perfects", bar=5)            # doctest: +SKIP
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any, Literal

from rulekit.compiler.monitor import monitors
from rulekit.compiler.witness import Seen, Witness
from rulekit.exercise.model import Exercise
from rulekit.exercise.timeline import Heard
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.language.tree import Span
from rulekit.telling import Place, Teller, notes_of, show, shown

Outcome = Literal["broken", "excused", "kept", "unknown", "passed over"]
_IN_BAR = ("downbeat", "accented", "opens_bar")  # adjectives that ask for a place in the bar
_IN_ALL = ("first", "last")  # and for one in the exercise


@dataclass(frozen=True, slots=True)
class Step:
    """A condition in the author's words: whether it held (None: what it speaks of is not there), and what it saw.

    ``saw`` pairs a phrase with its value in words; ``parts`` are the conditions it is made of.
    """

    words: str
    held: bool | None
    saw: tuple[tuple[str, str], ...]
    parts: tuple["Step", ...] = ()
    required: bool = False

    @property
    def breaks(self) -> bool | None:
        """Whether this breaks the rule, as far as it is this condition's to say."""
        return self.held if self.held is None else self.held != self.required

    @property
    def deciding(self) -> tuple["Step", ...]:
        """The parts that made it hold or not: those that came out alike, all of them where none did (‘not’)."""
        return tuple(part for part in self.parts if part.held == self.held) or self.parts


@dataclass(frozen=True, slots=True)
class Tried:
    """A licence and its condition, as it was in a place."""

    name: str
    reason: str
    step: Step

    @property
    def lacked(self) -> tuple[Step, ...]:
        """The conditions that kept it from holding."""
        return tuple(_failed(self.step))


@dataclass(frozen=True, slots=True)
class Explained:
    """How a rule judged one place. ``bar`` and ``beat`` are None for a rule on the whole.

    ``licence`` is the licence that excused, None if none did. Where a rule does not look (``passed over``) the steps
    are the places and kinds that leave it out.
    """

    rule: str
    bar: int | None
    beat: Fraction | None
    voices: tuple[str, ...]
    places: tuple[Place, ...]
    outcome: Outcome
    steps: tuple[Step, ...]
    licences: tuple[Tried, ...]
    licence: str | None

    @property
    def nearest(self) -> Tried | None:
        """Where the rule is broken, the licence that nearly applied: the one of whose conditions fewest failed."""
        if self.outcome != "broken" or not self.licences:
            return None
        return min(self.licences, key=lambda tried: len(tried.lacked))


def _failed(step: Step) -> list[Step]:
    """The conditions within one that kept it from holding."""
    if step.held:
        return []
    return [failed for part in step.parts for failed in _failed(part)] or [step]


def explain(exercise: Exercise, ruleset: Ruleset, name: str, bar: int | None = None) -> tuple[Explained, ...]:
    """How a rule judges an exercise, in every place that it looks at, or in one bar (as the exercise numbers them).

    Where it looks at nothing in that bar, the places that it passes over. Raises KeyError if there is no such rule.
    """
    rule = ruleset.rule(name)
    heard = Heard(exercise)
    own = [monitor for monitor in monitors(ruleset, exercise.setting) if monitor.rule is rule]
    explainers = [Explainer(Teller(monitor, heard), ruleset) for monitor in own]
    found = [each for one in explainers for each in one.everywhere() if bar is None or each.bar in (None, bar)]
    if not found and bar is not None:
        found = [each for one in explainers for each in one.passed_over() if each.bar == bar]
    return tuple(sorted(found, key=lambda each: (each.bar is None, each.bar or 0, each.beat or 0)))


class Explainer:
    """Explains one rule for one choice of voices in one exercise."""

    def __init__(self, teller: Teller, ruleset: Ruleset) -> None:
        self._monitor, self._ruleset, self._exercise = teller.monitor, ruleset, teller.exercise
        self._said = dict(self._monitor.rule.said)
        self._teller, monitor = teller, teller.monitor
        rule = monitor.rule
        self._looked = rule.where.parts if isinstance(rule.where, t.All) else ()
        tests = [rule.where, rule.broken, *(licence.test for licence in rule.licences)]
        self._parts = list(dict.fromkeys(part for test in tests for part in self._all(test)))
        self._in_words: dict[t.Test | t.Value, str] = {}

    @cached_property
    def _seen(self) -> list[Seen]:
        return Witness(self._monitor, self._parts).over(self._teller.heard.moments)

    @cached_property
    def _parameters(self) -> dict[str, str]:
        """What each parameter is set to, in words."""
        return {each.name: show(each.value.value, each.value.type) for each in self._ruleset.parameters}

    def _known(self, index: int | None) -> dict["t.Test | t.Value", Any]:
        """What each condition and value was at a sample."""
        return dict(zip(self._parts, self._seen[index or 0], strict=True))

    def everywhere(self) -> list[Explained]:
        """Every place that the rule looks at."""
        if self._monitor.rule.whole:
            return [self.at(None)]
        where = self._parts.index(self._monitor.rule.where)
        return [self.at(index) for index, seen in enumerate(self._seen) if seen[where] is not False]

    def passed_over(self) -> list[Explained]:
        """Every place that the rule does not look at, with what leaves it out."""
        where = self._monitor.rule.where
        left_out = [i for i, seen in enumerate(self._seen) if seen[self._parts.index(where)] is False]
        return [self._passed(i) for i in ([] if self._monitor.rule.whole else left_out)]

    def _passed(self, index: int) -> Explained:
        known = self._known(index)
        parts = [part for part in self._looked if known[part] is False and part in self._said]
        return self._explained(index, "passed over", tuple(self._step(part, known) for part in parts))

    def at(self, index: int | None) -> Explained:
        """What the rule saw at a sample, None for a rule on the whole."""
        rule = self._monitor.rule
        known = self._known(index)
        parts = rule.broken.parts if isinstance(rule.broken, t.All) else (rule.broken,)
        licences = tuple(Tried(x.name, x.reason, self._step(x.test, known)) for x in rule.licences)
        excuse = next((tried.name or tried.reason for tried in licences if tried.step.held), None)
        truth = known[rule.broken]
        outcome: Outcome = "excused" if excuse else "broken"
        outcome = outcome if truth else "unknown" if truth is None else "kept"
        steps = tuple(self._step(part, known) for part in parts[len(self._looked) :] or parts)
        return self._explained(index, outcome, steps, licences if truth else (), excuse if truth else None)

    def _explained(
        self,
        index: int | None,
        outcome: Outcome,
        steps: tuple[Step, ...],
        licences: tuple[Tried, ...] = (),
        licence: str | None = None,
    ) -> Explained:
        sample = None if index is None else self._teller.samples[index]
        return Explained(
            rule=self._monitor.rule.name,
            bar=None if sample is None else sample.bar + self._exercise.first_bar - 1,
            beat=None if sample is None else sample.beat,
            voices=tuple(self._exercise.voices[voice].name for voice in self._monitor.voices),
            places=tuple(self._teller.place(note) for note in notes_of(sample)),
            outcome=outcome,
            steps=steps,
            licences=licences,
            licence=licence,
        )

    def _step(self, test: t.Test, known: dict["t.Test | t.Value", Any]) -> Step:
        if isinstance(test, t.Negation) and test not in self._said:  # a requirement
            inner = self._step(test.inner, known)
            return Step(inner.words, inner.held, inner.saw, inner.parts, required=True)
        parts = [part for part in _parts(test) if part in self._said]
        values = [] if parts else self._values(test)
        words = self._words(test)
        saw = dict.fromkeys(self._value(value, known) for value in values)
        saw |= dict.fromkeys([] if parts else self._set(words))
        return Step(words, known[test], tuple(saw), tuple(self._step(part, known) for part in parts))

    def _value(self, value: t.Value, known: dict["t.Test | t.Value", Any]) -> tuple[str, str]:
        return self._words(value), shown(value, known[value], self._exercise)

    def _set(self, words: str) -> list[tuple[str, str]]:
        """The parameters that a condition names, and what they are set to."""
        named = dict.fromkeys(re.findall(r"[\w-]+", words))
        return [(name, self._parameters[name]) for name in named if name in self._parameters]

    def _values(self, test: t.Test) -> list[t.Value]:
        """The values that a condition and those within it compare."""
        found = _operands(test, self._monitor.rule.track.kind)
        found += [value for part in _parts(test) for value in self._values(part)]
        return [value for value in found if not isinstance(value, t.Const) and self._is_named(value)]

    def _is_named(self, value: t.Value) -> bool:
        """Whether it is not only something that the language works out by itself."""
        return value in self._said or not isinstance(value, t.Function)

    def _all(self, test: t.Test) -> list["t.Test | t.Value"]:
        """A condition, the conditions within it, and the values that they compare."""
        return [test, *(each for part in _parts(test) for each in self._all(part)), *self._values(test)]

    def _words(self, part: "t.Test | t.Value") -> str:
        """A condition or value as the author wrote it, or what the language adds by itself."""
        if part not in self._in_words:
            self._in_words[part] = self._worded(part)
        return self._in_words[part]

    def _worded(self, part: "t.Test | t.Value") -> str:
        found = self._said.get(part)
        if found is not None:
            return said_in(self._ruleset.texts.get(found[0].path, ""), *found)
        if isinstance(part, t.Attr):
            return " ".join(filter(None, [part.ref.role, part.name]))
        return "the rule's own condition"


def said_in(text: str, start: Span, end: Span) -> str:
    """What stands in a file from one place to the end of another, on one line and without comments."""
    lines = text.split("\n")
    begin, last = (sum(len(line) + 1 for line in lines[: span.line - 1]) + span.column - 1 for span in (start, end))
    rows = text[begin : last + end.length].split("\n")
    return " ".join(" ".join(row.partition("--")[0] for row in rows).split())


def _parts(test: t.Test) -> tuple[t.Test, ...]:
    return tuple(part for part in test.children() if isinstance(part, t.Test))


def _operands(test: t.Test, kind: t.Kind) -> list[t.Value]:
    """The values that a condition without parts speaks of."""
    match test:
        case t.Among() | t.Exists():
            return [test.value]
        case t.Relation():
            return [test.left, test.right]
        case t.Same():
            return [told for ref in (test.left, test.right) if (told := t.told(ref, kind))]
        case t.Flag(name=name) if name in _IN_BAR:
            return [t.Attr(test.ref, "bar", t.Type.COUNT), t.Attr(test.ref, "beat", t.Type.COUNT)]
        case t.Flag(name=name) if name in _IN_ALL:
            return [t.Attr(test.ref, "bar", t.Type.COUNT)]
        case t.Flag() | t.InVoices():
            told = t.told(test.ref, kind)
            return [told] if told else []
        case _:
            return []
