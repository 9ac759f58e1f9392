"""Fux's own worked examples (Gradus ad Parnassum, 1725) marked by the rulesets that follow him."""

import pytest

from rulekit.language.ruleset import load_ruleset
from rulekit.marking import Finding, mark
from tests.rulesets.figures import FIGURES, SLIPS, Figure

STRICT = load_ruleset("first-species-strict")
SEVERAL = load_ruleset("first-species-several-voices")
CANTUS = load_ruleset("cantus-firmus")
SOUND = [figure for figure in FIGURES if figure.number not in SLIPS]
IN_TWO = [figure for figure in SOUND if len(figure.voices) == 2]
IN_MORE = [figure for figure in SOUND if len(figure.voices) > 2]


def number(figure: Figure) -> str:
    return figure.number


def unexplained(figure: Figure) -> tuple[Finding, ...]:
    """The faults of a figure that no licence excuses."""
    return mark(figure.exercise, STRICT if len(figure.voices) == 2 else SEVERAL).faults


def test_there_are_figures_of_each_kind() -> None:
    assert (len(IN_TWO), len(IN_MORE)) == (5, 13)


@pytest.mark.parametrize("figure", SOUND, ids=number)
def test_no_fault_without_a_licence(figure: Figure) -> None:
    assert not unexplained(figure)


@pytest.mark.parametrize("figure", IN_TWO, ids=number)
def test_two_voices_need_no_licence(figure: Figure) -> None:
    assert not [f for f in mark(figure.exercise, STRICT).findings if f.excuse]


@pytest.mark.parametrize("figure", IN_MORE, ids=number)
def test_every_licence_gives_its_reason(figure: Figure) -> None:
    for finding in mark(figure.exercise, SEVERAL).findings:
        if finding.excuse:
            assert finding.excuse.name and len(finding.excuse.reason.split()) > 3


def test_some_licence_is_needed_in_several_voices() -> None:
    excused = {f.excuse.name for figure in IN_MORE for f in mark(figure.exercise, SEVERAL).findings if f.excuse}
    assert excused == {"upper-step", "full-triad", "falling-sixth", "major-close"}


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_found(slip: str) -> None:
    (figure,) = [figure for figure in FIGURES if figure.number == slip]
    found = {(finding.rule, finding.bar) for finding in unexplained(figure)}
    assert {("consonant", 1), ("consonant", 7), ("no-parallels", 11), ("bass-on-final", 12)} <= found


@pytest.mark.parametrize("figure", FIGURES, ids=number)
def test_the_cantus_of_every_figure_keeps_the_rules_of_a_cantus(figure: Figure) -> None:
    assert not [f for f in mark(figure.exercise, CANTUS).findings if f.severity != "advice"]


@pytest.mark.parametrize("figure", IN_TWO, ids=number)
@pytest.mark.parametrize("bar", [2, 4, 6, 8])
def test_a_second_put_into_a_figure_is_found(figure: Figure, bar: int) -> None:
    """Whatever a figure has there, a second above the cantus is a dissonance."""
    cantus = figure.voices[figure.cantus].split()
    counterpoint = figure.voices[1 - figure.cantus].split()
    name, octave = cantus[bar - 1]
    next_letter = "CDEFGAB"[("CDEFGAB".index(name) + 1) % 7]
    counterpoint[bar - 1] = next_letter + str(int(octave) + (next_letter == "C"))
    voices = [" ".join(counterpoint), " ".join(cantus)]
    spoilt = Figure(figure.number, figure.final, 1, tuple(voices))
    assert ("consonant", bar) in {(f.rule, f.bar) for f in mark(spoilt.exercise, STRICT).faults}
