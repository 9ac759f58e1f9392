"""From the engraver's raw SVG to ours: small, labelled for screen readers, notes and findings pointing at each other.

One staff space is 10 units. Each line of the score is lifted apart so that findings find room above and below it.
Within a bar the order of the document is the order of reading: the notes by voice, the figures, the findings.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from html import escape
from xml.etree import ElementTree

from rulekit.exercise.model import Clef, Exercise
from rulekit.page.clefs import middle
from rulekit.page.engrave import SPACE, engrave, line_breaks
from rulekit.page.mei import Figured, Piece, figured, mei, pieces
from rulekit.page.reach import NoteKey, Reach

_UNIT = 10 / SPACE
_GLYPH = 0.72 * _UNIT
_SVG = "{http://www.w3.org/2000/svg}"
_HREF = "{http://www.w3.org/1999/xlink}href"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_PLACE = re.compile(r"translate\((-?[\d.]+), ?(-?[\d.]+)\)(?: scale\((-?[\d.]+), ?(-?[\d.]+)\))?")
_LANE, _GAP, _HEAD = 19.0, 30.0, 15.0
_ROW = 15.0
_ROOM = 30.0  # over and under a staff that belongs to it
_SMALL = 0.72  # the size of small pictures


@dataclass(frozen=True, slots=True)
class Sign:
    """A finding as it stands on the staff: its number, its notes, whether excused, and its label for readers."""

    number: int
    reach: Reach
    excused: bool
    label: str


@dataclass(frozen=True, slots=True)
class Wording:
    """What the parts of a score are called by a screen reader, in the page's language."""

    score: str
    bar: Callable[[int], str]
    note: Callable[[NoteKey], str]
    figures: Callable[[Figured], str]


@dataclass(frozen=True, slots=True)
class Look:
    """How a score is drawn: ``width`` in staff spaces, with or without room for syllables, figures reduced or not.

    ``together`` are the groups of voices, counted from the highest written (0), whose intervals are figured.
    ``changed`` are notes to be marked as changed; ``quiet`` leaves out what can be chosen and read aloud; not
    ``measured``, it has no time signature and no bar numbers. ``to_write`` says of a note still to be found what a
    screen reader calls it; with it the staves themselves can be pointed at, too.
    """

    width: int
    clefs: tuple[Clef, ...]
    sung: bool = True
    reduced: bool = False
    together: tuple[tuple[int, ...], ...] = ()
    changed: frozenset[NoteKey] = frozenset()
    quiet: bool = False
    measured: bool = True
    to_write: Callable[[Piece], str] | None = None


@dataclass(slots=True)
class _Bar:
    """A bar as found in the raw SVG: the shapes of its staves and notes, and what stands beside them."""

    number: int
    left: float = 1e9
    grounds: list[str] = field(default_factory=list[str])
    shapes: list[str] = field(default_factory=list[str])
    figures: list[tuple[Figured, float]] = field(default_factory=list["tuple[Figured, float]"])


@dataclass(slots=True)
class _Line:
    """One line of the score: its bars, its frame, how far it reaches up and down, and its noteheads."""

    frame: list[str] = field(default_factory=list[str])
    bars: list[_Bar] = field(default_factory=list[_Bar])
    top: float = 1e9
    bottom: float = -1e9
    left: float = 1e9
    right: float = 0
    staff_top: float = 1e9
    heads: dict[str, tuple[float, float]] = field(default_factory=dict[str, tuple[float, float]])


def draw(exercise: Exercise, look: Look, signs: Sequence[Sign], wording: Wording, glyphs: dict[str, str]) -> str:
    """The SVG of an exercise; the outlines of the glyphs it uses are added to ``glyphs`` by their code."""
    breaks = line_breaks(exercise, look.width)
    above = tuple(figured(exercise, look.together))
    text = mei(exercise, look.clefs, breaks=breaks, figured=above, sung=look.sung, measured=look.measured)
    return _Drawing(exercise, look, signs, wording, glyphs, above).draw(
        engrave(text, look.width, whole=look.quiet and not breaks)
    )


