"""A rule as one plain English sentence, made from its typed tree: for students, who read no rule language.

Everything that the rule means is in the tree already, with parameters and definitions written out. What would
become too long or has no plain words is not said at all (None): the message of a rule's example tells it then.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import cast

from rulekit.compiler import emit
from rulekit.language import typed as t
from rulekit.language.intervals import by_width, harmonic, melodic
from rulekit.language.vocabulary import CONSTANTS, WIDEST
from rulekit.music.pitch import SIZES, Interval, quality, rising, size
from rulekit.numbers import COUNTS
from rulekit.severity import Severity
from rulekit.telling import show


def _(message: str) -> str:
    """Mark a message for the catalogues of pages."""
    return message


GROUPS = (
    _("What sounds together"), _("How the voices move together"), _("Each line by itself"),
    _("The exercise as a whole"),
)  # fmt: skip
_LONGEST = 60  # words
_MOST_NAMES = 7
_QUALITIES = {"P": "perfect ", "M": "major ", "m": "minor ", "A": "augmented ", "d": "diminished "}
_PLAIN = {"P1": "unison", "P8": "octave"}
_LINES = {
    "each voice": "every voice", "inner voices": "the inner voices", "outer voices": "the outer voices",
    "upper voices": "the upper voices",
}  # fmt: skip
_PAIRS = {"each pair": "any two voices", "cantus and counterpoint": "cantus and counterpoint"}
_FLAGS = {
    "first": "be the first", "last": "be the last", "strong": "stand on the first beat", "accented": "be accented",
    "sharpened": "be raised", "flattened": "be lowered", "diatonic": "belong to the mode", "tied": "be tied",
    "leading": "be the leading note", "rested": "come after a rest", "held": "be held",
    "in_compass": "lie within the range of the voice", "inner": "be in an inner voice",
}  # fmt: skip
_VOICES = {
    "upper": "of the upper voice", "lower": "of the lower voice", "cantus": "of the cantus",
    "counterpoint": "of the counterpoint", "sounding-upper": "that sounds higher",
    "sounding-lower": "that sounds lower", "bass": "of the lowest voice",
}  # fmt: skip
_MOTIONS = {"none": "a mere repetition of both notes"}
_NUMBERS = {number: COUNTS[number] for number in range(2, 6)}
_FIXED = {
    "number-of-voices": "the number of voices", "number-of-bars": "the number of bars", "mode": "the mode",
    "metre": "the metre",
}  # fmt: skip
_BEFORE = {-1: "before it", 1: "after it"}
_THIRD_PERSON = {"be": "is", "stand": "stands", "belong": "belongs", "lie": "lies", "come": "comes"}


class Unsayable(Exception):
    """There are no plain words for a part of a rule."""


def sentence(rule: t.Rule) -> str | None:
    """What a rule asks, as a sentence: its author’s, or else one made from what it means.

    None where it would be none that a student reads.
    """
    if rule.taught:
        return "".join(part if isinstance(part, str) else _filled(part.value) for part in rule.taught)
    try:
        said = _Saying(rule).sentence()
    except Unsayable:
        return None
    return said if len(said.split()) <= _LONGEST else None


def _filled(value: t.Value | t.Ref) -> str:
    """A value that a ruleset sets: ``three``, ``a major tenth``."""
    assert isinstance(value, t.Const)
    if value.type == t.Type.INTERVAL:
        patterns = cast("tuple[t.Pattern, ...]", value.value)
        names = (name for p in patterns for name in _named(p.high, 0, {p.quality} if p.quality else set("mM")))
        return _joined(list(names), "or")
    if value.type == t.Type.COUNT and value.value in range(len(COUNTS)):
        return COUNTS[cast(int, value.value)]
    return show(value.value, value.type)


def group_of(rule: t.Rule) -> int:
    """The number in ``GROUPS`` of what a rule is about, by what it looks at."""
    if rule.whole or rule.track.kind in (t.Kind.LINE, t.Kind.PAIR, t.Kind.EXERCISE):
        return 3
    if rule.track.kind == t.Kind.NOTE:
        return 2
    leaves = [leaf for leaf in emit.leaves(rule.broken) if isinstance(leaf, t.Attr | t.Flag)]
    moving = any(leaf.name in ("motion", "approach") or leaf.ref.offset or leaf.ref.hops for leaf in leaves)
    return 1 if moving or rule.streams else 0


# ---- predicates ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Clause:
    """Somebody does something: ``the interval``, ``be a third``; or does not."""

    subject: str
    verb: str
    yes: bool = True
    plural: bool = False

    def denied(self) -> "_Clause":
        return _Clause(self.subject, self.verb, not self.yes, self.plural)

    def stated(self) -> str:
        """``the interval is a third``."""
        verb, _, rest = self.verb.partition(" ")
        if verb == "be":
            form = "are" if self.plural else "is"
            return f"{self.subject} {form}{'' if self.yes else ' not'} {rest}".rstrip()
        if not self.yes:
            return f"{self.subject} {'do' if self.plural else 'does'} not {self.verb}"
        return f"{self.subject} {verb if self.plural else _THIRD_PERSON.get(verb, verb + 's')} {rest}".rstrip()

    def asked(self, must: str) -> str:
        """``the interval must be a third``."""
        return f"{self.subject} {must}{'' if self.yes else ' not'} {self.verb}"


def _beats(sample: t.Test) -> str:
    """Which beats are looked at, where that has a word."""
    match sample:
        case t.Flag(name="strong" | "accented" as name):
            return name
        case t.Negation(inner=t.Flag(name="strong" | "accented" as name)):
            return {"strong": "weak", "accented": "unaccented"}[name]
        case _:
            raise Unsayable


class _Saying:
    def __init__(self, rule: t.Rule) -> None:
        self.rule = rule
        self.must = "must" if rule.weight.severity == Severity.FAULT else "should"

    def sentence(self) -> str:
        """The whole: where it holds, under which condition, and what is asked."""
        assert isinstance(self.rule.broken, t.All)
        *when, demand = _flat(self.rule.broken)
        told = [part for part in when if not _is_understood(part)]
        places = [place for part in told if (place := _place(part))]
        conditions = [part for part in told if not _place(part)]
        number = [place for place in places if place.endswith(" voices")]
        where = " ".join([self._subject(), *(place for place in places if place not in number)])
        said = ", ".join([*number, where.replace("any two voices", "the voices") if number else where])
        if conditions:
            said += f", where {self._all(conditions, 'where')}"
        said = f"{said}, {self._demand(demand)}."
        return said[0].upper() + said[1:]

    def _subject(self) -> str:
        track, scope = self.rule.track, self.rule.scope.words
        if self.rule.scope.but is not None:
            raise Unsayable
        place = f" on {_beats(track.sample)} beats" if track.sample is not None else ""
        match track.kind:
            case t.Kind.NOTE | t.Kind.LINE:
                return f"in {_LINES.get(scope, f'the {scope}')}{place}"
            case t.Kind.DYAD if self._is_on_bass():
                return f"between the lowest voice and every other{place}"
            case t.Kind.DYAD | t.Kind.PAIR:
                return f"between {_PAIRS.get(scope, scope)}{place}"
            case t.Kind.MOMENT:
                return f"whenever a note begins{place}"
            case _:
                return "in the exercise as a whole"

    def _is_on_bass(self) -> bool:
        parts = _flat(self.rule.where) if isinstance(self.rule.where, t.All) else []
        return any(isinstance(part, t.Flag) and part.name == "on_bass" for part in parts)

    def _demand(self, broken: t.Test) -> str:
        """What is asked, where a condition says what breaks it."""
        match broken:
            case t.Negation(inner=t.AnyOf() | t.All() as inner):
                return f"it {self.must} be so that {self.stated(inner)}"
            case t.Relation("<", t.Const(value=most), t.Stream(number=number)) if self._is_run(number):
                test = self.rule.streams[number].test
                assert test is not None
                return f"{self._clause(test).denied().asked(self.must)} more than {_times(most)} in a row"
            case t.AnyOf(parts) if not any(isinstance(part, t.All | t.AnyOf) for part in parts):
                return _joined([self._demand(part) for part in parts], "and")
            case t.AnyOf() | t.All() | t.Holds():
                return f"it {self.must} not happen that {self.stated(broken)}"
            case _:
                return self._clause(broken).denied().asked(self.must)

    # ---- conditions -------------------------------------------------------------------------------

    def stated(self, test: t.Test, link: str = "that") -> str:
        """A condition as a clause; ``link`` is the word after which it stands."""
        match test:
            case t.All():
                return self._all(_flat(test), link)
            case t.AnyOf(parts):
                word = f"or {link}" if any(isinstance(part, t.All) for part in parts) else "or"
                return _joined([self.stated(part, link) for part in parts], word)
            case t.Negation(inner=t.AnyOf(parts)) if not any(isinstance(part, t.All) for part in parts):
                return _joined([self.stated(t.Negation(part)) for part in parts], "and")
            case t.Negation(inner=t.All() | t.AnyOf() as inner):
                return f"it is not so that {self.stated(inner)}"
            case t.Negation(inner=t.Holds()):
                raise Unsayable
            case t.Holds(quantifier="some", kind=t.Kind.NOTE, condition=condition):
                return self._clause(condition, "some note").stated()
            case t.Negation(inner=inner):
                return self._clause(inner).denied().stated()
            case _:
                return self._clause(test).stated()

    def _all(self, parts: Sequence[t.Test], link: str) -> str:
        """Conditions that hold together."""
        told = [part for part in parts if not _is_understood(part)]
        same = self._in_a_row(told)
        if same:
            return same
        deep = [part for part in told if isinstance(part, t.AnyOf)]
        said = [self.stated(part, link) for part in told if part not in deep]
        return _joined([*said, *(f"either {self.stated(part, link)}" for part in deep)], "and")

    def _in_a_row(self, parts: Sequence[t.Test]) -> str:
        """The same said of several places that follow each other."""
        asked = [part for part in parts if isinstance(part, t.Among) and isinstance(part.value, t.Attr)]
        refs = [part.value.ref for part in asked if isinstance(part.value, t.Attr)]
        names = {part.value.name for part in asked if isinstance(part.value, t.Attr)}
        offsets = sorted(ref.offset for ref in refs)
        if len(asked) < 2 or len(asked) < len(parts) or len({part.members for part in asked}) > 1 or len(names) > 1:
            return ""
        if offsets != list(range(offsets[0], offsets[0] + len(offsets))) or any(ref.role or ref.hops for ref in refs):
            return ""
        number = _NUMBERS.get(len(refs), str(len(refs)))
        if names == {"interval"}:
            return f"{number} intervals in a row are each {_intervals(asked[0].members, False)}"
        if names == {"approach"}:
            return f"{number} notes in a row are each reached by {_sung(asked[0].members)}"
        return ""

    def _is_run(self, number: int) -> bool:
        stream = self.rule.streams[number]
        return stream.kind == "run" and stream.value is None and isinstance(stream.test, t.Among | t.Relation | t.Flag)

    def _clause(self, test: t.Test, here: str = "") -> _Clause:
        match test:
            case t.Negation(inner=t.Holds(quantifier="some", kind=t.Kind.NOTE, condition=condition)):
                return self._clause(condition, "some note").denied()
            case t.Negation(inner=inner):
                return self._clause(inner, here).denied()
            case t.Among(value=t.Attr(ref, "approach"), members=members):
                return _Clause(self._note(ref), f"be reached by {_sung(members)}")
            case t.Among(value=t.Attr(ref, "degree"), members=members) if members == frozenset({1}):
                return _Clause(self._note(ref), "be the final")
            case t.Among(value=value, members=members):
                return _Clause(self._value(value), f"be {self._members(value, members)}")
            case t.Relation(operator, left, right):
                return self._relation(operator, left, right)
            case t.Flag(name="crossed", ref=ref):
                return _Clause("the voices" if not ref.offset else "the voices just before", "cross", plural=True)
            case t.Flag(ref, name) if name in _FLAGS:
                return _Clause(here or self._thing(ref), _FLAGS[name])
            case t.Same(left, right) if left.role in ("upper", "lower"):
                return _Clause(f"the {right.role}", f"be the {left.role} voice")
            case _:
                raise Unsayable

    def _relation(self, operator: str, left: t.Value, right: t.Value) -> _Clause:
        match operator, left, right:
            case "==", t.Function(name="direction", arguments=(t.Attr(here, "approach"),)), t.Function(
                "direction", (t.Attr(there, "approach"),)
            ):
                return _Clause(self._note(here), f"be reached in the same direction as {self._note(there)}")
            case "==", t.Function(name="direction", arguments=(t.Attr(here, "approach"),)), t.Function(
                "opposite", (t.Function("direction", (t.Attr(there, "approach"),)),)
            ):
                return _Clause(self._note(here), f"be reached in the direction opposite to that of {self._note(there)}")
            case "==", t.Attr(name="number_sounding"), t.Fixed(name="number-of-voices"):
                return _Clause("every voice", "sound")
            case "==", t.Stream(number), t.Stream(other) if (
                self._is_end(other) and self.rule.streams[number].kind == "climax"
            ):
                return _Clause("the highest note", f"come at {self._value(right)}")
            case _:
                return self._comparison(operator, left, right)

    def _is_end(self, number: int) -> bool:
        return self.rule.streams[number].kind in ("first", "last")

    def _comparison(self, operator: str, left: t.Value, right: t.Value) -> _Clause:
        if operator == "==":
            return _Clause(self._value(left), f"be {self._same_as(left, right)}")
        more, less = {t.Type.PITCH: ("higher", "lower"), t.Type.LENGTH: ("longer", "shorter")}.get(
            left.type, ("more", "less")
        )
        if isinstance(left, t.Const) or (isinstance(left, t.Fixed | t.Stream) and isinstance(right, t.Stream)):
            bound = f"{more} than" if operator == "<" else ("at least" if more == "more" else f"not {less} than")
            return _Clause(self._value(right), f"be {bound} {self._value(left)}")
        bound = f"{less} than" if operator == "<" else ("at most" if more == "more" else f"not {more} than")
        return _Clause(self._value(left), f"be {bound} {self._value(right)}")

    def _same_as(self, left: t.Value, right: t.Value) -> str:
        same = isinstance(left, t.Attr) and isinstance(right, t.Attr) and left.name == right.name
        return f"the same as {self._value(right)}" if same or right.type == t.Type.TIME else self._value(right)

    # ---- values -------------------------------------------------------------------------------------

    def _value(self, value: t.Value) -> str:
        match value:
            case t.Const(value=known, type=kind, many=False):
                return show(known, kind)
            case t.Fixed(name=name):
                return _FIXED[name]
            case t.Stream(number=number):
                return self._stream(self.rule.streams[number])
            case t.Attr(ref, "interval"):
                return "the interval" if ref == t.HERE else f"the interval {_nth(ref.offset)}"
            case t.Attr(ref, "motion"):
                return "the motion" if ref == t.HERE else f"the motion {_nth(ref.offset)}"
            case t.Attr(ref, "pitch"):
                return self._note(ref)
            case t.Attr(ref, "number_sounding"):
                return "the number of voices that sound"
            case t.Attr(ref, "degree" | "length" | "letter" as name):
                return f"the {name} of {self._note(ref)}"
            case t.Function(name="note-name", arguments=(t.Attr(ref, "pitch"),)):
                return f"the name of {self._note(ref)}"
            case t.Function(name="direction", arguments=(t.Attr(ref, "approach"),)):
                return f"the direction to {self._note(ref)}"
            case t.Function(name="opposite", arguments=(inner,)):
                return f"the opposite of {self._value(inner)}"
            case t.Function(name="span", arguments=(first, last)):
                return f"the interval from {self._value(first)} to {self._value(last)}"
            case t.Function(name="size", arguments=(t.Attr(ref, "approach"),)):
                return f"the size of the step or leap to {self._note(ref)}"
            case _:
                raise Unsayable

    def _stream(self, stream: t.Gathered) -> str:
        own = f" of the {stream.track.role} voice" if stream.track.role in ("upper", "lower") else ""
        things = {t.Kind.NOTE: "notes", t.Kind.DYAD: "intervals"}.get(stream.track.kind, "moments")
        if stream.kind in ("highest", "lowest"):
            return f"the {stream.kind} note{own}"
        if stream.kind == "climax":
            return f"the place of the highest note{own}"
        if stream.kind == "climaxes":
            return "the number of times that the highest note comes"
        if stream.kind == "tally":
            return self._tally(stream)
        test = stream.test
        if stream.kind in ("first", "last") and isinstance(test, t.Flag) and test.name in ("first", "last"):
            return "the beginning" if test.name == "first" else "the end"
        if stream.kind in ("run", "number") and test is not None and stream.value is None:
            row = "" if stream.kind == "number" else " in a row"
            parts = [part for part in (_flat(test) if isinstance(test, t.All) else [test]) if not _is_understood(part)]
            places = "".join(f" {place}" for part in parts if (place := _place(part)))
            return self._counted(things, row, [part for part in parts if not _place(part)]) + places
        raise Unsayable

    def _tally(self, stream: t.Gathered) -> str:
        match stream.value:
            case t.Attr(ref=t.HERE, name="pitch" | "degree" | "letter" | "length" | "interval" | "motion" as name):
                things = {t.Kind.NOTE: "notes", t.Kind.DYAD: "intervals"}.get(stream.track.kind, "sonorities")
                return f"the number of {things} so far (with this one) that have the same {name}"
            case _:
                raise Unsayable

    def _counted(self, things: str, row: str, parts: Sequence[t.Test]) -> str:
        match parts:
            case [t.Among(value=t.Attr(ref=t.HERE, name="interval"), members=members)]:
                return f"the number of intervals{row} that are {_intervals(members, False)}"
            case [t.Among(value=t.Attr(ref=t.HERE, name="motion") as value, members=members)]:
                return f"the number of moves{row} in {self._members(value, members)} motion"
            case [t.Among(value=t.Attr(ref=t.HERE, name="approach"), members=members)]:
                return f"the number of notes{row} reached by {_sung(members)}"
            case []:
                return f"the number of {things}{row}"
            case _:
                return f"the number of {things}{row} at which {self._all(parts, 'at which')}"

    def _members(self, value: t.Value, members: frozenset[object]) -> str:
        if value.type in (t.Type.HARMONIC, t.Type.MELODIC, t.Type.INTERVAL):
            return _intervals(members, value.type == t.Type.MELODIC)
        names = sorted(_MOTIONS.get(name, name) for name in (show(member, value.type) for member in members))
        plain = [name for name in names if not (name.startswith("hypo") and name.removeprefix("hypo") in names)]
        return _joined(plain, "or")

    def _thing(self, ref: t.Ref) -> str:
        """What an adjective is said of."""
        if self.rule.track.kind != t.Kind.NOTE and not ref.role:
            return "it" if not ref.offset else f"the interval {_nth(ref.offset)}"
        return self._note(ref)

    def _note(self, ref: t.Ref) -> str:
        where = ref.offset if self.rule.track.kind == t.Kind.NOTE else ref.hops
        if not ref.role:
            return f"the note {_nth(where)}" if where else "the note"
        voice = _VOICES[ref.role]
        match ref.offset, ref.hops:
            case (0, 0):
                return f"the note {voice}"
            case (-1, 0) | (0, -1):
                return f"the note {voice} just before"
            case (1, 0) | (0, 1):
                return f"the next note {voice}"
            case _:
                raise Unsayable


def _nth(offset: int) -> str:
    """``before it``, ``two before it``."""
    if abs(offset) not in (1, *_NUMBERS):
        raise Unsayable
    return _BEFORE.get(offset) or f"{_NUMBERS[abs(offset)]} {'before' if offset < 0 else 'after'} it"


def _place(test: t.Test) -> str:
    """Where a rule looks, if that is what a condition says: ``at the beginning``; nothing for other conditions."""
    match test:
        case t.Among(value=t.Fixed(name="number-of-voices"), members=members) if len(members) == 1:
            (number,) = members
            return f"in {_NUMBERS.get(number, str(number)) if isinstance(number, int) else number} voices"
        case t.Flag(ref=t.Ref(offset=0, role="", hops=0), name="first"):
            return "at the beginning"
        case t.Flag(ref=t.Ref(offset=0, role="", hops=0), name="last"):
            return "at the end"
        case t.Flag(ref=t.Ref(offset=1, role="", hops=0), name="last"):
            return "just before the end"
        case t.Negation(inner=t.AnyOf(parts)):
            places = [_place(part) for part in parts]
            return f"except {_joined(places, 'and')}" if all(place.startswith("at ") for place in places) else ""
        case t.Negation(inner=t.Flag() as inner) if _place(inner):
            return f"except {_place(inner)}"
        case _:
            return ""


def _times(number: object) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times") if isinstance(number, int) else f"{number} times"


def _sung(members: frozenset[object]) -> str:
    """By which intervals a line moves."""
    said = _intervals(members, True)
    if said.startswith(("a ", "an ")):
        return said
    return f"an interval of {said}" if said.startswith("at ") else f"an interval {said}"


def _flat(test: t.All) -> list[t.Test]:
    """All the parts of a conjunction, those of conjunctions in it as well."""
    return [inner for part in test.parts for inner in (_flat(part) if isinstance(part, t.All) else [part])]


def _is_understood(test: t.Test) -> bool:
    """What needs no words: that there is something before or after, that the lowest voice is meant."""
    match test:
        case t.Exists():
            return True
        case t.Flag(name="on_bass"):
            return True
        case t.Negation(inner=t.Exists()):
            raise Unsayable
        case _:
            return False


def _joined(parts: Sequence[str], word: str) -> str:
    """``a``, ``a or b``, ``a, b or c``; in longer ones every part has the word."""
    if not parts:
        raise Unsayable
    *first, last = parts
    if not first:
        return last
    return f"{', '.join(first)}{', ' if ' ' in word else ' '}{word} {last}"


# ---- sets of intervals ------------------------------------------------------------------------------


@cache
def _intervals(members: frozenset[object], melodic_: bool) -> str:
    """A set of intervals in words: ``a third or a sixth``, ``a leap``, ``wider than a tenth``."""
    known = _known(melodic_).get(members)
    if known is not None:
        return known
    found = frozenset(i for i in members if isinstance(i, int))
    for heading, word in ((1, "rising "), (-1, "falling ")):
        if melodic_ and members in _families(heading):
            return f"a {word}{_families(heading)[members]}"
    return _listed(found, melodic_)


def _listed(members: Iterable[int], melodic_: bool) -> str:
    """The intervals one by one."""
    kinds: dict[tuple[int, int], set[str]] = {}
    directions: dict[tuple[int, str], set[int]] = {}
    for member in members:
        up = rising(Interval(member))
        number = size(up)
        if (
            (not melodic_ or number == 15)
            and number > 8
            and _reduced(up) in {(size(Interval(m)), quality(Interval(m))) for m in members}
        ):
            continue
        directions.setdefault((number, quality(up)), set()).add((member > 0) - (member < 0))
    for (number, kind), ways in directions.items():
        heading = 0 if not melodic_ or len(ways - {0}) != 1 or number == 1 else next(iter(ways - {0}))
        kinds.setdefault((number, heading), set()).add(kind)
    if all(kind[0] in "Ad" for each in kinds.values() for kind in each) and len(kinds) > _MOST_NAMES:
        return "augmented or diminished"
    if len(kinds) > _MOST_NAMES or any(number > len(SIZES) for number, _ in kinds):
        raise Unsayable
    names = [name for (number, heading), each in sorted(kinds.items()) for name in _named(number, heading, each)]
    return _joined(names, "or")


def _reduced(interval: Interval) -> tuple[int, str]:
    return (size(interval) - 2) % 7 + 2, quality(interval)


def _named(number: int, heading: int, kinds: set[str]) -> Iterable[str]:
    """The intervals of one size: without a quality where it is major or minor, or any."""
    word = {1: "rising ", -1: "falling ", 0: ""}[heading]
    if kinds >= {"m", "M"} or len(kinds) > 3:
        yield _with_article(f"{word}{SIZES[number - 1]}")
        return
    for kind in sorted(kinds, key="dmPMA".find):
        plain = _PLAIN.get(f"{kind}{number}")
        yield _with_article(f"{word}{plain or (_QUALITIES[kind[0]] + SIZES[number - 1])}")


def _with_article(noun: str) -> str:
    return f"{'an' if noun[0] in 'aeio' else 'a'} {noun}"


@cache
def _known(melodic_: bool) -> dict[frozenset[object], str]:
    """Sets that have a name of their own, or a bound."""
    found: dict[frozenset[object], str] = {}
    for number in range(2, 16):
        for kind in ("", *(("P",) if number % 7 in (1, 4, 5) else ("m", "M"))):
            pattern = (t.Pattern(number, number, kind),)
            name = _with_article(_PLAIN.get(f"{kind}{number}") or f"{_QUALITIES.get(kind, '')}{SIZES[number - 1]}")
            for operator, greater, words in (
                ("<", True, "wider than"), ("<=", True, "at least"), ("<", False, "narrower than"),
                ("<=", False, "at most"),
            ):  # fmt: skip
                found.setdefault(by_width(operator, pattern, greater), f"{words} {name}")
    names = {"step": "a step", "leap": "a leap", "repetition": "a repetition", "chromatic": "a chromatic semitone"}
    family: Callable[[tuple[t.Pattern, ...]], frozenset[object]] = melodic if melodic_ else harmonic
    if melodic_:
        for name, words in names.items():
            found[family(cast("tuple[t.Pattern, ...]", CONSTANTS[name].value))] = words
    for number, name in enumerate(SIZES[:8], 1):
        found.setdefault(family((t.Pattern(number, number),)), _with_article(name))
    return found


@cache
def _families(heading: int) -> dict[frozenset[object], str]:
    """Steps, leaps, and intervals that go one way."""
    bounds = {"step": (2, 2, True), "leap": (3, WIDEST, True), "interval": (1, WIDEST, False)}
    return {melodic((t.Pattern(low, high, "", heading, exact),)): name for name, (low, high, exact) in bounds.items()}
