"""The README shows what its commands really print, and its Python runs."""

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from rulekit.language.loading import load_text
from rulekit.trying import try_ruleset

_ROOT = Path(__file__).parent.parent
_TEXT = (_ROOT / "README.md").read_text(encoding="utf-8")
_SHOWN = re.findall(r"```console\n\$ (.+)\n((?:.*\n)*?)```", _TEXT)
_SPENT = re.compile(r"\d+\.\d+ s, \d+ MB")


def test_every_search_command_is_shown() -> None:
    shown = {shlex.split(command)[1] for command, _ in _SHOWN}
    assert {"count", "sample", "complete", "mend", "whynot", "compare", "audit", "cantus", "mark"} <= shown


@pytest.mark.parametrize(("command", "output"), _SHOWN, ids=[command for command, _ in _SHOWN])
def test_a_command_prints_what_is_shown(command: str, output: str) -> None:
    environment = {**os.environ, "COLUMNS": "80", "NO_COLOR": "1", "PYTHONPATH": str(_ROOT)}
    arguments = [sys.executable, "-m", *shlex.split(command)]
    run = subprocess.run(arguments, capture_output=True, text=True, cwd=_ROOT, env=environment, check=False)
    assert run.stderr == ""
    assert _SPENT.sub("", run.stdout).split() == _SPENT.sub("", output).split()


def test_the_rule_shown_passes_its_own_examples() -> None:
    (rule,) = re.findall(r"```rules\n(.*?)```", _TEXT, re.DOTALL)
    trials = try_ruleset(load_text(rule))
    assert trials
    assert all(trial.passed for trial in trials)


def test_the_python_shown_runs() -> None:
    (code,) = re.findall(r"```python\n(.*?)```", _TEXT, re.DOTALL)
    environment = {**os.environ, "PYTHONPATH": str(_ROOT)}
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=_ROOT, env=environment, check=False
    )
    assert run.returncode == 0, run.stderr
