"""The lesson sheet: every rule told without placeholders or identifiers, the mode with its semitones."""

import re
from html import unescape

import pytest

from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset, load_text
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.mode import mode_of
from rulekit.page.data import PageOptions
from rulekit.page.lesson import answer_sheet, lesson_sheet
from rulekit.solving.folds import count
from rulekit.solving.graph import build
from rulekit.solving.tasks import drawn_cantus, task


def visible(html: str) -> str:
    """The text of a sheet."""
    body = html[html.index("<body>") :]
    return unescape(re.sub(r"<[^>]*>", " ", re.sub(r"<(style|script).*?</\1>", "", body, flags=re.S)))


@pytest.mark.parametrize("name", ["first-species-strict", "zarlino-two-voices", "cantus-firmus"])
def test_a_sheet_has_every_rule_and_no_sign_of_the_language(name: str) -> None:
    ruleset = load_ruleset(name)
    html = lesson_sheet(ruleset, mode_of("D dorian"))
    text = visible(html)
    assert html.count("<article>") == len(ruleset.rules)
    assert not re.search(r"[{}‹›]|common practice", text)
    assert "<code>" not in html
    assert all(f"<h3>{rule.name.replace('-', ' ').capitalize()}" in html for rule in ruleset.rules)


def test_the_mode_shows_its_semitones(strict: Ruleset) -> None:
    """Source: the dorian semitones are those of degrees 2 to 3 and 6 to 7; common practice, no source."""
    html = lesson_sheet(strict, mode_of("D dorian"), PageOptions(minor_final="re"))
    steps = html[html.index('class="steps"') : html.index("</table>")]
    rows = [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in steps.split("</tr>")[:3]]
    assert [cell for cell in rows[0] if cell] == ["D", "E", "‿", "F", "G", "A", "B", "‿", "C", "D"]
    assert rows[2][::2] == ["re", "mi", "fa", "sol", "la", "ti", "do", "re"]


def test_worksheets_have_empty_staves_and_answers_are_lines_without_a_fault(strict: Ruleset) -> None:
    ((cantus,), _) = read_exercises("exercise: the ferry\nmode: D dorian\ncantus D4 F4 E4 D4 F4 E4 D4")
    found = task(cantus, strict)
    assert found.above is not None and found.below is not None
    for side in found.sides:
        assert side.count == count(build(side.problem)) > 0
        assert side.lines and not any(mark(line, strict).faults for line in side.lines)
    html = lesson_sheet(strict, cantus.mode, tasks=[found])
    works = html[html.index('class="works"') :]
    assert works.count('class="note"') == 7
    assert "C♯" in html[: html.index("</table>") + 600]
    answers = visible(answer_sheet(strict, cantus.mode, tasks=[found]))
    assert f"upper: {found.above.count} line" in answers and f"lower: {found.below.count} line" in answers


def test_where_nothing_may_be_written_nothing_is_asked() -> None:
    ((cantus,), _) = read_exercises("mode: D dorian\ncantus D4 E4 D4")
    rules = load_text(
        'ruleset "none"\nrule none\n  "no"\n  for every interval between each pair\n'
        '  forbid interval is wider than P1 or interval is P1\n  fault\n  source "no source"\n'
    )
    assert task(cantus, rules).sides == ()


def test_a_cantus_is_drawn_that_loses_nothing() -> None:
    cantus = drawn_cantus(mode_of("E phrygian"))
    assert not mark(cantus, load_ruleset("cantus-firmus")).faults


def test_a_sheet_speaks_german(strict: Ruleset) -> None:
    text = visible(lesson_sheet(strict, mode_of("D dorian"), PageOptions(language="de")))
    assert "Was zusammen klingt" in text and "D dorisch" in text and " h " in text


def test_a_task_goes_in_the_rhythm_that_the_rules_ask_for() -> None:
    (cantus,), _ = read_exercises("exercise: short\nmode: D dorian\ncantus D4 F4 E4 D4 E4 D4\n")
    found = task(cantus, load_ruleset("fourth-species-strict"))
    assert found.above is not None and found.above.count
    assert any(event.tie for event in found.above.lines[0].voices[0].events)
