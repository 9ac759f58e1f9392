"""The desk’s answers, and who gets none."""

from itertools import pairwise
from pathlib import Path

import pytest

from rulekit.desk.shelf import Shelf
from rulekit.diagnostics import RulekitError
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark
from tests.desk.conftest import CANTUS, NOTES, RULES, Served

# ---- who may ask -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "headers",
    [
        {"x_desk_token": ""},
        {"x_desk_token": "another"},
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"host": "elsewhere.example"},
    ],
)
def test_nobody_else_is_answered(served: Served, headers: dict[str, str]) -> None:
    status, _ = served.ask("files", **headers)
    assert status == 403
    assert served.ask("files")[0] == 200


@pytest.mark.parametrize("question", ["__init__", "shelf", "_open", "nothing"])
def test_only_questions_are_answered(served: Served, question: str) -> None:
    assert served.ask(question)[0] == 404
    assert served.ask("file", {"other": 1})[0] == 400


@pytest.mark.parametrize(
    "name", ["../secret.rules", "/etc/hostname", "", "..", "thursday.txt", "link.rules", "a\0.rules"]
)
def test_nothing_outside_the_folder_is_read_or_written(served: Served, name: str) -> None:
    (served.folder.parent / "secret.rules").write_text("secret", encoding="utf-8")
    (served.folder / "link.rules").symlink_to(served.folder.parent / "secret.rules")
    _, read = served.ask("file", {"name": name})
    _, saved = served.ask("save", {"name": name, "text": "x", "stamp": ""})
    assert "secret" not in str(read.get("text")) and "refused" in read and "refused" in saved
    assert (served.folder.parent / "secret.rules").read_text(encoding="utf-8") == "secret"
    assert "link.rules" not in served.ask("files")[1]["rulesets"]


# ---- files -----------------------------------------------------------------------------------------


def test_a_file_that_changed_on_the_disk_is_not_saved_over(served: Served) -> None:
    _, first = served.ask("file", {"name": "thursday.rules"})
    _, second = served.ask("file", {"name": "thursday.rules"})
    _, saved = served.ask("save", {"name": "thursday.rules", "text": RULES + "\n", "stamp": first["stamp"]})
    assert saved["saved"]
    _, late = served.ask("save", {"name": "thursday.rules", "text": "lost", "stamp": second["stamp"]})
    assert not late["saved"]
    assert (served.folder / "thursday.rules").read_text(encoding="utf-8") == RULES + "\n"
    _, again = served.ask("save", {"name": "thursday.rules", "text": RULES, "stamp": saved["stamp"]})
    assert again["saved"]


