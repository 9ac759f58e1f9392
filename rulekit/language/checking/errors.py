"""The one error of meaning, and how those of several parts are told together."""

from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeVar, overload

from rulekit.language import syntax as s

A = TypeVar("A")
B = TypeVar("B")
C = TypeVar("C")
D = TypeVar("D")
E = TypeVar("E")


class CheckError(Exception):
    """Something in a statement has no meaning; ``hint`` says how to mend it.

    ``mistakes`` are all that is told: it alone, or those that it joins, or none where they are told elsewhere.
    """

    def __init__(
        self, span: s.Span, message: str, hint: str = "", joins: "tuple[CheckError, ...] | None" = None
    ) -> None:
        super().__init__(message)
        self.span, self.hint, self._joins = span, hint, joins

    @property
    def mistakes(self) -> "tuple[CheckError, ...]":
        """The mistakes to tell, one by one."""
        return (self,) if self._joins is None else self._joins


def told_elsewhere(span: s.Span, message: str) -> CheckError:
    """What stands here takes part in a mistake that is told where it was made."""
    return CheckError(span, message, joins=())


def joined(errors: Sequence[CheckError]) -> CheckError:
    """Several errors as one."""
    first, *others = errors
    if not others:
        return first
    return CheckError(first.span, str(first), first.hint, tuple(each for error in errors for each in error.mistakes))


def each(read: Callable[[A], B], parts: Iterable[A]) -> tuple[B, ...]:
    """What each of some parts comes to; raises one CheckError with the mistakes of all of them."""
    found: list[B] = []
    errors: list[CheckError] = []
    for part in parts:
        try:
            found.append(read(part))
        except CheckError as error:
            errors.append(error)
    if errors:
        raise joined(errors)
    return tuple(found)


@overload
def together(first: Callable[[], A], second: Callable[[], B], /) -> tuple[A, B]: ...
@overload
def together(first: Callable[[], A], second: Callable[[], B], third: Callable[[], C], /) -> tuple[A, B, C]: ...
@overload
def together(
    first: Callable[[], A], second: Callable[[], B], third: Callable[[], C], fourth: Callable[[], D],
    fifth: Callable[[], E], /,
) -> tuple[A, B, C, D, E]: ...  # fmt: skip
def together(*reads: Callable[[], Any]) -> tuple[Any, ...]:
    """What some parts come to that do not depend on each other; raises CheckError like ``each``."""
    return each(lambda read: read(), reads)
