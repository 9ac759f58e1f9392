"""Rules as tables: what each does on each choice of notes, worked out by its monitors once and kept.

A watch is one or more monitors of the same voices. Its states hold what those voices have lately sounded, as far
back as some monitor may still ask, what the monitors remember, and what a rule with a cap has cost so far. A step
goes by what these voices begin, whatever the others do.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import combinations

from rulekit.compiler.monitor import Monitor
from rulekit.compiler.reach import Past
from rulekit.exercise.model import NO_NOTE, Metre, Note, Setting
from rulekit.exercise.timeline import NO_MOMENT, Moment
from rulekit.language import typed as t
from rulekit.music.pitch import Pitch, pitch_of
from rulekit.music.rhythm import Span, bar_rhythms
from rulekit.severity import Severity
from rulekit.solving.problem import Slot

Choice = tuple[Pitch | None, ...]  # what begins at one moment, None in a voice that begins nothing
Trace = tuple[tuple[Pitch, ...], ...]  # the last notes of some voices, the latest first
Step = tuple[int, int]  # the state after it (DEAD after a fault), and the points due
DEAD = -1
_ANY = pitch_of("C4")  # a note that nobody asks for
_Key = tuple[object, ...]


class Rhythm:
    """When the notes of all voices begin, and how long they are; ``at[level][voice]`` is the slot that begins there."""

    def __init__(self, setting: Setting, lines: Sequence[Sequence[Slot]]) -> None:
        self.setting = setting
        self.onsets = sorted({slot.onset for line in lines for slot in line})
        begins = [{slot.onset: slot for slot in line} for line in lines]
        self.at = [[slots.get(onset) for slots in begins] for onset in self.onsets]
        self.bars = [bar_rhythms(_spans(line), setting.metre.lengths()) for line in lines]
        self.openings = [set(_openings(line, setting.metre)) for line in lines]
        self.ends = [{slot.onset + slot.length for slot in line} for line in lines]
        self.held = [[_is_held(line, onset) for line in lines] for onset in [*self.onsets, setting.length]]

    def rests_before(self, level: int, voice: int) -> bool:
        """Whether a rest comes right before what a voice begins at a level."""
        return level > 0 and self.onsets[level] not in self.ends[voice]

    def together(self, voices: Sequence[int]) -> bool:
        """Whether some voices begin all their notes at the same time."""
        return all(len({slots[voice] is None for voice in voices}) == 1 for slots in self.at)


def _is_held(line: Sequence[Slot], time: Fraction) -> bool:
    """Whether a note that began before sounds on at a time."""
    return any(slot.onset < time < slot.onset + slot.length for slot in line)


class Scenes:
    """What is known of the levels beforehand, as it matters to some voices: everything but pitches and bar numbers."""

    def __init__(self, rhythm: Rhythm, voices: tuple[int, ...]) -> None:
        self._rhythm, self._voices = rhythm, voices
        self._begun = [[level for level, slots in enumerate(rhythm.at) if slots[voice] is not None] for voice in voices]
        self.begins = [any(slots[voice] is not None for voice in voices) for slots in rhythm.at]
        self._met: set[tuple[int, int]] = set()
        self._sounding = (False,) * len(voices)
        self._scenes = [self._scene(level) if begins else () for level, begins in enumerate(self.begins)]

    def _scene(self, level: int) -> _Key:
        """How the notes of a level lie, which voices sound, which pairs of them have done so before."""
        rhythm = self._rhythm
        slots = [rhythm.at[level][voice] for voice in self._voices]
        notes = tuple(self._lie(level, i) for i in range(len(slots)))
        before = self._sounding
        self._sounding = tuple(
            slot is not None or rhythm.held[level][voice] for slot, voice in zip(slots, self._voices, strict=True)
        )
        joint = {pair for pair in combinations(range(len(slots)), 2) if all(self._sounding[i] for i in pair)}
        pairs = tuple((pair, pair in self._met, all(before[i] for i in pair)) for pair in sorted(joint))
        self._met |= joint
        return rhythm.setting.metre.place(rhythm.onsets[level])[1:], level == 0, notes, pairs

    def _lie(self, level: int, index: int) -> _Key:
        """How the note of a voice lies that begins at a level; where none does, whether one is held."""
        rhythm, voice = self._rhythm, self._voices[index]
        slot, first = rhythm.at[level][voice], level <= min(self._begun[index], default=level)
        if slot is None:
            return rhythm.held[level][voice], first
        metre = rhythm.setting.metre
        rested = rhythm.rests_before(level, voice)
        bar, opens = rhythm.bars[voice][metre.bar_of(slot.onset) - 1], slot.onset in rhythm.openings[voice]
        ends = slot.onset + slot.length >= rhythm.setting.length
        return slot.length, slot.tied, bar, opens, ends, rested, first

    def lately(self, level: int, notes: Sequence[int]) -> _Key:
        """All that is known from the time on when of each voice so many notes before a level began."""
        if not self.begins[level]:
            return ()
        start = level
        for begun, number in zip(self._begun, notes, strict=True):
            if number:
                start = min([start, *begun[: bisect_left(begun, level)][-number:]])
        return tuple(self._scenes[start : level + 1])


class Sounding:
    """What some voices have lately sounded: of each its last notes, as many as monitors may still ask for.

    A *trace* is that before a level: for each voice pitches, the latest first. Levels of the same kind (``kinds``) are
    alike to monitors that know no bar numbers (which ``dated`` ones do).
    """

    def __init__(self, rhythm: Rhythm, voices: tuple[int, ...], pasts: Sequence[Past], dated: bool) -> None:
        self.rhythm, self.voices = rhythm, voices
        scenes, levels = Scenes(rhythm, voices), range(len(rhythm.onsets))
        self.begins = scenes.begins
        self._cantus = rhythm.setting.cantus if any(past.met for past in pasts) else None
        self._sizes = [self._size(level, pasts) for level in [*levels, len(levels)]]
        kinds: dict[_Key, int] = {}
        self.kinds = [
            kinds.setdefault(
                (scenes.lately(level, self._sizes[level]), self.begins[level], self._sizes[level + 1], dated and level),
                len(kinds),
            )
            for level in levels
        ]
        self._before: dict[tuple[int, Trace], Moment] = {}
        self._plain = [NO_MOMENT]
        self._notes: dict[tuple[int, int, Pitch, Note], Note] = {}
        self._alone: dict[tuple[int, int, Pitch], Note] = {}
        self._met: dict[tuple[Note, Note], Note] = {}
        self.start: Trace = ((),) * len(voices)

    def _size(self, level: int, pasts: Sequence[Past]) -> tuple[int, ...]:
        """How many notes of each voice are kept before a level."""
        held = self.rhythm.held[level]
        sizes = [max(past.new, past.held + held[voice]) for voice, past in zip(self.voices, pasts, strict=True)]
        if self._cantus is not None:
            place = self.voices.index(self._cantus)
            sizes[place] = max(sizes[place], self._kept_of_cantus(level, pasts))
        return tuple(sizes)

    def _kept_of_cantus(self, level: int, pasts: Sequence[Past]) -> int:
        """How many notes of the cantus before a level reach back to where notes began that are asked about it."""
        rhythm, first = self.rhythm, level
        for voice, past in zip(self.voices, pasts, strict=True):
            number = max(past.met[0], past.met[1] + rhythm.held[level][voice]) if past.met else 0
            begun = [earlier for earlier in range(level) if rhythm.at[earlier][voice] is not None]
            first = min([first, *begun[max(0, len(begun) - number) :]])
        time = [*rhythm.onsets, rhythm.setting.length][first]
        slots = [slots[self._cantus] for slots in rhythm.at[:level] if self._cantus is not None]
        return sum(slot is not None and slot.onset + slot.length > time for slot in slots)

    def after(self, level: int, trace: Trace, choice: Choice) -> Trace:
        """The trace after a choice of notes."""
        return tuple([
            (pitches if pitch is None else (pitch, *pitches))[:size]
            for pitches, pitch, size in zip(trace, choice, self._sizes[level + 1], strict=True)
        ])  # fmt: skip

    def before(self, level: int, trace: Trace) -> Moment:
        """The moment before a level after which it has this trace; older notes are any notes."""
        if not any(trace):
            return self._unknown(level)
        found = self._before.get((level, trace))
        if found is None:
            slots = self.rhythm.at[level - 1]
            new = [slots[voice] is not None for voice in self.voices]
            earlier = tuple([pitches[begins:] for pitches, begins in zip(trace, new, strict=True)])
            choice = tuple([
                (pitches[0] if pitches else _ANY) if begins else None
                for pitches, begins in zip(trace, new, strict=True)
            ])  # fmt: skip
            found = self._before[level, trace] = self.moment(level - 1, self.before(level - 1, earlier), choice)
        return found

    def _unknown(self, level: int) -> Moment:
        """The moment before a level when nothing is known of its notes."""
        while len(self._plain) <= level:
            at = len(self._plain) - 1
            slots = self.rhythm.at[at]
            choice = tuple(None if slots[voice] is None else _ANY for voice in self.voices)
            self._plain.append(self.moment(at, self._plain[-1], choice))
        return self._plain[level]

    def moment(self, level: int, previous: Moment, choice: Choice) -> Moment:
        """What sounds after a choice of notes; the other voices are silent."""
        if not self.begins[level]:
            return previous
        rhythm = self.rhythm
        onset, slots, held = rhythm.onsets[level], rhythm.at[level], rhythm.held[level]
        notes: list[Note | None] = [None] * rhythm.setting.voice_count
        for voice, pitch in zip(self.voices, choice, strict=True):
            before = NO_NOTE if previous is NO_MOMENT else previous.latest[voice]
            slot = slots[voice]
            if slot is not None and pitch is not None:
                notes[voice] = self._note(level, voice, slot, pitch, before)
            elif held[voice] and before is not NO_NOTE:
                notes[voice] = before
        if self._cantus is not None:
            self._meet(notes, level, self._cantus)
        return Moment(rhythm.setting, onset, tuple(notes), previous)

    def _note(self, level: int, voice: int, slot: Slot, pitch: Pitch, before: Note) -> Note:
        found = self._notes.get((level, voice, pitch, before))
        if found is None:
            alone = self._alone.get((level, voice, pitch))
            if alone is None:
                alone = self._alone[level, voice, pitch] = self._first(level, voice, slot, pitch)
            found = self._notes[level, voice, pitch, before] = alone.following(before, NO_NOTE)
        return found

    def _meet(self, notes: list[Note | None], level: int, cantus: int) -> None:
        """Let the notes that begin at a level know which note of the cantus sounds with them."""
        known, slots = notes[cantus], self.rhythm.at[level]
        for voice, note in enumerate(notes):
            if known is not None and note is not None and voice != cantus and slots[voice] is not None:
                if (note, known) not in self._met:
                    self._met[note, known] = note.following(note.before, known)
                notes[voice] = self._met[note, known]

    def _first(self, level: int, voice: int, slot: Slot, pitch: Pitch) -> Note:
        """A note with nothing before it; whether a rest comes before it is known all the same."""
        onset, setting = self.rhythm.onsets[level], self.rhythm.setting
        rhythm = self.rhythm.bars[voice][setting.metre.bar_of(onset) - 1]
        opens, rested = onset in self.rhythm.openings[voice], self.rhythm.rests_before(level, voice)
        return Note(setting, voice, pitch, onset, slot.length, NO_NOTE, slot.tied, rested, rhythm, opens)


def _spans(line: Sequence[Slot]) -> Iterator[Span]:
    """A line of slots as lengths of notes and of the rests between them."""
    end = Fraction(0)
    for slot in line:
        yield slot.onset - end, True
        yield slot.length, False
        end = slot.onset + slot.length


def _openings(line: Sequence[Slot], metre: Metre) -> Iterator[Fraction]:
    """When the first note to begin in each bar begins."""
    for before, slot in zip([None, *line], line, strict=False):
        if before is None or metre.bar_of(before.onset) != metre.bar_of(slot.onset):
            yield slot.onset


class Watch:
    """Monitors of the same voices, each with the weight of its hits, as one table.

    ``rows(level)`` holds, by state, the steps known so far by the code of what begins (:meth:`codes`); levels of one
    kind share them. With a ``cap`` all monitors are of one rule, whose points are limited.
    """

    def __init__(self, parts: Sequence[tuple[Monitor, t.Weight]], sounding: Sounding) -> None:
        self.monitors = [monitor for monitor, _ in parts]
        self._points = [DEAD if weight.severity == Severity.FAULT else weight.points for _, weight in parts]
        caps = {most(weight) for _, weight in parts}
        self._cap = caps.pop() if len(caps) == 1 else None
        self.sounding, self.voices = sounding, sounding.voices
        self.fatal = all(points == DEAD for points in self._points)
        self.memoryless = all(monitor.stateless for monitor in self.monitors) and self._cap is None
        self.rank = (not self.memoryless, any(monitor.rule.streams for monitor in self.monitors), len(self.voices))
        self._rows: list[dict[int, dict[int, Step]]] = [defaultdict(dict) for _ in set(sounding.kinds)]
        self._index: dict[_Key, int] = {}
        self._states: list[tuple[Trace, tuple[int, ...], int]] = []
        self._codes: dict[Choice, int] = {}
        self._choices: list[Choice] = []
        self._numbers: list[dict[object, int]] = [{} for _ in self.monitors]
        self._kept: list[list[object]] = [[] for _ in self.monitors]
        start = tuple(self._number(i, monitor.start) for i, monitor in enumerate(self.monitors))
        self._state(sounding.start, start, 0)

    def rows(self, level: int) -> dict[int, dict[int, Step]]:
        """The steps known at a level."""
        return self._rows[self.sounding.kinds[level]]

    def codes(self, letters: Sequence[Choice]) -> list[int]:
        """For each choice of notes of all voices the number of what it is to these."""
        known, choices, voices = self._codes, self._choices, self.voices
        codes: list[int] = []
        for letter in letters:
            choice = tuple([letter[voice] for voice in voices])
            code = known.setdefault(choice, len(choices))
            if code == len(choices):
                choices.append(choice)
            codes.append(code)
        return codes

    def allows(self, level: int, letter: Choice) -> bool:
        """Whether notes may begin together, whatever came before, of monitors that look at nothing else."""
        choice = tuple([letter[voice] for voice in self.voices])
        code = self._codes.get(choice)
        if code is None:
            (code,) = self.codes([letter])
        after, _ = self.rows(level)[0].get(code) or self.step(level, 0, code)
        return after != DEAD

    def step(self, level: int, state: int, code: int) -> Step:
        """The step at a level from a state by what begins; it is kept in ``rows``."""
        sounding = self.sounding
        (trace, numbers, paid), choice = self._states[state], self._choices[code]
        due = 0
        if sounding.begins[level]:
            numbers, due = self._move(numbers, sounding.moment(level, sounding.before(level, trace), choice))
        if due != DEAD and self._cap is not None:
            due = min(due, self._cap - paid)
            paid += due
        after = sounding.after(level, trace, choice)
        found = (DEAD, 0) if due == DEAD else (self._state(after, numbers, paid), due)
        self.rows(level)[state][code] = found
        return found

    def _move(self, numbers: tuple[int, ...], moment: Moment) -> tuple[tuple[int, ...], int]:
        due, after = 0, list(numbers)
        for i, monitor in enumerate(self.monitors):
            state, hits = monitor.step(self._kept[i][numbers[i]], moment)  # type: ignore[arg-type]
            bare = sum(hit.licence is None for hit in hits)
            if self._points[i] == DEAD and (bare or monitor.doomed(state)):
                return numbers, DEAD
            due += bare * self._points[i]
            if not monitor.stateless:
                after[i] = self._number(i, state)
        return tuple(after), due

    def finish(self, state: int) -> int:
        """The points due for ending in a state of the last level, or DEAD."""
        _, numbers, paid = self._states[state]
        due = 0
        for i, monitor in enumerate(self.monitors):
            hits = monitor.finish(self._kept[i][numbers[i]])  # type: ignore[arg-type]
            bare = sum(hit.licence is None for hit in hits)
            if bare and self._points[i] == DEAD:
                return DEAD
            due += bare * self._points[i]
        return due if self._cap is None else min(due, self._cap - paid)

    def _number(self, monitor: int, state: object) -> int:
        numbers, kept = self._numbers[monitor], self._kept[monitor]
        number = numbers.setdefault(state, len(kept))
        if number == len(kept):
            kept.append(state)
        return number

    def _state(self, trace: Trace, numbers: tuple[int, ...], paid: int) -> int:
        key = trace, numbers, paid
        state = self._index.setdefault(key, len(self._states))
        if state == len(self._states):
            self._states.append(key)
        return state


def most(weight: t.Weight) -> int | None:
    """The most that a rule may cost, None where there is no limit; a fault ends the line and costs nothing."""
    if weight.severity == Severity.FAULT:
        return None
    limits = [weight.cap] if weight.cap is not None else []
    return min([*limits, weight.points] if weight.once else limits, default=None)
