"""What a part of a sentence says of notes, intervals, lines or the whole, as a condition of the language."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from rulekit.language.intent.words import Token, cut
from rulekit.language.vocabulary import DOWNBEATS
from rulekit.music.pitch import SIZES

_VALUES = ("interval", "melodic", "motion", "heading", "harmony")
_PLACES = ("first", "last", *DOWNBEATS.values())


@dataclass(slots=True)
class _Said:
    """The tokens of a condition by their kinds."""

    tokens: list[Token]
    used: set[str] = field(default_factory=set[str])

    def words(self, *kinds: str) -> list[str]:
        """What is said of these kinds, each once; they count as used."""
        self.used.update(kinds)
        return list(dict.fromkeys(token.word for token in self.tokens if token.kind in kinds))

    def all_used(self) -> bool:
        """Whether nothing that was said has been passed over."""
        return all(token.kind in self.used or token.kind in ("join", "do") for token in self.tokens)


def _mixes(tokens: list[Token]) -> bool:
    """Whether “or” stands between different kinds of things, so that one row of conditions would not say it."""
    pairs = [
        (a.kind, c.kind)
        for a, b, c in zip(tokens, tokens[1:], tokens[2:], strict=False)
        if b.kind == "join" and b.word == "or" and b.typed != ","
    ]
    alike = {"interval", "melodic", "heading"}
    return any(
        first != second and not {first, second} <= alike and "compare" not in (first, second) for first, second in pairs
    )


def _denies_late(tokens: list[Token]) -> bool:
    """Whether “not” stands between two values, so that it is said of the second alone."""
    place = next((i for i, token in enumerate(tokens) if token.kind == "not"), len(tokens))
    return all(any(token.kind in _VALUES for token in part) for part in (tokens[:place], tokens[place:]))


def condition(kind: str, tokens: list[Token]) -> str:
    """A condition in the words of one kind of rule; nothing if something in the sentence can't be said in them."""
    tokens = [token for token in tokens if token.kind != "do" or kind == "note"]
    if (
        not tokens
        or _mixes(tokens)
        or _denies_late(tokens)
        or {"harmony", "interval"} <= {token.kind for token in tokens}
    ):
        return ""
    return {"sonority": _of_sonority, "note": _of_note, "pair": _of_pair, "line": _of_line, "exercise": _of_exercise}[
        kind
    ](tokens)


def joined_by_or(words: Iterable[str]) -> str:
    return " or ".join(words)


def _is(said: _Said) -> str:
    return "is not" if said.words("not") else "is"


_COMPARED = {
    "interval": ("wider than", "narrower than"), "pitch": ("higher than", "lower than"),
    "length": ("longer than", "shorter than"), "count": ("more than", "less than"),
}  # fmt: skip


def _compared(kind: str, operator: str) -> str:
    """How a value of a kind is compared: ``is wider than``."""
    more, less = _COMPARED[kind]
    return {"more": f"is {more}", "less": f"is {less}", "at-least": "is at least", "at-most": "is at most"}[operator]


def _value(said: _Said) -> str:
    """The interval that something is compared with; a bare number is its size."""
    for word in said.words("interval"):
        return word
    numbers = [int(word) for word in said.words("number") if word.isdecimal()]
    return SIZES[numbers[0] - 1] if numbers and 1 < numbers[0] <= len(SIZES) else ""


def _turns(said: _Said) -> list[str]:
    """Steps and leaps with their headings, and intervals: ``rising step``."""
    headings, turns = said.words("heading"), said.words("melodic") + said.words("interval")
    if "leap" in turns and len(turns) > 1 and "step" not in turns and "repetition" not in turns:
        turns.remove("leap")  # a leap of a seventh is a seventh
    if len(headings) != 1:
        return turns or headings
    return [f"{headings[0]} {turn}" for turn in turns] or headings


# ---- two voices --------------------------------------------------------------------------------


