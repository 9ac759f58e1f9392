"""What a sentence in a musician’s own words asks for, and the clause of the language that says so.

A clause is only a proposal: whoever asks tries it where it would stand.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import SequenceMatcher

from rulekit.language.intent.demands import head_of, is_limit, plain_demands, whens
from rulekit.language.intent.places import place_clauses, scopes
from rulekit.language.intent.statements import grades, statements
from rulekit.language.intent.words import Token, matcher, read
from rulekit.language.intent.words import is_named as is_named
from rulekit.language.intent.words import is_said as is_said
from rulekit.language.intent.words import said_otherwise as said_otherwise
from rulekit.language.intent.words import unknown_words as unknown_words
from rulekit.language.vocabulary import DOWNBEATS
from rulekit.music.pitch import SIZES


@dataclass(frozen=True, slots=True)
class Proposal:
    """A clause; the words of the sentence that it leaves out because nothing is known of them.

    ``open``: the sentence does not say whether what it names must be or must not be.
    """

    clause: str
    unknown: tuple[str, ...] = ()
    open: bool = False


_MOST_WORDS = 30  # in a sentence that is read


def proposals(sentence: str, names: frozenset[str] = frozenset()) -> Iterator[Proposal]:
    """The clauses that a sentence could mean, the likeliest first."""
    sentence = re.sub(r"[\"'](\w+)[\"']", r"\1", sentence)
    if re.search(r"[\"|]|\([^)]*\b(?:is|are)\b", sentence) or not sentence.strip():
        return
    tokens = read(sentence, names)
    if len(tokens) > _MOST_WORDS or matcher("unread").search(sentence):
        return
    unknown = tuple(token.typed for token in tokens if not token.kind)
    known = [token for token in tokens if token.kind and token.kind != "neutral"]
    whole = [*statements(sentence, names), *place_clauses(sentence, known), *scopes(sentence, known), *grades(tokens)]
    said = [*whens(sentence, known), *plain_demands(known, sentence)]
    is_open = not (head_of(known) or is_limit(known))
    barred = any(token.kind in ("except", "condition") for token in tokens)
    demand = next((place for place, token in enumerate(tokens) if token.kind == "require"), len(tokens))
    astray = not all(token.kind for token in tokens[demand:])  # what must be is not understood
    yield from map(Proposal, whole)
    yield from _placed(sentence, names)
    for clause in dict.fromkeys(said):
        left_open = is_open and clause.startswith(("forbid", "require"))
        if not (unknown and left_open) and not (left_open and barred) and not astray:
            yield Proposal(clause, unknown, left_open)


_PLACED = re.compile(
    r"(.+?)(?<!except)(?<!not)(?<!only)(?<!than)(?<!apart)(?<!from),? "
    r"((?:(?:except|but not|only|other than|apart from)(?: for)?(?: in| at| on| during)?|in|at|on|during|before|after) "
    r"(?:the )?(?:bars?|measures?|first|last|penultimate|second|third|fourth|final|end|beginning|start|middle|"
    r"cadence|close)\b.*)",
    re.IGNORECASE,
)


def _placed(sentence: str, names: frozenset[str]) -> Iterator[Proposal]:
    """A sentence that ends with a place: its demand, and then the place as a clause."""
    parts = _PLACED.fullmatch(sentence.strip())
    if parts is None:
        return
    tokens = read(parts[1], names)
    known = [token for token in tokens if token.kind and token.kind != "neutral"]
    if len(known) < len([token for token in tokens if token.kind != "neutral"]) or not head_of(known):
        return
    for place in place_clauses(f"{parts[2]}", read(parts[2])):
        yield from (Proposal(f"{said} {place}") for said in plain_demands(known, parts[1]))


def left_out(sentence: str, clause: str) -> Iterator[str]:
    """The numbers, pitches, places, voices, modes and “not”s of a sentence that a clause does not say."""
    said = clause.lower()
    for token in read(re.sub(r'"[^"]*"?', " ", sentence)):
        if not any(re.search(rf"(?<!\w){form}", said) for form in _forms(token)):
            yield token.typed


def _forms(token: Token) -> tuple[str, ...]:
    """How a clause may say what must not be lost of a sentence: in one of these forms."""
    match token.kind:
        case "number" if token.word.isdecimal() and int(token.word) > 2:
            count = int(token.word)
            return (token.word, str(count - 1), *SIZES[count - 1 : count], *semitones(count))
        case "number" if token.word.endswith("%"):
            return (token.word,)
        case "pitch":
            return (re.escape(token.word.removeprefix("pitch ").lower()),)
        case "mode":
            return (token.word,)
        case "not":
            return ("not", "forbid", "except", "at most", "at least", "no ", "drop")
        case "flag" if token.word in _LASTING:
            return _LASTING[token.word]
        case "voice" if token.typed.split()[0] in ("bass", "soprano", "alto", "tenor", "treble"):
            return ("bass", "lower", "upper", "outer", "highest", "lowest", "voice", "each")
        case _:
            return ("",)


_SEMITONES = "P1 m2 M2 m3 M3 P4 A4 P5 m6 M6 m7 M7 P8".lower().split()  # the interval of so many


def semitones(count: int) -> tuple[str, ...]:
    """The interval of so many semitones, if it has a name."""
    return tuple(_SEMITONES[count : count + 1])


_LASTING: dict[str, tuple[str, ...]] = {
    "first": ("first", "bar", "1", "begins", "downbeat"), "last": ("last", "end", "bar"),
    **dict.fromkeys(DOWNBEATS.values(), ("downbeat", "beat", "accented")),
    "leading-note": ("leading-note", "7"),
}  # fmt: skip

_FILLED = (
    "interval", "upper", "lower", "motion", "pitch", "it", "approach", "departure", "next pitch", "previous interval",
    "next interval", "previous upper", "previous lower", "cantus", "counterpoint", "bar", "beat", "degree", "length",
    "note before it", "note after it", "highest", "lowest", "ambitus", "climax-count", "number-sounding", "bass",
    "sounding-upper", "sounding-lower", "degree of upper", "number-of-voices", "number-of-bars", "approach to upper",
    "approach to lower",
)  # fmt: skip


def placeholders(words: str) -> Iterator[str]:
    """What an author could have meant to have filled in, the likeliest first."""
    said = re.findall(r"[^\W\d_]+", words.lower())
    meant = [*said, *(token.word for token in read(" ".join(said)) if token.kind)]
    alias = {
        "interval": "approach",
        "pitch": "upper",
        **dict.fromkeys(("upper", "lower", "cantus", "counterpoint"), "pitch"),
        "note": "pitch",
        "notes": "pitch",
        "measure": "bar",
        "top": "upper",
        "bottom": "lower",
        "last": "previous",
        "leap": "approach",
        "step": "approach",
        "range": "ambitus",
        "size": "interval",
    }
    if {"next", "following"} & {*said}:
        alias["interval"] = "departure"
    meant += [alias[word] for word in said if word in alias]
    if not said:
        yield from _FILLED
        return

    def likeness(phrase: str) -> float:
        parts = re.findall(r"[a-z]+", phrase)
        shared = sum(part in meant for part in parts)
        near = max((SequenceMatcher(None, word, phrase).ratio() for word in said), default=0)
        return shared / max(len(parts), len(said)) + (near if near > 0.7 else 0)

    ranked = sorted(_FILLED, key=likeness, reverse=True)
    yield from (phrase for phrase in ranked if likeness(phrase) > 0)
