"""What examples support of a ruleset, for a person."""

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text

from rulekit.exercise.model import Exercise
from rulekit.fitting import Edge, Fit, Nearness
from rulekit.language.ruleset import Ruleset
from rulekit.show.report import print_hanging
from rulekit.show.words import const_words, counted, place_words


def print_fit_heading(console: Console, ruleset: Ruleset, exercises: Sequence[Exercise]) -> None:
    """Print what was asked."""
    console.print(Text(f"{ruleset.title}: what {counted(len(exercises), 'example')} support", style="bold"))


def print_fit(console: Console, fit: Fit) -> None:
    """Print what the examples say of one parameter."""
    console.print()
    now = f"  now {const_words(fit.parameter.value)}"
    console.print(Text.assemble((fit.parameter.name, "bold"), now, f"; used by {', '.join(fit.rules) or 'no rule'}"))
    for line in _fit_lines(fit):
        print_hanging(console, Text(line))


def _fit_lines(fit: Fit) -> Iterator[str]:
    if not fit.tried:
        yield "not tried: only counts, proportions and intervals that go from one bound to another have steps to try"
    elif len(fit.passing) == len(fit.tried):
        yield f"every value from {fit.tried[0]} to {fit.tried[-1]} lets all examples pass: they decide nothing"
    elif not fit.passing:
        yield f"no value from {fit.tried[0]} to {fit.tried[-1]} lets all examples pass"
    elif len(fit.edges) == 1:
        yield f"tightest: {fit.edges[0].value}"
    else:
        yield f"let all examples pass: {', '.join(fit.passing)}"
    for edge in fit.edges:
        yield _edge_words(edge)


def _edge_words(edge: Edge) -> str:
    exercise, finding = edge.rejected[0]
    origin = f" ({exercise.origin.file})" if exercise.origin else ""
    where = f"{place_words(finding.bar, finding.beat)}, {finding.rule}"
    return f"{edge.beyond} would reject {counted(edge.examples, 'example')}, first ‘{exercise.title}’{origin}: {where}"


def print_nearness(console: Console, rules: Sequence[Nearness]) -> None:
    """Print in how many examples each rule had something to look at, found something, or excused it."""
    console.print()
    heading = "rule: in how many examples it looked somewhere; found something; excused something"
    console.print(Text(heading, style="bold"))
    for each in rules:
        console.print(Text(f"  {each.rule:32} {each.looked:6} {each.broken:6} {each.excused:6}"))
