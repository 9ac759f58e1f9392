"""What examples support of a ruleset, for a person."""

from collections.abc import Iterator, Sequence

from rulekit.exercise.model import Exercise
from rulekit.fitting import Edge, Fit, Nearness
from rulekit.language.ruleset import Ruleset
from rulekit.music.pitch import interval_of, interval_words, quality, size
from rulekit.show.terminal import Screen
from rulekit.show.words import const_words, counted, place_words


def fit_heading(screen: Screen, ruleset: Ruleset, exercises: Sequence[Exercise]) -> str:
    """What was asked."""
    examples = counted(len(exercises), "example supports", "examples support")
    return screen.hanging(f"{ruleset.title}: what {examples}", "bold", indent=0)


def fit_lines(screen: Screen, fit: Fit) -> Iterator[str]:
    """What the examples say of one parameter."""
    yield ""
    used = f"; used by {', '.join(fit.rules) or 'no rule'}" if fit.tried else ""
    yield screen.line((fit.parameter.name, "bold"), (f"  now {const_words(fit.parameter.value)}{used}", ""))
    yield from map(screen.hanging, _fit_lines(fit))


def _fit_lines(fit: Fit) -> Iterator[str]:
    bounds = f"from {_value(fit.tried[0])} to {_value(fit.tried[-1])}" if fit.tried else ""
    if not fit.tried:
        yield "not tried: it has no bounds, or nothing that goes in steps between them"
    elif len(fit.passing) == len(fit.tried):
        yield f"every value {bounds} lets all examples pass: they decide nothing"
    elif not fit.passing:
        yield f"no value {bounds} lets all examples pass"
    elif len(fit.edges) == 1:
        yield f"tightest: {_value(fit.edges[0].value)}"
    else:
        yield f"let all examples pass: {', '.join(map(_value, fit.passing))}"
    for edge in fit.edges:
        yield _edge_words(edge)


def _edge_words(edge: Edge) -> str:
    exercise, finding = edge.rejected[0]
    origin = f" ({exercise.origin.file})" if exercise.origin else ""
    where = f"{place_words(finding.bar, finding.beat)}, {finding.rule}"
    rejected = counted(edge.examples, "example")
    return f"{_value(edge.beyond)} would reject {rejected}, first ‘{exercise.title}’{origin}: {where}"


def _value(written: str) -> str:
    """A value that was tried, as it is said: intervals by their names, pitches without the word."""
    try:
        interval = interval_of(written)
    except ValueError:
        return written.removeprefix("pitch ")
    return interval_words(quality(interval), size(interval))


def nearness_lines(screen: Screen, rules: Sequence[Nearness]) -> Iterator[str]:
    """In how many examples each rule had something to look at, found something, or excused it."""
    heading = "rule: in how many examples it looked somewhere; found something; excused something"
    yield from ("", screen.hanging(heading, "bold", indent=0))
    for each in rules:
        yield screen.line((f"  {each.rule:32} {each.looked:6} {each.broken:6} {each.excused:6}", ""))
