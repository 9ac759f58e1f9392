"""A ruleset laid open, and how its own examples went, for a person."""

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text

from rulekit.compiler.monitor import Budget, Monitor
from rulekit.language.ruleset import Parameter, Ruleset
from rulekit.language.typed import Rule
from rulekit.show.grid import STYLES
from rulekit.show.report import print_hanging
from rulekit.show.words import Wording, bounds_words, clean, const_words, counted, message_words, weight_words
from rulekit.trying import Breach, Trial


def print_ruleset(console: Console, ruleset: Ruleset, running: Sequence[Monitor], voices: int) -> None:
    """Print the rules in force with their weight, memory and cost, the parameters, and what was changed.

    ``running`` are the ruleset's monitors for exercises in so many ``voices``.
    """
    console.print(Text(clean(ruleset.title), style="bold"))
    size = f"{counted(len(ruleset.rules), 'rule')}; cost and memory for {counted(voices, 'voice')}"
    console.print(Text(size, style="dim"))
    wording = Wording(ruleset)
    for rule in ruleset.rules:
        mine = [monitor for monitor in running if monitor.rule == rule]
        console.print()
        weight = weight_words(rule.weight), STYLES[rule.weight.severity]
        console.print(Text.assemble((rule.name, "bold"), "  ", weight))
        for line in _rule_lines(rule, wording, mine, ruleset):
            print_hanging(console, Text(clean(line)))
    _print_section(console, "Parameters", [_parameter_words(parameter) for parameter in ruleset.parameters])
    _print_section(console, "Changes", [f"{c.name}: {c.what}, by {c.origin}" for c in ruleset.changes])


def _print_section(console: Console, heading: str, lines: Sequence[str]) -> None:
    if lines:
        console.print()
        console.print(Text(heading, style="bold"))
    for line in lines:
        print_hanging(console, Text(clean(line)))


def _rule_lines(rule: Rule, wording: Wording, running: Sequence[Monitor], ruleset: Ruleset) -> Iterator[str]:
    yield message_words(rule)
    yield f"{wording.subject(rule)}; {_need_words(running)}"
    for licence in rule.licences:
        yield f"excused{f' as {licence.name}' if licence.name else ''}: {licence.reason}"
    changes = [f"{change.what} by {change.origin}" for change in ruleset.changes if change.name == rule.name]
    yield "; ".join([f"from {rule.origin}", *changes, f"source: {rule.source}"])


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
    """Print how the examples of a ruleset went: those that failed in full, the others as a number."""
    if not trials:
        console.print(Text("There are no examples.", style="bold"))
        return
    failed = [trial for trial in trials if not trial.passed]
    for trial in failed:
        told = f"‘{trial.title}’" if trial.title else f"an example of {trial.rule}"
        console.print(Text(clean(f"{trial.path}:{trial.line}: {told} failed"), style=STYLES["fault"]), soft_wrap=True)
        print_hanging(console, Text(f"expected: {_breach_words(trial.expected)}"))
        print_hanging(console, Text(f"found:    {_breach_words(trial.found)}"))
    tried = {trial.rule for trial in trials}
    without = [rule.name for rule in ruleset.rules if rule.name not in tried]
    if without:
        console.print(Text(f"Rules without an example: {', '.join(without)}", style=STYLES["warning"]))
    passed = len(trials) - len(failed)
    console.print(Text(f"{passed} of {counted(len(trials), 'example')} as expected", style="bold"))


def _breach_words(breaches: Sequence[Breach]) -> str:
    words = [f"{rule} {'overall' if bar is None else f'at bar {bar}'}" for rule, bar in breaches]
    return ", ".join(words) or "nothing"
