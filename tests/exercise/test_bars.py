"""Bars of other lengths: incomplete bars and changes of metre, written by music21 or typed out here, read by ours."""

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate, chain
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from music21 import corpus, meter, note, stream

from rulekit.exercise.model import ALLA_BREVE, Bars, Exercise, Metre
from rulekit.exercise.notation import write_exercise
from rulekit.exercise.scores import ReadOptions, load_scores, save_scores
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark
from rulekit.page.data import PageOptions
from rulekit.page.render import page_of
from tests.exercise.test_scores import heard, load, refused, saved, text_file

_SIGNATURES = {"2/2": Fraction(4), "4/4": Fraction(4), "3/2": Fraction(6), "3/4": Fraction(3), "2/1": Fraction(8)}
_PARTS = {Fraction(1): (Fraction(1, 2),) * 2} | {Fraction(n): (Fraction(n - 1), Fraction(1)) for n in range(2, 9)}
Written = list[tuple[str, Fraction]]


@st.composite
def bars(draw: st.DrawFn) -> Written:
    """A signature and a length for each bar; the first and the last are full."""
    made: Written = []
    for _ in range(draw(st.integers(1, 4))):
        signature = draw(st.sampled_from(list(_SIGNATURES)))
        full = _SIGNATURES[signature]
        made += [(signature, full)] * draw(st.integers(1, 2))
        if draw(st.booleans()):
            made += [(signature, full - draw(st.sampled_from([1, 2]))), (signature, full)]
    return made


def score(written: Written, split: list[bool]) -> stream.Score:
    """Two parts in such bars, one in whole bars, the other with some of its bars in two notes."""
    found = stream.Score()
    for name, own in (("upper", split), ("lower", [])):
        part = stream.Part()
        part.partName = name
        before = ""
        for number, (signature, length) in enumerate(written, 1):
            measure = stream.Measure(number=number)
            if signature != before:
                measure.timeSignature = meter.TimeSignature(signature)
                before = signature
            cut = number <= len(own) and own[number - 1]
            for pitch, part_of in zip(("D5", "C5"), _PARTS[length] if cut else (length,), strict=False):
                measure.append(note.Note(pitch if name == "upper" else "D4", quarterLength=part_of))
            measure.paddingRight = float(_SIGNATURES[signature] - length)
            part.append(measure)
        found.insert(0, part)
    return found


def seen(exercise: Exercise) -> list[tuple[Fraction, str]]:
    """When each bar begins, and in which signature."""
    metre = exercise.metre
    starts = map(metre.start_of, range(1, exercise.setting.bars + 1))
    return [(start, f"{metre.at(start).beats}/{4 / metre.at(start).unit}") for start in starts]


@given(written=bars(), split=st.lists(st.booleans(), max_size=12))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_bars_of_any_length_are_read_back(written: Written, split: list[bool], tmp_path: Path) -> None:
    (exercise,) = load(saved(score(written, split), tmp_path / "a.musicxml"))
    starts = list(accumulate((length for _, length in written), initial=Fraction(0)))
    assert seen(exercise) == list(zip(starts, (signature for signature, _ in written), strict=False))
    assert [onset for _, onset, _ in heard(exercise)[1]] == starts[:-1]
    assert all(exercise.metre.is_strong(start) and exercise.metre.beat_of(start) == 1 for start in starts)
    assert [exercise.metre.bar_of(start) for start in starts] == [*range(1, len(starts) + 1)]
    save_scores([exercise], tmp_path / "b.musicxml")
    (again,) = load(tmp_path / "b.musicxml")
    assert (again.metre, heard(again)) == (exercise.metre, heard(exercise))


@given(written=bars())
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_changes_of_time_are_read_from_midi(written: Written, tmp_path: Path) -> None:
    """MIDI has no bars; a signature begins one."""
    whole = [(signature, _SIGNATURES[signature]) for signature, _ in written]
    (exercise,) = load(saved(score(whole, []), tmp_path / "a.mid"))
    starts = list(accumulate((length for _, length in whole), initial=Fraction(0)))
    assert [start for start, _ in seen(exercise)] == starts[:-1]


