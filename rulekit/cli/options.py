"""Options that several commands share; each means the same everywhere."""

import argparse
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rulekit.exercise.scores import ReadOptions
    from rulekit.language.ruleset import Ruleset

RULESET = "a rules file, or the name of a shipped one; A+B is B laid over A"


def ruleset(parser: argparse.ArgumentParser) -> None:
    """The ruleset that the command is about."""
    parser.add_argument("rules", nargs=1, metavar="RULESET", help=RULESET)
    settings(parser)


def rules(parser: argparse.ArgumentParser, usual: str | None = None) -> None:
    """``--rules``, the ruleset to go by; given again, another is laid over it."""
    said = f"{RULESET}; may be given again, each laid over those before{f' ({usual})' if usual else ''}"
    parser.add_argument("--rules", metavar="RULESET", action="append", required=usual is None, help=said)
    parser.set_defaults(usual_rules=usual)
    settings(parser)


def settings(parser: argparse.ArgumentParser) -> None:
    """``--set``, another value for a parameter of the ruleset."""
    parser.add_argument(
        "--set", type=_setting, action="append", default=[], metavar="NAME=VALUE", help="give a parameter another value"
    )


def scores(parser: argparse.ArgumentParser) -> argparse.Action:
    """The exercises to read, and what the teacher knows better than their files; gives the first of these."""
    said = "exercises, or folders of them: .notes, MusicXML, MEI, kern, ABC or MIDI"
    exercises = parser.add_argument("scores", nargs="+", type=Path, metavar="SCORE", help=said)
    said = "which voice is the cantus: its number from the top, or its label"
    parser.add_argument("--cantus", type=_voice, metavar="VOICE", help=said)
    mode(parser)
    parser.add_argument("--bars", type=_bars, metavar="FIRST-LAST", help="only these bars")
    said = "the voices are written from the lowest to the highest"
    parser.add_argument("--lowest-first", action="store_true", help=said)
    said = "each voice over or under the cantus is an exercise of its own with it"
    parser.add_argument("--shared-cantus", action="store_true", help=said)
    return exercises


def mode(parser: argparse.ArgumentParser, usual: str | None = None) -> None:
    """``--mode``, the mode of the exercises."""
    said = f"the mode, such as D or ‘G dorian’{f' ({usual})' if usual else ''}"
    parser.add_argument("--mode", default=usual, help=said)


def voices(parser: argparse.ArgumentParser, most: int) -> None:
    """``--voices``, how many voices there are, the cantus among them."""

    def number(text: str) -> int:
        if not text.isdecimal() or not 1 <= int(text) <= most:
            raise argparse.ArgumentTypeError(f"‘{text}’ is not a number of voices from 1 to {most}")
        return int(text)

    parser.add_argument("--voices", type=number, default=2, help="how many voices in all, with the cantus (2)")


def json(parser: argparse.ArgumentParser) -> None:
    """``--json``, a document for programs."""
    parser.add_argument("--json", action="store_true", help="a JSON document instead of text")


def output(parser: argparse.ArgumentParser, said: str) -> None:
    """``--output``, a file to write."""
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help=said)


# ---- what they say -----------------------------------------------------------------------------


def load(args: argparse.Namespace) -> "Ruleset":
    """The ruleset that was named, with the settings typed."""
    from rulekit.language.keeping import kept_ruleset

    return kept_ruleset(laid(*(args.rules or [args.usual_rules])), dict(args.set))


def laid(*names: str) -> list[str]:
    """The names in ``A+B``, each to be laid over those before; a file may have a + in its name."""
    return [part for name in names for part in ([name] if Path(name).exists() else name.split("+"))]


def reading(args: argparse.Namespace) -> "ReadOptions":
    """How the scores are to be read."""
    from rulekit.exercise.scores import ReadOptions

    return ReadOptions(
        cantus=args.cantus, mode=args.mode, bars=args.bars,
        lowest_first=args.lowest_first, shared_cantus=args.shared_cantus,
    )  # fmt: skip


def files(paths: list[Path]) -> Iterator[Path]:
    """The scores: files as they are given, and those of a folder, whatever is below it, in the order of their names."""
    from rulekit.exercise.scores import SUFFIXES

    for path in paths:
        if path.is_dir():
            found = sorted(each for each in path.rglob("*") if each.is_file() and each.suffix.lower() in SUFFIXES)
            yield from found or [path]  # whoever reads it tells that it is none
        else:
            yield path


def _setting(text: str) -> tuple[str, str]:
    name, sign, value = (part.strip() for part in text.partition("="))
    if not (name and sign and value) or "\n" in text:
        raise argparse.ArgumentTypeError(f"‘{text}’ is not like most-thirds=4")
    return name, value


def _voice(text: str) -> int | str:
    return int(text) if text.isdecimal() else text


def _bars(text: str) -> tuple[int, int]:
    match = re.fullmatch(r"(\d+)(?:-(\d+))?", text)
    if match is None:
        raise argparse.ArgumentTypeError(f"‘{text}’ is not like 3-10 or 3")
    return int(match[1]), int(match[2] or match[1])
