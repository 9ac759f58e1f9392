"""Kept rulesets: the same as those read afresh, for as long as nothing they come from has changed."""

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from rulekit.diagnostics import RulekitError
from rulekit.exercise.notation import read_exercises
from rulekit.language import cache, keeping, loading
from rulekit.language.keeping import kept_ruleset
from rulekit.language.library import shipped_names
from rulekit.language.loading import load_ruleset
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark

_RULES = """ruleset "Evening class"
use words

rule no-seconds
  "There is a {interval}."
  for every interval between each pair
  forbid interval is close
  fault
  source "our own"
"""


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache folder of one's own, and a ruleset of two files."""
    monkeypatch.setattr(cache, "folder", lambda: tmp_path / "cache")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "evening.rules").write_text(_RULES, encoding="utf-8")
    (tmp_path / "words.rules").write_text('ruleset "Words"\ndefine close as second\n', encoding="utf-8")
    return tmp_path / "cache"


@pytest.fixture
def loads(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """The names of the rulesets that are read and checked."""
    seen: list[object] = []
    really = loading.load_ruleset

    def load(*given: object) -> Ruleset:
        seen.append(given[0])
        return really(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(loading, "load_ruleset", load)
    return seen


def everything(found: Ruleset) -> tuple[object, ...]:
    return found, found.texts, found.found, [(rule.said, rule.span.start, rule.examples) for rule in found.rules]


@pytest.mark.parametrize("name", shipped_names())
def test_a_kept_ruleset_is_the_one_that_was_read(name: str, home: Path, loads: list[object]) -> None:
    kept_ruleset([name], {})
    assert everything(kept_ruleset([name], {})) == everything(load_ruleset(name))
    assert loads == [[name]]


def test_settings_and_what_is_laid_over_are_kept_apart(home: Path, loads: list[object]) -> None:
    plain = kept_ruleset(["first-species-strict"], {})
    names, settings = ["first-species-strict", "several-voices"], {"most-thirds": "2"}
    for given in ((names, {}), (names[:1], settings)):
        assert everything(kept_ruleset(*given)) == everything(kept_ruleset(*given)) != everything(plain)
    assert len(loads) == 3


CHANGES: list[Callable[[Path], object]] = [
    lambda folder: (folder / "evening.rules").write_text(_RULES.replace("a {", "one {"), encoding="utf-8"),
    lambda folder: (folder / "words.rules").write_text('ruleset "Words"\ndefine close as third\n', encoding="utf-8"),
    lambda folder: (folder / "words").mkdir(),
    lambda folder: (folder / "evening").mkdir(),
]


@pytest.mark.parametrize("number", range(len(CHANGES)))
def test_what_changed_is_read_again(number: int, home: Path, loads: list[object]) -> None:
    """So is nothing that only looks as if it had changed."""
    kept_ruleset(["evening"], {})
    CHANGES[number](home.parent)
    assert everything(kept_ruleset(["evening"], {})) == everything(load_ruleset("evening"))
    assert len(loads) == (2 if number < 2 else 1)


def test_a_file_that_comes_before_another_of_its_name_is_taken(home: Path) -> None:
    (home.parent / "words.rules").unlink()
    (home.parent / "evening.rules").write_text(_RULES.replace("use words", "use vocabulary").replace("close", "third"))
    kept_ruleset(["evening"], {})
    (home.parent / "vocabulary.rules").write_text('ruleset "Words"\ndefine third as third or P5\n', encoding="utf-8")
    with pytest.raises(RulekitError):
        kept_ruleset(["evening"], {})


def test_mistakes_are_never_kept(home: Path) -> None:
    (home.parent / "evening.rules").write_text(_RULES.replace("close", "nonesuch"), encoding="utf-8")
    for _ in range(2):
        with pytest.raises(RulekitError):
            kept_ruleset(["evening"], {})
    assert not list(home.glob("ruleset-*"))


@pytest.mark.parametrize(
    "kept", ["", "{}", "[]", "null", "[1]", "[[0]]", "[[99, 1]]", "[[0, 7]]", "[" * 3000, "import os"]
)
def test_whatever_stands_in_the_cache_the_rules_are_read(kept: str, home: Path) -> None:
    known = kept_ruleset(["evening"], {})
    (path,) = home.glob("ruleset-*")
    path.write_text(kept, encoding="utf-8")
    assert everything(kept_ruleset(["evening"], {})) == everything(known)
    assert len(path.read_text(encoding="utf-8")) > 1000  # kept anew


def test_no_expression_is_made_from_what_somebody_else_wrote(home: Path, loads: list[object]) -> None:
    known = kept_ruleset(["evening"], {})
    (path,) = home.glob("ruleset-*")
    rows = json.loads(path.read_text(encoding="utf-8"))
    place = rows.index("interval")
    assert [t for t in known.rules if "interval" in repr(t.broken)]
    rows[place] = "interval or (0).__class__"
    path.write_text(json.dumps(rows), encoding="utf-8")
    assert kept_ruleset(["evening"], {}) == known
    assert len(loads) == 2


@pytest.mark.skipif(os.name != "posix", reason="only there a file says who may write it")
def test_what_others_may_write_is_not_taken(home: Path, loads: list[object]) -> None:
    kept_ruleset(["evening"], {})
    (path,) = home.glob("ruleset-*")
    path.chmod(0o666)
    kept_ruleset(["evening"], {})
    assert len(loads) == 2


def test_without_a_home_rules_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    def nowhere() -> Path:
        raise RuntimeError

    monkeypatch.setattr(cache, "folder", nowhere)
    assert kept_ruleset(["vocabulary"], {}) == load_ruleset("vocabulary")


def test_a_changed_program_reads_again(home: Path, loads: list[object], monkeypatch: pytest.MonkeyPatch) -> None:
    kept_ruleset(["evening"], {})
    monkeypatch.setattr(keeping, "_program", lambda: "another")
    kept_ruleset(["evening"], {})
    assert len(loads) == 2


def test_of_many_the_oldest_are_forgotten(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "_MOST_FILES", 3)
    for number in range(6):
        cache.keep(number, "thing", str(number))
    assert [cache.recalled("thing", str(number)) is None for number in range(6)].count(False) == 3
    assert cache.recalled("thing", "5") == 5


def test_a_kept_ruleset_marks_alike(home: Path) -> None:
    (exercise,), _ = read_exercises("upper A4 B4 F4 A4 B4 D5\ncantus D4 G4 E4 F4 E4 D4\n")
    kept_ruleset(["first-species-strict"], {})
    kept = mark(exercise, kept_ruleset(["first-species-strict"], {}))
    read = mark(exercise, load_ruleset("first-species-strict"))
    assert kept == read and len(kept.findings) > 2
