"""What can't be done, told as text beside the output, or as a document where documents were asked for."""

import argparse
from collections.abc import Sequence

from rulekit.diagnostics import Diagnostic


def lacking(package: str | None, extra: str) -> str:
    """What to do where a package is missing that only an extra of this one installs."""
    return f"the package ‘{package}’ is not installed: pip install '.[{extra}]'"


def tell(args: argparse.Namespace, problems: Sequence[Diagnostic | str]) -> None:
    """Say why a command ends without a result."""
    from rulekit.show.terminal import complain, print_json

    if getattr(args, "json", False):
        from rulekit.show.documents import failure_document

        print_json(failure_document(args.command, problems))
    complain(problems)
