"""Which voices or pairs the words of a scope name."""

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
    if "but" in scope.words and scope.kind != "above":
        at = scope.words.index("but")
        left, right = (voices(replace(scope, words=part), lines) for part in (scope.words[:at], scope.words[at + 1 :]))
        return replace(left, but=right)
    numbers = tuple(int(word[:6]) for word in scope.words if word.isdecimal())
    words = " ".join(word for word in scope.words if not word.isdecimal())
    if scope.kind == "above":
        return _above(scope, words)
    if not all(0 < number <= MAX_VOICES for number in numbers):
        raise CheckError(scope.span, f"voices count from 1, the highest written one, to {MAX_VOICES}")
    known = v.LINE_SCOPES if lines else v.PAIR_SCOPES
    wanted = {"voice": 1, "voices and": 2}.get(words, 0)
    if words not in known or len(numbers) != wanted:
        raise _unknown(scope, words, known)
    return t.Voices(words, numbers)


def _above(scope: s.Scope, words: str) -> t.Voices:
    if words != v.BASS_SCOPE:
        raise CheckError(scope.span, f"‘above {words}’ is not known", "Write ‘above the bass’.")
    return t.Voices("each pair")


def _unknown(scope: s.Scope, words: str, known: tuple[str, ...]) -> CheckError:
    near = nearest(words, known)
    shown = ", ".join(word.replace("voices and", "voices 1 and 2") for word in known)
    hint = f"Did you mean ‘{near}’?" if near and words != near else f"Say one of: {shown}."
    return CheckError(scope.span, f"‘{' '.join(scope.words)}’ does not name voices", hint)
