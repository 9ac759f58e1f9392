"""What the commands that search have in common: their subject, their limits, and how an end is told."""

import argparse
import math
import re
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any

from rulekit.cli import options
from rulekit.cli.status import FAULTS, GOOD, UNUSABLE
from rulekit.cli.telling import tell
from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import write_exercise
from rulekit.exercise.scores import check_written, load_scores, save_scores
from rulekit.files import write_whole
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.mode import Mode, mode_of
from rulekit.page.plots import Bin, Plot
from rulekit.show.documents import identity
from rulekit.show.searched import NO_LINE, rhythm_line, room_words, searched_words
from rulekit.show.terminal import complain, print_json, say
from rulekit.solving.graph import Exhausted, Graph, Limits, Meter, Weigh, build, faults, why
from rulekit.solving.problem import Problem
from rulekit.solving.rhythms import stock
from rulekit.solving.sketch import Wish, compass_of, searches

if TYPE_CHECKING:
    from rulekit.exercise.model import Compass
    from rulekit.page.found import Section

STRICT = "first-species-strict"
_SCHEMA = {"version": 2}
_TITLES = {
    "audit": "What each rule is worth", "cantus": "Cantus firmi", "compare": "Where two rulesets differ",
    "complete": "The best lines", "count": "How many lines there are", "mend": "The nearest lines without a fault",
    "sample": "Lines drawn from all that are allowed",
}  # fmt: skip
_MOST_RHYTHMS = 64
_TRIED_RHYTHMS = 40  # after the best, where that allows no line
_DRAWN = 6  # rhythms, at most, in which lines are drawn
_SILENT, _AGAIN = 1.0, 0.1  # seconds before a search tells how far it has come, and between two times
_KEPT = 8  # nodes that take as much memory as an exercise


class Failed(Exception):
    """A search that can't be run, in words."""


@dataclass(frozen=True, slots=True)
class Spent:
    """Seconds, memory in MB at the peak (None where the system does not say), and nodes of a search."""

    seconds: float
    megabytes: float | None
    nodes: int

    def __str__(self) -> str:
        memory = "" if self.megabytes is None else f"{self.megabytes:.0f} MB, "
        return f"{self.seconds:.2f} s, {memory}{self.nodes} nodes"

    def document(self) -> dict[str, Any]:
        """As a part of a JSON document."""
        memory = None if self.megabytes is None else round(self.megabytes)
        return {"seconds": round(self.seconds, 3), "megabytes": memory, "nodes": self.nodes}


# ---- arguments ---------------------------------------------------------------------------------------


def subject(parser: argparse.ArgumentParser) -> argparse.Action:
    """Scores to search over, and the voices wanted with them; gives the argument of the scores."""
    scores = options.scores(parser)
    parser.add_argument("--below", action="store_true", help="the free voice lies under the cantus")
    said = "of the free voice, where the rules say nothing of its rhythm (1)"
    parser.add_argument("--species", type=int, choices=(1, 2, 3), help=said)
    said = "search in each rhythm that the rules allow, not in the best alone"
    parser.add_argument("--every-rhythm", action="store_true", help=said)
    parser.add_argument("--diatonic", action="store_true", help="try the notes of the mode only, none altered")
    options.voices(parser, most=4)
    return scores


def compass(parser: argparse.ArgumentParser) -> None:
    """``--range``, of the voice to be found."""
    parser.add_argument("--range", type=range_of, metavar="LOW-HIGH", help="of the free voice, such as C4-A5")


def lines(parser: argparse.ArgumentParser, usual: int = 1) -> None:
    """How many lines are wanted, and where they go."""
    parser.add_argument("-n", "--number", type=_positive, default=usual, help=f"how many lines ({usual})")
    options.output(parser, "write them there as .notes, .musicxml or .mid")
    page(parser)


def free(parser: argparse.ArgumentParser) -> None:
    """A line to be found: by which rules, over what, in which range."""
    options.rules(parser, STRICT)
    subject(parser)
    compass(parser)


def page(parser: argparse.ArgumentParser) -> None:
    """``--page``, what was found for the eye and the ear."""
    said = "what was found on an HTML page as well: lines on staves that can be played, plots"
    parser.add_argument("--page", type=Path, metavar="FILE", help=said)


