"""What a sentence forbids or requires, and on what condition."""

import re
from collections.abc import Iterator

from rulekit.language.intent.conditions import condition, note_side
from rulekit.language.intent.words import Token, cut

_WANTED = re.compile(
    r"^\s*(?:moves?|go|keep|stay|use|approach|leave|begin|end|start|resolve|return)\b|\b(?:is|are|rises?|falls?|resolves?)\b|[:=]|\bnot\b|^after\b"
)


_SUCCESSION = re.compile(r"interval is (.+) and previous interval is (.+)")


def _is_wanted(sentence: str, tokens: list[Token]) -> bool:
    """Whether a sentence without “must” or “no” rather says what should be."""
    balance = len({token.word for token in tokens if token.kind == "melodic"}) == 2
    return is_limit(tokens) or balance or bool(_WANTED.search(sentence.lower()))


def is_limit(tokens: list[Token]) -> bool:
    """Whether a sentence says how many there may be at most, or must be at least: that is what it asks for."""
    bounds = ("at-least", "at-most")
    return any(token.kind == "once" or token.word in bounds or token.typed.startswith("at least") for token in tokens)


def plain_demands(tokens: list[Token], sentence: str) -> Iterator[str]:
    """The demands of a sentence that does not begin with a condition."""
    if not tokens or tokens[0].kind != "condition":
        yield from demands(tokens, sentence)


def demands(tokens: list[Token], sentence: str = "") -> Iterator[str]:
    """The sentence as a demand, in the words of each kind of rule."""
    wanted = _is_wanted(sentence, tokens)
    head = head_of(tokens)
    if {"allow"} == {token.kind for token in tokens} & {"allow", "forbid", "require", "only"} and not head:
        head = "require" if any(token.kind == "compare" for token in tokens) else "none"
    if head == "none":
        return
    tokens = tokens[1:] if tokens and tokens[0].kind == "not" else tokens
    turning = (
        next((t for t in tokens if t.kind == "require"), None) if tokens[:1] and tokens[0].kind == "after" else None
    )
    rest = [
        Token("do", "do", token.typed) if token is turning else token
        for token in tokens
        if token is turning or token.kind not in ("forbid", "require", "only", "allow")
    ]
    for kind in ("note", "pair", "line", "sonority", "exercise"):
        every = re.match(r"\s*(?:every|each|all|any)\b", sentence.lower())
        condition, given = _conditional(kind, rest, head or ("every" if every or wanted else ""))
        turned = _SUCCESSION.fullmatch(condition) if condition and not given else None
        if turned and head == "require":
            yield f"when previous interval is {turned[2]} require interval is {turned[1]}"
        elif condition and head:
            yield f"{f'when {given} ' if given else ''}{head} {condition}"
        elif condition and given:
            yield f"when {given} require {condition}"
        elif condition:
            if kind == "exercise":
                yield f"when {condition}"
            yield from (f"{word} {condition}" for word in (("require", "forbid") if wanted else ("forbid", "require")))


def head_of(tokens: list[Token]) -> str:
    """Whether the sentence forbids or requires; nothing if it does not say."""
    kinds = {token.kind for token in tokens}
    if "only" in kinds and not any(
        token.word == "forbid" and token.typed.startswith(("forb", "prohib", "avoid")) for token in tokens
    ):
        return "require"
    if "allow" in kinds and "forbid" not in kinds and "require" not in kinds:
        return "require" if sum(token.kind in ("interval", "melodic") for token in tokens) > 1 else ""
    if tokens and tokens[0].kind == "not":
        return "forbid"
    return "forbid" if "forbid" in kinds else "require" if "require" in kinds else ""


def _conditional(kind: str, tokens: list[Token], head: str) -> tuple[str, str]:
    """The condition of a demand, and the ``when`` that comes before it (or nothing)."""
    barred = cut(tokens, "except")
    if len(barred) == 2 and all(barred):
        said = condition(kind, barred[0])
        other = condition(kind, [Token("not", "not", ""), *barred[1]])
        return (
            f"{said} and {other}"
            if said and other and head == "forbid"
            else f"{said} or {other.replace('is not', 'is')}"
            if said and other
            else ""
        ), ""
    parts = cut(tokens, "condition")
    if len(parts) == 1:
        return _antecedent(kind, tokens, head)
    if len(parts) == 2 and parts[1]:
        mark = next(token.word for token in tokens if token.kind == "condition")
        said = [condition(kind, part) for part in parts]
        if mark == "unless" and all(said):
            return (f"{said[0]} and not ({said[1]})" if head == "forbid" else f"{said[0]} or {said[1]}"), ""
        if not parts[0]:
            return _split(kind, parts[1]) or (said[1], "")
        return (said[0], said[1]) if all(said) else ("", "")
    return "", ""


