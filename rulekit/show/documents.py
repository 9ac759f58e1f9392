"""What programs get: JSON documents, each told by the schema of its name beside this file.

``version`` grows when a document changes in a way that an old reader would misread.
Bars count as in the score, beats from 1 within the bar (between beats a fraction).
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from rulekit.compiler.monitor import Monitor
from rulekit.diagnostics import Diagnostic
from rulekit.language.ruleset import Ruleset
from rulekit.language.typed import Rule
from rulekit.marking import Finding, Marked, Place
from rulekit.show.words import Wording, const_words, message_words
from rulekit.trying import Breach, Trial

VERSION = 1
Document = dict[str, Any]


def mark_document(marked: Sequence[tuple[str, Marked]], ruleset: Ruleset, problems: Sequence[Diagnostic]) -> Document:
    """Marked exercises, each with the path of its file, and what was wrong with the others."""
    return {
        "version": VERSION,
        "ruleset": ruleset.title,
        "exercises": [_exercise(path, each) for path, each in marked],
        "problems": [_problem(problem) for problem in problems],
    }


def try_document(ruleset: Ruleset, trials: Sequence[Trial]) -> Document:
    """How the examples of a ruleset went."""
    return {
        "version": VERSION,
        "ruleset": ruleset.title,
        "passed": all(trial.passed for trial in trials),
        "trials": [_trial(trial) for trial in trials],
    }


def list_document(ruleset: Ruleset, running: Sequence[Monitor], voices: int) -> Document:
    """The rules in force with memory and cost in so many voices, the parameters, and what was changed."""
    wording = Wording(ruleset)
    return {
        "version": VERSION,
        "ruleset": ruleset.title,
        "voices": voices,
        "rules": [_rule(rule, wording, [m for m in running if m.rule == rule]) for rule in ruleset.rules],
        "parameters": [
            {
                "name": parameter.name,
                "type": parameter.type,
                "value": const_words(parameter.value),
                "low": None if parameter.low is None else const_words(parameter.low),
                "high": None if parameter.high is None else const_words(parameter.high),
                "note": parameter.note,
                "origin": parameter.origin,
            }
            for parameter in ruleset.parameters
        ],
        "changes": [{"name": c.name, "what": c.what, "origin": c.origin} for c in ruleset.changes],
    }


def _exercise(path: str, marked: Marked) -> Document:
    exercise = marked.exercise
    cantus = exercise.cantus
    return {
        "file": path,
        "title": exercise.title,
        "mode": str(exercise.mode),
        "time": f"{exercise.metre.beats}/{4 / exercise.metre.unit}",
        "first_bar": exercise.first_bar,
        "bars": exercise.setting.bars,
        "voices": [voice.name for voice in exercise.voices],
        "cantus": None if cantus is None else exercise.voices[cantus].name,
        "inferred": list(exercise.inferred),
        "mark": marked.mark,
        "lost": marked.lost,
        "findings": [_finding(finding) for finding in marked.findings],
    }


def _finding(finding: Finding) -> Document:
    excuse = finding.excuse
    return {
        "rule": finding.rule,
        "severity": finding.severity,
        "bar": finding.bar,
        "beat": None if finding.beat is None else _number(finding.beat),
        "voices": list(finding.voices),
        "notes": [_note(place) for place in finding.places],
        "message": finding.message,
        "excuse": None if excuse is None else {"name": excuse.name, "reason": excuse.reason},
        "source": finding.source,
    }


def _note(place: Place) -> Document:
    return {"bar": place.bar, "beat": _number(place.beat), "voice": place.voice, "note": place.note}


def _number(beat: Fraction) -> int | float:
    return int(beat) if beat.denominator == 1 else float(beat)


def _problem(problem: Diagnostic) -> Document:
    return {
        "file": problem.path,
        "line": problem.line,
        "column": problem.column,
        "length": problem.length,
        "message": problem.message,
        "hint": problem.hint,
    }


def _trial(trial: Trial) -> Document:
    return {
        "rule": trial.rule,
        "title": trial.title,
        "file": trial.path,
        "line": trial.line,
        "passed": trial.passed,
        "expected": [_breach(breach) for breach in trial.expected],
        "found": [_breach(breach) for breach in trial.found],
    }


def _breach(breach: Breach) -> Document:
    return {"rule": breach[0], "bar": breach[1]}


def _rule(rule: Rule, wording: Wording, running: Sequence[Monitor]) -> Document:
    weight = rule.weight
    return {
        "rule": rule.name,
        "severity": weight.severity,
        "points": weight.points,
        "cap": weight.cap,
        "once": weight.once,
        "subject": wording.subject(rule),
        "message": message_words(rule),
        "licences": [{"name": licence.name, "reason": licence.reason} for licence in rule.licences],
        "source": rule.source,
        "origin": rule.origin,
        "monitors": len(running),
        "memory": _memory(running[0]) if running else None,
    }


def _memory(monitor: Monitor) -> Document:
    budget = monitor.budget
    return {
        "back": budget.back,
        "ahead": budget.ahead,
        "notes_ahead": budget.notes_ahead,
        "streams": list(budget.streams),
        "parts": budget.parts,
    }
