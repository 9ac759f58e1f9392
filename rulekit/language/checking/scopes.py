"""Which voices or pairs the words of a scope name."""

import re
from dataclasses import replace

from rulekit.diagnostics import nearest
from rulekit.exercise.limits import MAX_VOICES
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language import vocabulary as v
from rulekit.language.checking.errors import CheckError


def scope_of(subject: s.Subject) -> t.Voices:
    """The voices or pairs of a rule; all, where it does not say."""
    lines = subject.kind in ("note", "line")
    if subject.scope is None:
        return t.Voices("each voice" if lines else "each pair")
    return voices(subject.scope, lines)


def voices(scope: s.Scope, lines: bool) -> t.Voices:
    """The voices (``lines``) or pairs that the words of a scope name; raises CheckError."""
    if scope.kind == "above":
        return _above(scope)
    kept, but, left_out = scope.text.partition(" but ")
    found = _any_of(scope, kept, lines)
    return replace(found, but=voices(replace(scope, words=tuple(left_out.split())), lines)) if but else found


def _any_of(scope: s.Scope, words: str, lines: bool) -> t.Voices:
    """What any of several names means."""
    parts = tuple(_named(scope, name, lines) for name in re.split(", | or ", words))
    return parts[0] if len(parts) == 1 else t.Voices("or", parts=parts)


def _named(scope: s.Scope, name: str, lines: bool) -> t.Voices:
    """The voices, or the pairs, of one name."""
    found = _lines(scope, name) if lines else _pairs(scope, name)
    if found is None:
        raise _unknown(scope, name, v.LINE_SCOPES if lines else v.PAIR_SCOPES)
    return found


def _lines(scope: s.Scope, name: str) -> t.Voices | None:
    word, _, number = name.partition(" ")
    if word == "voice" and number.isdecimal():
        if not 0 < int(number[:6]) <= MAX_VOICES:
            raise CheckError(scope.span, f"voices count from 1, the highest written one, to {MAX_VOICES}")
        return t.Voices("voice", int(number))
    return t.Voices(name) if name in v.LINE_SCOPES and name != "voice" else None


def _pairs(scope: s.Scope, name: str) -> t.Voices | None:
    if name in v.PAIR_SCOPES:
        return t.Voices(name)
    first, _, second = re.sub(r"^voices (\d+) and (\d+)$", r"voice \1 and voice \2", name).partition(" and ")
    parts = _lines(scope, first), _lines(scope, "each voice" if second == "others" else second)
    if parts[0] is None or parts[1] is None:
        return None
    if parts[0] == parts[1] and (parts[0].number or first in v.SINGLE_VOICES):
        raise CheckError(scope.span, f"‘{name}’ is one voice", "An interval is between two.")
    return t.Voices("and", parts=(parts[0], parts[1]))


def _above(scope: s.Scope) -> t.Voices:
    if scope.text != v.BASS_SCOPE:
        raise CheckError(scope.span, f"‘above {scope.text}’ is not known", "Write ‘above the bass’.")
    return t.Voices("each pair")


def _unknown(scope: s.Scope, name: str, known: tuple[str, ...]) -> CheckError:
    near = _near_pair(name) if known == v.PAIR_SCOPES else _near(name, known)
    two = "" if known == v.LINE_SCOPES else ", voices 1 and 2; or two kinds of voices, such as cantus and tied voice"
    hint = f"Did you mean ‘{scope.text.replace(name, near)}’?" if near else f"Say one of: {', '.join(known)}{two}."
    return CheckError(scope.span, f"‘{scope.text}’ does not name voices", hint)


def _near_pair(name: str) -> str:
    """The pair, or pairs, that a name which is not known was perhaps to be."""
    match name.split(" and "):
        case [one]:
            near = _near(one, (*v.PAIR_SCOPES, *v.LINE_SCOPES))
            return near if near in v.PAIR_SCOPES or not near else f"{near} and others"
        case [one, two]:
            voices = [_near(voice, (*v.LINE_SCOPES, "others")) for voice in (one, two)]
            return " and ".join(voices) if all(voices) else ""
        case [one, two, three] if one in v.PAIR_SCOPES or three in v.PAIR_SCOPES:
            return f"{one} or {two} and {three}" if one in v.PAIR_SCOPES else f"{one} and {two} or {three}"
        case _:
            return ""


def _near(name: str, known: tuple[str, ...]) -> str:
    """The name that was perhaps meant: without its last word, of several, or misspelt."""
    likely = (f"{name} voice", f"{name} voices", name.removesuffix("s"))
    return next((words for words in likely if words in known), nearest(name, known) or "")
