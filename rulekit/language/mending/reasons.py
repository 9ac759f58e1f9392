"""Why a line is offered, and what it leaves out."""

import re
from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher

from rulekit.language.intent import Proposal, is_named
from rulekit.language.mending.attempts import Found
from rulekit.language.slips import data

OPEN = "Say whether it must be (‘require’) or must not be (‘forbid’)."
_NOT_UNDERSTOOD = "not understood."
_LIMIT = re.compile(r"(?<![\w-])(?:max\w*|min\w*|at most|at least|more|less|fewer|once|up to)(?![\w-])", re.IGNORECASE)
_WORD = re.compile(r"[\w-]+|[^\w\s-]+|(?<!\w)-(?!\w)")
_ARTICLES = re.compile(r"(?<![\w-])(?:an?|the) ", re.IGNORECASE)
_FEW, _LONG = 2, 5  # changes in a line; words of one
_GLUE = ("is", "are", "of", "to", "from", "at", "in", ",", ":", "or", "and", "for every", "approach is", "interval is")
_CLAUSE = re.compile(r"^$|\b(?:require|forbid|when|at|for)\b(?! least| most)")
_COMPARES = re.compile(r"at most|at least|than|\bis \d")


def clause_reasons() -> dict[str, str]:
    """What is said of each word that begins a clause."""
    return data()["reasons"]


def why(proposal: Proposal) -> Iterator[str]:
    """What is told with a clause that was read from a sentence."""
    if proposal.unknown:
        yield not_understood(proposal.unknown)
    if "run where (approach is repetition)" in proposal.clause:
        yield "A note that sounds three times is repeated twice; what sounds is counted with ‘run with same (pitch)’."
    if proposal.open:
        yield OPEN
    yield from (reason for word, reason in clause_reasons().items() if proposal.clause.startswith(word))


def named(reasons: Sequence[str], line: str, offered: str) -> list[str]:
    """Reasons of which a general one is told by the words that were changed, where these are few."""
    general = {*clause_reasons().values()}
    is_scope = offered.lstrip().startswith("for ")
    changed = list(_changed(line, offered)) if general & {*reasons} and not is_scope else []
    return [*changed, *(each for each in reasons if each not in general)] if changed else list(reasons)


def _changed(line: str, offered: str) -> Iterator[str]:
    """What was put otherwise in a line, word for word; nothing if that is more than a few words of plain meaning."""
    before, after = (_WORD.findall(_ARTICLES.sub("", each)) for each in (line, offered))
    steps = [each for each in SequenceMatcher(None, before, after, autojunk=False).get_opcodes() if each[0] != "equal"]
    parts = dict.fromkeys((" ".join(before[a:b]), " ".join(after[c:d])) for _, a, b, c, d in steps)
    if len(parts) <= _FEW and all(_is_plain(*each) for each in parts):
        told = (f"‘{old}’ is said ‘{new}’." if old else f"‘{new}’ is missing." for old, new in parts)
        yield from (each.replace(" ,", ",") for each in told)


def _is_plain(old: str, new: str) -> bool:
    """Whether words that took the place of others say the same thing, or only hold a clause together."""
    if not old:
        return new in _GLUE
    return is_named(old) and new != "it" and new.count(" ") < _LONG and not _CLAUSE.search(new)


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
