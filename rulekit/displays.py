"""What a notebook shows in place of a thing: things say that they can be drawn, the package's face says by whom."""

from collections.abc import Callable

_drawers: list[Callable[[object], str]] = []


def drawn_by(draw: Callable[[object], str]) -> None:
    """Say what draws things."""
    _drawers[:] = [draw]


class Displayed:
    """A thing that a notebook shows drawn."""

    __slots__ = ()

    def _repr_html_(self) -> str:
        """The thing as a notebook shows it."""
        return _drawers[0](self)
