"""How long the desk takes to tell what may stand in a place, as a ratio to marking the exercise once.

    python -m tests.benchmarks.standing [RULESET…]

Twelve notes over an invented cantus, in the rhythm that each ruleset allows; the space is built with the first
question and walked by the others, each after another note was written. Seconds are those of the processor.
"""

import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from rulekit.desk.bench import Bench
from rulekit.desk.shelf import Shelf
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark

_CANTUS = "exercise: twelve\nmode: D dorian\ncantus D4 F4 E4 G4 F4 A4 G4 F4 E4 F4 E4 D4\n"
_SHIPPED = tuple(f"{number}-species-strict" for number in ("first", "second", "third", "fourth", "fifth"))


def report(name: str) -> None:
    """Print the ratios of one ruleset, and the slowest answer in milliseconds."""
    with TemporaryDirectory() as folder:
        bench = Bench(Shelf(Path(folder)))
        text = bench.begun(name, "", _CANTUS, 0, below=False)["text"]
        places = len(bench.mark(name, "", text, 1)["voices"][0]["notes"])
        times: list[float] = []
        for slot in range(places):
            start = time.process_time()
            found = bench.standing(name, "", text, 1, 0, slot)
            times.append(time.process_time() - start)
            if "refused" in found or not found["lines"]:
                break
            best = max(found["lines"], key=lambda each: int(each["lines"]))
            text = bench.put(text, 1, 0, slot, best["note"])["text"]
    exercise = read_exercises(text)[0][1]
    ruleset = load_ruleset(name)
    mark(exercise, ruleset)
    start = time.process_time()
    mark(exercise, ruleset)
    once = time.process_time() - start
    first, *others = times
    print(f"{name}: {places} places; the first answer, with the space, {first:.2f} s")
    if others:
        mean, worst = sum(others) / len(others), max(others)
        print(f"  then {mean / once:.1f} times one marking; mean {mean * 1000:.0f} ms, worst {worst * 1000:.0f} ms")


if __name__ == "__main__":
    for each in sys.argv[1:] or _SHIPPED:
        report(each)
