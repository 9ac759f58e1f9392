"""Rows against monitors: what is looked up is what a monitor finds that steps through the whole exercise."""

from dataclasses import replace
from itertools import combinations, pairwise
from random import Random
from typing import get_args, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rulekit.compiler.finding import search, watched
from rulekit.diagnostics import RulekitError
from rulekit.exercise.model import Exercise, Note
from rulekit.exercise.timeline import Dyad, Heard, Moment, moments
from rulekit.language import vocabulary
from rulekit.language.library import shipped_names
from rulekit.language.loading import load_ruleset, load_text
from rulekit.language.ruleset import Ruleset
from rulekit.language.typed import Gathered, Kind
from rulekit.marking import mark
from rulekit.music.pitch import pitch_of
from tests.exercise.test_bars import CHANGING
from tests.laws.strategies import alike, exercises, rules, varied_exercises
from tests.laws.test_compiler import load

PITCHES = [pitch_of(name) for name in "C4 E4 G4 Bb4 D5".split()]
RULESETS = {name: ruleset for name in shipped_names() if (ruleset := load_ruleset(name)).rules}


def check(ruleset: Ruleset, exercise: Exercise) -> None:
    heard = Heard(exercise)
    plan, found = search(exercise, ruleset, heard)
    stepped = [hit for number in range(len(plan.marker.monitors)) for hit in watched(plan, number, heard)]
    assert sorted(map(repr, found)) == sorted(map(repr, stepped))


def _told(thing: Note | Dyad | Moment) -> dict[str, object]:
    """What a note, dyad or moment is, but for the things that it is linked to."""
    slots = {slot: getattr(thing, slot) for slot in type(thing).__slots__ if not slot.startswith("_")}
    return {slot: value for slot, value in slots.items() if not isinstance(value, Note | Dyad | Moment | tuple)}


def _all_told(found: list[Moment]) -> list[object]:
    """Everything that sounds, with what came before it."""
    pairs = list(combinations(range(4), 2))
    return [
        [
            _told(moment), _told(moment.previous), moment.begun,
            [[_told(note), _told(note.before), note.with_cantus] for note in (*moment.notes, *moment.latest) if note],
            [[_told(dyad), _told(dyad.previous), dyad.moment.time, _told(dyad.upper), _told(dyad.lower)]
             for pair in pairs if (dyad := moment.sounding(*pair))],
        ]
        for moment in found
    ]  # fmt: skip


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 2**32))
def test_moments_are_the_same_whatever_was_heard_before(seed: int) -> None:
    """Those of an exercise are made from the last ones in its rhythm."""
    chance = Random(seed)
    for exercise in alike(chance, 4):
        changed, *others = exercise.voices
        last = replace(changed.events[-1], pitch=chance.choice(PITCHES))
        other = replace(exercise, voices=(replace(changed, events=(*changed.events[:-1], last)), *others))
        for each in (exercise, other, exercise):
            assert _all_told(Heard(each).moments) == _all_told(list(moments(each)))


_ASKING = [
    "for every note in each voice\n  forbid mode is dorian",
    "for every note in each voice\n  forbid degree of pitch is 2",
    "for every sonority\n  forbid some note in each voice is raised and mode is minor",
    "for every note in each voice\n  forbid metre is triple",
    "for every note in each voice\n  forbid it is in last bar",
    "for every sonority\n  forbid number-of-bars is more than 3",
    "for every note in moving voice\n  forbid it is on the downbeat",
    "for every note in florid voice\n  forbid it is on the downbeat",
    "for every sonority\n  forbid some note in voice in halves is on the downbeat",
    "for every interval between cantus and moving voice\n  forbid interval is third",
    "for every exercise\n  forbid number of notes in moving voice where (it is on the downbeat) is more than 3",
]


@pytest.mark.parametrize("said", _ASKING)
def test_a_ruleset_keeps_settings_apart_that_a_rule_can_tell_apart(said: str) -> None:
    """What it learnt of other exercises changes nothing in what it finds."""
    text, chance = f'rule one\n  "Broken."\n  {said}\n  fault\n  source "none"\n', Random(1)
    known, found = load_text(text), list[int]()
    for exercise in varied_exercises(chance, 40):
        here = mark(exercise, known).findings
        assert here == mark(exercise, load_text(text)).findings
        found.append(len(here))
    assert len(set(found)) > 1


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


def _near(thing: str, kind: Kind) -> list[str]:
    """A thing or a property here, before and after."""
    if kind == Kind.NOTE:
        asked = "" if thing == "it" else f"{thing} of "
        return [thing, *(f"{asked}note {where} it" for where in ("before", "after", "2 before"))]
    name = kind if thing == "it" else thing
    return [thing, f"previous {name}", f"next {name}", f"{name} 2 before"]


def _conditions(kind: Kind) -> list[str]:
    """Every word of the language said of everything near a sample, and by quantifiers."""
    notes = [note for role in _SUBJECTS[kind][1] for thing in _near(role, kind) for note in
             (thing, f"note before {thing}", f"note after {thing}", f"note 2 before {thing}")]  # fmt: skip
    found = [f"{note} is {word}" for note in notes for word in vocabulary.FLAGS[Kind.NOTE]]
    found += [f"{it} is {word}" for it in _near("it", kind) for word in vocabulary.FLAGS[kind]]
    found += [f"{word} of {one} is {word} of {other}" for one, other in pairwise(notes)
              for word in vocabulary.ATTRIBUTES[Kind.NOTE]]  # fmt: skip
    found += [f"{word} is {there}" for word in vocabulary.ATTRIBUTES[kind] for there in _near(word, kind)[1:]]
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


@pytest.mark.parametrize("sampled", ["", " taken on downbeats", " taken off downbeats"])
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
    (_NOTE, "run where (it is off the downbeat) is 2"),
    (_NOTE, "run with same pitch is 2"),
    (_NOTE, "number so far with same pitch is more than 2"),
    (f"{_NOTE} taken on downbeats", "number so far with same (previous pitch) is 2"),
    ("for every interval between each pair", "number so far with same interval is 2"),
    ("for every sonority", "number so far with same (pitch of bass) is 2"),
    (_NOTE, "pitch is pitch where last (it is on the downbeat)"),
    (_LINE, "number of notes where (approach is leap) is more than 1"),
    (_LINE, "longest run of notes where (it is on the downbeat) is at least 2"),
    (_LINE, "longest run of notes where (approach is step) is at least 2"),
    (_LINE, "longest run of notes with same (direction of approach) is at least 2"),
    ("for every exercise", "longest run of intervals where (interval is third) is 2"),
    ("for every exercise", "longest run of moves with same motion is 2"),
    (_LINE, "time of first notes where (approach is leap) is later than time of last notes where (approach is step)"),
    (_LINE, "climax is time of last notes where (it is on the downbeat)"),
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
