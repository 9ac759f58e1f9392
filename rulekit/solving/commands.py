"""The commands that search: each prints what it found, with exercises in the typed notation, ready to be marked."""

import argparse
import json
import resource
import sys
import time
from collections.abc import Callable, Generator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random
from typing import Any

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import write_exercise
from rulekit.exercise.scores import ReadOptions, load_scores, write_midi, write_musicxml
from rulekit.language.ruleset import Ruleset, load_ruleset
from rulekit.language.typed import Weight
from rulekit.marking import mark
from rulekit.music.mode import mode_of
from rulekit.music.pitch import Pitch, pitch_name
from rulekit.solving import answers, folds
from rulekit.solving.graph import Exhausted, Graph, Limits, build
from rulekit.solving.problem import Problem, speaks_of_ficta
from rulekit.solving.sketch import Wish, blamable, cantus_search, compass_of, range_in_words, search

_SCHEMA = {"version": 1, "kind": "search"}


class Failed(Exception):
    """A search that can't be run, in words."""


def run(name: str, args: argparse.Namespace) -> int:
    """Run one command; failures are told in one line."""
    try:
        return _COMMANDS[name](args)
    except (Failed, ValueError, OSError) as error:
        print(f"rulekit: {error}", file=sys.stderr)
    except Exhausted as error:
        if args.json:
            known = {"reached": error.reached - 1, "moments": error.total, "partial_lines": str(error.partial)}
            print(json.dumps({**_SCHEMA, "command": name, "exact": False, "results": known}))
        print(f"rulekit: not finished, {error}", file=sys.stderr)
    return 2


# ---- what every command needs ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Spent:
    """Seconds, memory in MB at the peak, and nodes of a search."""

    seconds: float
    megabytes: float
    nodes: int


def _ruleset(args: argparse.Namespace, name: str) -> Ruleset:
    return load_ruleset(name, dict(args.set))


def _read(args: argparse.Namespace) -> list[Exercise]:
    exercises: list[Exercise] = []
    problems: list[Diagnostic] = []
    for path in args.score:
        found, wrong = load_scores(path, ReadOptions(cantus=args.cantus))
        exercises += found
        problems += wrong
    if problems:
        raise RulekitError(problems)
    return exercises


def _wish(args: argparse.Namespace) -> Wish:
    return Wish(args.below, getattr(args, "range", None), args.species, args.voices)


def _problems(args: argparse.Namespace, ruleset: Ruleset) -> list[Problem]:
    return [search(exercise, ruleset, _wish(args)) for exercise in _read(args)]


def _shared_problems(args: argparse.Namespace, first: Ruleset, second: Ruleset) -> list[Problem]:
    """Problems of the first ruleset, with altered notes tried if either ruleset speaks of them."""
    wider = first if speaks_of_ficta(first) else second
    return [replace(problem, ruleset=first) for problem in _problems(args, wider)]


def _limits(args: argparse.Namespace) -> Limits:
    return Limits(args.nodes, args.seconds)


@contextmanager
def _progress() -> Generator[Callable[[int, int, int], None]]:
    """A line on the terminal that says how far a search is, once it has taken a second."""
    start, shown = time.monotonic(), False

    def tell(number: int, total: int, nodes: int) -> None:
        nonlocal shown
        if sys.stderr.isatty() and time.monotonic() - start > 1:
            shown = True
            print(f"\rmoment {number} of {total}, {nodes} nodes ", end="", file=sys.stderr, flush=True)

    try:
        yield tell
    finally:
        if shown:
            print(file=sys.stderr)


def _graph(args: argparse.Namespace, problem: Problem, costed: bool = False) -> tuple[Graph, _Spent]:
    start = time.perf_counter()
    with _progress() as tell:
        graph = build(problem, costed=costed, limits=_limits(args), progress=tell)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return graph, _Spent(time.perf_counter() - start, peak, sum(len(layer) for layer in graph.layers))


