"""One option, one meaning: what a person learned at one command holds at the others."""

import re
from argparse import ArgumentParser
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

import pytest

import rulekit.cli
from rulekit.cli import UNUSABLE, main
from tests.schemas import FOLDER

COMMANDS = {
    name: module
    for _, name, _ in iter_modules([str(Path(rulekit.cli.__file__).parent)])
    if hasattr(module := import_module(f"rulekit.cli.{name}"), "arguments")
}
_USUAL = re.compile(r" \([^)]*\)$")
# Each says what it is of by the command; what it means is the same: what is made goes there, or is drawn over.
_OF_THE_COMMAND = {"--output", "--to", "--rules", "-n", "--number", "-o"}


def meanings(command: str) -> dict[str, tuple[object, ...]]:
    """Each option of a command, by all its names, with what it takes and what it says of itself but for its default."""
    parser = ArgumentParser(prog="x")
    COMMANDS[command].arguments(parser)
    return {
        option: (each.metavar or each.dest, each.nargs, each.choices, None if option in _OF_THE_COMMAND
                 else _USUAL.sub("", each.help or ""))
        for each in parser._actions for option in each.option_strings
    }  # fmt: skip


def test_an_option_means_the_same_everywhere() -> None:
    found: dict[str, set[tuple[object, ...]]] = {}
    for command in COMMANDS:
        for option, meaning in meanings(command).items():
            found.setdefault(option, set()).add(meaning)
    assert {option: each for option, each in found.items() if len(each) > 1} == {}


def test_an_option_is_written_out(capsys: pytest.CaptureFixture[str]) -> None:
    """The beginning of a name might be that of another option at another command."""
    with pytest.raises(SystemExit) as end:
        main(["mark", "a.notes", "--rule", "first-species-strict"])
    assert end.value.code == UNUSABLE
    assert "there is no option ‘--rule’. Did you mean ‘--rules’?" in capsys.readouterr().err


@pytest.mark.parametrize("command", sorted(COMMANDS.keys() - {"desk", "serving"}))  # these answer a browser, an editor
def test_every_command_has_a_document_and_a_schema(command: str) -> None:
    name = {"listing": "list", "trying": "try"}.get(command, command)
    assert "--json" in meanings(command)
    assert (FOLDER / f"{name}.schema.json").exists()