class _Drawing:
    def __init__(
        self, exercise: Exercise, look: Look, signs: Sequence[Sign], wording: Wording, glyphs: dict[str, str],
        above: Sequence[Figured],
    ) -> None:  # fmt: skip
        self.exercise, self.look, self.signs, self.wording, self.glyphs = exercise, look, signs, wording, glyphs
        written = [piece for voice in range(len(exercise.voices)) for piece in pieces(exercise, voice)]
        self.pieces: dict[str, Piece] = {piece.id: piece for piece in written}
        self.figures = {each.id: each for each in above}
        self.first: dict[NoteKey, str] = {}
        for piece in written:
            if piece.note is not None:
                self.first.setdefault((piece.voice, piece.note), piece.id)
        self.line = _Line()
        self.bar = _Bar(0)
        self.top = 0.0  # of the staff that is read

    # ---- reading the raw SVG --------------------------------------------------------------------

    def draw(self, root: ElementTree.Element) -> str:
        """Our SVG."""
        self._glyphs(root)
        lines = [self._read(element) for element in root.iter(f"{_SVG}g") if _class(element) == "system"]
        parts: list[str] = []
        height = 0.0
        for line in lines:
            above, below = self._lanes(line)
            part, height = self._placed(line, above, below, height)
            parts.append(part)
        alone = self.look.quiet and len(lines) == 1
        width = lines[0].right + 6 if alone else self.look.width * 10
        label = "" if self.look.quiet else f' role="group" aria-label="{escape(self.wording.score)}"'
        small = f' width="{_n(_SMALL * width)}" aria-hidden="true"' if self.look.quiet else ""
        kind = "staves small" if self.look.quiet else "staves"
        view = f"0 0 {_n(width)} {_n(height)}"
        return f'<svg class="{kind}" viewBox="{view}"{label}{small}>{"".join(parts)}</svg>'

    def _glyphs(self, root: ElementTree.Element) -> None:
        for defined in root.iter(f"{_SVG}defs"):
            for group in defined.iter(f"{_SVG}g"):
                path = group.find(f"{_SVG}path")
                if path is not None:
                    self.glyphs.setdefault(group.get("id", "").split("-")[0], path.get("d", ""))

    def _read(self, system: ElementTree.Element) -> _Line:
        self.line = _Line()
        for child in system:
            if _class(child) == "measure":
                self.bar = _Bar(int(child.get("data-id", "bar0").removeprefix("bar")))
                self.line.bars.append(self.bar)
                self.bar.shapes += [self._element(inner) for inner in child]
            elif not any(inner.tag == f"{_SVG}ellipse" for inner in child):
                self.line.frame.append(self._element(child))
        return self.line

    def _element(self, element: ElementTree.Element) -> str:
        """An element in our units; groups that say nothing vanish."""
        kind = _class(element)
        if kind in ("section", "systemMilestoneEnd", "mNum"):
            return ""
        if kind == "verse":
            return ""
        if kind == "harm":
            self._harm(element)
            return ""
        if kind == "note":
            return self._note(element)
        if kind == "rest" and self.look.to_write is not None:
            return self._to_be_found(element, self.look.to_write)
        tag = element.tag.removeprefix(_SVG)
        if kind == "staff" and self.look.to_write is not None:
            self.bar.grounds.append(self._ground(element))
        if kind in ("staff", "barLine"):
            return self._joined(element)
        if tag == "g":
            return "".join(self._element(child) for child in element)
        return self._shape(tag, element)

    def _joined(self, element: ElementTree.Element) -> str:
        """A group whose own strokes, if they are of one width, become one path."""
        paths = [child for child in element if child.tag == f"{_SVG}path"]
        for path in paths:
            self._path(path)
        strokes: dict[str, list[str]] = {}
        for path in paths:
            strokes.setdefault(path.get("stroke-width", "13"), []).append(_NUMBER.sub(_short, path.get("d", "")))
        drawn = "".join(
            f'<path class="line" stroke-width="{_scaled(width, 2)}" d="{"".join(each)}"/>'
            for width, each in strokes.items()
        )
        return drawn + "".join(self._element(child) for child in element if child not in paths)

    def _ground(self, staff: ElementTree.Element) -> str:
        """Where one may point to write on a staff: its voice, and the diatonic step of its top line, C0 = 0."""
        voice = len(self.bar.grounds)
        lines = (each.get("d", "") for each in staff if each.tag == f"{_SVG}path")
        left, self.top, right, _ = [float(n) * _UNIT for n in _NUMBER.findall(next(lines))][:4]
        place = f'x="{_n(left)}" y="{_n(self.top - _ROOM)}" width="{_n(right - left)}" height="{_n(40 + 2 * _ROOM)}"'
        step = middle(self.look.clefs[voice]) + 4
        return f'<rect class="ground" data-staff="{voice}" data-step="{step}" data-top="{_n(self.top)}" {place}/>'

    def _to_be_found(self, rest: ElementTree.Element, label: Callable[[Piece], str]) -> str:
        """A note still to be found, as a sign that can be chosen; a rest as it is."""
        piece = self.pieces.get(rest.get("data-id", ""))
        use = next(rest.iter(f"{_SVG}use"), None)
        if piece is None or piece.open is None or use is None:
            return "".join(self._element(child) for child in rest)
        place = _PLACE.match(use.get("transform", ""))
        assert place is not None
        x, y = float(place[1]) * _UNIT + _HEAD / 2, self.top + 20
        name = f'data-open="{piece.voice}.{piece.open}" role="button" tabindex="-1"'
        area = f'<rect class="area" x="{_n(x - 17)}" y="{_n(y - 14)}" width="34" height="28" rx="6"/>'
        sign = f'<text class="open" x="{_n(x)}" y="{_n(y + 6)}">?</text>'
        return f'<g class="note" {name} aria-label="{escape(label(piece))}">{area}{sign}</g>'

    def _shape(self, tag: str, element: ElementTree.Element) -> str:
        match tag:
            case "use":
                return self._use(element)
            case "path":
                return self._path(element)
            case "rect":
                x, y, width, height = (float(element.get(k, "0")) * _UNIT for k in ("x", "y", "width", "height"))
                self._reach(x, y)
                self._reach(x + width, y + height)
                return f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"/>'
            case "polygon":
                points = [_scaled(n) for n in _NUMBER.findall(element.get("points", ""))]
                return f'<polygon points="{" ".join(points)}"/>'
            case "ellipse":
                x, y, rx, ry = (float(element.get(k, "0")) * _UNIT for k in ("cx", "cy", "rx", "ry"))
                return f'<ellipse cx="{_n(x)}" cy="{_n(y)}" rx="{_n(rx)}" ry="{_n(ry)}"/>'
            case "text":
                return self._text(element)
            case _:
                return ""

    def _use(self, element: ElementTree.Element) -> str:
        code = element.get(_HREF, "#").removeprefix("#").split("-")[0]
        place = _PLACE.match(element.get("transform", ""))
        assert place is not None
        x, y = float(place[1]) * _UNIT, float(place[2]) * _UNIT
        self._reach(x, y)
        across, down = float(place[3] or 1), float(place[4] or 1)
        stretched = (round(across, 2), round(down, 2)) != (0.72, 0.72)
        if stretched:
            scale = f"scale({_n(across / 0.72, 2)} {_n(down / 0.72, 2)})"
            return f'<use href="#g{code}" transform="translate({_n(x)} {_n(y)}) {scale}"/>'
        return f'<use href="#g{code}" x="{_n(x)}" y="{_n(y)}"/>'

    def _path(self, element: ElementTree.Element) -> str:
        d = element.get("d", "")
        numbers = [float(n) * _UNIT for n in _NUMBER.findall(d)]
        for x, y in zip(numbers[::2], numbers[1::2], strict=False):
            self._reach(x, y)
        width = element.get("stroke-width")
        curved = "C" in d
        stroke = f' stroke-width="{0.4 if curved else _scaled(width, 2)}"' if width else ""
        kind = "" if curved else ' class="line"'
        level = len(numbers) == 4 and numbers[1] == numbers[3]
        if level and width and float(width) < 20:
            self.line.staff_top = min(self.line.staff_top, numbers[1])
            self.line.left, self.line.right = min(self.line.left, numbers[0]), max(self.line.right, numbers[2])
            self.bar.left = min(self.bar.left, numbers[0])
        return f'<path{kind} d="{_NUMBER.sub(_short, d)}"{stroke}/>'

    def _text(self, element: ElementTree.Element) -> str:
        words = "".join(element.itertext()).strip()
        x, y = float(element.get("x", "0")) * _UNIT, float(element.get("y", "0")) * _UNIT
        self._reach(x, y)
        if not words:
            return ""
        anchor = element.get("text-anchor", "start")
        return f'<text x="{_n(x)}" y="{_n(y)}" text-anchor="{anchor}">{escape(words)}</text>'

    def _reach(self, x: float, y: float) -> None:
        self.line.top, self.line.bottom = min(self.line.top, y), max(self.line.bottom, y)

    # ---- notes and figures ----------------------------------------------------------------------

    def _note(self, element: ElementTree.Element) -> str:
        piece = self.pieces.get(element.get("data-id", "").split("x")[0])
        if piece is None or piece.note is None:
            return "".join(self._element(child) for child in element)
        shapes = "".join(self._element(child) for child in element)
        head = next((use for use in element.iter(f"{_SVG}use") if _is_head(use)), None)
        place = _PLACE.match(head.get("transform", "")) if head is not None else None
        if place is None:
            return shapes
        x, y = float(place[1]) * _UNIT + _HEAD / 2, float(place[2]) * _UNIT
        self._reach(x, y - 6)
        self._reach(x, y + 6)
        self.line.heads[piece.id] = x, y
        key = piece.voice, piece.note
        sung = self._syllable(element, key, x)
        return self._note_group(piece, key, shapes, x, y) + sung

    def _note_group(self, piece: Piece, key: NoteKey, shapes: str, x: float, y: float) -> str:
        ring = f'<ellipse class="ring" cx="{_n(x)}" cy="{_n(y)}" rx="13" ry="10"/>'
        changed = f'<path class="changed" d="{_wedge(x, y)}"/>' if key in self.look.changed else ""
        name = f"{key[0]}.{key[1]}"
        if self.look.quiet:
            classes = "note hit" if key in self._hit else "note"
            return f'<g class="{classes}">{ring * (key in self._hit)}{shapes}{changed}</g>'
        found = " hit" if key in self._hit else ""
        if self.first[key] != piece.id:
            return f'<g class="note{found}" data-note="{name}">{shapes}</g>'
        label = escape(self.wording.note(key))
        area = f'<rect class="area" x="{_n(x - 17)}" y="{_n(y - 14)}" width="34" height="28" rx="6"/>'
        attributes = f'data-note="{name}" role="button" tabindex="-1" aria-label="{label}"'
        return f'<g class="note{found}" {attributes}>{area}{ring}{shapes}{changed}</g>'

    @property
    def _hit(self) -> frozenset[NoteKey]:
        return frozenset(key for sign in self.signs for key in sign.reach.notes)

    def _syllable(self, element: ElementTree.Element, key: NoteKey, x: float) -> str:
        verse = next((inner for inner in element.iter(f"{_SVG}g") if _class(inner) == "verse"), None)
        text = None if verse is None else next(verse.iter(f"{_SVG}text"), None)
        if text is None or self.look.quiet:
            return ""
        y = float(text.get("y", "0")) * _UNIT
        self._reach(x, y + 4)
        return f'<text class="syllable" data-sung="{key[0]}.{key[1]}" x="{_n(x)}" y="{_n(y)}" aria-hidden="true"/>'

    def _harm(self, element: ElementTree.Element) -> None:
        text = next(element.iter(f"{_SVG}text"), None)
        if text is not None:
            above = self.figures[element.get("data-id", "")]
            self.bar.figures.append((above, float(text.get("y", "0")) * _UNIT))

    def _bar_figures(self, bar: _Bar, line: _Line) -> Iterator[str]:
        """The figures of a bar, each over the note that begins with it; a crossing is told by a sign beside them."""
        for above, y in bar.figures:
            begun = (p.id for p in self.pieces.values() if p.onset == above.figures.time and p.voice in above.voices)
            xs = [line.heads[each][0] for each in begun if each in line.heads]
            if xs:
                yield self._figure(above, max(xs), y)

    def _figure(self, above: Figured, x: float, y: float) -> str:
        each = above.figures
        rows: list[str] = []
        for index, figure in enumerate(each.figures):
            compound, reduced = figure.words(), figure.words(reduced=True)
            shown = _music(reduced if self.look.reduced else compound)
            both = f' data-compound="{_music(compound)}" data-reduced="{_music(reduced)}"'
            choice = both if compound != reduced else ""
            rows.append(f'<text x="{_n(x)}" y="{_n(y + index * _ROW)}"{choice}>{shown}</text>')
        if each.crossed:
            rows.append(f'<path class="crossed" d="{_cross(x + 13, y - 5)}"/>')
        if self.look.quiet:
            return f'<g class="figure">{"".join(rows)}</g>'
        return f'<g class="figure" role="img" aria-label="{escape(self.wording.figures(above))}">{"".join(rows)}</g>'

    # ---- findings -------------------------------------------------------------------------------

    def _lanes(self, line: _Line) -> tuple[list["_Bracket"], list["_Bracket"]]:
        """The brackets above and below a line, each in a lane where it meets no other."""
        above: list[_Bracket] = []
        below: list[_Bracket] = []
        for sign in self.signs:
            bracket = self._bracket(sign, line)
            if bracket is not None:
                side = above if self._belongs_above(sign) else below
                side.append(bracket)
        return _stacked(above), _stacked(below)

    def _belongs_above(self, sign: Sign) -> bool:
        voices = {voice for voice, _ in sign.reach.notes}
        return (voices == {0} and len(self.exercise.voices) > 1) or (len(self.look.together) > 1 and 0 in voices)

    def _bracket(self, sign: Sign, line: _Line) -> "_Bracket | None":
        keys = sign.reach.notes
        xs = [line.heads[self.first[key]][0] for key in keys if self.first.get(key) in line.heads]
        if not xs:
            return None
        cut_left = self.first[min(keys, key=self._onset)] not in line.heads
        cut_right = self.first[max(keys, key=self._onset)] not in line.heads
        left = line.left + 6 if cut_left else min(xs)
        right = line.right - 4 if cut_right else max(xs)
        bar = self._bar_of(line, sign)
        return _Bracket(sign, left, right, cut_left, cut_right, bar)

    def _onset(self, key: NoteKey) -> Fraction:
        return self.pieces[self.first[key]].onset

    def _bar_of(self, line: _Line, sign: Sign) -> int:
        """The bar in which a finding is read: that of its last note on this line."""
        keys = sign.reach.notes
        onsets = [self.pieces[self.first[key]].onset for key in keys if self.first.get(key) in line.heads]
        return self.exercise.metre.bar_of(max(onsets))

    # ---- putting lines under each other ---------------------------------------------------------

    def _placed(
        self, line: _Line, above: Sequence["_Bracket"], below: Sequence["_Bracket"], height: float
    ) -> tuple[str, float]:
        """A line of the score at a height, and the height after it."""
        lanes_above = max((bracket.lane + 1 for bracket in above), default=0)
        lanes_below = max((bracket.lane + 1 for bracket in below), default=0)
        top = min(line.top, line.staff_top - 14) - 6
        shift = height + lanes_above * _LANE - top + 4
        signs: dict[int, list[str]] = {}
        for bracket in above:
            signs.setdefault(bracket.bar, []).append(bracket.drawn(top - bracket.lane * _LANE, -1, self.look.quiet))
        bottom = line.bottom + 8
        for bracket in below:
            signs.setdefault(bracket.bar, []).append(bracket.drawn(bottom + bracket.lane * _LANE, 1, self.look.quiet))
        bars = "".join(self._drawn_bar(bar, line, signs.get(bar.number, [])) for bar in line.bars)
        drawn = f'<g transform="translate(0 {_n(shift)})">{"".join(line.frame)}{bars}</g>'
        return drawn, shift + bottom + lanes_below * _LANE + (_GAP if not self.look.quiet else 8)

    def _drawn_bar(self, bar: _Bar, line: _Line, signs: Iterable[str]) -> str:
        number = bar.number + self.exercise.first_bar - 1
        place = f'x="{_n(bar.left + 3)}" y="{_n(line.staff_top - 5)}"'
        shown = f'<text class="number" {place} aria-hidden="true">{number}</text>' if self.look.measured else ""
        content = "".join([*bar.grounds, shown, *bar.shapes, *self._bar_figures(bar, line), *signs])
        if self.look.quiet:
            return content
        return f'<g class="bar" role="group" aria-label="{escape(self.wording.bar(number))}">{content}</g>'


