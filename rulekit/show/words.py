"""Small things in words: beats, weights, places, and rules as their authors wrote them."""

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import cast

from rulekit.language.ruleset import Parameter, Ruleset
from rulekit.language.typed import Const, Pattern, Rule, Type, Weight
from rulekit.music.pitch import interval_words
from rulekit.severity import Severity
from rulekit.telling import show

_PARTS = {Fraction(1, 2): "½", Fraction(1, 4): "¼", Fraction(3, 4): "¾"}
_UNPUBLISHED = re.compile(r"common practice(, no source)?\W*(?:and )?", re.IGNORECASE)


def counted(number: int, thing: str, things: str = "") -> str:
    """``1 fault``, ``2 faults``; ``things`` is the plural where it takes more than an s."""
    return f"{number} {thing if number == 1 else things or thing + 's'}"


def severities_words(severities: Sequence[str]) -> str:
    """How many of each severity: ``1 fault, 2 warnings, 1 piece of advice``; empty for none."""
    things = {"fault": "faults", "warning": "warnings", "piece of advice": "pieces of advice"}
    numbers = map(severities.count, Severity)
    return ", ".join(counted(n, *thing) for n, thing in zip(numbers, things.items(), strict=True) if n)


def source_words(source: str) -> str:
    """Where a rule is published, or whose choice it is; nothing for what its file says is common practice."""
    return _UNPUBLISHED.sub("", source, count=1) if _UNPUBLISHED.match(source) else source


def beat_words(beat: Fraction) -> str:
    """A beat, from 1: ``2``, ``2½`` for half a beat later."""
    whole, part = divmod(beat, 1)
    return f"{whole}{_PARTS.get(part, f'+{part}') if part else ''}"


def place_words(bar: int | None, beat: Fraction | None = None) -> str:
    """Where a finding is: ``bar 3, beat 2``; ``the whole exercise`` without a bar."""
    if bar is None:
        return "the whole exercise"
    return f"bar {bar}" + ("" if beat is None or beat == 1 else f", beat {beat_words(beat)}")


def weight_words(weight: Weight) -> str:
    """``fault, 4 points, at most 12``."""
    parts = [str(weight.severity)]
    if weight.points:
        parts.append(counted(weight.points, "point"))
    if weight.cap is not None:
        parts.append(f"at most {weight.cap}")
    return ", ".join([*parts, *(["once"] if weight.once else [])])


def message_words(rule: Rule) -> str:
    """A rule's message as its author wrote it, placeholders in braces."""
    return "".join(part if isinstance(part, str) else f"{{{part.words}}}" for part in rule.message)


def bounds_words(parameter: Parameter) -> str:
    """``from 1 to 9``; nothing for a parameter without bounds."""
    if parameter.low is None or parameter.high is None:
        return ""
    return f"from {const_words(parameter.low)} to {const_words(parameter.high)}"


def const_words(const: Const) -> str:
    """A known value in words."""
    if const.type == Type.INTERVAL:
        return " or ".join(interval_words(each.quality, each.high) for each in cast("tuple[Pattern, ...]", const.value))
    return show(const.value, const.type)


class Wording:
    """The rules of a ruleset in the words of the files they come from."""

    def __init__(self, ruleset: Ruleset) -> None:
        from rulekit.language.format import rule_clauses
        from rulekit.language.parser import parsed

        paths = {rule.span.path for rule in ruleset.rules}
        self._files = {path: rule_clauses(parsed(ruleset.texts[path], path)) for path in paths}

    def clauses(self, rule: Rule, *openings: str) -> list[str]:
        """The clauses of a rule that begin with one of some words."""
        written = self._files[rule.span.path].get(rule.span.line, [])
        return [clause for clause in written if clause.split(" ", 1)[0] in openings]

    def subject(self, rule: Rule) -> str:
        """What a rule speaks of: ``every move between each pair``."""
        return self.clauses(rule, "for")[0].removeprefix("for ")
