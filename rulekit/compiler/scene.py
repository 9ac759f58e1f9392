"""The scene: what compiled rules may know of an exercise before it begins, and which voices they watch."""

from functools import cache

from rulekit.exercise.model import Setting
from rulekit.language.typed import Voices
from rulekit.music.pitch import Pitch

BY_PACE = {  # words that name voices by how they move
    "moving voice", "voice in halves", "voice in quarters", "tied voice", "florid voice",
}  # fmt: skip


class Scene:
    """The setting by the names of the language; hashable parts only, the same for all rules."""

    __slots__ = ("setting", "mode", "metre", "number_of_voices", "number_of_bars")

    def __init__(self, setting: Setting) -> None:
        self.setting = setting
        self.mode = setting.mode.name
        self.metre = "triple" if setting.metre.beats % 3 == 0 else "duple"
        self.number_of_voices = setting.voice_count
        self.number_of_bars = setting.bars

    def has(self, voices: Voices, voice: int | None) -> bool | None:
        """Whether a voice is one of those that the words name; None where it is missing."""
        if voice is None:
            return None
        return voice in lines(voices, self.number_of_voices, self.setting.cantus, self.setting.paces)

    def degree(self, pitch: Pitch | None) -> int | None:
        """The degree of the mode, 1 to 7, that a pitch stands on."""
        return None if pitch is None else self.setting.mode.place(pitch)[0]


@cache
def lines(voices: Voices, count: int, cantus: int | None, paces: tuple[str, ...]) -> tuple[int, ...]:
    """The voices, numbered from 0 at the top, that the words name among ``count`` voices that move so."""
    every = range(count)
    parts = (lines(part, count, cantus, paces) for part in voices.parts)
    found = {
        "each voice": every,
        "cantus": [] if cantus is None else [cantus],
        "counterpoint": [i for i in every if i != cantus],
        "highest voice": every[:1],
        "lowest voice": every[-1:],
        "inner voices": every[1:-1],
        "outer voices": sorted({*every[:1], *every[-1:]}),
        "upper voices": every[:-1],
        "moving voice": _moving(count, cantus, paces),
        "voice in halves": _of_pace(cantus, paces, "halves"),
        "voice in quarters": _of_pace(cantus, paces, "quarters"),
        "tied voice": _of_pace(cantus, paces, "tied"),
        "florid voice": _of_pace(cantus, paces, "florid"),
        "voice": every[voices.number - 1 : voices.number],
        "or": sorted({voice for part in parts for voice in part}),
    }
    left_out = lines(voices.but, count, cantus, paces) if voices.but else ()
    return tuple(voice for voice in found[voices.words] if voice not in left_out)


@cache
def pairs(voices: Voices, count: int, cantus: int | None, paces: tuple[str, ...]) -> tuple[tuple[int, int], ...]:
    """The pairs, upper voice first, that the words name among ``count`` voices that move so."""
    every = [(high, low) for high in range(count) for low in range(high + 1, count)]
    found = {
        "each pair": every,
        "outer voices": [(0, count - 1)] if count > 1 else [],
        "neighbouring voices": [(high, low) for high, low in every if low == high + 1],
        "inner voices": [(high, low) for high, low in every if high > 0 and low < count - 1],
        "upper voices": [(high, low) for high, low in every if low < count - 1],
    }
    match voices.words:
        case "or":
            parts = [pairs(part, count, cantus, paces) for part in voices.parts]
            named = [pair for pair in every if any(pair in part for part in parts)]
        case "and":
            one, other = (lines(part, count, cantus, paces) for part in voices.parts)
            named = [(a, b) for a, b in every if (a in one and b in other) or (a in other and b in one)]
        case words:
            named = found[words]
    left_out = pairs(voices.but, count, cantus, paces) if voices.but else ()
    return tuple(pair for pair in named if pair not in left_out)


def _of_pace(cantus: int | None, paces: tuple[str, ...], pace: str) -> list[int]:
    """The voices, but for the cantus, that move so."""
    return [voice for voice, own in enumerate(paces) if own == pace and voice != cantus]


def _moving(count: int, cantus: int | None, paces: tuple[str, ...]) -> list[int]:
    """The voices, but for the cantus, that have more than one note to the bar; where there is none, all of them."""
    others = [voice for voice in range(count) if voice != cantus]
    return [voice for voice in others if paces and paces[voice] not in ("", "whole")] or others
