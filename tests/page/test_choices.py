"""What else could stand at a note: the marker's own judgement, and the search's own counts."""

from dataclasses import replace

from rulekit.language.ruleset import Ruleset
from rulekit.marking import mark
from rulekit.music.pitch import pitch_name
from rulekit.page.choices import choices
from rulekit.solving.folds import count
from rulekit.solving.graph import build
from rulekit.solving.sketch import Wish, opened, search
from tests.page.cases import marked_text

CLEAN = "mode: D dorian\nupper D5 A4 B4 C5 C5 E5 D5 C#5 D5\ncantus D4 F4 G4 E4 A4 G4 F4 E4 D4"


def test_a_note_would_do_where_the_marker_finds_no_fault(strict: Ruleset) -> None:
    exercise = marked_text(CLEAN, strict).exercise
    found = choices(exercise, strict, 60)
    assert set(found) == {(0, number) for number in range(9)}
    for (voice, number), each in found.items():
        for choice in each:
            line = exercise.voices[voice]
            events = list(line.events)
            events[number] = replace(events[number], pitch=choice.pitch)
            voices = (replace(line, events=tuple(events)), *exercise.voices[1:])
            assert bool(choice.faults) == bool(mark(replace(exercise, voices=voices), strict).faults)


def test_lines_through_the_notes_of_a_place_are_all_the_lines(strict: Ruleset) -> None:
    exercise = marked_text(CLEAN, strict).exercise
    total = count(build(search(opened(exercise), strict, Wish())))
    found = choices(exercise, strict, 60)
    last = {pitch_name(choice.pitch): choice.lines for choice in found[0, 8]}
    assert sum(lines or 0 for lines in last.values()) == total
    for choice in (choice for each in found.values() for choice in each):
        assert choice.faults or (choice.lines or 0) > 0


def test_a_fault_elsewhere_is_held_against_no_note(strict: Ruleset) -> None:
    exercise = marked_text(CLEAN.replace("D5\n", "E5\n"), strict).exercise
    here = next(choice for choice in choices(exercise, strict, 60)[0, 3] if pitch_name(choice.pitch) == "C5")
    assert here.faults == ()


def test_a_tied_note_changes_as_a_whole(strict: Ruleset) -> None:
    exercise = marked_text("mode: D dorian\nupper r/2 A4/2~ | A4/2 G4/2\ncantus D4 D4", strict).exercise
    assert set(choices(exercise, strict, 60)) == {(0, 0), (0, 1)}


def test_without_time_nothing_is_told(strict: Ruleset) -> None:
    assert choices(marked_text(CLEAN, strict).exercise, strict, 0) == {}


def test_an_altered_note_is_asked_about_only_if_some_allowed_line_has_it(strict: Ruleset) -> None:
    exercise = marked_text(CLEAN, strict).exercise
    for each in choices(exercise, strict, 60).values():
        assert {pitch_name(choice.pitch)[:-1] for choice in each} <= {*"ABCDEFG", "Bb", "C#"}
