"""Rulesets loaded from their files, or from a text."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from rulekit.language.library import Texts, named
from rulekit.language.ruleset import Ruleset
from rulekit.language.whole import loaded


def load_ruleset(
    name: str | Path | Sequence[str | Path], overrides: Mapping[str, str] | None = None, texts: Texts | None = None
) -> Ruleset:
    """Load a ruleset by path or shipped name, with all it uses and builds on; several are laid each over those before.

    ``overrides`` gives parameters other values, as text in the language (``{"most-thirds": "4"}``). Who loads the same
    files again gives the ``texts`` that were read. Raises RulekitError with every mistake found in all files.
    """
    texts = texts or Texts()
    paths = map(named, [name] if isinstance(name, str | Path) else name)
    (path, text), *laid = [(path, texts.of(path)) for path in paths]
    return loaded(text, str(path), path.parent, overrides or {}, laid, texts)


def load_text(
    text: str, path: str = "<text>", folder: Path | None = None, overrides: Mapping[str, str] | None = None
) -> Ruleset:
    """Load a ruleset from its text; files it names are looked for in ``folder``, then among the shipped.

    Raises RulekitError with every mistake found.
    """
    return loaded(text, path, folder or Path(), overrides or {}, (), Texts())
