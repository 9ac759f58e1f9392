"""Where the shipped grammar and rulesets are: beside the package when installed, else in the source tree."""

from pathlib import Path

_PACKAGE = Path(__file__).parent


def shipped(folder: str) -> Path:
    """The folder ``grammar`` or ``rulesets`` as shipped."""
    inside = _PACKAGE / folder
    return inside if inside.is_dir() else _PACKAGE.parent / folder
