"""What a class costs to return: the command over all cores, as a ratio to one core's marking plus engraving.

    python -m tests.benchmarks.returning [NUMBER] [SECONDS]

NUMBER exercises (300) are drawn from the solution space over the demo's cantus firmi, one note of each changed;
SECONDS (10) bounds what is searched for each page.
"""

import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path
from random import Random

from rulekit import load_exercises, load_ruleset, mark
from rulekit.cli import main
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import write_exercise
from rulekit.page.clefs import vocal_clefs
from rulekit.page.engrave import engrave, line_breaks
from rulekit.page.mei import mei
from rulekit.solving import folds
from rulekit.solving.graph import build
from rulekit.solving.sketch import Wish, search

_RULES = "first-species-strict"
_WIDTH = 88


def class_of(number: int, random: Random) -> Iterator[Exercise]:
    """Invented exercises, most with a fault or two."""
    firmi = load_exercises("examples/cantus-firmi.notes")
    for index, cantus in enumerate(firmi):
        problem = search(cantus, load_ruleset(_RULES), Wish())
        for line in islice(folds.draws(build(problem), random), len(range(index, number, len(firmi)))):
            upper = list(line[0])
            place = random.randrange(1, len(upper) - 1)
            upper[place] = random.choice(problem.lines[0][place].choices)
            yield problem.exercise([upper, *line[1:]])


def one_core(exercises: list[Exercise]) -> float:
    """Seconds to mark and engrave them one after another."""
    ruleset = load_ruleset(_RULES)
    start = time.perf_counter()
    for exercise in exercises:
        mark(exercise, ruleset)
        engrave(mei(exercise, vocal_clefs(exercise), breaks=line_breaks(exercise, _WIDTH)), _WIDTH)
    return time.perf_counter() - start


def returned(exercises: list[Exercise], seconds: str) -> tuple[float, float]:
    """Seconds for the command to make all pages, and once more when nothing has changed."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "class"
        folder.mkdir()
        for number, exercise in enumerate(exercises):
            text = write_exercise(replace(exercise, title=f"pupil {number}"))
            (folder / f"pupil-{number:03}.notes").write_text(text, encoding="utf-8")
        times: list[float] = []
        for _ in range(2):
            start = time.perf_counter()
            main(["page", str(folder), "--rules", _RULES, "--to", f"{place}/out", "--search", seconds])
            times.append(time.perf_counter() - start)
        return times[0], times[1]


def report(number: int, seconds: str) -> None:
    """Print the ratios."""
    exercises = list(class_of(number, Random(1)))
    base = one_core(exercises)
    first, again = returned(exercises, seconds)
    print(f"{number} exercises, {base / number * 1000:.1f} ms each to mark and engrave on one core")
    print(f"all pages, at most {seconds} s of searching each: {first / base:.1f} times that")
    print(f"again, nothing changed: {again / base:.2f} times that")


if __name__ == "__main__":
    report(int((sys.argv[1:2] or ["300"])[0]), (sys.argv[2:3] or ["10"])[0])
