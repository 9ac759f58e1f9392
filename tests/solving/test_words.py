"""Words that a developer adds by one line of the table: marking and searching judge them alike."""

from collections.abc import Iterator

import pytest

from rulekit.diagnostics import RulekitError
from rulekit.exercise.model import NO_NOTE, Note
from rulekit.language.loading import load_text
from rulekit.language.typed import Kind, Type
from rulekit.language.vocabulary import ATTRIBUTES, EVERY, FLAGS, Attribute, FlagWord, Reads, reads
from rulekit.solving import folds
from rulekit.solving.graph import build
from tests.solving.cases import over
from tests.solving.test_graph import holds_just_the_legal_lines

PEAKS = 'rule {} "Broken." for every {} {} fault source "our own"\n'


def _peak(note: Note) -> bool | None:
    """Whether no earlier note of the voice is as high."""
    if note is NO_NOTE:
        return None
    earlier = note.before
    while earlier is not NO_NOTE and earlier.pitch < note.pitch:
        earlier = earlier.before
    return earlier is NO_NOTE


def _rise(note: Note) -> int | None:
    """How many semitones and steps the note lies above the note two before it."""
    two_before = NO_NOTE if note is NO_NOTE else note.before.before
    return None if two_before is NO_NOTE else note.pitch - two_before.pitch


@pytest.fixture(autouse=True)
def table() -> Iterator[None]:
    """The table of words is read anew while it is another."""
    reads.cache_clear()
    yield
    reads.cache_clear()


@pytest.fixture
def words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Note, "peak", property(_peak), raising=False)
    monkeypatch.setattr(Note, "rise", property(_rise), raising=False)
    monkeypatch.setitem(FLAGS[Kind.NOTE], "peak", FlagWord("peak", reads=Reads(back=EVERY)))
    monkeypatch.setitem(ATTRIBUTES[Kind.NOTE], "rise", Attribute("rise", Type.MELODIC, Reads(back=2)))


@pytest.mark.usefixtures("words")
@pytest.mark.parametrize(
    "rule",
    [
        PEAKS.format("last", "note in counterpoint at last", "require it is peak"),
        PEAKS.format("never", "note in counterpoint at last", "forbid it is peak"),
        PEAKS.format("twice", "interval between cantus and counterpoint", "forbid counterpoint is peak and rise of "
                     "counterpoint is falling"),
        PEAKS.format("some", "sonority", "at last forbid some note in counterpoint is peak"),
        PEAKS.format("rises", "note in counterpoint", "forbid rise is P5 or rise is falling leap"),
        PEAKS.format("number", "line in counterpoint", "require number of notes where (it is peak) is 2"),
    ],
)  # fmt: skip
def test_a_new_word_that_looks_back(rule: str) -> None:
    """The law that was missing: whatever a word depends on, a search tells apart what it would judge differently."""
    problem = over(load_text(rule), "D4 E4 F4 E4 D4", "A4", "E5")
    holds_just_the_legal_lines(problem)
    assert folds.exists(build(problem))


def test_a_word_that_looks_at_notes_to_come_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(FLAGS[Kind.NOTE], "tied", FlagWord("tied", reads=Reads(ahead=True)))
    rule = PEAKS.format("ties", "note in counterpoint", "forbid it is tied")
    with pytest.raises(RulekitError, match="‘ties’ asks for what only a whole exercise shows"):
        build(over(load_text(rule), "D4 E4 D4", "A4", "E5"))