@dataclass(slots=True)
class _Bracket:
    """A finding on one line: from where to where, whether it comes from the line before or goes on, and its lane."""

    sign: Sign
    left: float
    right: float
    cut_left: bool
    cut_right: bool
    bar: int
    lane: int = 0

    @property
    def span(self) -> tuple[float, float]:
        middle = (self.left + self.right) / 2
        return min(self.left - 4, middle - 13), max(self.right + 4, middle + 13)

    def drawn(self, y: float, away: int, quiet: bool) -> str:
        """The bracket with its number; ``away`` is 1 below the staves and -1 above."""
        bar, tip = y + away * 6, y
        left, right, middle = self.left, self.right, (self.left + self.right) / 2
        start = f"M{_n(left)} {_n(tip)}V{_n(bar)}" if not self.cut_left else f"M{_n(left)} {_n(bar)}"
        end = f"V{_n(tip)}" if not self.cut_right else ""
        path = f"{start}H{_n(right)}{end}" if right - left > 1 else f"M{_n(left)} {_n(tip)}V{_n(bar)}"
        words = f"({self.sign.number})" if self.sign.excused else str(self.sign.number)
        half = 4 + 3.6 * len(words)
        box = (
            f'<rect class="badge" x="{_n(middle - half)}" y="{_n(bar - 8)}" width="{_n(2 * half)}" height="16" rx="8"/>'
            f'<text class="badge-number" x="{_n(middle)}" y="{_n(bar + 4.2)}">{words}</text>'
        )
        inner = f'<path class="bracket" d="{path}"/>{box}'
        kind = "sign excused" if self.sign.excused else "sign"
        if quiet:
            return f'<g class="{kind}">{inner}</g>'
        label = f'role="button" tabindex="-1" aria-label="{escape(self.sign.label)}"'
        return f'<g class="{kind}" data-finding="{self.sign.number}" {label}>{inner}</g>'


