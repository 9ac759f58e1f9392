"""Note against note by a small set of rules, three ways: as a ruleset, for an outside solver, by hand.

The outside solver is CP-SAT of Google OR-Tools. The models below know nothing of the project: a note is
its diatonic step and its semitone, and the rules are written out again for them.
"""

from collections import Counter
from collections.abc import Iterator, Sequence

from ortools.sat.python import cp_model

Tone = tuple[int, int]  # diatonic step from C4, semitone from C4

REDUCED = """
rule consonant
  "Dissonance."
  for every interval above bass
  require interval is P1 or P5 or P8 or m3 or M3 or m6 or M6
  fault
  source "common practice"

rule parallels
  "Parallel perfect consonances."
  for every move between each pair
  when motion is parallel
  forbid interval is P1 or P5 or P8
  fault
  source "Fux 1725"

rule direct
  "Direct motion to a perfect consonance."
  for every move between each pair
  when interval is P1 or P5 or P8
  forbid motion is similar
  fault
  source "Fux 1725"

rule leaps
  "Not a singable leap."
  for every note in counterpoint
  require approach is repetition or step or exactly m3 or exactly M3 or exactly P4 or exactly P5
    or exactly P8 or rising exactly m6
  fault
  source "common practice"

rule range
  "Wider than a tenth."
  for every line in counterpoint
  forbid ambitus is wider than M10
  fault
  source "common practice"

rule opening
  "No perfect consonance at the start."
  for every interval between cantus and counterpoint
  at first
  require interval is P1 or P5 or P8
  fault
  source "Fux 1725"

rule close
  "No sixth before the end."
  for every interval between cantus and counterpoint
  at last but one
  require interval is sixth
  fault
  source "Fux 1725"

rule ending
  "No octave or unison at the end."
  for every interval between cantus and counterpoint
  at last
  require interval is P1 or P8
  fault
  source "Fux 1725"
"""

_WHITE = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def tone(name: str) -> Tone:
    """A note without alteration, such as ``D4``."""
    octave = int(name[1]) - 4
    return "CDEFGAB".index(name[0]) + 7 * octave, _WHITE[name[0]] + 12 * octave


def white_notes(low: str, high: str) -> list[Tone]:
    """All notes without alteration from one to another."""
    every = [tone(f"{letter}{octave}") for octave in range(2, 7) for letter in _WHITE]
    return sorted(note for note in every if tone(low) <= note <= tone(high))


# Steps and semitones within the octave.
_PERFECT = {(0, 0), (4, 7)}
_CONSONANT = _PERFECT | {(2, 3), (2, 4), (5, 8), (5, 9)}
_MELODIC = {(0, 0), (1, 1), (1, 2), (2, 3), (2, 4), (3, 5), (4, 7), (7, 12)}
_RISING_SIXTH = (5, 8)


def _within_octave(one: Tone, other: Tone) -> Tone:
    return abs(one[0] - other[0]) % 7, abs(one[1] - other[1]) % 12


def together(note: Tone, cantus: Tone, place: int, length: int) -> bool:
    """Whether a note may sound with the cantus at a place (from 0) of so many."""
    interval = _within_octave(note, cantus)
    if place == 0 and interval not in _PERFECT:
        return False
    if place == length - 2 and interval[0] != 5:
        return False
    if place == length - 1 and interval != (0, 0):
        return False
    return interval in _CONSONANT


def follows(note: Tone, then: Tone, cantus: Tone, cantus_then: Tone) -> bool:
    """Whether a note may go on to another while the cantus moves."""
    move = then[0] - note[0], then[1] - note[1]
    if (abs(move[0]), abs(move[1])) not in _MELODIC and move != _RISING_SIXTH:
        return False
    both_rise = move[1] > 0 and cantus_then[1] > cantus[1]
    both_fall = move[1] < 0 and cantus_then[1] < cantus[1]
    return not ((both_rise or both_fall) and _within_octave(then, cantus_then) in _PERFECT)


_TENTH = 9


def count_by_solver(cantus: Sequence[Tone], notes: Sequence[Tone]) -> int:
    """Every solution counted one by one by the outside solver."""
    model, length = cp_model.CpModel(), len(cantus)
    line = [model.new_int_var(0, len(notes) - 1, f"note {place}") for place in range(length)]
    for place, sung in enumerate(cantus):
        fitting = [[i] for i, note in enumerate(notes) if together(note, sung, place, length)]
        model.add_allowed_assignments([line[place]], fitting)
    for place in range(length - 1):
        moves = [
            (i, j)
            for i, note in enumerate(notes)
            for j, then in enumerate(notes)
            if follows(note, then, cantus[place], cantus[place + 1])
        ]
        model.add_allowed_assignments([line[place], line[place + 1]], moves)
    for one in line:
        for other in line:
            if one is not other:
                model.add(one - other <= _TENTH)  # neighbouring notes are one step apart
    solver, found = cp_model.CpSolver(), _Counter()
    solver.parameters.enumerate_all_solutions = True
    solver.parameters.num_workers = 1
    solver.solve(model, found)
    return found.number


class _Counter(cp_model.CpSolverSolutionCallback):
    def __init__(self) -> None:
        super().__init__()
        self.number = 0

    def on_solution_callback(self) -> None:
        self.number += 1


def lines_by_trying(cantus: Sequence[Tone], notes: Sequence[Tone]) -> Iterator[tuple[Tone, ...]]:
    """Every line, one by one, note after note."""

    def go_on(line: tuple[Tone, ...]) -> Iterator[tuple[Tone, ...]]:
        place = len(line)
        if place == len(cantus):
            yield line
            return
        for note in notes:
            if not together(note, cantus[place], place, len(cantus)):
                continue
            if line and not follows(line[-1], note, cantus[place - 1], cantus[place]):
                continue
            longer = (*line, note)
            if max(longer)[0] - min(longer)[0] <= _TENTH:
                yield from go_on(longer)

    return go_on(())


def count_by_hand(cantus: Sequence[Tone], notes: Sequence[Tone]) -> int:
    """The count by a table over note, lowest and highest so far: what one would write for these rules alone."""
    length = len(cantus)
    ways: Counter[tuple[Tone, Tone, Tone]] = Counter(
        {(note, note, note): 1 for note in notes if together(note, cantus[0], 0, length)}
    )
    for place in range(1, length):
        later: Counter[tuple[Tone, Tone, Tone]] = Counter()
        fitting = [note for note in notes if together(note, cantus[place], place, length)]
        for (note, low, high), number in ways.items():
            for then in fitting:
                if follows(note, then, cantus[place - 1], cantus[place]):
                    lowest, highest = min(low, then), max(high, then)
                    if highest[0] - lowest[0] <= _TENTH:
                        later[then, lowest, highest] += number
        ways = later
    return sum(ways.values())
