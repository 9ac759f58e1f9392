"""Small things in words: beats, weights, places, and rules as their authors wrote them."""

from fractions import Fraction
from pathlib import Path

from rulekit.language.format import rule_clauses
from rulekit.language.ruleset import Parameter, Ruleset
from rulekit.language.typed import Const, Rule, Weight
from rulekit.marking import show

_PARTS = {Fraction(1, 2): "½", Fraction(1, 4): "¼", Fraction(3, 4): "¾"}


def clean(text: str) -> str:
    """The text without signs that a terminal would obey."""
    return "".join(c if c.isprintable() or c in "\n\t" else "\N{REPLACEMENT CHARACTER}" for c in text)


def counted(number: int, thing: str) -> str:
    """``1 fault``, ``2 faults``."""
    return f"{number} {thing}" + ("" if number == 1 else "s")


def beat_words(beat: Fraction) -> str:
    """A beat, from 1: ``2``, ``2½`` for half a beat later."""
    whole, part = divmod(beat, 1)
    return f"{whole}{_PARTS.get(part, f'+{part}') if part else ''}"


def place_words(bar: int | None, beat: Fraction | None = None) -> str:
    """Where a finding is: ``bar 3, beat 2``; ``the whole`` without a bar."""
    if bar is None:
        return "the whole"
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
    """A known value as it is written in the language."""
    return show(const.value, const.type)


class Wording:
    """The rules of a ruleset in the words of the files they come from."""

    def __init__(self, ruleset: Ruleset) -> None:
        paths = {rule.span.path for rule in ruleset.rules}
        self._files = {path: rule_clauses(Path(path).read_text(encoding="utf-8-sig")) for path in paths}

    def clauses(self, rule: Rule, *openings: str) -> list[str]:
        """The clauses of a rule that begin with one of some words."""
        written = self._files[rule.span.path].get(rule.span.line, [])
        return [clause for clause in written if clause.split(" ", 1)[0] in openings]

    def subject(self, rule: Rule) -> str:
        """What a rule speaks of: ``every move between each pair``."""
        return self.clauses(rule, "for")[0].removeprefix("for ")
