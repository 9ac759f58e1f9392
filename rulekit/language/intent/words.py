"""The words of a sentence as the things they mean, by the phrases of ``words.toml``."""

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache
from pathlib import Path
from typing import Any

from rulekit.diagnostics import nearest
from rulekit.language import vocabulary
from rulekit.music.pitch import SIZES
from rulekit.numbers import COUNTS, counted


@dataclass(frozen=True, slots=True)
class Token:
    """A word or phrase as typed, the kind of thing it is, and what the language calls it."""

    kind: str
    word: str
    typed: str


_PITCHED = re.compile(r"\b(?:pitch(?:es)?|higher|lower|highest|lowest|notes?|above|below)\b", re.IGNORECASE)
_OF_BOTH = re.compile(r"[Ad][4-6]")  # an interval or a pitch: A5
_NEAR = 0.84  # how like a word its misspelling is
_ALIKE = 4  # letters from which on a word may be a misspelling of another
_SIGNS = {
    "==": " ", "!=": " not ", "<>": " not ", "≠": " not ", ">=": " at least ", "≥": " at least ", "<=": " at most ",
    "≤": " at most ", "->": " then ", "=>": " then ", "→": " then ", ">": " more than ", "<": " less than ", "=": " ",
    "&&": " and ", "||": " or ", "/": " or ",
}  # fmt: skip
_NUMERALS = {
    word: str(number)
    for number, words in enumerate(("zwei due deux dos", "drei tre trois tres", "vier quattro quatre cuatro"), 2)
    for word in words.split()
}
_SIZES: list[str] = list(SIZES)
_QUALITIES = {"perfect": "P", "major": "M", "minor": "m", "augmented": "A", "diminished": "d"}


@cache
def data() -> dict[str, Any]:
    return tomllib.loads((Path(__file__).parent / "words.toml").read_text(encoding="utf-8"))


@cache
def _phrases() -> dict[tuple[str, ...], Token]:
    """Every phrase of the data, as words without articles."""
    found: dict[tuple[str, ...], Token] = {}
    for kind, entries in data().items():
        if kind in ("severity", "worth", "patterns"):
            continue
        for word, phrases in entries.items():
            for phrase in phrases.split(", "):
                found.setdefault(_split(phrase), Token(kind, word, phrase))
    return found


@cache
def graded(kind: str) -> dict[str, str]:
    """The words in which a severity, or what it costs, is said."""
    return {phrase: word for word, phrases in data()[kind].items() for phrase in phrases.split(", ")}


@cache
def _longest() -> int:
    return max(map(len, _phrases()))


@cache
def _single_words() -> tuple[str, ...]:
    return tuple({word for words in _phrases() for word in words if len(word) >= _ALIKE})


_MARKED = re.compile(r"(?<![\w'])([a-g][#b]?)('{1,4})(?![\w'])")  # e'' is E5
_SUNG = re.compile(r"\b(do|re|mi|fa|sol|la|si)(?=[#b]?\d)", re.IGNORECASE)
_COMPOUNDS = {
    "quintparallelen": "parallele quinten",
    "oktavparallelen": "parallele oktaven",
    "oktavsprung": "sprung oktave",
}


def _syllable(match: re.Match[str]) -> str:
    return _SYLLABLES[match[1].lower()]


_SYLLABLES: dict[str, str] = dict(zip("do re mi fa sol la si".split(), "CDEFGAB", strict=True))


def _split(text: str) -> tuple[str, ...]:
    """The words of a text: without articles, in small letters; notes and short intervals as they are."""
    text = text.replace("’", "'").replace("♯", "#").replace("♭", "b")
    text = _MARKED.sub(lambda match: f"{match[1].upper()}{3 + len(match[2])}", _SUNG.sub(_syllable, text))
    text = re.sub(r"\b(?:l|un|dell|all|d)'(?=\w)", "", text, flags=re.IGNORECASE)
    for word, said in _COMPOUNDS.items():
        text = re.sub(word, said, text, flags=re.IGNORECASE)
    text = re.sub(r"\b([A-Ga-g])[ -](?:(flat|sharp))\b", r"\1", text)
    for sign, words in _SIGNS.items():
        text = re.sub(r"(?<!\d)/|/(?!\d)", words, text) if sign == "/" else text.replace(sign, words)
    found = re.findall(
        r"[PMmAdp]\d+(?!\w)|[A-Ga-g][#b]?\d(?!\w)|\d+(?:st|nd|rd|th|ve|va)s?(?!\w)|\d/\d|\d+%?|[^\W\d_]+(?:['-][^\W\d_]+)*|,",
        text,
    )
    return tuple(
        word if re.fullmatch(r"[PMmAd]\d+", word) else word.lower()
        for word in found
        if word.lower() not in ("a", "an", "the")
    )


def read(sentence: str, names: frozenset[str] = frozenset()) -> list[Token]:
    """The words of a sentence as the things they mean; what is unknown has no kind.

    ``names`` are those that the author has given to values.
    """
    words = [
        f"{word.lower()}" if _PITCHED.search(sentence) and _OF_BOTH.fullmatch(word) else word
        for word in _split(sentence)
    ]
    tokens: list[Token] = []
    place = 0
    while place < len(words):
        own = next((form for form in (words[place], words[place].removesuffix("s")) if form in names), "")
        token, taken = (Token("interval", own, words[place]), 1) if own else _at(words, place)
        tokens.append(token)
        place += taken
    return list(_leapt(list(_joined(tokens))))


