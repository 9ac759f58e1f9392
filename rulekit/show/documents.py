"""What programs get: JSON documents, one a line, each told by the schema of its command beside this file.

Every document names its version and its command; one that has nothing but ``problems`` beside them
says why there is no result (``failure.schema.json``).

``version`` grows when a document changes in a way that an old reader would misread.
Bars count as in the score, beats from 1 within the bar (between beats a fraction).
"""

from collections.abc import Sequence
from dataclasses import asdict
from fractions import Fraction
from typing import Any, cast

from rulekit.compiler.monitor import Monitor
from rulekit.diagnostics import Diagnostic
from rulekit.exercise.model import Exercise
from rulekit.explaining import Explained, Step
from rulekit.fitting import Fit, Nearness
from rulekit.language.ruleset import Ruleset
from rulekit.language.typed import Const, Pattern, Rule, Type
from rulekit.marking import Finding, Marked
from rulekit.music.pitch import interval_words
from rulekit.show.words import Wording, const_words, message_words
from rulekit.solving.problem import Problem as Searched
from rulekit.surveying import Tally
from rulekit.telling import Place
from rulekit.trying import Breach, Trial

VERSION = 2
Document = dict[str, Any]
Problem = Diagnostic | str


def mark_document(path: str, marked: Sequence[Document], ruleset: Ruleset, problems: Sequence[Problem]) -> Document:
    """The marked exercises of one file, and what was wrong with the others in it."""
    return {
        **head("mark"),
        "ruleset": ruleset.title,
        "file": path,
        "exercises": list(marked),
        "problems": [told(problem) for problem in problems],
    }


def failure_document(command: str, problems: Sequence[Problem]) -> Document:
    """Why a command has no result."""
    return {**head(command), "problems": [told(problem) for problem in problems]}


def try_document(ruleset: Ruleset, trials: Sequence[Trial]) -> Document:
    """How the examples of a ruleset went."""
    return {
        **head("try"),
        "ruleset": ruleset.title,
        "passed": all(trial.passed for trial in trials),
        "trials": [_trial(trial) for trial in trials],
    }


def explain_document(
    path: str,
    ruleset: Ruleset,
    rule: str,
    found: Sequence[tuple[Exercise, Sequence[Explained]]],
    problems: Sequence[Problem],
) -> Document:
    """How one rule judged the exercises of one file."""
    return {
        **head("explain"),
        "ruleset": ruleset.title,
        "rule": rule,
        "file": path,
        "exercises": [{**identity(e), "places": [_explained(each) for each in places]} for e, places in found],
        "problems": [told(problem) for problem in problems],
    }


def _explained(each: Explained) -> Document:
    return {
        "bar": each.bar,
        "beat": None if each.beat is None else _number(each.beat),
        "voices": list(each.voices),
        "notes": [_note(place) for place in each.places],
        "outcome": each.outcome,
        "licence": each.licence,
        "nearest": each.nearest and (each.nearest.name or each.nearest.reason),
        "conditions": [_step(step) for step in each.steps],
        "licences": [{"name": x.name, "reason": x.reason, "condition": _step(x.step)} for x in each.licences],
    }


def _step(step: Step) -> Document:
    return {
        "words": step.words,
        "held": step.held,
        "required": step.required,
        "saw": [{"words": words, "value": value} for words, value in step.saw],
        "parts": [_step(part) for part in step.parts],
    }


def list_document(ruleset: Ruleset, running: Sequence[Monitor], voices: int) -> Document:
    """The rules in force with memory and cost in so many voices, the parameters, and what was changed."""
    wording = Wording(ruleset)
    return {
        **head("list"),
        "ruleset": ruleset.title,
        "voices": voices,
        "rules": [_rule(rule, wording, [m for m in running if m.rule == rule]) for rule in ruleset.rules],
        "parameters": [
            {
                "name": parameter.name,
                "type": parameter.type,
                "value": written(parameter.value),
                "low": None if parameter.low is None else written(parameter.low),
                "high": None if parameter.high is None else written(parameter.high),
                "note": parameter.note,
                "origin": parameter.origin,
            }
            for parameter in ruleset.parameters
        ],
        "changes": [{"name": c.name, "what": c.what, "origin": c.origin} for c in ruleset.changes],
    }