def _spent(spent: _Spent) -> dict[str, Any]:
    return {"seconds": round(spent.seconds, 3), "megabytes": round(spent.megabytes), "nodes": spent.nodes}


def _show(args: argparse.Namespace, command: str, result: Any, text: str) -> None:
    if args.json:
        print(json.dumps({**_SCHEMA, "command": command, "exact": True, "results": result}, ensure_ascii=False))
    else:
        print(text)


def _said(problem: Problem) -> str:
    """What was searched, as a comment line of the typed notation."""
    free = [
        f"{label} from {range_in_words(problem, voice)}"
        for voice, label in enumerate(problem.labels)
        if any(len(slot.choices) > 1 for slot in problem.lines[voice])
    ]
    return f"-- {problem.title or 'untitled'}: {problem.ruleset.title}; free: {', '.join(free) or 'nothing'}"


def _hand_over(args: argparse.Namespace, command: str, found: Sequence[tuple[Exercise, str]], said: str) -> int:
    """Print exercises with a comment each, or write them to a file; 1 if there are none."""
    if not found:
        _show(args, command, [], f"{said}\n-- there is no such line; ‘rulekit whynot’ tells why")
        return 1
    numbered = [replace(exercise, title=exercise.title or f"line {i}") for i, (exercise, _) in enumerate(found, 1)]
    if args.output is not None:
        _write(args.output, numbered)
    texts = [f"-- {note}\n{write_exercise(e).rstrip()}" for e, (_, note) in zip(numbered, found, strict=True)]
    results = [{"note": note, "notation": write_exercise(e)} for e, (_, note) in zip(numbered, found, strict=True)]
    _show(args, command, results, "\n\n".join([said, *texts]))
    return 0


def _write(path: Path, exercises: Sequence[Exercise]) -> None:
    if path.suffix in (".musicxml", ".xml", ".mid"):
        if len(exercises) != 1:
            raise Failed(f"{path.suffix} holds one exercise; write several to a .notes file")
        (write_midi if path.suffix == ".mid" else write_musicxml)(exercises[0], path)
    elif path.suffix == ".notes":
        path.write_text("\n".join(write_exercise(exercise) for exercise in exercises), encoding="utf-8")
    else:
        raise Failed(f"‘{path.name}’: the name must end in .notes, .musicxml or .mid")


# ---- commands ----------------------------------------------------------------------------------------


def _count(args: argparse.Namespace) -> int:
    ruleset = _ruleset(args, args.rules)
    results: list[dict[str, Any]] = []
    texts: list[str] = []
    for problem in _problems(args, ruleset):
        graph, spent = _graph(args, problem)
        total = folds.count(graph)
        openings = _by_notes(folds.count_by_opening(graph), problem)
        closes = _by_notes(folds.count_by_close(graph), problem)
        warnings = _by_warnings(args, problem) if args.warnings else {}
        counts = {"by_warnings": warnings} if args.warnings else {}
        counts |= {"count": str(total), "by_opening": openings, "by_close": closes}
        results.append({"title": problem.title, **counts, **_spent(spent)})
        splits = {"by opening": openings, "by the note before the last": closes, "by number of warnings": warnings}
        parts = [
            f"  {what}: " + ", ".join(f"{name} {number}" for name, number in split.items())
            for what, split in splits.items()
            if split
        ]
        used = f"{spent.seconds:.2f} s, {spent.megabytes:.0f} MB, {spent.nodes} nodes"
        texts.append("\n".join([f"{_said(problem)}\n{total} lines (exact; {used})", *parts]))
    _show(args, "count", results, "\n\n".join(texts))
    return 0


def _by_warnings(args: argparse.Namespace, problem: Problem) -> dict[str, str]:
    """Counts by the number of warnings, each finding counting one."""
    rules = tuple(
        replace(rule, weight=Weight(rule.weight.severity, int(rule.weight.severity == "warning"), None, False))
        for rule in problem.ruleset.rules
    )
    counting = replace(problem, ruleset=replace(problem.ruleset, rules=rules))
    graph, _ = _graph(args, counting, costed=True)
    return {str(number): str(lines) for number, lines in folds.count_by_cost(graph).items()}


