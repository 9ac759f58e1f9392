"""The parser's tables, kept from one run to the next in the user's cache folder: as JSON, from which no code can run.

Whatever is wrong with what was kept, or with the folder, the tables are made afresh.
"""

# Lark's results are untyped.
# pyright: reportUnknownMemberType=false, reportUnknownVariableType=false, reportUnknownArgumentType=false

import json
import sys
from collections.abc import Callable
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

import lark
from lark import Lark
from lark.grammar import Rule
from lark.lexer import TerminalDef

from rulekit.diagnostics import RulekitError
from rulekit.files import write_whole

_MOST_BYTES = 5_000_000


def kept(text: str, make: Callable[[str], Lark]) -> Lark:
    """The parser of a grammar, from the tables of an earlier run if there are any."""
    path = _path(text)
    if path is None:
        return make(text)
    with suppress(Exception):  # anything may stand in a file
        if path.stat().st_size <= _MOST_BYTES:
            return _loaded(json.loads(path.read_text(encoding="utf-8")))
    made = make(text)
    with suppress(OSError, RulekitError, ValueError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, json.dumps(_saved(made)))
    return made


def _path(text: str) -> Path | None:
    """Where the tables of a grammar are kept: another grammar, library or interpreter has another file."""
    from platformdirs import user_cache_path

    about = "\n".join((text, lark.__version__, sys.version))
    with suppress(RuntimeError, OSError):  # nobody's home is known
        return user_cache_path("rulekit") / f"grammar-{sha256(about.encode()).hexdigest()[:20]}.json"
    return None


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
