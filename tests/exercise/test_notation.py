"""The typed notation: what it means, that it is read back, and that no text breaks it."""

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rulekit.diagnostics import Diagnostic
from rulekit.exercise import limits
from rulekit.exercise.model import Compass, Event, Exercise, Metre, Voice
from rulekit.exercise.notation import read_exercises, write_exercise
from rulekit.exercise.scores import ReadOptions, load_scores
from rulekit.music.pitch import make_pitch, pitch_name, pitch_of
from tests.exercise.strategies import exercises, voices

TWO_VOICES = """\
exercise: Bryn Tarrowe, second try
mode: D dorian
time: 2/2
upper   D5 A4 B4 C5 C5 E5 D5 C#5 D5
cantus  D4 F4 G4 E4 A4 G4 F4 E4 D4
"""


def read(text: str) -> Exercise:
    """The one exercise in a text without mistakes."""
    found, problems = read_exercises(text, "x.notes")
    assert problems == []
    (exercise,) = found
    return exercise


def mistakes(text: str) -> list[Diagnostic]:
    return read_exercises(text, "x.notes")[1]


def names(voice: Voice) -> str:
    return " ".join("r" if event.pitch is None else pitch_name(event.pitch) for event in voice.events)


def lengths(voice: Voice) -> list[Fraction]:
    return [event.length for event in voice.events]


@given(exercises())
def test_what_is_written_is_read_back(exercise: Exercise) -> None:
    assert read(write_exercise(exercise)) == exercise


@given(st.lists(exercises(), min_size=1, max_size=4))
def test_exercises_written_one_after_the_other_are_all_read(several: list[Exercise]) -> None:
    text = "\n".join(map(write_exercise, several))
    assert read_exercises(text, "x") == (several, [])


@given(exercises())
def test_a_good_exercise_survives_a_bad_one_before_and_after(exercise: Exercise) -> None:
    bad = "exercise: bad\nupper A4 Q4\n"
    found, problems = read_exercises(f"{bad}\n{write_exercise(exercise)}\n{bad}", "x")
    assert found == [exercise]
    assert len(problems) == 2


@given(st.text(alphabet=st.sampled_from("ABCdr4#b/12.~| \n\t:()-exrcisodmbgtun♯\x00\u2028"), max_size=200))
def test_no_text_breaks_the_reader(text: str) -> None:
    found, problems = read_exercises(text, "x")
    assert found or problems
    lines = text.split("\n")
    for problem in problems:
        assert 1 <= problem.line <= len(lines)
        assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1
        assert str(problem)


WORDS = ["upper ", "cantus", "alto (cantus)", "exercise: ", "mode: ", "time: ", "compass: ", "bars: ", "none"]
PIECES = [*WORDS, *"|:~()9\n ", "\n\n", "--", "A4 ", "B ", "r ", "/2", "/4.", "#", "D dorian", "3/4"]


@given(st.lists(st.sampled_from(PIECES), max_size=40).map("".join))
def test_places_of_mistakes_lie_within_their_lines(text: str) -> None:
    found, problems = read_exercises(text, "x")
    assert found or problems
    lines = text.split("\n")
    for problem in problems:
        line = lines[problem.line - 1]
        assert problem.source_line == line
        assert 0 < problem.column <= problem.column + problem.length <= len(line) + 1
    for exercise in found:
        assert read(write_exercise(exercise)) == exercise


@given(st.binary(max_size=300))
def test_no_bytes_break_the_reader(data: bytes) -> None:
    found, problems = read_exercises(data.decode("utf-8", "replace"), "x")
    assert found or problems


@given(exercises(), st.data())
def test_a_text_with_one_character_changed_does_not_break_the_reader(exercise: Exercise, data: st.DataObject) -> None:
    text = write_exercise(exercise)
    at = data.draw(st.integers(0, len(text) - 1))
    found, problems = read_exercises(text[:at] + data.draw(st.characters()) + text[at + 1 :], "x")
    assert found or problems


