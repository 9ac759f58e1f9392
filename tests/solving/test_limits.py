"""Searches that are too large end with a word about how far they came."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path
from random import Random

import pytest

from rulekit.cli import main
from rulekit.compiler.monitor import monitors
from rulekit.exercise.model import Compass
from rulekit.exercise.notation import read_exercises
from rulekit.music.pitch import pitch_of
from rulekit.solving import answers, folds
from rulekit.solving.graph import Exhausted, Graph, Limits, Meter, at_most, build, negated, repriced, ways
from rulekit.solving.problem import Problem, over_cantus
from tests.solving.cases import D_DORIAN, over, ruleset, voice
from tests.solving.outside import REDUCED

_FATAL = [("consonances", "fault"), ("range", "fault"), ("steps", "fault"), ("few-leaps", "fault")]
_RULES = ruleset(*_FATAL)
_CANTUS = "D4 F4 E4 D4 G4 F4 E4 D4"


@pytest.mark.parametrize(("limits", "which"), [(Limits(nodes=50), "nodes"), (Limits(seconds=1e-9), "time")])
def test_limits_end_a_search(limits: Limits, which: str) -> None:
    with pytest.raises(Exhausted, match=which) as caught:
        build(over(_RULES, _CANTUS, "D4", "D5"), limits=limits)
    assert 0 <= caught.value.reached <= caught.value.total


def test_making_the_monitors_is_on_the_clock() -> None:
    problem, looks = over(ruleset(*_FATAL), _CANTUS, "D4", "D5"), 0

    def look() -> None:
        nonlocal looks
        looks += 1

    monitors(problem.ruleset, problem.setting, look=look)
    assert looks == len(problem.ruleset.rules)


@pytest.mark.parametrize("nodes", [1, 5, 20, 60, 150])
def test_a_part_of_a_question_that_stops_says_nothing_of_the_lines_of_the_whole(nodes: int) -> None:
    """A comparison and a conflict ask of other rules than the problem's; how many lines those leave is no bound."""
    problem = over(_RULES, _CANTUS, "D4", "D5")
    with pytest.raises(Exhausted) as caught:
        answers.compare(problem, ruleset(_FATAL[0]), limits=Limits(nodes))
    assert caught.value.lines is None
    assert "are allowed" not in str(caught.value)


def test_a_node_limit_is_never_passed() -> None:
    seen: list[int] = []
    with pytest.raises(Exhausted):
        build(over(_RULES, _CANTUS, "D4", "D5"), limits=Limits(nodes=50).start(lambda *told: seen.append(told[2])))
    assert all(nodes <= 50 for nodes in seen)


def test_ample_limits_change_nothing() -> None:
    problem = over(_RULES, _CANTUS, "D4", "D5")
    assert build(problem, limits=Limits(10**6, 60.0)).levels == build(problem).levels


def test_progress_counts_rules_and_nodes() -> None:
    told: list[tuple[int, int, int]] = []
    build(over(_RULES, _CANTUS, "D4", "D5"), limits=Limits().start(lambda *now: told.append(now)))
    come = list(dict.fromkeys(number for number, _, _ in told))
    assert come == list(range(1, len(come) + 1))
    assert {total for _, total, _ in told} == {len(come)}


def test_what_is_known_when_a_search_is_interrupted_bounds_the_count() -> None:
    """The rules done so far can only allow too much; once all faults are done the count is exact."""
    problem = over(ruleset(*_FATAL, ("climax", "warning, 2 points")), _CANTUS, "D4", "D5")
    told: list[int] = []
    build(problem, costed=True, limits=Limits().start(lambda _, total, __: told.append(total)))
    count, total = folds.count(build(problem)), told[0]

    for stop in range(2, total + 1):

        def interrupt(number: int, *_: int, stop: int = stop) -> None:
            if number == stop:
                raise KeyboardInterrupt

        with pytest.raises(Exhausted, match="stopped") as caught:
            build(problem, costed=True, limits=Limits().start(interrupt))
        known = caught.value
        assert known.lines is not None
        assert known.lines == count if known.exact else known.lines >= count
        assert known.exact == (stop == total)


def test_a_limit_of_time_holds_in_every_question() -> None:
    """Searches of many parts share one clock."""
    problem = over(_RULES, _CANTUS, "D4", "D5")
    exercise = problem.exercise([[slot.choices[0] for slot in line] for line in problem.lines])
    none = Limits(seconds=1e-9)
    for ask in (
        lambda: answers.mend(exercise, _RULES, limits=none),
        lambda: answers.best_single_change(exercise, _RULES, limits=none),
        lambda: list(answers.alternatives(exercise, _RULES, limits=none)),
        lambda: answers.why_not(problem, limits=none),
        lambda: answers.compare(problem, _RULES, limits=none),
        lambda: answers.compare_points(problem, _RULES, limits=none),
        lambda: list(answers.audit([problem], _RULES, limits=none)),
        lambda: list(answers.conflicts([problem], _RULES, limits=none)),
    ):
        with pytest.raises(Exhausted, match="time"):
            ask()


# Law: a command ends soon after the time that it was given, whatever it is doing, and keeps what it has found.
_LATE = 1.5  # seconds, for a machine that does other things beside
_LONG = "D4 F4 E4 D4 G4 F4 A4 G4 F4 D4 E4 D4"


def _seconds(ask: Callable[[], object]) -> float:
    start = time.monotonic()
    with pytest.raises(Exhausted, match="time"):
        ask()
    return time.monotonic() - start


def _wide(voices: int) -> Problem:
    free = [Compass(f"free-{number}", pitch_of("C3"), pitch_of("C6")) for number in range(voices)]
    return over_cantus(ruleset(), voice("cantus", _LONG), D_DORIAN, free, cantus_index=voices)


