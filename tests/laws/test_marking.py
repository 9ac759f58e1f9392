"""Laws of marking with the shipped rulesets: what may change in an exercise without changing its findings."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rulekit.compiler import finding as tables
from rulekit.compiler.monitor import monitors
from rulekit.exercise.model import Compass, Event, Exercise, Voice
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.timeline import moments
from rulekit.language import typed as t
from rulekit.language.library import shipped_names
from rulekit.language.loading import load_ruleset, load_text
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Finding, Marked, mark
from rulekit.music.mode import Mode
from rulekit.music.pitch import Interval, Pitch, alteration, interval_of, letter, make_interval, make_pitch, pitch_of
from tests.laws.strategies import exercises

RULESETS = {name: ruleset for name in shipped_names() if (ruleset := load_ruleset(name)).rules}
MODES = [Mode(1, 0, "dorian"), Mode(2, 0, "phrygian"), Mode(3, 0, "lydian"), Mode(4, 0, "mixolydian")]
WHOLE = Fraction(4)

# Fux, Gradus ad Parnassum (1725), figure 5.
DORIAN = """
mode: D dorian
upper   A4 A4 G4 A4 B4 C5 C5 B4 D5 C#5 D5
cantus  D4 F4 E4 D4 G4 F4 A4 G4 F4 E4 D4
"""


@st.composite
def note_against_note(draw: st.DrawFn) -> Exercise:
    """Two voices in whole notes, mostly of the mode."""
    mode = draw(st.sampled_from(MODES))
    notes = st.sampled_from(mode.pitches(Pitch(pitch_of("A3")), Pitch(pitch_of("E5"))))
    raised = st.sampled_from([pitch_of(name) for name in ("C#5", "F#4", "G#4", "Bb4")])
    length = draw(st.integers(3, 8))
    lines = [tuple(Event(draw(notes | notes | notes | raised), WHOLE) for _ in range(length)) for _ in range(2)]
    cantus = draw(st.integers(0, 1))
    names = ("cantus", "lower") if cantus == 0 else ("upper", "cantus")
    voices = tuple(Voice(name, line, Compass(name, Pitch(pitch_of("C4")), Pitch(pitch_of("D5"))))
                   for name, line in zip(names, lines, strict=True))  # fmt: skip
    return Exercise("random", voices, mode, cantus=cantus)


any_exercise = note_against_note() | exercises()
every_ruleset = pytest.mark.parametrize("name", RULESETS)


def moved(exercise: Exercise, interval: Interval, mode: Mode) -> Exercise:
    """The exercise with its voices and their compasses moved by an interval, in a mode."""

    def up(pitch: Pitch | None) -> Pitch | None:
        return None if pitch is None else Pitch(pitch + interval)

    voices = tuple(
        replace(
            voice,
            events=tuple(replace(event, pitch=up(event.pitch)) for event in voice.events),
            compass=voice.compass and Compass(voice.name, up(voice.compass.low), up(voice.compass.high)),
        )
        for voice in exercise.voices
    )
    return replace(exercise, voices=voices, mode=mode)


def outline(marked: Marked) -> list[tuple[object, ...]]:
    """What was found where, without the names of notes."""
    return [
        (f.rule, f.bar, f.beat, f.voices, f.excuse, tuple((p.bar, p.beat, p.voice) for p in f.places))
        for f in marked.findings
    ]


@every_ruleset
@settings(max_examples=25, deadline=None)
@given(exercise=any_exercise, octaves=st.sampled_from([-2, -1, 1, 2]))
def test_an_octave_changes_nothing(name: str, exercise: Exercise, octaves: int) -> None:
    """The compasses go along with the voices."""
    other = moved(exercise, make_interval(7 * octaves, 12 * octaves), exercise.mode)
    here, there = mark(exercise, RULESETS[name]), mark(other, RULESETS[name])
    assert outline(here) == outline(there)
    assert here.mark == there.mark


@every_ruleset
@settings(max_examples=25, deadline=None)
@given(
    exercise=any_exercise,
    interval=st.sampled_from(["M2", "m3", "M3", "P4", "P5", "M6", "m2"]),
    down=st.booleans(),
)
def test_another_final_changes_only_names(name: str, exercise: Exercise, interval: str, down: bool) -> None:
    shift = Interval(interval_of(interval) * (-1 if down else 1))
    final = Pitch(make_pitch(exercise.mode.letter, exercise.mode.alteration, 4) + shift)
    try:
        mode = Mode(letter(final), alteration(final), exercise.mode.name)
    except ValueError:
        assume(False)
        raise
    here, there = mark(exercise, RULESETS[name]), mark(moved(exercise, shift, mode), RULESETS[name])
    assert outline(here) == outline(there)
    assert here.mark == there.mark


@settings(max_examples=60, deadline=None)
@given(any_exercise)
def test_strict_finds_every_fault_that_lenient_finds(exercise: Exercise) -> None:
    strict = mark(exercise, RULESETS["first-species-strict"])
    lenient = mark(exercise, RULESETS["first-species-lenient"])
    places = {(f.rule, f.bar, f.beat, f.voices) for f in strict.findings if f.excuse is None}
    assert {(f.rule, f.bar, f.beat, f.voices) for f in lenient.faults} <= places


# ---- one note changed ----------------------------------------------------------------------------


def is_local(rule: t.Rule) -> bool:
    return not rule.whole and not rule.streams and not rule.track.sample


def reach(rule: t.Rule) -> int:
    """How many notes before or after the judged one a rule can see, in note against note."""
    tests = [rule.broken, *(licence.test for licence in rule.licences)]
    return max(abs(ref.offset) + abs(ref.hops) for test in tests for ref in [*t.refs(test), t.HERE]) + 1


def with_note(exercise: Exercise, voice: int, place: int, pitch: Pitch) -> Exercise:
    changed = exercise.voices[voice]
    events = list(changed.events)
    events[place] = replace(events[place], pitch=pitch)
    voices = list(exercise.voices)
    voices[voice] = replace(changed, events=tuple(events))
    return replace(exercise, voices=tuple(voices))


def local(marked: Marked, ruleset: Ruleset) -> set[Finding]:
    return {finding for finding in marked.findings if is_local(ruleset.rule(finding.rule))}


@every_ruleset
@settings(max_examples=40, deadline=None)
@given(exercise=note_against_note(), data=st.data())
def test_one_note_changes_only_what_can_see_it(name: str, exercise: Exercise, data: st.DataObject) -> None:
    ruleset = RULESETS[name]
    voice = data.draw(st.integers(0, 1))
    place = data.draw(st.integers(0, len(exercise.voices[0].events) - 1))
    pitch = data.draw(st.sampled_from([pitch_of(n) for n in "C4 E4 F#4 G4 A4 Bb4 C5 F5".split()]))
    before = local(mark(exercise, ruleset), ruleset)
    after = local(mark(with_note(exercise, voice, place, pitch), ruleset), ruleset)
    for finding in before ^ after:
        assert finding.bar is not None
        assert abs(finding.bar - (place + 1)) <= reach(ruleset.rule(finding.rule))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 1), st.integers(0, 10), st.sampled_from("C4 D4 F4 G#4 Bb4 C5 E5".split()))
def test_a_wrong_note_in_a_clean_exercise_is_found_where_it_is(voice: int, place: int, name: str) -> None:
    ruleset = RULESETS["first-species-strict"]
    clean = read_exercises(DORIAN)[0][0]
    assert not mark(clean, ruleset).faults
    known = set(mark(clean, ruleset).findings)
    for finding in set(mark(with_note(clean, voice, place, pitch_of(name)), ruleset).findings) - known:
        rule = ruleset.rule(finding.rule)
        if is_local(rule):
            assert finding.bar is not None
            assert abs(finding.bar - (place + 1)) <= reach(rule)
        elif not rule.whole:
            assert finding.bar is not None and finding.bar >= place + 1 - reach(rule)


# ---- voices exchanged ------------------------------------------------------------------------------

SYMMETRIC = ["consonant", "no-altered-interval", "no-unison", "spacing", "thirds-in-a-row", "sixths-in-a-row",
             "same-perfect-in-a-row", "cross-relation", "no-parallels", "direct-perfects", "parallel-run", "both-leap",
             "stillness", "more-imperfect", "more-contrary"]  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(note_against_note())
def test_it_makes_no_difference_which_voice_is_written_above(exercise: Exercise) -> None:
    """For rules that treat their two voices alike; which of the two sounds lower is heard, not written."""
    assert exercise.cantus is not None
    other = replace(exercise, voices=exercise.voices[::-1], cantus=1 - exercise.cantus)
    ruleset = RULESETS["first-species-strict"]
    here, there = (
        sorted((f.rule, f.bar or 0) for f in mark(e, ruleset).findings if f.rule in SYMMETRIC)
        for e in (exercise, other)
    )
    assert here == there


# ---- what a rule must remember ---------------------------------------------------------------------


@given(st.integers(1, 12), exercises())
@settings(max_examples=40, deadline=None)
def test_memory_stays_as_small_as_the_window(distance: int, exercise: Exercise) -> None:
    """A rule that looks some places back keeps no more open cases than places, however long the exercise is."""
    place = "note before it" if distance == 1 else f"note {distance} before it"
    ruleset = load_text(
        f'rule one\n  "Far."\n  for every note in each voice\n  forbid degree is degree of {place}\n'
        '  fault\n  source "common practice"\n'
    )
    for monitor in monitors(ruleset, exercise.setting):
        assert monitor.budget.back == distance
        assert monitor.budget.ahead == monitor.budget.notes_ahead == 0
        state = monitor.start
        for moment in moments(exercise):
            state, _ = monitor.step(state, moment)
            assert len(state[1] or ()) <= distance


@pytest.mark.parametrize("most", [1, 40])
def test_what_is_kept_of_rhythms_stays_small_and_changes_nothing(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    fresh = load_ruleset("first-species-strict")
    texts = [f"upper {'A4 ' * bars}\ncantus {'D4 ' * bars}" for bars in range(1, 12)]
    expected = [mark(exercise, fresh).findings for text in texts for exercise in read_exercises(text)[0]]
    monkeypatch.setattr(tables, "_MOST_NOTES", most)
    ruleset = load_ruleset("first-species-strict")
    for text, findings in zip(texts, expected, strict=True):
        (exercise,), _ = read_exercises(text)
        assert mark(exercise, ruleset).findings == findings
        longest = 2 * len(exercise.voices[0].events)
        assert tables._KNOWN.of(ruleset).notes <= most + longest