def test_the_parts_of_an_exercise() -> None:
    exercise = read(TWO_VOICES)
    assert exercise.title == "Bryn Tarrowe, second try"
    assert str(exercise.mode) == "D dorian"
    assert [voice.name for voice in exercise.voices] == ["upper", "cantus"]
    assert exercise.cantus == 1
    assert names(exercise.voices[0]) == "D5 A4 B4 C5 C5 E5 D5 C#5 D5"
    assert set(lengths(exercise.voices[0])) == {4}
    assert exercise.inferred == ()
    assert exercise.setting.bars == 9


def test_a_note_without_octave_lies_within_a_fourth_of_the_one_before() -> None:
    assert names(read("a C4 G F C B A r E F# bb A").voices[0]) == "C4 G3 F3 C3 B2 A2 r E2 F#2 Bb2 A2"
    assert names(read("a B4 C F B E").voices[0]) == "B4 C5 F5 B5 E6"


def test_a_length_holds_until_the_next_and_a_note_first_fills_a_bar() -> None:
    assert lengths(read("a A4 A4/2 B4 | r/4. C5/8 D5/breve E5").voices[0]) == [
        4, 2, 2, Fraction(3, 2), Fraction(1, 2), 8, 8,
    ]  # fmt: skip
    assert lengths(read("time: 3/2\na A4 B4/2").voices[0]) == [6, 2]
    assert lengths(read("time: 3/4\na A4").voices[0]) == [3]


def test_ties() -> None:
    events = read("a A4/2~ A4 B~ B/4. C5/8").voices[0].events
    assert [event.tie for event in events] == [True, False, True, False, False]


def test_a_voice_goes_on_in_the_next_system_with_its_length_and_octave() -> None:
    exercise = read("up A4/2~ A4\nlow D4\n-- a comment\n\nup B C5\nlow E\n")
    assert names(exercise.voices[0]) == "A4 A4 B4 C5"
    assert lengths(exercise.voices[0]) == [2, 2, 2, 2]
    assert names(exercise.voices[1]) == "D4 E4"


def test_ranges_come_from_the_name_or_a_header() -> None:
    exercise = read("compass: upper C4 A5\nupper A4\nBass D3\nother D3\n")
    assert exercise.voices[0].compass == Compass("upper", pitch_of("C4"), pitch_of("A5"))
    assert exercise.voices[1].compass == Compass("Bass", pitch_of("F2"), pitch_of("D4"))
    assert exercise.voices[2].compass is None


def test_the_cantus_is_the_voice_marked_or_named_or_none() -> None:
    assert read("a (cantus) A4 G4\nb D4 D4").cantus == 0
    assert read("CANTUS A4 G4\nb D4 D4").cantus == 0
    assert read("a (cantus) A4 G4\ncantus D4 D4").cantus == 0
    assert read("cantus: none\na A4 G4\nb D4 D4").cantus is None


@pytest.mark.parametrize("label", ["alto", "cantus", "alto (cantus)"])
def test_a_colon_may_follow_a_label(label: str) -> None:
    plain = f"{label} D4 E D\nlow D3 C D\n\n{label} E D\nlow C D\n"
    with_colons = plain.replace(label, f"{label}:").replace("low", "low :")
    assert read(with_colons) == read(plain)
    assert read(f"{label}: | D4 | E").voices == read(f"{label} D4 E").voices


def test_a_wrong_length_is_reported_once_and_not_at_the_next_bar_line() -> None:
    assert len(mistakes("a A4/3 | A4/2 B | C/1 | D")) == 1


def test_several_exercises_and_their_titles() -> None:
    found, problems = read_exercises("a A4\n\nexercise: two\na B4\nexercise:\na C4", "x")
    assert [exercise.title for exercise in found] == ["exercise 1", "two", "exercise 3"]
    assert problems == []


def test_line_ends_of_every_system_are_read() -> None:
    assert read(TWO_VOICES.replace("\n", "\r\n")) == read(TWO_VOICES) == read(TWO_VOICES.replace("\n", "\r"))


def test_a_length_without_sign_is_written_as_tied_notes() -> None:
    exercise = replace(read("a A4"), voices=(Voice("a", (Event(pitch_of("A4"), Fraction(5)),)),))
    events = read(write_exercise(exercise)).voices[0].events
    assert [(event.length, event.tie) for event in events] == [(4, True), (1, False)]


