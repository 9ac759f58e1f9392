"""The commands, run within the test: what they print, and their exit status."""

import json
from pathlib import Path

import pytest

from rulekit import load_exercises, load_ruleset, mark
from rulekit.cli import FAULTS, GOOD, UNUSABLE, main
from rulekit.diagnostics import RulekitError
from tests.schemas import mistakes

RULES = """\
ruleset "Evening class"

parameter most-wide is a count from 1 to 9, usually 2 "wide intervals"

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
  rejects at bar 2
    | upper  A4 B4 D5
    | cantus D4 E4 D4

rule few-wide
  "More than {most-wide} wide intervals."
  for every pair between each pair
  require number of intervals where (interval is wider than octave) is at most most-wide
  warning, 2 points, once
  source "common practice, no source"
"""
CLEAN = "exercise: Ida\nmode: D\nupper  A4 A4 G4 A4 C#5 D5\ncantus D4 F4 E4 F4 E4  D4\n"
FAULTY = "exercise: Otto\nmode: D\nupper  A4 B4 C5 C#5 D5\ncantus D4 E4 F4 E4  D4\n"
EXCUSED = "exercise: Uta\nmode: D\nupper  A4 B4\ncantus D4 E4\n"
BROKEN = "exercise: Emil\nmode: D\nupper  A4 H4 C5\ncantus D4 E4\n"


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a ruleset and exercises, in which the commands run."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    for name, text in {
        "evening.rules": RULES, "clean.notes": CLEAN, "faulty.notes": FAULTY, "excused.notes": EXCUSED,
        "broken.notes": BROKEN, "mixed.notes": BROKEN + FAULTY,
    }.items():  # fmt: skip
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """The exit status of a command, what it printed and what it complained of."""
    status = main(words)
    said = capsys.readouterr()
    return status, said.out, said.err


# ---- mark --------------------------------------------------------------------------------------


def test_an_exercise_without_faults(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "mark", "clean.notes", "--rules", "evening")
    assert (status, err) == (GOOD, "")
    assert "Ida" in out
    assert "Mark: 100 of 100 (nothing found)" in out


def test_faults_are_told_by_bar(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "mark", "faulty.notes", "--rules", "evening.rules")
    assert status == FAULTS
    lines = out.splitlines()
    assert lines[lines.index("Bar 2") + 1] == "   1  Parallel perfect fifth (A4 to B4)."
    assert lines[lines.index("Bar 3") + 1] == "   2  Parallel perfect fifth (B4 to C5)."
    assert "Mark: 92 of 100 (2 faults; 8 points lost)" in lines
    found = next(line for line in lines if line.startswith("finding"))
    bars = next(line for line in lines if line.startswith("bar"))
    assert (found.index("1"), found.index("2")) == (bars.index("2"), bars.index("3"))


def test_an_excused_finding_is_no_fault(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "mark", "excused.notes", "--rules", "evening")
    assert status == GOOD
    assert "bar 2; close: the close may (no-parallels)" in out
    assert "Mark: 100 of 100 (1 excused)" in out


def test_what_is_good_beside_a_bad_exercise_is_marked(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "mark", "mixed.notes", "absent.notes", "clean.notes", "--rules", "evening")
    assert status == UNUSABLE
    assert "Otto" in out and "Ida" in out and "Emil" not in out
    assert "mixed.notes:3:11: " in err
    assert "absent.notes:1:1: " in err


def test_a_ruleset_that_is_not_there_names_the_nearest(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "mark", "clean.notes", "--rules", "frist-species-strict")
    assert (status, out) == (UNUSABLE, "")
    assert "first-species-strict" in err


