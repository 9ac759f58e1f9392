"""What a rule reads round each sample, some places back and ahead, gathered while the samples go by.

For each sample (the *anchor*) one *case* is open while its window passes. A case starts at the earliest
place looked at and reads every leaf when its sample comes by.

A case is a tuple ``(stage, skipped, settled, true, values, waits)``: its place in the window (0 at the
anchor), how many of its places a rest has taken away, the literals settled and those of them that are
true (bit sets, see :mod:`rulekit.compiler.window`), the values read, and for each awaited later note the
voice and how many notes are still to come.
"""

from collections.abc import Callable, Sequence
from functools import cached_property
from itertools import accumulate
from operator import add
from typing import Any

from rulekit.compiler import emit
from rulekit.compiler.emit import Leaf, Reader
from rulekit.compiler.reach import is_shallow
from rulekit.compiler.scene import Scene
from rulekit.exercise.model import NO_NOTE
from rulekit.exercise.timeline import NO_DYAD, NO_MOMENT, Moment
from rulekit.language import typed as t
from rulekit.language.typed import Kind

Case = tuple[int, int, int, int, tuple[Any, ...], tuple[Any, ...]]
Cases = tuple[Case, ...] | None

_MISSING = {Kind.NOTE: NO_NOTE, Kind.DYAD: NO_DYAD, Kind.MOMENT: NO_MOMENT}
_BEFORE = {Kind.NOTE: "before", Kind.DYAD: "previous", Kind.MOMENT: "previous"}


class Line:
    """All samples of a track in a finished exercise, and the notes that begin after each."""

    def __init__(self, samples: Sequence[tuple[Moment, Any]], breaks: bool) -> None:
        self._all = samples
        self.samples: list[Any] = [sample for _, sample in samples if sample is not None]
        self._part = list(accumulate([breaks and sample.previous is NO_DYAD for sample in self.samples]))

    @cached_property
    def _begun(self) -> list[tuple[int, ...]]:
        """For each sample how many notes each voice has begun by then."""
        begun = [moment.begun for moment, _ in self._all]
        counts = accumulate(begun, lambda before, new: tuple(map(add, before, new)))
        return [count for count, (_, sample) in zip(counts, self._all, strict=True) if sample is not None]

    @cached_property
    def _notes(self) -> list[list[Any]]:
        """All notes of each voice."""
        voices = range(len(self._all[0][0].notes))
        return [[moment.notes[voice] for moment, _ in self._all if moment.begun[voice]] for voice in voices]

    def at(self, anchor: int, offset: int) -> Any:
        """The sample so many from another, None where a rest lies between or none is left."""
        index = anchor + offset
        if not 0 <= index < len(self.samples) or self._part[index] != self._part[anchor]:
            return None
        return self.samples[index]

    def after(self, anchor: int, offset: int, voice: int, hops: int) -> Any:
        """The note so many after the last that a voice has begun by a sample, None if there is none."""
        index = self._begun[anchor + offset][voice] + hops - 1
        return self._notes[voice][index] if index < len(self._notes[voice]) else None


