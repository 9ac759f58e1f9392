"""The SARIF log against the standard (OASIS SARIF 2.1.0, sections in brackets) and against the marking it tells."""

import json
from pathlib import Path
from typing import Any

import pytest

from rulekit import load_exercises, load_ruleset, mark
from rulekit.cli import FAULTS, UNUSABLE, main

_EXAMPLES = sorted(Path("examples/exercises").glob("*.notes"))
_RULES = "first-species-strict"
_LEVELS = {"fault": "error", "warning": "warning", "advice": "note"}


def log_of(tmp_path: Path, *scores: Path) -> dict[str, Any]:
    file = tmp_path / "log.sarif"
    main(["mark", *map(str, scores), "--rules", _RULES, "--sarif", str(file)])
    return json.loads(file.read_text(encoding="utf-8"))


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    (only,) = log_of(tmp_path, *_EXAMPLES)["runs"]
    return only


def test_what_the_standard_requires_is_there(tmp_path: Path) -> None:
    log = log_of(tmp_path, *_EXAMPLES)
    assert log["version"] == "2.1.0"  # [3.13.2]
    (run,) = log["runs"]  # [3.13.4]
    driver = run["tool"]["driver"]  # [3.14.6, 3.18.2]
    assert driver["name"] == "rulekit"  # [3.19.8]
    names = [rule["id"] for rule in driver["rules"]]  # [3.49.3]
    assert len(set(names)) == len(names)
    assert all(isinstance(each["executionSuccessful"], bool) for each in run["invocations"])  # [3.20.14]
    assert run["results"]
    for result in run["results"]:
        assert result["message"]["text"]  # [3.27.11]
        assert result["level"] in {"error", "warning", "note"}  # [3.27.10]
        assert names[result["ruleIndex"]] == result["ruleId"]  # [3.27.6]
        assert all(each["kind"] in {"inSource", "external"} for each in result["suppressions"])  # [3.35.2]
        for location in result["locations"]:
            uri = location["physicalLocation"]["artifactLocation"]["uri"]  # [3.4.3]
            assert "\\" not in uri and " " not in uri
            assert all(each["name"] and each["fullyQualifiedName"] for each in location["logicalLocations"])


def test_an_independent_model_of_the_standard_reads_it_whole(tmp_path: Path) -> None:
    """Nothing in it is unknown to sarif-pydantic, classes made from the standard by others, or of another type."""
    model = pytest.importorskip("sarif_pydantic", reason="sarif-pydantic is not installed")
    log = log_of(tmp_path, *_EXAMPLES, tmp_path / "missing.notes")
    read = model.Sarif.model_validate(log)
    assert json.loads(read.model_dump_json(by_alias=True, exclude_none=True, exclude_unset=True)) == log


def test_its_results_are_the_findings(run: dict[str, Any]) -> None:
    ruleset = load_ruleset(_RULES)
    findings = [
        finding
        for path in _EXAMPLES
        for exercise in load_exercises(path)
        for finding in mark(exercise, ruleset).findings
    ]
    told = [(r["ruleId"], r["level"], r["message"]["text"], bool(r["suppressions"])) for r in run["results"]]
    assert told == [(f.rule, _LEVELS[f.severity], f.message, f.excuse is not None) for f in findings]
    for result, finding in zip(run["results"], findings, strict=True):
        names = [each["fullyQualifiedName"] for each in result["locations"][0]["logicalLocations"]]
        assert all(any(name.endswith(f"/bar {p.bar}/{p.voice}") for name in names) for p in finding.places)
    rules = {rule["id"]: rule for rule in run["tool"]["driver"]["rules"]}
    assert {name: rule["properties"]["source"] for name, rule in rules.items()} == {
        rule.name: rule.source for rule in ruleset.rules
    }


def test_a_broken_file_is_told_in_its_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    broken = tmp_path / "a file.notes"
    broken.write_text("mode: D\nupper H4\n", encoding="utf-8")
    file = tmp_path / "log.sarif"
    assert main(["mark", str(broken), str(_EXAMPLES[0]), "--rules", _RULES, "--sarif", str(file)]) == UNUSABLE
    (run,) = json.loads(file.read_text(encoding="utf-8"))["runs"]
    (invocation,) = run["invocations"]
    assert invocation["executionSuccessful"] is False
    place = invocation["toolExecutionNotifications"][0]["locations"][0]["physicalLocation"]
    assert place["artifactLocation"]["uri"] == broken.as_uri() and "%20" in place["artifactLocation"]["uri"]
    assert place["region"]["startLine"] == 2


def test_text_and_status_are_as_without_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = ["mark", *map(str, _EXAMPLES), "--rules", _RULES]
    assert main(command) == FAULTS
    text = capsys.readouterr().out
    assert main([*command, "--sarif", str(tmp_path / "log.sarif")]) == FAULTS
    assert capsys.readouterr().out == text
