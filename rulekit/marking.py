"""Marking: the monitors run over an exercise, and what they hit told as findings.

>>> from rulekit import load_ruleset, load_exercises, mark            # doctest: +SKIP
>>> mark(load_exercises("selim-harnas.notes")[0], load_ruleset("first-species-strict")).findings
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from rulekit.compiler.finding import Found, search
from rulekit.compiler.monitor import Monitor
from rulekit.compiler.plan import Plan
from rulekit.displays import Displayed
from rulekit.exercise.model import Exercise
from rulekit.exercise.timeline import Heard
from rulekit.explaining import Explainer, Tried
from rulekit.language import typed as t
from rulekit.language.ruleset import Ruleset
from rulekit.severity import Severity
from rulekit.telling import Place, Teller, notes_of

_FULL_MARK = 100


@dataclass(frozen=True, slots=True)
class Excuse:
    """The licence that excuses a finding, and why."""

    name: str
    reason: str


class Finding:
    """A rule broken in a place. ``bar`` and ``beat`` are None for a rule about the whole.

    ``extent`` is from which bar to which it goes: for a rule on a run, which is told once for each run in the
    place where it is first broken, from the run's beginning to the last place where it is broken.

    The message, the places it is about and the values in it are worked out when they are asked for.
    """

    __slots__ = ("_found", "_monitor", "_told")

    def __init__(self, found: Found, monitor: Monitor, told: "_Told") -> None:
        self._found, self._monitor, self._told = found, monitor, told

    @property
    def bar(self) -> int | None:
        """The bar where it stands, as the score counts."""
        index = self._found.sample
        return None if index is None else self._told.bar(self._found, index)

    @property
    def beat(self) -> Fraction | None:
        """The beat of its bar."""
        index = self._found.sample
        return None if index is None else self._told.plan.track(self._found.monitor).beats[index]

    @property
    def extent(self) -> tuple[int, int] | None:
        """From which bar to which it goes."""
        found = self._found
        if found.sample is None or found.until is None:
            return None
        return self._told.bar(found, found.sample - found.run + 1), self._told.bar(found, found.until)

    @property
    def rule(self) -> str:
        """The name of the rule."""
        return self._monitor.rule.name

    @property
    def weight(self) -> t.Weight:
        """What each such finding costs."""
        return self._monitor.rule.weight

    @property
    def severity(self) -> Severity:
        """Fault, warning or advice."""
        return self._monitor.rule.weight.severity

    @property
    def source(self) -> str:
        """Where the rule comes from, in its author's words."""
        return self._monitor.rule.source

    @property
    def voices(self) -> tuple[str, ...]:
        """The labels of the voices that the rule watched."""
        return tuple(self._told.exercise.voices[voice].name for voice in self._monitor.voices)

    @property
    def excuse(self) -> Excuse | None:
        """The licence that excuses it, if one does."""
        if self._found.licence is None:
            return None
        licence = self._monitor.rule.licences[self._found.licence]
        return Excuse(licence.name, licence.reason)

    @property
    def places(self) -> tuple[Place, ...]:
        """The notes that it is about."""
        teller = self._told.teller(self._monitor)
        index = self._found.sample
        return () if index is None else tuple(teller.place(note) for note in notes_of(teller.samples[index]))

    @property
    def values(self) -> tuple[tuple[str, str], ...]:
        """Each placeholder of the message with what it stands for."""
        return self._told.teller(self._monitor).values(self._found.until)

    @property
    def message(self) -> str:
        """The rule's message with its placeholders filled."""
        return self._told.teller(self._monitor).message(self._found.until)

    @property
    def nearest(self) -> Tried | None:
        """The licence that nearly applied, with what it lacked; None if the rule has none or it is excused."""
        if self.excuse or not self._monitor.rule.licences:
            return None
        return self._told.explainer(self._monitor).at(self._found.until).nearest

    def _all(self) -> tuple[object, ...]:
        where = (self.bar, self.beat, self.extent, self.voices, self.places)
        return (self.rule, self.severity, *where, self.message, self.excuse)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Finding) and self._all() == other._all()

    def __hash__(self) -> int:
        return hash((self.rule, self.bar, self.beat, self.voices))

    def __repr__(self) -> str:
        return f"<{self.rule}, bar {self.bar}, {' and '.join(self.voices)}>"


class _Told:
    """An exercise for the texts of its findings: what tells each rule is made once."""

    def __init__(self, plan: Plan, heard: Heard, ruleset: Ruleset) -> None:
        self.plan, self.exercise, self.ruleset, self._heard = plan, heard.exercise, ruleset, heard
        self._tellers: dict[int, Teller] = {}
        self._explainers: dict[int, Explainer] = {}

    def bar(self, found: Found, index: int) -> int:
        """The bar of a sample that a rule judges, as the score counts."""
        return self.plan.track(found.monitor).bars[index] + self.exercise.first_bar - 1

    def teller(self, monitor: Monitor) -> Teller:
        """What fills a rule's messages."""
        if id(monitor) not in self._tellers:
            self._tellers[id(monitor)] = Teller(monitor, self._heard)
        return self._tellers[id(monitor)]

    def explainer(self, monitor: Monitor) -> Explainer:
        """What tries a rule's licences."""
        if id(monitor) not in self._explainers:
            self._explainers[id(monitor)] = Explainer(self.teller(monitor), self.ruleset)
        return self._explainers[id(monitor)]


@dataclass(frozen=True, slots=True)
class Marked(Displayed):
    """An exercise with its findings, in the order of bars and then of the rules, and its mark."""

    exercise: Exercise
    ruleset: str
    findings: tuple[Finding, ...]
    lost: int
    heard: Heard = field(compare=False, repr=False)

    @property
    def mark(self) -> int:
        """What is left of 100, never below 0."""
        return max(0, _FULL_MARK - self.lost)

    @property
    def faults(self) -> tuple[Finding, ...]:
        """The faults that nothing excuses."""
        return tuple(f for f in self.findings if f.severity == Severity.FAULT and f.excuse is None)


def mark(exercise: Exercise, ruleset: Ruleset) -> Marked:
    """Mark an exercise by a ruleset."""
    heard = Heard(exercise)
    plan, found = search(exercise, ruleset, heard)
    told, judges = _Told(plan, heard, ruleset), plan.marker.monitors
    findings = tuple([Finding(each, judges[each.monitor], told) for each in found])
    return Marked(exercise, ruleset.title, findings, points_lost(findings), heard)


def points_lost(findings: Sequence[Finding]) -> int:
    """The points that the unexcused findings cost, each rule up to its cap."""
    counts: dict[str, tuple[t.Weight, int]] = {}
    for finding in findings:
        if finding.excuse is None:
            counts[finding.rule] = finding.weight, counts.get(finding.rule, (None, 0))[1] + 1
    return sum([_cost(*counted) for counted in counts.values()])


def _cost(weight: t.Weight, count: int) -> int:
    points = weight.points * (1 if weight.once else count)
    return points if weight.cap is None else min(points, weight.cap)