def _by_notes(split: dict[tuple[Pitch | None, ...], int], problem: Problem) -> dict[str, str]:
    """Counts by the notes of the free voices."""
    free = [v for v, line in enumerate(problem.lines) if any(len(slot.choices) > 1 for slot in line)]
    named: dict[str, int] = {}
    for choice, number in split.items():
        name = " ".join(pitch_name(p) for p in (choice[v] for v in free) if p is not None)
        named[name] = named.get(name, 0) + number
    return {name: str(number) for name, number in named.items()}


def _sample(args: argparse.Namespace) -> int:
    ruleset, random = _ruleset(args, args.rules), Random(args.seed)
    found: list[tuple[Exercise, str]] = []
    said: list[str] = []
    for problem in _problems(args, ruleset):
        graph, _ = _graph(args, problem)
        total = folds.count(graph)
        said.append(_said(problem))
        for line in folds.sample(graph, random, args.number):
            found.append((problem.exercise(line), f"one of {total}, drawn with seed {args.seed}"))
    return _hand_over(args, "sample", found, "\n".join(said))


def _complete(args: argparse.Namespace) -> int:
    ruleset = _ruleset(args, args.rules)
    found: list[tuple[Exercise, str]] = []
    said: list[str] = []
    for problem in _problems(args, ruleset):
        graph, _ = _graph(args, problem, costed=True)
        said.append(_said(problem))
        for paid, line in folds.best(graph, args.number):
            found.append((problem.exercise(line), f"loses {paid[-1]} points for warnings and advice"))
    return _hand_over(args, "complete", found, "\n".join(said))


def _mend(args: argparse.Namespace) -> int:
    ruleset = _ruleset(args, args.rules)
    found: list[tuple[Exercise, str]] = []
    said: list[str] = []
    for exercise in _read(args):
        lost = mark(exercise, ruleset).lost
        single = answers.best_single_change(exercise, ruleset)
        said.append(f"-- {exercise.title or 'untitled'}: {lost} points lost as it stands")
        if single is not None:
            said.append(f"-- the one note that clears most: {_edit(single[0])}; then {single[1]} points are lost")
        for mended in answers.mend(exercise, ruleset, args.number, _limits(args)):
            edits = "; ".join(map(_edit, mended.edits)) or "nothing to change"
            found.append((mended.exercise, f"{edits} ({mended.distance} steps in all)"))
    return _hand_over(args, "mend", found, "\n".join(said))


def _edit(edit: answers.Edit) -> str:
    return f"bar {edit.bar}, {edit.voice}: {pitch_name(edit.old)} to {pitch_name(edit.new)}"


def _whynot(args: argparse.Namespace) -> int:
    ruleset = _ruleset(args, args.rules)
    results: list[dict[str, Any]] = []
    texts: list[str] = []
    for sketch in _read(args):
        problem = search(sketch, ruleset, _wish(args))
        reason = answers.why_not(problem, blamable(problem, sketch, ruleset), _limits(args))
        if reason is None:
            results.append({"title": problem.title, "solvable": True})
            texts.append(f"{_said(problem)}\nthere are lines; ‘rulekit count’ says how many")
            continue
        notes = [f"{problem.labels[n.voice]} {pitch_name(n.pitch)} in bar {n.bar}" for n in reason.notes]
        results.append({"title": problem.title, "solvable": False, "rules": list(reason.rules), "notes": notes,
                        "bar": reason.bar, "bars": reason.bars})  # fmt: skip
        texts.append(
            f"{_said(problem)}\nno line gets past bar {reason.bar} of {reason.bars}. "
            "These alone exclude each other; without any one of them the others could be met:\n"
            + "\n".join([f"  rule {name}" for name in reason.rules] + [f"  note {note}" for note in notes])
        )
    _show(args, "whynot", results, "\n\n".join(texts))
    return 0


