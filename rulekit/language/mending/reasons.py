"""Why a line is offered, and what it leaves out."""

import re
from collections.abc import Iterator, Sequence

from rulekit.language.intent import Proposal
from rulekit.language.mending.attempts import Found
from rulekit.language.slips import data

OPEN = "Say whether it must be (‘require’) or must not be (‘forbid’)."
_NOT_UNDERSTOOD = "not understood."
_LIMIT = re.compile(r"(?<![\w-])(?:max\w*|min\w*|at most|at least|more|less|fewer|once|up to)(?![\w-])", re.IGNORECASE)
_COMPARES = re.compile(r"at most|at least|than|\bis \d")


def clause_reasons() -> dict[str, str]:
    """What is said of each word that begins a clause."""
    return data()["reasons"]


def why(proposal: Proposal) -> Iterator[str]:
    """What is told with a clause that was read from a sentence."""
    if proposal.unknown:
        yield not_understood(proposal.unknown)
    if "run where (approach is repetition)" in proposal.clause:
        yield "A note that sounds three times is repeated twice."
    if proposal.open:
        yield OPEN
    yield from (reason for word, reason in clause_reasons().items() if proposal.clause.startswith(word))


def asked_with(scope: str, written: str) -> str:
    """What is told with a clause that can stand only in a rule on other things."""
    return f"That is asked with ‘{scope}’ in place of ‘{written.strip()}’."


def not_understood(words: Sequence[str]) -> str:
    return f"‘{'’, ‘'.join(words)}’ {'is' if len(words) == 1 else 'are'} {_NOT_UNDERSTOOD}"


def leaves_out(found: Found) -> bool:
    """Whether words were not understood."""
    return any(reason.endswith(_NOT_UNDERSTOOD) for reason in found[1])


def forgets_limit(line: str, offered: str) -> bool:
    """Whether a line says how many, and what is offered for it does not."""
    return bool(_LIMIT.search(line)) and not _COMPARES.search(offered)


def forgets_voices(line: str, offered: str) -> bool:
    """Whether a line speaks of voices or bars, and what is offered for it does not."""
    return any(word in line and word[:-1] not in offered for word in ("voices", "bars", "measures"))
