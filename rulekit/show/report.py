"""An exercise with its marks, for a person: the score, the findings bar by bar, the licences used, the mark."""

from collections.abc import Iterator, Sequence

from rich.cells import cell_len, set_cell_size

from rulekit.language.ruleset import Ruleset
from rulekit.marking import Finding, Marked
from rulekit.show.grid import finding_style, grid
from rulekit.show.reasons import near_words
from rulekit.show.terminal import Screen
from rulekit.show.words import counted, place_words, severities_words, source_words, weight_words

_MOST_PRINTED = 2_000  # findings of one exercise


def marked_lines(screen: Screen, marked: Marked, ruleset: Ruleset, with_figures: bool = False) -> Iterator[str]:
    """A marked exercise for a screen; ``with_figures`` as in :func:`grid`."""
    exercise = marked.exercise
    yield _ruled(screen, exercise.title)
    facts = [
        *([str(exercise.origin)] if exercise.origin else []),
        str(exercise.mode),
        str(exercise.metre),
        counted(exercise.setting.bars, "bar"),
    ]
    yield screen.hanging(f"{', '.join(facts)}; by “{marked.ruleset}”", indent=0)
    for words in exercise.inferred:
        yield screen.hanging(f"Worked out: {words}", "dim", indent=0)
    for system in grid(marked.heard, marked.findings, screen.width, with_figures):
        yield ""
        yield from (screen.line(*line) for line in system)
    yield from _finding_lines(screen, marked.findings[:_MOST_PRINTED], ruleset)
    if len(marked.findings) > _MOST_PRINTED:
        left = counted(len(marked.findings) - _MOST_PRINTED, "finding")
        yield from ("", screen.hanging(f"{left} more; ‘--json’ tells them all.", indent=0))
    yield from ("", screen.hanging(_summary(marked), "bold", indent=0), "")


def _ruled(screen: Screen, title: str) -> str:
    """A title, and a line from there to the edge."""
    title, most = " ".join(title.split("\n")).expandtabs(), screen.width - 2
    title = title if cell_len(title) <= most else f"{set_cell_size(title, most - 1)}…"
    return screen.line((title, "bold"), (" ", ""), ("─" * (screen.width - cell_len(title) - 1), "dim"))


def _finding_lines(screen: Screen, findings: Sequence[Finding], ruleset: Ruleset) -> Iterator[str]:
    numbered = list(enumerate(findings, 1))
    for bar in dict.fromkeys(finding.bar for finding in findings if not finding.excuse):
        yield from ("", screen.line(("The whole exercise" if bar is None else f"Bar {bar}", "bold")))
        for number, finding in numbered:
            if finding.bar == bar and not finding.excuse:
                yield from _told(screen, number, finding, _details(finding, ruleset))
    if any(finding.excuse for finding in findings):
        yield from ("", screen.line(("Excused", "bold")))
    for number, finding in numbered:
        if finding.excuse:
            yield from _told(screen, number, finding, _excuse(finding))


def _told(screen: Screen, number: int, finding: Finding, details: str) -> Iterator[str]:
    style, label = finding_style(finding), f"{number:2}"
    yield screen.hanging(finding.message, style, (label, style))
    yield screen.hanging(details, "dim", (" " * len(label), ""))
    if finding.nearest is not None:
        yield screen.hanging(near_words(finding.nearest), "dim", (" " * len(label), ""))


def _details(finding: Finding, ruleset: Ruleset) -> str:
    """Everything about a finding but its message and bar."""
    parts = [*_place(finding), weight_words(ruleset.rule(finding.rule).weight), finding.rule]
    return "; ".join([*parts, *filter(None, [source_words(finding.source)])])


def _place(finding: Finding) -> Iterator[str]:
    if finding.extent is not None and finding.extent[0] != finding.extent[1]:
        yield "bars {} to {}".format(*finding.extent)
    if finding.beat is not None and finding.beat != 1:
        yield place_words(finding.bar, finding.beat).split(", ")[1]
    if finding.places:
        yield ", ".join(f"{place.voice} {place.note}" for place in finding.places)
    elif finding.voices:
        yield ", ".join(finding.voices)


def _excuse(finding: Finding) -> str:
    assert finding.excuse is not None
    name = f"{finding.excuse.name}: " if finding.excuse.name else ""
    return f"{place_words(finding.bar, finding.beat)}; {name}{finding.excuse.reason} ({finding.rule})"


def _summary(marked: Marked) -> str:
    """The mark and what it is made of."""
    open_ = [finding.severity for finding in marked.findings if not finding.excuse]
    parts = [severities_words(open_)] if open_ else []
    if len(open_) < len(marked.findings):
        parts.append(f"{len(marked.findings) - len(open_)} excused")
    lost = f"; {counted(marked.lost, 'point')} lost" if marked.lost else ""
    return f"Mark: {marked.mark} of 100 ({', '.join(parts) or 'nothing found'}{lost})"
