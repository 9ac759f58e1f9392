"""Each thing is said in one way: what else could be written is told with the line as it should be."""

import pytest

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.language.format import format_text
from rulekit.language.loading import load_text

SUBJECTS = {
    "note": "for every note in counterpoint",
    "taken": "for every note in counterpoint taken on downbeats",
    "interval": "for every interval between each pair",
    "move": "for every move between each pair",
    "sonority": "for every sonority",
    "line": "for every line in counterpoint",
    "exercise": "for every exercise",
}


def rule(kind: str, line: str) -> str:
    return f'rule own\n  "Broken."\n  {SUBJECTS[kind]}\n  {line}\n  fault\n  source "our own"\n'


def told(text: str) -> tuple[Diagnostic, ...]:
    try:
        load_text(text, "own.rules")
    except RulekitError as error:
        return error.diagnostics
    return ()


@pytest.mark.parametrize(
    ("kind", "written", "better"),
    [
        ("note", "forbid previous note is raised", "note before it is raised"),
        ("note", "forbid previous it is raised", "note before it is raised"),
        ("note", "forbid it 2 before is raised", "note 2 before it is raised"),
        ("note", "forbid note 2 before is raised", "note 2 before it is raised"),
        ("note", "forbid note before is raised", "note before it is raised"),
        ("note", "forbid previous approach is step", "approach to note before it is step"),
        ("note", "forbid next departure is step", "departure from note after it is step"),
        ("note", "forbid it is last but 0", "it is last"),
        ("note", "forbid it is 1st from end", "it is last"),
        ("note", "forbid it is in bar 1 from end", "it is in last bar"),
        ("interval", "forbid previous it is crossed", "previous interval is crossed"),
        ("interval", "forbid it 2 after is crossed", "interval 2 after is crossed"),
        ("move", "forbid previous move is third", "previous interval is third"),
        ("move", "forbid previous size of interval is 3", "size of previous interval is 3"),
        ("move", "forbid previous approach to upper is step", "approach to previous upper is step"),
        ("sonority", "forbid previous it is on the downbeat", "previous sonority is on the downbeat"),
        ("interval", "forbid size of interval is third", "size of interval is 3"),
        ("interval", "forbid size of interval is more than third", "size of interval is more than 3"),
        ("interval", "forbid interval is step", "interval is second"),
        ("interval", "forbid interval is rising m6", "interval is m6"),
        ("interval", "forbid interval is chromatic", "interval is A1"),
        ("interval", "forbid degree to upper is 3", "degree of upper is 3"),
        ("interval", "forbid departure to upper is step", "departure from upper is step"),
        ("interval", "forbid interval is missing", "previous interval is missing"),
        ("note", "forbid it is missing", "note after it is missing"),
    ],
)
def test_another_way_is_told_the_one(kind: str, written: str, better: str) -> None:
    (found,) = told(rule(kind, written))
    assert found.hint.endswith(f"Write: forbid {better}")
    assert not told(rule(kind, f"forbid {better}"))


@pytest.mark.parametrize(
    ("kind", "line"),
    [
        ("interval", "forbid upper is pitch C5 or raised"),
        ("note", "forbid it is pitch C5"),
        ("interval", "forbid previous interval is third or crossed"),
        ("sonority", "forbid sonority 2 before is missing"),
        ("sonority", "forbid bass is pitch C3"),
        ("taken", "forbid pitch of previous note is pitch C5"),
    ],
)
def test_a_thing_stands_for_its_value_and_a_place_for_its_thing(kind: str, line: str) -> None:
    assert not told(rule(kind, line))


@pytest.mark.parametrize(
    ("kind", "condition", "words"),
    [
        ("note", "degree is 9", "never this"),
        ("note", "degree is 3 or 0", "never this"),
        ("note", "degree is more than 7", "never more than this"),
        ("note", "degree is at most 7", "always at most this"),
        ("note", "beat is 0", "never this"),
        ("note", "bar is less than 1", "never less than this"),
        ("note", "run where (approach is step) is at least 0", "always at least this"),
        ("note", "number so far with same pitch is 0", "never this"),
        ("note", "number-of-voices is 13", "never this"),
        ("note", "approach is rising repetition", "never this"),
        ("note", "approach is narrower than P1", "never narrower than this"),
        ("interval", "simple-size of interval is 9", "never this"),
        ("interval", "interval is at least unison", "always at least this"),
        ("interval", "upper is in lower", "always two voices"),
        ("interval", "upper is in upper", "always in its own voice"),
        ("line", "climax-count is 0", "never this"),
        ("exercise", "share of notes where (approach is step) is more than 100%", "never more than this"),
    ],
)
def test_what_holds_always_or_never_is_told(kind: str, condition: str, words: str) -> None:
    (found,) = told(rule(kind, f"forbid {condition}"))
    assert words in found.message


@pytest.mark.parametrize("word", ["run", "some", "at", "previous", "span"])
def test_a_name_that_could_not_be_used_is_told_at_once(word: str) -> None:
    assert [each.message for each in told(f"define {word} as third\n")] == [
        f"‘{word}’ is a word of the grammar and no name"
    ]


def test_a_parameter_may_make_a_comparison_hold_always() -> None:
    bounded = "parameter least is a count from 0 to 9, usually 0\n"
    assert not told(bounded + rule("note", "forbid run where (approach is step) is less than least"))


def test_a_licence_has_a_name() -> None:
    (found,) = told(rule("note", 'forbid approach is leap\n  excused when it is last "the end"'))
    assert found.hint == 'Write: excused as exception when it is last "the end"'


def test_the_layout_settles_on_one_spelling() -> None:
    written = rule("note", "forbid approach of note before it is leap and it is 3rd from end or 1st").replace(
        "leap and", "leap\n when"
    )
    assert "approach to note before it is leap" in format_text(written)
    assert "when it is last but 2 or first" in format_text(written)


def test_a_clause_that_can_not_be_read_hides_no_mistake_beside_it() -> None:
    found = told(rule("note", 'require departure is stepp\n  excused as good when degree equals 5 "x"'))
    assert [(each.line, each.column) for each in found] == [(4, 24), (5, 31)]


def test_all_misspelt_words_of_a_line_are_told() -> None:
    found = told(rule("note", "require departur is stepp or length is more than thrid"))
    assert [each.column for each in found] == [11, 23, 39, 52]
    found = told(rule("note", "require departur is stepp or approach is thrid"))
    assert [each.column for each in found] == [11, 23, 44]
    assert found[0].hint.endswith("Write: require departure is step or approach is third")
