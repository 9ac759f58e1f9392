"""The words of the search commands on the command line; what they do is loaded only when one is run."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from rulekit.exercise.model import Compass

_COMMANDS = {
    "count": "how many lines the ruleset allows",
    "sample": "lines drawn fairly from all that are allowed",
    "complete": "the best lines; rests in a sketch are filled, its notes kept",
    "mend": "the allowed lines nearest to an exercise",
    "whynot": "why there is no line: rules and notes that exclude each other",
    "compare": "what two rulesets allow over the same cantus",
    "audit": "what each rule of a ruleset is worth",
    "cantus": "cantus firmi under a ruleset",
}


class Commands(Protocol):
    """What argparse's add_subparsers gives."""

    def add_parser(self, name: str, *, help: str, description: str) -> argparse.ArgumentParser:
        """A new command."""
        ...


def add_commands(commands: Commands, setting: Callable[[str], tuple[str, str]]) -> None:
    """Add the search commands to a command line; ``setting`` reads what follows ``--set``."""
    for name, text in _COMMANDS.items():
        parser = commands.add_parser(name, help=text, description=text)
        parser.set_defaults(run=_later(name), set=[])
        _add_subject(parser, name)
        _add_wishes(parser, name)
        if name != "compare":
            parser.add_argument("--set", type=setting, action="append", metavar="NAME=VALUE", help="set a parameter")
        parser.add_argument("--seconds", type=float, default=600, help="give up after so long (600)")
        parser.add_argument("--nodes", type=int, default=4_000_000, help="give up beyond so many nodes (4000000)")
        parser.add_argument("--json", action="store_true", help="a JSON document instead of text")


def _later(name: str) -> Callable[[argparse.Namespace], int]:
    def run(args: argparse.Namespace) -> int:
        from rulekit.solving import commands

        return commands.run(name, args)

    return run


def _add_subject(parser: argparse.ArgumentParser, name: str) -> None:
    """What the command is about: rulesets, scores, a mode."""
    rules = "a rules file, or the name of a shipped one"
    if name == "compare":
        parser.add_argument("first", help=rules)
        parser.add_argument("second", help=rules)
    elif name == "audit":
        parser.add_argument("ruleset", help=rules)
    else:
        usual = "cantus-firmus" if name == "cantus" else "first-species-strict"
        parser.add_argument("--rules", default=usual, metavar="RULESET", help=f"{rules} ({usual})")
    if name == "cantus":
        parser.add_argument("--mode", default="D", help="such as D or ‘G dorian’ (D)")
        parser.add_argument("--length", type=int, default=10, help="how many notes (10)")
        return
    parser.add_argument("score", nargs="+", type=Path, help="a cantus alone, or an exercise")
    parser.add_argument("--cantus", type=int, help="which voice is the cantus, 1 at the top")
    parser.add_argument("--below", action="store_true", help="the free voice lies under the cantus")
    parser.add_argument("--species", type=int, default=1, choices=(1, 2, 3), help="of the free voice (1)")
    parser.add_argument("--voices", type=int, default=1, choices=(1, 2), help="how many free voices (1)")


def _add_wishes(parser: argparse.ArgumentParser, name: str) -> None:
    """How much is wanted, where to, from which seed."""
    if name != "mend":
        parser.add_argument("--range", type=_compass, metavar="LOW-HIGH", help="of the free voice, such as C4-A5")
    if name in ("sample", "complete", "mend", "cantus"):
        usual = 3 if name == "mend" else 1
        parser.add_argument("-n", "--number", type=int, default=usual, help=f"how many lines ({usual})")
        parser.add_argument("-o", "--output", type=Path, help="write them there as .notes, .musicxml or .mid")
    if name == "audit":
        parser.add_argument("--pairs", action="store_true", help="also the pairs of rules that conflict (slower)")
    if name == "count":
        parser.add_argument("--warnings", action="store_true", help="also by the number of warnings (slower)")
    if name in ("sample", "compare", "cantus"):
        parser.add_argument("--seed", type=int, default=1, help="for the draw (1)")


def _compass(text: str) -> "Compass":
    from rulekit.solving.sketch import compass_of

    try:
        return compass_of(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from error
