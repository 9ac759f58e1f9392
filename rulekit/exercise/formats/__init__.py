"""The formats that exercises are read from and written in: one module for each, and this registry of them."""

from collections.abc import Callable
from importlib import import_module
from typing import Any

from rulekit.exercise.reading import Format


def _in(module: str, function: str) -> Callable[..., Any]:
    """A function in the module of a format, which is loaded when a file of it comes."""
    return lambda *given: getattr(import_module(f"{__name__}.{module}"), function)(*given)


MUSICXML = Format((".musicxml", ".xml"), _in("musicxml", "read_musicxml"), _in("musicxml", "write_musicxml"))
COMPRESSED = Format((".mxl",), _in("musicxml", "read_compressed"), _in("musicxml", "write_compressed"))

FORMATS: tuple[Format, ...] = (
    Format((".notes",), _in("notes", "read_notes"), _in("notes", "write_notes")),
    MUSICXML,
    COMPRESSED,
    Format((".mei",), _in("mei", "read_mei")),
    Format((".krn", ".kern"), _in("kern", "read_kern")),
    Format((".abc",), _in("abc", "read_abc")),
    Format((".mid", ".midi"), _in("midi", "read_midi"), _in("midi", "write_midi")),
)
