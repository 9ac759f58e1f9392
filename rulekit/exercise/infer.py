"""What a score does not say, worked out and told in words: mode, cantus and ranges."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from rulekit.exercise.model import Compass, Exercise, Metre, Voice
from rulekit.music.mode import Mode, mode_from, modes_on, signs_in_words
from rulekit.music.pitch import (
    Pitch,
    alteration,
    between,
    letter,
    make_pitch,
    pitch_name,
    pitch_of,
    semitone,
    steps,
)

# Common practice, no source.
_RANGES = {"soprano": ("C4", "A5"), "alto": ("F3", "D5"), "tenor": ("C3", "A4"), "bass": ("F2", "D4")}
_CANTUS_NAMES = ("cantus", "cantus firmus", "cantus-firmus", "cf", "c.f.")
_BESIDE_CANTUS = {"the", "given", "firmus", "voice", "part", *_RANGES}


def compass_of(name: str) -> Compass | None:
    """The range of a voice called soprano, alto, tenor or bass; None for any other name."""
    ends = _RANGES.get(name.casefold())
    return Compass(name, pitch_of(ends[0]), pitch_of(ends[1])) if ends else None


def names_cantus(name: str) -> bool:
    """Whether a voice's name says that it holds the cantus firmus."""
    return name.casefold() in _CANTUS_NAMES


def _speaks_of_cantus(name: str) -> bool:
    """Whether a longer name, such as “the given cantus” or “cf alto”, says the same in its own words."""
    words = {*re.findall(r"[^\W_]+", name.casefold().replace("c.f", "cf"))}
    return bool(words & {"cantus", "cf"}) and words <= {"cantus", "cf", *_BESIDE_CANTUS}


@dataclass(frozen=True, slots=True)
class Known:
    """What a score says beside its notes, where it does; ``said`` is what was worked out before, in words.

    ``fifths`` is the key signature (-1 is one flat) if it has one; ``cantus`` the index of the voice known to
    hold it; ``has_cantus`` False when there is known to be none.
    """

    first_bar: int = 1
    mode: Mode | None = None
    fifths: int | None = None
    cantus: int | None = None
    has_cantus: bool = True
    said: Sequence[str] = ()


def complete(title: str, voices: Sequence[Voice], metre: Metre, known: Known) -> Exercise:
    """An exercise from what is known, the rest worked out. Raises ValueError when there are no notes to work from."""
    words = [*known.said, *_lengths_in_words(voices, metre), *_open_in_words(voices)]
    mode, cantus = known.mode, known.cantus
    if mode is None:
        mode, reason = infer_mode(voices, known.fifths)
        words.append(reason)
    if cantus is None and known.has_cantus:
        cantus, reason = infer_cantus(voices, mode, metre)
        words.append(reason)
    words += _order_in_words(voices)
    return Exercise(title, tuple(voices), mode, metre, cantus, known.first_bar, tuple(words))


def infer_mode(voices: Sequence[Voice], fifths: int | None, spelled: bool = True) -> tuple[Mode, str]:
    """The mode by the last note of the lowest voice and the signature, and the reason in words.

    Without a signature the one is taken that leaves fewest notes altered, leading notes not
    counted, and of equals the one with fewest signs. When the notes are not ``spelled`` (MIDI),
    each is counted in its best spelling. Raises ValueError when no voice has a note, or when
    no mode has the final. Common practice, no source.
    """
    final = _last_pitch(voices)
    if fifths is not None and (mode := _mode_under(final, fifths)):
        return mode, f"mode: {mode}, from the last low note and a signature of {signs_in_words(fifths)}"
    pitches = [event.pitch for voice in voices for event in voice.events if event.pitch is not None]
    modes = [
        mode
        for each in ([final] if spelled else _spellings(final))
        for mode in modes_on(letter(each), alteration(each))
    ]
    if not modes:
        raise ValueError(f"the last low note {pitch_name(final)} is the final of no mode")

    def altered(mode: Mode) -> int:
        known = pitches if spelled else [mode.spell(semitone(pitch)) for pitch in pitches]
        return sum(mode.place(pitch)[1] != 0 and not mode.is_leading(pitch) for pitch in known)

    mode = min(modes, key=lambda mode: (altered(mode), abs(mode.signature)))
    return mode, f"mode: {mode}, from the last low note and the accidentals"


