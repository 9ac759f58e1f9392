"""Mistakes planted in the melodies of Fux's figures: the rules of a cantus firmus tell each where it was made."""

from functools import cache

import pytest

from rulekit.exercise.model import Exercise
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark
from rulekit.music.pitch import interval_of
from tests.rulesets import planting as p
from tests.rulesets.figures import FIGURES, SLIPS

CANTUS = load_ruleset("cantus-firmus")


def last_leapt_to(line: p.Line, number: int) -> p.Planted:
    """The last note but one a fourth over the last."""
    if number != len(line.notes) - 1:
        return None
    return line.put({number - 1: line.notes[number].pitch + interval_of("P4")}), line.notes[number].start


def off_the_final(place: int) -> p.Way:
    """The first or the last note a third lower."""

    def plant(line: p.Line, number: int) -> p.Planted:
        if number != place % len(line.notes):
            return None
        note = line.notes[number]
        return line.put({number: note.pitch - interval_of("m3")}), note.start

    return plant


def second_summit(line: p.Line, number: int) -> p.Planted:
    """The highest note once more."""
    top = max(note.pitch for note in line.notes)
    if not p.inside(line, number) or line.notes[number].pitch == top:
        return None
    return line.put({number: top}), None


CLASSES = {
    "tritone leap": (p.leap("A4"), "singable-cantus"),
    "leap of a seventh": (p.leap("m7", -1), "singable-cantus"),
    "major sixth": (p.leap("M6"), "singable-cantus"),
    "minor sixth down": (p.leap("m6", -1), "singable-cantus"),
    "augmented second": (p.leap("A2"), "singable-cantus"),
    "leap of a ninth": (p.leap("M9"), "cantus-leap-too-wide"),
    "note repeated": (p.leap("P1"), "no-repetition"),
    "note foreign to the mode": (p.leap("A1"), "only-notes-of-the-mode"),
    "octave that goes on": (p.run("P8", "M2", told=1), "cantus-recovers"),
    "run through a tritone": (p.run("-M2", "M2", "M2", "M2", "-M2", told=4), "cantus-tritone"),
    "too wide a melody": (p.out_of_range, "cantus-range-kept"),
    "two summits": (second_summit, "one-summit"),
    "opening off the final": (off_the_final(0), "starts-on-final"),
    "ending off the final": (off_the_final(-1), "ends-on-final"),
    "leap to the end": (last_leapt_to, "falls-to-the-end"),
    "note split": (p.split, "in-whole-notes"),
}


@cache
def lines() -> tuple[p.Line, ...]:
    """The cantus of each figure, beside another voice."""
    sound = [figure.exercise for figure in FIGURES if figure.number not in SLIPS]
    return tuple(p.Line(each, each.cantus or 0, int(not each.cantus)) for each in sound)


def told(exercise: Exercise) -> set[tuple[str, int | None]]:
    return {(finding.rule, finding.bar) for finding in mark(exercise, CANTUS).findings}


@pytest.mark.parametrize("name", CLASSES)
def test_every_mistake_of_a_class_is_told(name: str) -> None:
    way, rule = CLASSES[name]
    made = [(line, *each) for line in lines() for n in range(len(line.notes)) if (each := way(line, n))]
    new = 0
    for line, exercise, time in made:
        wanted = (rule, None if time is None else int(time // p.BAR) + 1)
        if wanted not in told(line.exercise):
            assert wanted in told(exercise), exercise.voices
            new += 1
    assert new
