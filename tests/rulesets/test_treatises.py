"""Where the treatises differ, as the comments of their files say: no more and no less, over cantus firmi of our own."""

import re

import pytest

from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark
from rulekit.resources import shipped
from rulekit.solving import answers, folds
from rulekit.solving.graph import build, without
from rulekit.solving.problem import Problem
from rulekit.solving.sketch import Wish, compass_of, search

FUX, ZARLINO, JEPPESEN = "first-species-strict", "zarlino-two-voices", "jeppesen-two-voices"
ABOVE = ("mode: C\ncantus C4 F4 E4 F4 G4 E4 D4 C4", Wish(compass=compass_of("G4-E5"), altered=False))
BELOW = ("mode: C\ncantus C4 F4 E4 F4 D4 C4", Wish(below=True, compass=compass_of("C3-E4"), altered=False))
ALTERED = ("mode: D\ncantus D4 G4 F4 E4 D4", Wish(compass=compass_of("G4-D5")))


def test_what_jeppesen_changes() -> None:
    only_fux, only_jeppesen, changed = answers.differing_rules(load_ruleset(FUX), load_ruleset(JEPPESEN))
    assert set(only_fux) == {"parallel-run", "thirds-in-a-row", "sixths-in-a-row", "battuta"}
    assert set(only_jeppesen) == {"imperfects-in-parallel", "larger-leap-below"}
    assert set(changed) == {"both-leap", "no-chromatic-semitone", "spacing", "one-climax", "no-crossing"}


def posed(given: tuple[str, Wish], name: str) -> Problem:
    notes, wish = given
    (sketch,), _ = read_exercises(notes)
    return search(sketch, load_ruleset(name), wish)


def deciding(given: tuple[str, Wish], allowing: str, forbidding: str) -> set[str]:
    """The faults of one ruleset in all lines that it forbids and the other allows."""
    problem = posed(given, forbidding)
    apart = without(build(posed(given, allowing)), build(problem))
    return {each.rule for line in folds.lines(apart) for each in mark(problem.exercise(line), problem.ruleset).faults}


# Every line that one allows and the other forbids, and all rules that forbid it there.
APART = [
    (ABOVE, FUX, JEPPESEN, {"both-leap", "imperfects-in-parallel"}),
    (ALTERED, FUX, JEPPESEN, {"no-chromatic-semitone"}),
    (ABOVE, JEPPESEN, FUX, set[str]()),
    (BELOW, JEPPESEN, FUX, set[str]()),
    (ALTERED, JEPPESEN, FUX, set[str]()),
    (ABOVE, ZARLINO, FUX, {"no-unison", "direct-perfects", "melodic-intervals"}),
    (BELOW, ZARLINO, FUX, {"no-unison", "direct-perfects", "melodic-intervals", "opening-below"}),
    (ALTERED, ZARLINO, FUX, {"no-unison", "lowered-notes"}),
    (ABOVE, FUX, ZARLINO, set[str]()),
    (BELOW, FUX, ZARLINO, set[str]()),
    (ALTERED, FUX, ZARLINO, {"sung-intervals"}),
    (ABOVE, ZARLINO, JEPPESEN, {"no-unison", "direct-perfects", "melodic-intervals", "both-leap",
                                "imperfects-in-parallel"}),
    (ABOVE, JEPPESEN, ZARLINO, set[str]()),
]  # fmt: skip


@pytest.mark.parametrize(("given", "allowing", "forbidding", "rules"), APART)
def test_the_rules_that_tell_lines_apart(
    given: tuple[str, Wish], allowing: str, forbidding: str, rules: set[str]
) -> None:
    assert deciding(given, allowing, forbidding) == rules


@pytest.mark.parametrize(("first", "second"), [(FUX, JEPPESEN), (FUX, ZARLINO)])
def test_compare_finds_the_difference(first: str, second: str) -> None:
    """Its counts and its witnesses agree with the rules that tell lines apart."""
    for given in (ABOVE, ALTERED):
        found = answers.compare(posed(given, first), load_ruleset(second))
        for number, witness, allowing, forbidding in (
            (found.only_first, found.first_witness, first, second),
            (found.only_second, found.second_witness, second, first),
        ):
            rules = deciding(given, allowing, forbidding)
            assert (number > 0) == bool(rules)
            assert (witness and witness[1] in rules) or not rules


