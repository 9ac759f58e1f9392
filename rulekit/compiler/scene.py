"""The scene: what compiled rules may know of an exercise before it begins, and which voices they watch."""

from functools import cache

from rulekit.exercise.model import Setting
from rulekit.language.typed import Voices
from rulekit.music.pitch import Pitch


class Scene:
    """The setting by the names of the language; hashable parts only, the same for all rules."""

    __slots__ = ("setting", "mode", "metre", "number_of_voices", "number_of_bars")

    def __init__(self, setting: Setting) -> None:
        self.setting = setting
        self.mode = setting.mode.name
        self.metre = "triple" if setting.metre.beats % 3 == 0 else "duple"
        self.number_of_voices = setting.voice_count
        self.number_of_bars = setting.bars

    def degree(self, pitch: Pitch | None) -> int | None:
        """The degree of the mode, 1 to 7, that a pitch stands on."""
        return None if pitch is None else self.setting.mode.place(pitch)[0]


@cache
def lines(voices: Voices, count: int, cantus: int | None) -> tuple[int, ...]:
    """The voices, numbered from 0 at the top, that the words name among ``count`` voices."""
    every = range(count)
    found = {
        "each voice": every,
        "cantus": [] if cantus is None else [cantus],
        "counterpoint": [i for i in every if i != cantus],
        "highest voice": every[:1],
        "lowest voice": every[-1:],
        "inner voices": every[1:-1],
        "outer voices": sorted({*every[:1], *every[-1:]}),
        "upper voices": every[:-1],
        "voice": [n - 1 for n in voices.numbers if n <= count],
    }
    return tuple(found[voices.words])


@cache
def pairs(voices: Voices, count: int, cantus: int | None) -> tuple[tuple[int, int], ...]:
    """The pairs, upper voice first, that the words name among ``count`` voices."""
    every = [(high, low) for high in range(count) for low in range(high + 1, count)]
    numbers = tuple(sorted(n - 1 for n in voices.numbers))
    found = {
        "each pair": every,
        "outer voices": [(0, count - 1)] if count > 1 else [],
        "neighbouring voices": [(high, low) for high, low in every if low == high + 1],
        "inner voices": [(high, low) for high, low in every if high > 0 and low < count - 1],
        "upper voices": [(high, low) for high, low in every if low < count - 1],
        "cantus and counterpoint": [pair for pair in every if cantus in pair],
        "voices and": [pair for pair in every if pair == numbers],
    }
    return tuple(found[voices.words])