@given(voices("odd"))
def test_what_cannot_be_typed_is_refused(voice: Voice) -> None:
    exercise = read("a A4")
    third = Event(pitch_of("A4"), Fraction(1, 3))
    with pytest.raises(ValueError, match="length of 1/3"):
        write_exercise(replace(exercise, voices=(replace(voice, events=(third,)),)))
    for label in ("two words", "A4", "mode", "r", "a|b", "a:b", "--a", "(a)", "\x1b", "a" * 41, ""):
        with pytest.raises(ValueError, match="label"):
            write_exercise(replace(exercise, voices=(replace(voice, name=label),)))
    with pytest.raises(ValueError, match="label"):
        write_exercise(replace(exercise, voices=(voice, voice)))
    with pytest.raises(ValueError, match="no notes"):
        write_exercise(replace(exercise, voices=(replace(voice, events=()),)))
    with pytest.raises(ValueError, match="time signature 21/4"):
        write_exercise(replace(exercise, metre=Metre(21, Fraction(1))))
    with pytest.raises(ValueError, match="C10 cannot be typed"):
        beyond = Event(make_pitch(0, 0, 10), Fraction(4))
        write_exercise(replace(exercise, voices=(replace(voice, events=(beyond,)),)))


@pytest.mark.parametrize(
    ("text", "line", "column", "length", "message"),
    [
        ("a A4 H4", 1, 6, 2, "‘H4’ is not a note"),
        ("  a A4 C4♯", 1, 8, 3, "‘C4♯’ is not a note"),
        ("a A4/3", 1, 6, 1, "no length ‘3’"),
        ("a A4/", 1, 6, 0, "no length ‘’"),
        ("a A4~/2", 1, 3, 5, "‘A4~/2’ is not a note"),
        ("a A", 1, 3, 1, "needs its octave"),
        ("a B9 C", 1, 6, 1, "C10 is beyond any voice"),
        ("a A4/2 | B4", 1, 8, 1, "after 2 of the 4 quarter notes of bar 1"),
        ("bars: 7\na A4 A4/4 | B4", 2, 11, 1, "after 1 of the 4 quarter notes of bar 8"),
        ("a A4~ B4", 1, 3, 3, "the tie after ‘A4~’ leads to B4"),
        ("a A4~ r", 1, 3, 3, "leads to a rest"),
        ("a A4 B4~", 1, 6, 3, "has no note to lead to"),
        ("a r~", 1, 3, 2, "a rest cannot be tied"),
        ("a A4\n\nA4 B4", 3, 1, 2, "begins with the note ‘A4’"),
        ("a" * 41 + " A4", 1, 1, 41, "40 characters at most"),
        ("| A4", 1, 1, 4, "begins with the label"),
        ("a", 1, 1, 1, "no notes on this line"),
        ("mode: D doriam\na A4", 1, 7, 8, "did you mean dorian?"),
        ("mode D dorian\na A4", 1, 1, 4, "after the header ‘mode’ comes a colon"),
        ("moda: D\na A4", 1, 1, 4, "no header ‘moda’"),
        ("mode: D\nmode: E\na A4", 2, 1, 4, "‘mode’ stands here twice"),
        ("a A4\nmode: D", 2, 1, 4, "comes after notes"),
        ("time: 2/3\na A4", 1, 7, 3, "not a time signature"),
        ("time: 0/4\na A4", 1, 7, 3, "not a time signature"),
        ("bars: x\na A4", 1, 7, 1, "not a bar number"),
        ("compass: a C4\na A4", 1, 10, 4, "not a compass"),
        ("compass: a C5 C4\na A4", 1, 10, 7, "begins with the higher note"),
        ("compass: upprr C4 C5\nupper A4", 1, 10, 11, "there is no voice ‘upprr’"),
        ("cantus: upper\nupper A4", 1, 9, 5, "‘upper’ is not a note"),
        ("cantus: none\ncantus A4", 2, 1, 6, "says that there is none"),
        ("a (cantus) A4\nb (cantus) A4", 2, 1, 1, "a cantus already"),
        ("a A4\na B4", 2, 1, 1, "twice in one system"),
        ("a A4\nb A4\n\na A4\nc A4", 5, 1, 1, "not in the first system"),
        ("a A4/2\nb A4\n\na A4\nb A4", 5, 1, 1, "begins at bar 2, beat 1 in ‘b’, but at bar 1, beat 2"),
        ("exercise: x\n", 1, 11, 1, "no voices"),
        ("a r", 1, 1, 3, "the mode cannot be worked out"),
        ("", 1, 1, 0, "no exercise"),
    ],
)
def test_a_mistake_is_reported_where_it_stands(text: str, line: int, column: int, length: int, message: str) -> None:
    found, problems = read_exercises(text, "x.notes")
    assert found == []
    assert len(problems) == 1
    problem = problems[0]
    assert (problem.path, problem.line, problem.column, problem.length) == ("x.notes", line, column, length)
    assert message in problem.message


