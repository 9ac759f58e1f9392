"""The way of the data: no room of the code imports one that comes after it."""

import ast
from collections.abc import Iterator
from pathlib import Path

import rulekit

_CODE = Path(rulekit.__file__).parent
# Rooms (packages, and modules beside them) in the order in which data goes through them.
_ORDER = (
    "diagnostics", "numbers", "severity", "resources", "files", "music", "exercise", "words", "language", "compiler",
    "telling",
    "sentences", "explaining", "marking", "trying", "fitting", "surveying", "solving", "show", "page", "editor",
    "desk", "cli",
)  # fmt: skip
_SHOWS_ITSELF = "_repr_html_"  # a notebook asks the thing itself for its picture


def room(module: str) -> str:
    """The room of a module: ``rulekit.music.pitch`` is in ``music``."""
    return module.split(".")[1] if "." in module else ""


def imported(node: ast.AST) -> Iterator[str]:
    """The modules of this package that are imported anywhere in a piece of code, but for its own picture."""
    if isinstance(node, ast.FunctionDef) and node.name == _SHOWS_ITSELF:
        return
    if isinstance(node, ast.Import):
        yield from (name.name for name in node.names)
    elif isinstance(node, ast.ImportFrom) and node.module == "rulekit":
        yield from (f"rulekit.{name.name}" for name in node.names if room_there(name.name))
    elif isinstance(node, ast.ImportFrom):
        yield node.module or ""
    for child in ast.iter_child_nodes(node):
        yield from imported(child)


def room_there(name: str) -> bool:
    """Whether there is a room of this name."""
    return (_CODE / name).is_dir() or (_CODE / f"{name}.py").is_file()


def arrows() -> Iterator[tuple[str, str, str]]:
    """Each import from one room into another: the file, its room, the other room."""
    for path in sorted(_CODE.rglob("*.py")):
        inside = path.relative_to(_CODE)
        own = inside.parts[0].removesuffix(".py")
        for module in imported(ast.parse(path.read_text(encoding="utf-8"))):
            if module.startswith("rulekit.") and room(module) != own:
                yield inside.as_posix(), own, room(module)


def test_every_room_has_its_place() -> None:
    rooms = {path.name.removesuffix(".py") for path in _CODE.iterdir() if path.suffix == ".py" or path.is_dir()}
    assert rooms - {"__pycache__", "__init__", "__main__"} == set(_ORDER)


def test_no_arrow_runs_back_up() -> None:
    places = {room: place for place, room in enumerate(_ORDER)}
    back = [
        (file, other)
        for file, own, other in arrows()
        if own not in ("__init__", "__main__") and places.get(other, len(_ORDER)) > places[own]
    ]
    assert back == [("cli/__init__.py", "__main__")]  # which tells an interruption from the first moment on
