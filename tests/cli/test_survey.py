"""A repertoire surveyed: the tables are what marking finds, on one core or many, and what is done is not done again."""

import csv
import json
from pathlib import Path

import pytest

from rulekit import load_exercises, load_ruleset, mark
from rulekit.cli import main
from rulekit.exercise.scores import ReadOptions
from rulekit.surveying import recalled, survey
from tests.schemas import mistakes

RULES = "first-species-strict"
ONE = "exercise: Ida\nmode: D\nupper A4 B4 C5 C#5 D5\ncantus D4 E4 F4 E4 D4\n"
TWO = "exercise: =Otto\nmode: D\nupper D5 A4 B4 C5 C#5 D5\ncantus D4 D4 E4 F4 E4 D4\n"
BROKEN = "exercise: Emil\nmode: D\nupper A4 H4\ncantus D4 E4\n"


@pytest.fixture
def pieces(tmp_path: Path) -> Path:
    folder = tmp_path / "pieces"
    folder.mkdir()
    for name, text in {"a": ONE, "b": TWO, "c": BROKEN}.items():
        (folder / f"{name}.notes").write_text(text, encoding="utf-8")
    return folder


def surveyed(pieces: Path, to: Path, *more: str) -> int:
    return main(["survey", str(pieces), "--rules", RULES, "--to", str(to), *more])


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def expected(pieces: Path) -> list[tuple[str, str, str]]:
    ruleset = load_ruleset(RULES)
    found = [mark(load_exercises(pieces / f"{name}.notes")[0], ruleset).findings for name in "ab"]
    return [(f.rule, str(f.bar or ""), f.message) for findings in found for f in findings]


def test_the_tables_hold_what_marking_finds(pieces: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert surveyed(pieces, tmp_path / "out") == 2
    found = rows(tmp_path / "out" / "findings.csv")
    assert [(row["rule"], row["bar"], row["message"]) for row in found] == expected(pieces)
    assert {row["piece"] for row in found} == {"Ida", "'=Otto"}
    counted = {row["rule"]: row for row in rows(tmp_path / "out" / "rules.csv")}
    bare = [row for row in found if not row["excuse"]]
    for rule in load_ruleset(RULES).rules:
        mine = [row["piece"] for row in bare if row["rule"] == rule.name]
        row = counted[rule.name]
        assert (int(row["pieces"]), int(row["findings"])) == (len(set(mine)), len(mine))
        assert float(row["per_hundred"]) == pytest.approx(100 * len(mine) / 22)
    (refused,) = rows(tmp_path / "out" / "refused.csv")
    assert refused["file"].endswith("c.notes") and "H4" in refused["reason"]
    assert "<svg" in (tmp_path / "out" / "survey.html").read_text(encoding="utf-8")
    assert "2 pieces, 22 notes" in capsys.readouterr().out


def test_the_document_holds_what_the_tables_hold(
    pieces: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert surveyed(pieces, tmp_path / "out", "--json") == 2
    document = json.loads(capsys.readouterr().out)
    assert mistakes(document) == []
    table = rows(tmp_path / "out" / "rules.csv")
    assert [(each["rule"], str(each["findings"])) for each in document["rules"]] == [
        (row["rule"], row["findings"]) for row in table
    ]
    assert (document["pieces"], document["notes"], len(document["problems"])) == (2, 22, 1)


def test_what_is_done_is_not_done_again(pieces: Path, tmp_path: Path) -> None:
    surveyed(pieces, tmp_path / "out")
    kept = tmp_path / "out" / ".surveyed"
    before = {each.name: each.stat().st_mtime_ns for each in kept.iterdir()}
    (pieces / "b.notes").write_text(TWO.replace("B4", "G4"), encoding="utf-8")
    surveyed(pieces, tmp_path / "out")
    after = {each.name: each.stat().st_mtime_ns for each in kept.iterdir()}
    assert len(before) == 3 and before.items() < after.items() and len(after) == 4
    (kept / next(iter(before))).write_text("{", encoding="utf-8")
    assert surveyed(pieces, tmp_path / "out") == 2
    assert [row["rule"] for row in rows(tmp_path / "out" / "findings.csv")] == [rule for rule, *_ in expected(pieces)]


def test_what_is_kept_is_recalled(pieces: Path) -> None:
    ruleset = load_ruleset(RULES)
    for name in "abc":
        found = survey(pieces / f"{name}.notes", ruleset, ReadOptions())
        assert recalled(found.kept()) == found


def test_parquet_holds_the_same_rows(pieces: Path, tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    surveyed(pieces, tmp_path / "out")
    found = parquet.read_table(tmp_path / "out" / "findings.parquet").to_pylist()
    assert [(row["rule"], str(row["bar"] or ""), row["message"]) for row in found] == expected(pieces)


def test_a_scheduler_finds_the_same(pieces: Path, tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    surveyed(pieces, tmp_path / "here")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None, protocol="tcp"
    ) as cluster:
        assert surveyed(pieces, tmp_path / "there", "--scheduler", cluster.scheduler_address) == 2
    for name in ("findings.csv", "rules.csv", "refused.csv"):
        assert (tmp_path / "here" / name).read_bytes() == (tmp_path / "there" / name).read_bytes()


def test_a_scheduler_that_is_not_there_is_told(
    pieces: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert surveyed(pieces, tmp_path / "out", "--scheduler", "nowhere") == 2
    assert "scheduler" in capsys.readouterr().err
