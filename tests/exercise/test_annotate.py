"""Remarks over a score's notes: read back by music21 and by our own reader, the rest left as it was."""

import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from music21 import converter, expressions

from rulekit.exercise.formats.annotate import Remark, annotated
from rulekit.exercise.model import Exercise
from rulekit.exercise.notation import read_exercises
from rulekit.exercise.scores import load_scores, save_scores

TYPED = "mode: D dorian\nbars: 3\nupper r/2 A4 | B4 C5/4 D5 | A4/1\ncantus D4/1 E4 D4\n"
_ADDED = re.compile(rb"<direction placement=\"above\">.*?</direction>\n *", re.DOTALL)


def typed(text: str = TYPED) -> Exercise:
    ((exercise,), problems) = read_exercises(text, "x")
    assert problems == []
    return exercise


def words_of(path: Path) -> list[tuple[str, int, float]]:
    """Every text over a staff as music21 reads it: its words, its measure, its offset there."""
    score = converter.parse(path, forceSource=True, storePickle=False)
    found = score.recurse().getElementsByClass(expressions.TextExpression)
    return sorted((each.content, each.getContextByClass("Measure").number, float(each.offset)) for each in found)


@pytest.mark.parametrize("suffix", [".musicxml", ".mxl"])
def test_remarks_stand_at_their_notes_and_nothing_else_changes(suffix: str, tmp_path: Path) -> None:
    path, marked = tmp_path / f"a{suffix}", tmp_path / f"b{suffix}"
    save_scores([typed()], path)
    remarks = [
        Remark(4, Fraction(2), "upper", "1: <leap> & “turn”"),
        Remark(4, Fraction(5, 2), "upper", "2"),
        Remark(5, Fraction(1), "cantus", "3"),
        Remark(5, Fraction(1), "cantus", "4"),
        Remark(9, Fraction(1), "upper", "there is no such bar"),
        Remark(4, Fraction(1), "tenor", "there is no such voice"),
    ]
    marked.write_bytes(annotated(path.read_bytes(), path.suffix, remarks))
    assert words_of(marked) == [("1: <leap> & “turn”", 4, 2.0), ("2", 4, 3.0), ("3", 5, 0.0), ("4", 5, 0.0)]
    assert load_scores(marked)[0] == [*load_scores(path)[0]]


@given(st.lists(st.tuples(st.integers(3, 5), st.sampled_from([Fraction(1), Fraction(2)]), st.text(max_size=20))))
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_without_its_remarks_a_score_is_what_it_was(tmp_path: Path, places: list[tuple[int, Fraction, str]]) -> None:
    path = tmp_path / "a.musicxml"
    save_scores([typed()], path)
    remarks = [Remark(bar, beat, "upper", text) for bar, beat, text in places]
    made = annotated(path.read_bytes(), path.suffix, remarks)
    assert _ADDED.sub(b"", made) == path.read_bytes()
    (tmp_path / "b.musicxml").write_bytes(made)
    assert load_scores(tmp_path / "b.musicxml")[0] == load_scores(path)[0]


SCORE = """<?xml version="1.0" encoding="{0}"?>
<!-- written by hand --><score-partwise version="4.0" xmlns:xlink="http://www.w3.org/1999/xlink">
<movement-title>Übung</movement-title>
<part-list><score-part id="P1"><part-name>Übung</part-name></score-part></part-list>
<part id="P1"><measure number="0" implicit="yes"><attributes><divisions>1</divisions><time><beats>2</beats>
<beat-type>2</beat-type></time></attributes><note default-x="80"><pitch><step>A</step><octave>4</octave></pitch>
<duration>2</duration><voice>1</voice><lyric><text>Ky</text></lyric></note></measure>
<measure number="1">
<note><pitch><step>D</step><octave>5</octave></pitch><duration>4</duration><voice>1</voice><staff>1</staff></note></measure>
<measure number="2"><note><rest/><duration>4</duration></note></measure></part></score-partwise>
"""


@pytest.mark.parametrize("encoding", ["UTF-8", "ISO-8859-1", "UTF-16"])
def test_any_encoding_keeps_its_words(encoding: str, tmp_path: Path) -> None:
    path, marked = tmp_path / "a.xml", tmp_path / "b.xml"
    path.write_bytes(SCORE.format(encoding).encode(encoding))
    remarks = [Remark(0, Fraction(2), "Übung", "ä"), Remark(1, Fraction(2), "Übung", "ö")]
    marked.write_bytes(annotated(path.read_bytes(), path.suffix, remarks))
    assert words_of(marked) == [("ä", 0, 0.0), ("ö", 1, 0.0)]
    assert load_scores(marked)[0] == [*load_scores(path)[0]]
    assert b"<voice>1</voice><staff>1</staff></direction>" in marked.read_bytes()
