"""Do the examples in the shipped rulesets hold their rules in place?

Each rule is spoilt in one spot at a time: switched off, a set of intervals one wider, a bound one larger or
smaller, a parameter one off. A spoilt rule is noticed when one of its own examples comes out differently.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from rulekit.diagnostics import RulekitError
from rulekit.language import typed
from rulekit.language.library import shipped_names
from rulekit.language.loading import load_text
from rulekit.resources import shipped
from rulekit.trying import try_ruleset

# Spoilt in a way that makes no difference to any music, and why.
NO_DIFFERENCE = {
    "cambiata: third → (third or second)": "three steps of which the second note passes are allowed as they are",
    "neighbours-above-first: third → (third or second)": "a neighbour note is allowed as it is",
    "neighbours-below-first: third → (third or second)": "a neighbour note is allowed as it is",
    "downbeat-parallels: P5 → (P5 or m6)": "the rule speaks of perfect consonances only",
    "downbeat-parallels: P5 → (P5 or d5)": "the rule speaks of perfect consonances only",
    "delayed-octaves: P8 → (P8 or m9)": "no dissonance falls by step to a ninth, if none is altered",
    "delayed-octaves: P8 → (P8 or M7)": "no dissonance falls by step to a seventh, if none is altered",
    "delayed-octaves: P1 → (P1 or m2)": "no dissonance falls by step to a second, if none is altered",
    "eighths-by-step: third → (third or second)": "steps are allowed as they are",
    "upper-voices-agree: A4 → (A4 or P5)": "the perfect fifth is not forbidden",
    "upper-voices-agree: A4 → (A4 or P4)": "the perfect fourth is not forbidden",
    "upper-voices-pass: A4 → (A4 or P5)": "the perfect fifth is not forbidden",
    "upper-voices-pass: A4 → (A4 or P4)": "the perfect fourth is not forbidden",
    "upper-voices-pass: d5 → (d5 or P5)": "the perfect fifth is not forbidden",
    "upper-voices-pass: d5 → (d5 or P4)": "the perfect fourth is not forbidden",
    "singable-leap: m3 → (m3 or M2)": "where leaps are judged, the major second is allowed too",
    "singable-leap: M3 → (M3 or M2)": "where leaps are judged, the major second is allowed too",
    "singable-leap: P4 → (P4 or M2)": "where leaps are judged, the major second is allowed too",
    "singable-leap: P8 → (P8 or m9)": "what is wider than an octave is another rule’s affair",
    "full-chord: P5 → (P5 or m6)": "a sixth is allowed beside it",
    "doubled-leading-note: P1 → (P1 or m2)": "the leading note’s lower semitone, such as B# under C#, is never written",
    "upper-voices-agree: d5 → (d5 or P5)": "the perfect fifth is not forbidden",
    "upper-voices-agree: d5 → (d5 or P4)": "the perfect fourth is not forbidden",
    "resolution-not-struck: P1 → (P1 or m2)": "no dissonance falls by step to a second, if none is altered",
    "resolution-not-struck: P8 → (P8 or m9)": "no dissonance falls by step to a ninth, if none is altered",
    "resolution-not-struck: P8 → (P8 or M7)": "no dissonance falls by step to a seventh, if none is altered",
    "standing-still: most-repetitions, usually 2": "the file sets it",
    "standing-still: most-repetitions, usually 0": "the file sets it",
    "doubled-leading-note: P8 → (P8 or m9)": "the leading note’s lower semitone, such as B# under C#, is never written",
    "battuta: M10 → (M10 or M9)": "contrary motion that closes in on an octave comes from a tenth or wider",
    "battuta: m10 → (m10 or M9)": "contrary motion that closes in on an octave comes from a tenth or wider",
    "battuta: P8 → (P8 or m9)": "a tenth that closes in by contrary motion gets narrower than a ninth",
    "melodic-intervals: m2 → (m2 or m3)": "the minor third is among the leaps",
    "melodic-intervals: m2 → (m2 or P1)": "the rule speaks of steps and leaps only",
    "melodic-intervals: largest-leap, usually M7": "the octave, which then is another rule’s affair, is allowed",
    "melodic-intervals: M2 → (M2 or m3)": "the minor third is among the leaps",
    "melodic-intervals: M2 → (M2 or P1)": "the rule speaks of steps and leaps only",
    "singable-cantus: M2 → (M2 or m3)": "the minor third is among the leaps",
    "singable-cantus: M2 → (M2 or P1)": "the rule speaks of steps and leaps only",
    "singable-cantus: m2 → (m2 or m3)": "the minor third is among the leaps",
    "singable-cantus: m2 → (m2 or P1)": "the rule speaks of steps and leaps only",
    "singable-cantus: cantus-leap, usually M7": "the octave, which then is another rule’s affair, is allowed",
    "opening-below: P1 → (P1 or m2)": "the rule speaks of perfect consonances only",
    "opening-below: P8 → (P8 or m9)": "the rule speaks of perfect consonances only",
    "opening-below: P8 → (P8 or M7)": "the rule speaks of perfect consonances only",
    "leading-note-rises: m2 → (m2 or P1)": "a unison does not rise",
    "close: P1 → (P1 or m2)": "by steps in both voices a third or sixth goes to no second",
    "close: P8 → (P8 or m9)": "by steps in both voices a third or sixth goes to no ninth",
    "close: P8 → (P8 or M7)": "by steps in both voices a third or sixth goes to no seventh",
    "close: m3 → (m3 or M2)": "by steps in both voices no second goes to a unison or octave",
    "close: M6 → (M6 or m7)": "by steps in both voices no seventh goes to an octave",
    "nearest-perfect: P1 → (P1 or m2)": "the rule speaks of perfect consonances only",
    "nearest-perfect: P8 → (P8 or m9)": "the rule speaks of perfect consonances only",
    "nearest-perfect: P8 → (P8 or M7)": "the rule speaks of perfect consonances only",
    "nearest-perfect: m6 → (m6 or P5)": "no fifth goes to a unison or octave by contrary steps",
    "nearest-perfect: M3 → (M3 or P4)": "no fourth goes to a unison or octave by contrary steps",
    "nearest-perfect: P5 → (P5 or m6)": "the rule speaks of perfect consonances only",
    "nearest-perfect: P5 → (P5 or d5)": "the rule speaks of perfect consonances only",
    "nearest-perfect: m3 → (m3 or M2)": "no second goes to a fifth by contrary steps",
}
STATEMENT = re.compile(
    r"^(?=(?:ruleset|overlay|build|use|take|lay|parameter|set|define|rule|replace|drop|adjust|excuse|example)\b)", re.M
)
PASSED_OVER = re.compile(r'"[^"\n]*"|--[^\n]*|^\s*\|[^\n]*|^  (?:accepts|rejects|fault|warning|advice)[^\n]*', re.M)
INTERVALS = "P1 m2 M2 m3 M3 P4 A4 d5 P5 m6 M6 m7 M7 P8 m9 M9 m10 M10 P11 A11 P12 m13 M13 m14 M14 P15".split()
SIZES = "unison second third fourth fifth sixth seventh octave ninth tenth eleventh twelfth thirteenth".split()
WORD = re.compile(rf"(?<![\w-])(?:{'|'.join([*INTERVALS, *SIZES, 'd8', 'A8', 'd12', 'd15', 'A15'])})(?![\w-])")
CHOICE = re.compile(rf"{WORD.pattern}(?:(?:\s+or\s+|,\s+)(?:(?:rising|falling)\s+)?{WORD.pattern})*")
NUMBER = re.compile(r"(?<![\w-])\d+(?![\w%-])")
BOUND = re.compile(r"(?:at least|at most|more than|less than|wider than|narrower than)\s+$")
HEADED = re.compile(r"\b(?:rising|falling|exactly|then)\s+$")


@dataclass(frozen=True, slots=True)
class Mutant:
    """One rule with one spot spoilt, as a small rules file, and what was done."""

    rule: str
    change: str
    text: str


def statements(name: str) -> list[str]:
    return [part for part in STATEMENT.split((shipped("rulesets") / f"{name}.rules").read_text()) if part.strip()]


def head(name: str) -> list[str]:
    """What a rule of a file may refer to: definitions and parameters of the file and of what it builds on."""
    found: dict[str, str] = {}  # by what is defined there; of two meanings the later one holds
    for part in statements(name):
        if part.startswith("build on"):
            found |= {named(each): each for each in head(part.split()[2])}
        elif part.startswith("overlay"):
            found |= {named(each): each for each in head(part.split("usually on ")[1].split()[0])}
        elif part.startswith(("use", "parameter", "define", "replace define", "set")):
            found[named(part)] = part.removeprefix("replace ")
    return list(found.values())


def named(part: str) -> str:
    """The kind of a statement and the name in it."""
    return " ".join(part.removeprefix("replace ").split()[:2])


def hooks(name: str) -> list[str]:
    """The definitions of a file that only rules of the files it builds on use."""
    own = [part for part in statements(name) if part.startswith(("define", "replace define"))]
    return [part for part in own if not any(mentions(rule, {named(part).split()[1]}) for rule in rules(name))]


def rules(name: str) -> list[str]:
    own = (part for part in statements(name) if part.startswith(("rule ", "replace rule ")))
    return [re.sub(r"^(?:replace rule \S+ by |replace rule )", "rule ", part) for part in own]


def meaningful(text: str, pattern: re.Pattern[str]) -> Iterator[re.Match[str]]:
    """Matches outside quotes, comments, examples and grades."""
    blank = PASSED_OVER.sub(lambda match: " " * len(match[0]), text)
    return pattern.finditer(blank)


def spoilt(text: str) -> Iterator[tuple[str, str]]:
    """Every way to spoil one spot: what was done and the text after it."""

    def put(match: re.Match[str], new: str, told: str = "") -> tuple[str, str]:
        return f"{match[0]} → {told or new}", text[: match.start()] + new + text[match.end() :]

    def widened(match: re.Match[str], more: str) -> tuple[str, str]:
        """One value more, put as the list or the word before it wants it."""
        both = f"({match[0]} or {more})"
        if HEADED.search(text[: match.start()]):
            return put(match, both)
        listed = text[match.end() :].startswith(",")
        return put(match, f"{match[0]}, {more}" if listed else f"{match[0]} or {more}", both)

    for match in meaningful(text, NUMBER):
        if text[: match.start()].endswith(("note ", "notes ")):
            continue  # a place, not a bound
        yield put(match, str(int(match[0]) + 1))
        if int(match[0]) > 1:
            yield put(match, str(int(match[0]) - 1))
    for match in meaningful(text, WORD):
        row = INTERVALS if match[0] in INTERVALS else SIZES
        if match[0] not in row:
            continue
        at = row.index(match[0])
        (choice,) = [found[0] for found in CHOICE.finditer(text) if found.start() <= match.start() < found.end()]
        for near in (row[at + 1 :], row[:at][::-1]):
            free = [each for each in near if not re.search(rf"\b{each}\b", choice)]
            if free:
                bound = BOUND.search(text[: match.start()])
                yield put(match, free[0]) if bound else widened(match, free[0])


def mutants(name: str) -> Iterator[Mutant]:
    """The spoilt rules of a file, its definitions and parameters spoilt where a rule uses them."""
    before = head(name)
    for rule in rules(name):
        title = rule.split()[1]
        for change, text in spoilt(rule):
            yield Mutant(title, change, "".join([*before, text]))
        for place, part in enumerate(before):
            word = part.split()[1]
            if part.startswith(("parameter", "define")) and mentions(rule, {word}):
                if part.startswith("parameter"):
                    fixed, usual = part.split(", usually")
                    changes = [(change, f"{fixed}, usually{text}") for change, text in spoilt_usual(usual)]
                else:
                    changes = list(spoilt(part))
                for change, text in changes:
                    yield Mutant(
                        title, f"{word}, {change}", "".join([*before[:place], text, *before[place + 1 :], rule])
                    )


def spoilt_usual(text: str) -> Iterator[tuple[str, str]]:
    """A parameter's value one larger or smaller; a set with one of its values only."""
    found = [each for each in meaningful(text, re.compile(rf"{WORD.pattern}|{NUMBER.pattern}")) if each[0] != "or"]
    if len(found) > 1:
        yield from ((f"only {each[0]}", text[: found[0].start()] + each[0] + text[found[-1].end() :]) for each in found)
        return
    (match,) = found
    if match[0].isdigit():
        values = [str(int(match[0]) + shift) for shift in (1, -1)]
    else:
        at = INTERVALS.index(match[0])
        values = [INTERVALS[at + 1], INTERVALS[at - 1]]
    for value in values:
        yield f"usually {value}", text[: match.start()] + value + text[match.end() :]


