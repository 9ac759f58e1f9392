"""Every note of a page stands where the exercise has it, read back from the engraver and from its picture."""

import re
from fractions import Fraction
from pathlib import Path
from typing import Any

from hypothesis import given, reject, settings
from hypothesis import strategies as st
from music21 import converter

from rulekit.exercise.model import Clef, Event, Exercise, Metre, Voice, sounding_notes
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.scores import written
from rulekit.language.loading import load_text
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Marked, mark
from rulekit.music.mode import mode_of
from rulekit.music.pitch import Pitch, make_pitch, pitch_name, semitone, step
from rulekit.page.clefs import middle, modern_clefs, vocal_clefs
from rulekit.page.engrave import played
from rulekit.page.mei import mei, pieces
from rulekit.page.reach import reaches
from rulekit.page.render import page_of
from rulekit.page.staves import Look, Wording, draw

WORDING = Wording("score", lambda bar: f"bar {bar}", lambda key: f"{key}", lambda each: "figures")
pitches = st.builds(make_pitch, st.integers(0, 6), st.integers(-2, 2), st.integers(2, 5)).map(Pitch)
lengths = st.sampled_from(
    [Fraction(n) for n in (1, 2, 3, 4, 6, 8, 12)] + [Fraction(1, 2), Fraction(3, 2), Fraction(4, 3)]
)
modes = st.sampled_from([mode_of(text) for text in ("D dorian", "G dorian", "E major", "Eb major", "F# minor")])
metres = st.sampled_from(
    [Metre(2, Fraction(2)), Metre(3, Fraction(2)), Metre(4, Fraction(1)), Metre(6, Fraction(1, 2))]
)


@st.composite
def lines(draw: st.DrawFn) -> tuple[Event, ...]:
    made: list[Event] = []
    for pitch, length, tied in draw(
        st.lists(st.tuples(st.none() | pitches, lengths, st.booleans()), min_size=1, max_size=8)
    ):
        made.append(Event(pitch, length, tied and pitch is not None))
        if made[-1].tie:
            made.append(Event(pitch, draw(lengths)))
    return tuple(made)


@st.composite
def textures(draw: st.DrawFn) -> Exercise:
    """One to four voices with ties, rests, crossings and unequal lengths."""
    voices = tuple(Voice(f"v{number}", draw(lines())) for number in range(draw(st.integers(1, 4))))
    return Exercise("drawn", voices, draw(modes), draw(metres))


def expected(exercise: Exercise) -> list[tuple[int, int, Fraction, Fraction, Pitch]]:
    """Voice, number, onset, end and pitch of every sounding note."""
    return [
        (voice, number, note.onset, note.end, note.pitch)
        for voice, each in enumerate(exercise.voices)
        for number, note in enumerate(sounding_notes(exercise.setting, voice, each.events))
    ]


@settings(max_examples=120, deadline=None)
@given(textures())
def test_the_engraver_plays_every_note_where_it_stands(exercise: Exercise) -> None:
    text = mei(exercise, vocal_clefs(exercise))
    sounds = played(text)
    found: dict[tuple[int, int], list[tuple[Fraction, Fraction, int]]] = {}
    for voice in range(len(exercise.voices)):
        for piece in pieces(exercise, voice):
            if piece.note is not None and piece.id in sounds:
                found.setdefault((voice, piece.note), []).append(sounds[piece.id])
    heard = [
        (*key, min(s for s, _, _ in each), max(e for _, e, _ in each), each[0][2])
        for key, each in sorted(found.items())
    ]
    assert heard == [(*key, semitone(pitch)) for *key, pitch in expected(exercise)]


@settings(max_examples=40, deadline=None)
@given(textures())
def test_music21_reads_every_note_from_musicxml(exercise: Exercise) -> None:
    """What is handed to notation programs sounds as it stands here, ties and all, by a general score library."""
    try:
        data = written([exercise], Path("a.musicxml"))
    except ValueError:  # a length without a sign
        reject()
    score: Any = converter.parseData(data, format="musicxml")
    heard = [
        (voice, note.getOffsetInHierarchy(part), note.quarterLength, note.pitch.midi, note.pitch.diatonicNoteNum)
        for voice, part in enumerate(each.stripTies() for each in score.parts)
        for note in part.recurse().notes
    ]
    assert heard == [
        (voice, onset, end - onset, semitone(pitch), step(pitch) + 1)
        for voice, _, onset, end, pitch in expected(exercise)
    ]