def infer_cantus(voices: Sequence[Voice], mode: Mode, metre: Metre) -> tuple[int | None, str]:
    """The index of the voice that holds the cantus, or None, and the reason in words.

    It is the voice named so; else the one that is all in whole-bar notes; of several such the
    one that begins and ends on the final and falls to it by step (Fux, Gradus ad Parnassum
    (1725): all his cantus firmi do); else the lowest of those that are left.
    """
    named = [index for index, voice in enumerate(voices) if names_cantus(voice.name)]
    named = named or [index for index, voice in enumerate(voices) if _speaks_of_cantus(voice.name)]
    if len(named) == 1:
        return named[0], f"cantus: ‘{voices[named[0]].name}’, by its name"
    plain = [index for index, voice in enumerate(voices) if _is_plain(voice, metre)]
    if not plain:
        return None, "cantus: none, for no voice is all in whole-bar notes"
    if len(plain) == 1:
        return plain[0], f"cantus: ‘{voices[plain[0]].name}’, the only voice all in whole-bar notes"
    closing = [index for index in plain if _closes_as_cantus(voices[index], mode)]
    if len(closing) == 1:
        name = voices[closing[0]].name
        return closing[0], f"cantus: ‘{name}’, the only voice that starts on the final and falls to it by step"
    lowest = (closing or plain)[-1]
    return lowest, f"cantus: ‘{voices[lowest].name}’, the lowest voice it could be; nothing else tells"


def _mode_under(final: Pitch, fifths: int) -> Mode | None:
    try:
        return mode_from(letter(final), alteration(final), fifths)
    except ValueError:
        return None


def _spellings(pitch: Pitch) -> list[Pitch]:
    """A note in all its spellings with at most one sign; the octave does not matter here."""
    spellings = [make_pitch(letter_, shift, 4) for letter_ in range(7) for shift in (0, 1, -1)]
    return [spelling for spelling in spellings if (semitone(spelling) - semitone(pitch)) % 12 == 0]


def _last_pitch(voices: Sequence[Voice]) -> Pitch:
    for voice in reversed(voices):
        for event in reversed(voice.events):
            if event.pitch is not None:
                return event.pitch
    raise ValueError("there are no notes")


def _is_plain(voice: Voice, metre: Metre) -> bool:
    """Whether a voice is all in notes of a bar each, the last as long as it likes."""
    if not voice.events:
        return False
    bars = metre.lengths()
    for number, event in enumerate(voice.events, 1):
        bar = next(bars)
        if event.pitch is None or event.length < bar or (event.length > bar and number < len(voice.events)):
            return False
    return True


def _closes_as_cantus(voice: Voice, mode: Mode) -> bool:
    pitches = [event.pitch for event in voice.events if event.pitch is not None]
    if len(pitches) < 2 or mode.place(pitches[0])[0] != 1 or mode.place(pitches[-1])[0] != 1:
        return False
    return steps(between(pitches[-2], pitches[-1])) == -1


def _open_in_words(voices: Sequence[Voice]) -> list[str]:
    number = sum(event.open for voice in voices for event in voice.events)
    return [f"notes still to be found: {number}; until then they are judged as rests"] if number else []


def _lengths_in_words(voices: Sequence[Voice], metre: Metre) -> list[str]:
    longest = max((voice.length for voice in voices), default=Fraction(0))
    short = [(voice.name, (longest - voice.length) / metre.bar_length) for voice in voices]
    return [
        f"length: ‘{name}’ ends {missing} {'bar' if missing == 1 else 'bars'} before the others"
        for name, missing in short
        if missing
    ]


def _order_in_words(voices: Sequence[Voice]) -> list[str]:
    """What to say of voices that look as if they were written from the lowest."""
    if len(voices) < 2 or not all(_is_crossed(upper, lower) for upper, lower in pairwise(voices)):
        return []
    return [
        f"order: ‘{voices[0].name}’ stands highest and sounds lowest throughout; if the voices are written from the"
        " lowest, say so: --lowest-first, or the header order: lowest first"
    ]


def _is_crossed(upper: Voice, lower: Voice) -> bool:
    """Whether the one sounds below the other wherever both sound, and they do."""
    met = False
    high, low = iter(upper.events), iter(lower.events)
    one, other = next(high, None), next(low, None)
    left, right = (each.length if each else Fraction(0) for each in (one, other))
    while one is not None and other is not None:
        if one.pitch is not None and other.pitch is not None:
            met = True
            if one.pitch >= other.pitch:
                return False
        passed = min(left, right)
        left, right = left - passed, right - passed
        if not left:
            one = next(high, None)
            left = one.length if one else left
        if not right:
            other = next(low, None)
            right = other.length if other else right
    return met


def sharing_in_words(voices: Sequence[Voice], cantus: int | None) -> list[str]:
    """What to say of three voices that look like an upper and a lower solution on one cantus."""
    if len(voices) != 3 or cantus != 1:
        return []
    return [
        "cantus: it stands in the middle; if the other voices are two solutions on it, each to be judged with it alone,"
        " say so: --shared-cantus, or the header cantus: shared"
    ]
