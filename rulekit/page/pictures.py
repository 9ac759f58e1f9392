"""Small pictures of exercises, to be looked at only: the examples of rules, lines, scales."""

from dataclasses import dataclass, replace

from rulekit.beside import Beside
from rulekit.exercise.model import Clef, Exercise
from rulekit.language.ruleset import Ruleset
from rulekit.language.tree import ExampleItem
from rulekit.language.typed import Rule
from rulekit.marking import mark
from rulekit.page.clefs import modern_clefs
from rulekit.page.engrave import natural_width
from rulekit.page.reach import NoteKey, reaches
from rulekit.page.staves import Look, Sign, Wording, draw, glyph_definitions
from rulekit.trying import read_example

_WIDEST = 88  # staff spaces
_SILENT = Wording("", str, str, str)


@dataclass(frozen=True, slots=True)
class Shown:
    """An example of a rule: its picture with the fault marked, and the rule's message there if it is rejected."""

    picture: str
    message: str


def small(
    exercise: Exercise,
    clefs: tuple[Clef, ...] = (),
    changed: frozenset[NoteKey] = frozenset(),
    *,
    measured: bool = True,
) -> Look:
    """How an exercise is drawn that is no wider than it need be, its voices figured together."""
    together = (tuple(range(len(exercise.voices))),) if len(exercise.voices) > 1 else ()
    return Look(
        min(_WIDEST, natural_width(exercise)), clefs or modern_clefs(exercise), together=together, sung=False,
        changed=changed, quiet=True, measured=measured,
    )  # fmt: skip


_DRAWN = Beside(dict[tuple[str, bool], tuple[Shown | None, dict[str, str]]])


class Pictures:
    """Draws small pictures; ``glyphs`` are the outlines that those drawn so far share."""

    def __init__(self, glyphs: dict[str, str] | None = None) -> None:
        self.glyphs: dict[str, str] = {} if glyphs is None else glyphs

    @property
    def definitions(self) -> str:
        """The outlines, to stand once on a page."""
        return glyph_definitions(self.glyphs)

    def plain(
        self,
        exercise: Exercise,
        signs: tuple[Sign, ...] = (),
        changed: frozenset[NoteKey] = frozenset(),
        *,
        clefs: tuple[Clef, ...] = (),
        measured: bool = True,
    ) -> str:
        """An exercise, with findings or changed notes marked; treble and bass clefs if no others are given."""
        look = small(exercise, clefs, changed, measured=measured)
        return draw(exercise, look, signs, _SILENT, self.glyphs)

    def accepted(self, rule: Rule, ruleset: Ruleset) -> str | None:
        """The first example that a rule accepts, None if it has none that can be read."""
        drawn = self._once(rule, ruleset, accepted=True)
        return None if drawn is None else drawn.picture

    def rejected(self, rule: Rule, ruleset: Ruleset) -> Shown | None:
        """The first example that a rule rejects, its faults marked."""
        return self._once(rule, ruleset, accepted=False)

    def _once(self, rule: Rule, ruleset: Ruleset, *, accepted: bool) -> Shown | None:
        """An example's picture; it is drawn once for all pages that show it."""
        known, key = _DRAWN.of(ruleset), (rule.name, accepted)
        if key not in known:
            alone = Pictures()
            known[key] = alone._drawn(rule, ruleset, accepted), alone.glyphs
        drawn, glyphs = known[key]
        self.glyphs |= glyphs
        return drawn

    def _drawn(self, rule: Rule, ruleset: Ruleset, accepted: bool) -> Shown | None:
        example = _example(rule, accepted)
        if example is None:
            return None
        if accepted:
            return Shown(self.plain(example), "")
        alone = replace(ruleset, rules=(rule,))
        findings = mark(example, alone).findings
        found = enumerate(zip(findings, reaches(example, alone, findings), strict=True), 1)
        signs = tuple(Sign(number, reach, f.excuse is not None, "") for number, (f, reach) in found if reach.own)
        message = next((finding.message for finding in findings if finding.excuse is None), "")
        return Shown(self.plain(example, signs), message)


def _example(rule: Rule, accepted: bool) -> Exercise | None:
    example: ExampleItem | None = next((e for e in rule.examples if bool(e.breaches) != accepted), None)
    if example is None:
        return None
    exercises, wrong = read_example(example)
    return None if wrong else exercises[0]