def is_said(word: str) -> bool:
    """Whether a word is one in which musicians say something that the language calls otherwise."""
    return (word.lower(),) in _phrases()


_NAMED = frozenset(
    "interval harmony melodic motion heading voice flag length mode metre property once pitch compare".split()
)


def is_named(words: str) -> bool:
    """Whether words are those that musicians have for one thing, which the language calls otherwise."""
    form = tuple(words.lower().split())
    token = _phrases().get(form) or _phrases().get((*form[:-1], form[-1].removesuffix("s")))
    return token is not None and token.kind in _NAMED and not vocabulary.is_known(words)


_CALLED = ("flag", "melodic", "interval", "motion", "heading", "length", "mode", "metre")


def said_otherwise(word: str) -> Iterator[str]:
    """What the language calls that for which a musician has this word."""
    for form in dict.fromkeys((word.lower(), word.lower().removesuffix("s"))):
        token = _phrases().get((form,))
        if token is None or token.kind not in _CALLED or token.word in (word, "melodic"):
            continue
        if not token.word.startswith(("on ", "off ")):
            yield token.word


def unknown_words(sentence: str, names: frozenset[str]) -> tuple[str, ...]:
    """The words of a sentence of which nothing is known; hyphens join names, texts in quotes say what they like."""
    said = read(re.sub(r'"[^"]*"?', " ", sentence), names)
    return tuple(
        each.typed for each in said if not (each.kind or "-" in each.typed or each.typed in names | {"count", "run"})
    )


def _at(words: Sequence[str], place: int) -> tuple[Token, int]:
    """The longest known phrase at a place, and how many words it takes."""
    for length in range(min(_longest(), len(words) - place), 0, -1):
        typed = tuple(word.lower() for word in words[place : place + length])
        for form in (typed, (*typed[:-1], typed[-1].removesuffix("s"))):
            if form in _phrases():
                known = _phrases()[form]
                return Token(known.kind, known.word, " ".join(typed)), length
    return _by_form(words[place]), 1


def _by_form(word: str) -> Token:
    """A number, note or interval; or a word like one that is known."""
    if word == ",":
        return Token("join", "or", word)
    if re.fullmatch(r"[PMmAdp]\d+", word):
        return Token("interval", word.replace("p", "P"), word)
    if re.fullmatch(r"[a-g][#b]?\d", word):
        return Token("pitch", f"pitch {word[0].upper()}{word[1:]}", word)
    if word.removesuffix("%").isdecimal():
        return Token("number", word, word)
    if word in _NUMERALS:
        return Token("number", _NUMERALS[word], word)
    if word in ("zero", *COUNTS[1:]):
        return Token("number", str(counted(word)), word)
    near = nearest(word, _single_words()) if len(word) >= _ALIKE and not vocabulary.is_known(word) else None
    near = near if near and SequenceMatcher(None, word, near).ratio() >= _NEAR else None
    known = _phrases().get((near,)) if near else None
    return Token(known.kind, known.word, word) if known else Token("", word, word)


def _joined(tokens: list[Token]) -> Iterator[Token]:
    """A quality and a size that stand side by side, in either order, as one interval; a quality by itself too."""
    waiting: Token | None = None
    for token in [*tokens, None]:
        pair = [each for each in (waiting, token) if each is not None]
        sizes = [each.word for each in pair if each.kind == "interval" and each.word in _SIZES]
        qualities = [each.word for each in pair if each.kind == "quality"]
        if len(pair) == 2 and len(sizes) == len(qualities) == 1:
            quality, number = _QUALITIES[qualities[0]], _SIZES.index(sizes[0]) + 1
            yield Token("interval", f"{quality}{number}", " ".join(each.typed for each in pair))
            waiting = None
            continue
        if waiting is not None:
            yield Token("interval", waiting.word, waiting.typed) if waiting.kind == "quality" else waiting
        waiting = token


def _leapt(tokens: list[Token]) -> Iterator[Token]:
    """A leap of a seventh as that melodic interval."""
    leap: list[Token] = []
    for token in tokens:
        if token.word == "leap" or (leap and token.typed in ("of", "by", "in", "with")):
            leap.append(token)
        elif leap and token.kind == "interval":
            yield Token("melodic", token.word, token.typed)
            leap = []
        else:
            yield from leap
            leap = []
            yield token
    yield from leap


def cut(tokens: list[Token], kind: str, word: str = "") -> list[list[Token]]:
    """The parts of a row of tokens between those of a kind."""

    def is_mark(token: Token) -> bool:
        return token.kind == kind and word in ("", token.word)

    parts: list[list[Token]] = [[]]
    for token in tokens:
        if is_mark(token):
            parts.append([])
        else:
            parts[-1].append(token)
    return parts


@cache
def matcher(name: str) -> re.Pattern[str]:
    """A pattern of the data."""
    return re.compile(data()["patterns"][name], re.IGNORECASE)


def rows(name: str) -> list[tuple[str, str]]:
    """Patterns of the data, each with the words that take its place."""
    return data()["patterns"][name]


def figure(word: str) -> str:
    """A number or ordinal in figures."""
    count = counted(word)
    return re.sub(r"(?<=\d)(?:st|nd|rd|th)$", "", word) if count is None else str(count)
