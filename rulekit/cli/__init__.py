"""The command line: one module a command, loaded when it is called for.

Exit status: 0 all is well, 1 faults were found (or an example failed, or a file is not in its
layout, or there is no line), 2 something could not be read, run or printed, 3 the program itself
made a mistake, 130 interrupted, 141 nobody reads on.
"""

import argparse
import contextlib
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Any, NamedTuple, NoReturn, Protocol, TextIO, cast

from rulekit.__main__ import was_interrupted
from rulekit.cli.status import FAULTS, GOOD, INTERRUPTED, MISTAKEN, PIPE_CLOSED, UNUSABLE, mistake_words
from rulekit.diagnostics import RulekitError, did_you_mean

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

__all__ = ["FAULTS", "GOOD", "INTERRUPTED", "MISTAKEN", "PIPE_CLOSED", "UNUSABLE", "main"]


class _Entry(NamedTuple):
    """Where a command is, and what it is for."""

    module: str
    help: str


_COMMANDS = {
    "mark": _Entry("mark", "mark exercises by a ruleset"),
    "explain": _Entry("explain", "why a rule is or is not broken in an exercise"),
    "page": _Entry("page", "give exercises back as pages with staves, and an index of the class"),
    "try": _Entry("trying", "run a ruleset on its own examples"),
    "list": _Entry("listing", "the rules in force, with weight, memory and cost"),
    "handout": _Entry("handout", "the lesson sheet for students, with worksheets"),
    "format": _Entry("format", "put rules files in their layout, in place"),
    "count": _Entry("count", "how many lines the ruleset allows"),
    "sample": _Entry("sample", "lines drawn fairly from all that are allowed"),
    "complete": _Entry("complete", "the best lines; each ? of a sketch is filled, its notes kept"),
    "mend": _Entry("mend", "the allowed lines nearest to an exercise"),
    "whynot": _Entry("whynot", "why there is no line: rules and notes that exclude each other"),
    "compare": _Entry("compare", "what two rulesets allow over the same cantus"),
    "audit": _Entry("audit", "what each rule of a ruleset is worth"),
    "fit": _Entry("fit", "which values of its parameters a treatise’s examples support"),
    "survey": _Entry("survey", "which rules a repertoire breaks, how often and where"),
    "cantus": _Entry("cantus", "cantus firmi under a ruleset"),
    "desk": _Entry("desk", "write rules in a browser, beside the examples and exercises that they judge"),
    "language-server": _Entry("serving", "what an editor needs to show rules as they are written"),
}


class Command(Protocol):
    """What the module of a command has."""

    def arguments(self, parser: argparse.ArgumentParser) -> None:
        """Say what may be typed after the command."""
        ...

    def run(self, args: argparse.Namespace) -> int:
        """Run it and give the exit status."""
        ...


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and give its exit status; every way to end is told here."""
    words = sys.argv[1:] if argv is None else argv
    if sys.stdout is None or sys.stderr is None:  # pyright: ignore[reportUnnecessaryComparison]
        return _unprintable("there is nowhere to print to")
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    try:
        try:
            return _run(words)
        finally:
            sys.stdout.flush()
    except KeyboardInterrupt:
        _complain("interrupted")
        return INTERRUPTED
    except BrokenPipeError:
        _abandon(sys.stdout)
        return PIPE_CLOSED
    except OSError as error:
        _abandon(sys.stdout)
        return _unprintable(f"{error.filename or 'can’t print'}: {error.strerror or error}")


def _run(words: Sequence[str]) -> int:
    """Run a command; what it can't do is told as text, or as a document where that was asked for."""
    args = argparse.Namespace()
    from rulekit.cli.telling import tell

    try:
        args = _parse(words)
        return args.run(args)
    except RulekitError as error:
        tell(args, error.diagnostics)
        return UNUSABLE
    except OSError:
        raise
    except Exception as error:
        if was_interrupted(error):
            raise KeyboardInterrupt from error
        tell(args, [mistake_words(error)])
        return MISTAKEN


def _unprintable(words: str) -> int:
    """What can't be printed is told where errors go."""
    _complain(words)
    return UNUSABLE


def _complain(words: str) -> None:
    """Say it where errors go, if that is possible."""
    try:
        print(f"rulekit: {words}", file=sys.stderr, flush=True)
    except (OSError, AttributeError, ValueError):
        _abandon(sys.stderr)


def _abandon(stream: TextIO) -> None:
    """Let what is still to be written to a stream go nowhere, so that the interpreter does not complain at its end."""
    with contextlib.suppress(OSError, AttributeError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


class _Parser(argparse.ArgumentParser):
    """A parser that says in a line what can't be read, with the nearest word, and where its words can't go."""

    def __init__(self, **given: Any) -> None:
        super().__init__(allow_abbrev=False, **given)

    def _print_message(self, message: str, file: "SupportsWrite[str] | None" = None) -> None:
        """Print help or usage; what can't be printed is told as everywhere."""
        if message:
            (file or sys.stderr).write(message)

    def error(self, message: str) -> NoReturn:
        """End with what can't be read, and where to see what can."""
        self.exit(UNUSABLE, f"{self.prog}: {message}\n    ‘{self.prog} --help’ shows what may be typed.\n")

    def check_options(self, words: Sequence[str]) -> None:
        """End at an option that there is none of: what it leaves missing would be told in its place."""
        known = [*self._option_string_actions]
        for word in words:
            name = word.partition("=")[0]
            if name.startswith("--") and name not in known:
                self.error(f"there is no option ‘{name}’. {did_you_mean(name, known)}".rstrip())


def _parse(words: Sequence[str]) -> argparse.Namespace:
    """Read a command line, help if it is empty; only the module of the command typed is loaded."""
    parser = _Parser(prog="rulekit", description="Write rules of counterpoint, and mark by them.")
    commands = parser.add_subparsers(required=True, metavar="command")
    typed, *others = words or ["--help"]
    for name in [typed] if typed in _COMMANDS else _COMMANDS:
        entry = _COMMANDS[name]
        chosen = commands.add_parser(name, help=entry.help, description=entry.help)
        if name == typed:
            command = cast(Command, import_module(f"rulekit.cli.{entry.module}"))
            command.arguments(chosen)
            chosen.set_defaults(run=command.run, command=name)
            chosen.check_options(others)
    if typed not in _COMMANDS and not typed.startswith("-"):
        parser.error(f"there is no command ‘{typed}’. {did_you_mean(typed, _COMMANDS)}".rstrip())
    return parser.parse_args([typed, *others])
