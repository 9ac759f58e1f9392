"""What teachers ask for, found by what their words mean: the clauses of ``phrases.toml`` nearest to a sentence."""

import re
import tomllib
from collections import Counter
from dataclasses import dataclass
from functools import cache, lru_cache
from math import log
from pathlib import Path

from rulekit.language.intent.words import Token, read
from rulekit.music.pitch import SIZES

_NAME = re.compile(r"\b([A-G])(?:(#|b)|[ -](flat|sharp|natural))?(?![\w'#])(?! \d)")
_PITCH = re.compile(r"\b([A-G][#b]?\d)(?!\w)")
_NO_INTERVAL = re.compile(r"\b(?:[BCEFG]\d|[A-G][#b]\d)(?!\w)")
_SIGNS = {"flat": "b", "sharp": "#", "natural": ""}
_PLAINER = [
    (re.compile(pattern, re.IGNORECASE), words)
    for pattern, words in (
        (r"\b(whole|half|quarter|eighth) notes?\b", r"\1-note"),
        (r"(\S )falls\b", r"\1falling"),  # at the beginning it is the German “if”
        (r"\b(least|most|than|exactly|over) one\b", r"\1 1"),
        (r"\b(least|most|than|exactly|over) once\b", r"\1 1 times"),
        (r"\btwice\b", "2 times"),
        (r"\b(?:last but (?:one|1)|(?:second|next)[ -]to[ -]last|second last)\b", "penultimate"),
        (r"\b(to) one\b", r"\1 1"),
        (r"\b(than|most|within|beyond) two octaves\b", r"\1 fifteenth"),
    )
]
_ENDINGS = re.compile(r"(?:ing|ed|es|s)$")
_TURNS = ("step", "leap", "repetition", "chromatic")
_ALONE = ("name", "length", "pitch")  # of these a comma or “and” makes no choice
_DEMANDS = ("forbid", "require", "only", "allow")
_NEAR = 0.45  # how like a sentence a phrase is that is shown as a model
_OPPOSED = 0.7  # what an agreement is worth where one forbids what the other requires
_UNKNOWN = 2.0  # how much a word tells that stands in no entry
_COMPARED = {
    "count": ("is more than", "is less than"),
    "wide": ("is wider than", "is narrower than"),
    "high": ("is higher than", "is lower than"),
    "long": ("is longer than", "is shorter than"),
}
_CONDITION = re.compile(
    r"\s*(?:when|if|after|before|from|until|at|in|on|off|starting|beginning|where)\b", re.IGNORECASE
)
_SCOPE = re.compile(r"\s*(?:for|in counterpoint|in cantus)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Sentence:
    """What a sentence means: its form, its ideas, what it names of each kind (in groups), and whether it forbids."""

    form: str
    ideas: frozenset[str]
    named: tuple[tuple[str, tuple[str, ...]], ...]
    compared: tuple[str, ...]
    forbids: bool | None

    def groups(self, kind: str) -> list[tuple[str, ...]]:
        """What it names of a kind: each group is a choice."""
        return [words for each, words in self.named if each == kind]

    def seen_by(self, slots: frozenset[str]) -> frozenset[str]:
        """Its ideas, with how many things it names of the kinds to be filled in, and which of the others."""
        sized = "interval" in slots and "number" not in slots and not self.groups("interval")  # a tenth is called 10
        named = [("interval" if sized and kind == "number" else kind, words) for kind, words in self.named]
        filled = Counter(kind for kind, _ in named if kind in slots)
        literal = {f"{kind} {word}" for kind, words in named if kind not in slots for word in words}
        compared = (
            {"compared"} if slots & _COMPARED.keys() and self.compared else {f"is {word}" for word in self.compared}
        )
        return self.ideas | literal | compared | {f"{kind} x{count}" for kind, count in filled.items()}


@dataclass(frozen=True, slots=True)
class Wording:
    """One way to ask for a phrase: its form, its ideas as the phrase sees them, and whether it forbids."""

    form: str
    ideas: frozenset[str]
    forbids: bool | None


@dataclass(frozen=True, slots=True)
class Phrase:
    """An entry: what its rule speaks of, its clauses with the kinds of things to be filled in, and its wordings."""

    of: tuple[str, ...]
    write: str
    slots: frozenset[str]
    wordings: tuple[Wording, ...]


@dataclass(frozen=True, slots=True)
class Match:
    """Clauses that say a sentence, what their rule speaks of, how much of the sentence they say (1: all of it)."""

    of: tuple[str, ...]
    clause: str
    likeness: float
    open: bool  # the sentence does not say whether it must be or must not be


@cache
def phrases() -> tuple[Phrase, ...]:
    """All entries of the book."""
    data = tomllib.loads((Path(__file__).parent / "phrases.toml").read_text(encoding="utf-8"))
    return tuple(_phrase(entry["of"], entry["write"], entry["say"]) for entry in data["phrase"])


def _phrase(of: str, write: str, say: list[str]) -> Phrase:
    slots = frozenset(word.rstrip("2") for word in re.findall(r"\{(\w+)\}", write))
    said = map(understood, say)
    return Phrase(
        tuple(of.split()), write, slots, tuple(Wording(each.form, each.seen_by(slots), each.forbids) for each in said)
    )


@cache
def _rarity() -> dict[str, float]:
    """How much an idea tells: the more, the fewer entries have it."""
    entries = [frozenset[str]().union(*(each.ideas for each in phrase.wordings)) for phrase in phrases()]
    return {idea: 1 + log(len(entries) / count) for idea, count in Counter(i for e in entries for i in e).items()}


def _weight(ideas: frozenset[str]) -> float:
    return sum(_rarity().get(idea, _UNKNOWN) for idea in ideas)


def understood(sentence: str, names: frozenset[str] = frozenset()) -> Sentence:
    """What the words of a sentence mean, whatever their order."""
    written: list[str] = []

    def kept(match: re.Match[str]) -> str:
        sign = match[2] or _SIGNS.get(match[3] or "", "") if match.re is _NAME else ""
        written.append(match[1] + sign)
        return " notename " if match.re is _NAME else " pitchname "

    text = sentence
    for pattern, words in _PLAINER:
        text = pattern.sub(words, text)
    text = _PITCH.sub(kept, text) if _NO_INTERVAL.search(text) else text
    text = text if "pitchname" in text else _NAME.sub(kept, text)
    tokens = read(text, names)
    kinds = {token.kind for token in tokens}
    ideas, named = _ideas(tokens, written)
    forbids = True if kinds & {"forbid", "not"} else False if kinds & {"require", "only", "allow"} else None
    compared = tuple(dict.fromkeys(token.word for token in tokens if token.kind == "compare"))
    return Sentence(_form(sentence, kinds), ideas, named, compared, forbids)


def _form(sentence: str, kinds: set[str]) -> str:
    """Whether a sentence says what a rule looks at, on what condition, or what it demands."""
    if _SCOPE.match(sentence):
        return "for"
    return "condition" if _CONDITION.match(sentence) and not kinds & set(_DEMANDS) else "demand"


def _ideas(tokens: list[Token], written: list[str]) -> tuple[frozenset[str], tuple[tuple[str, tuple[str, ...]], ...]]:
    ideas: set[str] = set()
    groups: list[tuple[str, tuple[str, ...]]] = []
    since: set[str] = {"begun"}  # the kinds of idle tokens since the last thing that was named
    ranged = False
    for token in tokens:
        ranged = ranged or token.typed.startswith("between")
        if token.kind in ("join", "neutral"):
            since.add(token.kind)
            continue
        kind, word, besides = _meaning(token, written)
        ideas |= {besides} if besides else set()
        if kind in _NAMED:
            follows = "begun" not in since and groups[-1][0] == kind
            if follows and not since:
                ideas.add("side by side")  # a dissonant fourth names one thing in two ways
            if follows and ranged and "join" in since:
                ideas.add("between")
            choice = follows and "join" in since and not ranged and kind not in _ALONE
            groups[-1:] = [(kind, (*groups[-1][1], word))] if choice else [*groups[-1:], (kind, (word,))]
        elif kind:
            ideas.add(f"{kind} {word}")
        since = set() if kind in _NAMED else {"begun"}
    return frozenset(ideas), tuple(groups)


_NAMED = ("interval", "number", "percent", "pitch", "motion", "heading", "length", "name", "turn")


def _meaning(token: Token, written: list[str]) -> tuple[str, str, str]:
    """Under which kind a token counts, its word, and what it says besides; nothing if it has no weight."""
    match token.kind:
        case "forbid" | "not" | "require" | "allow" | "only" | "do" | "condition" | "range" | "compare":
            return "", "", ""
        case "voice" if token.word == "counterpoint":
            return "", "", ""
        case "harmony" | "quality":
            return "interval", token.word, ""
        case "melodic" if token.word not in _TURNS:
            return "interval", token.word, "leapt"
        case "melodic":
            return "turn", token.word, ""
        case "once":
            return "number", token.word, ""
        case "half":
            return "percent", "50", ""
        case "number" if token.word.endswith("%"):
            return "percent", token.word.removesuffix("%"), ""
        case "" if token.word in ("notename", "pitchname"):
            return token.word.removesuffix("name").replace("note", "name"), written.pop(0), ""
        case "":
            return "word", _ENDINGS.sub("", token.word), ""
        case "pitch":
            return "pitch", token.word.removeprefix("pitch "), ""
        case kind:
            return kind, token.word, ""


@lru_cache(256)
def matches(sentence: str, names: frozenset[str] = frozenset()) -> tuple[Match, ...]:
    """The clauses that say what a sentence says, the nearest first; those that say all of it have a likeness of 1."""
    asked = understood(sentence, names)
    seen = {slots: asked.seen_by(slots) for slots in {phrase.slots for phrase in phrases()}}
    found = [(_likeness(asked, seen[phrase.slots], phrase), phrase) for phrase in phrases()]
    near = sorted((pair for pair in found if pair[0] >= _NEAR), key=lambda pair: -pair[0])
    return tuple(
        Match(phrase.of, clause, likeness, _is_open(asked, phrase))
        for likeness, phrase in near
        if (clause := filled(phrase, asked))
    )


def _is_open(asked: Sentence, phrase: Phrase) -> bool:
    return "{demand}" in phrase.write and asked.forbids is None and not asked.compared


def _likeness(asked: Sentence, ideas: frozenset[str], phrase: Phrase) -> float:
    """How much of what a sentence or a wording says both say; less where one forbids what the other requires."""
    return max(
        (
            _weight(shared) / _weight(ideas | wording.ideas) * (1.0 if _agree(asked, wording, phrase) else _OPPOSED)
            for wording in phrase.wordings
            if wording.form == asked.form and (shared := ideas & wording.ideas)
        ),
        default=0.0,
    )


def _agree(asked: Sentence, wording: Wording, phrase: Phrase) -> bool:
    return "{demand}" in phrase.write or wording.forbids in (None, bool(asked.forbids))


def filled(phrase: Phrase, asked: Sentence) -> str:
    """The clauses with what the sentence names; nothing if it does not name all that they need."""
    first = next(iter(asked.compared), "")
    is_bound = first in ("more", "less") and "2}" not in phrase.write  # more than three of them, not more than others
    forbids = is_bound if asked.forbids is None else asked.forbids
    words = {"demand": "forbid" if forbids else "require"}
    for name, (more, less) in _COMPARED.items():
        operators = {"more": more, "less": less, "at-least": "is at least", "at-most": "is at most"}
        words[name] = operators.get(first, "is at least")
    for kind in _NAMED:
        for number, group in enumerate(asked.groups(kind), 1):
            words[kind + (str(number) if number > 1 else "")] = " or ".join(dict.fromkeys(group))
    number = words.get("number", "")
    if "interval" not in words and number.isdecimal() and 0 < int(number) <= len(SIZES):
        words["interval"] = SIZES[int(number) - 1]
    wanted = set(re.findall(r"\{(\w+)\}", phrase.write))
    return phrase.write.format(**words) if wanted <= words.keys() else ""
