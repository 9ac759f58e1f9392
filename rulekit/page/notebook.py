"""How exercises, marked exercises and rulesets show themselves in a notebook."""

from collections.abc import Iterator
from html import escape

from rulekit.exercise.model import Exercise
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Finding, Marked
from rulekit.page.pictures import Pictures
from rulekit.page.reach import NoteKey, Reach, numbered
from rulekit.page.staves import Sign
from rulekit.show.words import source_words

_STYLE = """<style>
.rulekit .staves { max-width: 100%; height: auto; overflow: visible; color: inherit }
.rulekit .staves path { stroke: currentColor }
.rulekit .staves .line, .rulekit .ring, .rulekit .bracket { fill: none }
.rulekit .staves use, .rulekit .staves polygon { fill: currentColor; stroke: none }
.rulekit .staves text { font: 14px serif; fill: currentColor }
.rulekit .staves .number { font-size: 10px }
.rulekit .figure text, .rulekit .staves .badge-number { text-anchor: middle }
.rulekit .hit > .ring, .rulekit .staves .bracket { stroke: #24476b; stroke-width: 1.4 }
.rulekit .ring { stroke: none }
.rulekit .badge { fill: #fff; stroke: #24476b }
.rulekit .staves .badge-number { font: 600 11px sans-serif; fill: #24476b }
</style>"""


def _block(*parts: str) -> str:
    return f'<div class="rulekit">{_STYLE}{"".join(parts)}</div>'


def html_of(thing: object) -> str:
    """An exercise, a marked one or a ruleset, as a notebook shows it."""
    match thing:
        case Exercise():
            return _exercise(thing)
        case Marked():
            return _marked(thing)
        case Ruleset():
            return _ruleset(thing)
        case _:
            raise TypeError(f"a {type(thing).__name__} is not drawn")


def _exercise(exercise: Exercise) -> str:
    """An exercise on staves."""
    pictures = Pictures()
    drawn = pictures.plain(exercise)
    return _block(f"<p><b>{escape(exercise.heading)}</b></p>", pictures.definitions, drawn)


def _marked(marked: Marked) -> str:
    """A marked exercise on staves, its findings numbered there and told below."""
    pictures = Pictures()
    drawn = pictures.plain(marked.exercise, tuple(signs(marked)))
    told = "".join(f"<li>{_told(finding)}</li>" for finding in marked.findings)
    heading = f"<p><b>{escape(marked.exercise.heading)}</b>: {marked.mark} of 100</p>"
    return _block(heading, pictures.definitions, drawn, f"<ol>{told}</ol>")


def signs(marked: Marked) -> Iterator[Sign]:
    """The findings at the notes that they are about."""
    keys = _keys(marked.exercise)
    for number, finding in enumerate(marked.findings, 1):
        own = tuple(keys[p.bar, p.beat, p.voice] for p in finding.places)
        if own and finding.bar is not None:
            yield Sign(number, Reach(own, ()), finding.excuse is not None, "")


def _keys(exercise: Exercise) -> dict[tuple[object, ...], NoteKey]:
    """The number of each sounding note by its bar, beat and voice."""
    return {
        (note.bar + exercise.first_bar - 1, note.beat, exercise.voices[note.voice].name): key
        for key, note in numbered(exercise)
    }


def _told(finding: Finding) -> str:
    excuse = "" if finding.excuse is None else f" (excused: {escape(finding.excuse.reason)})"
    place = "" if finding.bar is None else f"bar {finding.bar}: "
    return f"{place}{escape(finding.message)}{excuse}"


def _ruleset(ruleset: Ruleset) -> str:
    """The rules of a ruleset with their weights and sources."""
    rows = "".join(
        f"<tr><td>{escape(rule.name)}</td><td>{rule.weight.severity}</td><td>{rule.weight.points}</td>"
        f"<td>{escape(source_words(rule.source))}</td></tr>"
        for rule in ruleset.rules
    )
    head = "<tr><th>rule</th><th>severity</th><th>points</th><th>source</th></tr>"
    return _block(f"<p><b>{escape(ruleset.title)}</b></p><table>{head}{rows}</table>")
