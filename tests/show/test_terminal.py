"""Lines for a terminal: broken, ruled and styled as a general library for terminals does it."""

import io
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console
from rich.text import Text

from rulekit.show.terminal import Screen, broken, screen

WORDS = st.text(alphabet="ab–’音符 \n", max_size=60)


@given(WORDS, st.integers(20, 40))
def test_a_text_is_broken_as_by_a_reference_library(text: str, width: int) -> None:
    """Rich breaks it in the same places."""
    wrapped = Text(text).wrap(Console(file=io.StringIO(), width=width), width)
    assert [line for line in broken(text, width) if line] == [x for line in wrapped if (x := line.plain.rstrip())]


@pytest.fixture
def show(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Screen]:
    """The screen of a terminal in an environment."""

    def made(**environment: str) -> Screen:
        for name in ("NO_COLOR", "FORCE_COLOR", "TERM"):
            monkeypatch.delenv(name, raising=False)
        for name, value in environment.items():
            monkeypatch.setenv(name, value)
        return screen()

    return made


@pytest.mark.parametrize("style", ["bold magenta", "yellow", "dim", ""])
@pytest.mark.parametrize("colourless", [True, False])
def test_styles_are_written_as_by_a_reference_library(
    style: str, colourless: bool, show: Callable[..., Screen]
) -> None:
    """Rich writes the same signs."""
    known = Console(file=io.StringIO(), force_terminal=True, color_system="standard", no_color=colourless, width=80)
    known.print(Text("a fault", style=style))
    shown = show(FORCE_COLOR="1", **{"NO_COLOR": "1"} if colourless else {})
    assert shown.line(("a fault", style)) + "\n" == known.file.getvalue()  # type: ignore[attr-defined]


def test_styles_are_shown_only_where_somebody_sees_them(show: Callable[..., Screen]) -> None:
    assert show().codes == {}
    assert show(FORCE_COLOR="1", TERM="dumb").codes == {}


def test_signs_hidden_in_a_text_are_not_obeyed_beside_those_of_styles(show: Callable[..., Screen]) -> None:
    line = show(FORCE_COLOR="1").line(("\x1b[2Jowned", "bold"))
    assert line == "\x1b[1m\N{REPLACEMENT CHARACTER}[2Jowned\x1b[0m"
