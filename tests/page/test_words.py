"""The catalogues: complete, and of the same shape as the English."""

import string
from pathlib import Path

import pytest
from babel.messages.extract import extract_from_dir, extract_from_file
from babel.messages.pofile import read_po

import rulekit
from rulekit.language.loading import load_ruleset
from rulekit.music.pitch import interval_of
from rulekit.numbers import COUNTS
from rulekit.resources import shipped
from rulekit.sentences import name, template
from rulekit.show.words import source_words
from rulekit.words import LANGUAGES, Spoken, words

_FOLDER = Path(rulekit.__file__).parent
_KEYWORDS = {
    "_": None, "c_": ((1, "c"), 2), "say": (1,), "count": (1, 2), "gettext": None, "ngettext": (1, 2),
}  # fmt: skip
_METHODS = [("**.py", "python"), ("**.html", "jinja2.ext:babel_extract")]
_ROOMS = ("page", "sentences")
_FILES = ("words/__init__.py", "show/handout.py")


def used() -> set[tuple[str | None, object]]:
    """Every message of the program and of its templates, and what the rulesets tell students, with its context."""
    folders = (extract_from_dir(_FOLDER / room, _METHODS, keywords=_KEYWORDS) for room in _ROOMS)
    found = [(message, context) for folder in folders for _file, _line, message, _comments, context in folder]
    for file in _FILES:
        each = extract_from_file("python", _FOLDER / file, keywords=_KEYWORDS)
        found += [(message, context) for _line, message, _comments, context in each]
    own = {(context, message if isinstance(message, str) else tuple(message)) for message, context in found}
    return own | {(None, text) for text in (*COUNTS, *taught())}


def taught() -> set[str]:
    """What authors of the shipped rulesets tell students."""
    rulesets = [load_ruleset(path.stem) for path in shipped("rulesets").glob("*.rules")]
    rules = [rule for ruleset in rulesets for rule in ruleset.rules]
    reasons = {licence.reason for rule in rules for licence in rule.licences}
    chosen = {source_words(rule.source) for rule in rules if rule.source.startswith("common practice")} - {""}
    return (
        {ruleset.title for ruleset in rulesets}
        | reasons
        | chosen
        | {name(rule.name) for rule in rules}
        | set(map(template, rules)) - {""}
    )


@pytest.mark.parametrize("language", [each for each in LANGUAGES if each != "en"])
def test_a_catalogue_has_every_message_and_no_other(language: str) -> None:
    with (_FOLDER / "words" / "locale" / f"{language}.po").open("rb") as file:
        catalogue = read_po(file, locale=language)
    translated = {(m.context, m.id if isinstance(m.id, str) else tuple(m.id)): m for m in catalogue if m.id}
    assert translated.keys() == used()
    for message in translated.values():
        for text in [message.string] if isinstance(message.string, str) else message.string:
            original = message.id if isinstance(message.id, str) else message.id[-1]
            assert text and not message.fuzzy
            assert fields(text) == fields(original)


def fields(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_intervals_are_named() -> None:
    assert words("en").interval(interval_of("M10")) == "major tenth"
    assert words("de").interval(interval_of("m6")) == "kleine Sexte"
    assert words("de").interval(interval_of("dd5")) == "2-fach verminderte Quinte"


def test_titles_of_rulesets_laid_over_each_other_are_each_translated() -> None:
    found = words("de").titled("mixed species; in three or four voices")
    assert found == Spoken("gemischte Gattungen; in drei oder vier Stimmen", "de")
    assert words("de").titled("mixed species; my own").language == ""


def test_an_unknown_language_names_those_there_are() -> None:
    with pytest.raises(ValueError, match=r"‘xx’.*de"):
        words("xx")
