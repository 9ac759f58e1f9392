"""Fux's own lines over his cantus firmi are in the space that the strict ruleset allows."""

import pytest

from rulekit.exercise.model import ALLA_BREVE, Compass, Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset, load_text
from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.mode import Mode, mode_of
from rulekit.solving import folds
from rulekit.solving.graph import build
from rulekit.solving.problem import over_cantus, with_notes
from tests.solving.cases import membership, voice

# J. J. Fux, Gradus ad Parnassum (Vienna 1725), book II, exercise I; figure numbers as in Mann's edition.
# The final, the counterpoint, the cantus, and whether the cantus lies above.
FIGURES = {
    5: ("D", "A4 A4 G4 A4 B4 C5 C5 B4 D5 C#5 D5", "D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4", False),
    6: ("D", "D3 D3 A3 F3 E3 D3 F3 C4 D4 C#4 D4", "D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4", True),
    11: ("E phrygian", "B4 C5 F4 G4 A4 C5 B4 E5 D5 E5", "E4 C4 D4 C4 A3 A4 G4 E4 F4 E4", False),
    15: ("G mixolydian", "G4 E4 D4 G4 G4 G4 A4 B4 G4 C5 A4 G4 F#4 G4",
         "G3 C4 B3 G3 C4 E4 D4 G4 E4 C4 D4 B3 A3 G3", False),
    23: ("A aeolian", "A3 A3 G3 F3 E3 E3 D3 C3 G3 A3 G#3 A3", "A3 C4 B3 D4 C4 E4 F4 E4 D4 C4 B3 A3", True),
}  # fmt: skip


def read(number: int) -> tuple[Exercise, Mode]:
    final, line, cantus, above = FIGURES[number]
    mode = mode_of(final if " " in final else f"{final} dorian")
    own = voice("lower" if above else "upper", line)
    voices = (voice("cantus", cantus), own) if above else (own, voice("cantus", cantus))
    return Exercise(f"figure {number}", voices, mode, ALLA_BREVE, 0 if above else 1), mode


@pytest.fixture(scope="module")
def strict() -> Ruleset:
    return load_ruleset("first-species-strict")


@pytest.mark.parametrize("number", FIGURES)
def test_a_figure_is_in_the_space_just_if_it_has_no_fault(number: int, strict: Ruleset) -> None:
    figure, mode = read(number)
    own = 1 - (figure.cantus or 0)
    line = [event.pitch for event in figure.voices[own].events if event.pitch is not None]
    problem = over_cantus(
        strict, figure.voices[1 - own], mode, [Compass("free", min(line), max(line))], cantus_index=1 - own
    )
    given = with_notes(problem, own, dict(enumerate(line)))
    result = mark(figure, strict)
    costed = build(given, costed=True)
    assert folds.count(costed) == (not result.faults)
    assert list(folds.count_by_cost(costed)) == ([] if result.faults else [result.lost])


def test_the_first_figure_has_no_fault(strict: Ruleset) -> None:
    assert not mark(read(5)[0], strict).faults


def test_tied_halves_are_in_their_own_space() -> None:
    """Figure 73, in the fourth species (as read from a machine encoding of the treatise's examples)."""
    text = (
        "mode: D\n"
        "upper r/2 A4~ | A4 D5~ | D5 C5~ | C5 Bb4~ | Bb4 G4 | A4 C5~ | C5 F5~ | F5 E5~ | E5 D5~ | D5 C#5 | D5/1\n"
        "cantus D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4\n"
    )
    (figure,), problems = read_exercises(text)
    assert not problems
    rules = load_text(_SUSPENSIONS)
    assert not mark(figure, rules).faults
    assert folds.count(build(membership(rules, figure))) == 1
    apart = text.replace("~", "")
    (untied,), _ = read_exercises(apart)
    assert mark(untied, rules).faults
    assert folds.count(build(membership(rules, untied))) == 0


_SUSPENSIONS = """
rule dissonance
  "A dissonance that is not held over."
  for every interval between cantus and counterpoint
  taken on downbeats
  except at first
  forbid interval is second or P4 or A4 or d5 or seventh
  excused as prepared when counterpoint is held and departure from counterpoint is falling step
    "it is prepared and resolved"
  fault
  source "Fux 1725"

rule tied
  "Not tied."
  for every note in counterpoint
  when it is off the downbeat
  except at last but one
  require it is tied
  excused as broken-chain when bar is 5 "the chain is broken here"
  fault
  source "Fux 1725"
"""
