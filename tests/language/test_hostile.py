"""Bad rules files: each is used or refused in words, soon, by every command that takes one."""

import os
import random
import time

import pytest

from rulekit.compiler.monitor import monitors
from rulekit.diagnostics import RulekitError
from rulekit.exercise.notation import read_exercises
from rulekit.language.format import format_text
from rulekit.language.loading import load_text
from rulekit.language.mending import attempts
from rulekit.marking import mark
from rulekit.show.documents import list_document, try_document
from rulekit.show.listing import ruleset_lines, trial_lines
from rulekit.show.terminal import Screen, clean
from rulekit.trying import try_ruleset
from tests.language.fuzzing import CATALOGUE, bad_rules
from tests.language.test_format import meaning

_SECONDS = 10
_FROM_SEED = int(os.environ.get("RULES_SEED", "1"))
_FILES = int(os.environ.get("RULES_FILES", "60"))
_EXERCISES, _ = read_exercises(
    "exercise: two\nupper A4 C5/2 B4 | A4 r A4/1\ncantus D4 C4 D4 D4\n"
    "exercise: three\nhigh E5 D5 C5 B4 C5\nmiddle r G4 E4 G4~ G4\ncantus C4 B3 A3 G3 C4\n"
)


def outcome(text: str) -> list[str]:
    """What is told of a file; it is used or refused, and no message is endless or can’t be printed."""
    began = time.process_time()
    told = _laid_out(text) + _used(text)
    assert time.process_time() - began < _SECONDS
    assert all(message and len(message) < 5_000 for message in told)
    assert all(clean(message).encode() for message in told)
    return told


def _laid_out(text: str) -> list[str]:
    """Laying out never changes what a file means; what can't be read is not laid out."""
    try:
        formatted = format_text(text, "stranger.rules")
    except RulekitError as error:
        return [str(problem) for problem in error.diagnostics]
    assert format_text(formatted) == formatted
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    assert meaning(formatted) == meaning("\n".join(line.rstrip() for line in lines))
    return []


def _used(text: str) -> list[str]:
    screen = Screen(80, {})
    try:
        ruleset = load_text(text, "stranger.rules", CATALOGUE)
        for voices in (2, 4):
            running = monitors(ruleset, _EXERCISES[0].setting) if voices == 2 else []
            list(ruleset_lines(screen, ruleset, running, voices))
            list_document(ruleset, running, voices)
        for exercise in _EXERCISES:
            assert all(finding.message for finding in mark(exercise, ruleset).findings)
        trials = try_ruleset(ruleset)
        list(trial_lines(screen, ruleset, trials))
        try_document(ruleset, trials)
    except RulekitError as error:
        assert error.diagnostics
        assert all(d.line >= 1 and d.column >= 1 for d in error.diagnostics)
        return [str(problem) for problem in error.diagnostics]
    return [str(warning) for warning in ruleset.warnings]


def test_spoilt_rules_are_used_or_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each line that is suggested is one more text to read: of these only a few are tried here."""
    monkeypatch.setattr(attempts, "_MOST_TRIES", 2)
    print(f"RULES_SEED={_FROM_SEED} RULES_FILES={_FILES}")
    for seed in range(_FROM_SEED, _FROM_SEED + _FILES):
        try:
            outcome(bad_rules(random.Random(f"rules {seed}")))
        except BaseException:
            print(f"seed {seed}")
            raise


@pytest.mark.parametrize("text", ["", "\0", "rule", "use vocabulary\n" * 3])
def test_hardly_any_file(text: str) -> None:
    outcome(text)