def _stacked(brackets: list[_Bracket]) -> list[_Bracket]:
    """Lanes for brackets: the shorter ones nearer to the staff."""
    taken: list[list[tuple[float, float]]] = []
    for bracket in sorted(brackets, key=lambda b: (b.right - b.left, b.left)):
        left, right = bracket.span
        free = (i for i, lane in enumerate(taken) if all(right + 3 < a or b + 3 < left for a, b in lane))
        bracket.lane = next(free, len(taken))
        if bracket.lane == len(taken):
            taken.append([])
        taken[bracket.lane].append((left, right))
    return brackets


def glyph_definitions(glyphs: Mapping[str, str]) -> str:
    """The outlines that the scores of a page share."""
    scale = _n(_GLYPH, 4)
    inner = "".join(
        f'<path id="g{code}" transform="scale({scale} -{scale})" d="{d}"/>' for code, d in sorted(glyphs.items())
    )
    return f'<svg class="glyphs" width="0" height="0" aria-hidden="true"><defs>{inner}</defs></svg>'


def named(picture: str, name: str) -> str:
    """A picture whose contents can be shown :func:`again` by its name."""
    start, inner = picture.split(">", 1)
    return f'{start}><g id="{name}">{inner.removesuffix("</svg>")}</g></svg>'


