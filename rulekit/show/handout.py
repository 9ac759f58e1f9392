"""The rule sheet of a ruleset for students, as Markdown."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from rulekit.language.ruleset import Parameter, Ruleset
from rulekit.language.tree import ExampleItem
from rulekit.language.typed import Rule
from rulekit.marking import mark
from rulekit.music.mode import Mode
from rulekit.music.pitch import semitone
from rulekit.music.solmization import degree_name, letter_name, movable_syllable, scale
from rulekit.sentences import GROUPS, group_of, sentence
from rulekit.show.terminal import clean
from rulekit.show.words import bounds_words, const_words, place_words, source_words, weight_words
from rulekit.trying import read_example, try_ruleset

_SPECIAL = str.maketrans({sign: f"\\{sign}" for sign in r"\`*_[]<>#|"})


def handout(ruleset: Ruleset, mode: Mode | None = None) -> str:
    """The rule sheet: the mode if one is given, then the rules by what they are about, told for students.

    Each has a sentence where there is a plain one, its licences, examples and source. Examples from files that are
    built on stand there only if they still come out as they say.
    """
    lines = [f"# {_plain(ruleset.title)}", "", *(_mode_lines(mode) if mode else ())]
    overturned = {(trial.rule, trial.example) for trial in try_ruleset(ruleset) if trial.overturned}
    for number, heading in enumerate(GROUPS):
        rules = [rule for rule in ruleset.rules if group_of(rule) == number]
        if rules:
            lines += [f"## {heading}", ""]
        for rule in rules:
            examples = [example for example in rule.examples if (rule.name, example) not in overturned]
            lines += _rule_lines(rule)
            lines += [line for each in _shortest(examples) for line in _example_lines(each, rule, ruleset)]
    if ruleset.parameters:
        lines += ["## Values in force", "", *map(_parameter_line, ruleset.parameters), ""]
    return "\n".join(lines)


def _mode_lines(mode: Mode) -> Iterator[str]:
    """The scale in letters, degrees and syllables."""
    notes = scale(mode)
    gaps = [semitone(high) - semitone(low) == 1 for low, high in pairwise(notes)]
    narrow = [f"{letter_name(notes[i])}–{letter_name(notes[i + 1])}" for i, gap in enumerate(gaps) if gap]
    yield from (f"## The mode: {mode.final} {mode.name}", "")
    yield f"| letters | {' | '.join(map(letter_name, notes))} |"
    yield "|---" * (len(notes) + 1) + "|"
    yield f"| degrees | {' | '.join(degree_name(note, mode) for note in notes)} |"
    yield f"| movable syllables | {' | '.join(movable_syllable(note, mode) for note in notes)} |"
    yield from ("", f"Semitones: {', '.join(narrow)}", "")


def _rule_lines(rule: Rule) -> Iterator[str]:
    yield f"### {rule.name.replace('-', ' ').capitalize()}"
    yield ""
    said = sentence(rule)
    if said is not None:
        yield from (_plain(said), "")
    for licence in rule.licences:
        yield f"- Excused where: {_plain(licence.reason)}"
    yield f"- {weight_words(rule.weight).capitalize()}"
    if source_words(rule.source):
        yield f"- Source: {_plain(rule.source)}"
    yield ""


def _shortest(examples: Sequence[ExampleItem]) -> Iterator[ExampleItem]:
    """The first example that is accepted and the first that is rejected."""
    for rejected in (False, True):
        yield from [example for example in examples if bool(example.breaches) == rejected][:1]


def _example_lines(example: ExampleItem, rule: Rule, ruleset: Ruleset) -> Iterator[str]:
    yield f"Incorrect, {_plain(_message(example, rule, ruleset))}" if example.breaches else "Correct:"
    yield ""
    yield "```text"
    yield from (clean(line).strip() for line in example.text.splitlines())
    yield "```"
    yield ""


def _message(example: ExampleItem, rule: Rule, ruleset: Ruleset) -> str:
    """What the rule says of the first fault in an example."""
    exercises, _ = read_example(example)
    findings = mark(exercises[0], replace(ruleset, rules=(rule,))).findings
    return next((f"{place_words(f.bar)}: {f.message}" for f in findings if f.excuse is None), "")


def _parameter_line(parameter: Parameter) -> str:
    bounds = bounds_words(parameter)
    note = f": {_plain(parameter.note)}" if parameter.note else ""
    return f"- {parameter.name} is {_plain(const_words(parameter.value))}{f' ({bounds})' if bounds else ''}{note}"


def _plain(text: str) -> str:
    """Text that Markdown is not to read as its own signs."""
    return clean(text).translate(_SPECIAL)
