"""``rulekit language-server``."""

import argparse
import os

from rulekit.cli.status import GOOD, UNUSABLE
from rulekit.cli.telling import lacking
from rulekit.show.terminal import complain


def arguments(parser: argparse.ArgumentParser) -> None:
    """Nothing: the editor that starts it says the rest."""
    parser.add_argument("--stdio", action="store_true", help="over standard input and output, as always")


def run(args: argparse.Namespace) -> int:
    """Answer an editor until it says good-bye."""
    try:
        from rulekit.editor.server import server
    except ModuleNotFoundError as error:
        complain([lacking(error.name, "editor")])
        return UNUSABLE
    with os.fdopen(os.dup(0), "rb") as asked, os.fdopen(os.dup(1), "wb") as answers:
        server.start_io(asked, answers)
    return GOOD