class Passage:
    """The reading of some leaves round each sample of one kind of track.

    ``reach_back`` is how many samples before the anchor are looked at (``steps_back`` of them remembered),
    ``ahead`` how many after; ``notes_ahead`` how many later notes of one voice are waited for.
    """

    def __init__(self, leaves: Sequence[Leaf], track: t.Track, reader: Reader, scene: Scene) -> None:
        self.kind, self.leaves, self.names, self._reader = track.kind, tuple(leaves), reader.names, reader
        self.names.names["x"] = scene
        places = [emit.place(leaf) for leaf in self.leaves]
        self.reach_back = max([0, *(-place.offset for place in places)])
        earliest = [leaf for leaf, ref in zip(self.leaves, places, strict=True) if ref.offset == -self.reach_back]
        self._linked = not track.sample and self.reach_back > 0 and all(map(is_shallow, earliest))
        self.steps_back = self.reach_back - 1 if self._linked else self.reach_back
        self.ahead = max([0, *(place.offset for place in places)])
        self._later = tuple(i for i, place in enumerate(places) if place.hops > 0)
        self.notes_ahead = max([0, *(place.hops for place in places)])
        self.breaks = self.kind == Kind.DYAD and not track.sample
        self.immediate = self.steps_back == self.ahead == 0 and not self._later

    # ---- making -----------------------------------------------------------------------------

    def source(self, leaf: Leaf) -> str:
        """The expression of a leaf on the sample at which it is read."""
        linked = self._linked and emit.place(leaf).offset == -self.steps_back - 1
        return self._reader.read(leaf, f"c.{_BEFORE[self.kind]}" if linked else "c")

    def prepare(self) -> None:
        """Make the tables that a case is moved by."""
        places = [emit.place(leaf) for leaf in self.leaves]
        self._read_at: dict[int, list[tuple[int, Callable[..., Any]]]] = {}
        self._later_reads: dict[int, Callable[..., Any]] = {}
        self._voices: dict[int, Callable[..., Any]] = {}
        self.stage_of: dict[int, int] = {}
        for i, leaf in enumerate(self.leaves):
            stage = self.stage_of[i] = max(places[i].offset, -self.steps_back)
            if i in self._later:
                note = self._reader.thing(places[i], "c", 0)
                self._voices[i] = self.names.function("c", f"{note}.voice")
                assert isinstance(leaf, t.Attr | t.Flag)
                self._later_reads[i] = self.names.function("c", emit.asked("c", leaf.name, "c"))
            else:
                self._read_at.setdefault(stage, []).append((i, self.names.function("c, s", self.source(leaf))))
        blank: tuple[Any, ...] = (None,) * len(self.leaves)
        self._fresh: Case = (-self.steps_back - 1, 0, 0, 0, blank, (0,) * len(self._later))

    def reading(self, leaf: Leaf) -> Callable[[Line, int], Any]:
        """What reads a leaf round a sample of a line, by its number, when all is there to be looked at."""
        place = emit.place(leaf)
        stage = max(place.offset, -self.steps_back)
        missing = _MISSING[self.kind]
        if place.hops <= 0:
            read = self.names.function("c", self.source(leaf))
            return lambda line, i: read(missing if (sample := line.at(i, stage)) is None else sample)
        voice_of = self.names.function("c", f"{self._reader.thing(place, 'c', 0)}.voice")
        assert isinstance(leaf, t.Attr | t.Flag)
        ask = self.names.function("c", emit.asked("c", leaf.name, "c"))

        def later(line: Line, i: int) -> Any:
            sample = line.at(i, stage)
            voice = None if sample is None else voice_of(sample)
            note = None if voice is None else line.after(i, stage, voice, place.hops)
            return None if note is None else ask(note)

        return later

    # ---- running ----------------------------------------------------------------------------

    def advance(self, cases: Cases, moment: Moment, sample: Any, streams: tuple[Any, ...]) -> Cases:
        """Move all open cases by one moment; ``sample`` is None where the track has none here."""
        if cases is None:
            if sample is None:
                return None
            cases = self._late_starts()
        elif sample is not None and self.breaks and sample.previous is NO_DYAD:
            cases = (*(self.part(case) for case in cases if case[0] >= 0), *self._late_starts())
        if sample is not None:
            cases = (*cases, self._fresh)
        return tuple([self._move(case, moment, sample, streams) for case in cases])

    def settle(self, case: Case, final: bool = False) -> Case:
        """What becomes of a case whenever it has read something."""
        return case

    def is_over(self, case: Case) -> bool:
        """Whether a case has read all that it waits for."""
        return case[0] >= self.ahead and not any(case[5])

    def part(self, case: Case) -> Case:
        """A case for which no more samples follow, though awaited notes still may."""
        stage = case[0]
        for later in range(stage + 1, self.ahead + 1):
            case = self.settle(self._read(case, later, _MISSING[self.kind], ()))
        return (case[0], case[1] + case[0] - stage, *case[2:])

    def _late_starts(self) -> tuple[Case, ...]:
        """The cases of the anchors that lie so early that there is not all of their window before them."""
        return tuple(self._late_start(stage) for stage in range(-1, -self.steps_back - 1, -1))

    def _late_start(self, stage: int) -> Case:
        """The case of an anchor so early that its window starts before the first sample."""
        case = self._fresh
        for passed in range(-self.steps_back, stage + 1):
            case = self.settle(self._read(case, passed, _MISSING[self.kind], ()))
        return case

    def _move(self, case: Case, moment: Moment, sample: Any, streams: tuple[Any, ...]) -> Case:
        if self._later and any(case[5]):
            case = self._await(case, moment)
        if sample is not None:
            case = self._read(case, case[0] + 1, sample, streams)
        return self.settle(case)

    def _read(self, case: Case, stage: int, sample: Any, streams: tuple[Any, ...]) -> Case:
        """Read what is to be read on the sample at this stage."""
        _, skipped, settled, true, values, waits = case
        reads = self._read_at.get(stage, ())
        if reads:
            changed = list(values)
            for i, read in reads:
                changed[i] = read(sample, streams)
            values = tuple(changed)
        if self._later:
            waits = tuple(
                self._start_wait(i, sample) if self.stage_of[i] == stage else wait
                for i, wait in zip(self._later, waits, strict=True)
            )
        return (stage, skipped, settled, true, values, waits)

    def _start_wait(self, leaf: int, sample: Any) -> tuple[int, int] | None:
        """The voice whose note is awaited and how many are to come; None if there is no such voice."""
        voice = self._voices[leaf](sample)
        return None if voice is None else (voice, emit.place(self.leaves[leaf]).hops)

    def _await(self, case: Case, moment: Moment) -> Case:
        """Let awaited notes come nearer, and read those that begin here."""
        stage, skipped, settled, true, values, waits = case
        changed, left = list(values), list(waits)
        for place, i in enumerate(self._later):
            wait = waits[place]
            if not wait or not moment.begun[wait[0]]:
                continue
            voice, hops = wait
            left[place] = (voice, hops - 1) if hops > 1 else None
            if hops == 1:
                changed[i] = self._later_reads[i](moment.notes[voice])
        return (stage, skipped, settled, true, tuple(changed), tuple(left))

    def is_read(self, leaf: int, stage: int, waits: tuple[Any, ...]) -> bool:
        """Whether a leaf has been read in a case at a stage."""
        if stage < self.stage_of[leaf]:
            return False
        return leaf not in self._later or waits[self._later.index(leaf)] is None