def _of_pair(tokens: list[Token]) -> str:
    for mark in ("then", "after", "previous"):
        parts = cut(tokens, "after", mark)
        if len(parts) == 2 and all(part and {t.kind for t in part} <= {"interval", "join"} for part in parts):
            first, second = (
                joined_by_or(dict.fromkeys(t.word for t in part if t.kind == "interval")) for part in parts
            )
            now, before = (second, first) if mark == "then" else (first, second)
            return f"interval is {now} and previous interval is {before}"
    tokens = [replace(token, kind="interval") if token.kind == "harmony" else token for token in tokens]
    said = _Said(tokens)
    said.words("after") if {t.word for t in tokens if t.kind == "after"} <= {"approach"} else None
    parts = [*_counted(said, "interval"), *_melodic_parts(said), *_interval_parts(said), *_pair_flags(said)]
    motions = list(said.words("motion"))
    if said.words("direction"):
        motions += ["similar or parallel" if word == "same" else "contrary" for word in said.words("direction")]
    if motions:
        parts.append(f"motion {_is(said)} {joined_by_or(dict.fromkeys(motions))}")
    return " and ".join(parts) if parts and said.all_used() else ""


def _counted(said: _Said, what: str) -> list[str]:
    """How many in a row."""
    row = said.words("again")
    numbers = list(said.words("number")) if row or len(said.words("compare")) == 0 else []
    values = said.words("interval") if what == "interval" else list(said.words("melodic"))
    operators = said.words("compare")
    motions = said.words("motion") if row and operators and what == "interval" else []
    said.used -= {"interval", "melodic", "number", "compare", "again", "motion"}
    if not values or not (row or (numbers and not operators)):
        return []
    if what == "interval" and not row and numbers != ["2"]:
        return []
    is_sounding = values == ["repetition"] and any("same" in t.typed for t in said.tokens)  # one more than struck again
    where = f"{what} is {joined_by_or(values)}" + (f" and motion is {joined_by_or(motions)}" if motions else "")
    said.used |= {"interval" if what == "interval" else "melodic", "number", "compare", "again"} | (
        {"motion"} if motions else set()
    )
    if what == "approach":
        said.used.add("melodic")
    said.tokens = [
        t
        for t in said.tokens
        if t.kind
        not in (
            "number",
            "compare",
            "again",
            "interval" if what == "interval" else "melodic",
            *(["motion"] if motions else []),
        )
    ]
    if what == "interval" and not operators and numbers in ([], ["2"]):
        return [f"{what} is {joined_by_or(values)} and previous {what} is {joined_by_or(values)}"]
    operator = _compared("count", operators[0]) if operators else "is at least"
    number = int(numbers[0]) if numbers and numbers[0].isdecimal() else 2
    return [f"run where ({where}) {operator} {number - 1 if is_sounding else number}"]


def _melodic_parts(said: _Said) -> list[str]:
    """How the notes of the pair are reached."""
    voices = said.words("voice")
    melodic, headings = said.words("melodic"), said.words("heading")
    said.used -= {"voice"}
    if (not melodic and not headings) or (len(headings) > 1 and len(voices) > 1):
        return []
    said.used.add("voice")
    if "property" in {t.kind for t in said.tokens}:
        said.words("property")
    turns = [f"{headings[0]} {turn}" for turn in melodic] if len(headings) == 1 and melodic else melodic or headings
    verb = _is(said)
    said.tokens = [t for t in said.tokens if t.kind != "not"]
    if "either" in voices:
        return [f"(approach to upper {verb} {joined_by_or(turns)} or approach to lower {verb} {joined_by_or(turns)})"]
    named = ["upper", "lower"] if "both" in voices else [v for v in voices if v != "both"] or ["upper"]
    return [f"approach to {voice} {verb} {joined_by_or(turns)}" for voice in named]


def _interval_parts(said: _Said) -> list[str]:
    operators, pitches = said.words("compare"), said.words("pitch")
    voices = [t.word for t in said.tokens if t.kind == "voice"]
    values = said.words("interval")
    if operators and pitches and len(voices) == 1:
        said.words("voice")
        return [f"{voices[0]} {_compared('pitch', operators[0])} {pitches[0]}"]
    if operators and len(voices) == 2 and not values and "both" not in voices:
        said.words("voice")
        return [f"{voices[0]} {_compared('pitch', operators[0])} {voices[1]}"]
    if operators:
        value = _value(said)
        _both_voices(said)
        is_sung = len(voices) == 1 and any(t.kind in ("melodic", "heading") for t in said.tokens)
        what = f"approach to {voices[0]}" if is_sung else "interval"
        return (
            [f"{what} {_compared('interval', operators[0])} {value}"]
            if value and len(operators) == 1 and len(values) <= 1
            else []
        )
    if not values and said.words("number"):
        values = [SIZES[int(n) - 1] for n in said.words("number") if n.isdecimal() and 0 < int(n) <= len(SIZES)]
    _both_voices(said)
    verb = _is(said) if values and not any(t.kind == "motion" for t in said.tokens) else "is"
    return [f"interval {verb} {joined_by_or(values)}"] if values else []


