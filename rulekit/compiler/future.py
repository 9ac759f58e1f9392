"""What can be known of a rule beforehand: how far counts matter, what nothing can mend, where it can be broken."""

from collections.abc import Callable
from itertools import product
from typing import Any

from rulekit.compiler import emit
from rulekit.compiler.emit import Namespace
from rulekit.language import intervals
from rulekit.language import typed as t

_GROWING = {"number": 1, "longest": 1, "highest": 1, "lowest": -1}
_COUNTING = ("number", "longest", "run", "tally", "climaxes")


def caps(rule: t.Rule) -> dict[int, int]:
    """For each counting stream that is compared with numbers only: the count past which nothing changes."""
    tests = [rule.broken, *(licence.test for licence in rule.licences)]
    bounds: dict[int, list[int] | None] = {}
    for test in tests:
        _bounds(test, bounds)
    return {
        number: max(1, *found) + 1  # a run that is told once must show whether it goes on
        for number, found in bounds.items()
        if found and rule.streams[number].kind in _COUNTING
    }


def _bounds(test: t.Test, bounds: dict[int, list[int] | None]) -> None:
    """Note the numbers that each stream is compared with; None where it is compared with anything else."""
    match test:
        case t.Negation():
            _bounds(test.inner, bounds)
        case t.All() | t.AnyOf():
            for part in test.parts:
                _bounds(part, bounds)
        case t.Among(value=t.Stream() as stream):
            _note(stream, [m for m in test.members if isinstance(m, int)], bounds)
        case t.Relation(left=t.Stream() as stream, right=t.Const(value=int() as bound)):
            _note(stream, [bound], bounds)
        case t.Relation(left=t.Const(value=int() as bound), right=t.Stream() as stream):
            _note(stream, [bound], bounds)
        case _:
            for leaf in emit.leaves(test):
                if isinstance(leaf, t.Stream):
                    bounds[leaf.number] = None


def _note(stream: t.Stream, found: list[int], bounds: dict[int, list[int] | None]) -> None:
    known = bounds.setdefault(stream.number, [])
    if known is not None:
        known += found


def possible(rule: t.Rule) -> t.Test:
    """A condition that holds wherever the rule can be broken, whatever its streams are worth."""
    return _granted(rule.broken, True, lambda leaves: not any(isinstance(leaf, t.Stream) for leaf in leaves))


_LONGEST = 10  # longer runs are not told apart


def least_runs(rule: t.Rule, names: Namespace) -> list[dict[int, int]]:
    """What runs there must be for a rule to be broken: one of these choices of streams, each with its least length."""
    runs = [n for n, stream in enumerate(rule.streams) if stream.kind == "run" and stream.value is None][:2]
    alone = _granted(rule.broken, True, lambda leaves: _numbers(leaves) <= set(runs))
    breaks = names.function("s", emit.condition(alone, True, _stream, names))
    ways: list[dict[int, int]] = []
    for lengths in product(range(_LONGEST), repeat=len(runs)):
        way = dict(zip(runs, lengths, strict=True))
        new = not any(all(way[n] >= run for n, run in less.items()) for less in ways)
        if new and (_LONGEST - 1 in lengths or breaks([way.get(n) for n in range(len(rule.streams))])):
            ways.append({n: run for n, run in way.items() if run})
    return ways


def _numbers(leaves: list[emit.Leaf]) -> set[int | None]:
    return {leaf.number if isinstance(leaf, t.Stream) else None for leaf in leaves}


def _granted(test: t.Test, holds: bool, known: Callable[[list[emit.Leaf]], bool]) -> t.Test:
    """A condition where all literals but some are taken to come out as it needs them to hold (or to fail)."""
    match test:
        case t.Negation():
            return t.Negation(_granted(test.inner, not holds, known))
        case t.All() | t.AnyOf():
            return type(test)(tuple(_granted(part, holds, known) for part in test.parts))
        case _:
            return test if known(emit.leaves(test)) else t.All(()) if holds else t.AnyOf(())


def doomed(rule: t.Rule, names: Namespace) -> Callable[[tuple[Any, ...]], Any] | None:
    """A function of the streams' values that is true once the rule is broken whatever follows; None if never sure."""
    source = _forever(rule.broken, True, rule, names)
    return None if source == "False" else names.function("s", source)


def _forever(test: t.Test, holds: bool, rule: t.Rule, names: Namespace) -> str:
    """An expression that is true where a condition holds (or fails) now and ever after."""
    match test:
        case t.Negation():
            return _forever(test.inner, not holds, rule, names)
        case t.All() | t.AnyOf():
            parts = [_forever(part, holds, rule, names) for part in test.parts]
            every = isinstance(test, t.All) == holds
            if every and "False" in parts:
                return "False"
            sure = [part for part in parts if part != "False"]
            return f"({(' and ' if every else ' or ').join(sure)})" if sure else "False"
        case t.Relation() if test.operator != "==":
            left, right = _trend(test.left, rule), _trend(test.right, rule)
            wanted = ((0, -1), (0, 1)) if holds else ((0, 1), (0, -1))
            sure = left in wanted[0] and right in wanted[1]
            return emit.literal(test, holds, _stream, names) if sure else "False"
        case t.Among():
            trend = _trend(test.value, rule)
            if trend == 0:
                return emit.literal(test, holds, _stream, names)
            numbers = [m for m in test.members if isinstance(m, int)]
            if trend == 1 and not holds and len(numbers) == len(test.members) > 0:
                value = emit.value(test.value, _stream, names)
                return f"((a := {value}) is not None and a > {names.constant(max(numbers))})"
            if trend == 1 and holds and intervals.is_all_wider(test.members):
                return emit.literal(test, True, _stream, names)
            return "False"
        case _:
            return "False"


def _stream(leaf: emit.Leaf) -> str:
    assert isinstance(leaf, t.Stream)
    return f"s[{leaf.number}]"


def _trend(value: t.Value, rule: t.Rule) -> int | None:
    """1 for a value that can only grow while the exercise goes on, -1 shrink, 0 stay, None where it may do both."""
    match value:
        case t.Const() | t.Fixed():
            return 0
        case t.Stream():
            return _GROWING.get(rule.streams[value.number].kind)
        case t.Function(name="plus"):
            trends = {_trend(argument, rule) for argument in value.arguments} - {0}
            return trends.pop() if len(trends) == 1 else None if trends else 0
        case t.Function(name="times"):
            trends = {_trend(argument, rule) for argument in value.arguments} - {0}
            return trends.pop() if len(trends) == 1 else None if trends else 0
        case t.Function(name="span"):
            low, high = (_trend(argument, rule) for argument in value.arguments)
            return 1 if low in (0, -1) and high in (0, 1) else None
        case _:
            return None
