"""Searches small enough to try every line, and rules of every kind to search with."""

from fractions import Fraction
from itertools import product

from hypothesis import strategies as st

from rulekit.diagnostics import RulekitError
from rulekit.exercise.model import ALLA_BREVE, Compass, Event, Exercise, Voice
from rulekit.language.loading import load_text
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Marked, mark
from rulekit.music.mode import mode_of
from rulekit.music.pitch import Pitch, pitch_of
from rulekit.solving.folds import Line
from rulekit.solving.problem import Problem, as_given, over_cantus, problem
from tests.laws.strategies import DEFINITIONS, rules

D_DORIAN = mode_of("D dorian")

# One rule for each way that the compiler keeps a rule: looking back, ahead, at later and earlier notes, at
# runs, counts, ranges, shares, at downbeats only, with licences, on one voice, on pairs, on moments.
POOL = {
    "consonances": "for every interval above bass\n forbid interval is m2 or M2 or P4 or m7 or M7",
    "no-unison": "for every interval between each pair\n except at first or last\n forbid interval is unison",
    "opening": "for every interval between cantus and counterpoint\n at first\n require interval is P1 or P5 or P8",
    "parallels": "for every move between each pair\n when motion is parallel\n forbid interval is P5 or P8",
    "direct": "for every move between each pair\n when interval is P5 or P8\n forbid motion is similar\n"
    ' excused as upper-step when approach to upper is step "the upper voice moves by step"\n'
    ' excused as close when it is last "it is the close"',
    "skips": "for every note in counterpoint\n forbid approach is leap and departure is leap",
    "turn": "for every note in counterpoint\n when approach is leap\n"
    " require direction of departure is opposite of direction of approach\n"
    ' excused as end when departure from note after it is missing "the line ends"',
    "two-later": "for every interval between cantus and counterpoint\n when interval is third\n"
    " forbid approach of note 2 after counterpoint is leap",
    "two-earlier": "for every move between each pair\n forbid pitch of note 2 before upper is pitch of upper",
    "earlier-move": "for every interval between cantus and counterpoint\n"
    " forbid approach of note before counterpoint is leap and interval is sixth",
    "thirds": "for every interval between cantus and counterpoint\n"
    " forbid run where (interval is third) is more than 1",
    "same-move": "for every note in counterpoint\n forbid run with same (direction of approach) is more than 2",
    "same-move-before": "for every note in counterpoint\n"
    " forbid run with same (approach to note before it) is more than 1",
    "same-pitch": "for every note in counterpoint\n forbid number so far with same pitch is more than 1",
    "same-size": "for every interval between cantus and counterpoint\n"
    " forbid number so far with same (size of interval) is more than 2",
    "same-motion": "for every move between each pair\n forbid run with same (motion) is more than 1",
    "outline": "for every note in counterpoint\n"
    " forbid span between pitch where last (approach is leap) and it is A4 or d5 or seventh",
    "climax": "for every line in counterpoint\n require climax-count is 1",
    "climaxes-apart": "for every pair between cantus and counterpoint\n forbid climax of upper is climax of lower",
    "range": "for every line in counterpoint\n forbid ambitus is wider than P4",
    "highest": "for every line in counterpoint\n require highest is higher than pitch F4",
    "lowest": "for every line in counterpoint\n forbid lowest is pitch D4",
    "steps": "for every line in counterpoint\n"
    " require number of notes where (approach is step) is more than number of notes where (approach is leap)",
    "few-leaps": "for every line in counterpoint\n forbid number of notes where (approach is leap) is more than 1",
    "ahead-counted": "for every line in counterpoint\n"
    " forbid number of notes where (departure is leap and departure from note after it is step) is at least 1",
    "contrary": "for every pair between cantus and counterpoint\n"
    " require share of moves where (motion is contrary or oblique) is at least 50%",
    "longest": "for every exercise\n forbid longest run of intervals where (interval is third) is at least 3",
    "timing": "for every line in counterpoint\n"
    " forbid climax is time of last notes where (it is last)",
    "leap-first": "for every line in counterpoint\n"
    " forbid time of first notes where (approach is leap) is earlier than time of first notes where (approach is step)",
    "afterbeats": "for every move between cantus and counterpoint\n taken off downbeats\n when interval is P5 or P8\n"
    " forbid motion is parallel",
    "downbeats": "for every interval between cantus and counterpoint\n taken on downbeats\n when interval is P5 or P8\n"
    " forbid previous interval is P5 or P8",
    "full": "for every sonority\n except at first or last\n"
    " require (some interval above bass is third) or (every note in upper voices is not off the downbeat)",
    "moment-bass": "for every sonority\n forbid degree of bass is 7 and degree of previous bass is 7",
    "bass-change": "for every move between each pair\n forbid previous interval is on-bass and it is crossed",
    "close": "for every interval between cantus and counterpoint\n"
    " at last but one\n require interval is sixth or third",
    "figure": "for every note in counterpoint\n forbid it begins step then third",
    "held": "for every interval between cantus and counterpoint\n"
    " when cantus is held\n require approach to counterpoint is step",
    "not-tied": "for every note in counterpoint\n forbid it is tied and approach is step",
    "tied-dissonance": "for every interval between cantus and counterpoint\n when counterpoint is held\n"
    " forbid interval is third and departure from counterpoint is not falling step",
    "fresh": "for every note in counterpoint\n when it is after-rest\n require it is off the downbeat",
    "from-a-rise": "for every interval between cantus and counterpoint\n when approach to cantus is rising\n"
    " forbid departure from cantus is falling leap and departure from counterpoint is repetition",
}  # fmt: skip

