"""What can be known of a rule's future: counts that need not go on, and faults that nothing can mend."""

from collections.abc import Callable
from typing import Any

from rulekit.compiler import emit
from rulekit.compiler.emit import Namespace
from rulekit.language import intervals
from rulekit.language import typed as t

_GROWING = {"number": 1, "longest": 1, "highest": 1, "lowest": -1}
_COUNTING = ("number", "longest", "run", "climaxes")


def caps(rule: t.Rule) -> dict[int, int]:
    """For each counting stream that is compared with numbers only: the count past which nothing changes."""
    tests = [rule.broken, *(licence.test for licence in rule.licences)]
    bounds: dict[int, list[int] | None] = {}
    for test in tests:
        _bounds(test, bounds)
    return {
        number: max(found) + 1 for number, found in bounds.items() if found and rule.streams[number].kind in _COUNTING
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
