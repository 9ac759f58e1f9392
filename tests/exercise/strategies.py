"""Exercises of every kind that the typed notation can hold, for the property tests."""

from fractions import Fraction

from hypothesis import strategies as st

from rulekit.exercise.infer import compass_of
from rulekit.exercise.model import Compass, Event, Exercise, Metre, Voice
from rulekit.music.mode import MODE_NAMES, Mode
from rulekit.music.pitch import Pitch, make_pitch

LENGTHS = [Fraction(8, 2**n) * dots for n in range(6) for dots in (1, Fraction(3, 2), Fraction(7, 4))]
LABELS = ["upper", "cantus", "middle", "soprano", "Bass", "S", "A", "zwölf", "low-1"]

pitches = st.builds(make_pitch, st.integers(0, 6), st.integers(-2, 2), st.integers(1, 6)).map(Pitch)
metres = st.sampled_from(
    [Metre(2, Fraction(2)), Metre(4, Fraction(1)), Metre(3, Fraction(2)), Metre(6, Fraction(1, 2))]
)


@st.composite
def modes(draw: st.DrawFn) -> Mode:
    return Mode(draw(st.integers(0, 6)), 0, draw(st.sampled_from(MODE_NAMES)))


@st.composite
def events(draw: st.DrawFn, lengths: list[Fraction] = LENGTHS) -> tuple[Event, ...]:
    """Notes and rests; a tied note is followed by one of its pitch."""
    made: list[Event] = []
    for _ in range(draw(st.integers(1, 12))):
        pitch = draw(st.none() | pitches)
        length = draw(st.sampled_from(lengths))
        if pitch is not None and draw(st.booleans()):
            made.append(Event(pitch, length, tie=True))
            length = draw(st.sampled_from(lengths))
        made.append(Event(pitch, length))
    return tuple(made)


@st.composite
def voices(draw: st.DrawFn, name: str) -> Voice:
    low, high = sorted((draw(pitches), draw(pitches)))
    compass = draw(st.sampled_from([compass_of(name), Compass(name, low, high)]))
    return Voice(name, draw(events()), compass)


@st.composite
def exercises(draw: st.DrawFn) -> Exercise:
    names = draw(st.lists(st.sampled_from(LABELS), min_size=1, max_size=4, unique=True))
    free = [i for i, name in enumerate(names) if name == "cantus"]
    cantus = draw(st.sampled_from(free or [None, *range(len(names))]))
    return Exercise(
        title=draw(st.sampled_from(["Bryn Tarrowe, second try", "7", "a: b -- c", "Übung"])),
        voices=tuple(draw(voices(name)) for name in names),
        mode=draw(modes()),
        metre=draw(metres),
        cantus=cantus,
        first_bar=draw(st.integers(0, 200)),
    )
