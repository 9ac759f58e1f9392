"""``rulekit count``."""

import argparse
from typing import Any

from rulekit.cli import options, searching
from rulekit.cli.status import GOOD
from rulekit.language.typed import Rule, Weight
from rulekit.music.pitch import Pitch, pitch_name
from rulekit.page.plots import counts
from rulekit.severity import Severity
from rulekit.show.documents import identity
from rulekit.show.searched import SPLITS, room_words, searched_words, split_line, sum_line
from rulekit.show.words import counted
from rulekit.solving import folds
from rulekit.solving.graph import Meter
from rulekit.solving.problem import Problem


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is counted, and how it is split."""
    searching.free(parser)
    parser.add_argument("--warnings", action="store_true", help="also by the number of warnings (slower)")
    searching.page(parser)
    searching.limits(parser)


def run(args: argparse.Namespace) -> int:
    """Count the lines."""
    return searching.run("count", _count, args)


def _count(args: argparse.Namespace, answer: searching.Answer) -> int:
    ruleset, sums = options.load(args), dict[str, list[int]]()
    try:
        for found in searching.found(args, ruleset, answer):
            total = _tell(found, args, answer, apart="\n" * bool(sums))
            sums.setdefault(found.problem.heading, []).append(total)
    finally:
        for heading, totals in sums.items():
            if len(totals) > 1:
                answer.say(sum_line(heading, totals))
    return GOOD


def _tell(found: searching.Found, args: argparse.Namespace, answer: searching.Answer, apart: str) -> int:
    """Tell how many lines a search has, and of which kinds; gives their number."""
    problem, graph = found.problem, found.graph
    total = folds.count(graph, answer.meter)
    answer.say(f"{apart}-- {searched_words(problem)}\n{counted(total, 'line')} (exact; {found.spent})")
    if not total and (told := searching.rhythm_said(problem)):
        answer.say(told)
    result: dict[str, Any] = {**identity(problem), "count": str(total), **found.spent.document()}
    answer.keep(result)
    answer.section(f"{room_words(problem)}: {counted(total, 'line')}")
    by_choice = folds.count_by_choice(graph, answer.meter)
    openings = _by_notes(by_choice[0], problem)
    closes = _by_notes(by_choice[-2] if len(by_choice) > 1 else {}, problem)
    warnings = _by_warnings(answer.meter, problem) if args.warnings else {}
    splits = {"by_opening": openings, "by_close": closes} | ({"by_warnings": warnings} if args.warnings else {})
    result |= splits
    for what, split in ((SPLITS[key], split) for key, split in splits.items()):
        if split:
            answer.say(split_line(what, split))
            bins = counts((name, int(lines)) for name, lines in split.items())
            answer.plot(what.capitalize(), what.removeprefix("by "), "lines", bins)
    return total


def _by_warnings(meter: Meter, problem: Problem) -> dict[str, str]:
    """Counts by the number of warnings, each finding counting one."""
    graph, _ = searching.graph(meter, problem, _counting)
    return {str(number): str(lines) for number, lines in folds.count_by_cost(graph, meter).items()}


def _counting(rule: Rule) -> Weight | None:
    return {Severity.FAULT: rule.weight, Severity.WARNING: Weight(Severity.WARNING, 1, None, False)}.get(
        rule.weight.severity
    )


def _by_notes(split: dict[tuple[Pitch | None, ...], int], problem: Problem) -> dict[str, str]:
    """Counts by the notes of the free voices."""
    free = [v for v, line in enumerate(problem.lines) if any(len(slot.choices) > 1 for slot in line)]
    if not free:
        return {}
    named: dict[str, int] = {}
    for choice, number in split.items():
        name = " ".join(pitch_name(p) for p in (choice[v] for v in free) if p is not None)
        named[name] = named.get(name, 0) + number
    return {name: str(number) for name, number in named.items()}