def test_a_limit_of_time_holds_where_many_voices_are_free() -> None:
    assert _seconds(lambda: build(_wide(4), limits=Limits(10**9, 0.2))) < 0.2 + _LATE


def test_a_limit_of_nodes_holds_where_many_voices_are_free() -> None:
    with pytest.raises(Exhausted, match="nodes"):
        build(_wide(4), limits=Limits(nodes=2000))


@pytest.mark.parametrize("fold", [folds.count, folds.count_by_cost, folds.count_by_choice, ways])
def test_a_limit_of_time_holds_in_counting(fold: Callable[[Graph, Meter], object]) -> None:
    graph = build(over(ruleset(), " ".join([_LONG] * 20), "C3", "C6"))
    with pytest.raises(Exhausted, match="time"):
        fold(graph, Limits(seconds=1e-9).start())


def test_a_limit_of_time_holds_in_drawing() -> None:
    graph = build(over(_RULES, _CANTUS, "D4", "D5"))
    drawn = folds.draws(graph, Random(1), Limits(seconds=0.2).start())
    assert next(drawn)
    assert _seconds(lambda: sum(1 for _ in drawn)) < 0.2 + _LATE


def test_what_bounds_the_points_keeps_the_time() -> None:
    graph = build(over(ruleset(), " ".join([_LONG] * 20), "C3", "C6"))
    for ask in (
        lambda: at_most(graph, 0, Limits(seconds=1e-9).start()),
        lambda: negated(graph, Limits(seconds=1e-9).start()),
        lambda: repriced(graph, lambda *_: 0, Limits(seconds=1e-9).start()),
    ):
        with pytest.raises(Exhausted, match="time"):
            ask()


@pytest.fixture
def subject(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    Path("small.rules").write_text(REDUCED, encoding="utf-8")
    Path("cantus.notes").write_text(f"exercise: ours\nmode: D dorian\ncantus {_LONG}\n", encoding="utf-8")
    return "cantus.notes --rules small.rules --range C4-G5 --diatonic"


def test_lines_are_printed_as_they_are_drawn(subject: str, capsys: pytest.CaptureFixture[str]) -> None:
    start = time.monotonic()
    assert main(f"sample {subject} -n 3000000 --seconds 2".split()) == 2
    assert time.monotonic() - start < 2 + 2 * _LATE
    told = capsys.readouterr()
    assert "\n-- one of " in told.out
    assert "the time limit was reached; what was found is printed" in told.err


@pytest.mark.parametrize("form", ["", "--json"])
def test_an_interrupt_keeps_what_was_found(
    form: str, subject: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where no rule is being composed."""

    def interrupted(*_: object) -> Iterator[folds.Line]:
        yield from islice(draws(*_), 3)  # type: ignore[arg-type]
        raise KeyboardInterrupt

    draws = folds.draws
    monkeypatch.setattr(folds, "draws", interrupted)
    assert main(f"sample {subject} -n 9 -o kept.notes {form}".split()) == 2
    told = capsys.readouterr()
    assert "it was stopped" in told.err
    assert read_exercises(Path("kept.notes").read_text(encoding="utf-8"))[0][2:]
    if form:
        document = json.loads(told.out)
        assert not document["exact"]
        assert len(document["found"]) == 3
    else:
        assert told.out.count("-- one of ") == 3


def test_a_command_has_one_clock(subject: str, monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[Meter] = []
    start = Limits.start
    monkeypatch.setattr(Limits, "start", lambda *given: started.append(start(*given)) or started[-1])
    assert main(f"compare small.rules small.rules --points {subject.replace('--rules small.rules', '')}".split()) == 0
    assert len(started) == 1


def test_an_audit_keeps_the_rules_that_it_has_judged() -> None:
    problem = over(_RULES, _CANTUS, "D4", "D5")
    meter = Limits().start()
    worth = answers.audit([problem], _RULES, meter)
    first = next(worth)
    meter.__init__(Limits(seconds=1e-9))
    with pytest.raises(Exhausted, match="when 1 of 4 rules were judged"):
        next(worth)
    assert first.rule == _FATAL[0][0]


@pytest.mark.parametrize("form", ["", "--json"])
def test_a_name_under_which_nothing_is_written_is_told_before_the_search(
    form: str, subject: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(f"sample {subject} -o lines.wav {form}".split()) == 2
    told = capsys.readouterr()
    assert "‘.wav’ are not written" in told.out + told.err
    assert "-- one of" not in told.out
    assert not Path("lines.wav").exists()


def _hears_interrupts() -> None:
    """A shell's background jobs are born deaf to them."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.mark.skipif(os.name != "posix", reason="sends a signal")
def test_a_search_that_is_interrupted_tells_what_is_known(tmp_path: Path) -> None:
    """With a real signal, wherever the search is by then."""
    (tmp_path / "long.notes").write_text(f"mode: D\ncantus {' '.join([_LONG] * 4)}\n", encoding="utf-8")
    words = [sys.executable, "-m", "rulekit", "count", "long.notes", "--voices", "4", "--nodes", "100000000"]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    for pause in (2, 4):
        process = subprocess.Popen(
            words, cwd=tmp_path, env=environment, stderr=subprocess.PIPE, text=True, preexec_fn=_hears_interrupts
        )
        time.sleep(pause)
        process.send_signal(signal.SIGINT)
        _, told = process.communicate(timeout=30)
        assert process.returncode == 2, told
        assert told.startswith("rulekit: not finished, it was stopped")
        assert "Traceback" not in told
