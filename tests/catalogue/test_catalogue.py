"""Every statement of the catalogue can be written in the language, and its examples break what they should."""

from pathlib import Path

import pytest

from rulekit.language.ruleset import Ruleset, load_ruleset
from rulekit.trying import try_ruleset

HERE = Path(__file__).parent
FILES = sorted(path for path in HERE.glob("*.rules") if path.stem[:2].isdigit())
STATEMENTS = range(1, 64)


def own_trials(ruleset: Ruleset, file: Path):
    """The examples that the file states itself; those of a file it builds on are tried there."""
    return [trial for trial in try_ruleset(ruleset) if trial.path == str(file)]


def test_every_statement_has_a_file() -> None:
    assert {int(file.stem[:2]) for file in FILES} == set(STATEMENTS)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_statement(file: Path) -> None:
    ruleset = load_ruleset(file)
    assert not ruleset.warnings

    trials = own_trials(ruleset, file)
    assert [trial for trial in trials if not trial.passed] == []
    assert any(trial.expected for trial in trials), "no example shows what is rejected"
    assert any(not trial.expected for trial in trials), "no example shows what is accepted"
    for rule in ruleset.rules:
        verdicts = {bool(example.breaches) for example in rule.examples}
        assert verdicts == {True, False}, f"{rule.name} lacks an accepted or a rejected example"