def seed(parser: argparse.ArgumentParser) -> None:
    """``--seed``, of the draw."""
    parser.add_argument("--seed", type=_whole, default=1, help="for the draw (1)")


def limits(parser: argparse.ArgumentParser) -> None:
    """Where a search gives up, and how it is told."""
    parser.add_argument("--seconds", type=_seconds, default=600, help="give up after so long (600)")
    said = "give up beyond so many nodes at a time, of about 1 kB each (1000000)"
    parser.add_argument("--nodes", type=_positive, default=1_000_000, help=said)
    options.json(parser)


def range_of(text: str) -> "Compass":
    try:
        return compass_of(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from error


def _whole(text: str) -> int:
    if not re.fullmatch(r"-?[0-9]{1,18}", text):
        raise argparse.ArgumentTypeError(f"‘{text}’ is not a whole number such as 7")
    return int(text)


def _positive(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"‘{text}’ is not a whole number from 1")
    return int(text)


def _seconds(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not (number > 0 and math.isfinite(number)):
        raise argparse.ArgumentTypeError(f"‘{text}’ is not a number of seconds such as 60 or 0.5")
    return number


def mode_named(text: str) -> Mode:
    """The mode of that name; raises Failed."""
    try:
        return mode_of(text)
    except ValueError as error:
        raise Failed(str(error)) from error


# ---- reading and searching ---------------------------------------------------------------------------


def read(args: argparse.Namespace) -> list[Exercise]:
    """The exercises of all scores; raises RulekitError if any can't be read."""
    exercises: list[Exercise] = []
    problems: list[Diagnostic] = []
    for path in args.scores:
        found, wrong = load_scores(path, options.reading(args))
        exercises += found
        problems += wrong
    if problems:
        raise RulekitError(problems)
    for exercise in exercises:
        if exercise.metre.changes:
            raise Failed(f"{exercise.heading}: a search needs bars of one length; these change")
    return exercises


def problem(args: argparse.Namespace, sketch: Exercise, ruleset: Ruleset, answer: "Answer") -> Problem:
    """The search that a sketch asks for."""
    return problems_of(args, sketch, ruleset, answer)[0]


def problems_of(args: argparse.Namespace, sketch: Exercise, ruleset: Ruleset, answer: "Answer") -> list[Problem]:
    """The search that a sketch asks for, or one in each rhythm; raises Failed where there are too many."""
    found = list(islice(_searches(args, sketch, ruleset, answer), _MOST_RHYTHMS + 1 if args.every_rhythm else 1))
    if len(found) > _MOST_RHYTHMS:
        raise Failed(f"the rules allow more than {_MOST_RHYTHMS} rhythms; write one as a sketch, such as ?/2 ?/2~")
    return found


def _searches(
    args: argparse.Namespace, sketch: Exercise, ruleset: Ruleset, answer: "Answer", random: Random | None = None
) -> Iterator[Problem]:
    """The searches that a sketch asks for, the best rhythm first; raises Failed where there can be none."""
    wish = Wish(args.below, getattr(args, "range", None), args.species, max(1, args.voices - 1), not args.diatonic)
    try:
        yield from searches(sketch, ruleset, wish, answer.meter.look, random)
    except ValueError as error:
        raise Failed(str(error)) from error


@dataclass(frozen=True, slots=True)
class Found:
    """A search with all its lines, and what they cost to find; ``wanted`` is how many of them are to be drawn."""

    problem: Problem
    graph: Graph
    spent: Spent
    wanted: int = 0


def found(args: argparse.Namespace, ruleset: Ruleset, answer: "Answer", weigh: Weigh = faults) -> Iterator[Found]:
    """What the scores ask for: each in the best rhythm in which there is a line, or in every rhythm if that is wanted.

    Where none of those that are tried has a line, it is the best of them.
    """
    for sketch in read(args):
        every = _searches(args, sketch, ruleset, answer)
        if args.every_rhythm:
            yield from (_graphed(answer, problem, weigh) for problem in every)
        else:
            yield _first(answer, every, weigh)


def drawn(
    args: argparse.Namespace, ruleset: Ruleset, answer: "Answer", weigh: Weigh, random: Random
) -> Iterator[Found]:
    """As :func:`found`, but in several rhythms that are drawn from those equally good."""
    if args.every_rhythm:
        yield from (replace(each, wanted=args.number) for each in found(args, ruleset, answer, weigh))
        return
    for sketch in read(args):
        draws = (next(_searches(args, sketch, ruleset, answer, random)) for _ in range(min(args.number, _DRAWN)))
        kinds = {problem.rhythm: problem for problem in draws}
        graphs = [each for each in (_graphed(answer, kind, weigh) for kind in kinds.values()) if each.graph]
        graphs = graphs or [_first(answer, _searches(args, sketch, ruleset, answer), weigh)]
        for number, each in enumerate(graphs):
            yield replace(each, wanted=len(range(number, args.number, len(graphs))))


def _graphed(answer: "Answer", problem: Problem, weigh: Weigh) -> Found:
    return Found(problem, *graph(answer.meter, problem, weigh))


def _first(answer: "Answer", every: Iterator[Problem], weigh: Weigh) -> Found:
    """The first search with a line, or else the first."""
    first, tried = _graphed(answer, next(every), weigh), 1
    for problem in islice(every, 0 if first.graph else _TRIED_RHYTHMS):
        other = _graphed(answer, problem, weigh)
        if other.graph:
            return other
        tried += 1
    if tried > 1:
        answer.say(f"-- no line in {tried} rhythms that the rules allow, the best and others near to it")
    return first


def problems(args: argparse.Namespace, ruleset: Ruleset, answer: "Answer") -> list[Problem]:
    """The searches that the scores ask for."""
    return [each for sketch in read(args) for each in problems_of(args, sketch, ruleset, answer)]


def graph(meter: Meter, problem: Problem, weigh: Weigh = faults) -> tuple[Graph, Spent]:
    """The graph of a search, and what it cost."""
    start = time.perf_counter()
    graph = build(problem, weigh=weigh, limits=meter)
    return graph, Spent(time.perf_counter() - start, _peak(), graph.size)


def _peak() -> float | None:
    """The most memory that this process has had, in MB; None where the system does not say."""
    try:
        import resource
    except ImportError:
        return None
    unit = 1024**2 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit


class _Progress:
    """A line on the terminal that says how far a search is, once it has taken a second."""

    def __init__(self) -> None:
        self._next, self._shown = time.monotonic() + _SILENT, False

    def tell(self, rule: int, rules: int, nodes: int) -> None:
        """Write the line, now and then."""
        now = time.monotonic()
        if now >= self._next and sys.stderr.isatty():
            self._next, self._shown = now + _AGAIN, True
            print(f"\r{f'rule {rule} of {rules}, {nodes} nodes':40}", end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        """End the line, before anything else is written."""
        if self._shown:
            print(file=sys.stderr, flush=True)
        self._shown = False


# ---- telling -----------------------------------------------------------------------------------------


class Answer:
    """What a command has found so far: text is printed as it comes, ``document`` at the end, whatever the end is."""

    def __init__(self, command: str, args: argparse.Namespace) -> None:
        self.document: Any = []
        self._limits = Limits(args.nodes, args.seconds)
        self._command, self._json, self._begun = command, args.json, False
        self._page: Path | None = getattr(args, "page", None)
        self._progress = _Progress()
        self.sections: list[Section] = []
        self.problem: Problem | None = None

    @cached_property
    def meter(self) -> Meter:
        """The one clock of the command, which runs from when its files are read and it begins to search."""
        self._progress = _Progress()
        return self._limits.start(self._progress.tell)

    def say(self, text: str) -> None:
        """Print a text, where no document is wanted."""
        self._begun = True
        self._progress.end()
        if not self._json:
            say(text)

    def about(self, problem: Problem) -> None:
        """Say what was searched, and begin a section of the page with it."""
        self.problem = problem
        self.say(f"-- {searched_words(problem)}")
        self.section(room_words(problem))

    def section(self, heading: str) -> None:
        """Begin a section of the page, if one is wanted."""
        if self._page is not None:
            from rulekit.page.found import Section

            self.sections.append(Section(heading))

    def show(self, note: str, line: Exercise) -> None:
        """Put a line on the page, if one is wanted."""
        if self._page is not None:
            self.sections[-1].lines.append((note, line))

    def plot(self, heading: str, name: str, value: str, bins: tuple[Bin, ...]) -> None:
        """Draw a plot on the page, if one is wanted."""
        if self._page is not None:
            self.sections[-1].plots.append(Plot(heading, name, value, bins))

    def finish_page(self) -> None:
        """Write the page, if one is wanted."""
        if self._page is not None:
            from rulekit.page.found import found_page

            write_whole(self._page, found_page(_TITLES[self._command], self.sections))

    def keep(self, result: Any) -> None:
        """Add to the document, if one is wanted."""
        if self._json:
            self.document.append(result)

    @property
    def kept(self) -> int:
        """How many results wait for the end."""
        return len(self.document) + sum(len(section.lines) for section in self.sections)

    def stopped(self, stop: Exhausted) -> None:
        """Tell of an end before the time, beside what was found."""
        self.end(stop)
        found = self._begun and stop.lines is None
        complain([f"not finished, {stop.where}; what was found is printed" if found else f"not finished, {stop}"])

    def end(self, stop: Exhausted | None = None) -> None:
        """Print the document, if one is wanted; ``stop`` says why it is not whole."""
        self._progress.end()
        if not self._json:
            return
        told = {**_SCHEMA, "command": self._command, "exact": stop is None}
        print_json({**told, "results": self.document} if stop is None
                   else {**told, "results": _known(stop), "found": self.document})  # fmt: skip


def run(name: str, command: Callable[[argparse.Namespace, Answer], int], args: argparse.Namespace) -> int:
    """Run a command; a search that ends before its time is told in one line, after what it has found."""
    answer = Answer(name, args)
    try:
        _check_output(getattr(args, "output", None))
        status = command(args, answer)
        answer.end()
        answer.finish_page()
        return status
    except Failed as error:
        tell(args, [str(error)])
    except (Exhausted, KeyboardInterrupt) as error:
        answer.stopped(error if isinstance(error, Exhausted) else Exhausted(why(error)))
        answer.finish_page()
    return UNUSABLE


def _check_output(path: Path | None) -> None:
    """Refuse, before anything is searched, a name under which no score can be written."""
    if path is None:
        return
    try:
        check_written(path)
    except ValueError as error:
        raise Failed(f"{path}: {error}") from error


def _known(stop: Exhausted) -> dict[str, Any]:
    lines = None if stop.lines is None else str(stop.lines)
    known = {"rules_done": max(0, stop.reached - 1), "rules": stop.total, "lines": lines}
    return known | {"lines_are": "exact" if stop.exact else "at most"}


def rhythm_said(problem: Problem) -> str:
    """Where the rhythm that was asked for is none that the ruleset allows: by which rules, and what to do."""
    own = None if problem.rhythm else stock(problem.ruleset)
    if own is None or not all(slot.choices for line in problem.lines for slot in line):
        return ""
    sung = problem.exercise([[slot.choices[0] for slot in line] for line in problem.lines])
    broken = sorted({fault.rule for fault in mark(sung, own.rules).faults})
    return rhythm_line(broken) if broken else ""


class Lines:
    """Lines handed over one by one: printed with a comment each, put into the document, and at last into a file."""

    def __init__(self, args: argparse.Namespace, answer: Answer) -> None:
        self._answer, self._output = answer, args.output
        self._kept: list[Exercise] = []
        self._number = 0
        answer.document = []

    def __enter__(self) -> "Lines":
        return self

    def __exit__(self, *_: object) -> None:
        if self._kept:
            _save(self._kept, self._output)

    def add(self, exercise: Exercise, note: str) -> None:
        """Hand over one line; raises Exhausted if too many would have to be kept."""
        self._number += 1
        exercise = replace(exercise, title=exercise.title or f"line {self._number}")
        notation = write_exercise(exercise)
        if self._output is not None:
            self._kept.append(exercise)
        self._answer.keep({**identity(exercise), "note": note, "notation": notation})
        self._answer.meter.look(len(self._kept) * _KEPT + self._answer.kept)
        self._answer.say(f"\n-- {note}\n{notation.rstrip()}")
        self._answer.show(note, exercise)

    def status(self) -> int:
        """The exit status, after a word where there is no line at all."""
        if self._number:
            return GOOD
        self._answer.say(NO_LINE)
        if self._answer.problem is not None and (told := rhythm_said(self._answer.problem)):
            self._answer.say(told)
        return FAULTS


def _save(found: Sequence[Exercise], path: Path) -> None:
    try:
        save_scores(found, path)
    except ValueError as error:
        raise Failed(f"{path}: {error}") from error