@settings(max_examples=40, deadline=None)
@given(textures())
def test_every_notehead_stands_on_its_line_in_its_clef(exercise: Exercise) -> None:
    octave_lower = tuple(Clef("G", 2, -1) for _ in exercise.voices)
    for clefs in (vocal_clefs(exercise), modern_clefs(exercise), octave_lower):
        picture = draw(exercise, Look(88, clefs), [], WORDING, {})
        heads = noteheads(picture)
        for voice, number, _, _, pitch in expected(exercise):
            staff, y = heads[voice, number]
            assert round((staff + 20 - y) / 5, 1) == step(pitch) - middle(clefs[voice])


def noteheads(picture: str) -> dict[tuple[int, int], tuple[float, float]]:
    """For each note its staff's highest line and its own height, in units of a tenth of a staff space."""
    found: dict[tuple[int, int], tuple[float, float]] = {}
    top = 0.0
    pattern = (
        r'class="line" stroke-width="0.72" d="M[\d.-]+ ([\d.-]+)'
        r'|data-note="(\d+)\.(\d+)" role.*?class="ring" cx="[\d.]+" cy="([\d.-]+)"'
    )
    for line, voice, number, y in re.findall(pattern, picture):
        if line:
            top = float(line)
        else:
            found[int(voice), int(number)] = top, float(y)
    return found


def test_a_finding_points_at_its_notes(faulty: Marked, strict: Ruleset) -> None:
    exercise = faulty.exercise
    notes = {(v, n): note for v, n, *note in expected(exercise)}
    for finding, reach in zip(faulty.findings, reaches(exercise, strict, faulty.findings), strict=True):
        named = [(exercise.voices[v].name, pitch_name(notes[v, n][2])) for v, n in reach.own]
        assert named == [(place.voice, place.note) for place in finding.places]
        assert all(notes[key][0] <= notes[reach.own[0]][0] for key in reach.earlier)


def test_a_parallel_has_both_its_places_and_a_run_all_of_them(strict: Ruleset) -> None:
    (exercise,), _ = read_exercises("mode: C ionian\nupper C5 D5 E5 E5 F5 G5 A5\ncantus C4 G4 A4 C4 D4 E4 F4")
    marked = mark(exercise, strict)
    found = dict(zip([f.rule for f in marked.findings], reaches(exercise, strict, marked.findings), strict=True))
    parallel = found["no-parallels"]
    assert (parallel.earlier, parallel.own) == (((0, 1), (1, 1)), ((0, 2), (1, 2)))
    run = found["thirds-in-a-row"]
    assert run.earlier == tuple((v, n) for n in (3, 4, 5) for v in (0, 1))


def test_a_note_that_is_asked_about_the_cantus_has_that_with_it() -> None:
    rules = load_text(
        'rule harsh "{it}" for every note in counterpoint forbid interval with cantus is second fault source "ours"'
    )
    (exercise,), _ = read_exercises("mode: C ionian\nupper C5/2 F4 B4/1\ncantus E4/1 G4")
    (reach,) = reaches(exercise, rules, mark(exercise, rules).findings)
    assert (reach.earlier, reach.own) == (((1, 0),), ((0, 1),))


def test_a_picture_is_drawn_the_same_every_time(faulty: Marked) -> None:
    look = Look(88, vocal_clefs(faulty.exercise))
    assert draw(faulty.exercise, look, [], WORDING, {}) == draw(faulty.exercise, look, [], WORDING, {})


def test_all_notes_and_findings_are_on_the_page(faulty: Marked, strict: Ruleset, faulty_page: str) -> None:
    wide = re.search(r'<div class="wide">(.*?)</div>', faulty_page, re.S)
    assert wide is not None
    count = sum(len(voice.events) for voice in faulty.exercise.voices)
    assert len(re.findall(r'data-note="[\d.]+" role="button"', wide[1])) == count
    numbers = {int(n) for n in re.findall(r'data-finding="(\d+)"', wide[1])}
    assert numbers == {n for n, f in enumerate(faulty.findings, 1) if f.bar is not None}


def test_the_same_page_is_written_every_time(faulty: Marked, strict: Ruleset, faulty_page: str) -> None:
    from rulekit.page.data import PageOptions

    assert (
        page_of([faulty], strict, PageOptions(title="Harbour Street", words="Sing it first.", seconds=60))
        == faulty_page
    )
