"""What a search has found, on a page: lines on staves that can be played, and plots of counts."""

from dataclasses import dataclass, field

from rulekit.exercise.model import Exercise
from rulekit.page.clefs import vocal_clefs
from rulekit.page.data import played
from rulekit.page.pictures import Pictures
from rulekit.page.plots import Plot
from rulekit.page.render import as_json, asset, fill
from rulekit.words import words


@dataclass(slots=True)
class Section:
    """A part of what was found: its heading, lines each with a note about it, plots."""

    heading: str
    lines: list[tuple[str, Exercise]] = field(default_factory=list["tuple[str, Exercise]"])
    plots: list[Plot] = field(default_factory=list[Plot])


@dataclass(frozen=True, slots=True)
class Drawn:
    """A line as the page shows it, numbered from 0."""

    number: int
    note: str
    picture: str


@dataclass(frozen=True, slots=True)
class DrawnSection:
    """A section as the page shows it."""

    heading: str
    lines: tuple[Drawn, ...]
    plots: tuple[Plot, ...]


def found_page(title: str, sections: list[Section], language: str = "en") -> str:
    """What was found, a whole HTML file."""
    pictures, heard = Pictures(), list[Exercise]()
    drawn = [_drawn(section, pictures, heard) for section in sections]
    say = words(language).say
    score = {"lines": [played(line) for line in heard], "words": {"play": say("Play"), "stop": say("Stop")}}
    styles = [asset("page.css"), asset("index.css")]
    scripts = [asset("player.js"), asset("found.js")]
    return fill(
        "found.html", language, styles, scripts,
        title=title, sections=drawn, voices=_voices(heard), score=as_json(score), glyphs=pictures.definitions,
    )  # fmt: skip


def _voices(heard: list[Exercise]) -> list[str]:
    """The names of the voices that may be heard alone; none where there is but one voice."""
    most = max((line.voices for line in heard), key=len, default=())
    return [voice.name for voice in most] if len(most) > 1 else []


def _drawn(section: Section, pictures: Pictures, heard: list[Exercise]) -> DrawnSection:
    lines: list[Drawn] = []
    for note, line in section.lines:
        lines.append(Drawn(len(heard), note, pictures.plain(line, clefs=vocal_clefs(line))))
        heard.append(line)
    return DrawnSection(section.heading, tuple(lines), tuple(section.plots))
