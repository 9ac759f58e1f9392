"""Trying a ruleset on its own examples: each must break exactly what it says, and nothing else."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rulekit.beside import Beside
from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.respelling import mended
from rulekit.explaining import Explained, explain
from rulekit.language.ruleset import Ruleset
from rulekit.language.tree import ExampleItem
from rulekit.language.typed import Rule, Stream, walk
from rulekit.marking import Finding, mark

_ALONE = Beside(dict[str, Ruleset])
_EVERYWHERE = "wherever it looks"  # no name that a rule can have

Breach = tuple[str, int | None]  # the rule and the bar (from 1), None for the whole


@dataclass(frozen=True, slots=True)
class Trial:
    """One example run: ``rule`` is the rule it belongs to, None if it is judged by the whole ruleset.

    ``expected`` and ``found`` are breaches in order, ``licences`` the licences that excused something.
    ``inherited``: it comes from a file that is built on. ``idle``: its rule finds no place there to look at.
    """

    rule: str | None
    example: ExampleItem
    expected: tuple[Breach, ...]
    found: tuple[Breach, ...]
    licences: tuple[str, ...] = ()
    inherited: bool = False
    idle: bool = False

    @property
    def title(self) -> str:
        """What the example is called, if it has a title."""
        return self.example.title

    @property
    def path(self) -> str:
        """The file that it stands in."""
        return self.example.span.path

    @property
    def line(self) -> int:
        """The line, from 1, on which its notes start."""
        return self.example.first_line

    @property
    def holds(self) -> bool:
        """Whether it broke exactly what it says, and was excused by what it says."""
        licence = self.example.licence
        return self.expected == self.found and (not licence or licence in self.licences)

    @property
    def overturned(self) -> bool:
        """Whether this ruleset judges an example of another file otherwise than that file says."""
        return self.inherited and not self.holds

    @property
    def passed(self) -> bool:
        """Whether nothing is wrong with it: what a ruleset changes on purpose may come out otherwise."""
        return self.holds or self.overturned


def try_ruleset(ruleset: Ruleset) -> tuple[Trial, ...]:
    """Run the examples of all rules in force: those in a rule by that rule alone, the others by all rules.

    Examples from files that are built on are judged as the rules stand here. An excused finding is no breach.
    Raises RulekitError when the notes of an example can't be read.
    """
    problems: list[Diagnostic] = []
    trials: list[Trial] = []
    examples = [(rule, example) for rule in ruleset.rules for example in rule.examples]
    for rule, example in [*examples, *((None, example) for example in ruleset.examples)]:
        try:
            trials.append(try_example(ruleset, rule, example))
        except RulekitError as error:
            problems += error.diagnostics
    if problems:
        raise RulekitError(problems)
    return tuple(trials)


def try_example(ruleset: Ruleset, rule: Rule | None, example: ExampleItem) -> Trial:
    """Run one example, by the rule it stands in alone, or else by all; raises RulekitError if it can't be read."""
    exercises, wrong = read_example(example)
    if wrong:
        raise RulekitError(wrong)
    return _trial(ruleset, rule, example, exercises[0])


def read_example(example: ExampleItem) -> tuple[list[Exercise], list[Diagnostic]]:
    """The exercise of an example, with mistakes placed in the rules file."""
    exercises, wrong = read_exercises(example.text, example.span.path, example.first_line, example.columns)
    wrong = [_mended(example, each) for each in wrong]
    if not wrong and len(exercises) != 1:
        wrong = [_problem(example, f"an example is one exercise, but here are {len(exercises)}")]
    elif not wrong and len({voice.length for voice in exercises[0].voices}) > 1:
        wrong = [_uneven(example, exercises[0])]
    return exercises, wrong