# What no fault decides: an exercise, and which of the rules named in the comments tell something in it, by severity.
TOLD = [
    ("two minor thirds in parallel", "upper G4 F4 G4 A4 B4 C5\ncantus C4 D4 E4 C4 D4 C4",
     "", "same-imperfect warning", ""),
    ("a tritone across the voices", "upper G4 A4 B4 A4 B4 C5\ncantus C4 F4 G4 F4 D4 C4",
     "", "non-harmonic-relation warning, same-imperfect warning", ""),
    ("a minor third that opens to the fifth", "upper G4 E5 D5 G4 B4 C5\ncantus C4 C4 D4 E4 D4 C4",
     "battuta advice, melodic-intervals fault", "nearest-perfect warning", "melodic-intervals fault"),
    ("three octaves within", "upper C5 A4 C5 B4 C5 D5 E5 B4 C5\ncantus C4 C4 C4 G4 C4 D4 E4 D4 C4",
     "", "few-octaves advice", ""),
    ("a unison within", "upper G4 F4 A4 B4 C5\ncantus C4 F4 D4 D4 C4",
     "no-unison fault", "few-unisons warning", "no-unison fault"),
    ("a chromatic semitone", "mode: D\nupper A4 B4 C5 C#5 D5\ncantus D4 G4 E4 E4 D4",
     "no-chromatic-semitone warning", "sung-intervals fault", "no-chromatic-semitone fault"),
    ("a fifth by similar motion, one voice by step", "upper G4 A4 G4 D5 B4 C5\ncantus C4 F4 E4 G4 D4 C4",
     "direct-perfects fault, both-leap warning", "together-to-perfect fault", "direct-perfects fault, both-leap fault"),
    ("two voices leap, a fourth and a sixth", "upper G4 C5 A4 B4 C5\ncantus C4 A4 F4 D4 C4",
     "both-leap warning, one-climax advice", "non-harmonic-relation warning", "both-leap fault, one-climax warning"),
    ("five thirds, four of them in parallel", "upper G4 G4 A4 B4 C5 D5 B4 C5\ncantus C4 E4 F4 G4 A4 B4 D4 C4",
     "thirds-in-a-row warning, parallel-run warning, both-leap warning",
     "same-imperfect warning, non-harmonic-relation warning", "imperfects-in-parallel fault, both-leap fault"),
    ("the wider leap above", "upper G4 B4 E5 D5 B4 C5\ncantus C4 G4 C4 F4 D4 C4",
     "both-leap warning", "same-imperfect warning, non-harmonic-relation warning",
     "both-leap fault, larger-leap-below warning"),
    ("voices that cross", "upper G4 F4 E4 A4 B4 C5\ncantus C4 A4 G4 F4 D4 C4",
     "no-crossing warning", "non-harmonic-relation warning", "no-crossing advice"),
    ("a twelfth", "upper G4 E5 G5 E5 B4 C5\ncantus C4 C4 C4 E4 D4 C4",
     "melodic-intervals fault", "", "spacing warning, melodic-intervals fault"),
]  # fmt: skip
NAMES = {each.split()[0] for row in TOLD for part in row[2:] if part for each in part.split(", ")}


def told(name: str, notes: str) -> str:
    head = "" if notes.startswith("mode") else "mode: C\n"
    (exercise,), mistakes = read_exercises(head + notes)
    assert not mistakes
    findings = [each for each in mark(exercise, load_ruleset(name)).findings if each.rule in NAMES]
    return ", ".join(dict.fromkeys(f"{each.rule} {each.severity}" for each in findings))


@pytest.mark.parametrize(("title", "notes", "fux", "zarlino", "jeppesen"), TOLD)
def test_what_each_treatise_says(title: str, notes: str, fux: str, zarlino: str, jeppesen: str) -> None:
    for name, expected in ((FUX, fux), (ZARLINO, zarlino), (JEPPESEN, jeppesen)):
        assert set(told(name, notes).split(", ")) == set(expected.split(", ")), (title, name)


@pytest.mark.parametrize("name", [ZARLINO, JEPPESEN])
def test_its_comments_name_what_tells_it_from_the_first(name: str) -> None:
    """Every rule of its own that tells something above, and every rule that decides between it and the first."""
    text = (shipped("rulesets") / f"{name}.rules").read_text("utf-8")
    page = "\n".join(line for line in text.splitlines() if line.startswith("--")).split("-- ====")[0]
    rules = {at: {rule.name for rule in load_ruleset(at).rules} for at in (FUX, ZARLINO, JEPPESEN)}
    named = set(re.findall(r"[a-z]+(?:-[a-z]+)*", page))
    assert {word for word in named if "-" in word} - {FUX, ZARLINO, JEPPESEN} <= set().union(*rules.values())

    decided = {rule for _, one, other, found in APART if {one, other} == {FUX, name} for rule in found}
    told_by_it = (rules[name] - rules[FUX]) & NAMES
    assert decided | told_by_it <= named
