"""Which voices and pairs the words of a scope name: alone, joined in pairs, in lists, and less what is left out."""

import itertools

import pytest

from rulekit.compiler.scene import lines, pairs
from rulekit.diagnostics import RulekitError
from rulekit.exercise.notation import read_exercises
from rulekit.language import typed as t
from rulekit.language import vocabulary as v
from rulekit.language.format import format_text
from rulekit.language.loading import load_text
from rulekit.marking import mark
from rulekit.sentences import sentence
from rulekit.words import words

# Four voices over a cantus: tied halves, quarters, halves, the cantus, and a florid one.
PACES = ("tied", "quarters", "halves", "whole", "florid")
NAMED = [scope for scope in v.LINE_SCOPES if scope != "voice"] + ["voice 1", "voice 4"]


def rule(subject: str, asks: str = "at first require bar is 1") -> str:
    return f'rule r "{{bar}}"\n  for every {subject}\n  {asks}\n  fault\n  source "our own"\n'


def scope(phrase: str, subject: str = "interval between") -> t.Voices:
    return load_text(rule(f"{subject} {phrase}")).rules[0].scope


def named(phrase: str) -> tuple[int, ...]:
    """The voices of a phrase, counted from 1."""
    return tuple(voice + 1 for voice in lines(scope(phrase, "note in"), len(PACES), 3, PACES))


def paired(phrase: str) -> tuple[tuple[int, int], ...]:
    """The pairs of a phrase, their voices counted from 1."""
    return tuple((high + 1, low + 1) for high, low in pairs(scope(phrase), len(PACES), 3, PACES))


def told(text: str) -> str:
    with pytest.raises(RulekitError) as caught:
        load_text(text)
    return str(caught.value)


@pytest.mark.parametrize(
    ("phrase", "expected"),
    [
        ("tied voice and others", ((1, 2), (1, 3), (1, 4), (1, 5))),
        ("cantus and tied voice", ((1, 4),)),
        ("cantus and florid voice", ((4, 5),)),
        ("voice in halves and voice in quarters", ((2, 3),)),
        ("tied voice and moving voice", ((1, 2), (1, 3), (1, 5))),
        ("upper voices and lowest voice", ((1, 5), (2, 5), (3, 5), (4, 5))),
        ("inner voices and outer voices", ((1, 2), (1, 3), (1, 4), (2, 5), (3, 5), (4, 5))),
        ("voice 2 and cantus", ((2, 4),)),
        ("voices 5 and 1", ((1, 5),)),
        ("tied voice and tied voice", ()),
        ("outer voices or cantus and counterpoint", ((1, 4), (1, 5), (2, 4), (3, 4), (4, 5))),
        ("each pair but outer voices, cantus and counterpoint or inner voices", ((1, 2), (1, 3), (2, 5), (3, 5))),
        ("outer voices or inner voices but cantus and others", ((1, 5), (2, 3))),
    ],
)
def test_pairs_are_named(phrase: str, expected: tuple[tuple[int, int], ...]) -> None:
    assert paired(phrase) == expected


@pytest.mark.parametrize(
    ("phrase", "expected"),
    [
        ("inner voices or voice 1", (1, 2, 3, 4)),
        ("tied voice, florid voice or cantus", (1, 4, 5)),
        ("each voice but cantus or outer voices", (2, 3)),
        ("inner voices and voice 1", (1, 2, 3, 4)),
        ("voices 2 and 5", (2, 5)),
    ],
)
def test_voices_are_named_in_lists(phrase: str, expected: tuple[int, ...]) -> None:
    assert named(phrase) == expected


@pytest.mark.parametrize(("first", "second"), [*itertools.combinations(NAMED, 2)])
def test_any_two_kinds_of_voices_make_pairs_in_either_order(first: str, second: str) -> None:
    one, other = set(named(first)), set(named(second))
    expected = {
        (high, low)
        for high, low in itertools.combinations(range(1, len(PACES) + 1), 2)
        if (high in one and low in other) or (high in other and low in one)
    }
    assert set(paired(f"{first} and {second}")) == set(paired(f"{second} and {first}")) == expected


@pytest.mark.parametrize("voice", NAMED)
def test_others_are_all_voices_besides(voice: str) -> None:
    assert paired(f"{voice} and others") == paired(f"others and {voice}") == paired(f"{voice} and each voice")


@pytest.mark.parametrize(
    ("written", "settled"),
    [
        ("the tied voice and the cantus", "cantus and tied voice"),
        ("others and florid voice", "florid voice and others"),
        ("voice 3 and voice 1", "voices 1 and 3"),
        ("each voice and cantus", "cantus and others"),
        ("tied voice and every other voice", "tied voice and others"),
        ("outer voices, inner voices, voices 2 and 1", "outer voices, inner voices or voices 1 and 2"),
        (
            "each pair but counterpoint and cantus or outer voices",
            "each pair but cantus and counterpoint or outer voices",
        ),
    ],
)
def test_the_layout_settles_on_one_name(written: str, settled: str) -> None:
    text = format_text(rule(f"interval between {written}"))
    assert f"  for every interval between {settled}\n" in text
    assert format_text(text) == text
    assert scope(written) == scope(settled)


