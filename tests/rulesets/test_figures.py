"""Fux's own worked examples (Gradus ad Parnassum, 1725) marked by the rulesets that follow him."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from rulekit.exercise.model import Event
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Finding, Marked, mark
from rulekit.music.pitch import Pitch, pitch_name, pitch_of
from tests.rulesets.figures import DEPARTURES, FIGURES, SLIPS, Figure, judged_by, of_species

STRICT = load_ruleset("first-species-strict")
SEVERAL = load_ruleset(["first-species-strict", "several-voices"])
CANTUS = load_ruleset("cantus-firmus")
IN_TWO = of_species("1", range(2, 3))
IN_MORE = of_species("1", range(3, 5))
SOUND = [*IN_TWO, *IN_MORE]


def number(figure: Figure) -> str:
    return figure.number


def unexplained(figure: Figure) -> tuple[Finding, ...]:
    """The faults of a figure that no licence excuses."""
    return mark(figure.exercise, STRICT if figure.voices == 2 else SEVERAL).faults


def test_there_are_figures_of_each_kind() -> None:
    assert (len(IN_TWO), len(IN_MORE)) == (5, 13)


@pytest.mark.parametrize("figure", SOUND, ids=number)
def test_no_fault_without_a_licence(figure: Figure) -> None:
    assert not unexplained(figure)


@pytest.mark.parametrize("figure", IN_TWO, ids=number)
def test_two_voices_need_no_licence(figure: Figure) -> None:
    assert not [f for f in mark(figure.exercise, STRICT).findings if f.excuse]


@cache
def ruleset(names: tuple[str, ...]) -> Ruleset:
    return load_ruleset(names)


def marked(figure: Figure) -> Marked:
    return mark(figure.exercise, ruleset(tuple(judged_by(figure))))


JUDGED = [figure for figure in FIGURES if figure.number not in SLIPS]


@pytest.mark.parametrize("figure", JUDGED, ids=number)
def test_a_figure_is_clean_or_licensed_or_the_master_departs(figure: Figure) -> None:
    found = {(fault.rule, fault.bar) for fault in marked(figure).faults}
    expected, _ = DEPARTURES.get(figure.number, (set(), ""))
    assert found == expected


def test_few_figures_are_departures_and_few_are_slips() -> None:
    assert (len(FIGURES), len(JUDGED)) == (63, 57)
    assert len(JUDGED) - len(DEPARTURES) >= 0.95 * len(JUDGED)


@pytest.mark.parametrize("figure", IN_MORE, ids=number)
def test_every_licence_gives_its_reason(figure: Figure) -> None:
    for finding in mark(figure.exercise, SEVERAL).findings:
        if finding.excuse:
            assert finding.excuse.name and len(finding.excuse.reason.split()) > 3


def test_some_licence_is_needed_in_several_voices() -> None:
    excused = {f.excuse.name for figure in IN_MORE for f in mark(figure.exercise, SEVERAL).findings if f.excuse}
    assert excused == {"upper-step", "full-triad", "falling-sixth", "major-third", "sixth-chord"}


SLIPPED = {
    "118": {("consonant", 1), ("consonant", 7), ("no-parallels", 11), ("bass-on-final", 12)},
    "125": {("no-parallels", 4)},
    "176": {("no-parallels", 8)},
    "184": {("only-known-alterations", 1), ("no-parallels", 2), ("no-parallels", 8)},
    "203": {("upper-voices-agree", 9)},
    "86a": {("repetition", 12), ("consonant", 12)},
}
AN_OCTAVE = pitch_of("C5") - pitch_of("C4")


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_found(slip: str) -> None:
    (figure,) = [figure for figure in FIGURES if figure.number == slip]
    assert {(fault.rule, fault.bar) for fault in marked(figure).faults} >= SLIPPED[slip]


def numbered(number: str) -> Figure:
    (figure,) = [figure for figure in FIGURES if figure.number == number]
    return figure


def with_voice(figure: Figure, at: int, change: Callable[[int, Event], Event]) -> Figure:
    """The figure with each note of one voice, counted from 0, changed."""
    voice = figure.exercise.voices[at]
    events = tuple(change(number, event) for number, event in enumerate(voice.events))
    voices = [*figure.exercise.voices[:at], replace(voice, events=events), *figure.exercise.voices[at + 1 :]]
    return replace(figure, exercise=replace(figure.exercise, voices=tuple(voices)))


def test_one_change_mends_a_slip() -> None:
    """A tie, an octave, an accidental, a note: with it nothing is against the figure."""
    tied = with_voice(numbered("86a"), 0, lambda n, e: replace(e, tie=True) if n == 38 else e)
    lower = with_voice(numbered("176"), 2, lambda n, e: replace(e, pitch=Pitch((e.pitch or 0) - AN_OCTAVE)))
    natural = with_voice(numbered("203"), 2, lambda n, e: replace(e, pitch=pitch_of("C4")) if n == 8 else e)
    other = with_voice(numbered("125"), 1, lambda n, e: replace(e, pitch=pitch_of("D3")) if n == 5 else e)
    assert not any(marked(figure).faults for figure in (tied, lower, natural, other))


@pytest.mark.parametrize("figure", FIGURES, ids=number)
def test_the_cantus_of_every_figure_keeps_the_rules_of_a_cantus(figure: Figure) -> None:
    found = [(f.rule, f.bar) for f in mark(figure.exercise, CANTUS).findings if f.severity != "advice"]
    assert found == ([("cantus-tritone", 6)] if figure.number == "42" else [])  # without its D it runs from B to F


@pytest.mark.parametrize("species", "12345")
def test_no_warning_meets_more_than_a_fifth_of_the_figures_unless_it_says_so(species: str) -> None:
    figures = [figure for figure in JUDGED if figure.species == species]
    met = Counter(rule for figure in figures for rule in warned(figure))
    rules = ruleset((judged_by(figures[0])[0], "several-voices")).rules
    stricter = {rule.name for rule in rules if "stricter than Fux" in rule.source}
    assert {rule for rule, count in met.items() if count > len(figures) / 5} <= stricter


def warned(figure: Figure) -> set[str]:
    return {f.rule for f in marked(figure).findings if f.severity == "warning" and not f.excuse}


@pytest.mark.parametrize("figure", IN_TWO, ids=number)
@pytest.mark.parametrize("bar", [2, 4, 6, 8])
def test_a_second_put_into_a_figure_is_found(figure: Figure, bar: int) -> None:
    """Whatever a figure has there, a second above the cantus is a dissonance."""
    at = figure.exercise.cantus
    assert at is not None
    cantus = [pitch_name(event.pitch) for event in figure.exercise.voices[at].events if event.pitch is not None]
    counterpoint = [
        pitch_name(event.pitch) for event in figure.exercise.voices[1 - at].events if event.pitch is not None
    ]
    name, octave = cantus[bar - 1]
    next_letter = "CDEFGAB"[("CDEFGAB".index(name) + 1) % 7]
    counterpoint[bar - 1] = next_letter + str(int(octave) + (next_letter == "C"))
    (spoilt,), _ = read_exercises(f"upper {' '.join(counterpoint)}\ncantus {' '.join(cantus)}")
    assert ("consonant", bar) in {(f.rule, f.bar) for f in mark(spoilt, STRICT).faults}
