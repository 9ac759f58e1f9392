"""The rule sheet of a ruleset for students, as Markdown."""

from collections.abc import Iterator

from rulekit.language.ruleset import Parameter, Ruleset
from rulekit.language.syntax import ExampleItem
from rulekit.language.typed import Rule
from rulekit.show.words import Wording, bounds_words, clean, const_words, message_words, weight_words

_HEADINGS = {"fault": "Faults", "warning": "Warnings", "advice": "Advice"}
_SPECIAL = str.maketrans({sign: f"\\{sign}" for sign in r"\`*_[]<>#|"})


def handout(ruleset: Ruleset) -> str:
    """The rule sheet: the rules by severity, each with what it asks, its licences, examples and source."""
    lines = [f"# {_plain(ruleset.title)}", ""]
    wording = Wording(ruleset)
    for severity, heading in _HEADINGS.items():
        rules = [rule for rule in ruleset.rules if rule.weight.severity == severity]
        if rules:
            lines += [f"## {heading}", ""]
        for rule in rules:
            lines += _rule_lines(rule, wording)
    if ruleset.parameters:
        lines += ["## Values in force", "", *map(_parameter_line, ruleset.parameters), ""]
    return "\n".join(lines)


def _rule_lines(rule: Rule, wording: Wording) -> Iterator[str]:
    yield f"### {rule.name.replace('-', ' ').capitalize()}"
    yield ""
    yield f"*{_plain(message_words(rule).replace('{', '‹').replace('}', '›'))}*"
    yield ""
    yield f"- Looked at: {_plain(wording.subject(rule))}"
    for place in wording.clauses(rule, "at", "in", "except"):
        yield f"- Only there: {_plain(place)}" if not place.startswith("except") else f"- {_plain(place).capitalize()}"
    for condition in wording.clauses(rule, "when"):
        yield f"- {_plain(condition).capitalize()}"
    for demand in wording.clauses(rule, "require", "forbid"):
        kind, _, condition = demand.partition(" ")
        yield f"- **{'Always' if kind == 'require' else 'Never'}:** {_plain(condition)}"
    for licence in rule.licences:
        yield f"- Excused{f' ({licence.name})' if licence.name else ''}: {_plain(licence.reason)}"
    yield f"- Weight: {weight_words(rule.weight)}"
    yield f"- Source: {_plain(rule.source)}"
    yield ""
    for example in rule.examples:
        yield from _example_lines(example)


def _example_lines(example: ExampleItem) -> Iterator[str]:
    bars = [breach.bar for breach in example.breaches if breach.bar is not None]
    places = f" (bar{'s' if len(bars) > 1 else ''} {', '.join(map(str, bars))})" if bars else ""
    yield f"Not so{places}:" if example.breaches else "So:"
    yield ""
    yield "```text"
    yield from (clean(line).strip() for line in example.text.splitlines())
    yield "```"
    yield ""


def _parameter_line(parameter: Parameter) -> str:
    bounds = bounds_words(parameter)
    note = f": {_plain(parameter.note)}" if parameter.note else ""
    return f"- {parameter.name} is {_plain(const_words(parameter.value))}{f' ({bounds})' if bounds else ''}{note}"


def _plain(text: str) -> str:
    """Text that Markdown is not to read as its own signs."""
    return clean(text).translate(_SPECIAL)