def noticed(mutant: Mutant, own_only: bool = False) -> bool:
    """Whether an example (of the text itself) comes out differently, or the spoilt rule is refused."""
    try:
        trials = try_ruleset(load_text(mutant.text, "<mutant>"))
        return not all(trial.passed for trial in trials if trial.path == "<mutant>" or not own_only)
    except RulekitError:
        return True


def never(rule: typed.Rule) -> typed.Rule:
    """The rule switched off."""
    return replace(rule, broken=typed.AnyOf(()), licences=())


NAMES = [name for name in shipped_names() if rules(name)]


@pytest.mark.parametrize("name", NAMES)
def test_a_rule_switched_off_is_noticed(name: str) -> None:
    for text in rules(name):
        ruleset = load_text("".join([*head(name), text]), "<rule>")
        (rule,) = ruleset.rules
        assert all(trial.passed for trial in try_ruleset(ruleset)), rule.name
        assert not all(trial.passed for trial in try_ruleset(replace(ruleset, rules=(never(rule),)))), rule.name


@pytest.mark.parametrize("name", NAMES)
def test_spoilt_rules_are_noticed(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    every = list(mutants(name))
    missed = [f"{mutant.rule}: {mutant.change}" for mutant in every if not noticed(mutant)]
    with capsys.disabled():
        alike = sum(change in NO_DIFFERENCE for change in missed)
        print(f"\n{name}: {len(every) - len(missed)} of {len(every)} spoilt rules noticed, {alike} make no difference")
    made = {f"{mutant.rule}: {mutant.change}" for mutant in every}
    assert set(missed) == made & NO_DIFFERENCE.keys()


@pytest.mark.parametrize("name", NAMES)
def test_a_spoilt_hook_is_noticed(name: str) -> None:
    """What a species says for rules that stand elsewhere is held in place by the whole exercises of its file."""
    text = (shipped("rulesets") / f"{name}.rules").read_text()
    missed: list[str] = []
    for part in hooks(name):
        for change, new in spoilt(part):
            if not noticed(Mutant("", change, text.replace(part, new)), own_only=True):
                missed.append(f"{named(part).split()[1]}: {change}")
    own = {named(part).split()[1] for part in hooks(name)}
    assert set(missed) == {change for change in NO_DIFFERENCE if change.split(":")[0] in own}


def test_the_vocabulary_is_part_of_it(tmp_path: Path) -> None:
    """A set in the vocabulary one wider is noticed by the rules that use it."""
    text = (shipped("rulesets") / "vocabulary.rules").read_text()
    missed: list[str] = []
    for part in (part for part in statements("vocabulary") if part.startswith("define")):
        word = part.split()[1]
        for change, new in spoilt(part):
            (tmp_path / "vocabulary.rules").write_text(text.replace(part, new))
            users = [(name, rule) for name in NAMES for rule in rules(name) if mentions(rule, words_with(word, name))]
            outcomes = [try_spoilt("".join([*head(name), rule]), tmp_path) for name, rule in users]
            if users and all(outcomes):
                missed.append(f"{word}: {change}")
    own = {part.split()[1] for part in statements("vocabulary")[1:]}
    assert set(missed) == {change for change in NO_DIFFERENCE if change.split(":")[0] in own}


def mentions(text: str, words: set[str]) -> bool:
    """Whether a statement, its comments aside, has one of the words."""
    return any(match[0] in words for match in meaningful(text, re.compile(r"[\w-]+")))


def words_with(word: str, name: str) -> set[str]:
    """A word of the vocabulary and every definition there, or in what a file builds on, that is made with it."""
    words = {word}
    known = [part for part in (*statements("vocabulary")[1:], *head(name)) if part.startswith("define")]
    while more := {part.split()[1] for part in known if mentions(part, words)} - words:
        words |= more
    return words


def try_spoilt(text: str, folder: Path) -> bool:
    """Whether the examples still pass with the vocabulary of a folder."""
    try:
        return all(trial.passed for trial in try_ruleset(load_text(text, "<mutant>", folder)))
    except RulekitError:
        return False