def test_all_mistakes_of_a_ruleset_are_told_at_once(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = RULES.replace("is parallel", "is paralel").replace("wider than octave", "wider than octav")
    (place / "evening.rules").write_text(text, encoding="utf-8")
    status, _, err = run(capsys, "mark", "clean.notes", "--rules", "evening")
    assert status == UNUSABLE
    assert "‘paralel’" in err and "‘octav’" in err


def test_a_parameter_can_be_set(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (place / "wide.notes").write_text("mode: D\nupper A5 G5 A5\ncantus D4 E4 D4\n", encoding="utf-8")
    words = ["mark", "wide.notes", "--rules", "evening", "--json"]
    _, three, _ = run(capsys, *words)
    _, enough, _ = run(capsys, *words, "--set", "most-wide=3")
    assert [f["rule"] for f in json.loads(three)["exercises"][0]["findings"]] == ["few-wide"]
    assert json.loads(enough)["exercises"][0]["findings"] == []
    status, _, err = run(capsys, *words, "--set", "most-wide=10")
    assert status == UNUSABLE
    assert "from 1 to 9" in err


def test_bars_mode_and_cantus_can_be_said(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = ["--bars", "3-5", "--mode", "G dorian", "--cantus", "1"]
    status, out, _ = run(capsys, "mark", "faulty.notes", "--rules", "evening", "--json", *said)
    exercise = json.loads(out)["exercises"][0]
    assert (exercise["first_bar"], exercise["bars"]) == (3, 3)
    assert (exercise["mode"], exercise["cantus"]) == ("G dorian", "upper")
    assert status == GOOD


@pytest.mark.parametrize("word", ["3-", "-", "x-4", "3–4", "1-2-3"])
def test_bars_that_are_none_are_told(word: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["mark", "clean.notes", "--rules", "evening", f"--bars={word}"])
    assert stopped.value.code == UNUSABLE
    assert f"‘{word}’ is not like 3-10" in capsys.readouterr().err


def test_signs_that_a_terminal_would_obey_are_not_printed(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (place / "evening.rules").write_text(RULES.replace("Parallel", "\x1b[2JParallel"), encoding="utf-8")
    _, out, _ = run(capsys, "mark", "faulty.notes", "--rules", "evening")
    assert "Parallel perfect fifth" in out
    assert "\x1b" not in out


# ---- try, list, handout ------------------------------------------------------------------------


def test_examples_that_go_as_expected(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "try", "evening")
    assert status == GOOD
    assert "2 of 2 examples as expected" in out
    assert "Rules without an example: few-wide" in out


def test_an_example_that_fails_is_told_with_its_line(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (place / "evening.rules").write_text(RULES.replace("rejects at bar 2", "rejects at bars 2, 3"), encoding="utf-8")
    status, out, _ = run(capsys, "try", "evening")
    assert status == FAULTS
    line = RULES[: RULES.index("    | upper  A4 B4 D5")].count("\n") + 1
    assert f"evening.rules:{line}: an example of no-parallels failed" in out
    assert "expected: no-parallels at bar 2, no-parallels at bar 3" in out
    assert "found:    no-parallels at bar 2\n" in out
    _, out, _ = run(capsys, "try", "evening", "--json")
    assert json.loads(out)["passed"] is False


def test_a_list_names_rules_parameters_and_changes(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = 'ruleset "Late"\nbuild on evening\nset most-wide to 5\nadjust no-parallels: warning, 1 point\n'
    (place / "late.rules").write_text(text, encoding="utf-8")
    status, out, _ = run(capsys, "list", "late")
    assert status == GOOD
    text = " ".join(out.split())
    assert "no-parallels warning, 1 point" in text
    assert "every move between each pair; remembers 1 back" in text
    assert "most-wide is 5 (wide intervals), a count from 1 to 9, from late" in text
    assert "from evening; now warning by late; source: Fux 1725" in text


def test_a_handout_is_printed_or_written(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, printed, _ = run(capsys, "handout", "evening")
    status, out, _ = run(capsys, "handout", "evening", "-o", "sheet.md")
    assert (status, out) == (GOOD, "")
    assert (place / "sheet.md").read_text(encoding="utf-8") == printed
    assert printed.startswith("# Evening class\n")
    status, _, err = run(capsys, "handout", "evening", "-o", "no/such/sheet.md")
    assert status == UNUSABLE
    assert "can’t be written" in err


# ---- format ------------------------------------------------------------------------------------


def test_a_file_is_laid_out_in_place(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = place / "evening.rules"
    path.write_text(RULES.replace("  for every", "for   every"), encoding="utf-8")
    status, out, _ = run(capsys, "format", "evening", "--check")
    assert (status, out) == (FAULTS, "evening.rules: is not in its layout\n")
    status, out, _ = run(capsys, "format", "evening")
    assert (status, out) == (GOOD, "evening.rules: laid out\n")
    assert path.read_text(encoding="utf-8") == RULES
    assert run(capsys, "format", "evening", "--check") == (GOOD, "", "")
    document = json.loads(run(capsys, "format", "evening", "none", "--json")[1])
    assert mistakes(document) == [] and [each["in_layout"] for each in document["files"]] == [True]


def test_a_file_that_can_not_be_read_is_left_alone(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (place / "bad.rules").write_text("rule rule", encoding="utf-8")
    (place / "evening.rules").write_text(RULES.replace("  for every", "for   every"), encoding="utf-8")
    status, out, err = run(capsys, "format", "bad", "evening")
    assert status == UNUSABLE
    assert (place / "bad.rules").read_text(encoding="utf-8") == "rule rule"
    assert out == "evening.rules: laid out\n"
    assert err.startswith("bad.rules:1:")


# ---- the library, and interruption -------------------------------------------------------------


def test_the_library_in_three_lines(place: Path) -> None:
    ruleset = load_ruleset("evening.rules")
    marked = [mark(exercise, ruleset) for exercise in load_exercises("faulty.notes")]
    assert [len(each.faults) for each in marked] == [2]
    with pytest.raises(RulekitError) as caught:
        load_exercises(place / "broken.notes")
    assert caught.value.diagnostics[0].line == 3


def test_an_interruption_ends_without_a_word(
    place: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("rulekit.cli.mark.mark", interrupted)
    assert run(capsys, "mark", "clean.notes", "--rules", "evening") == (130, "", "rulekit: interrupted\n")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["mrak", "clean.notes"], "there is no command ‘mrak’. Did you mean ‘mark’?"),
        (["mark", "clean.notes", "--rulez", "evening"], "there is no option ‘--rulez’. Did you mean ‘--rules’?"),
        (["list", "evening", "--voicse=3"], "there is no option ‘--voicse’. Did you mean ‘--voices’?"),
    ],
)
def test_a_misspelt_word_of_a_command_is_told_by_itself(
    capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code == UNUSABLE
    assert told in capsys.readouterr().err


def test_without_a_command_the_commands_are_shown(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([])
    assert ended.value.code == GOOD
    assert "mark exercises by a ruleset" in capsys.readouterr().out


@pytest.mark.parametrize("words", [["--output", "sheet.docx"], ["--answers", "answers.md"]])
def test_a_sheet_of_an_unknown_kind_is_refused(
    place: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    status, _, told = run(capsys, "handout", "evening.rules", *words)
    assert status == UNUSABLE
    assert "are not written" in told
    assert not (place / words[1]).exists()


def test_a_folder_stands_for_the_scores_below_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "deeper").mkdir()
    for name in ("b.notes", "deeper/a.notes", "words.txt"):
        (tmp_path / name).write_text("mode: D\nupper  A4 D5\ncantus D4 D4\n", encoding="utf-8")
    main(["mark", str(tmp_path), "--json", "--rules", "first-species-strict"])
    assert [json.loads(line)["file"] for line in capsys.readouterr().out.splitlines()] == [
        str(tmp_path / "b.notes"), str(tmp_path / "deeper" / "a.notes"),
    ]  # fmt: skip
    (tmp_path / "empty").mkdir()
    assert main(["mark", str(tmp_path / "empty"), "--rules", "first-species-strict"]) == UNUSABLE
    assert "folders without scores are not read" in capsys.readouterr().err
