"""The index of a class: who, which exercise, mark and faults, with links, and what the class breaks most."""

from collections import Counter
from dataclasses import dataclass, field, replace

from rulekit.diagnostics import Diagnostic
from rulekit.marking import Marked
from rulekit.page.data import PageOptions
from rulekit.page.plots import Bin, counts
from rulekit.page.render import asset, fill
from rulekit.sentences import name
from rulekit.severity import Severity
from rulekit.words import words

_MOST_RULES = 12

Said = tuple[int | None, str]  # a finding's bar and message


@dataclass(frozen=True, slots=True)
class Entry:
    """One exercise of a class: its title, the file of its page, the file it came from, its mark and counts.

    ``lost`` is the points that it lost, which may be more than a mark has.

    ``rules`` has the name of a rule for each unexcused finding of it, ``bars`` the bar of each that has one;
    ``said`` are its unexcused findings, each with its bar; ``before`` is its mark at the last return, None if it is
    new, ``came`` and ``went`` are the findings that it has or had and did not have or has not then and now.
    """

    title: str
    page: str
    origin: str
    mark: int
    lost: int
    faults: int
    warnings: int
    advice: int
    rules: tuple[str, ...] = ()
    bars: tuple[int, ...] = ()
    said: tuple[Said, ...] = ()
    before: int | None = None
    came: tuple[Said, ...] = ()
    went: tuple[Said, ...] = ()

    def since(self, before: int, said: tuple[Said, ...]) -> "Entry":
        """The same with the mark and the findings of the last return."""
        came, went = Counter(self.said) - Counter(said), Counter(said) - Counter(self.said)
        return replace(self, before=before, came=tuple(came.elements()), went=tuple(went.elements()))


@dataclass(frozen=True, slots=True)
class ClassIndex:
    """What stands on the index of a class."""

    options: PageOptions
    ruleset: str
    entries: tuple[Entry, ...]
    problems: tuple[Diagnostic, ...] = field(default=())

    @property
    def rules(self) -> tuple[Bin, ...]:
        """The rules broken most, each counted once an exercise."""
        count = Counter(rule for entry in self.entries for rule in dict.fromkeys(entry.rules))
        most = sorted(count.items(), key=lambda each: (-each[1], each[0]))[:_MOST_RULES]
        return counts((self._name(rule), number) for rule, number in most)

    def _name(self, rule: str) -> str:
        """A rule as it is called on pages."""
        said = words(self.options.language)
        return rule if self.options.identifiers else said.authored(name(rule)).text

    @property
    def bars(self) -> tuple[Bin, ...]:
        """How many findings stand in each bar, over all exercises."""
        count = Counter(bar for entry in self.entries for bar in entry.bars)
        numbers = range(min(count, default=1), max(count, default=0) + 1)
        return counts((str(number), count[number]) for number in numbers)

    @property
    def mean(self) -> str:
        """The mean mark."""
        marks = [entry.mark for entry in self.entries]
        return f"{sum(marks) / len(marks):.0f}" if marks else "–"

    @property
    def returned_before(self) -> bool:
        """Whether any exercise has a mark from the last return."""
        return any(entry.before is not None for entry in self.entries)


def entry_of(marked: Marked, page: str, origin: str) -> Entry:
    """The entry of a marked exercise."""
    open_ = [finding for finding in marked.findings if finding.excuse is None]
    return Entry(
        title=marked.exercise.title,
        page=page,
        origin=origin,
        mark=marked.mark,
        lost=marked.lost,
        faults=len(marked.faults),
        warnings=sum(finding.severity == Severity.WARNING for finding in open_),
        advice=sum(finding.severity == Severity.ADVICE for finding in open_),
        rules=tuple(finding.rule for finding in open_ if finding.severity != Severity.ADVICE),
        bars=tuple(finding.bar for finding in open_ if finding.bar is not None and finding.severity != Severity.ADVICE),
        said=tuple((finding.bar, finding.message) for finding in open_),
    )


def index_of(index: ClassIndex) -> str:
    """The index as a whole HTML file."""
    styles = [asset("page.css"), asset("index.css"), index.options.style]
    said = words(index.options.language)
    title = said.titled(index.ruleset)
    return fill(
        "index.html", said.language, styles, [], index=index, options=index.options, bar=said.bar, ruleset=title
    )
