"""Rows against monitors: what is looked up is what a monitor finds that steps through the whole exercise."""

from dataclasses import replace
from itertools import pairwise
from random import Random
from typing import get_args, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rulekit.compiler.finding import search, watched
from rulekit.diagnostics import RulekitError
from rulekit.exercise.model import Exercise
from rulekit.exercise.timeline import Heard
from rulekit.language import vocabulary
from rulekit.language.ruleset import Ruleset, load_ruleset, load_text, shipped_names
from rulekit.language.typed import Gathered, Kind
from tests.exercise.test_bars import CHANGING
from tests.laws.strategies import alike, exercises, rules, varied_exercises
from tests.laws.test_compiler import load

RULESETS = {name: ruleset for name in shipped_names() if (ruleset := load_ruleset(name)).rules}


def check(ruleset: Ruleset, exercise: Exercise) -> None:
    heard = Heard(exercise)
    plan, found = search(exercise, ruleset, heard)
    stepped = [hit for number in range(len(plan.marker.monitors)) for hit in watched(plan, number, heard)]
    assert sorted(map(repr, found)) == sorted(map(repr, stepped))


@settings(max_examples=150, deadline=None)
@given(st.lists(rules("one"), min_size=1, max_size=1), st.lists(exercises(), max_size=2), st.integers(0, 2**32))
def test_rows_find_what_monitors_find(texts: list[str], tried: list[Exercise], seed: int) -> None:
    """One ruleset for many exercises, so that what is learnt of one is used for others like it."""
    ruleset, chance = load(*texts), Random(seed)
    for exercise in [*tried, *varied_exercises(chance, 2), *alike(chance, 12), *alike(chance, 12)]:
        check(ruleset, exercise)


@settings(max_examples=40, deadline=None)
@given(st.lists(rules("one"), min_size=1, max_size=1), st.integers(0, 2**32))
def test_rows_find_the_same_where_bars_change(texts: list[str], seed: int) -> None:
    """Beats alone don't tell how a note lies in its bar where the metre changes."""
    ruleset, chance = load(*texts), Random(seed)
    for exercise in varied_exercises(chance, 4):
        check(ruleset, replace(exercise, metre=CHANGING))


_SUBJECTS = {
    Kind.NOTE: ("for every note in each voice", ["it"]),
    Kind.DYAD: ("for every interval between each pair", ["upper", "lower", "sounding-lower", "cantus"]),
    Kind.MOMENT: ("for every sonority", ["bass", "cantus"]),
}


def _near(thing: str) -> list[str]:
    return [thing, f"previous {thing}", f"next {thing}", f"{thing} 2 before"]


def _conditions(kind: Kind) -> list[str]:
    """Every word of the language said of everything near a sample, and by quantifiers."""
    notes = [note for role in _SUBJECTS[kind][1] for thing in _near(role) for note in (thing, f"note before {thing}",
             f"note after {thing}", f"note 2 before {thing}")]  # fmt: skip
    found = [f"{note} is {word}" for note in notes for word in vocabulary.FLAGS[Kind.NOTE]]
    found += [f"{it} is {word}" for it in _near("it") for word in vocabulary.FLAGS[kind]]
    found += [f"{word} of {one} is {word} of {other}" for one, other in pairwise(notes)
              for word in vocabulary.ATTRIBUTES[Kind.NOTE]]  # fmt: skip
    found += [f"{word} is {there}" for word in vocabulary.ATTRIBUTES[kind] for there in _near(word)[1:]]
    if kind != Kind.NOTE:
        found += [f"some interval is {word}" for word in vocabulary.FLAGS[Kind.DYAD]]
        found += [f"some note is {word}" for word in vocabulary.FLAGS[Kind.NOTE]]
    return found


def _ruleset(kind: Kind, sampled: str, chance: Random) -> Ruleset:
    """A rule for each of some conditions; those that the language does not let say are left out."""
    rules = [
        f'rule r{number}\n  "Broken."\n  {_SUBJECTS[kind][0]}{sampled}\n  forbid {condition}\n'
        '  fault\n  source "common practice"\n'
        for number, condition in enumerate(chance.sample(_conditions(kind), 60))
    ]
    try:
        return load_text("\n".join(rules))
    except RulekitError as wrong:
        lines = {problem.line for problem in wrong.diagnostics}
        said = [rule for number, rule in enumerate(rules) if not lines & set(range(7 * number + 1, 7 * number + 8))]
        return load_text("\n".join(said))


@pytest.mark.parametrize("sampled", ["", " taken on strong", " taken on weak"])
@pytest.mark.parametrize("kind", _SUBJECTS)
@settings(max_examples=12, deadline=None)
@given(st.integers(0, 2**32))
def test_rows_know_what_each_word_depends_on(kind: Kind, sampled: str, seed: int) -> None:
    chance = Random(seed)
    ruleset = _ruleset(kind, sampled, chance)
    assert len(ruleset.rules) > 30
    for exercise in alike(chance, 12):
        check(ruleset, exercise)


_LINE, _NOTE = "for every line in each voice", "for every note in each voice"
_STREAMS = [
    (_NOTE, "run where (it is weak) is 2"),
    (_NOTE, "run with same pitch is 2"),
    (_NOTE, "number so far with same pitch is more than 2"),
    (f"{_NOTE} taken on strong", "number so far with same (previous pitch) is 2"),
    ("for every interval between each pair", "number so far with same interval is 2"),
    ("for every sonority", "number so far with same (pitch of bass) is 2"),
    (_NOTE, "pitch is latest pitch where (it is strong)"),
    (_LINE, "number of notes where (approach is leap) is more than 1"),
    (_LINE, "longest run of notes where (it is strong) is at least 2"),
    (_LINE, "longest run of notes where (approach is step) is at least 2"),
    (_LINE, "longest run of notes with same (direction of approach) is at least 2"),
    ("for every exercise", "longest run of intervals where (interval is third) is 2"),
    ("for every exercise", "longest run of moves with same motion is 2"),
    (_LINE, "time of first notes where (approach is leap) is later than time of last notes where (approach is step)"),
    (_LINE, "climax is time of last notes where (it is strong)"),
    (_LINE, "highest is higher than pitch C5"),
    (_LINE, "lowest is lower than pitch C4"),
    (_LINE, "climax-count is more than 1"),
]


@pytest.mark.parametrize(("subject", "condition"), _STREAMS)
@settings(max_examples=6, deadline=None)
@given(st.integers(0, 2**32))
def test_rows_fold_streams_as_monitors_do(subject: str, condition: str, seed: int) -> None:
    chance = Random(seed)
    ruleset = load_text(f'rule one\n  "Broken."\n  {subject}\n  forbid {condition}\n  fault\n  source "none"\n')
    for exercise in [*varied_exercises(chance, 4), *alike(chance, 8)]:
        check(ruleset, exercise)


def test_every_kind_of_stream_is_folded() -> None:
    text = "".join(
        f'rule r{n}\n  "Broken."\n  {subject}\n  forbid {condition}\n  fault\n  source "none"\n'
        for n, (subject, condition) in enumerate(_STREAMS)
    )
    said = {stream.kind for rule in load_text(text).rules for stream in rule.streams}
    assert said == set(get_args(get_type_hints(Gathered)["kind"]))


@pytest.mark.parametrize("name", RULESETS)
@settings(max_examples=15, deadline=None)
@given(st.integers(0, 2**32))
def test_rows_of_the_shipped_rulesets_find_what_monitors_find(name: str, seed: int) -> None:
    for exercise in alike(Random(seed), 8):
        check(RULESETS[name], exercise)