def _mended(example: ExampleItem, problem: Diagnostic) -> Diagnostic:
    """A mistake in the notes with the line as it should be written, if that is clear."""
    lines, place = example.text.split("\n"), problem.line - example.first_line

    def is_read(line: str) -> bool:
        _, wrong = read_exercises("\n".join([*lines[:place], line, *lines[place + 1 :]]), "", 1)
        return all(each.line != place + 1 for each in wrong)

    found = mended(lines[place], is_read) if 0 <= place < len(lines) else ""
    return replace(problem, hint=f"{problem.hint}. Write: | {found.strip()}") if found else problem


def _uneven(example: ExampleItem, exercise: Exercise) -> Diagnostic:
    shortest = min(exercise.voices, key=lambda voice: voice.length)
    short = (exercise.setting.length - shortest.length) / exercise.metre.bar_length
    message = f"in this example ‘{shortest.name}’ ends {float(short):g} bars before the longest voice"
    return _problem(example, message.replace(" 1 bars", " 1 bar"), "Write as many bars in each voice; ‘r’ is a rest.")


def _problem(example: ExampleItem, message: str, hint: str = "") -> Diagnostic:
    column = example.columns[0]
    line = " " * (column - 1) + "|" + example.text.split("\n")[0]
    return Diagnostic(example.span.path, example.first_line, column, len(line) - column + 1, message, hint, line)


def why(ruleset: Ruleset, trial: Trial) -> tuple[Explained, ...]:
    """What the rules saw in an example that went otherwise than it says, where it did."""
    exercises, _ = read_example(trial.example)
    places = sorted({*trial.expected} ^ {*trial.found}, key=str)
    if trial.example.licence and trial.rule and not places:
        return tuple(x for x in explain(exercises[0], ruleset, trial.rule) if x.outcome in ("broken", "excused"))
    known = {rule.name for rule in ruleset.rules}
    return tuple(each for name, bar in places if name in known for each in explain(exercises[0], ruleset, name, bar))


def _trial(ruleset: Ruleset, rule: Rule | None, example: ExampleItem, exercise: Exercise) -> Trial:
    name = None if rule is None else rule.name
    findings, idle = (mark(exercise, ruleset).findings, False) if rule is None else _judged(ruleset, rule, exercise)
    return Trial(
        rule=name,
        example=example,
        expected=_ordered({(breach.rule or name or "", breach.bar) for breach in example.breaches}),
        found=_ordered({(f.rule, f.bar) for f in findings if f.excuse is None}),
        licences=tuple(dict.fromkeys(f.excuse.name for f in findings if f.excuse is not None)),
        inherited=example.span.path != ruleset.path,
        idle=idle,
    )


def looks(rule: Rule, exercise: Exercise, ruleset: Ruleset) -> bool:
    """Whether a rule finds anywhere in an exercise what it speaks of, in a place where it holds."""
    return not _judged(ruleset, rule, exercise)[1]


def _judged(ruleset: Ruleset, rule: Rule, exercise: Exercise) -> tuple[Sequence[Finding], bool]:
    """What a rule finds by itself, and whether it has no place to look at."""
    found = mark(exercise, _alone(ruleset, rule)).findings
    own = [finding for finding in found if finding.rule == rule.name]
    return own, len(own) == len(found)


def _alone(ruleset: Ruleset, rule: Rule) -> Ruleset:
    """A rule of a ruleset by itself, beside one that is broken wherever it looks; made once for all examples."""
    known = _ALONE.of(ruleset)
    if rule.name not in known:
        streams = rule.streams if any(isinstance(part, Stream) for part in walk(rule.where)) else ()
        everywhere = replace(rule, name=_EVERYWHERE, broken=rule.where, licences=(), message=(), streams=streams)
        known[rule.name] = replace(ruleset, rules=(rule, everywhere))
    return known[rule.name]


def _ordered(breaches: set[Breach]) -> tuple[Breach, ...]:
    return tuple(sorted(breaches, key=lambda breach: (breach[1] is None, breach[1] or 0, breach[0])))
