"""The marks of a class as CSV, for a spreadsheet."""

import csv
from collections.abc import Iterable
from io import StringIO

from rulekit.page.index import Entry

_HEAD = ("file", "exercise", "mark", "points lost", "faults", "warnings", "advice")
_BEGINS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def gradebook(entries: Iterable[Entry]) -> str:
    """One row an exercise under a row of headings; counts are of what nothing excuses.

    A text that a spreadsheet would take for a formula has an apostrophe before it.
    """
    file = StringIO()
    writer = csv.writer(file)
    writer.writerow(_HEAD)
    for entry in entries:
        texts = map(plain, (entry.origin, entry.title))
        writer.writerow([*texts, entry.mark, entry.lost, entry.faults, entry.warnings, entry.advice])
    return file.getvalue()


def plain(text: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.lstrip(" ").startswith(_BEGINS_FORMULA) else text
