"""An exercise with its marks, for a person: the score, the findings bar by bar, the licences used, the mark."""

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.text import Text

from rulekit.language.ruleset import Ruleset
from rulekit.marking import Finding, Marked
from rulekit.show.grid import finding_style, grid
from rulekit.show.reasons import near_words
from rulekit.show.words import counted, place_words, severities_words, source_words, weight_words

_MOST_PRINTED = 2_000  # findings of one exercise


def print_hanging(console: Console, text: Text, label: str = "", label_style: str = "", indent: int = 2) -> None:
    """Print a text broken to the width, indented, with a label (if any) before its first line."""
    label = f"{label}  " if label else ""
    margin = " " * (indent + len(label))
    for number, line in enumerate(text.wrap(console, max(20, console.width - len(margin)))):
        line.rstrip()
        first = Text.assemble(" " * indent, (label, label_style))
        console.print((Text(margin) if number else first) + line, soft_wrap=True)


def print_marked(console: Console, marked: Marked, ruleset: Ruleset, with_figures: bool = False) -> None:
    """Print a marked exercise; ``with_figures`` as in :func:`grid`."""
    exercise = marked.exercise
    console.rule(Text(exercise.title, style="bold"), align="left", style="dim")
    facts = [
        *([str(exercise.origin)] if exercise.origin else []),
        str(exercise.mode),
        str(exercise.metre),
        counted(exercise.setting.bars, "bar"),
    ]
    print_hanging(console, Text(f"{', '.join(facts)}; by “{marked.ruleset}”"), indent=0)
    for words in exercise.inferred:
        print_hanging(console, Text(f"Worked out: {words}", style="dim"), indent=0)
    for system in grid(exercise, marked.findings, console.width, with_figures):
        console.print()
        for line in system:
            console.print(line, soft_wrap=True)
    _print_findings(console, marked.findings[:_MOST_PRINTED], ruleset)
    if len(marked.findings) > _MOST_PRINTED:
        console.print()
        left = counted(len(marked.findings) - _MOST_PRINTED, "finding")
        print_hanging(console, Text(f"{left} more; ‘--json’ tells them all."), indent=0)
    console.print()
    console.print(Text(_summary(marked), style="bold"))
    console.print()


def _print_findings(console: Console, findings: Sequence[Finding], ruleset: Ruleset) -> None:
    numbered = list(enumerate(findings, 1))
    for bar in dict.fromkeys(finding.bar for finding in findings if not finding.excuse):
        _print_heading(console, "The whole exercise" if bar is None else f"Bar {bar}")
        for number, finding in numbered:
            if finding.bar == bar and not finding.excuse:
                _print_finding(console, number, finding, _details(finding, ruleset))
    if any(finding.excuse for finding in findings):
        _print_heading(console, "Excused")
    for number, finding in numbered:
        if finding.excuse:
            _print_finding(console, number, finding, _excuse(finding))


def _print_heading(console: Console, words: str) -> None:
    console.print()
    console.print(Text(words, style="bold"))


def _print_finding(console: Console, number: int, finding: Finding, details: str) -> None:
    style, label = finding_style(finding), f"{number:2}"
    print_hanging(console, Text(finding.message, style=style), label, style)
    print_hanging(console, Text(details, style="dim"), " " * len(label))
    if finding.nearest is not None:
        print_hanging(console, Text(near_words(finding.nearest), style="dim"), " " * len(label))


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
