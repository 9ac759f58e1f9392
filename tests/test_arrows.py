"""The way of the data: no room of the code imports one that comes after it."""

import ast
from collections.abc import Iterator
from pathlib import Path

import rulekit

_CODE = Path(rulekit.__file__).parent
# Rooms (packages, and modules beside them) in the order in which data goes through them.
_ORDER = (
    "diagnostics", "numbers", "severity", "resources", "files", "beside", "displays", "music", "exercise", "words",
    "language", "compiler", "telling",
    "sentences", "explaining", "marking", "trying", "fitting", "surveying", "solving", "show", "page", "editor",
    "desk", "cli",
)  # fmt: skip
_FACE = ("rulekit", "rulekit.__main__")  # they name what the package offers, and run it


def modules() -> dict[str, Path]:
    """Every module of the package by its name."""
    found: dict[str, Path] = {}
    for path in sorted(_CODE.rglob("*.py")):
        parts = ("rulekit", *path.relative_to(_CODE).with_suffix("").parts)
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


MODULES = modules()


def room(module: str) -> str:
    """The room of a module: ``rulekit.music.pitch`` is in ``music``."""
    return module.split(".")[1] if "." in module else ""


def nodes(node: ast.AST) -> Iterator[ast.AST]:
    """All of a piece of code but what stands there for type checkers alone."""
    for child in ast.iter_child_nodes(node):
        if not (isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test)):
            yield child
            yield from nodes(child)


def imported(code: str, module: str, is_package: bool = False) -> Iterator[tuple[str, bool]]:
    """The modules of this package that a module imports, at once or when asked to do something; whether by a name that
    is only worked out then: all that it may be.

    A name that the package itself offers counts as its home.
    """
    package = module if is_package else module.rpartition(".")[0]
    for node in nodes(ast.parse(code)):
        match node:
            case ast.Import(names=names):
                yield from ((name.name, False) for name in names if name.name.split(".")[0] == "rulekit")
            case ast.ImportFrom(module=source, names=names, level=level):
                above = ".".join(package.split(".")[: len(package.split(".")) - level + 1]) if level else ""
                base = ".".join(part for part in (above, source or "") if part)
                yield from ((home(base, name.name), False) for name in names if base.split(".")[0] == "rulekit")
            case ast.Call(func=ast.Name("import_module") | ast.Attribute(attr="import_module"), args=[name, *_]):
                yield from named(name, module)
            case _:
                pass


def home(base: str, name: str) -> str:
    """The module that a name is imported from."""
    if f"{base}.{name}" in MODULES:
        return f"{base}.{name}"
    return f"rulekit.{rulekit._HOMES[name]}" if base == "rulekit" and name in rulekit._HOMES else base


def named(name: ast.expr, module: str) -> list[tuple[str, bool]]:
    """The modules that a name given to ``import_module`` may be: all that begin with what is known of it."""
    if isinstance(name, ast.Constant):
        return [(str(name.value), False)] if str(name.value).split(".")[0] == "rulekit" else []
    start = ""
    for part in name.values if isinstance(name, ast.JoinedStr) else ():
        if isinstance(part, ast.Constant):
            start += str(part.value)
        elif ast.unparse(part) == "f'{__name__}'":
            start += module
        else:
            break
    return [(each, True) for each in MODULES if start.startswith("rulekit.") and each.startswith(start)]


def arrows() -> Iterator[tuple[str, str, bool]]:
    """Each import of one module of the package by another, and whether its name is worked out."""
    for module, path in MODULES.items():
        code = path.read_text(encoding="utf-8")
        yield from ((module, other, computed) for other, computed in imported(code, module, path.name == "__init__.py"))


def test_every_room_has_its_place() -> None:
    rooms = {path.name.removesuffix(".py") for path in _CODE.iterdir() if path.suffix == ".py" or path.is_dir()}
    assert rooms - {"__pycache__", "__init__", "__main__"} == set(_ORDER)


def test_no_arrow_runs_back_up() -> None:
    places = {room: place for place, room in enumerate(_ORDER)}
    back = [
        (module, other)
        for module, other, _ in arrows()
        if module not in _FACE and other != "rulekit" and room(module) != room(other)
        if places.get(room(other), len(_ORDER)) > places[room(module)]
    ]
    assert back == [("rulekit.cli", "rulekit.__main__")]  # which tells an interruption from the first moment on


def test_nothing_inside_reaches_for_the_face() -> None:
    assert [module for module, other, _ in arrows() if other == "rulekit" and module not in _FACE] == []


def test_no_room_goes_in_a_circle() -> None:
    """Neither when modules are loaded nor when they are asked to do something."""
    leads: dict[str, set[str]] = {module: set() for module in MODULES}
    for module, other, computed in arrows():
        if room(module) == room(other) != "" and other != module and not computed:
            leads[module].add(other)
    left = dict(leads)
    while ends := [module for module, others in left.items() if not others & left.keys()]:
        for module in ends:
            del left[module]
    assert left == {}


def test_every_way_to_import_is_seen() -> None:
    code = """
from rulekit import load_ruleset
from ..page import render
from . import pitch
import rulekit.desk.app as desk
def later():
    import_module("rulekit.show.grid")
    importlib.import_module(f"rulekit.cli.{name}")
if TYPE_CHECKING:
    from rulekit.cli import pool
"""
    found = list(imported(code, "rulekit.music.mode"))
    assert [module for module, computed in found if not computed] == [
        "rulekit.language.loading", "rulekit.page.render", "rulekit.music.pitch", "rulekit.desk.app",
        "rulekit.show.grid",
    ]  # fmt: skip
    cli = {module for module in MODULES if module.startswith("rulekit.cli.")}
    assert {module for module, computed in found if computed} == cli
