"""What a survey of a repertoire comes to, for a person."""

from collections.abc import Iterator, Sequence
from pathlib import Path

from rulekit.language.ruleset import Ruleset
from rulekit.show.words import counted
from rulekit.surveying import Tally

MOST_SHOWN = 20  # rules, those that most pieces break


def survey_heading(ruleset: Ruleset, pieces: int, notes: int) -> str:
    """What was surveyed."""
    return f"{ruleset.title}: {counted(pieces, 'piece')}, {counted(notes, 'note')}"


def survey_lines(to: Path, ruleset: Ruleset, pieces: int, notes: int, rules: Sequence[Tally]) -> Iterator[str]:
    """The rules that are broken in most pieces, and where the tables are."""
    yield f"{survey_heading(ruleset, pieces, notes)}; {to / 'survey.html'}"
    yield "rule: pieces that break it; findings; in 100 notes"
    for each in rules[:MOST_SHOWN]:
        if each.pieces:
            yield f"  {each.rule:32} {each.pieces:6} {each.findings:8} {each.per_hundred:8.2f}  {each.severity}"