def _both_voices(said: _Said) -> None:
    """Both voices together need not be named."""
    if {t.word for t in said.tokens if t.kind == "voice"} <= {"both"} or {"upper", "lower"} == {
        t.word for t in said.tokens if t.kind == "voice"
    }:
        said.words("voice")


def _pair_flags(said: _Said) -> list[str]:
    flags = said.words("flag")
    if flags == ["crossed"]:
        if {t.word for t in said.tokens if t.kind == "voice"} <= {"both", "upper", "lower"}:
            said.words("voice")
        return [f"it {_is(said)} crossed"]
    voices = [word for word in said.words("voice") if word not in ("both", "either")]
    if not flags:
        return []
    if set(flags) <= set(_PLACES) and not voices:
        return [f"it {_is(said)} {joined_by_or(flags)}"]
    return [f"{voices[0]} {_is(said)} {joined_by_or(flags)}"] if len(voices) == 1 else []


# ---- one voice ---------------------------------------------------------------------------------


def _of_note(tokens: list[Token]) -> str:
    tokens = [token for token in tokens if token.kind != "voice" or token.word not in ("counterpoint", "cantus")]
    turned = {"similar or parallel": "same", "contrary": "opposite"}
    tokens = [
        Token("direction", turned[t.word], t.typed) if t.kind == "motion" and t.word in turned else t for t in tokens
    ]
    marks = [token for token in tokens if token.kind == "after"]
    if marks and marks[0].word == "then":
        if tokens[-1] is marks[0]:
            return note_side(tokens[:-1], "departure")
        before, after = (
            cut(tokens, "after", "then")[0],
            [t for part in cut(tokens, "after", "then")[1:] for t in part],
        )
        if before and all(token.kind in ("after", "join") for token in before):
            before = after
        parts = [note_side(before, "approach") if before else "", note_side(after, "departure") if after else ""]
        return (
            " and ".join(part for part in parts if part)
            if all(bool(p) == bool(t) for p, t in zip(parts, (before, after), strict=True))
            else ""
        )
    if marks and marks[0].word == "after":
        left, right = ([*cut(tokens, "after", "after"), []])[:2]
        if left and right:
            first, second = note_side(right, "approach"), note_side(left, "departure")
            return f"{first} and {second}" if first and second else ""
    return note_side(tokens, "approach")


