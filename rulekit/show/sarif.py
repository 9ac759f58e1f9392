"""Findings for programs that gather the results of checks: a log in SARIF 2.1.0 (OASIS Standard, 27 March 2020)."""

import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from urllib.parse import quote

from rulekit.diagnostics import Diagnostic
from rulekit.language.ruleset import Ruleset
from rulekit.language.typed import Rule
from rulekit.marking import Finding, Marked
from rulekit.severity import Severity
from rulekit.show.documents import Document, Problem
from rulekit.show.words import message_words

_SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
_LEVELS = {Severity.FAULT: "error", Severity.WARNING: "warning", Severity.ADVICE: "note"}
_PLACEHOLDERS = str.maketrans("{}", "‹›")  # braces have a meaning of their own in a SARIF message


def sarif_log(
    files: Iterable[tuple[Path, Sequence[Marked]]], ruleset: Ruleset, problems: Sequence[Problem]
) -> Document:
    """One run over files of marked exercises.

    A finding is a result; one that a licence excuses is suppressed, with the reason. A logical location is an
    exercise, and in it a bar and a voice. What could not be read is a notification of the run.
    """
    numbers = {rule.name: number for number, rule in enumerate(ruleset.rules)}
    results = [
        _result(path, marked, finding, numbers[finding.rule])
        for path, exercises in files
        for marked in exercises
        for finding in marked.findings
    ]
    run = {
        "tool": {"driver": {"name": "rulekit", "rules": [_rule(rule) for rule in ruleset.rules]}},
        "columnKind": "unicodeCodePoints",
        "invocations": [
            {"executionSuccessful": not problems, "toolExecutionNotifications": [_notification(p) for p in problems]}
        ],
        "results": results,
    }
    return {"$schema": _SCHEMA, "version": "2.1.0", "runs": [run]}


def _rule(rule: Rule) -> Document:
    return {
        "id": rule.name,
        "shortDescription": {"text": message_words(rule).translate(_PLACEHOLDERS)},
        "defaultConfiguration": {"level": _LEVELS[rule.weight.severity]},
        "properties": {"source": rule.source, "points": rule.weight.points},
    }


def _result(path: Path, marked: Marked, finding: Finding, number: int) -> Document:
    excuse = finding.excuse
    justified = [] if excuse is None else [{"kind": "external", "justification": excuse.reason}]
    return {
        "ruleId": finding.rule,
        "ruleIndex": number,
        "level": _LEVELS[finding.severity],
        "message": {"text": finding.message},
        "locations": [{"physicalLocation": _physical(path), "logicalLocations": _logical(marked, finding)}],
        "suppressions": justified,
    }


def _physical(path: Path) -> Document:
    uri = path.as_uri() if path.is_absolute() else quote(os.fsencode(path.as_posix()))
    return {"artifactLocation": {"uri": uri}}


def _logical(marked: Marked, finding: Finding) -> list[Document]:
    """Each bar and voice of the notes concerned; the exercise for a finding about the whole."""
    exercise = marked.exercise
    number = exercise.origin.number if exercise.origin else None
    title = exercise.title + (f", number {number}" if number else "")
    places = dict.fromkeys((place.bar, place.voice) for place in finding.places)
    if not places:
        return [{"name": title, "fullyQualifiedName": title, "kind": "exercise"}]
    return [
        {"name": voice, "fullyQualifiedName": f"{title}/bar {bar}/{voice}", "kind": "voice"} for bar, voice in places
    ]


def _notification(problem: Problem) -> Document:
    if not isinstance(problem, Diagnostic):
        return {"level": "error", "message": {"text": problem}}
    region = {"startLine": problem.line, "startColumn": problem.column}
    location = _physical(Path(problem.path)) | {"region": region}
    return {"level": "error", "message": {"text": problem.message}, "locations": [{"physicalLocation": location}]}
