"""The exercise that the tests of pages are about."""

from rulekit import mark
from rulekit.exercise.notation import read_exercises
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Marked

FAULTY = """\
exercise: Runa Tveit, the lock gate
mode: C ionian
upper  G4 G4 G4 G4 A4 A4 B4 G4 G#4 C5
cantus C4 E4 D4 G4 F4 A4 G4 E4 D4  C4
"""


def marked_text(text: str, ruleset: Ruleset) -> Marked:
    (exercise,), problems = read_exercises(text)
    assert not problems
    return mark(exercise, ruleset)
