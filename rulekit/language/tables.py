"""The parser's tables, kept from one run to the next.

Whatever is wrong with what was kept, the tables are made afresh.
"""

# Lark's results are untyped.
# pyright: reportUnknownMemberType=false, reportUnknownVariableType=false, reportUnknownArgumentType=false

import sys
from collections.abc import Callable
from contextlib import suppress
from typing import Any

import lark
from lark import Lark
from lark.grammar import Rule
from lark.lexer import TerminalDef

from rulekit.language import cache


def kept(text: str, make: Callable[[str], Lark]) -> Lark:
    """The parser of a grammar, from the tables of an earlier run if there are any.

    Another grammar, library or interpreter has other tables.
    """
    about = ("grammar", text, lark.__version__, sys.version)
    with suppress(Exception):  # anything may have been kept
        return _loaded(cache.recalled(*about))
    made = make(text)
    cache.keep(_saved(made), *about)
    return made


def _saved(parser: Lark) -> dict[str, Any]:
    """The tables as the library lists them; the change of its terminals is done already."""
    data, memo = parser.memo_serialize([TerminalDef, Rule])
    return {"data": {**data, "options": {**data["options"], "edit_terminals": None}}, "memo": memo}


def _loaded(saved: dict[str, Any]) -> Lark:
    """A parser from its tables; JSON has made words of the numbers that they go by."""
    data = saved["data"]
    table = data["parser"]["parser"]
    table["tokens"] = _numbered(table["tokens"])
    table["states"] = {int(state): _numbered(actions) for state, actions in table["states"].items()}
    return Lark._load_from_dict(data, _numbered(saved["memo"]))  # pyright: ignore[reportPrivateUsage]


def _numbered(table: dict[str, Any]) -> dict[int, Any]:
    return {int(number): value for number, value in table.items()}
