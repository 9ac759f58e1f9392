"""The reverse of the figures: one note of Fux's counterpoint moved at random is nearly always noticed."""

import random
from dataclasses import replace

import pytest

from rulekit.exercise.model import Exercise
from rulekit.language.loading import load_ruleset
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.pitch import Pitch, pitch_name, pitch_of
from tests.rulesets.figures import judged_by, of_species

TRIES = 40
LETTERS = "CDEFGAB"


def moved(pitch: Pitch, steps: int) -> Pitch:
    """So many steps up or down, to the natural note there."""
    name = pitch_name(pitch)
    place = LETTERS.index(name[0]) + 7 * int(name[-1]) + steps
    return pitch_of(LETTERS[place % 7] + str(place // 7))


def changed(exercise: Exercise, draw: random.Random) -> Exercise:
    """One note of the counterpoint, with what is tied to it, moved by up to a fifth."""
    at = draw.choice([i for i in range(len(exercise.voices)) if i != exercise.cantus])
    events = list(exercise.voices[at].events)
    start = end = draw.choice([i for i, event in enumerate(events) if event.pitch is not None])
    while start and events[start - 1].tie:
        start -= 1
    while events[end].tie:
        end += 1
    pitch = events[start].pitch
    assert pitch is not None
    new = moved(pitch, draw.choice([-4, -3, -2, -1, 1, 2, 3, 4]))
    events[start : end + 1] = [replace(event, pitch=new) for event in events[start : end + 1]]
    voices = list(exercise.voices)
    voices[at] = replace(voices[at], events=tuple(events))
    return replace(exercise, voices=tuple(voices))


def told(exercise: Exercise, ruleset: Ruleset) -> set[tuple[str, int | None]]:
    """The faults and warnings that no licence excuses."""
    findings = mark(exercise, ruleset).findings
    return {(f.rule, f.bar) for f in findings if f.excuse is None and f.severity != "advice"}


LEAST = {"1": 0.85, "2": 0.75, "3": 0.75, "4": 0.75, "5": 0.75}


@pytest.mark.parametrize("voices", [2, 3, 4])
@pytest.mark.parametrize(("species", "least"), LEAST.items())
def test_a_moved_note_is_noticed(species: str, least: float, voices: int) -> None:
    draw = random.Random(1725)
    figures = of_species(species, range(voices, voices + 1))
    rules = load_ruleset(judged_by(figures[0]))
    noticed = [
        bool(told(changed(figure.exercise, draw), rules) - told(figure.exercise, rules))
        for figure in figures
        for _ in range(TRIES)
    ]
    assert sum(noticed) / len(noticed) >= least, sum(noticed) / len(noticed)
