"""Which words can stand where, and what is told of one that can't."""

import re
from collections.abc import Iterable

from rulekit.diagnostics import did_you_mean, nearest, with_article
from rulekit.language import syntax as s
from rulekit.language import vocabulary as v
from rulekit.language.checking.context import Context, Environment
from rulekit.language.checking.errors import CheckError, told_elsewhere
from rulekit.language.parser import terminal
from rulekit.language.typed import Kind

_NO_NAME = "A name of your own is given before: ‘define {0} as …’, or ‘parameter {0} is a count, usually 3’."


def words_here(context: Context) -> list[str]:
    """Every word that could stand for something here."""
    kind, environment = context.it.kind, context.draft.environment
    own = [*context.bound, "it", *v.ROLES[kind], *v.ATTRIBUTES[kind], *v.FIXED, *v.CONSTANTS]
    return [*own, *environment.parameters, *environment.definitions, *v.FLAGS[kind]]


def unknown(span: s.Span, word: str, words: Iterable[str], what: str, environment: Environment) -> CheckError:
    """What is told of a word that is none of those which could stand here."""
    if word in environment.faulty:
        return told_elsewhere(span, f"‘{word}’ could not be read")
    if word in v.OTHERWISE:
        return CheckError(span, f"there is no {what} ‘{word}’", f"It is called ‘{v.OTHERWISE[word]}’.")
    elsewhere = [k for k in Kind if word in v.ATTRIBUTES[k] or word in v.ROLES[k] or word in v.FLAGS[k]]
    if elsewhere:
        kinds = " or ".join(with_article(kind) for kind in elsewhere)
        return CheckError(span, f"‘{word}’ can’t be asked here", f"It belongs to {kinds}.")
    hint = did_you_mean(word, words, _NO_NAME.format(word))
    if any(re.fullmatch(terminal(name).to_regexp(), word) for name in ("PITCH", "NOTE_NAME")):
        hint = f"A pitch is written ‘pitch {word}’."
    if environment.incomplete and not nearest(word, words):
        return told_elsewhere(span, f"‘{word}’ may be a name of a file that could not be taken")
    return CheckError(span, f"there is no {what} ‘{word}’", hint)
