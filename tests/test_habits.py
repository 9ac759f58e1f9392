"""What a stranger finds in the house: a licence, types, the same checks everywhere."""

import re
import tomllib
from pathlib import Path

from rulekit.cli import _COMMANDS  # pyright: ignore[reportPrivateUsage]

_ROOT = Path(__file__).parent.parent
_PROJECT = tomllib.loads((_ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
_ALLOWED = {
    "README.md", "DEVELOPERS.md", "pyproject.toml", "rulekit", "rulesets", "grammar", "tests", "examples", "LICENSE",
}  # fmt: skip


def test_the_top_level_holds_what_it_may() -> None:
    made = {"dist", "build", "__pycache__"}
    found = {path.name for path in _ROOT.iterdir() if not path.name.startswith(".") and path.suffix != ".egg-info"}
    assert found - made == _ALLOWED


def test_it_is_licensed_and_typed_under_a_name_of_its_own() -> None:
    assert (_PROJECT["name"], _PROJECT["license"]) == ("counterpoint-rulekit", "MIT")
    assert "the rulekit authors" in (_ROOT / "LICENSE").read_text(encoding="utf-8")
    assert (_ROOT / "rulekit" / "py.typed").exists()


def test_the_changelog_is_named_and_knows_every_command() -> None:
    told = (_ROOT / ".changelog.md").read_text(encoding="utf-8")
    assert "(.changelog.md)" in (_ROOT / "README.md").read_text(encoding="utf-8")
    assert [command for command in _COMMANDS if f"`{command}`" not in told] == []


def test_the_changelog_knows_the_version() -> None:
    assert f"## {_PROJECT['version']}" in (_ROOT / ".changelog.md").read_text(encoding="utf-8")


def test_every_hook_before_a_commit_is_run_by_the_ci_too() -> None:
    hooks = re.findall(r"entry: (.+)", (_ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8"))
    script = (_ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert len(hooks) >= 4
    assert [hook for hook in hooks if f"\n{hook}" not in script] == []


def test_the_readme_sets_up_an_environment_and_names_no_package_of_the_index() -> None:
    text = (_ROOT / "README.md").read_text(encoding="utf-8")
    assert len(re.findall(r"^    python3 -m venv \.venv && \. \.venv/bin/activate && pip install -e", text, re.M)) == 2
    assert re.findall(r"pip install (?!-e '\.\[dev\]'|\.`|'\.\[(?:desk|distributed|editor|parquet)\]')", text) == []