def note_side(tokens: list[Token], way: str) -> str:
    """What is said of a note, or of the way to it or from it."""
    if {"pitch", "compare"} <= {t.kind for t in tokens}:  # the highest note is at most so high: each note is
        tokens = [t for t in tokens if t.word != "climax-count"]
    said = _Said(tokens)
    if {t.word for t in tokens if t.kind == "after"} <= {"approach", "previous"}:
        said.words("after")
    if said.words("property") not in ([], ["melodic"], ["degree"]):
        return ""
    parts: list[str] = []
    directions = said.words("direction")
    two = [t for t in tokens if t.kind == "number" and t.word == "2"]
    if directions and two and way == "approach":
        said.words("number")
        turns = joined_by_or(_turns(said))
        other = "opposite of " if directions == ["opposite"] else ""
        return (
            f"approach is {turns} and departure is {turns} and direction of departure is {other}direction of approach"
            if turns and said.all_used()
            else ""
        )
    if said.words("range") and len(said.words("pitch")) == 2 and len(tokens) <= 4:
        low, high = said.words("pitch")
        return f"pitch is at least {low} and pitch is at most {high}"
    parts += _counted(said, "approach")
    if parts and directions == ["same"]:
        return _either_way(parts[0]) if said.all_used() else ""
    operators, pitches, lengths = said.words("compare"), said.words("pitch"), said.words("length")
    if operators and directions and said.words("number"):  # so many notes in one direction: not a size
        return ""
    if "degree" in said.words("property"):
        numbers = said.words("number")
        parts += [f"degree {_is(said)} {joined_by_or(numbers)}"] if numbers else []
        said.words("property")
    elif operators and pitches:
        parts += (
            [f"pitch {_compared('pitch', operators[0])} {pitches[0]}"] if len(pitches) == len(operators) == 1 else []
        )
    elif operators and lengths:
        parts.append(f"length {_compared('length', operators[0])} {lengths[0]}")
    elif operators and len(operators) == 1:
        counted = said.words("number") and not said.words("interval") and set(said.words("melodic")) - {"leap"}
        value = "" if counted else _value(said)
        headings = said.words("heading")
        said.words("melodic")
        if not value and not parts:
            return ""
        parts += [f"{way} is {headings[0]}"] if headings else []
        parts += [f"{way} {_compared('interval', operators[0])} {value}"] if value else []
    elif pitches:
        parts.append(f"pitch {_is(said)} {joined_by_or(pitches)}")
    else:
        turns = _turns(said)
        parts += [f"{way} {_is(said)} {joined_by_or(turns)}"] if turns else []
        parts += [f"length {_is(said)} {joined_by_or(lengths)}"] if lengths else []
    flags = said.words("flag")
    if "crossed" in flags:
        return ""
    if way == "approach" and {"leading-note", "raised", "lowered", "held"} & set(flags) and parts:
        parts = [part.replace("approach", "departure") for part in parts]
    parts += [f"it {_is(said)} {joined_by_or(flags)}"] if flags else []
    if directions:
        parts.append(
            f"direction of departure is {'opposite of ' if directions == ['opposite'] else ''}direction of approach"
        )
    return " and ".join(dict.fromkeys(parts)) if parts and said.all_used() else ""


def _either_way(run: str) -> str:
    """A run of leaps or steps in one direction: of rising ones, or of falling ones."""
    rising, falling = (run.replace("approach is ", f"approach is {heading} ") for heading in ("rising", "falling"))
    return f"{rising} {'and' if 'at most' in run or 'less' in run else 'or'} {falling}"


# ---- a line, the whole -------------------------------------------------------------------------


def _of_line(tokens: list[Token]) -> str:
    said = _Said([token for token in tokens if token.kind != "voice" or token.word == "cantus"])
    properties, operators = said.words("property"), said.words("compare")
    once, numbers = said.words("once"), said.words("number")
    said.words("again")
    if "ambitus" in properties and operators:
        value = _value(said)
        return f"ambitus {_compared('interval', operators[0])} {value}" if value and said.all_used() else ""
    if "climax-count" in properties:
        operator = _compared("count", operators[0]) if operators else "is"
        return f"climax-count {operator} {numbers[0] if numbers else once[0] if once else 1}" if said.all_used() else ""
    things = [f"number of notes where (approach is {turn})" for turn in said.words("melodic")]
    if operators and len(things) == 2 and not numbers:
        return f"{things[0]} {_compared('count', operators[0])} {things[1]}"
    if things and said.words("half"):
        return f"{things[0].replace('number', 'share')} is at least 50%"
    if len(things) == 1 and numbers and said.all_used():
        share = numbers[0].endswith("%")
        operator = _compared("count", operators[0]) if operators else "is"
        return f"{things[0].replace('number', 'share') if share else things[0]} {operator} {numbers[0]}"
    return ""


def _of_sonority(tokens: list[Token]) -> str:
    """How many notes sound."""
    said = _Said(tokens)
    numbers, operators = said.words("number", "texture"), said.words("compare")
    said.words("property", "voice")
    operator = _compared("count", operators[0]) if operators else "is"
    return f"number-sounding {operator} {numbers[0]}" if numbers and said.all_used() else ""


def _of_exercise(tokens: list[Token]) -> str:
    """What holds for the whole exercise."""
    said = _Said(tokens)
    modes, metres = said.words("mode"), said.words("metre")
    number = ["2"] if [token.typed for token in tokens] == ["two voices"] else said.words("texture")
    known = (("mode", modes), ("metre", metres), ("number-of-voices", number))
    parts = [f"{what} {_is(said)} {joined_by_or(words)}" for what, words in known if words]
    return " and ".join(parts) if said.all_used() or number == ["2"] else ""
