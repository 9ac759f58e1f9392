"""What whole files and whole commands cost, beside music21 and beside Python itself."""

import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from rulekit.exercise.notation import write_exercise
from rulekit.exercise.scores import load_scores, save_scores
from tests.benchmarks.figures import Case, Figure, Wanted, best_of
from tests.benchmarks.marks import figures

_CLASS = 100
_SCRIPT = """
import sys
from music21 import converter
from tests.benchmarks.by_hand import check
for path in sys.argv[1:]:
    upper, lower = [list(part.flatten().notes) for part in converter.parse(path, forceSource=True).parts]
    print(path, check(upper, lower, True))
"""


@contextmanager
def _scores(number: int) -> Iterator[list[str]]:
    """Files of MusicXML, each a figure in note against note."""
    plain = figures("plain")
    with tempfile.TemporaryDirectory() as folder:
        paths = [Path(folder) / f"score-{n:03}.musicxml" for n in range(number)]
        for n, path in enumerate(paths):
            save_scores([plain[n % len(plain)]], path)
        yield [str(path) for path in paths]


@contextmanager
def _typed(number: int) -> Iterator[list[str]]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "figure.notes"
        path.write_text(write_exercise(figures("plain")[0]), encoding="utf-8")
        yield [str(path)] * number


def _read() -> Figure:
    from music21 import converter

    with _scores(10) as paths:
        ours = best_of(5, lambda: [load_scores(Path(path)) for path in paths])
        return Figure(ours, best_of(3, lambda: [converter.parse(path, forceSource=True) for path in paths]))


def _run(command: Sequence[str]) -> float:
    """The seconds of the processor that a process takes, the fewest of three."""

    def once() -> float:
        before = _of_children()
        subprocess.run([sys.executable, *command], capture_output=True, check=False)
        return _of_children() - before

    return min(once() for _ in range(3))


def _of_children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _marked(paths: Sequence[str]) -> list[str]:
    return ["-m", "rulekit", "mark", *paths, "--rules", "first-species-strict"]


def _started() -> Figure:
    with _typed(1) as paths:
        return Figure(_run(_marked(paths)), _run(["-c", "pass"]))


def _tried() -> Figure:
    return Figure(_run(["-m", "rulekit", "try", "first-species-strict"]), _run(["-c", "pass"]))


def _class(number: int) -> Figure:
    with _scores(number) as paths:
        return Figure(_run(_marked(paths)), _run(["-c", _SCRIPT, *paths]))


CASES = [
    Case("ten scores: read", "music21’s parse", Wanted(1.5), _read),
    Case("one score: the whole command", "a script of music21", Wanted(1), lambda: _class(1)),
    Case("a hundred scores: the whole command", "a script of music21", Wanted(1), lambda: _class(_CLASS)),
    Case("a typed exercise: rulekit mark", "python -c pass", Wanted(seconds=0.25), _started),
    Case("the strict ruleset: rulekit try", "python -c pass", Wanted(seconds=0.35), _tried),
]