def test_a_new_file_takes_no_others_place(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    assert shelf.save("new.rules", "one", "") is not None
    assert shelf.save("new.rules", "two", "") is None
    assert shelf.read("new.rules").text == "one"
    with pytest.raises(RulekitError):
        shelf.read("missing.rules")


# ---- answers ---------------------------------------------------------------------------------------


def test_rules_are_looked_at_with_their_examples(served: Served) -> None:
    _, good = served.ask("look", {"name": "thursday.rules", "text": RULES})
    assert good["problems"] == [] and [each["ok"] for each in good["examples"]] == [True, True]
    spoilt = RULES.replace("wider than tenth", "wider than ninth").replace("warning", "warnnig")
    _, bad = served.ask("look", {"name": "thursday.rules", "text": spoilt})
    assert [each["line"] for each in bad["problems"]] == [8]
    _, mended = served.ask("mends", {"name": "thursday.rules", "text": spoilt})
    assert mended["problems"][0]["mend"]["text"] == "warning"
    _, other = served.ask("look", {"name": "thursday.rules", "text": RULES.replace("than tenth", "than ninth")})
    assert [each["ok"] for each in other["examples"]] == [False, True]
    line = RULES.splitlines().index("rule narrow") + 1
    _, shown = served.ask(
        "examples", {"name": "thursday.rules", "text": RULES.replace("than tenth", "than ninth"), "line": line}
    )
    assert shown["rule"] == "narrow" and "<svg" in shown["examples"][0]["picture"]
    assert any("major tenth" in text for text in shown["examples"][0]["saw"])


def test_an_exercise_is_marked_as_the_command_marks_it(served: Served) -> None:
    _, found = served.ask("mark", {"rules": "first-species-strict", "rules_text": "", "text": NOTES, "number": 0})
    (exercise,), _ = read_exercises(NOTES)
    marked = mark(exercise, load_ruleset("first-species-strict"))
    assert (found["mark"], len(found["findings"])) == (marked.mark, len(marked.findings))
    assert found["voices"][0]["notes"][:3] == ["A4", "G4", "A4"]


def test_what_is_still_to_be_found_is_no_fault(served: Served) -> None:
    text = CANTUS.replace("?", "D4", 1).replace("?", "C5", 1)
    _, found = served.ask("mark", {"rules": "first-species-strict", "rules_text": "", "text": text, "number": 0})
    assert found["open"] == 4 and {each["bar"] for each in found["findings"]} <= {1, 2}


def test_what_may_stand_counts_the_lines_that_go_on(served: Served) -> None:
    """The law: putting a note in a place leaves as many lines as were said to go through it."""
    asked = {"rules": "first-species-strict", "rules_text": "", "text": CANTUS, "number": 0}
    totals: list[int] = []
    for slot in range(6):
        _, found = served.ask("standing", {**asked, "voice": 0, "slot": slot})
        totals.append(sum(int(each["lines"]) for each in found["lines"]))
        chosen = max(found["lines"], key=lambda each: int(each["lines"]))
        _, changed = served.ask(
            "put", {"text": asked["text"], "number": 0, "voice": 0, "slot": slot, "note": chosen["note"]}
        )
        asked["text"] = changed["text"]
        expected = int(chosen["lines"])
        if slot < 5:
            _, then = served.ask("standing", {**asked, "voice": 0, "slot": slot + 1})
            assert sum(int(each["lines"]) for each in then["lines"]) == expected
    assert totals[0] > 1 and all(later <= earlier for earlier, later in pairwise(totals))
    _, why = served.ask("because", {**asked, "voice": 0, "slot": 5, "notes": ["C#5", "E5"]})
    assert [each["note"] for each in why["because"]] == ["C#5", "E5"]
    assert all(each["because"] for each in why["because"])
    _, whole = served.ask("mark", asked)
    assert not [each for each in whole["findings"] if each["severity"] == "fault" and not each["excuse"]]


def test_what_a_change_does_is_said_before_it_is_saved(served: Served) -> None:
    text = RULES.replace("wider than tenth", "wider than second").replace("warning", "fault")
    asked = {"rules": "thursday.rules", "rules_text": text}
    _, found = served.ask("changes", asked)
    (row,) = [each for each in found["changed"] if each["title"] == "Wenke Oudshoorn"]
    assert row["after"] < row["before"] and any("narrow" in each for each in row["come"])
    _, lines = served.ask("lines", {**asked, "text": CANTUS, "number": 0})
    assert int(lines["forbidden"]) > 0 and lines["allowed"] == "0" and lines["forbidden_example"]["rule"] == "narrow"
    _, none = served.ask("changes", {"rules": "thursday.rules", "rules_text": RULES})
    assert none["changed"] == []


def test_lines_are_found_and_reasons_given(served: Served) -> None:
    asked = {"rules": "first-species-strict", "rules_text": "", "text": CANTUS, "number": 0}
    _, best = served.ask("complete", asked)
    assert best["lines"] and all(each["mark"] <= 100 and "<svg" in each["picture"] for each in best["lines"])
    _, near = served.ask("mended", {**asked, "text": NOTES})
    assert near["lines"][0]["said"].startswith("bar ")
    _, why = served.ask("why", {**asked, "text": NOTES, "rule": "no-parallels", "bar": 3})
    assert why["places"] and all(each["said"] for each in why["places"])


def test_what_can_not_be_read_is_told(served: Served) -> None:
    _, found = served.ask("mark", {"rules": "first-species-strict", "rules_text": "", "text": "upper Q4", "number": 0})
    assert found["problems"][0]["line"] == 1
    _, refused = served.ask("complete", {"rules": "thursday.rules", "rules_text": "rule", "text": CANTUS, "number": 0})
    assert refused["refused"]
