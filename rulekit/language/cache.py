"""What is costly to make, kept from one run to the next in the user's cache folder.

It is kept as JSON, from which no code can run.
Whatever is wrong with what was kept, or with the folder, it is as if nothing had been kept.
"""

import json
import os
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

from rulekit.diagnostics import RulekitError
from rulekit.files import write_whole

_MOST_BYTES = 5_000_000
_MOST_FILES = 100  # of one kind


def recalled(kind: str, *about: str) -> Any:
    """What was kept under a kind of just these things; None if nothing is, or if somebody else may have written it."""
    with suppress(Exception), _path(kind, about).open("rb") as file:  # anything may stand there
        found = os.fstat(file.fileno())
        if found.st_size <= _MOST_BYTES and _is_own(found):
            return json.loads(file.read())
    return None


def keep(document: Any, kind: str, *about: str) -> None:
    """Keep a document under a kind of just these things, if that is possible; of many the oldest are forgotten."""
    with suppress(OSError, RulekitError, RuntimeError, ValueError):
        path = _path(kind, about)
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, json.dumps(document, separators=(",", ":")))
        path.chmod(0o600)
        kept = sorted(path.parent.glob(f"{kind}-*.json"), key=lambda each: each.stat().st_mtime)
        for old in kept[:-_MOST_FILES]:
            old.unlink()


def _path(kind: str, about: tuple[str, ...]) -> Path:
    """Where something is kept: what is about other things has another file."""
    return folder() / f"{kind}-{sha256(repr(about).encode()).hexdigest()[:20]}.json"


def folder() -> Path:
    """The user's cache folder; raises RuntimeError if nobody's home is known."""
    from platformdirs import user_cache_path

    return user_cache_path("rulekit")


def _is_own(found: os.stat_result) -> bool:
    """Whether a file is the user's own, and nobody else can write into it."""
    return os.name != "posix" or (found.st_uid == os.geteuid() and not found.st_mode & 0o022)