KERN = """\
**kern\t**kern
*M2/2\t*M2/2
1D\t1d
=2\t=2
2D\t2a
=3\t=3
*M3/2\t*M3/2
1.D\t1.g
=4\t=4
1.D\t1.d
==\t==
*-\t*-
"""
ABC = "X:1\nM:2/2\nL:1/2\nK:Ddor\nV:1\nd2 | A | [M:3/2] G3 | d3 |]\nV:2\nD2 | D | [M:3/2] D3 | D3 |]\n"
MEI = """\
<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score>
<scoreDef meter.count="2" meter.unit="2"><staffGrp><staffDef n="1"/><staffDef n="2"/></staffGrp></scoreDef><section>
{}</section></score></mdiv></body></music></mei>"""


def mei() -> str:
    rows: list[str] = []
    for number, (upper, duration, dots) in enumerate((("d", 1, 0), ("a", 2, 0), ("g", 1, 1), ("d", 1, 1)), 1):
        rows += ['<scoreDef meter.count="3" meter.unit="2"/>'] if number == 3 else []
        sung = "".join(
            f'<staff n="{staff}"><layer n="1"><note pname="{name}" oct="{octave}" dur="{duration}" dots="{dots}"/>'
            "</layer></staff>"
            for staff, name, octave in ((1, upper, 5), (2, "d", 4))
        )
        rows.append(f'<measure n="{number}">{sung}</measure>')
    return MEI.format("\n".join(rows))


@pytest.mark.parametrize(("name", "text"), [("a.krn", KERN), ("a.abc", ABC), ("a.mei", mei())])
def test_other_formats_have_bars_of_other_lengths(name: str, text: str, tmp_path: Path) -> None:
    (exercise,) = load(text_file(tmp_path / name, text))
    assert seen(exercise) == [(Fraction(0), "2/2"), (Fraction(4), "2/2"), (Fraction(6), "3/2"), (Fraction(12), "3/2")]
    assert "time: 3/2 from bar 3" in exercise.inferred
    assert "bars of other lengths: bar 2 holds 2 of 4 quarter notes" in exercise.inferred


def test_a_bar_that_is_short_in_one_part_only_is_filled_and_told(tmp_path: Path) -> None:
    (exercise,) = load(text_file(tmp_path / "a.abc", ABC.replace("| A |", "| A2 |")))
    assert any(words.startswith("not full: bar 2") for words in exercise.inferred)


def test_a_rest_fills_a_bar_of_any_length(tmp_path: Path) -> None:
    """Programs write the rest of a bar as long as the time signature says, though the bar is not."""
    text = ABC.replace("| A |", "| A3 |").replace("| D |", "| z2 |")
    (exercise,) = load(text_file(tmp_path / "a.abc", text))
    assert seen(exercise)[1:3] == [(Fraction(4), "2/2"), (Fraction(10), "3/2")]


def test_a_bar_that_is_too_full_in_one_part_only_is_refused(tmp_path: Path) -> None:
    path = text_file(tmp_path / "a.abc", ABC.replace("| A |", "| A3 |"))
    told = refused(path)
    assert "bar 2 has 6 quarter notes in place of 4, but not in all parts" in told
    assert "holds 2 of 6 quarter notes" in told


def test_a_first_bar_that_is_too_full_in_one_part_only_is_refused(tmp_path: Path) -> None:
    """Law that was missing: only a pickup may differ from its time signature in some parts alone."""
    path = text_file(tmp_path / "a.abc", ABC.replace("d2 |", "d3 |"))
    assert "bar 1 has 6 quarter notes in place of 4, but not in all parts" in refused(path)


@given(resting=st.lists(st.booleans(), min_size=2, max_size=8), twice=st.lists(st.booleans(), min_size=8, max_size=8))
@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_rests_of_a_bar_written_twice_over_are_one(resting: list[bool], twice: list[bool], tmp_path: Path) -> None:
    """Law that was missing: a bar ends where its time signature says if nothing is sung beyond, not where rests end."""
    once = ["z2" if rests else "A2" for rests in resting]
    more = ["z2 z2" if rests and again else bar for rests, again, bar in zip(resting, twice, once, strict=False)]
    text = "X:1\nM:2/2\nL:1/2\nK:Ddor\nV:1\n" + "d2|" * len(resting) + "d2|]\nV:2\n{}|D2|]\n"
    (plain,) = load(text_file(tmp_path / "a.abc", text.format("|".join(once))))
    (exercise,) = load(text_file(tmp_path / "b.abc", text.format("|".join(more))))
    assert (exercise.metre, heard(exercise)) == (plain.metre, heard(plain))
    assert any(words.startswith("too full: bar") for words in exercise.inferred) is (more != once)


