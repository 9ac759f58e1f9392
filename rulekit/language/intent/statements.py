"""What a sentence says beside rules’ demands: severities, parameters, definitions, adjusted rules."""

import re
from collections.abc import Iterator

from rulekit.diagnostics import nearest
from rulekit.language.intent.conditions import condition, joined_by_or
from rulekit.language.intent.words import Token, graded, matcher, read

_SEVERITIES = ("fault", "error", "mistake", "serious", "warning", "warn", "minor", "advice", "advise", "hint")


def grades(tokens: list[Token]) -> Iterator[str]:
    """The sentence as a severity and its cost."""
    typed = " ".join(token.typed for token in tokens).split()
    severities, worths = graded("severity"), graded("worth")
    phrases = [" ".join(typed[i:j]) for i in range(len(typed)) for j in range(len(typed), i, -1)]
    severity = next((severities[phrase] for phrase in phrases if phrase in severities), "")
    if not severity and len([word for word in typed if not word.isdecimal()]) == 1:
        near = nearest(next(word for word in typed if not word.isdecimal()), _SEVERITIES)
        severity, typed = severities.get(near or "", ""), [word for word in typed if word.isdecimal()]
    idle = {word for phrase in (*severities, *worths) for word in phrase.split()} | {
        "is",
        "of",
        ",",
        "with",
        "worth",
        "and",
        "for",
    }
    numbers = [word for word in typed if word.isdecimal()]
    if len(numbers) > 2 or not (severity or numbers) or not all(word in idle for word in typed if word not in numbers):
        return
    kinds = [worths[phrase] for phrase in phrases if phrase in worths]
    costs = numbers[:1] if len(numbers) == 2 or "cap" not in kinds else []
    parts = [severity or "fault", *(f"{cost} point{'' if cost == '1' else 's'}" for cost in costs)]
    parts += [f"at most {cap}" for cap in numbers[len(costs) :]]
    yield ", ".join([*parts, "once"] if "once" in kinds else parts)


_TYPES = {
    "interval": "an interval",
    "melodic": "an interval",
    "number": "a count",
    "pitch": "a pitch",
    "length": "a length",
}


def statements(sentence: str, names: frozenset[str]) -> Iterator[str]:
    """The sentence as a statement of its own: a parameter, a definition, an adjusted rule."""
    if sentence[:1].isspace():
        return
    found = matcher("parameter").match(sentence)
    if found:
        values = [
            token
            for token in read(found[2], names)
            if token.kind != "neutral" and token.typed not in ("default", "usually", "number", "count", "integer")
        ]
        if len(values) == 1 and values[0].kind in _TYPES:
            yield f"parameter {found[1].replace(' ', '-')} is {_TYPES[values[0].kind]}, usually {values[0].word}"
        return
    found = matcher("adjusted").match(sentence)
    for grade in grades(read(found[2])) if found else ():
        yield f"adjust {found[1]}: {grade}" if found else ""
    found = matcher("given").match(sentence)
    if found:
        name = re.sub(r"^(?:an?|the) ", "", found[1]).replace(" ", "-")
        tokens = [t for t in read(found[2], names) if t.kind != "neutral"]
        if tokens and all(
            token.kind in ("interval", "melodic", "join", "heading", "length", "pitch") for token in tokens
        ):
            values = dict.fromkeys(token.word for token in tokens if token.kind != "join")
            yield f"define {name} as {joined_by_or(values)}"
        for kind, noun in (("note", "note"), ("pair", "interval")):
            said = condition(kind, tokens) if all(token.kind for token in tokens) else ""
            yield from [f"define {name} for {noun} as {said}"] if said else []
