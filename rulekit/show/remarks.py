"""What a marked exercise says in the student's own score: its findings as words, its intervals as figures."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import islice
from pathlib import Path

from rulekit.exercise.figures import figures
from rulekit.exercise.formats.annotate import SUFFIXES, BassFigures, Remark, annotated, with_remarks
from rulekit.exercise.model import Exercise, sheets
from rulekit.exercise.scores import written
from rulekit.marking import Finding, Marked

_NEW = ".musicxml"


def remarked(suffix: str, content: bytes, marked: Sequence[Marked]) -> Iterator[tuple[str, bytes]]:
    """A score with its findings: its own content if it is MusicXML, else each of its sheets as a new one.

    Of each file the suffix and the content.
    """
    if suffix.lower() in SUFFIXES:
        yield suffix, annotated(content, suffix.lower(), [remark for each in marked for remark in remarks_of(each)])
        return
    rest = iter(marked)
    for sheet in sheets([each.exercise for each in marked]):
        remarks = [remark for each in islice(rest, len(sheet)) for remark in remarks_of(each)]
        yield _NEW, with_remarks(written([sheet[0].sheet], Path(f"score{_NEW}")), remarks)


def remarks_of(marked: Marked) -> Iterator[Remark | BassFigures]:
    """The findings at their notes, numbered as in a report, and the figures over the lowest written voice.

    A finding on the whole stands at the beginning of its voice.
    """
    yield from _figures(marked.exercise)
    for number, finding in enumerate(marked.findings, 1):
        yield _remark(marked.exercise, number, finding)


def _remark(exercise: Exercise, number: int, finding: Finding) -> Remark:
    excuse = finding.excuse
    said = f"{number} {finding.message}" if excuse is None else f"({number}) {finding.message} Excused: {excuse.reason}"
    if finding.places and finding.bar is not None:
        place = finding.places[0]
        return Remark(place.bar, place.beat, place.voice, said)
    return Remark(exercise.first_bar, Fraction(1), next(iter(finding.voices), exercise.voices[0].name), said)


def _figures(exercise: Exercise) -> Iterator[BassFigures]:
    found = list(figures(exercise))
    ends = [each.time for each in found[1:]] + [exercise.setting.length]
    lowest = exercise.voices[-1].name
    for each, end in zip(found, ends, strict=True):
        bar, beat = exercise.bar_at(each.time), exercise.metre.beat_of(each.time)
        yield BassFigures(bar, beat, lowest, tuple(figure.words() for figure in each.figures), end - each.time)
