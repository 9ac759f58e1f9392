"""What programs get of a class given back and of a sheet: what was written where, for whom, and the marks."""

from collections.abc import Sequence
from pathlib import Path

from rulekit.language.ruleset import Ruleset
from rulekit.page.data import PageOptions
from rulekit.page.index import ClassIndex, Entry
from rulekit.sentences import GROUPS, group_of, sentence
from rulekit.show.documents import Document, head, told
from rulekit.solving.tasks import Side, Task
from rulekit.words import words


def page_document(folder: Path, index: ClassIndex, made: set[str], pdf: bool, gradebook: Path | None) -> Document:
    """A class that was given back; ``made`` are the pages that are new or were made again."""
    return {
        **head("page"),
        "ruleset": index.ruleset,
        "language": index.options.language,
        "index": str(folder / "index.html"),
        "gradebook": None if gradebook is None else str(gradebook),
        "exercises": [_entry(folder, entry, made, pdf) for entry in index.entries],
        "problems": [told(problem) for problem in index.problems],
    }


def _entry(folder: Path, entry: Entry, made: set[str], pdf: bool) -> Document:
    page = folder / entry.page
    printed = page.with_suffix(".pdf")
    return {
        "title": entry.title,
        "origin": entry.origin,
        "page": str(page),
        "pdf": str(printed) if pdf and printed.is_file() else None,
        "made": entry.page in made,
        "mark": entry.mark,
        "lost": entry.lost,
        "faults": entry.faults,
        "warnings": entry.warnings,
        "advice": entry.advice,
        "before": entry.before,
        "came": [{"bar": bar, "message": message} for bar, message in entry.came],
        "went": [{"bar": bar, "message": message} for bar, message in entry.went],
    }


def handout_document(
    ruleset: Ruleset, options: PageOptions, tasks: Sequence[Task], sheet: Path | str, answers: Path | None
) -> Document:
    """A sheet for students: its file or its text, its rules in sentences, and how much its tasks allow."""
    said = words(options.language)
    found = [(rule, sentence(rule, said)) for rule in ruleset.rules]
    return {
        **head("handout"),
        "ruleset": ruleset.title,
        "language": options.language,
        "sheet": str(sheet) if isinstance(sheet, Path) else None,
        "text": sheet if isinstance(sheet, str) else None,
        "answers": None if answers is None else str(answers),
        "rules": [
            {
                "rule": rule.name,
                "group": said.say(GROUPS[group_of(rule)]),
                "severity": rule.weight.severity,
                "sentence": each and each.text,
                "language": each and each.language,
            }
            for rule, each in found
        ],
        "tasks": [
            {"cantus": task.cantus.title, "above": _count(task.above), "below": _count(task.below)} for task in tasks
        ],
    }


def _count(side: Side | None) -> str | None:
    return None if side is None or side.count is None else str(side.count)
