"""The parser’s kept tables: the same parser as one made afresh, and never anything worse."""

from pathlib import Path

import pytest

from rulekit.language import cache, parser, tables
from rulekit.language.parser import grammar, made, parse
from rulekit.resources import shipped

TEXT = (shipped("grammar") / "rules.lark").read_text(encoding="utf-8")


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(cache, "_path", lambda kind, about: tmp_path / "deep" / "grammar.json")
    return tmp_path / "deep" / "grammar.json"


@pytest.mark.parametrize("spoilt", ["", "forbid", "interval", "\n", '"'])
def test_a_kept_parser_reads_and_stumbles_as_a_new_one(
    home: Path, monkeypatch: pytest.MonkeyPatch, spoilt: str
) -> None:
    tables.kept(TEXT, made)
    assert home.exists()
    again = tables.kept(TEXT, lambda text: pytest.fail("made again"))
    text = (shipped("rulesets") / "zarlino-two-voices.rules").read_text(encoding="utf-8")
    text = text.replace(spoilt, "", 3) if spoilt else text
    new = parse(text, "rules")
    grammar.cache_clear()
    monkeypatch.setattr(parser, "kept", lambda text, make: again)
    found = parse(text, "rules")
    assert (found.file, found.diagnostics) == (new.file, new.diagnostics)
    grammar.cache_clear()


@pytest.mark.parametrize("kept", ["", "{}", "[]", "null", '{"data": {"parser": {}}, "memo": {}}', "import os"])
def test_whatever_stands_in_the_cache_rules_are_read(home: Path, kept: str) -> None:
    home.parent.mkdir()
    home.write_text(kept, encoding="utf-8")
    assert tables.kept(TEXT, made).parse('ruleset "A"\n', start="start").children
    assert len(home.read_text(encoding="utf-8")) > len(kept)  # kept anew


def test_without_a_place_to_write_rules_are_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("")
    for path in (tmp_path / "file" / "grammar.json", tmp_path):
        monkeypatch.setattr(cache, "_path", lambda kind, about, path=path: path)
        assert tables.kept(TEXT, made).parse('ruleset "A"\n', start="start").children
