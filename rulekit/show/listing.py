"""A ruleset laid open, and how its own examples went, for a person."""

from collections.abc import Iterator, Sequence

from rulekit.compiler.monitor import Budget, Monitor
from rulekit.language.ruleset import PASSED_OVER, Parameter, Ruleset
from rulekit.language.typed import Rule
from rulekit.severity import Severity
from rulekit.show.grid import STYLES
from rulekit.show.reasons import reason, tried_words
from rulekit.show.terminal import Screen
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


def ruleset_lines(screen: Screen, ruleset: Ruleset, running: Sequence[Monitor], voices: int) -> Iterator[str]:
    """The rules in force with their weight, memory and cost, the parameters, and what was changed.

    ``running`` are the ruleset's monitors for exercises in so many ``voices``.
    """
    yield screen.hanging(ruleset.title, "bold", indent=0)
    size = f"{counted(len(ruleset.rules), 'rule')}; cost and memory for {counted(voices, 'voice')}"
    yield screen.hanging(size, "dim", indent=0)
    wording = Wording(ruleset)
    for rule in ruleset.rules:
        mine = [monitor for monitor in running if monitor.rule == rule]
        weight = weight_words(rule.weight), STYLES[rule.weight.severity]
        yield from ("", screen.line((rule.name, "bold"), ("  ", ""), weight))
        yield from map(screen.hanging, _rule_lines(rule, wording, mine, ruleset))
    yield from _section(screen, "Parameters", [_parameter_words(parameter) for parameter in ruleset.parameters])
    made = [f"{c.name}: {c.what}, by {c.origin}" for c in ruleset.changes if c.what != PASSED_OVER]
    yield from _section(screen, "Changes", made)
    passed = ", ".join(c.name for c in ruleset.changes if c.what == PASSED_OVER)
    yield from _section(screen, "Not there, so passed over by what is laid over it", [passed] if passed else [])


def _section(screen: Screen, heading: str, lines: Sequence[str]) -> Iterator[str]:
    if lines:
        yield from ("", screen.line((heading, "bold")), *map(screen.hanging, lines))


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


def _spots(found: Sequence[Breach]) -> str:
    """Where an example breaks its rule, as an author writes it."""
    bars = [str(bar) for _, bar in found if bar is not None]
    return f"at bar{'s' if bars[1:] else ''} {', '.join(bars)}" if bars else "overall"


def format_lines(files: Sequence[tuple[str, bool]], check: bool) -> Iterator[str]:
    """The files that were not in their layout; ``check``: they still are not."""
    for path, in_layout in files:
        if not in_layout:
            yield f"{path}: {'is not in its layout' if check else 'laid out'}"


def trial_lines(screen: Screen, ruleset: Ruleset, trials: Sequence[Trial]) -> Iterator[str]:
    """How the examples of a ruleset went: what failed, what is overturned, what tests nothing; then numbers."""
    if not trials:
        yield screen.line(("There are no examples.", "bold"))
        return
    failed = [trial for trial in trials if not trial.passed]
    for trial in failed:
        yield _told(screen, trial, "failed", Severity.FAULT)
        yield screen.hanging(f"expected: {_expected_words(trial)}")
        yield screen.hanging(f"found:    {_breach_words(trial.found)}")
        if trial.rule and trial.expected and trial.found and not trial.example.licence:
            yield screen.hanging(f"If the rule is as it should be, write: rejects {_spots(trial.found)}")
        for each in why(ruleset, trial):
            yield screen.hanging(f"{place_words(each.bar, each.beat)}: {reason(each)}")
            if each.outcome == "broken":
                yield from map(screen.hanging, tried_words(each))
    overturned = [trial for trial in trials if trial.overturned]
    for trial in overturned:
        yield _told(screen, trial, "is overturned here")
        yield screen.hanging(f"there: {_expected_words(trial)}; here: {_breach_words(trial.found)}")
    for trial in trials:
        if trial.idle and not trial.overturned:
            yield _told(screen, trial, "tests nothing: it has no place that the rule looks at")
    tried = {trial.rule for trial in trials}
    without = [rule.name for rule in ruleset.rules if rule.name not in tried]
    if without:
        yield screen.hanging(f"Rules without an example: {', '.join(without)}", STYLES[Severity.WARNING], indent=0)
    passed = len(trials) - len(failed) - len(overturned)
    more = f", {len(overturned)} overturned by this ruleset" if overturned else ""
    yield screen.hanging(f"{passed} of {counted(len(trials), 'example')} as expected{more}", "bold", indent=0)


def _told(screen: Screen, trial: Trial, what: str, severity: Severity = Severity.WARNING) -> str:
    told = f"‘{trial.title}’" if trial.title else f"an example of {trial.rule}"
    return screen.line((f"{trial.path}:{trial.line}: {told} {what}", STYLES[severity]))


def _expected_words(trial: Trial) -> str:
    licence = trial.example.licence
    return f"excused as {licence}" if licence else _breach_words(trial.expected)


def _breach_words(breaches: Sequence[Breach]) -> str:
    words = [f"{rule} {'overall' if bar is None else f'at bar {bar}'}" for rule, bar in breaches]
    return ", ".join(words) or "nothing"
