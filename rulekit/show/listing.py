"""A ruleset laid open, and how its own examples went, for a person."""

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text

from rulekit.compiler.monitor import Budget, Monitor
from rulekit.language.combining import PASSED_OVER
from rulekit.language.ruleset import Parameter, Ruleset
from rulekit.language.typed import Rule
from rulekit.severity import Severity
from rulekit.show.grid import STYLES
from rulekit.show.reasons import reason
from rulekit.show.report import print_hanging
from rulekit.show.words import (
    Wording,
    bounds_words,
    const_words,
    counted,
    message_words,
    place_words,
    source_words,
    weight_words,
)
from rulekit.trying import Breach, Trial, why


def print_ruleset(console: Console, ruleset: Ruleset, running: Sequence[Monitor], voices: int) -> None:
    """Print the rules in force with their weight, memory and cost, the parameters, and what was changed.

    ``running`` are the ruleset's monitors for exercises in so many ``voices``.
    """
    console.print(Text(ruleset.title, style="bold"))
    size = f"{counted(len(ruleset.rules), 'rule')}; cost and memory for {counted(voices, 'voice')}"
    console.print(Text(size, style="dim"))
    wording = Wording(ruleset)
    for rule in ruleset.rules:
        mine = [monitor for monitor in running if monitor.rule == rule]
        console.print()
        weight = weight_words(rule.weight), STYLES[rule.weight.severity]
        console.print(Text.assemble((rule.name, "bold"), "  ", weight))
        for line in _rule_lines(rule, wording, mine, ruleset):
            print_hanging(console, Text(line))
    _print_section(console, "Parameters", [_parameter_words(parameter) for parameter in ruleset.parameters])
    made = [f"{c.name}: {c.what}, by {c.origin}" for c in ruleset.changes if c.what != PASSED_OVER]
    _print_section(console, "Changes", made)
    passed = ", ".join(c.name for c in ruleset.changes if c.what == PASSED_OVER)
    _print_section(console, "Not there, so passed over by what is laid over it", [passed] if passed else [])


def _print_section(console: Console, heading: str, lines: Sequence[str]) -> None:
    if lines:
        console.print()
        console.print(Text(heading, style="bold"))
    for line in lines:
        print_hanging(console, Text(line))


def _rule_lines(rule: Rule, wording: Wording, running: Sequence[Monitor], ruleset: Ruleset) -> Iterator[str]:
    yield message_words(rule)
    yield f"{wording.subject(rule)}; {_need_words(running)}"
    for licence in rule.licences:
        yield f"excused{f' as {licence.name}' if licence.name else ''}: {licence.reason}"
    changes = [f"{change.what} by {change.origin}" for change in ruleset.changes if change.name == rule.name]
    sources = [f"source: {words}" for words in [source_words(rule.source)] if words]
    yield "; ".join([f"from {rule.origin}", *changes, *sources])


def _need_words(running: Sequence[Monitor]) -> str:
    """Memory and cost of the monitors of one rule."""
    if not running:
        return "watches nothing here"
    budget = running[0].budget
    watched = f" on each of {len(running)}" if len(running) > 1 else ""
    return f"{_memory_words(budget)}; {counted(budget.parts, 'part')} to look at{watched}"


def _memory_words(budget: Budget) -> str:
    spans = {"back": budget.back, "ahead": budget.ahead}
    parts = [f"{number} {way}" for way, number in spans.items() if number]
    if budget.notes_ahead:
        parts.append(f"{counted(budget.notes_ahead, 'note')} ahead")
    parts += budget.streams
    return f"remembers {', '.join(parts)}" if parts else "needs no memory"


def _parameter_words(parameter: Parameter) -> str:
    article = "an" if parameter.type[0] in "aeiou" else "a"
    bounds = bounds_words(parameter)
    note = f" ({parameter.note})" if parameter.note else ""
    said = f"{parameter.name} is {const_words(parameter.value)}{note}"
    return ", ".join([said, *([f"{article} {parameter.type} {bounds}"] if bounds else []), f"from {parameter.origin}"])


def print_trials(console: Console, ruleset: Ruleset, trials: Sequence[Trial]) -> None:
    """Print how the examples of a ruleset went: what failed, what is overturned, what tests nothing; then numbers."""
    if not trials:
        console.print(Text("There are no examples.", style="bold"))
        return
    failed = [trial for trial in trials if not trial.passed]
    for trial in failed:
        _print_trial(console, trial, "failed", STYLES[Severity.FAULT])
        print_hanging(console, Text(f"expected: {_expected_words(trial)}"))
        print_hanging(console, Text(f"found:    {_breach_words(trial.found)}"))
        for each in why(ruleset, trial):
            print_hanging(console, Text(f"{place_words(each.bar, each.beat)}: {reason(each)}"))
    overturned = [trial for trial in trials if trial.overturned]
    for trial in overturned:
        _print_trial(console, trial, "is overturned here", STYLES[Severity.WARNING])
        print_hanging(console, Text(f"there: {_expected_words(trial)}; here: {_breach_words(trial.found)}"))
    for trial in trials:
        if trial.idle and not trial.overturned:
            _print_trial(
                console, trial, "tests nothing: it has no place that the rule looks at", STYLES[Severity.WARNING]
            )
    tried = {trial.rule for trial in trials}
    without = [rule.name for rule in ruleset.rules if rule.name not in tried]
    if without:
        console.print(Text(f"Rules without an example: {', '.join(without)}", style=STYLES[Severity.WARNING]))
    passed = len(trials) - len(failed) - len(overturned)
    more = f", {len(overturned)} overturned by this ruleset" if overturned else ""
    console.print(Text(f"{passed} of {counted(len(trials), 'example')} as expected{more}", style="bold"))


def _print_trial(console: Console, trial: Trial, what: str, style: str) -> None:
    told = f"‘{trial.title}’" if trial.title else f"an example of {trial.rule}"
    console.print(Text(f"{trial.path}:{trial.line}: {told} {what}", style=style), soft_wrap=True)


def _expected_words(trial: Trial) -> str:
    licence = trial.example.licence
    return f"excused as {licence}" if licence else _breach_words(trial.expected)


def _breach_words(breaches: Sequence[Breach]) -> str:
    words = [f"{rule} {'overall' if bar is None else f'at bar {bar}'}" for rule, bar in breaches]
    return ", ".join(words) or "nothing"
