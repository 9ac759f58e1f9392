"""MEI. Source: the Music Encoding Initiative's guidelines, version 5, common music notation."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from rulekit.exercise.formats import signs
from rulekit.exercise.formats.xml import Node, parse
from rulekit.exercise.limits import MAX_BARS, MAX_EXERCISES, MAX_ITEMS, MAX_VOICES
from rulekit.exercise.model import Clef, Metre
from rulekit.exercise.reading import Unreadable, check_count, checked_time, clean_name
from rulekit.exercise.sheet import Item, Measure, Part, Sheet, put_together
from rulekit.music.mode import church_mode
from rulekit.music.pitch import UNISON, Interval, Pitch, make_interval

_NAME, _HINT = "MEI", "export it again as MEI"
_LETTERS = "cdefgab"
_ALTERATIONS = {
    "s": 1, "f": -1, "n": 0, "ss": 2, "x": 2, "ff": -2, "xs": 3, "sx": 3, "ts": 3, "tf": -3, "ns": 1, "nf": -1,
}  # fmt: skip
_LENGTHS = {"maxima": Fraction(32), "long": Fraction(16), "breve": Fraction(8)} | {
    str(2**n): Fraction(4, 2**n) for n in range(9)
}
_ORDER_OF_SIGNS = "fcgdaeb"
_TAKEN = {"app": ("lem", "rdg"), "choice": ("corr", "reg", "expan", "sic", "orig", "abbr", "unclear")}


def read_mei(data: bytes, path: str) -> list[Sheet]:
    """The scores of a file, one for each movement."""
    root = parse(data, _NAME, _HINT)
    if root.name not in ("mei", "music"):
        raise Unreadable(f"this cannot be read as {_NAME}", _HINT, root.place)
    scores = [node for node in root.below() if node.name == "score"]
    if not scores:
        raise Unreadable("there is no score in this file", _HINT, root.place)
    check_count(len(scores), MAX_EXERCISES, "movements", root.place)
    title = _title(root)
    return [_Score(score).sheet(title) for score in scores]


def _title(root: Node) -> str:
    titles = (node for node in root.below() if node.name == "title")
    return next((title.text for title in titles if title.text.strip()), "")


@dataclass(slots=True)
class _Staff:
    """A staff: its name, clef and transposition, and the bars read so far."""

    name: str = ""
    clef: Clef | None = None
    shift: Interval = UNISON
    key_shift: int = 0
    fifths: int | None = None
    measures: list[Measure] = field(default_factory=list[Measure])
    layers: list[str] = field(default_factory=list[str])


@dataclass(slots=True)
class _Score:
    """A score while it is read."""

    root: Node
    staves: dict[str, _Staff] = field(default_factory=dict[str, _Staff])
    pending: dict[str, Measure] = field(default_factory=dict[str, Measure])
    metre: dict[str, Metre | None] = field(default_factory=dict[str, "Metre | None"])
    ties: set[str] = field(default_factory=set[str])
    is_gestural: bool = False
    items: int = 0
    repeats: list[str] = field(default_factory=list[str])

    def sheet(self, title: str) -> Sheet:
        """The whole of it."""
        for node in self.root.below():
            if node.name == "tie":
                self.ties.add(node.get("startid").removeprefix("#"))
            self.is_gestural = self.is_gestural or "accid.ges" in node.attributes
        self._read_all(self.root)
        parts = [
            Part(staff.name, staff.measures, staff.layers, {layer: staff.clef for layer in staff.layers if staff.clef})
            for staff in self.staves.values()
            if staff.layers
        ]
        return put_together(title, parts, repeats=self.repeats)

    def _read_all(self, parent: Node) -> None:
        """Definitions and measures, in sections however deep (the depth of a document is bounded)."""
        for node in _chosen(parent):
            match node.name:
                case "scoreDef":
                    self._read_score_definition(node)
                case "staffDef":
                    self._read_staff_definition(node, Measure())
                case "measure":
                    self._read_measure(node)
                case "ending":
                    raise Unreadable("the piece has endings that differ", "write it out as it is sung", node.place)
                case "section" | "parts" | "part":
                    self._read_all(node)
                case "expansion":
                    self.repeats.append("sections")
                case _:
                    pass

    # Definitions

    def _read_score_definition(self, node: Node) -> None:
        """What holds for all staves, then what each says for itself."""
        common = Measure()
        self._read_signs(node, common, None)
        for staff in self.staves:
            _take(self.pending.setdefault(staff, Measure()), common)
        for child in node.below():
            if child.name == "staffDef":
                self._read_staff_definition(child, common)

    def _read_staff_definition(self, node: Node, common: Measure) -> None:
        number = node.get("n") or str(len(self.staves) + 1)
        if number not in self.staves and len(self.staves) == MAX_VOICES:
            raise Unreadable(f"a score may have {MAX_VOICES} staves, no more", place=node.place)
        staff = self.staves.setdefault(number, _Staff())
        name = node.get("label") or node.words("label") or node.get("label.abbr") or node.words("labelAbbr")
        staff.name = staff.name or clean_name(name)
        child = node.first("clef")
        prefix, source = ("", child) if child is not None else ("clef.", node)
        staff.clef = staff.clef or _clef(source, prefix)
        if node.get("trans.semi") or node.get("trans.diat"):
            semitones, steps = _whole(node.get("trans.semi")), _whole(node.get("trans.diat"))
            if max(abs(semitones), abs(steps)) > 48:
                raise Unreadable("a part that sounds more than four octaves away is not read", place=node.place)
            staff.shift = make_interval(steps, semitones)
            staff.key_shift = 7 * semitones - 12 * steps
        own = self.pending.setdefault(number, Measure())
        _take(own, common)
        self._read_signs(node, own, staff)

    def _read_signs(self, node: Node, measure: Measure, staff: _Staff | None) -> None:
        """Key and time, as attributes or as elements."""
        for each in (node, *node.all("meterSig")):
            prefix = "" if each.name == "meterSig" else "meter."
            count, unit, sign = each.get(prefix + "count"), each.get(prefix + "unit"), each.get(prefix + "sym")
            if count or sign:
                common = {"common": ("4", "4"), "cut": ("2", "2")}.get(sign, ("", ""))
                measure.metre = signs.metre(count or common[0], unit or common[1], each.place)
        for each in (node, *node.all("keySig")):
            own = each.name == "keySig"
            text = each.get("sig") if own else each.get("keysig") or each.get("key.sig")
            if found := re.fullmatch(r"([0-7])([sf]?)", text):
                measure.fifths = int(found[1]) * (-1 if found[2] == "f" else 1)
                measure.mode = church_mode(each.get("mode" if own else "key.mode"), measure.fifths)

    # Measures

    def _read_measure(self, node: Node) -> None:
        found = re.fullmatch(r"\d{1,6}", node.get("n"))
        count = max((len(staff.measures) for staff in self.staves.values()), default=0)
        check_count(count, MAX_BARS, "bars", node.place)
        for number, staff in self.staves.items():
            while len(staff.measures) < count:
                staff.measures.append(Measure())
            measure = self.pending.pop(number, Measure())
            measure.number, measure.place = int(found[0]) if found else None, node.place
            if measure.fifths is not None:
                staff.fifths = measure.fifths
                measure.fifths += staff.key_shift
            if measure.metre is not None:
                self.metre[number] = measure.metre
            staff.measures.append(measure)
            self._read_bar_lines(node, measure, count + 1)
        for child in _chosen(node):
            if child.name == "staff":
                self._read_staff(child)

    def _read_bar_lines(self, node: Node, measure: Measure, number: int) -> None:
        right, left = node.get("right"), node.get("left")
        if "rpt" in right + left:
            self.repeats.append(f"bar {measure.number or number}")
        elif right in ("dbl", "end"):
            measure.ends_exercise = True

    def _read_staff(self, node: Node) -> None:
        number = node.get("n")
        staff = self.staves.get(number)
        if staff is None:
            raise Unreadable(f"staff ‘{clean_name(number)}’ is in no staffDef", _HINT, node.place)
        for index, layer in enumerate(node.all("layer"), 1):
            name = layer.get("n") or str(index)
            if name not in staff.layers:
                if len(staff.layers) == MAX_VOICES:
                    raise Unreadable(f"a staff may have {MAX_VOICES} layers, no more", place=layer.place)
                staff.layers.append(name)
                staff.layers.sort(key=lambda each: (len(each), each))
            _LayerReader(self, staff, name, self.metre.get(number)).read(layer)


@dataclass(slots=True)
class _LayerReader:
    """Goes through one layer of a measure."""

    score: _Score
    staff: _Staff
    layer: str
    metre: Metre | None
    time: Fraction = Fraction(0)
    altered: dict[tuple[str, str], int] = field(default_factory=dict[tuple[str, str], int])

    def read(self, parent: Node, factor: Fraction = Fraction(1)) -> None:
        """Everything in it; beams and tuplets hold notes of their own."""
        for node in _chosen(parent):
            match node.name:
                case "note" | "rest" | "space" | "chord":
                    self._add(node, factor)
                case "mRest" | "mSpace":
                    self._add_whole(node)
                case "tuplet":
                    count, base = _whole(node.get("num")) or 3, _whole(node.get("numbase")) or 2
                    if not (1 <= count <= 100 and 1 <= base <= 100):
                        raise Unreadable("this tuplet cannot be read", _HINT, node.place)
                    self.read(node, factor * Fraction(base, count))
                case "multiRest" | "bTrem" | "fTrem" | "halfmRpt" | "mRpt" | "mRpt2" | "multiRpt" | "beatRpt":
                    words = f"a sign of repetition or of many rests ({node.name}) is not read"
                    raise Unreadable(words, _HINT, node.place)
                case _:
                    self.read(node, factor)

    def _add_whole(self, node: Node) -> None:
        """A rest as long as the bar."""
        if self.metre is None:
            raise Unreadable("a rest of a whole bar needs a time signature", _HINT, node.place)
        self._place(Item(self.time, self.metre.bar_length, place=node.place))

    def _add(self, node: Node, factor: Fraction) -> None:
        if node.get("grace"):
            self._place(Item(self.time, Fraction(0), is_grace=True, place=node.place))
            return
        length = _length(node) * factor
        if node.name == "chord":
            chord = signs.chord([self._pitch(note)[0] for note in node.all("note")])
            self._place(Item(self.time, length, mistake=chord, place=node.place))
        elif node.name != "note":
            self._place(Item(self.time, length, place=node.place))
        else:
            pitch, mistake = self._pitch(node)
            self._place(Item(self.time, length, pitch, self._ties_on(node), mistake, place=node.place))

    def _pitch(self, node: Node) -> tuple[Pitch | None, str]:
        """The sounding pitch, or what is wrong with it."""
        pname, octave = node.get("pname"), node.get("oct.ges") or node.get("oct")
        if pname not in _LETTERS or len(pname) != 1 or not re.fullmatch(r"[0-9]", octave):
            return None, "a note whose pitch cannot be read"
        return signs.sounding(_LETTERS.index(pname), self._alteration(node), int(octave), self.staff.shift)

    def _place(self, item: Item) -> None:
        self.score.items += 1
        check_count(self.score.items, MAX_ITEMS, "notes and rests", item.place)
        self.staff.measures[-1].add(self.layer, item)
        self.time = checked_time(item.onset + item.length, item.place)

    def _ties_on(self, node: Node) -> bool:
        return node.get("tie")[:1] in ("i", "m") or node.get("xml:id") in self.score.ties

    def _alteration(self, node: Node) -> int | None:
        """As it sounds; where a file never says so, from signs in the bar before it and the key signature."""
        children = [child for child in node.below() if child.name == "accid"]
        sounding = [each.get("accid.ges") for each in (node, *children)]
        written = [each.get("accid") for each in (node, *children)]
        stated = next(filter(None, sounding), "") or next(filter(None, written), "")
        if stated:
            alter = _ALTERATIONS.get(stated)
        elif self.score.is_gestural:
            alter = 0
        else:
            key = (node.get("pname"), node.get("oct"))
            alter = self.altered.get(key, _signed(node.get("pname"), self.staff.fifths))
        if stated and alter is not None:
            self.altered[node.get("pname"), node.get("oct")] = alter
        return alter


def _signed(letter: str, fifths: int | None) -> int:
    """What a key signature does to a letter."""
    place = _ORDER_OF_SIGNS.index(letter)
    count = fifths or 0
    return 1 if place < count else -1 if 6 - place < -count else 0


def _chosen(parent: Node) -> Iterator[Node]:
    """The children, with one of the readings that an editor offers; what is struck out or missing is passed over."""
    for node in parent.children:
        if node.name in _TAKEN:
            readings = [child for name in _TAKEN[node.name] for child in node.all(name)]
            yield from _chosen(readings[0]) if readings else ()
        elif node.name not in ("del", "gap"):
            yield node


def _take(measure: Measure, common: Measure) -> None:
    """Let a measure take what holds for all staves."""
    measure.metre = common.metre or measure.metre
    if common.fifths is not None:
        measure.fifths, measure.mode = common.fifths, common.mode


def _length(node: Node) -> Fraction:
    stated = node
    if node.name == "chord" and not node.get("dur"):
        stated = next((child for child in node.all("note") if child.get("dur")), node)
    plain = _LENGTHS.get(stated.get("dur"))
    dots = _whole(stated.get("dots")) or sum(1 for _ in stated.all("dot"))
    if plain is None or not 0 <= dots <= 3:
        raise Unreadable("this has no length that can be read", _HINT, node.place)
    return plain * (2 - Fraction(1, 2**dots))


def _clef(node: Node, prefix: str) -> Clef | None:
    shape, line = node.get(prefix + "shape"), _whole(node.get(prefix + "line"))
    octaves = 1 if node.get(prefix + "dis") == "8" else 0
    if node.get(prefix + "dis.place") == "below":
        octaves = -octaves
    return signs.clef(shape, line, octaves)


def _whole(text: str) -> int:
    return int(text) if re.fullmatch(r"[+-]?\d{1,4}", text) else 0