_GRADES = ["fault", "fault", "warning", "warning, 3 points, at most 5", "warning, 2 points, once", "advice, 1 point"]


def ruleset(*rules: tuple[str, str]) -> Ruleset:
    """Rules of the pool, each by its name and grade."""
    texts = [f'rule {name}\n "Broken."\n {POOL[name]}\n {grade}\n source "common practice"' for name, grade in rules]
    return load_text("\n\n".join(texts))


grades = st.sampled_from(_GRADES)
pooled = st.dictionaries(st.sampled_from(sorted(POOL)), grades, min_size=1, max_size=5).map(
    lambda chosen: ruleset(*chosen.items())
)


@st.composite
def written(draw: st.DrawFn) -> Ruleset:
    """Rules written at random over the whole language."""
    texts = [draw(rules(f"rule-{n}")).replace("  fault", f"  {draw(grades)}") for n in ("one", "two")]
    accepted = [text for text in texts if _loads(text)]
    return load_text(DEFINITIONS + "\n".join(accepted))


def _loads(text: str) -> bool:
    try:
        load_text(DEFINITIONS + text)
    except RulekitError:
        return False
    return True


def voice(name: str, notes: str) -> Voice:
    """A voice of whole notes."""
    return Voice(name, tuple(Event(pitch_of(note), Fraction(4)) for note in notes.split()))


def compass(low: str, high: str) -> Compass:
    """A range."""
    return Compass("free", pitch_of(low), pitch_of(high))


# The lengths of the free voices' notes in quarters (negative: a rest; with a half added: tied to the next), the
# bars of the cantus, and how many pitches a note of each free voice may have.
_SHAPES: list[tuple[list[list[float]], int, list[int]]] = [
    ([[4, 4, 4, 4]], 4, [4]),
    ([[4, 4, 4, 4, 4, 4]], 6, [2]),
    ([[2, 2, 2, 2, 4]], 3, [3]),
    ([[4, 4, 4], [4, 4, 4]], 3, [3, 2]),
    ([[2, 2, 2, 4], [4, 2, 4]], 3, [2, 2]),
    ([[2, 4, 4, 2], [6, 2, 4]], 3, [2, 2]),
    ([[-2, 2, 2, 2, 4], [4, 4, 4]], 3, [2, 2]),
    ([[-2, 2.5, 2, 2.5, 2, 2, 4]], 4, [3]),
    ([[2, -2, 4.5, 2, -2, 4]], 4, [3]),
    ([[2.5, 2, 2, -2, 4], [-4, 2, 2.5, 4]], 3, [2, 2]),
]


@st.composite
def problems(draw: st.DrawFn, rulesets: st.SearchStrategy[Ruleset]) -> Problem:
    """A search with one or two free voices round a short cantus, in one of several rhythms."""
    chosen = draw(rulesets)
    rhythms, bars, choices = draw(st.sampled_from(_SHAPES))
    scale = D_DORIAN.pitches(pitch_of("C4"), pitch_of("E5"))
    near: list[list[Pitch]] = []
    voices: list[Voice] = []
    for index, (rhythm, number) in enumerate(zip(rhythms, choices, strict=True), 1):
        pitches = st.lists(st.sampled_from(scale), min_size=number, max_size=number, unique=True)
        near.append(sorted(draw(pitches)))
        voices.append(Voice(f"voice-{index}", _open(rhythm)))
    cantus = draw(st.lists(st.sampled_from(scale[:7]), min_size=bars, max_size=bars))
    at = draw(st.integers(0, len(rhythms)))
    voices.insert(at, Voice("cantus", tuple(Event(pitch, Fraction(4)) for pitch in cantus)))
    near.insert(at, [])
    sketch = Exercise("", tuple(voices), D_DORIAN, ALLA_BREVE, at)
    return problem(chosen, sketch, lambda number, event: as_given(event) or near[number])


def _open(rhythm: list[float]) -> tuple[Event, ...]:
    """Notes to be found of these lengths in quarters; a negative one is a rest, a half one is tied to the next."""
    return tuple(Event(None, Fraction(int(abs(n))), n % 1 != 0, n > 0) for n in rhythm)


def over(
    rules_: Ruleset, cantus: str, low: str, high: str, *, below: bool = False, species: int = 1, altered: bool = False
) -> Problem:
    """One free voice in a range over (or under) a cantus in D dorian."""
    at = 0 if below else 1
    return over_cantus(
        rules_, voice("cantus", cantus), D_DORIAN, [compass(low, high)],
        cantus_index=at, species=species, altered=altered,
    )  # fmt: skip


def every_line(problem: Problem) -> list[Line]:
    """Every choice of notes, allowed or not."""
    per_voice = [list(product(*(slot.choices for slot in line))) for line in problem.lines]
    return list(product(*per_voice))


def marked(problem: Problem, line: Line) -> Marked:
    """A line, marked by the problem's ruleset."""
    return mark(problem.exercise(line), problem.ruleset)


def allowed(problem: Problem) -> dict[Line, int]:
    """Every line without an unexcused fault, found by marking each, with the points it loses."""
    found: dict[Line, int] = {}
    for line in every_line(problem):
        result = marked(problem, line)
        if not result.faults:
            found[line] = result.lost
    return found


def membership(ruleset: Ruleset, exercise: Exercise) -> Problem:
    """The search in which every note is given."""
    return problem(ruleset, exercise, lambda _, event: as_given(event))