def again(picture: str) -> str:
    """A named picture shown once more without being drawn once more."""
    start, inner = picture.split(">", 1)
    name = inner.split('"', 2)[1]
    return f'{start}><use href="#{name}"/></svg>'


def _class(element: ElementTree.Element) -> str:
    return element.get("data-class", element.get("class", "")).split(" ")[0]


def _is_head(use: ElementTree.Element) -> bool:
    return use.get(_HREF, "").startswith("#E0A")


def _n(value: float, digits: int = 1) -> str:
    """A number without what says nothing."""
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".") if digits else f"{value:.0f}"
    return "0" if text in ("-0", "") else text


def _scaled(number: str, digits: int = 1) -> str:
    return _n(float(number) * _UNIT, digits)


def _short(number: re.Match[str]) -> str:
    return _scaled(number[0])


def _cross(x: float, y: float) -> str:
    """Two small crossed strokes."""
    return f"M{_n(x - 4)} {_n(y - 4)}l8 8m0 -8l-8 8"


def _wedge(x: float, y: float) -> str:
    """A small wedge that points down at a notehead from above."""
    return f"M{_n(x - 5)} {_n(y - 20)}h10l-5 7z"


def _music(text: str) -> str:
    """The signs ♯, ♭ and ♮ for their letters."""
    return text.replace("#", "♯").replace("b", "♭").replace("n", "♮")
