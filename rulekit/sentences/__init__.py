"""A rule as one plain sentence, in the language of a page: for students, who read no rule language.

Everything that the rule means is in its typed tree already, with parameters and definitions written out. What would
become too long or has no plain words is not said at all: the message of a rule's example tells it then.
"""

from functools import cache
from typing import cast

from rulekit.compiler import emit
from rulekit.language import typed as t
from rulekit.language.combining import shipped_names
from rulekit.language.vocabulary import reads
from rulekit.sentences.forms import Unsayable, counted
from rulekit.sentences.saying import Saying
from rulekit.sentences.sets import names
from rulekit.telling import show
from rulekit.words import Spoken, Untranslated, Words, words


def _(message: str) -> str:
    """Mark a message for the catalogues."""
    return message


GROUPS = (
    _("What sounds together"), _("How the voices move together"), _("Each line by itself"),
    _("The exercise as a whole"),
)  # fmt: skip
_LONGEST = 60  # words


def sentence(rule: t.Rule, said: Words | None = None) -> Spoken | None:
    """What a rule asks, as a sentence: its author's, or else one made from what it means.

    An author's sentence is translated where the catalogue has it; one that can't be made in a language is made in
    English. None where it would be none that a student reads.
    """
    said = said or words()
    if rule.taught:
        return _taught(rule, said)
    try:
        text = Saying(rule, said).sentence()
    except Unsayable:
        return None
    except Untranslated:
        return sentence(rule)
    return Spoken(text, said.language) if len(text.split()) <= _LONGEST else None


def name(rule: str) -> str:
    """What a rule is called where a student reads it: ``Leap recovery``."""
    return rule.replace("-", " ").capitalize()


def language_of(rule: t.Rule) -> str:
    """The language of an author's own words: known of the rulesets that come with the program alone."""
    return "en" if rule.origin in _shipped() else ""


@cache
def _shipped() -> frozenset[str]:
    return frozenset(shipped_names())


def template(rule: t.Rule) -> str:
    """The sentence of a rule's author with its parameters in braces: ``At most {most-thirds} thirds.``"""
    return "".join(part if isinstance(part, str) else f"{{{part.words}}}" for part in rule.taught)


def _taught(rule: t.Rule, said: Words) -> Spoken:
    found = said.authored(template(rule), language_of(rule))
    filling = said if found.language == said.language else words()
    values = {part.words: _filled(part.value, filling) for part in rule.taught if not isinstance(part, str)}
    return Spoken(found.text.format_map(values) if values else found.text, found.language)


def _filled(value: t.Value | t.Ref, said: Words) -> str:
    """A value that a ruleset sets: ``three``, ``a major tenth``."""
    assert isinstance(value, t.Const)
    if value.type == t.Type.INTERVAL:
        return names(cast("tuple[t.Pattern, ...]", value.value), said)
    if value.type == t.Type.COUNT:
        return counted(cast(int, value.value), said)
    return show(value.value, value.type)


def group_of(rule: t.Rule) -> int:
    """The number in ``GROUPS`` of what a rule is about, by what it looks at."""
    if rule.whole or rule.track.kind in (t.Kind.LINE, t.Kind.PAIR, t.Kind.EXERCISE):
        return 3
    leaves = [leaf for leaf in emit.leaves(rule.broken) if isinstance(leaf, t.Attr | t.Flag)]
    if rule.track.kind == t.Kind.NOTE and not any(reads(leaf.name).cantus for leaf in leaves):
        return 2
    moving = any(leaf.name in ("motion", "approach") or leaf.ref.offset or leaf.ref.hops for leaf in leaves)
    return 1 if moving or rule.streams else 0
