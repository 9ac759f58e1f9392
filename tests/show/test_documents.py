"""JSON documents keep to the schemas that are shipped with them."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from rulekit.compiler.monitor import monitors
from rulekit.diagnostics import Diagnostic
from rulekit.exercise.model import ALLA_BREVE, Setting
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.mode import mode_of
from rulekit.show.documents import list_document, mark_document, marked_document, try_document
from rulekit.trying import try_ruleset
from tests.schemas import FOLDER, mistakes

RULES = """\
ruleset "Evening class"

parameter widest is an interval from P8 to P15, usually tenth "between the voices"

rule no-parallels
  "Parallel {interval} ({previous upper} to {upper})."
  for every move between each pair
  when interval is P5 or P8
  forbid motion is parallel
  excused as close when it is last "the close may"
  fault, 4 points, at most 8
  source "Fux 1725, book I (from memory)"
  accepts
    | upper  A4 B4
    | cantus D4 G4

rule not-far
  "{interval} is wide."
  for every interval between each pair
  forbid interval is wider than widest
  advice
  source "common practice, no source"

rule ends-on-final
  "The cantus ends on {lowest}."
  for every line in cantus
  forbid number of notes is less than 9
  warning, 2 points, once
  source "common practice, no source"

example "two bars" rejected by no-parallels at bar 2, ends-on-final overall
  | upper  A4 B4 D5
  | cantus D4 E4 D4
"""


@pytest.fixture
def ruleset(tmp_path: Path) -> Ruleset:
    """A small ruleset in a file."""
    path = tmp_path / "evening.rules"
    path.write_text(RULES, encoding="utf-8")
    return load_ruleset(path)


def test_marked_exercises(ruleset: Ruleset) -> None:
    exercises, _ = read_exercises("bars: 5\nmode: D\nupper A5/2 B4 A4/1 B4 C5\ncantus D4 D4 E4 F4\n")
    problem = Diagnostic("other.notes", 1, 2, 3, "there is no note ‘H4’", "did you mean B4?")
    document = mark_document("one.notes", [marked_document(mark(exercises[0], ruleset))], ruleset, [problem])
    assert mistakes(document) == []
    findings = document["exercises"][0]["findings"]
    assert [(f["rule"], f["bar"], f["beat"]) for f in findings] == [
        ("not-far", 5, 1), ("no-parallels", 7, 1), ("no-parallels", 8, 1), ("ends-on-final", None, None),
    ]  # fmt: skip
    assert [f["excuse"] and f["excuse"]["name"] for f in findings] == [None, None, "close", None]
    assert findings[1]["notes"] == [
        {"bar": 7, "beat": 1, "voice": "upper", "note": "B4"},
        {"bar": 7, "beat": 1, "voice": "cantus", "note": "E4"},
    ]
    assert document["exercises"][0]["lost"] == 4 + 2
    assert document["problems"][0]["hint"] == "did you mean B4?"


def test_a_beat_between_beats_is_a_fraction(ruleset: Ruleset) -> None:
    exercises, _ = read_exercises("upper D4/4 C6 D4/2\ncantus D4/1\n")
    document = mark_document("one.notes", [marked_document(mark(exercises[0], ruleset))], ruleset, [])
    assert document["exercises"][0]["findings"][0]["beat"] == 1.5
    assert mistakes(document) == []


def test_trials(ruleset: Ruleset) -> None:
    document = try_document(ruleset, try_ruleset(ruleset))
    assert mistakes(document) == []
    assert [trial["rule"] for trial in document["trials"]] == ["no-parallels", None]
    assert document["passed"] is True


def test_rules_in_force(ruleset: Ruleset) -> None:
    running = monitors(ruleset, Setting(mode_of("D"), ALLA_BREVE, 3, 2, 10 * ALLA_BREVE.bar_length))
    document = list_document(ruleset, running, 3)
    assert mistakes(document) == []
    assert [rule["monitors"] for rule in document["rules"]] == [3, 3, 1]
    assert document["rules"][0]["memory"]["back"] == 1
    assert document["rules"][0]["subject"] == "every move between each pair"
    parameter = document["parameters"][0]
    assert (parameter["low"], parameter["high"], parameter["origin"]) == ("P8", "P15", "evening")


def test_a_document_that_breaks_its_schema_is_found_out(ruleset: Ruleset) -> None:
    document = try_document(ruleset, try_ruleset(ruleset))
    document["trials"][0]["line"] = "3"
    document["trials"][1]["note"] = ""
    del document["ruleset"]
    assert sorted(mistakes(document)) == [
        "$.trials[0].line: '3' is not of type 'integer'",
        "$.trials[1]: Additional properties are not allowed ('note' was unexpected)",
        "$: 'ruleset' is a required property",
    ]


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.schema.json")), ids=lambda path: path.stem)
def test_the_schemas_are_schemas_that_refuse_what_they_do_not_know(path: Path) -> None:
    schema = json.loads(path.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    assert schema["additionalProperties"] is False
    assert set(schema["required"]) >= {"version", "command"}
