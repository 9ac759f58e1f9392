"""Files put together: each is taken once, an overlay passes over what is not there, single rules can be taken."""

from collections.abc import Sequence
from pathlib import Path

import pytest

from rulekit.diagnostics import RulekitError
from rulekit.language.combining import PASSED_OVER
from rulekit.language.format import format_text
from rulekit.language.library import shipped_names
from rulekit.language.loading import load_ruleset
from rulekit.language.ruleset import Ruleset


def rule(name: str, forbidden: str = "P4", message: str = "{interval}") -> str:
    return (
        f'rule {name} "{message}" for every interval between each pair forbid interval is {forbidden}'
        ' fault source "common practice"\n'
    )


FILES = {
    "sounds": f"define bad as P4 or A4\nparameter most is a count, usually 3\n{rule('agree', 'bad')}",
    "moves": f"use sounds\n{rule('part', 'bad or P1')}",
    "first": f'ruleset "First"\nbuild on sounds\nbuild on moves\n{rule("first-only")}',
    "second": f'ruleset "Second"\nbuild on moves\nbuild on sounds\nadjust part: advice\n{rule("second-only")}',
    "milder": 'overlay "milder", usually on first\nadjust agree: advice\ndrop first-only\nset most to 4\n',
    "plain-changes": 'ruleset "Changes"\nbuild on first\nadjust agree: warning\ndrop first-only\n',
}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name, text in FILES.items():
        (tmp_path / f"{name}.rules").write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def write(folder: Path, text: str) -> Ruleset:
    (folder / "own.rules").write_text(text, encoding="utf-8")
    return load_ruleset("own")


def told(folder: Path, text: str) -> str:
    with pytest.raises(RulekitError) as caught:
        write(folder, text)
    return str(caught.value)


def names(ruleset: Ruleset) -> list[str]:
    return [each.name for each in ruleset.rules]


def essence(ruleset: Ruleset) -> Sequence[object]:
    return [(each.name, each.broken, each.weight, each.message) for each in ruleset.rules]


def test_a_file_that_two_paths_reach_is_taken_once(folder: Path) -> None:
    ruleset = write(folder, "build on first\nbuild on second\n")
    assert names(ruleset) == ["agree", "part", "first-only", "second-only"]
    assert ruleset.rule("part").weight.severity == "advice"


@pytest.mark.parametrize("text", ["build on sounds\nuse sounds\n", "use sounds\nbuild on sounds\n"])
def test_use_and_build_on_of_one_file_go_together(folder: Path, text: str) -> None:
    assert names(write(folder, text)) == ["agree"]


def test_rules_that_say_the_same_in_two_files_are_one(folder: Path) -> None:
    for name in ("left", "right"):
        (folder / f"{name}.rules").write_text(rule("same"), encoding="utf-8")
    assert names(write(folder, "build on left\nbuild on right\n")) == ["same"]


def test_rules_of_one_name_that_differ_clash(folder: Path) -> None:
    (folder / "left.rules").write_text(rule("same"), encoding="utf-8")
    (folder / "right.rules").write_text(rule("same", "P5"), encoding="utf-8")
    assert "there is already a rule ‘same’, of ‘left’" in told(folder, "build on left\nbuild on right\n")


def test_definitions_of_one_name_that_differ_clash(folder: Path) -> None:
    assert "‘bad’ has another meaning in ‘sounds’" in told(folder, "use sounds\ndefine bad as P4\n")


def test_an_overlay_by_itself_changes_its_usual_ruleset(folder: Path) -> None:
    ruleset = load_ruleset("milder")
    assert (ruleset.title, names(ruleset)) == ("milder", ["agree", "part"])
    assert ruleset.rule("agree").weight.severity == "advice"


def test_an_overlay_passes_over_what_is_not_there(folder: Path) -> None:
    ruleset = load_ruleset(["second", "milder"])
    assert names(ruleset) == ["part", "agree", "second-only"]
    assert ruleset.title == "Second; milder"
    assert [c.name for c in ruleset.changes if c.what == PASSED_OVER] == ["first-only"]


def test_what_an_overlay_changes_must_be_in_its_usual_ruleset(folder: Path) -> None:
    text = 'overlay "wrong", usually on first\nadjust second-only: advice\n'
    assert "there is no rule ‘second-only’" in told(folder, text)


@pytest.mark.parametrize("over", ["milder", "plain-changes"])
def test_laying_in_a_file_is_laying_on_the_command_line(folder: Path, over: str) -> None:
    in_file = write(folder, f'ruleset "Second"\nbuild on second\nlay {over} over it\n')
    assert essence(in_file) == essence(load_ruleset(["second", over]))


def test_what_is_laid_last_counts(folder: Path) -> None:
    severities = [
        load_ruleset(["first", *order]).rule("agree").weight.severity
        for order in (["milder", "plain-changes"], ["plain-changes", "milder"])
    ]
    assert severities == ["warning", "advice"]


def test_single_rules_are_taken_as_they_stand(folder: Path) -> None:
    ruleset = write(folder, f"take part from second\n{rule('own')}")
    assert names(ruleset) == ["part", "own"]
    assert ruleset.rule("part") == load_ruleset("second").rule("part")
    assert "there is no rule ‘prat’ in ‘second’" in told(folder, "take prat from second\n")


def test_all_rules_but_some_are_dropped(folder: Path) -> None:
    assert names(write(folder, "build on first\ndrop all but part\n")) == ["part"]
    assert "no rule ‘prat’" in told(folder, "build on first\ndrop all but prat\n")


def test_a_rule_that_replaces_another_may_have_its_own_name(folder: Path) -> None:
    text = "build on first\n" + rule("other", "P5").replace("rule other", "replace rule part by other")
    ruleset = write(folder, text)
    assert names(ruleset) == ["agree", "other", "first-only"]
    assert ("replaces part", "other") in {(c.what, c.name) for c in ruleset.changes}


