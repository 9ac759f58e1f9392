"""The layout of rules files: it changes nothing but white space, and nothing the second time."""

import random
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rulekit.diagnostics import RulekitError
from rulekit.language.format import WIDTH, format_text, rule_clauses
from rulekit.language.loading import load_text
from rulekit.language.parser import parse
from rulekit.resources import shipped

SHIPPED = sorted(shipped("rulesets").glob("*.rules"))

UNTIDY = """\
-- Rules of the school.
ruleset   "Morning class"  -- invented
use vocabulary
set most-thirds to 4    drop no-unison,no-crossing
rule close-on-octave "The close is {interval}." for every   interval between each pair taken on downbeats
 at last when the interval is not third or (interval is P5 and upper is crossed-over ( 3,4 ))
      -- the demand
  require interval is P1 or P8 fault,4 points,once source "common practice, no source"
  accepts
  |upper  E5 D5
      | cantus C4 D4
  -- nothing more yet
define falling-close as falling step then falling step


-- a remark by itself

-- about the size
define wide with limit:count as size of interval is more than limit+2 times 3
"""

TIDY = """\
-- Rules of the school.
ruleset "Morning class" -- invented
use vocabulary
set most-thirds to 4
drop no-unison, no-crossing

rule close-on-octave
  "The close is {interval}."
  for every interval between each pair
  taken on downbeats
  at last
  when the interval is not third or (interval is P5 and upper is crossed-over(3, 4))
  -- the demand
  require interval is P1 or P8
  fault, 4 points, once
  source "common practice, no source"
  accepts
    |upper  E5 D5
    | cantus C4 D4
  -- nothing more yet

define falling-close as falling step then falling step

-- a remark by itself

-- about the size
define wide with limit: count as size of interval is more than limit + 2 times 3
"""


def meaning(text: str) -> str:
    """The syntax tree of a text in words, without the places in it and the spaces that end example lines."""
    parsed = parse(text, "test.rules")
    assert parsed.diagnostics == ()
    without_places = re.sub(r"columns=\([^)]*\)", "", repr(parsed.file))
    return re.sub(r" +(?=\\n|')", "", without_places)


def comments(text: str) -> list[str]:
    """The comments of a text, in order."""
    tokens = re.finditer(r'"[^"\n]*"|\|[^\n]*|(?P<comment>--[^\n]*)', text)
    return [match["comment"].rstrip() for match in tokens if match["comment"]]


def assert_laws(text: str) -> None:
    """What holds for the layout of any readable text."""
    formatted = format_text(text)
    assert format_text(formatted) == formatted
    assert meaning(formatted) == meaning(text)
    assert comments(formatted) == comments(text)
    assert all(line == line.rstrip() for line in formatted.splitlines())
    assert "\n\n\n" not in formatted


def test_an_untidy_file_is_laid_out() -> None:
    assert format_text(UNTIDY) == TIDY


def test_line_ends_of_another_system_are_turned_into_ours() -> None:
    assert format_text(TIDY.replace("\n", "\r\n")) == TIDY


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_laws_hold_for_the_shipped_rulesets(path: Path) -> None:
    assert_laws(path.read_text(encoding="utf-8"))


def test_the_words_that_name_voices_stay_on_one_line() -> None:
    """Law that was missing: what is broken means the same; a word of a scope on a new line would begin a clause."""
    scope = "for every interval between " + "previous " * 12 + "cantus and counterpoint"
    text = f'rule one\n  "Broken."\n  {scope}\n  forbid interval is P5\n  fault\n  source "none"\n'
    assert_laws(text)
    assert scope.removeprefix("for every interval ") in format_text(text)


def test_a_long_condition_is_broken_at_its_outermost_phrases() -> None:
    first = "approach to upper is leap and approach to lower is leap and motion is similar"
    second = "approach to upper is wider than fourth and approach to lower is wider than fourth"
    formatted = format_text(f'excuse no-leaps as small when ({first}) or ({second}) "both are wide"\n')
    assert formatted.splitlines() == [
        "excuse no-leaps as small",
        f"  when ({first})",
        f"  or ({second})",
        '  "both are wide"',
    ]


def test_what_can_not_be_read_is_told_and_not_laid_out() -> None:
    with pytest.raises(RulekitError) as caught:
        format_text("ruleset <x>\nset most-thirds two\n", "class.rules")
    assert [(d.path, d.line) for d in caught.value.diagnostics] == [("class.rules", 1), ("class.rules", 2)]


