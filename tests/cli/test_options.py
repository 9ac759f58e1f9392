"""One option, one meaning: what a person learned at one command holds at the others."""

import re
from argparse import ArgumentParser
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

import pytest

import rulekit.cli
from tests.schemas import FOLDER

COMMANDS = {
    name: module
    for _, name, _ in iter_modules([str(Path(rulekit.cli.__file__).parent)])
    if hasattr(module := import_module(f"rulekit.cli.{name}"), "arguments")
}
_OPTION = re.compile(r"\[?(--?[a-z][\w-]*)(?: ([^\s\]]+))?")


def values(command: str) -> dict[str, str]:
    """The options of a command with the names of their values."""
    parser = ArgumentParser(prog="x")
    COMMANDS[command].arguments(parser)
    return dict(_OPTION.findall(parser.format_usage()))


def test_an_option_takes_the_same_everywhere() -> None:
    found: dict[str, set[str]] = {}
    for command in COMMANDS:
        for option, value in values(command).items():
            found.setdefault(option, set()).add(value)
    assert {option: each for option, each in found.items() if len(each) > 1} == {}


@pytest.mark.parametrize("command", [command for command in COMMANDS if "--json" in values(command)])
def test_every_command_with_json_has_a_schema(command: str) -> None:
    name = {"listing": "list", "trying": "try"}.get(command, command)
    assert (FOLDER / f"{name}.schema.json").exists()
