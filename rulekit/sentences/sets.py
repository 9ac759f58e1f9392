"""Sets of intervals in words: ``a third or a sixth``, ``wider than a tenth``, ``perfect fifths``."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import cast

from rulekit.language import typed as t
from rulekit.language.intervals import by_width, harmonic, melodic
from rulekit.language.vocabulary import CONSTANTS, WIDEST
from rulekit.music.pitch import SIZES, Interval, quality, rising, size
from rulekit.sentences.forms import Unsayable, joined
from rulekit.words import Words


def _(message: str) -> str:
    """Mark a message for the catalogues."""
    return message


def c_(context: str, message: str) -> str:
    """Mark a message that stands in contexts as well."""
    return message


_MOST_NAMES = 7
_QUALITIES = {"P": "perfect", "M": "major", "m": "minor", "A": "augmented", "d": "diminished"}
_PLAIN = {"P1": "unison", "P8": "octave"}
_ONE = {
    (1, 0): _("a rising {interval}"), (-1, 0): _("a falling {interval}"), (0, 0): _("a {interval}"),
    (0, 1): _("an {interval}"),
}  # fmt: skip
_REFUSED = (
    c_("refused", "a {interval}"), c_("refused", "an {interval}"), c_("refused", "a unison"),
    c_("refused", "wider than {interval}"), c_("refused", "narrower than {interval}"),
    c_("refused", "at least {interval}"), c_("refused", "at most {interval}"),
    c_("refused", "augmented or diminished"),
)  # fmt: skip
_MANY = (
    _("unisons"), _("seconds"), _("thirds"), _("fourths"), _("fifths"), _("sixths"), _("sevenths"), _("octaves"),
    _("ninths"), _("tenths"), _("elevenths"), _("twelfths"), _("thirteenths"), _("fourteenths"), _("fifteenths"),
)  # fmt: skip
_RISING, _FALLING = _("rising {intervals}"), _("falling {intervals}")

# Sets with a name of their own: the name, and what several such intervals are called.
_SINGLE = {
    "a unison": (_("a unison"), _("unisons")), "a repetition": (_("a repetition"), _("repetitions")),
    "step 0": (_("a step"), _("steps")), "leap 0": (_("a leap"), _("leaps")),
    "step 1": (_("a rising step"), _("rising steps")), "step -1": (_("a falling step"), _("falling steps")),
    "leap 1": (_("a rising leap"), _("rising leaps")), "leap -1": (_("a falling leap"), _("falling leaps")),
    "interval 1": (_("a rising interval"), _("rising intervals")),
    "interval -1": (_("a falling interval"), _("falling intervals")),
    "chromatic": (_("a chromatic semitone"), _("chromatic semitones")),
    "altered": (_("augmented or diminished"), _("augmented or diminished intervals")),
}  # fmt: skip
_JUST_ONE = {"step 0": _("one step"), "leap 0": _("one leap"), "a repetition": _("one repetition")}
# Bounds: as a predicate, as an interval by which one sings, and as several intervals.
_BOUNDS = {
    ("<", True): (
        _("wider than {interval}"), _("an interval wider than {interval}"), _("intervals wider than {interval}"),
    ),
    ("<=", True): (
        _("at least {interval}"), _("an interval of at least {interval}"), _("intervals of at least {interval}"),
    ),
    ("<", False): (
        _("narrower than {interval}"), _("an interval narrower than {interval}"),
        _("intervals narrower than {interval}"),
    ),
    ("<=", False): (
        _("at most {interval}"), _("an interval of at most {interval}"), _("intervals of at most {interval}"),
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Item:
    """A kind of intervals: one with a name (``single``), those within a bound, or all of a size and quality."""

    single: str = ""
    bound: tuple[str, bool] | None = None
    number: int = 0
    kind: str = ""
    heading: int = 0


def intervals(members: frozenset[object], said: Words, context: str = "") -> str:
    """Vertical intervals as a predicate: ``a third or a sixth``; ``context`` says where that stands."""
    word = "nor" if context else "or"
    return joined(said, [_one(item, said, context) for item in _items(members, False)], word)


def sung(members: frozenset[object], said: Words) -> str:
    """By which intervals a line moves: ``a step``, ``an interval wider than a perfect fifth``."""
    return joined(said, [_one(item, said, "", sung=True) for item in _items(members, True)], "or")


def many(members: frozenset[object], melodic_: bool, said: Words) -> str:
    """Several such intervals: ``perfect fifths``, ``leaps``."""
    return joined(said, [_several(item, said) for item in _items(members, melodic_)], "or")


def single(members: frozenset[object], said: Words) -> str:
    """One such interval that is sung: ``one leap``. Raises Unsayable where it has no name."""
    (item, *_more) = _items(members, True)
    if item.single not in _JUST_ONE:
        raise Unsayable
    return said.phrase(_JUST_ONE[item.single])


def names(patterns: tuple[t.Pattern, ...], said: Words) -> str:
    """Intervals that a ruleset names: ``a major tenth``."""
    kinds = [(p.high, {p.quality} if p.quality else set("mM")) for p in patterns]
    return joined(said, [_one(item, said, "") for high, each in kinds for item in _named(high, 0, each)], "or")


def _one(item: _Item, said: Words, context: str, *, sung: bool = False) -> str:
    if item.single:
        return said.phrase(_SINGLE[item.single][0], context)
    name = _name(item.number, item.kind, said)
    if item.bound is not None:
        return said.phrase(_BOUNDS[item.bound][sung], context, interval=_one(_exact(item), said, ""))
    english = _QUALITIES.get(item.kind) or SIZES[item.number - 1]
    article = 0 if item.heading else int(english[0] in "aeio")
    return said.phrase(_ONE[item.heading, article], "" if item.heading else context, interval=name)


def _several(item: _Item, said: Words) -> str:
    if item.single:
        return said.phrase(_SINGLE[item.single][1])
    if item.bound is not None:
        return said.phrase(_BOUNDS[item.bound][2], interval=_one(_exact(item), said, ""))
    called = said.phrase(_MANY[item.number - 1])
    if item.kind:
        called = f"{said.phrase(_QUALITIES[item.kind])} {called}"
    if not item.heading:
        return called
    return said.phrase(_RISING if item.heading > 0 else _FALLING, intervals=called)


def _exact(item: _Item) -> _Item:
    return next(iter(_named(item.number, 0, {item.kind} if item.kind else set("mM"))))


def _name(number: int, kind: str, said: Words) -> str:
    called = said.phrase(SIZES[number - 1])
    return f"{said.phrase(_QUALITIES[kind])} {called}" if kind else called


# ---- which intervals a set is ------------------------------------------------------------------------


@cache
def _items(members: frozenset[object], melodic_: bool) -> tuple[_Item, ...]:
    known = _known(melodic_).get(members)
    return (known,) if known is not None else tuple(_listed([i for i in members if isinstance(i, int)], melodic_))


def _listed(members: Iterable[int], melodic_: bool) -> Iterator[_Item]:
    """The intervals one by one."""
    directions: dict[tuple[int, str], set[int]] = {}
    for member in members:
        up = rising(Interval(member))
        if not _is_compound(up, melodic_, members):
            directions.setdefault((size(up), quality(up)), set()).add((member > 0) - (member < 0))
    kinds: dict[tuple[int, int], set[str]] = {}
    for (number, kind), ways in directions.items():
        heading = 0 if not melodic_ or len(ways - {0}) != 1 or number == 1 else next(iter(ways - {0}))
        kinds.setdefault((number, heading), set()).add(kind)
    if all(kind[0] in "Ad" for each in kinds.values() for kind in each) and len(kinds) > _MOST_NAMES:
        return iter((_Item("altered"),))
    if len(kinds) > _MOST_NAMES or any(number > len(SIZES) for number, _ in kinds):
        raise Unsayable
    return (item for (number, heading), each in sorted(kinds.items()) for item in _named(number, heading, each))


def _is_compound(up: Interval, melodic_: bool, members: Iterable[int]) -> bool:
    """Whether an interval is told by the simple one, which is among them."""
    number = size(up)
    if number <= 8 or (melodic_ and number != 15):
        return False
    return _reduced(up) in {(size(Interval(m)), quality(Interval(m))) for m in members}


def _reduced(interval: Interval) -> tuple[int, str]:
    return (size(interval) - 2) % 7 + 2, quality(interval)


def _named(number: int, heading: int, kinds: set[str]) -> Iterator[_Item]:
    """The intervals of one size: without a quality where it is major or minor, or any."""
    if kinds >= {"m", "M"} or len(kinds) > 3:
        yield _Item("a unison") if number == 1 else _Item(number=number, heading=heading)
        return
    for kind in sorted(kinds, key="dmPMA".find):
        plain = _PLAIN.get(f"{kind}{number}")
        if plain == "unison":
            yield _Item("a unison")
        else:
            yield _Item(number=number, kind="" if plain else kind[0], heading=heading)


@cache
def _known(melodic_: bool) -> dict[frozenset[object], _Item]:
    """Sets that have a name of their own, or a bound."""
    found: dict[frozenset[object], _Item] = {}
    for number in range(2, 16):
        for kind in ("", *(("P",) if number % 7 in (1, 4, 5) else ("m", "M"))):
            pattern = (t.Pattern(number, number, kind),)
            for operator, greater in _BOUNDS:
                item = _Item(bound=(operator, greater), number=number, kind=kind)
                found.setdefault(by_width(operator, pattern, greater), item)
    if melodic_:
        found |= {melodic((pattern,)): _Item(name) for name, pattern in _steps_and_leaps()}
    family: Callable[[tuple[t.Pattern, ...]], frozenset[object]] = melodic if melodic_ else harmonic
    for number in range(1, 9):
        found.setdefault(family((t.Pattern(number, number),)), next(_named(number, 0, set("mM"))))
    return found


def _steps_and_leaps() -> Iterator[tuple[str, t.Pattern]]:
    for name, single in (("repetition", "a repetition"), ("chromatic", "chromatic")):
        yield single, cast("tuple[t.Pattern, ...]", CONSTANTS[name].value)[0]
    for heading in (0, 1, -1):
        yield f"step {heading}", t.Pattern(2, 2, "", heading, exact=True)
        yield f"leap {heading}", t.Pattern(3, WIDEST, "", heading, exact=True)
        if heading:
            yield f"interval {heading}", t.Pattern(1, WIDEST, "", heading)
