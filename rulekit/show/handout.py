"""The rule sheet of a ruleset for students, as Markdown."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import cast

from rulekit.language.ruleset import Parameter, Ruleset
from rulekit.language.tree import ExampleItem
from rulekit.language.typed import Const, Pattern, Rule, Type, Weight
from rulekit.marking import mark
from rulekit.music.mode import Mode
from rulekit.music.pitch import SIZES, semitone
from rulekit.music.solmization import degree_name, movable_syllable, scale
from rulekit.sentences import GROUPS, group_of, name, sentence
from rulekit.show.terminal import clean
from rulekit.show.words import const_words, source_words
from rulekit.trying import read_example, try_ruleset
from rulekit.words import Words, words

_SPECIAL = str.maketrans({sign: f"\\{sign}" for sign in r"\`*_[]<>#|"})


def handout(ruleset: Ruleset, mode: Mode | None = None, language: str = "en") -> str:
    """The rule sheet: the mode if one is given, then the rules by what they are about, told for students.

    Each has a sentence where there is a plain one, its licences, examples and source. Examples from files that are
    built on stand there only if they still come out as they say.
    """
    said = words(language)
    title = said.titled(ruleset.title).text
    lines = [f"# {_plain(title)}", "", *(_mode_lines(mode, said) if mode else ())]
    overturned = {(trial.rule, trial.example) for trial in try_ruleset(ruleset) if trial.overturned}
    for number, heading in enumerate(GROUPS):
        rules = [rule for rule in ruleset.rules if group_of(rule) == number]
        if rules:
            lines += [f"## {said.say(heading)}", ""]
        for rule in rules:
            examples = [example for example in rule.examples if (rule.name, example) not in overturned]
            lines += _rule_lines(rule, said)
            lines += [line for each in _shortest(examples) for line in _example_lines(each, rule, ruleset, said)]
    if ruleset.parameters:
        values = [_parameter_line(parameter, said) for parameter in ruleset.parameters]
        lines += ["## " + said.say("Values in force"), "", *values, ""]
    return "\n".join(lines)


def _mode_lines(mode: Mode, said: Words) -> Iterator[str]:
    """The scale in letters, degrees and syllables."""
    notes = scale(mode)
    gaps = [semitone(high) - semitone(low) == 1 for low, high in pairwise(notes)]
    narrow = [f"{said.letter(notes[i])}–{said.letter(notes[i + 1])}" for i, gap in enumerate(gaps) if gap]
    yield from ("## " + said.say("The mode") + f": {said.mode(mode)}", "")
    yield _row(said.say("letters"), map(said.letter, notes))
    yield "|---" * (len(notes) + 1) + "|"
    yield _row(said.say("degrees"), (degree_name(note, mode) for note in notes))
    yield _row(said.say("movable syllables"), (movable_syllable(note, mode) for note in notes))
    yield from ("", said.say("Semitones") + f": {', '.join(narrow)}", "")


def _row(name: str, cells: Iterable[str]) -> str:
    return f"| {' | '.join([name, *cells])} |"


def _rule_lines(rule: Rule, said: Words) -> Iterator[str]:
    yield f"### {said.authored(name(rule.name)).text}"
    yield ""
    told = sentence(rule, said)
    if told is not None:
        yield from (_plain(told.text), "")
    for licence in rule.licences:
        yield "- " + said.say("Excused where") + f": {_plain(said.authored(licence.reason).text)}"
    yield f"- {_weight(rule.weight, said)}"
    source = source_words(rule.source)
    if source:
        yield "- " + said.say("Source") + f": {_plain(said.authored(source).text)}"
    yield ""


def _weight(weight: Weight, said: Words) -> str:
    """``Fault, 4 points, at most 12``."""
    severity = said.severity(weight.severity)
    parts = [severity[0].upper() + severity[1:]]
    if weight.points:
        parts.append(said.count("{number} point", "{number} points", weight.points))
    if weight.cap is not None:
        parts.append(said.say("at most {number}", number=weight.cap))
    return ", ".join([*parts, *([said.say("once")] if weight.once else [])])


def _shortest(examples: Sequence[ExampleItem]) -> Iterator[ExampleItem]:
    """The first example that is accepted and the first that is rejected."""
    for rejected in (False, True):
        yield from [example for example in examples if bool(example.breaches) == rejected][:1]


def _example_lines(example: ExampleItem, rule: Rule, ruleset: Ruleset, said: Words) -> Iterator[str]:
    if example.breaches:
        yield said.say("Incorrect") + f", {_plain(_message(example, rule, ruleset, said))}"
    else:
        yield said.say("Correct") + ":"
    yield ""
    yield "```text"
    yield from (clean(line).strip() for line in example.text.splitlines())
    yield "```"
    yield ""


def _message(example: ExampleItem, rule: Rule, ruleset: Ruleset, said: Words) -> str:
    """What the rule says of the first fault in an example."""
    exercises, _ = read_example(example)
    findings = mark(exercises[0], replace(ruleset, rules=(rule,))).findings
    found = next((f for f in findings if f.excuse is None), None)
    if found is None:
        return ""
    place = said.say("the whole exercise") if found.bar is None else said.say("bar {number}", number=found.bar)
    return f"{place}: {found.message}"


def _parameter_line(parameter: Parameter, said: Words) -> str:
    value = _plain(_const(parameter.value, said))
    note = f": {_plain(parameter.note)}" if parameter.note else ""
    told = said.say("{name} is {value}", name=parameter.name, value=value)
    return f"- {told}{_bounds(parameter, said)}{note}"


def _bounds(parameter: Parameter, said: Words) -> str:
    if parameter.low is None or parameter.high is None:
        return ""
    low, high = _const(parameter.low, said), _const(parameter.high, said)
    return " (" + said.say("from {low} to {high}", low=low, high=high) + ")"


def _const(const: Const, said: Words) -> str:
    """A known value, intervals by their names."""
    if const.type != Type.INTERVAL:
        return const_words(const)
    patterns = cast("tuple[Pattern, ...]", const.value)
    return ", ".join(said.quality_and_size(each.quality, min(each.high, len(SIZES))) for each in patterns)


def _plain(text: str) -> str:
    """Text that Markdown is not to read as its own signs."""
    return clean(text).translate(_SPECIAL)