def test_a_change_of_what_is_gone_says_what_became_of_it(folder: Path) -> None:
    (folder / "left.rules").write_text("build on first\ndrop part\n", encoding="utf-8")
    assert "no rule ‘part’ any more: ‘left’ has dropped it" in told(folder, "build on left\nadjust part: advice\n")


# Files from which single rules are taken: ‘other’ says ‘bad’ otherwise, ‘changed’ replaces and sets what it builds on.
OTHERS = {
    "other": f"define bad as P5\ndefine worse as bad\n{rule('plain')}{rule('uses-bad', 'worse')}",
    "changed": "build on sounds\nreplace define bad as P4\nset most to 5\nadjust agree: advice\n"
    + rule("counted", message="{interval} of {most}"),
    "twin": rule("first-only"),
}


@pytest.fixture
def others(folder: Path) -> Path:
    for name, text in OTHERS.items():
        (folder / f"{name}.rules").write_text(text, encoding="utf-8")
    return folder


def outcome(folder: Path, statements: Sequence[str]) -> object:
    """What statements come to, whatever their order: rules, parameters and changes, or what is told of them."""
    try:
        ruleset = write(folder, "\n".join(statements))
    except RulekitError as error:
        return [each.message for each in error.diagnostics]
    return sorted(essence(ruleset), key=str), sorted(ruleset.changes, key=str), ruleset.parameters


@pytest.mark.parametrize(
    ("take", "build", "is_one"),
    [
        ("agree from sounds", "build on sounds", True),
        ("agree from sounds", "build on first", True),
        ("agree from first", "build on sounds", True),
        ("part from second", "build on second", True),
        ("part from second", "build on first", False),
        ("agree from changed", "build on changed", True),
        ("agree from changed", "use changed", True),
        ("agree from changed", "build on sounds", False),
        ("agree from sounds", "build on changed", False),
        ("counted from changed", "build on changed", True),
        ("first-only from twin", "build on first", True),
        ("part from first", "use sounds", True),
        ("plain from other", "build on first", True),
        ("uses-bad from other", "build on first", False),
    ],
)
def test_a_rule_taken_and_built_on_counts_once_in_either_order(
    others: Path, take: str, build: str, is_one: bool
) -> None:
    first, second = (outcome(others, order) for order in ([f"take {take}", build], [build, f"take {take}"]))
    assert first == second
    assert isinstance(first, tuple) == is_one


def test_what_is_built_on_follows_rules_that_were_taken_before(others: Path) -> None:
    assert names(write(others, "take part from first\nbuild on sounds\n")) == ["part", "agree"]
    assert names(write(others, "take agree from sounds\nbuild on second\n")) == ["agree", "part", "second-only"]


def test_own_changes_of_a_rule_that_is_taken_stay(others: Path) -> None:
    ruleset = write(others, "take agree from sounds\nadjust agree: advice\nbuild on first\n")
    assert ruleset.rule("agree").weight.severity == "advice"


def test_only_what_a_rule_uses_comes_with_it(others: Path) -> None:
    assert names(write(others, "build on sounds\ntake plain from other\n")) == ["agree", "plain"]
    assert write(others, "take plain from changed".replace("plain", "agree")).parameters == ()
    assert [each.value.value for each in write(others, "take counted from changed\n").parameters] == [5]
    assert "there is no word ‘bad’" in told(others, f"take plain from other\n{rule('own', 'bad')}")
    assert names(write(others, f"take uses-bad from other\n{rule('own', 'bad')}")) == ["uses-bad", "own"]


def test_a_definition_that_differs_is_a_mistake_where_it_is_used(others: Path) -> None:
    message = "‘uses-bad’ uses ‘bad’, which has another meaning in ‘sounds’"
    assert message in told(others, "build on sounds\ntake uses-bad from other\n")
    assert message in told(others, "take uses-bad from other\nbuild on sounds\n")


def test_a_rule_that_is_taken_follows_what_was_replaced_here(others: Path) -> None:
    replaced = write(others, "use sounds\nreplace define bad as P5\ntake part from first\n").rule("part")
    afterwards = write(others, "take part from first\nreplace define bad as P5\n").rule("part")
    assert replaced.broken == afterwards.broken != load_ruleset("first").rule("part").broken


@pytest.mark.parametrize("species", ["first", "second", "third", "fourth", "fifth"])
@pytest.mark.parametrize("build", ["build on {}-species-strict", "build on voices-in-motion"])
def test_shipped_rules_count_once_in_either_order(folder: Path, species: str, build: str) -> None:
    statements = [f"take no-parallels from {species}-species-strict", build.format(species)]
    assert outcome(folder, statements) == outcome(folder, statements[::-1])


@pytest.mark.parametrize("text", ["build on own\n", "lay own over it\n", "take part from own\n"])
def test_files_that_take_each_other_are_refused(folder: Path, text: str) -> None:
    assert "circle" in told(folder, text)


@pytest.mark.parametrize(
    "text",
    [
        'overlay "mild", usually on first\n',
        "take x, y from first\n",
        "lay x, y over it\n",
        "drop all but x, y\n",
        'replace rule x by y\n  "z"\n',
    ],
)
def test_the_layout_of_what_puts_files_together(text: str) -> None:
    scattered = text.replace(" ", "   ").replace("\n  ", "\n")
    if "replace" not in text:
        assert format_text(scattered) == format_text(text) == text


@pytest.mark.parametrize("lower", [name for name in shipped_names() if "species" in name])
def test_shipped_overlays_can_be_laid_on_every_species(lower: str) -> None:
    assert load_ruleset([lower, "several-voices"]).rules