def test_a_bar_of_rests_that_is_longer_in_all_parts_is_meant(tmp_path: Path) -> None:
    text = ABC.replace("| A |", "| z3 |").replace("| D |", "| z3 |")
    (exercise,) = load(text_file(tmp_path / "a.abc", text))
    assert seen(exercise)[1:3] == [(Fraction(4), "2/2"), (Fraction(10), "3/2")]


@pytest.mark.parametrize("name", ["madrigal.4.16.mxl", "madrigal.5.1.mxl"])
def test_a_published_score_with_such_rests_is_read_as_the_score_library_reads_it(name: str) -> None:
    """Monteverdi, from music21's corpus: each note in its bar, whatever rests the exporting program added."""
    path = corpus.getWork(f"monteverdi/{name}")
    (exercise,) = load(Path(path), ReadOptions(split=False))
    metre = exercise.metre
    for voice, part in zip(heard(exercise), corpus.parse(f"monteverdi/{name}").parts, strict=True):
        ours = [(metre.bar_of(onset), onset - metre.start_of(metre.bar_of(onset)), pitch) for pitch, onset, _ in voice]
        assert ours == list(begun(part))


def begun(part: stream.Part) -> Iterator[tuple[int, Fraction, str]]:
    """The notes of a part that are no further piece of a tied one: bar, time in it, and pitch."""
    before: note.Note | None = None
    for number, measure in enumerate(part.getElementsByClass(stream.Measure), 1):
        for found in measure.recurse().getElementsByClass(note.Note):
            tied = before is not None and before.tie is not None and before.tie.type in ("start", "continue")
            if not (tied and before is not None and before.pitch == found.pitch):
                yield number, Fraction(found.getOffsetInHierarchy(measure)), found.nameWithOctave.replace("-", "b")
            before = found


CHANGING = Metre(2, Fraction(2), (
    Bars(Fraction(4), 2, 2, Fraction(2), Fraction(2)), Bars(Fraction(6), 3, 3, Fraction(2), Fraction(6)),
))  # fmt: skip


def test_beats_are_counted_from_each_bar_line() -> None:
    places = [CHANGING.place(Fraction(time)) for time in range(0, 13, 2)]
    assert [(bar, int(beat)) for bar, beat, _, _ in places] == [(1, 1), (1, 2), (2, 1), (3, 1), (3, 2), (3, 3), (4, 1)]
    assert [downbeat for _, _, downbeat, _ in places] == [True, False, True, True, False, False, True]
    assert str(CHANGING) == "2/2 and 3/2"


def test_such_a_score_is_marked_and_shown_and_no_more(tmp_path: Path) -> None:
    (exercise,) = load(text_file(tmp_path / "a.krn", KERN))
    marked = mark(exercise, load_ruleset("first-species-lenient"))
    assert {finding.bar for finding in marked.findings} <= {None, 1, 2, 3, 4}
    assert page_of([marked], load_ruleset("first-species-lenient"), PageOptions())
    with pytest.raises(ValueError, match="cannot be typed"):
        write_exercise(exercise)
    assert write_exercise(replace(exercise, metre=ALLA_BREVE))


def test_nothing_of_a_score_is_lost_between_its_bars(tmp_path: Path) -> None:
    """What every part has of each bar adds up to the whole."""
    written = [("2/2", Fraction(4)), ("2/2", Fraction(3)), ("3/4", Fraction(3)), ("2/1", Fraction(8))]
    exercises, problems = load_scores(saved(score(written, [True] * 4), tmp_path / "a.musicxml"))
    assert not problems
    lengths = list(chain.from_iterable((length for _, _, length in voice) for voice in heard(exercises[0])))
    assert sum(lengths) == 2 * 18
