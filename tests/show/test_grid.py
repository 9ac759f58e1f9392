"""The score as a grid: what stands where, and that nothing is lost or too wide."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from rulekit.exercise.model import Event, Exercise, Voice
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.timeline import Heard
from rulekit.music.mode import mode_of
from rulekit.music.pitch import pitch_name, pitch_of
from rulekit.show.grid import Line, grid

# Fux, Gradus ad Parnassum (1725), figure 5.
DORIAN = "mode: D dorian\nupper  A4 A4 G4 A4 B4 C5 C5 B4 D5 C#5 D5\ncantus D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4\n"


def plain(line: Line) -> str:
    """A line without its styles."""
    return "".join(text for text, _ in line)


def lines(text: str, width: int = 80) -> list[list[str]]:
    """The grid of an exercise without findings, a list of lines for every system."""
    exercises, problems = read_exercises(text)
    assert problems == []
    return [[plain(line) for line in system] for system in grid(Heard(exercises[0]), (), width)]


def row(system: list[str], label: str) -> list[str]:
    """The cells of a row."""
    found = [line for line in system if line.split(" ")[0] == label]
    return found[0].split()[1:] if found else []


def test_figures_are_those_printed_in_a_treatise() -> None:
    """J. J. Fux, Gradus ad Parnassum (1725), book II, exercise I, the dorian example (from memory)."""
    (system,) = lines(DORIAN)
    sizes = [figure.lstrip("PMm") for figure in row(system, "interval")]
    assert sizes == ["5", "3", "3", "5", "3", "5", "3", "3", "6", "6", "8"]
    assert row(system, "motion") == ["obl", "par", "con", "sim", "con", "obl", "par", "con", "par", "con"]


def test_figures_agree_with_a_reference_library() -> None:
    """music21 names the same intervals."""
    from music21 import interval, note

    (system,) = lines("upper C5 F#4 Bb4 D5 E5\ncantus A3 C4 C#4 D4 E3\n")
    upper, cantus = (
        [note.Note(name.replace("b", "-")) for name in row(system, label)] for label in ("upper", "cantus")
    )
    names = [interval.Interval(low, high).name for low, high in zip(cantus, upper, strict=True)]
    named = [name.replace("A", "aug").replace("d", "dim") for name in names]
    assert row(system, "interval") == named


def test_a_crossing_is_marked_and_measured_from_the_lower_sound() -> None:
    (system,) = lines("upper D5 D4 D5\ncantus D4 F4 D4\n")
    crossed = next(line for line in system if line.startswith("crossed"))
    bars = next(line for line in system if line.startswith("bar"))
    assert crossed.split() == ["crossed", "x"]
    assert crossed.index("x") == bars.index("2")
    assert row(system, "interval") == ["P8", "m3", "P8"]


def test_more_voices_name_the_pairs_that_cross() -> None:
    (system,) = lines("soprano C5 E4\nalto G4 F4\nbass C3 G4\n")
    assert row(system, "crossed") == ["1x2", "1x3", "2x3"]


def test_in_more_voices_every_figure_says_whose_it_is() -> None:
    (system,) = lines("soprano C5 E4 D5\nalto G4 r F4\nbass C3 G4 Bb3\n")
    start = next(number for number, line in enumerate(system) if line == "over the bass")
    assert [line.split() for line in system[start + 1 : start + 4]] == [
        ["soprano", "P15", "M10"], ["alto", "P12", "P5"], ["bass", "m3"],
    ]  # fmt: skip
    column = system[start + 3].index("m3")
    assert next(line for line in system if line.startswith("bar"))[column] == "2"


def test_figures_over_the_bass_take_the_place_of_names() -> None:
    exercises, _ = read_exercises("mode: D dorian\nupper A4 C5 C#5 D5\ncantus D4 A3 E4 D4\n")
    (system,) = grid(Heard(exercises[0]), (), 80, True)
    assert row([plain(line) for line in system], "interval") == ["5", "10", "#6", "8"]


def test_held_notes_and_rests_have_signs_of_their_own() -> None:
    (system,) = lines("upper r/2 A4 A4 G4~ G4 F4 E4/1\ncantus D4/breve E4/1 C4\n")
    assert row(system, "upper") == ["r", "A4", "A4", "G4", "–", "F4", "E4"]
    assert row(system, "cantus") == ["D4", "–", "–", "–", "E4", "–", "C4"]
    assert row(system, "beat") == ["1", "2", "1", "2", "1", "2", "1"]


def test_a_bar_in_which_nothing_begins_has_its_column() -> None:
    (system,) = lines("upper A4/breve G4/1\ncantus D4/breve E4/1\n")
    assert row(system, "bar") == ["1", "2", "3"]
    assert row(system, "upper") == ["A4", "–", "G4"]


def test_bars_count_as_in_the_score() -> None:
    (system,) = lines("bars: 9\n" + DORIAN)
    assert row(system, "bar") == [str(number) for number in range(9, 20)]


def test_systems_share_the_bars_evenly() -> None:
    notes = " ".join(["A4", "B4"] * 7)
    systems = lines(f"upper {notes}\ncantus {notes.replace('4', '3')}\n")
    assert [len(row(system, "bar")) for system in systems] == [7, 7]


def test_a_long_label_is_cut() -> None:
    (system,) = lines("a-voice-with-a-very-long-name A4 B4\ncantus D4 E4\n")
    assert system[1].startswith("a-voice-with-a-…   A4")


LENGTHS = st.sampled_from([Fraction(4), Fraction(2), Fraction(1), Fraction(8)])
PITCHES = st.sampled_from([pitch_of(name) for name in ("D3", "A3", "Bb3", "C4", "F#4", "G4", "C#5", "E5")])
EVENTS = st.builds(Event, st.one_of(st.none(), PITCHES), LENGTHS)


@st.composite
def exercises(draw: st.DrawFn) -> Exercise:
    """Exercises of one to four voices, each of whole length in bars."""
    voices: list[Voice] = []
    for index in range(draw(st.integers(1, 4))):
        events = [Event(draw(PITCHES), Fraction(4)), *draw(st.lists(EVENTS, max_size=30))]
        voices.append(Voice(f"voice-{index}", tuple(events)))
    return Exercise("drawn", tuple(voices), mode_of("D dorian"))


@given(exercises(), st.integers(40, 120))
@settings(deadline=None)
def test_every_note_stands_once_and_no_line_is_too_wide(exercise: Exercise, width: int) -> None:
    systems = [[plain(line) for line in system] for system in grid(Heard(exercise), (), width)]
    assert all(cell_len(line) <= width for system in systems for line in system)
    for voice in exercise.voices:
        shown = [cell for system in systems for cell in row(system, voice.name) if cell not in ("–", "r")]
        assert shown == [pitch_name(event.pitch) for event in voice.events if event.pitch is not None]
    bars = [int(bar) for system in systems for bar in row(system, "bar")]
    assert sorted(set(bars)) == list(range(1, exercise.setting.bars + 1))


@pytest.mark.parametrize("width", [40, 60, 80])
def test_notes_of_one_moment_stand_below_each_other(width: int) -> None:
    for system in lines(DORIAN, width):
        upper, cantus, bars = (next(x for x in system if x.startswith(label)) for label in ("upper", "cantus", "bar"))
        starts = [index for index, sign in enumerate(bars) if sign.isdigit() and bars[index - 1] == " "]
        assert all(upper[start] in "ABCDEFG" and cantus[start] in "ABCDEFG" for start in starts)