def test_hints_name_the_nearest_valid_word() -> None:
    assert mistakes("moda: D\na A4")[0].hint == "did you mean mode?"
    assert mistakes("range: upper C4 C5\nupper A4")[0].hint == "write compass"
    assert mistakes("compass: uper C4 C5\nupper A4")[0].hint == "did you mean upper?"
    assert mistakes("upper A4\n\nupper A4\nuper A4")[0].hint == "did you mean upper?"
    assert "the first note of a voice needs its octave" in mistakes("low: A B\n")[0].hint
    assert mistakes("compas: upper C4 A5\nupper A4")[0].hint == "did you mean compass?"
    assert "Bb is B flat" in mistakes("a H4")[0].hint


def test_all_mistakes_are_reported_at_once() -> None:
    found = mistakes("mode: X\ntime: 9\na A4 Q R4/9 B4\nb D4 | D4/2 | D4 D4~\n")
    assert [(problem.line, problem.column) for problem in found] == [
        (1, 7), (2, 7), (3, 6), (3, 8), (3, 11), (4, 13), (4, 18),
    ]  # fmt: skip


def test_places_in_a_text_that_is_part_of_a_file() -> None:
    (problem,) = read_exercises("a A4\nb Q4", "r.rules", first_line=20, columns=(4, 6))[1]
    assert (problem.line, problem.column) == (21, 9)
    assert problem.source_line[problem.column - 1 :] == "Q4"


@pytest.mark.parametrize("text", ["\x1b[2J A4", "a A4 \x1b[2J", "compass: \x1b C4 C5\na A4", "mode: \x1b\na A4"])
def test_what_a_message_shows_is_printable_and_short(text: str) -> None:
    (problem,) = mistakes(text)
    assert (problem.message + problem.hint + problem.source_line).isprintable()
    (problem,) = mistakes(text.replace("\x1b", "\x1b" * 5000))
    assert len(problem.message + problem.hint + problem.source_line) < 400


def test_limits_are_stated() -> None:
    too_long = " " * (limits.MAX_BYTES + 1)
    assert str(limits.MAX_BYTES) in mistakes(too_long)[0].message
    voices_ = "\n".join(f"v{n} A4" for n in range(limits.MAX_VOICES + 1))
    assert f"{limits.MAX_VOICES} voices" in mistakes(voices_)[0].message
    assert f"{limits.MAX_EVENTS} notes" in mistakes("a A4" + " A" * limits.MAX_EVENTS)[0].message
    found, problems = read_exercises("exercise: x\na A4\n" * (limits.MAX_EXERCISES + 5), "x")
    assert len(found) == limits.MAX_EXERCISES
    assert [problem.message.split(";")[0] for problem in problems] == [
        f"there are more than {limits.MAX_EXERCISES} exercises"
    ]
    assert len(mistakes("a" + " Q" * 3000)) == limits.MAX_PROBLEMS + 1


SHARED = "exercise: Ines\nmode: D dorian\ncantus: shared\nover A4 B4 A4\ncantus D4 E4 D4\nunder D4 C4 D4\n"


def test_solutions_over_and_under_one_cantus_are_an_exercise_each() -> None:
    found, problems = read_exercises(SHARED, "x")
    assert problems == []
    assert [exercise.title for exercise in found] == ["Ines, over", "Ines, under"]
    assert [exercise.cantus for exercise in found] == [1, 0]
    assert [[voice.name for voice in each.voices] for each in found] == [["over", "cantus"], ["cantus", "under"]]
    over, under = found
    assert not any("shared" in words for exercise in found for words in exercise.inferred)
    assert over.whole is not None and over.whole is under.whole
    assert [voice.name for voice in over.whole.voices] == ["over", "cantus", "under"]


