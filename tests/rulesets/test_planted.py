"""Mistakes planted in Fux's figures, a class of them at a time: each is told where it was made, and by its rule.

What is a mistake follows Fux (1725, from memory) or common practice, as the source of the rule that tells it says.
"""

from functools import cache
from random import Random

import pytest

from rulekit.exercise.model import Exercise
from rulekit.language.loading import load_ruleset
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from tests.rulesets import planting as p
from tests.rulesets.figures import of_species
from tests.rulesets.planting import Class

PLACES = 6  # of each class in each species, drawn from all where it can be made
RHYTHM = {"1": "note-against-note", "2": "half-notes", "3": "quarter-notes", "4": "tied-halves", "5": "florid-bars"}
RULESETS = {str(n): f"{name}-species-strict" for n, name in enumerate("first second third fourth fifth".split(), 1)}


def everywhere(rule: str) -> dict[str, str]:
    return {"12345": rule}


CLASSES = [
    Class("tritone leap up", p.leap("A4"), everywhere("melodic-intervals")),
    Class("diminished fifth down", p.leap("d5", -1), everywhere("melodic-intervals")),
    Class("leap of a minor seventh", p.leap("m7"), everywhere("melodic-intervals")),
    Class("leap of a major seventh down", p.leap("M7", -1), everywhere("melodic-intervals")),
    Class("augmented second", p.leap("A2"), everywhere("melodic-intervals")),
    Class("major sixth up", p.leap("M6"), everywhere("melodic-intervals")),
    Class("major sixth down", p.leap("M6", -1), everywhere("melodic-intervals")),
    Class("minor sixth down", p.leap("m6", -1), {"1": "melodic-intervals"}),
    Class("leap of a ninth", p.leap("M9"), everywhere("leap-too-wide")),
    Class("chromatic semitone", p.leap("A1"), everywhere("no-chromatic-semitone")),
    Class("note foreign to the mode", p.foreign, everywhere("only-known-alterations")),
    Class("B flat and B", p.two_forms_of_b, everywhere("b-in-two-forms")),
    Class("wide leap that goes on", p.run("P5", "M2", told=1), everywhere("leap-recovery")),
    Class("three leaps one way", p.run("M3", "m3", "M3", told=3), everywhere("three-leaps")),
    Class("two leaps over a seventh", p.run("P4", "P4", told=2), everywhere("leaps-together")),
    Class("outlined tritone", p.run("-M2", "M2", "M2", "M2", "-M2", told=4), everywhere("outlined-tritone")),
    Class("outlined seventh", p.run("-M2", "M2", "P4", "M3", "-M2", told=4), everywhere("outlined-seventh")),
    Class("too wide a line", p.out_of_range, everywhere("widest-line")),
    Class("note repeated", p.again, {"2345": "repetition"}),
    Class("note a third time", p.third_time, {"1": "repetition"}),
    Class("dissonance struck on the downbeat", p.struck("M2", "P4", "m7", "M9"), everywhere("consonant")),
    Class("mi against fa on the downbeat", p.struck("A4", "d5", "d8"), everywhere("no-altered-interval")),
    Class("unison inside", p.struck("P1"), everywhere("no-unison")),
    Class("opening on a third", p.at_end("M3", 0), everywhere("opening")),
    Class("opening on a sixth", p.at_end("m6", 0), everywhere("opening")),
    Class("opening on a fifth below", p.below(p.at_end("P5", 0)), everywhere("opening-below")),
    Class("ending on a third", p.at_end("M3", -1), everywhere("ending")),
    Class("ending on a fifth", p.at_end("P5", -1), everywhere("ending")),
    Class("parallel fifths", p.perfects("P5", "P5", 1), everywhere("no-parallels")),
    Class("parallel octaves", p.perfects("P8", "P8", 1), everywhere("no-parallels")),
    Class("fifth and twelfth", p.perfects("P5", "P12", -1), everywhere("same-perfect-in-a-row")),
    Class("octave and unison", p.perfects("P8", "P1", -1), {"1235": "same-perfect-in-a-row"}),
    Class("unison and octave", p.perfects("P1", "P8", -1), everywhere("same-perfect-in-a-row")),
    Class("hidden fifth", p.hidden("P5"), everywhere("direct-perfects")),
    Class("hidden octave", p.hidden("P8"), {"1235": "direct-perfects"}),
    Class("fifths on downbeats", p.from_beat(0, "P5"), {"235": "downbeat-parallels"}),
    Class("octaves on downbeats", p.from_beat(0, "P8"), {"235": "downbeat-parallels"}),
    Class("octaves from the half bar", p.from_beat(2, "P8"), {"35": "half-bar-parallels"}),
    Class("four thirds in a row", p.in_a_row("M3"), {"1": "thirds-in-a-row"}),
    Class("four sixths in a row", p.in_a_row("M6"), {"1": "sixths-in-a-row"}),
    Class("both voices leap one way", p.leaping_together, {"1": "both-leap"}),
    Class("battuta", p.perfects("M10", "P8", -1), {"1": "battuta"}),
    Class("crossing", p.crossing, everywhere("no-crossing")),
    Class("overlap", p.overlapping, {"1235": "no-overlap"}),
    Class("voices far apart", p.far_apart, {"123": "spacing"}),
    Class("cross-relation", p.false_relation, everywhere("cross-relation")),
    Class("dissonance leapt to", p.leapt_to, {"2345": "dissonance"}),
    Class("leap on from a passing note", p.stepped_to("P4"), {"2345": "dissonance"}),
    Class("leap back from a dissonance", p.stepped_to("-P5"), {"2345": "dissonance"}),
    Class("neighbour with the accent", p.with_accent(p.stepped_to("-M2")), {"35": "dissonance"}),
    Class("neighbour note in halves", p.stepped_to("-M2"), {"2": "dissonance"}),
    Class("passing note tied over", p.tied_over(p.stepped_to("M2")), {"45": "dissonance"}),
    Class("suspension without preparation", p.tied_over(p.leapt_to), {"45": "dissonance"}),
    Class("suspension resolved upward", p.resolved_by("M2"), {"45": "resolution"}),
    Class("suspension resolved by leap", p.resolved_by("-M3"), {"45": "resolution"}),
    Class("tied into a seventh from below", p.below(p.tied_into("m7")), {"45": "seventh-to-octave"}),
    Class("octaves put off by a tie", p.put_off, {"45": "delayed-octaves"}),
    Class("cambiata off the accent", p.late_cambiata, {"35": "dissonance"}),
    Class("note split", p.split_inside, {s: rule for s, rule in RHYTHM.items() if s != "5"}),
    Class("last note split", p.split_end, {"1": "note-against-note", "2345": "last-bar-one-note"}),
    Class("rest inside", p.silent, {"12345": "every-voice-sings", **RHYTHM}),
    Class("rest after a tie", p.silent_after_a_tie, {"45": "rest-after-a-tie"}),
    Class("bar of one note", p.whole_bar, {s: rule for s, rule in RHYTHM.items() if s in "235"}),
    Class("entry in the second bar", p.late_entry, {"2345": "begins-in-the-first-bar"}),
    Class("last note tied over", p.tied_to_the_end, {"2345": "last-note-struck"}),
    Class("close without a tie", p.tie_left_out, {"45": "tied-into-the-close"}),
    Class("seventh degree not raised", p.not_raised, everywhere("leading-note")),
    Class("leading note that falls", p.not_rising, everywhere("leading-note-rises")),
    Class("fifth before the end", p.other_close, everywhere("close-above, close-below")),
]
CASES = [(each, species) for each in CLASSES for species in RULESETS if each.rule(species)]


@cache
def rules_of(species: str) -> Ruleset:
    return load_ruleset(RULESETS[species])


@cache
def lines(species: str) -> tuple[p.Line, ...]:
    return tuple(p.counterpoint(figure.exercise) for figure in of_species(species, range(2, 3)))


def told(exercise: Exercise, species: str) -> set[tuple[str, int | None]]:
    """Rule and bar of each finding that nothing excuses."""
    return {(f.rule, f.bar) for f in mark(exercise, rules_of(species)).findings if f.excuse is None}


@pytest.mark.parametrize(("mistakes", "species"), CASES, ids=lambda case: getattr(case, "name", case))
def test_every_mistake_of_a_class_is_told(mistakes: Class, species: str) -> None:
    made = [each for line in lines(species) for n in range(len(line.notes)) if (each := mistakes.way(line, n))]
    assert made
    for exercise, time in Random(mistakes.name).sample(made, min(PLACES, len(made))):
        bar = None if time is None else int(time // p.BAR) + 1
        found = told(exercise, species)
        assert any((rule, bar) in found for rule in mistakes.rule(species)), (exercise.voices, bar, found)
