"""The catalogues: complete, and of the same shape as the English."""

import string
from pathlib import Path

import pytest
from babel.messages.extract import extract_from_dir, extract_from_file
from babel.messages.pofile import read_po

import rulekit.page
import rulekit.sentences
from rulekit.music.pitch import interval_of
from rulekit.page.words import LANGUAGES, words

_FOLDER = Path(rulekit.page.__file__).parent
_KEYWORDS = {"_": None, "say": (1,), "count": (1, 2), "gettext": None, "ngettext": (1, 2)}
_METHODS = [("**.py", "python"), ("templates/**.html", "jinja2.ext:babel_extract")]


def used() -> set[object]:
    """Every message of the program and of its templates."""
    found = [each[2] for each in extract_from_dir(_FOLDER, _METHODS, keywords=_KEYWORDS)]
    found += [each[1] for each in extract_from_file("python", rulekit.sentences.__file__)]
    return {message if isinstance(message, str) else tuple(message) for message in found}


@pytest.mark.parametrize("language", [each for each in LANGUAGES if each != "en"])
def test_a_catalogue_has_every_message_and_no_other(language: str) -> None:
    with (_FOLDER / "locale" / f"{language}.po").open("rb") as file:
        catalogue = read_po(file, locale=language)
    translated = {m.id if isinstance(m.id, str) else tuple(m.id): m for m in catalogue if m.id}
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


def test_an_unknown_language_names_those_there_are() -> None:
    with pytest.raises(ValueError, match=r"‘xx’.*de"):
        words("xx")