def test_each_of_the_solutions_is_the_exercise_that_would_be_typed_alone() -> None:
    over, under = read_exercises(SHARED, "x")[0]
    alone = "exercise: Ines, {0}\nmode: D dorian\n{1}\n{2}\n"
    assert [over] == read_exercises(alone.format("over", "over A4 B4 A4", "cantus D4 E4 D4"), "x")[0]
    assert [under] == read_exercises(alone.format("under", "cantus D4 E4 D4", "under D4 C4 D4"), "x")[0]


def test_a_cantus_in_the_middle_is_asked_about() -> None:
    (whole,), _ = read_exercises(SHARED.replace("cantus: shared\n", ""), "x")
    assert any("cantus: shared" in words for words in whole.inferred)
    (other,), _ = read_exercises("a D5 D5\nb A4 A4\ncantus D4 D4", "x")
    assert not any("cantus: shared" in words for words in other.inferred)


def test_without_a_cantus_nothing_can_be_shared() -> None:
    found, (problem,) = read_exercises("cantus: shared\na A4/2 B4 A4\nb D4/2 E4 D4", "x")
    assert found == []
    assert "there is no cantus that other voices could share" in problem.message


@given(exercises())
def test_voices_typed_from_the_lowest_are_turned(exercise: Exercise) -> None:
    try:
        text = write_exercise(exercise)
        turned = write_exercise(replace(exercise, voices=exercise.voices[::-1], cantus=_turned(exercise)))
    except ValueError:
        return
    head, rest = turned.split("\n", 1)
    assert read_exercises(f"{head}\norder: lowest first\n{rest}", "x") == read_exercises(text, "x")


def _turned(exercise: Exercise) -> int | None:
    return None if exercise.cantus is None else len(exercise.voices) - 1 - exercise.cantus


def test_voices_that_look_turned_are_told() -> None:
    (crossed,), _ = read_exercises("low D4 E4 D4\nhigh A4 B4 A4", "x")
    assert any(words.startswith("order:") and "--lowest-first" in words for words in crossed.inferred)
    for text in ("low D4 E4 D4\nhigh D4 B4 A4", "high A4 B4 A4\nlow D4 E4 D4", "one A4 B4", "a D4 r\nb r E4"):
        (other,), _ = read_exercises(text, "x")
        assert not any(words.startswith("order:") for words in other.inferred)


def test_an_order_that_is_none_is_told() -> None:
    _, (problem,) = read_exercises("order: high to low\na A4", "x")
    assert "no order of the voices" in problem.message


def test_a_note_to_be_found_has_a_sign_of_its_own() -> None:
    """A rest stays a rest; lengths and ties go with the sign as with a note, and it is written as it was read."""
    text = "exercise: begun\nmode: D dorian\ntime: 2/2\nupper   r/2 ?~ | ? A4 | ?/1\ncantus  D4 E4 D4\n"
    exercise = read(text)
    assert [(event.pitch is None, event.open, event.tie) for event in exercise.voices[0].events] == [
        (True, False, False), (True, True, True), (True, True, False), (False, False, False), (True, True, False),
    ]  # fmt: skip
    assert write_exercise(exercise) == text
    assert "notes still to be found: 3" in exercise.inferred[-1]


@pytest.mark.parametrize("notes", ["A4~ ?", "?~ A4", "?~ r"])
def test_a_tie_joins_a_note_to_be_found_only_to_another(notes: str) -> None:
    _, problems = read_exercises(f"upper {notes}\ncantus D4 D4\n")
    assert "the tie after" in problems[0].message


def test_an_order_stated_twice_turns_the_voices_once(tmp_path: Path) -> None:
    """The law: to say the same thing in the file and beside it is to say it once."""
    path = tmp_path / "a.notes"
    path.write_text("order: lowest first\ncantus C4 D4\nupper E5 D5\n", encoding="utf-8")
    for lowest_first in (False, True):
        (exercise,), _ = load_scores(path, ReadOptions(lowest_first=lowest_first))
        assert [voice.name for voice in exercise.voices] == ["upper", "cantus"]
