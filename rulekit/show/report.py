"""An exercise with its marks, for a person: the score, the findings bar by bar, the licences used, the mark."""

from collections.abc import Iterator, Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from rulekit.language.ruleset import Ruleset
from rulekit.marking import Finding, Marked
from rulekit.show.grid import finding_style, grid
from rulekit.show.words import clean, counted, place_words, weight_words

_INDENT = (0, 0, 0, 2)


def print_marked(console: Console, marked: Marked, ruleset: Ruleset) -> None:
    """Print a marked exercise."""
    exercise = marked.exercise
    console.rule(Text(clean(exercise.title), style="bold"), align="left", style="dim")
    metre = exercise.metre
    bars = counted(exercise.setting.bars, "bar")
    console.print(Text(f"{exercise.mode}, {metre.beats}/{4 / metre.unit}, {bars}; by “{clean(marked.ruleset)}”"))
    for words in exercise.inferred:
        console.print(Text(f"Not stated; {clean(words)}", style="dim"))
    for system in grid(exercise, marked.findings, console.width):
        console.print()
        for line in system:
            console.print(line, soft_wrap=True)
    _print_findings(console, marked.findings, ruleset)
    console.print()
    console.print(Text(_summary(marked), style="bold"))
    console.print()


def _print_findings(console: Console, findings: Sequence[Finding], ruleset: Ruleset) -> None:
    numbered = list(enumerate(findings, 1))
    for bar in dict.fromkeys(finding.bar for finding in findings if not finding.excuse):
        here = [(n, finding) for n, finding in numbered if finding.bar == bar and not finding.excuse]
        console.print()
        console.print(Text("On the whole" if bar is None else f"Bar {bar}", style="bold"))
        console.print(Padding(_table([(n, f, _details(f, ruleset)) for n, f in here]), _INDENT))
    excused = [(n, finding) for n, finding in numbered if finding.excuse]
    if excused:
        console.print()
        console.print(Text("Excused", style="bold"))
        console.print(Padding(_table([(n, f, _excuse(f)) for n, f in excused]), _INDENT))


def _table(entries: Sequence[tuple[int, Finding, str]]) -> Table:
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(justify="right", no_wrap=True)
    table.add_column()
    for number, finding, details in entries:
        style = finding_style(finding)
        table.add_row(Text(str(number), style=style), Text(clean(finding.message), style=style))
        table.add_row("", Text(clean(details), style="dim"))
    return table


def _details(finding: Finding, ruleset: Ruleset) -> str:
    """Everything about a finding but its message and bar."""
    return "; ".join([*_place(finding), weight_words(ruleset.rule(finding.rule).weight), finding.rule, finding.source])


def _place(finding: Finding) -> Iterator[str]:
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
    parts = [counted(open_.count(kind), kind) for kind in ("fault", "warning") if kind in open_]
    if "advice" in open_:
        parts.append(f"{open_.count('advice')} of advice")
    if len(open_) < len(marked.findings):
        parts.append(f"{len(marked.findings) - len(open_)} excused")
    lost = f"; {counted(marked.lost, 'point')} lost" if marked.lost else ""
    return f"Mark: {marked.mark} of 100 ({', '.join(parts) or 'nothing found'}{lost})"
