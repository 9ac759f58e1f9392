"""Mistakes planted in Fux's figures in three and four voices, a class of them at a time, on each voice and pair.

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
from tests.rulesets import planting_several as s
from tests.rulesets.figures import FIGURES, SLIPS, Figure, judged_by
from tests.rulesets.planting import Class

PLACES = 6  # of each class in each species, drawn from all where it can be made
MIXED = "m"  # as a species: each voice in its own
EACH = "12345" + MIXED
LATER = EACH[1:]
RHYTHM = {"2": "half-notes", "3": "quarter-notes", "4": "tied-halves", "5": "florid-bars"}


def on_each_pair(name: str, way: p.Way, rule: str, species: str, inner: str) -> list[Class]:
    """A class for each kind of pair in some species; between inner voices in those where it can be made."""
    return [
        Class(f"{name}, outer voices", s.outer(way), {species: rule}),
        Class(f"{name}, inner and outer voice", s.outer_and_inner(way), {species: rule}),
        Class(f"{name}, inner voices", s.inner(way), {inner: rule}),
    ]


def upper_and_bass(name: str, way: p.Way, rules: dict[str, str]) -> list[Class]:
    """A class for a line over the bass, and one for the bass."""
    return [
        Class(f"{name}, upper voice", s.over_bass(way), rules),
        Class(f"{name}, bass", s.in_bass(way), rules),
    ]


CLASSES = [
    # what is struck together
    Class("fourth above the bass", s.with_bass(p.struck("P4", "P11")), {EACH: "consonant"}),
    Class("second or seventh above the bass", s.with_bass(p.struck("M2", "m7", "M9")), {EACH: "consonant"}),
    Class("mi against fa above the bass", s.with_bass(p.struck("A4", "d5", "d8")), {EACH: "no-altered-interval"}),
    Class("second between upper voices", s.above_bass(p.struck("M2", "m2", "M9")), {EACH: "upper-voices-agree"}),
    Class("seventh between upper voices", s.above_bass(p.struck("m7", "M7")), {EACH: "upper-voices-agree"}),
    Class("mi against fa between upper voices", s.above_bass(p.struck("d8", "A8")), {EACH: "upper-voices-agree"}),
    Class("no third and no sixth", s.emptied, {"1235m": "third-or-sixth"}),
    Class("doubled leading note", s.doubled_leading_note, {"1234m": "doubled-leading-note"}),
    Class("unison inside, three voices", s.in_three(p.struck("P1")), {EACH: "unison-of-two"}),
    Class("opening on a sixth", s.over_bass(p.at_end("m6", 0)), {EACH: "consonant-opening"}),
    Class("ending on a sixth", s.over_bass(p.at_end("m6", -1)), {EACH: "consonant-ending"}),
    Class("ending on a fourth", s.over_bass(p.at_end("P4", -1)), {EACH: "consonant-ending"}),
    Class("ending on a minor third", s.over_bass(p.at_end("m3", -1)), {EACH: "minor-third-at-the-end"}),
    Class("bass opens off the final", s.in_bass(s.bass_at(0, "M3")), {EACH: "bass-on-final, bass-enters-on-final"}),
    Class("bass ends off the final", s.in_bass(s.bass_at(-1, "P5")), {EACH: "bass-on-final, bass-enters-on-final"}),
    # motion
    *on_each_pair("parallel fifths", p.perfects("P5", "P5", 1), "no-parallels", EACH, EACH),
    *on_each_pair("parallel octaves", p.perfects("P8", "P8", 1), "no-parallels", EACH, EACH),
    *on_each_pair("parallel unisons", p.perfects("P1", "P1", 1), "no-parallels", EACH, EACH),
    *on_each_pair("hidden fifth", s.uncovered(p.hidden("P5")), "direct-perfects", EACH, "1234m"),
    *on_each_pair("hidden octave", s.uncovered(p.hidden("P8")), "direct-perfects", EACH, "13m"),
    *on_each_pair("fifths on downbeats", p.from_beat(0, "P5"), "downbeat-parallels", "235", "3"),
    *on_each_pair("octaves on downbeats", p.from_beat(0, "P8"), "downbeat-parallels", "235", "3"),
    *on_each_pair("octaves from the half bar", p.from_beat(2, "P8"), "half-bar-parallels", "35", "35"),
    Class("three voices leap one way", s.in_three(s.alone(s.leaping_three)), {"1235m": "all-leap"}),
    Class("crossing", s.neighbours(p.crossing), {EACH: "no-crossing"}),
    Class("overlap", s.neighbours(p.overlapping), {EACH: "no-overlap"}),
    Class("neighbours far apart", s.neighbours(p.far_apart), {EACH: "spacing"}),
    Class("cross-relation with the bass", s.with_bass(p.false_relation), {EACH: "cross-relation"}),
    Class("cross-relation between upper voices", s.above_bass(p.false_relation), {EACH: "cross-relation"}),
    # the line of each voice
    *upper_and_bass("tritone leap", p.leap("A4"), {EACH: "melodic-intervals"}),
    *upper_and_bass("diminished fifth down", p.leap("d5", -1), {EACH: "melodic-intervals"}),
    *upper_and_bass("leap of a seventh", p.leap("m7"), {EACH: "melodic-intervals"}),
    *upper_and_bass("augmented second", p.leap("A2"), {EACH: "melodic-intervals"}),
    *upper_and_bass("major sixth", p.leap("M6"), {EACH: "melodic-intervals"}),
    *upper_and_bass("leap of a ninth", p.leap("M9", -1), {EACH: "leap-too-wide"}),
    *upper_and_bass("chromatic semitone", p.leap("A1"), {EACH: "no-chromatic-semitone"}),
    *upper_and_bass("wide leap that goes on", p.run("P5", "M2", told=1), {EACH: "leap-recovery"}),
    *upper_and_bass("three leaps one way", p.run("M3", "m3", "M3", told=3), {EACH: "three-leaps"}),
    *upper_and_bass("two leaps over a seventh", p.run("P4", "P4", told=2), {EACH: "leaps-together"}),
    *upper_and_bass("outlined tritone", p.run("-M2", "M2", "M2", "M2", "-M2", told=4), {EACH: "outlined-tritone"}),
    *upper_and_bass("too wide a line", p.out_of_range, {EACH: "widest-line"}),
    Class("note foreign to the mode", s.alone(p.foreign), {EACH: "only-known-alterations"}),
    Class("note repeated", s.alone(s.moving(p.again)), {LATER: "repetition"}),
    Class("note five times", s.alone(s.still(s.repeated_five_times)), {EACH: "repetition, standing-still"}),
    # off the downbeat
    Class("dissonance leapt to over the bass", s.with_bass(s.moving(p.leapt_to)), {LATER: "dissonance"}),
    Class(
        "dissonance leapt to above the bass",
        s.above_bass(s.unclean(s.moving(p.leapt_to))),
        {LATER: "upper-voices-pass"},
    ),
    Class("leap on from a passing note", s.with_bass(s.moving(p.stepped_to("P4"))), {LATER: "dissonance"}),
    Class(
        "leap on, above the bass", s.above_bass(s.unclean(s.moving(p.stepped_to("P4")))), {LATER: "upper-voices-pass"}
    ),
    Class("leap back from a dissonance", s.with_bass(s.moving(p.stepped_to("-P5"))), {LATER: "dissonance"}),
    Class("neighbour with the accent", s.with_bass(s.moving(p.with_accent(p.stepped_to("-M2")))), {"35": "dissonance"}),
    Class("neighbour note in halves", s.with_bass(s.moving(p.stepped_to("-M2"))), {"2": "dissonance"}),
    Class("passing note tied over", s.with_bass(p.tied_over(p.stepped_to("M2"))), {"45": "dissonance"}),
    Class("suspension without preparation", s.with_bass(p.tied_over(p.leapt_to)), {"45": "dissonance"}),
    Class("unprepared, above the bass", s.above_bass(s.unclean(p.tied_over(p.leapt_to))), {"45": "upper-voices-pass"}),
    Class("suspension resolved upward", s.with_bass(p.resolved_by("M2")), {"45": "resolution"}),
    Class("suspension resolved by leap", s.with_bass(p.resolved_by("-M3")), {"45": "resolution"}),
    Class("resolved upward, above the bass", s.above_bass(s.unclean(p.resolved_by("M2"))), {"45": "resolution"}),
    Class("tied against an upper voice", s.above_bass(s.tied_against("M2", "m7")), {"45": "resolution"}),
    Class("tied into a seventh from below", s.with_bass(p.below(p.tied_into("m7"))), {"45": "seventh-to-octave"}),
    *on_each_pair("octaves put off by a tie", p.put_off, "delayed-octaves", "45", "4"),
    Class("cambiata off the accent", s.with_bass(p.late_cambiata), {"35": "dissonance"}),
    # rhythm
    Class(
        "note split in the moving voice",
        s.alone(s.moving(p.split_inside)),
        {n: rule for n, rule in RHYTHM.items() if n != "5"},
    ),
    Class(
        "note split in a whole-note voice",
        s.alone(s.still(p.split_inside)),
        {"1": "note-against-note", "23": "whole-notes-beside"},
    ),
    Class(
        "the same in three voices with ties",
        s.in_three(s.alone(s.still(p.split_inside))),
        {"45m": "whole-notes-beside"},
    ),
    Class(
        "last note split",
        s.alone(p.split_end),
        {"1": "note-against-note", LATER: "last-bar-one-note, whole-notes-beside"},
    ),
    Class("bar of one note", s.alone(s.moving(p.whole_bar)), {n: rule for n, rule in RHYTHM.items() if n in "235"}),
    Class(
        "rest inside",
        s.alone(s.moving(p.silent)),
        {
            "235m": "every-voice-sings",
            **{n: rule for n, rule in RHYTHM.items() if n != "4"},
            MIXED: "keeps-to-halves, keeps-to-quarters, keeps-to-ties, keeps-florid",
        },
    ),
    Class("bar of rest", s.alone(s.still(s.silent_bar)), {EACH: "every-voice-sings"}),
    Class("rest after a tie", s.alone(p.silent_after_a_tie), {"45": "rest-after-a-tie"}),
    Class("entry in the second bar", s.alone(s.moving(p.late_entry)), {LATER: "begins-in-the-first-bar"}),
    Class("last note tied over", s.alone(s.moving(p.tied_to_the_end)), {LATER: "last-note-struck"}),
    Class("halves broken into quarters", s.alone(s.moving(s.in_quarters)), {MIXED: "keeps-to-halves, keeps-to-ties"}),
    Class("quarters joined to a half", s.alone(s.in_halves), {MIXED: "keeps-to-quarters"}),
    # the close
    Class("close without a tie", s.alone(s.moving(p.tie_left_out)), {"45": "tied-close-of-several"}),
    Class("seventh degree not raised", s.alone(p.not_raised), {EACH: "leading-note"}),
    Class("leading note that falls", s.alone(p.not_rising), {EACH: "leading-note-rises"}),
]
CASES = [(each, species) for each in CLASSES for species in EACH if each.rule(species)]


def figures(species: str) -> list[Figure]:
    """The figures in several voices of a species; for mixed ones, all with one voice in motion and more."""
    sound = [figure for figure in FIGURES if figure.voices > 2 and figure.number not in SLIPS]
    return [each for each in sound if (each.species != "1" if species == MIXED else each.species == species)]


@cache
def rules_of(species: str) -> Ruleset:
    if species == MIXED:
        return load_ruleset(["fifth-species-strict", "mixed-species", "several-voices"])
    return load_ruleset(judged_by(figures(species)[0]))


@cache
def lines(species: str) -> tuple[p.Line, ...]:
    return tuple(line for figure in figures(species) for line in s.lines_of(figure.exercise))


def told(exercise: Exercise, species: str) -> set[tuple[str, int | None]]:
    """Rule and bar of each finding that nothing excuses."""
    return {(f.rule, f.bar) for f in mark(exercise, rules_of(species)).findings if f.excuse is None}


def made(mistakes: Class, species: str) -> list[tuple[p.Line, Exercise, int | None]]:
    """Every way to make a mistake of a class: the line, the exercise with it, and in which bar it is to be told."""
    found = (
        (line, *each) for line in lines(species) for n in range(len(line.notes)) if (each := mistakes.way(line, n))
    )
    return [(line, spoilt, None if time is None else int(time // p.BAR) + 1) for line, spoilt, time in found]


@pytest.mark.parametrize(("mistakes", "species"), CASES, ids=lambda case: getattr(case, "name", case))
def test_every_mistake_of_a_class_is_told(mistakes: Class, species: str) -> None:
    """By one of its rules, which told nothing there before the mistake was made."""
    every = made(mistakes, species)
    tried = 0
    for line, exercise, bar in Random(mistakes.name).sample(every, len(every)):
        wanted = {(rule, bar) for rule in mistakes.rule(species)}
        if wanted & told(line.exercise, species):
            continue
        found = told(exercise, species)
        assert wanted & found, (exercise.voices, bar, found)
        tried += 1
        if tried == PLACES:
            break
    assert tried


def test_there_are_enough_classes() -> None:
    assert len({each.name for each in CLASSES}) == len(CLASSES) >= 80
