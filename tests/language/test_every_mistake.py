"""Every mistake of meaning is told, whatever stands beside it, and each of them once."""

from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rulekit.language.whole import examine

# Phrases that have no meaning in a rule on moves; ‘@’ stands before each word or phrase that is told.
WRONG_CONDITIONS = (
    "@intervall is P5",
    "interval is @pirfect",
    "interval is P5, @fith or @motion",
    "motion is @P5",
    "motion is @direkt or @parallell",
    "@moton is P5 or @fith",
    "upper is @leadingnote",
    "upper is raised or @strongg or @first-one",
    "degree of @uper is 7",
    "@degre of @uper is 7",
    "@degre of upper is 7",
    "span between @uper and @lowr is A1",
    "span between @interval and lower is A1",
    "bar + @baar is more than @beet",
    "motion @is more than similar",
    "bar is at least @P5",
    "motion @is more than @similarr",
    "@previous it is @stong",
    "upper is pitch C5 or @raized",
    "interval is @step or @rising third",
    "degree of upper is 3 or @9",
    "upper is @in lower or lower is @in lower",
    "@degree to upper is @8",
    "@previous move is @thrid",
    "size of interval is @third",
    "upper is higher than @lowr",
    "note before @uper is missing",
    "@uper begins step then @thrid",
    "upper begins @motion then step",
    "run where (@intervall is third) is at most 3",
    "run where (interval is @thrid) is at most @tree",
    "run with same (@moton) is at most 3",
    "number so far with same (@moton) is at most 3",
    "number so far with same @third is at most @tree",
    "@pich where last (it is @stong) is pitch C4",
    "some interval @above bess is @thrid",
    "every note @in uper is @diatonik",
    "it is near(@baar, @moton)",
    "it is near(bar, @upper)",
    "it is @near(bar)",
    "not (@intervall is P5)",
    "(@intervall is P5 and (@moton is similar or it is @stong))",
    "@number of moves is 3 and bar is @tree",
)
WRONG_PLACES = ("at @frst", "at last or @weeak or on the downbeat", "except at @leadingnote", "in bar 2\n  at @nowhere")
WRONG_SLOTS = ("{@intervall}", "{degree of @uper} and {@moton}", "{interval} {@}", "{@nothing-here}")
DEFINITION = "define near for an interval with one: count, two: count as it is on the downbeat or one is at least two\n"


def wrong_rule(message: str, subject: str, places: Sequence[str], conditions: Sequence[str], licence: str) -> str:
    """A rule made of phrases with mistakes."""
    *when, demand = conditions
    lines = [f'  "{message}"', f"  for every move {subject}", *(f"  {place}" for place in places)]
    lines += [f"  when {condition}" for condition in when] + [f"  forbid {demand}"]
    lines += [f'  excused as reason when {licence} "because"', "  fault", '  source "common practice, no source"']
    return DEFINITION + "rule wrong\n" + "\n".join(lines) + "\n"


def marked(text: str) -> tuple[str, list[tuple[int, int]]]:
    """The text without its marks, and the line and column of each."""
    lines, places = [], []
    for number, line in enumerate(text.split("\n"), 1):
        while "@" in line:
            places.append((number, line.index("@") + 1))
            line = line.replace("@", "", 1)
        lines.append(line)
    return "\n".join(lines), places


def told(text: str) -> list[tuple[int, int]]:
    return [(problem.line, problem.column) for problem in examine(text, "wrong.rules", Path()).problems]


@pytest.mark.parametrize("condition", WRONG_CONDITIONS)
def test_a_condition_tells_all_its_mistakes(condition: str) -> None:
    text, places = marked(wrong_rule("{interval}", "between each pair", [], [condition], "it is last"))
    assert told(text) == places


@settings(max_examples=120, deadline=None)
@given(
    st.sampled_from(WRONG_SLOTS),
    st.sampled_from(("between each pair", "@between each paar")),
    st.lists(st.sampled_from(WRONG_PLACES), max_size=2),
    st.lists(st.sampled_from(WRONG_CONDITIONS), min_size=1, max_size=5),
    st.sampled_from(WRONG_CONDITIONS),
)
def test_as_many_mistakes_are_told_as_were_made(
    message: str, subject: str, places: list[str], conditions: list[str], licence: str
) -> None:
    text, expected = marked(wrong_rule(message, subject, places, conditions, licence))
    assert told(text) == expected


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(WRONG_CONDITIONS), min_size=1, max_size=3), st.integers(1, 3))
def test_a_mistake_in_a_definition_is_told_once_and_hides_nothing_beside_its_uses(wrong: list[str], uses: int) -> None:
    body = " and ".join(f"({condition})" for condition in wrong if "run " not in condition) or "it is @stong"
    rules = (
        wrong_rule("x", "between each pair", [], [f"it is used and interval is @fith{n}", "bar is 3"], "it is used")
        .removeprefix(DEFINITION)
        .replace("rule wrong", f"rule wrong{n}")
        for n in range(uses)
    )
    text, expected = marked(f"{DEFINITION}define used for an interval as {body}\n{''.join(rules)}")
    assert told(text) == expected