@pytest.mark.parametrize("text", ['use vocabulary\nruleset "Late"\n', 'ruleset "One"\nruleset "Two"\n'])
def test_a_title_that_stands_too_late_is_told_by_all(text: str) -> None:
    for refuse in (format_text, load_text):
        with pytest.raises(RulekitError) as caught:
            refuse(text, "class.rules")
        assert [(d.line, d.column) for d in caught.value.diagnostics] == [(2, 1)]


@pytest.mark.parametrize("text", ["drop\nset-of-rules", "adjust\nrule-one: advice", "drop one,\n\ntwo"])
def test_line_ends_within_a_statement_mean_nothing(text: str) -> None:
    parsed = parse(text, "class.rules")
    assert not parsed.diagnostics
    assert parsed.file == parse(" ".join(text.split()), "class.rules").file


def test_there_is_one_spelling() -> None:
    ways = (
        "rule one “{x}” for each note of cantus at penultimate require approach is perfect  fifth or m3, A4 or exactly "
        "octave",
        'rule one "{x}" for every note in cantus at last but one require approach is P5, m3, A4 or exactly octave',
    )
    formatted = {format_text(f'{way} fault source "common practice"') for way in ways}
    assert len(formatted) == 1
    assert "\n  require approach is P5, m3, A4 or exactly octave\n" in formatted.pop()


@pytest.mark.parametrize("voices", ["upper and  lower", "Lower -- above\n and the upper", "each pair"])
def test_all_pairs_have_one_name(voices: str) -> None:
    rule = 'rule one "{{interval}}" for every interval between {} forbid interval is P4 fault source "common practice"'
    assert "\n  for every interval between each pair" in format_text(rule.format(voices))


def test_clauses_are_found_by_the_line_of_their_rule() -> None:
    clauses = rule_clauses(parse(TIDY, "class.rules"))
    assert list(clauses) == [7]
    assert clauses[7][:4] == [
        '"The close is {interval}."',
        "for every interval between each pair taken on downbeats",
        "at last",
        "when interval is not third or (interval is P5 and upper is crossed-over(3, 4))",
    ]


# ---- texts put together at random ----------------------------------------------------------------

VALUES = st.sampled_from(["P5", "m3", "exactly M3", "third", "rising m6", "size of interval + 1", "limit", "(3)"])
THINGS = st.sampled_from(
    ["interval", "degree of note 2 after upper", "motion", "span between previous lower and upper",
     "run where (interval is third and it is off the downbeat)", "number of notes in upper voices",
     "crossed-over(3, limit)"]
)  # fmt: skip
VERBS = st.sampled_from(["is", "is not", "is at least", "are wider than", "is lower than"])
COMPARED = st.builds(lambda *words: " ".join(words), THINGS, VERBS, VALUES)
SIMPLE = st.one_of(COMPARED, st.sampled_from(["previous interval is missing", "it begins step then leap then step"]))
CONNECTIVES = st.sampled_from([" and ", " or "])
JOINED = st.builds(str.join, CONNECTIVES, st.lists(SIMPLE, min_size=1, max_size=5))
CONDITIONS = st.recursive(JOINED, lambda inner: inner.map("not ({}) and interval is third".format), max_leaves=3)
CLAUSES = st.one_of(
    st.builds(lambda words: f"when {words}", CONDITIONS),
    st.builds(lambda words: f'excused as close when {words} "it is the close"', CONDITIONS),
    st.sampled_from(
        ["at last but one or 3rd", "except in bars 2 to 4", "accepts\n| upper A4 B4  \n|\n| upper C5\n",
         "rejects at bars 2, 3\n|cantus D4\n", "rejects overall\n| cantus D4 -- no comment\n"]
    ),
)  # fmt: skip
RULES = st.builds(
    lambda head, demand, words, clauses: "\n".join(
        [f'{head} no-such "{{interval}} here." for every interval between each pair {demand} {words}',
         'warning, 2 points, at most 6 source "common practice, no source"', *clauses]
    ),
    st.sampled_from(["rule", "replace rule"]), st.sampled_from(["require", "forbid"]), CONDITIONS,
    st.lists(CLAUSES, max_size=3),
)  # fmt: skip
STATEMENTS = st.one_of(
    RULES,
    st.builds(lambda words: f"define odd for an interval with limit: count as {words}", CONDITIONS),
    st.builds(lambda words: f'excuse no-such, other as close when {words} "it is the close"', CONDITIONS),
    st.sampled_from(
        [
            "use vocabulary",
            'build on "own.rules"',
            "set most-thirds to 4",
            "drop one, two, three",
            "adjust one: fault, 4 points, once",
            "define turn as falling step then rising third",
            'parameter most is a count from 1 to 9, usually 3 "in a row"',
            "parameter few is a set of interval, usually P5",
            'example "two bars" rejected by one at bar 2, two overall\n| cantus D4 E4\n',
            'example "x" accepted\n|cantus D4\n',
        ]
    ),
)
COMMENTS_WITHIN = [" -- aside\n  ", "\n  -- alone\n  ", "\n\n -- one\n-- two\n "]
SPACES = st.sampled_from([" "] * 8 + ["  ", "\t", "\n  ", "\n\n  ", " the ", *COMMENTS_WITHIN])
COMMENTS_BETWEEN = [" -- aside\n", "\n  -- inside\n", "\n-- above\n", "\n\n-- alone\n\n", "\n-- a\n\n  -- b\n"]
BETWEEN = st.sampled_from(["\n", "\n\n", "\n\n\n", *COMMENTS_BETWEEN])


