"""Which rules a repertoire breaks, how often and where: what is kept of each file, and what all come to."""

import json
from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from rulekit.diagnostics import Diagnostic
from rulekit.exercise.scores import ReadOptions, load_scores
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Finding, mark


@dataclass(frozen=True, slots=True)
class Hit:
    """A finding as a row: bar and beat (from 1) are None for a rule about the whole; ``excuse`` is the reason."""

    rule: str
    severity: str
    bar: int | None
    beat: float | None
    voices: str
    excuse: str
    message: str


@dataclass(frozen=True, slots=True)
class Piece:
    """A marked piece: its title, how many voices and notes it has, what was found."""

    title: str
    voices: int
    notes: int
    hits: tuple[Hit, ...]


@dataclass(frozen=True, slots=True)
class Surveyed:
    """The pieces of one file, and why others in it could not be read."""

    pieces: tuple[Piece, ...]
    problems: tuple[Diagnostic, ...]

    def kept(self) -> str:
        """The text that :func:`recalled` reads."""
        return json.dumps(asdict(self))


@dataclass(frozen=True, slots=True)
class Tally:
    """How often a rule is broken: in how many pieces, by how many findings that nothing excuses, and in 100 notes."""

    rule: str
    severity: str
    pieces: int
    findings: int
    per_hundred: float


def survey(path: Path, ruleset: Ruleset, reading: ReadOptions, content: bytes | None = None) -> Surveyed:
    """Mark the pieces of a file, whose ``content`` may be known. Never raises for what a file holds."""
    exercises, problems = load_scores(path, reading, content)
    pieces = [
        Piece(
            title=exercise.title,
            voices=len(exercise.voices),
            notes=sum(not is_rest for voice in exercise.voices for _, is_rest in voice.spans),
            hits=tuple(map(_hit, mark(exercise, ruleset).findings)),
        )
        for exercise in exercises
    ]
    return Surveyed(tuple(pieces), tuple(problems))


def recalled(text: str) -> Surveyed:
    """What was kept of a file. Raises ValueError, TypeError or KeyError if it is not what was written."""
    kept: dict[str, Any] = json.loads(text)
    pieces = [
        Piece(each["title"], each["voices"], each["notes"], tuple(Hit(**hit) for hit in each["hits"]))
        for each in kept["pieces"]
    ]
    return Surveyed(tuple(pieces), tuple(Diagnostic(**each) for each in kept["problems"]))


def tallies(surveyed: Iterable[Surveyed], ruleset: Ruleset) -> tuple[Tally, ...]:
    """Every rule in force, the one broken in most pieces first."""
    notes, pieces, findings = 0, Counter[str](), Counter[str]()
    for piece in (piece for each in surveyed for piece in each.pieces):
        broken = [hit.rule for hit in piece.hits if not hit.excuse]
        notes += piece.notes
        pieces.update(set(broken))
        findings.update(broken)
    found = [
        Tally(x.name, x.weight.severity, pieces[x.name], findings[x.name], 100 * findings[x.name] / (notes or 1))
        for x in ruleset.rules
    ]
    return tuple(sorted(found, key=lambda tally: (-tally.pieces, -tally.findings)))


def _hit(finding: Finding) -> Hit:
    excuse, beat = finding.excuse, finding.beat
    return Hit(
        rule=finding.rule,
        severity=finding.severity,
        bar=finding.bar,
        beat=None if beat is None else float(beat),
        voices=" ".join(finding.voices),
        excuse="" if excuse is None else excuse.reason,
        message=finding.message,
    )
