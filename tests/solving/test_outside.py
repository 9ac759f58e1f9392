"""The graph against a solver from outside the project (CP-SAT of OR-Tools) and its hand-written model."""

import pytest

from rulekit.language.loading import load_text
from rulekit.solving import folds
from rulekit.solving.graph import build
from tests.solving.cases import over
from tests.solving.outside import REDUCED, count_by_hand, count_by_solver, lines_by_trying, tone, white_notes

# The first is ours. The second is the cantus firmus in D of J. J. Fux, Gradus ad Parnassum (Vienna 1725),
# book II, exercise I (figure 5 in Mann's numbering).
CANTUS = {"our own": "D4 A4 G4 F4 E4 D4", "Fux in D": "D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4"}


@pytest.mark.parametrize(
    ("cantus", "low", "high", "below"),
    [("our own", "C4", "G5", False), ("our own", "A2", "E4", True), ("Fux in D", "A4", "F5", False),
     ("Fux in D", "C4", "G5", False)],
)  # fmt: skip
def test_counts_are_the_solvers(cantus: str, low: str, high: str, below: bool) -> None:
    names = CANTUS[cantus].split()
    sung, notes = [tone(name) for name in names], white_notes(low, high)
    counted = folds.count(build(over(load_text(REDUCED), CANTUS[cantus], low, high, below=below)))
    assert counted == count_by_hand(sung, notes) > 0
    assert counted == sum(1 for _ in lines_by_trying(sung, notes))
    assert counted == count_by_solver(sung, notes)