@st.composite
def texts(draw: st.DrawFn) -> str:
    """Readable rules files in any layout."""
    parts: list[str] = []
    for statement in draw(st.lists(STATEMENTS, min_size=1, max_size=4)):
        for line in statement.splitlines(keepends=True):
            is_example = line.startswith("|")
            words = [line] if is_example else re.findall(r'"[^"]*"|[()]|[^\s()]+', line)
            parts += [word + ("" if is_example else draw(SPACES)) for word in words]
            parts += ["\n  "] if line.endswith("\n") and not is_example else []
        parts.append(draw(BETWEEN))
    return "".join(parts)


@given(texts())
@settings(deadline=None)
def test_laws_hold_for_any_text(text: str) -> None:
    assert_laws(text)


@given(texts())
@settings(deadline=None)
def test_only_what_can_not_be_broken_is_too_wide(text: str) -> None:
    wide = [line for line in format_text(text).splitlines() if len(line) > WIDTH]
    assert all('"' in line or "--" in line or line.lstrip().startswith("|") for line in wide)


# ---- comments anywhere ---------------------------------------------------------------------------

_FENCED = re.compile(r"^```rules.*?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
REFERENCE = _FENCED.findall((shipped("grammar") / "LANGUAGE.md").read_text("utf-8"))
CATALOGUE = sorted((Path(__file__).parents[1] / "catalogue").glob("*.rules"))
SOURCES = [*(path.read_text(encoding="utf-8") for path in [*SHIPPED, *CATALOGUE]), *REFERENCE]


def test_laws_hold_for_all_files_of_the_project() -> None:
    for text in SOURCES:
        assert_laws(text)


@given(st.sampled_from(SOURCES), st.randoms(use_true_random=False))
@settings(deadline=None, max_examples=40)
def test_laws_hold_with_comments_between_any_tokens(text: str, chance: random.Random) -> None:
    """A comment never joins a line that goes on, whatever it stands between."""
    tokens = parse(text, "test.rules").tokens
    for token in sorted(chance.sample(tokens, min(6, len(tokens))), key=lambda token: -token.start_pos):
        place = token.start_pos
        comment = chance.choice([" -- aside\n", "\n-- at the margin\n", "\n\n  -- in\n\n", " the -- x\n the ", "--\n"])
        text = text[:place] + comment + text[place:]
    assert_laws(text)


@pytest.mark.parametrize("between", ["\n", "\n-- why\n", " -- why\n"])
def test_a_set_of_values_may_stand_at_the_margin(between: str) -> None:
    """The law that was missing: ‘set of’ begins no statement."""
    text = f'parameter sweet is a{between}set{between}of interval, usually third or sixth "what is sweet"\n'
    assert format_text(text) and not load_text(text).rules


@pytest.mark.parametrize("between", ["\n", "\n-- why\n", "\n\n"])
def test_the_second_word_of_a_replacement_may_stand_at_the_margin(between: str) -> None:
    """The law that was missing: a statement begins only where nothing else is under way."""
    rule = f'replace{between}rule no-crossing "Bad." for every note in cantus require bar is 1 fault source "none"\n'
    found = load_text(f"build on first-species-strict\n{rule}").rules
    assert [each.message for each in found if each.name == "no-crossing"] == [("Bad.",)]