@pytest.mark.parametrize("voice", ["cantus", "highest voice", "lowest voice", "voice 2"])
def test_one_voice_makes_no_pair(voice: str) -> None:
    assert "is one voice" in told(rule(f"interval between {voice} and {voice}"))


@pytest.mark.parametrize(
    ("subject", "offered"),
    [
        ("interval between tied voise and cantus", "tied voice and cantus"),
        ("interval between tied and cantus", "tied voice and cantus"),
        ("interval between outer voices and cantus and counterpoint", "outer voices or cantus and counterpoint"),
        ("interval between voice in quarters", "voice in quarters and others"),
        ("interval between each pair except the outer voices", "each pair but outer voices"),
        ("note in inner voises or voice 2", "inner voices or voice 2"),
        ("note in tied or florid voice", "tied voice or florid voice"),
        ("interval between ropes and knots", "such as cantus and tied voice"),
    ],
)
def test_what_was_meant_is_offered(subject: str, offered: str) -> None:
    assert offered in told(rule(subject))


@pytest.mark.parametrize(
    ("clause", "offered"),
    [
        ("forbid upper is not in inner voices or voice 2", "upper is not in inner voices or in voice 2"),
        ("forbid upper is in the cantus or tied voice", "upper is in cantus or in tied voice"),
        (
            "forbid number of notes in cantus or voice 2 where (it is raised) is more than 3",
            "number of notes in cantus where (it is raised) + number of notes in voice 2 where (it is raised)",
        ),
    ],
)
def test_lists_that_stand_elsewhere_are_written_out(clause: str, offered: str) -> None:
    subject = "exercise" if "number" in clause else "interval between each pair"
    assert offered in told(rule(subject, clause))


EXERCISE = """mode: D dorian
upper  r/2 D5~ | D5 C5~ | C5 B4 | C5/1
middle F4/4 G4 A4 F4 | G4 F4 G4 A4 | G4 F4 G4 E4 | E4/1
cantus D4/1 | E4 | G4 | A4
"""


@pytest.mark.parametrize(
    ("subject", "asks", "bars"),
    [
        ("interval between cantus and tied voice", "forbid bar is at most 40", {1, 2, 3, 4}),
        ("move between voice in halves and voice in quarters", "forbid bar is at most 40", set[int]()),
        ("interval between each pair", "at last forbid upper is in tied voice and lower is in voice in quarters", {4}),
        ("note in each voice", "at last forbid it is in each voice but cantus", {4}),
        ("note in each voice", "when note after it is in tied voice forbid it is not in tied voice", set[int]()),
        ("note in each voice", "at first forbid not (it is in tied voice or in florid voice)", {1}),
        ("note in each voice", "forbid note before it is in voice 3", {2, 3, 4}),
        ("sonority", "at last forbid some interval between tied voice and others is third", {4}),
        ("sonority", "at last forbid every note in cantus or tied voice is diatonic", {4}),
    ],
)
def test_rules_look_where_they_say(subject: str, asks: str, bars: set[int]) -> None:
    exercise = read_exercises(EXERCISE)[0][0]
    assert {each.bar for each in mark(exercise, load_text(rule(subject, asks))).findings} == bars


@pytest.mark.parametrize(
    ("phrase", "english", "german"),
    [
        (
            "interval between cantus and tied voice",
            "Between the cantus and the tied voice",
            "Zwischen dem Cantus firmus und der synkopierten Stimme",
        ),
        (
            "interval between voice in halves and others",
            "Between the voice in half notes and the others",
            "Zwischen der Stimme in Halben und den anderen",
        ),
        (
            "interval between outer voices or voices 2 and 3",
            "Between the outer voices and between voice 2 and voice 3",
            "Zwischen den Außenstimmen und zwischen der 2. Stimme und der 3. Stimme",
        ),
    ],
)
def test_sentences_name_the_voices(phrase: str, english: str, german: str) -> None:
    loaded = load_text(rule(phrase, "require interval is consonant").replace("consonant", "third")).rules[0]
    for language, beginning in (("en", english), ("de", german)):
        said = sentence(loaded, words(language))
        assert said is not None and said.text.startswith(beginning)


def test_a_sentence_says_in_which_voice_a_note_is() -> None:
    loaded = load_text(rule("interval between each pair", "when interval is P5 require upper is in tied voice")).rules[
        0
    ]
    said = sentence(loaded, words("de"))
    assert said is not None and "in der synkopierten Stimme" in said.text
