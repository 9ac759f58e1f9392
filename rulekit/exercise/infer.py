"""What a score does not say, worked out and told in words: mode, cantus and ranges."""

from collections.abc import Sequence
from fractions import Fraction

from rulekit.exercise.model import Compass, Exercise, Metre, Voice
from rulekit.music.mode import Mode, mode_from, signs_in_words
from rulekit.music.pitch import Pitch, alteration, between, letter, pitch_name, pitch_of, steps

# Common practice, no source.
_RANGES = {"soprano": ("C4", "A5"), "alto": ("F3", "D5"), "tenor": ("C3", "A4"), "bass": ("F2", "D4")}
_CANTUS_NAMES = ("cantus", "cantus firmus", "cantus-firmus", "cf", "c.f.")


def compass_of(name: str) -> Compass | None:
    """The range of a voice called soprano, alto, tenor or bass; None for any other name."""
    ends = _RANGES.get(name.casefold())
    return Compass(name, pitch_of(ends[0]), pitch_of(ends[1])) if ends else None


def names_cantus(name: str) -> bool:
    """Whether a voice's name says that it holds the cantus firmus."""
    return name.casefold() in _CANTUS_NAMES


def complete(
    title: str,
    voices: Sequence[Voice],
    metre: Metre,
    *,
    first_bar: int = 1,
    mode: Mode | None = None,
    fifths: int | None = None,
    cantus: int | None = None,
    has_cantus: bool = True,
    said: Sequence[str] = (),
) -> Exercise:
    """An exercise from what is known, the rest worked out; ``said`` is what was worked out before.

    ``fifths`` is the key signature (-1 is one flat) if the score has one; ``cantus`` the index
    of the voice known to hold it; ``has_cantus`` False when there is known to be none.
    Raises ValueError when there are no notes to work from.
    """
    words = [*said, *_lengths_in_words(voices, metre)]
    if mode is None:
        mode, reason = infer_mode(voices, fifths)
        words.append(reason)
    if cantus is None and has_cantus:
        cantus, reason = infer_cantus(voices, mode, metre)
        words.append(reason)
    return Exercise(title, tuple(voices), mode, metre, cantus, first_bar, tuple(words))


def infer_mode(voices: Sequence[Voice], fifths: int | None) -> tuple[Mode, str]:
    """The mode by the last note of the lowest voice and the signature, and the reason in words.

    Without a signature the one is taken that leaves fewest notes altered; the leading note does
    not count. Raises ValueError when no voice has a note. Common practice, no source.
    """
    final = _last_pitch(voices)
    if fifths is not None:
        try:
            mode = mode_from(letter(final), alteration(final), fifths)
            reason = f"a signature of {signs_in_words(fifths)}"
            return mode, f"mode: {mode}, from the last low note {pitch_name(final)} and {reason}"
        except ValueError:
            pass
    pitches = [event.pitch for voice in voices for event in voice.events if event.pitch is not None]
    mode = min(_modes_on(final), key=lambda mode: (_altered(mode, pitches), abs(mode.signature)))
    return mode, f"mode: {mode}, from the last low note {pitch_name(final)} and the accidentals"


def infer_cantus(voices: Sequence[Voice], mode: Mode, metre: Metre) -> tuple[int | None, str]:
    """The index of the voice that holds the cantus, or None, and the reason in words.

    It is the voice named so; else the one that is all in whole-bar notes; of several such the
    one that begins and ends on the final and falls to it by step (Fux, Gradus ad Parnassum
    (1725): all his cantus firmi do); else the lowest of those that are left.
    """
    named = [index for index, voice in enumerate(voices) if names_cantus(voice.name)]
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
        return closing[
            0
        ], f"cantus: ‘{name}’, the only voice that starts on the final and falls to it by step"
    lowest = (closing or plain)[-1]
    return lowest, f"cantus: ‘{voices[lowest].name}’, the lowest voice it could be; nothing else tells"


def _modes_on(final: Pitch) -> list[Mode]:
    """The modes on a final, locrian left out; a final with no usable signature raises ValueError."""
    modes: list[Mode] = []
    for name in ("dorian", "phrygian", "lydian", "mixolydian", "aeolian", "ionian"):
        try:
            modes.append(Mode(letter(final), alteration(final), name))
        except ValueError:
            continue
    if not modes:
        raise ValueError(f"the last low note {pitch_name(final)} is the final of no mode")
    return modes


def _altered(mode: Mode, pitches: Sequence[Pitch]) -> int:
    """How many of the pitches are altered against the mode, leading notes not counted."""
    return sum(mode.place(pitch)[1] != 0 and not mode.is_leading(pitch) for pitch in pitches)


def _last_pitch(voices: Sequence[Voice]) -> Pitch:
    for voice in reversed(voices):
        for event in reversed(voice.events):
            if event.pitch is not None:
                return event.pitch
    raise ValueError("there are no notes")


def _is_plain(voice: Voice, metre: Metre) -> bool:
    """Whether a voice is all in notes of a bar each, the last as long as it likes."""
    *events, last = voice.events
    fills = all(event.pitch is not None and event.length == metre.bar_length for event in events)
    return fills and last.pitch is not None and last.length >= metre.bar_length


def _closes_as_cantus(voice: Voice, mode: Mode) -> bool:
    pitches = [event.pitch for event in voice.events if event.pitch is not None]
    if len(pitches) < 2 or mode.place(pitches[0])[0] != 1 or mode.place(pitches[-1])[0] != 1:
        return False
    return steps(between(pitches[-2], pitches[-1])) == -1


def _lengths_in_words(voices: Sequence[Voice], metre: Metre) -> list[str]:
    longest = max((voice.length for voice in voices), default=Fraction(0))
    return [
        f"length: ‘{voice.name}’ ends {(longest - voice.length) / metre.bar_length} bars before the others"
        for voice in voices
        if voice.length < longest
    ]
