"""The command line.

Exit status: 0 all is well, 1 faults were found (or an example failed, or a file is not in its
layout), 2 something could not be read or run.
"""

import argparse
import contextlib
import os
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.solving.arguments import add_commands

if TYPE_CHECKING:
    from rich.console import Console

    from rulekit.compiler.monitor import Monitor
    from rulekit.language.ruleset import Ruleset
    from rulekit.marking import Marked

GOOD, FAULTS, UNUSABLE = 0, 1, 2
_RULESET = "a rules file, or the name of a shipped one"
_INTERRUPTED, _PIPE_CLOSED = 130, 141  # as a shell tells it: 128 and the signal


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and give its exit status."""
    arguments = _parser().parse_args(argv)
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    try:
        status: int = arguments.run(arguments)
        sys.stdout.flush()
        return status
    except RulekitError as error:
        _complain(error.diagnostics)
        return UNUSABLE
    except KeyboardInterrupt:
        return _INTERRUPTED
    except BrokenPipeError:
        with contextlib.suppress(OSError, AttributeError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _PIPE_CLOSED


# ---- commands ----------------------------------------------------------------------------------


def _mark(arguments: argparse.Namespace) -> int:
    from rulekit.exercise.scores import ReadOptions, load_scores
    from rulekit.marking import mark

    ruleset = _load(arguments.rules, arguments.set)
    options = ReadOptions(cantus=arguments.cantus, mode=arguments.mode, bars=arguments.bars)
    problems: list[Diagnostic] = []
    done: list[tuple[str, Marked]] = []
    for score in arguments.scores:
        exercises, wrong = load_scores(Path(score), options)
        problems += wrong
        for exercise in exercises:
            done.append((score, mark(exercise, ruleset)))
            if not arguments.json:
                _show_marked(done[-1][1], ruleset)
    if arguments.json:
        from rulekit.show.documents import mark_document

        _print_json(mark_document(done, ruleset, problems))
    if problems:
        sys.stdout.flush()
        _complain(problems)
        return UNUSABLE
    return FAULTS if any(marked.faults for _, marked in done) else GOOD


def _show_marked(marked: "Marked", ruleset: "Ruleset") -> None:
    from rulekit.show.report import print_marked

    print_marked(_console(), marked, ruleset)


def _try(arguments: argparse.Namespace) -> int:
    from rulekit.trying import try_ruleset

    ruleset = _load(arguments.ruleset, arguments.set)
    _complain(ruleset.warnings)
    trials = try_ruleset(ruleset)
    if arguments.json:
        from rulekit.show.documents import try_document

        _print_json(try_document(ruleset, trials))
    else:
        from rulekit.show.listing import print_trials

        print_trials(_console(), ruleset, trials)
    return GOOD if all(trial.passed for trial in trials) else FAULTS


def _list(arguments: argparse.Namespace) -> int:
    ruleset = _load(arguments.ruleset, arguments.set)
    _complain(ruleset.warnings)
    running = _monitors(ruleset, arguments.voices)
    if arguments.json:
        from rulekit.show.documents import list_document

        _print_json(list_document(ruleset, running, arguments.voices))
    else:
        from rulekit.show.listing import print_ruleset

        print_ruleset(_console(), ruleset, running, arguments.voices)
    return GOOD


def _monitors(ruleset: "Ruleset", voices: int) -> "list[Monitor]":
    """The monitors for a plain exercise: the cantus lowest, alla breve. Memory does not hang on its length."""
    from fractions import Fraction

    from rulekit.compiler.monitor import monitors
    from rulekit.exercise.model import ALLA_BREVE, Setting
    from rulekit.music.mode import mode_of

    length = 10 * ALLA_BREVE.bar_length
    return monitors(ruleset, Setting(mode_of("D dorian"), ALLA_BREVE, voices, voices - 1, Fraction(length)))


def _handout(arguments: argparse.Namespace) -> int:
    from rulekit.show.handout import handout

    sheet = handout(_load(arguments.ruleset, arguments.set))
    if arguments.output is None:
        sys.stdout.write(sheet)
    else:
        _write(Path(arguments.output), sheet)
    return GOOD


def _format(arguments: argparse.Namespace) -> int:
    from rulekit.language.format import format_text
    from rulekit.language.ruleset import read_ruleset

    problems: list[Diagnostic] = []
    changed: list[Path] = []
    for name in arguments.rulesets:
        try:
            path, text = read_ruleset(name)
            formatted = format_text(text, str(path))
            if formatted != text:
                changed.append(path)
                if not arguments.check:
                    _write(path, formatted)
        except RulekitError as error:
            problems += error.diagnostics
    for path in changed:
        print(f"{path}: {'is not in its layout' if arguments.check else 'laid out'}")
    _complain(problems)
    return UNUSABLE if problems else FAULTS if arguments.check and changed else GOOD


# ---- reading and writing -----------------------------------------------------------------------


def _load(name: str, settings: Sequence[tuple[str, str]]) -> "Ruleset":
    from rulekit.language.ruleset import load_ruleset

    return load_ruleset(name, dict(settings))


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise RulekitError([Diagnostic(str(path), 1, 1, 1, f"can’t be written: {error.strerror}")]) from error


def _print_json(document: object) -> None:
    import json

    print(json.dumps(document, ensure_ascii=False, indent=2))


def _complain(diagnostics: Sequence[Diagnostic]) -> None:
    from rulekit.show.words import clean

    for diagnostic in diagnostics:
        print(clean(str(diagnostic)), file=sys.stderr)


def _console() -> "Console":
    from rich.console import Console

    class Terminal(Console):
        """A console that leaves a closed pipe to us."""

        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    return Terminal(highlight=False, markup=False, emoji=False)


# ---- arguments ---------------------------------------------------------------------------------


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="rulekit", description="Write rules of counterpoint, and mark by them.")
    commands = parser.add_subparsers(required=True, metavar="command")

    command = commands.add_parser("mark", help="mark exercises by a ruleset")
    command.add_argument("scores", nargs="+", metavar="SCORE", help="exercises: .notes, MusicXML, kern, ABC or MIDI")
    command.add_argument("--rules", required=True, metavar="RULESET", help=_RULESET)
    command.add_argument("--cantus", type=_voice, metavar="VOICE", help="its number from the top, or its label")
    command.add_argument("--mode", help="the mode, such as ‘G dorian’")
    command.add_argument("--bars", type=_bars, metavar="FIRST-LAST", help="only these bars")
    _add_common(command, _mark, json=True)

    command = commands.add_parser("try", help="run a ruleset on its own examples")
    command.add_argument("ruleset", metavar="RULESET", help=_RULESET)
    _add_common(command, _try, json=True)

    command = commands.add_parser("list", help="the rules in force, with weight, memory and cost")
    command.add_argument("ruleset", metavar="RULESET", help=_RULESET)
    command.add_argument("--voices", type=_voice_count, default=2, help="for exercises in so many voices (2)")
    _add_common(command, _list, json=True)

    command = commands.add_parser("handout", help="the rule sheet for students, as Markdown")
    command.add_argument("ruleset", metavar="RULESET", help=_RULESET)
    command.add_argument("-o", "--output", metavar="FILE", help="where to write it, if not to the terminal")
    _add_common(command, _handout)

    command = commands.add_parser("format", help="put rules files in their layout, in place")
    command.add_argument("rulesets", nargs="+", metavar="RULESET", help=_RULESET)
    command.add_argument("--check", action="store_true", help="change nothing; status 1 if something would change")
    command.set_defaults(run=_format)

    add_commands(commands, _setting)
    return parser


def _add_common(command: argparse.ArgumentParser, run: object, json: bool = False) -> None:
    command.add_argument(
        "--set", type=_setting, action="append", default=[], metavar="NAME=VALUE", help="give a parameter another value"
    )
    if json:
        command.add_argument("--json", action="store_true", help="a JSON document instead of text")
    command.set_defaults(run=run)


def _setting(text: str) -> tuple[str, str]:
    name, sign, value = (part.strip() for part in text.partition("="))
    if not (name and sign and value) or "\n" in text:
        raise argparse.ArgumentTypeError(f"‘{text}’ is not like most-thirds=4")
    return name, value


def _voice(text: str) -> int | str:
    return int(text) if text.isdecimal() else text


def _voice_count(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 12:
        raise argparse.ArgumentTypeError(f"‘{text}’ is not a number of voices from 1 to 12")
    return int(text)


def _bars(text: str) -> tuple[int, int]:
    match = re.fullmatch(r"(\d+)(?:-(\d+))?", text)
    if match is None:
        raise argparse.ArgumentTypeError(f"‘{text}’ is not like 3-10 or 3")
    return int(match[1]), int(match[2] or match[1])