def fit_document(
    ruleset: Ruleset,
    exercises: Sequence[Exercise],
    fits: Sequence[Fit],
    rules: Sequence[Nearness],
    problems: Sequence[Problem],
) -> Document:
    """Which values of parameters the examples support, and how near they come to each rule."""
    return {
        **head("fit"),
        "ruleset": ruleset.title,
        "examples": [identity(exercise) for exercise in exercises],
        "parameters": [_fit(fit) for fit in fits],
        "rules": [
            {"rule": each.rule, "looked": each.looked, "broken": each.broken, "excused": each.excused} for each in rules
        ],
        "problems": [told(problem) for problem in problems],
    }


def format_document(files: Sequence[tuple[str, bool]], check: bool, problems: Sequence[Problem]) -> Document:
    """Files that could be read, each with whether it was in its layout; ``check``: the others are as they were."""
    return {
        **head("format"),
        "changed": not check,
        "files": [{"file": path, "in_layout": in_layout} for path, in_layout in files],
        "problems": [told(problem) for problem in problems],
    }


def survey_document(
    folder: str, ruleset: Ruleset, pieces: int, notes: int, rules: Sequence[Tally], problems: Sequence[Problem]
) -> Document:
    """How often each rule of a ruleset is broken in a repertoire, and where its tables are."""
    return {
        **head("survey"),
        "ruleset": ruleset.title,
        "folder": folder,
        "pieces": pieces,
        "notes": notes,
        "rules": [asdict(each) for each in rules],
        "problems": [told(problem) for problem in problems],
    }


def written(const: Const) -> str:
    """A known value in a short form that the language takes: ``M10`` for a major tenth."""
    if const.type != Type.INTERVAL:
        return const_words(const)
    patterns = cast("tuple[Pattern, ...]", const.value)
    return " or ".join(f"{p.quality}{p.high}" if p.quality else interval_words("", p.high) for p in patterns)


def _fit(fit: Fit) -> Document:
    return {
        "name": fit.parameter.name,
        "value": written(fit.parameter.value),
        "rules": list(fit.rules),
        "tried": list(fit.tried),
        "passing": list(fit.passing),
        "tightest": fit.edges[0].value if len(fit.edges) == 1 else None,
        "edges": [
            {
                "value": edge.value,
                "beyond": edge.beyond,
                "rejected": [
                    {**identity(exercise), "rule": found.rule, "bar": found.bar, "message": found.message}
                    for exercise, found in edge.rejected
                ],
            }
            for edge in fit.edges
        ],
    }


def identity(subject: Exercise | Searched) -> Document:
    """Which exercise a document speaks of: its title, its file, its number there among those of its title."""
    origin = subject.origin
    return {"title": subject.title, "file": origin and origin.file, "number": origin and origin.number}


def head(command: str) -> Document:
    """What every document begins with."""
    return {"version": VERSION, "command": command}


def marked_document(marked: Marked) -> Document:
    """One marked exercise, as the document of its file holds it."""
    exercise = marked.exercise
    cantus = exercise.cantus
    return {
        **identity(exercise),
        "mode": str(exercise.mode),
        "time": str(exercise.metre),
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
        "bars": None if finding.extent is None else list(finding.extent),
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


def told(problem: Problem) -> Document:
    """What was wrong, and where."""
    if isinstance(problem, str):
        return {"file": None, "line": None, "column": None, "length": None, "message": problem, "hint": ""}
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
        "overturned": trial.overturned,
        "idle": trial.idle,
        "licence": trial.example.licence,
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
