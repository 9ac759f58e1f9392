"""Searches in the shipped species against plain enumeration: every choice of notes, each marked by itself."""

import re
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import islice
from pathlib import Path
from random import Random

import pytest

from rulekit.cli import main
from rulekit.exercise.notation import read_exercises, write_exercise
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark
from rulekit.solving import folds
from rulekit.solving.folds import Line
from rulekit.solving.graph import build
from rulekit.solving.problem import Problem
from rulekit.solving.sketch import Wish, compass_of, searches
from tests.solving.cases import allowed

TWO_MOVING = """upper ?/4 ? ? ? | ? ? ? ? | ? ? ? ? | ?/1
middle r/2 ? | ? ? | ? ? | ?/1
cantus C4/1 | F4 | D4 | C4"""
TIED_OVER_HALVES = """upper r/2 ?~ | ? ?~ | ? ? | ?/1
middle ?/2 ? | ? ? | ? ? | ?/1
cantus C4/1 | F4 | D4 | C4"""
CASES = [
    ("second-species-strict", "cantus C4 F4 E4 D4 C4", 1, 1),
    ("fifth-species-strict+mixed-species+several-voices", TWO_MOVING, 2, 1),
    ("fifth-species-strict+mixed-species+several-voices", TIED_OVER_HALVES, 2, 1),
    ("first-species-strict+several-voices", "cantus C4 F4 D4 C4", 3, 1),
    ("third-species-strict", "cantus C4 F4 D4 C4", 1, 1),
    ("fourth-species-strict", "cantus C4 F4 E4 D4 C4", 1, 2),
    ("fifth-species-strict", "cantus C4 F4 D4 C4", 1, 2),
    ("first-species-strict+several-voices", "cantus C4 F4 E4 D4 C4", 2, 1),
]
FREE = 5


@cache
def posed(name: str, given: str, voices: int, rhythms: int) -> list[Problem]:
    """The search over a cantus, or for a sketch's open notes, in the first rhythms in which there is a line."""
    (sketch,), _ = read_exercises(f"mode: C\n{given}")
    wish = Wish(compass=compass_of("G4-E5"), voices=voices, altered=False)
    found = searches(sketch, load_ruleset(name.split("+")), wish)
    return list(islice((each for each in found if folds.exists(build(each))), rhythms))


def round_about(problem: Problem, line: Line, draw: Random) -> Problem:
    """The search in which some notes may be those of a line or the ones next to them, and all others are its own."""
    places = [(v, i) for v, slots in enumerate(problem.lines) for i, slot in enumerate(slots) if len(slot.choices) > 1]
    free = set(draw.sample(places, min(FREE, len(places))))

    def choices(voice: int, place: int) -> tuple[int, ...]:
        every, own = problem.lines[voice][place].choices, line[voice][place]
        at = every.index(own)
        return every[max(0, at - 1) : at + 2] if (voice, place) in free else (own,)

    lines = tuple(
        tuple(replace(slot, choices=choices(voice, place)) for place, slot in enumerate(slots))
        for voice, slots in enumerate(problem.lines)
    )
    return replace(problem, lines=lines)


@pytest.mark.parametrize(("name", "given", "voices", "rhythms"), CASES)
def test_a_search_gives_what_the_marker_accepts(name: str, given: str, voices: int, rhythms: int) -> None:
    draw = Random(1930)
    problems = posed(name, given, voices, rhythms)
    assert len(problems) == rhythms
    for whole in problems:
        (line,) = folds.sample(build(whole), draw, 1)
        problem = round_about(whole, line, draw)
        expected = allowed(problem)
        graph = build(problem, costed=True)
        assert line in expected
        assert folds.count(graph) == len(expected)
        assert set(folds.lines(graph)) == set(expected)
        assert folds.count_by_cost(graph) == Counter(expected.values())
        assert folds.best(graph, 1)[0][0] == min(expected.values())


@pytest.mark.parametrize(("name", "given", "voices", "rhythms"), CASES)
def test_what_is_printed_marks_clean(name: str, given: str, voices: int, rhythms: int) -> None:
    """Ties and rests included: the text of a line that was found is read again and has no fault."""
    for problem in posed(name, given, voices, rhythms):
        for line in folds.sample(build(problem), Random(7), 3):
            (again,), mistakes = read_exercises(write_exercise(problem.exercise(line)))
            assert not mistakes
            assert not mark(again, problem.ruleset).faults


@pytest.mark.parametrize("command", ["count", "sample", "complete"])
def test_an_answer_of_nothing_points_to_the_rhythm(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "gate.notes").write_text("exercise: gate\nmode: C\ncantus C4 F4 E4 D4 C4\n", encoding="utf-8")
    asked = f"{command} {tmp_path / 'gate.notes'} --rules second-species-strict"
    main(f"{asked} --species 1".split())
    assert "this rhythm breaks half-notes: leave out --species" in capsys.readouterr().out
    main(asked.split())
    assert "this rhythm" not in capsys.readouterr().out


# Into the last bar but one of this cantus no note can be tied: over F3 and C4 no note is consonant with both and falls
# into the leading note.
UNTIED = "exercise: the weir\nmode: D\ncantus D4 C4 F3 E3 F3 C4 E4 D4"


@pytest.mark.parametrize("command", ["complete", "sample", "count"])
def test_where_the_best_rhythm_has_no_line_another_is_searched(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "weir.notes").write_text(UNTIED, encoding="utf-8")
    assert main([command, str(tmp_path / "weir.notes"), "--rules", "fourth-species-lenient"]) == 0
    told = capsys.readouterr().out
    if command == "count":
        assert "\n0 lines" not in told
    else:
        (exercise,), _ = read_exercises(told[told.index("exercise:") :])
        assert not mark(exercise, load_ruleset("fourth-species-lenient")).faults


def test_florid_lines_are_drawn_in_several_rhythms(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "weir.notes").write_text("exercise: the mill\nmode: D\ncantus D4 F4 E4 D4", encoding="utf-8")
    assert main(["sample", str(tmp_path / "weir.notes"), "-n", "3", "--rules", "fifth-species-strict"]) == 0
    exercises, _ = read_exercises("\n".join(t for t in capsys.readouterr().out.split("\n") if not t.startswith("--")))
    ruleset = load_ruleset("fifth-species-strict")
    assert len(exercises) == 3 and not any(mark(each, ruleset).faults for each in exercises)
    assert len({tuple(event.length for event in each.voices[0].events) for each in exercises}) > 1


def test_the_lines_of_all_rhythms_are_added_up(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.notes").write_text("exercise: the mill\nmode: D\ncantus D4 F4 E4 D4", encoding="utf-8")
    assert main(["count", str(tmp_path / "a.notes"), "--every-rhythm", "--rules", "fourth-species-strict"]) == 0
    told = capsys.readouterr().out
    parts = [int(number) for number in re.findall(r"^(\d+) lines? \(exact", told, re.MULTILINE)]
    assert len(parts) > 1 and f": {sum(parts)} lines in these {len(parts)} rhythms" in told