def _split(kind: str, tokens: list[Token]) -> tuple[str, str] | None:
    """What is required, and on what condition, of “if …, …”; None where nothing divides them."""
    place = next((i for i, token in enumerate(tokens) if token.typed in (",", "then")), None)
    if place is None:
        return None
    said = condition(kind, tokens[place + 1 :]), condition(kind, tokens[:place])
    return said if all(said) else ("", "")


_LEADING = {"leading-note", "raised", "lowered", "held"}  # notes of which one asks where they go


def _antecedent(kind: str, tokens: list[Token], head: str) -> tuple[str, str]:
    """In “leaps must be followed by a step” the leap is the condition of what is required."""
    if kind == "pair" and head in ("require", "every") and any(t.kind == "motion" for t in tokens):
        intervals, others = (
            [t for t in tokens if t.kind in ("interval", "harmony")],
            [t for t in tokens if t.kind not in ("interval", "harmony", "after", "compare")],
        )
        if intervals and not any(t.kind == "compare" for t in tokens):
            return condition(kind, others), condition(kind, intervals)
    flags = [token for token in tokens if token.kind == "flag"]
    if kind == "note" and head == "require" and flags == tokens and len(flags) == 2 and flags[0].word in _LEADING:
        return condition(kind, flags[1:]), condition(kind, flags[:1])  # what the note is, then what it must be
    others = [token for token in tokens if token.kind not in ("flag", "do")]
    if flags and others and head in ("require", "every") and "crossed" not in {token.word for token in flags}:
        turned = kind == "note" and _LEADING & {token.word for token in flags}
        said = note_side(others, "departure") if turned else condition(kind, others)
        return said, condition(kind, flags)
    parts = cut(tokens, "after", "after")
    if kind == "note" and head in ("require", "") and len(parts) == 2 and not parts[0]:
        parts[1] = [Token("do", "do", ",") if token.typed == "," else token for token in parts[1]]
        given, demand = ([*cut(parts[1], "do", "do"), []])[:2]
        if given and demand:
            said = note_side(demand, "departure"), note_side([t for t in given if t.kind != "voice"], "approach")
            return said if all(said) else ("", "")
    parts = cut(tokens, "after", "then")
    if kind == "note" and head == "require" and len(parts) == 2 and parts[0] and parts[1]:
        return note_side(parts[1], "departure"), condition(kind, parts[0])
    return condition(kind, tokens), ""


def _bare(demand: list[Token]) -> list[Token]:
    """What is demanded, without the words that demand it."""
    return [token for token in demand if token.kind not in ("forbid", "require", "only", "allow", "do")]


def _turns_on(given: list[Token], demand: list[Token]) -> bool:
    """Whether a note, by what it is or how it was reached, is told where to go."""
    leads = any(token.word in _LEADING or token.kind == "melodic" for token in given)
    kinds = {token.kind for token in _bare(demand)}
    return leads and bool(kinds) and kinds <= {"melodic", "heading", "interval"}


def whens(sentence: str, tokens: list[Token]) -> Iterator[str]:
    """The sentence as a condition on which the rule depends."""
    if not tokens or tokens[0].kind != "condition":
        return
    rest = tokens[1:]
    demanding = [i for i, token in enumerate(rest) if token.kind in ("forbid", "require", "only")]
    commas = [i for i, token in enumerate(rest) if token.typed in (",", "then")]
    if commas and (not demanding or commas[0] < demanding[0]):
        demanding = commas
    for kind in ("note", "pair", "line", "exercise"):
        if not demanding:
            said = condition(kind, rest)
            negated = tokens[0].word == "unless"
            yield from [f"when not ({said})" if negated else f"when {said}"] if said else []
        else:
            cut = demanding[0]
            given, demand = rest[:cut], [token for token in rest[cut:] if token.typed not in (",", "then")]
            said = condition(kind, given)
            if said and kind == "note" and _turns_on(given, demand):
                yield f"when {said} {head_of(demand) or 'require'} {note_side(_bare(demand), 'departure')}"
            for clause in demands(demand, "is"):
                yield from [f"when {said} {clause}"] if said else []
