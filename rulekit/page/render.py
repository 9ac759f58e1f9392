"""Pages as HTML: one file each, with its own style and script, that needs nothing from anywhere.

The content security policy of a page allows its own style sheets and script by their hashes and nothing else, so that
even text that slipped through the escaping could load or run nothing.
"""

import hashlib
import json
from base64 import b64encode
from collections.abc import Sequence
from functools import cache, partial
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from rulekit.language.ruleset import Ruleset
from rulekit.marking import Marked
from rulekit.page.data import PageData, PageOptions, page_data
from rulekit.words import Words, words

_TEMPLATES = Path(__file__).parent / "templates"


def page_of(marked: Sequence[Marked], ruleset: Ruleset, options: PageOptions | None = None) -> str:
    """The returned page of a marked exercise, or of several on one sheet, a whole HTML file.

    Raises ValueError for an unknown language.
    """
    return render(page_data(marked, ruleset, options or PageOptions()))


def render(data: PageData) -> str:
    """A page from its data."""
    options = data.options
    styles = [asset("page.css"), f"@page {{ size: {options.paper}; margin: 14mm 18mm }}", options.style]
    return fill(
        "page.html",
        options.language,
        styles,
        [asset("player.js"), asset("page.js")],
        page=data,
        score=as_json(data.score),
    )


def fill(template: str, language: str, styles: list[str], scripts: list[str], **values: Any) -> str:
    """A template filled in, with style sheets and scripts of its own; empty ones are left out."""
    styles, scripts = [_style(s) for s in styles if s], [s for s in scripts if s]
    return (
        _environment(language)
        .get_template(template)
        .render(
            language=language,
            styles=[Markup(text) for text in styles],
            scripts=[Markup(text) for text in scripts],
            policy=_policy(styles, scripts),
            **values,
        )
    )


@cache
def _environment(language: str) -> Environment:
    environment = Environment(
        loader=PackageLoader("rulekit.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    said: Words = words(language)
    environment.install_gettext_translations(said.translations, newstyle=True)  # type: ignore[attr-defined]
    environment.filters["picture"] = Markup
    environment.filters["spoken"] = partial(_spoken, language)
    return environment


def _spoken(page: str, language: str) -> str:
    """The attribute of words that are not in the language of the page; an author's may be in any but are taken for it
    on an English page."""
    return "" if language == page or (page == "en" and not language) else Markup(f' lang="{language}"')


@cache
def asset(name: str) -> str:
    """A style sheet or script that comes with the program."""
    return (_TEMPLATES / name).read_text(encoding="utf-8")


def _style(text: str) -> str:
    """A school's style sheet, unable to end the element it stands in."""
    return text.replace("</", "<\\/").replace("<!--", "")


def as_json(value: object) -> Markup:
    """JSON that no text in it can break out of."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)


def _policy(styles: list[str], scripts: list[str]) -> str:
    """What the file may use: its own style sheets and scripts."""
    rules = ["default-src 'none'", "base-uri 'none'", "form-action 'none'"]
    if styles:
        rules.append(f"style-src {' '.join(map(_hash, styles))}")
    if scripts:
        rules.append(f"script-src {' '.join(map(_hash, scripts))}")
    return "; ".join(rules)


def _hash(text: str) -> str:
    return f"'sha256-{b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