def _compare(args: argparse.Namespace) -> int:
    first, second = load_ruleset(args.first), load_ruleset(args.second)
    only_first, only_second, changed = answers.differing_rules(first, second)
    texts = [
        f"-- rules only in {args.first}: {', '.join(only_first) or 'none'}",
        f"-- rules only in {args.second}: {', '.join(only_second) or 'none'}",
        f"-- rules of both that differ: {', '.join(changed) or 'none'}",
    ]
    results: list[dict[str, Any]] = []
    strict = True
    for problem in _shared_problems(args, first, second):
        found = answers.compare(problem, second, args.seed, _limits(args))
        strict = strict and found.only_first == 0
        results.append({"title": problem.title, "both": str(found.both), "only_first": str(found.only_first),
                        "only_second": str(found.only_second)})  # fmt: skip
        texts.append(f"\n{_said(problem)}\n--   allowed by both: {found.both}")
        for name, other, number, witness in (
            (args.first, args.second, found.only_first, found.first_witness),
            (args.second, args.first, found.only_second, found.second_witness),
        ):
            texts.append(f"--   allowed by {name} and not by {other}: {number}")
            if witness is not None:
                notation = write_exercise(witness[0]).rstrip()
                texts.append(f"--   such as this, which {other} forbids by {witness[1]}:\n\n{notation}\n")
    proved = "at least as strict" if strict else "not at least as strict"
    texts.append(f"\n-- over these, {args.first} is {proved} as {args.second} (proved)")
    rules = {"only_first": only_first, "only_second": only_second, "changed": changed}
    _show(args, "compare", {"rules": rules, "over": results, "at_least_as_strict": strict}, "\n".join(texts))
    return 0


def _audit(args: argparse.Namespace) -> int:
    ruleset = _ruleset(args, args.ruleset)
    problems = _problems(args, ruleset)
    worth = answers.audit(problems, ruleset, _limits(args))
    texts = ["rule: share of all candidate lines it removes alone; share of what the other rules leave"]
    for each in worth:
        note = "  never decides anything here" if not each.last else ""
        note = "  forbids everything" if each.alone == 1 else note
        texts.append(f"  {each.rule:32} {float(each.alone):8.2%} {float(each.last):8.2%}{note}")
    pairs = answers.conflicts(problems, ruleset, _limits(args)) if args.pairs else []
    if args.pairs:
        texts.append("pairs of rules that leave no line together, though each alone does:")
        texts += [f"  {one} and {other}" for one, other in pairs] or ["  none"]
    rules = [{"rule": w.rule, "alone": float(w.alone), "last": float(w.last)} for w in worth]
    _show(args, "audit", {"rules": rules, "conflicts": pairs}, "\n".join(texts))
    return 0


def _cantus(args: argparse.Namespace) -> int:
    ruleset, mode = _ruleset(args, args.rules), mode_of(args.mode)
    compass = args.range or compass_of("C3-C5")
    if not 2 <= args.length <= 40:
        raise Failed("a cantus has from 2 to 40 notes")
    problem = cantus_search(ruleset, mode, args.length, compass)
    graph, _ = _graph(args, problem, costed=True)
    by_cost = folds.count_by_cost(graph)
    least = min(by_cost, default=0)
    drawn = folds.sample(graph, Random(args.seed), args.number, lambda cost: cost == least)
    note = f"one of {by_cost.get(least, 0)} that lose {least} points, drawn with seed {args.seed}"
    found = [(problem.exercise(line), note) for line in drawn]
    return _hand_over(args, "cantus", found, _said(problem))


_COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "count": _count, "sample": _sample, "complete": _complete, "mend": _mend, "whynot": _whynot,
    "compare": _compare, "audit": _audit, "cantus": _cantus,
}  # fmt: skip
