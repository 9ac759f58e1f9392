"""ABC tunes. Source: the ABC music standard 2.1 (December 2011); where it leaves a choice, its default."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction

from rulekit.diagnostics import nearest
from rulekit.exercise.formats import signs
from rulekit.exercise.limits import MAX_BARS, MAX_EXERCISES, MAX_ITEMS, MAX_VOICES
from rulekit.exercise.model import Clef, Metre
from rulekit.exercise.reading import Place, Unreadable, check_count, checked_time, clean_name, listed, text_lines
from rulekit.exercise.sheet import Item, Measure, Part, Sheet, put_together
from rulekit.music.mode import Mode, church_mode
from rulekit.music.pitch import LETTERS, UNISON, Interval, Pitch, alteration, letter, make_interval, octave

_NAME, _HINT = "ABC", "a tune begins with X:1, and its header has L: and ends with K:"
_OCTAVE = make_interval(7, 12)
_SHARPS, _FLATS = "FCGDAEB", "BEADGCF"
_FIFTHS = {"C": 0, "D": 2, "E": 4, "F": -1, "G": 1, "A": 3, "B": 5}
_MODES = {
    "": ("", 0), "maj": ("", 0), "ion": ("ionian", 0), "mix": ("mixolydian", -1), "dor": ("dorian", -2), "m": ("", -3),
    "min": ("", -3), "aeo": ("aeolian", -3), "phr": ("phrygian", -4), "loc": ("locrian", -5), "lyd": ("lydian", 1),
}  # fmt: skip
_CLEFS = {
    "treble": ("G", 2), "bass": ("F", 4), "baritone": ("F", 3), "tenor": ("C", 4), "alto": ("C", 3), "mezzo": ("C", 2),
    "soprano": ("C", 1), "G": ("G", 2), "F": ("F", 4), "C": ("C", 3),
}  # fmt: skip
_CLEF = re.compile(rf"({'|'.join(_CLEFS)})([1-5]?)([+-]8|)")
_ALTERATIONS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}
_TUPLETS = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
_ENDS = ("||", "|]", "[|")
_FIELD = re.compile(r"([A-Za-z+]):(?![|:])(.*)")
_KEY = re.compile(r"\s*([A-G])([#b]?)\s*([A-Za-z]*)")
_PROPERTY = re.compile(r"""([A-Za-z-]+)\s*=\s*(?:"([^"]*)"|(\S+))""")
_LENGTH = r"(\d{0,4})((?:/\d{1,4})|/{0,6})"


def read_abc(data: bytes, path: str) -> list[Sheet]:
    """The tunes of a file."""
    tunes: list[_Tune] = []
    for number, line in enumerate(text_lines(data), 1):
        if line.startswith("X:"):
            if len(tunes) == MAX_EXERCISES:
                raise Unreadable(f"there are more than {MAX_EXERCISES} tunes", place=Place(number))
            tunes.append(_Tune())
        if tunes:
            tunes[-1].read(number, line)
    if not tunes:
        raise Unreadable(f"this cannot be read as {_NAME}", _HINT)
    return [tune.sheet() for tune in tunes]


@dataclass(slots=True)
class _Key:
    """A key signature: how it alters each letter, and its church mode if it names one."""

    alterations: dict[str, int] = field(default_factory=dict[str, int])
    fifths: int | None = None
    mode: Mode | None = None


@dataclass(slots=True)
class _Voice:
    """A voice while it is read; times are within the bar."""

    name: str
    key: _Key
    unit: Fraction | None
    metre: Metre | None
    clef: Clef | None = None
    shift: Interval = UNISON
    measures: list[Measure] = field(default_factory=lambda: [Measure()])
    time: Fraction = Fraction(0)
    altered: dict[tuple[str, int], int] = field(default_factory=dict[tuple[str, int], int])
    tied: tuple[str, int, int] | None = None
    factor: Fraction = Fraction(1)
    tuplet: Fraction = Fraction(1)
    left: int = 0

    @property
    def items(self) -> list[Item]:
        """The notes and rests of the bar that is being read."""
        return self.measures[-1].lines.setdefault("", [])

    @property
    def length(self) -> Fraction:
        """The unit of length in quarter notes: a sixteenth in a metre shorter than three quarters, else an eighth."""
        if self.unit is not None:
            return self.unit
        is_short = self.metre is not None and self.metre.bar_length < 3
        return Fraction(1, 4) if is_short else Fraction(1, 2)

    def add(self, length: Fraction, pitch: Pitch | None, mistake: str, place: Place) -> None:
        """Add a note or rest, and let the time go on."""
        length *= self.factor
        self.factor = Fraction(1)
        if self.left:
            length *= self.tuplet
            self.left -= 1
        self.items.append(Item(self.time, length, pitch, mistake=mistake, place=place))
        self.move(length, place)

    def move(self, length: Fraction, place: Place) -> None:
        """Let the time go on."""
        self.time = checked_time(self.time + length, place)
        self.measures[-1].length = self.time

    def end_bar(self) -> None:
        """Begin a new bar, unless this one is empty."""
        self.altered.clear()
        if not self.time:
            return
        check_count(len(self.measures), MAX_BARS, "bars")
        self.measures.append(Measure())
        self.time = Fraction(0)


class _Tune:
    """Reads one tune, line after line."""

    def __init__(self) -> None:
        self.title = ""
        self.metre: Metre | None = None
        self.unit: Fraction | None = None
        self.key = _Key()
        self.in_body = False
        self.voices: dict[str, _Voice] = {}
        self.current: _Voice | None = None
        self.order: list[str] = []
        self.properties: dict[str, str] = {}
        self.by_octave = False
        self.repeats: list[str] = []
        self.count = 0

    def sheet(self) -> Sheet:
        """The tune; a voice without a measure is left out, which is told."""
        if not self.in_body:
            raise Unreadable(f"this cannot be read as {_NAME}: the tune has no K:", _HINT)
        names = [*(name for name in dict.fromkeys(self.order) if name in self.voices), *self.voices]
        parts = {name: _part(self.voices[name]) for name in dict.fromkeys(names)}
        empty = [f"‘{clean_name(name)}’" for name, part in parts.items() if part is None]
        sheet = put_together(self.title, [part for part in parts.values() if part is not None], self.repeats)
        said = [f"empty: {listed(empty)}, left out"] if empty else []
        return replace(sheet, said=[*sheet.said, *said])

    def read(self, number: int, line: str) -> None:
        """Read the next line."""
        if line.startswith("%%"):
            self._read_directive(line[2:])
            return
        line = re.split(r"(?<!\\)%", line, maxsplit=1)[0]
        field_ = _FIELD.match(line)
        if field_ is not None:
            self._read_field(field_[1], field_[2], Place(number))
        elif line.strip():
            if not self.in_body:
                raise Unreadable("music stands before the key of the tune", _HINT, Place(number))
            _Music(self, number, line).read()

    # Fields

    def _read_directive(self, text: str) -> None:
        word, _, rest = text.strip().partition(" ")
        if word in ("score", "staves"):
            self.order += re.findall(r"[^\s()\[\]{}|*]+", rest)
        elif word == "propagate-accidentals":
            self.by_octave = rest.strip() == "octave"

    def _read_field(self, letter: str, text: str, place: Place) -> None:
        match letter:
            case "T":
                self.title = self.title or text
            case "I":
                self._read_directive(text)
            case "M":
                self.set_metre(text, place)
            case "L":
                self.set_unit(text, place)
            case "K":
                self.set_key(text, place)
            case "V":
                self.begin_voice(text, place, named_in_header=not self.in_body)
            case "m":
                raise Unreadable("macros are not read", "write the notes out", place)
            case _:
                pass

    def _scope(self) -> "list[_Voice] | None":
        """The voices that a field in the body is for; None for those to come, too."""
        return [self.current] if self.in_body and self.current is not None else None

    def set_metre(self, text: str, place: Place) -> None:
        """Take a time signature: C, C|, 2/2, (2+3)/8, none."""
        metre = _metre(text.strip(), place)
        if self.in_body:
            for voice in self._scope() or self.voices.values():
                if voice.time:
                    raise Unreadable("the time signature changes in the middle of a bar", place=place)
                voice.metre = voice.measures[-1].metre = metre
        else:
            self.metre = metre

    def set_unit(self, text: str, place: Place) -> None:
        """Take a unit of length: 1/4."""
        found = re.fullmatch(r"\s*(\d{1,2})(?:\s*/\s*(\d{1,3}))?\s*", text)
        if found is None or not int(found[1]) or not int(found[2] or 1):
            raise Unreadable("this is not a unit of length", "write such as L:1/4", place)
        unit = Fraction(4 * int(found[1]), int(found[2] or 1))
        if self.in_body:
            for voice in self._scope() or self.voices.values():
                voice.unit = unit
        else:
            self.unit = unit

    def set_key(self, text: str, place: Place) -> None:
        """Take a key, with clef and transposition; the first one ends the header."""
        key = _key(text, place)
        properties = _properties(text)
        if not self.in_body:
            self.in_body = True
            self.key = key
            for voice in self.voices.values():
                self._begin(voice)
                _dress(voice, properties)
            self.properties = properties
            return
        for voice in self._scope() or self.voices.values():
            voice.key = key
            voice.measures[-1].fifths, voice.measures[-1].mode = key.fifths, key.mode
            _dress(voice, properties)

    def _begin(self, voice: _Voice) -> None:
        """Give a voice what the header says."""
        first = voice.measures[0]
        voice.key, voice.unit, voice.metre = self.key, self.unit, self.metre
        first.metre, first.fifths, first.mode = self.metre, self.key.fifths, self.key.mode

    def begin_voice(self, text: str, place: Place, named_in_header: bool = False) -> None:
        """Go on with a voice, which may be new."""
        name, _, rest = text.strip().partition(" ")
        if not name or name == "*":
            raise Unreadable("a voice has a name", "write such as V:upper", place)
        voice = self.voices.get(name) or self._new_voice(name, place)
        _dress(voice, _properties(rest))
        if not named_in_header:
            self.current = voice

    def _new_voice(self, name: str, place: Place) -> _Voice:
        if len(self.voices) == MAX_VOICES:
            raise Unreadable(f"a tune may have {MAX_VOICES} voices, no more", place=place)
        label = "" if name.isdecimal() or name == " " else clean_name(name)
        voice = self.voices[name] = _Voice(label, self.key, self.unit, self.metre)
        if self.in_body:
            self._begin(voice)
            _dress(voice, self.properties)
        return voice

    def voice_here(self, place: Place) -> _Voice:
        """The voice that music belongs to."""
        if self.current is None:
            if len(self.voices) > 1:
                raise Unreadable("this music belongs to no voice", "write V: and a name before it", place)
            only = next(iter(self.voices.values()), None)
            self.current = only or self._new_voice(" ", place)
        return self.current

    def counted(self, place: Place) -> None:
        """Count a note or rest."""
        self.count += 1
        check_count(self.count, MAX_ITEMS, "notes and rests", place)


class _Music:
    """Reads one line of music, sign after sign."""

    def __init__(self, tune: _Tune, number: int, line: str) -> None:
        self.tune, self.number, self.line = tune, number, line
        self.at = 0

    @property
    def place(self) -> Place:
        """Where the reading is."""
        return Place(self.number, self.at + 1)

    @property
    def voice(self) -> _Voice:
        """The voice that sings."""
        return self.tune.voice_here(self.place)

    def read(self) -> None:
        """Read the line."""
        while self.at < len(self.line):
            for pattern, action in _SIGNS:
                found = pattern.match(self.line, self.at)
                if found is not None:
                    action(self, found)
                    self.at = found.end()
                    break
            else:
                shown = self.line[self.at] if self.line[self.at].isprintable() else "·"
                hint = "it is no sign of ABC, or not a whole one"
                raise Unreadable(f"‘{shown}’ cannot be read here", hint, self.place)

    def skip(self, found: re.Match[str]) -> None:
        """Pass over what is not heard."""

    def decoration(self, found: re.Match[str]) -> None:
        """Pass over a decoration; one that sends the player elsewhere is told."""
        if found[0].strip("!+").casefold() in ("d.c.", "d.s.", "da capo", "dacapo", "dalsegno", "dacoda", "coda"):
            self.tune.repeats.append(f"line {self.number}")

    def grace(self, found: re.Match[str]) -> None:
        """Pass over grace notes, but tell of them."""
        self.tune.counted(self.place)
        self.voice.items.append(Item(self.voice.time, Fraction(0), is_grace=True, place=self.place))

    def inline(self, found: re.Match[str]) -> None:
        """A field within the line."""
        match found[1]:
            case "V":
                self.tune.begin_voice(found[2], self.place)
            case "K":
                self.tune.set_key(found[2], self.place)
            case "M":
                self.tune.set_metre(found[2], self.place)
            case "L":
                self.tune.set_unit(found[2], self.place)
            case _:
                pass

    def bar_line(self, found: re.Match[str]) -> None:
        """A bar line of any kind."""
        voice = self.voice
        if found[2]:
            self.ending(found)
        if ":" in found[1]:
            self.tune.repeats.append(f"line {self.number}")
        elif any(sign in found[1] for sign in _ENDS):
            ended = voice.measures[-1] if voice.time or len(voice.measures) == 1 else voice.measures[-2]
            ended.ends_exercise = bool(ended.length)
        voice.end_bar()

    def ending(self, found: re.Match[str]) -> None:
        """A first or second ending."""
        raise Unreadable("the tune has endings that differ", "write it out as it is sung", self.place)

    def chord(self, found: re.Match[str]) -> None:
        """Notes that sound at once."""
        self.tune.counted(self.place)
        inner = re.search(rf"[A-Ga-g][,']*{_LENGTH}", found[1])
        length = _times(inner[1], inner[2]) if inner else Fraction(1)
        length *= _times(found[2], found[3])
        self.voice.add(self.voice.length * length, None, f"a chord ([{clean_name(found[1])}])", self.place)

    def tuplet(self, found: re.Match[str]) -> None:
        """``(p:q:r``: the next r notes in the time of q for p; q and r may be left out."""
        p = int(found[1])
        voice = self.voice
        is_compound = voice.metre is not None and voice.metre.beats in (6, 9, 12) and voice.metre.unit == Fraction(1, 2)
        q = int(found[2] or 0) or _TUPLETS.get(p, 3 if is_compound else 2)
        if p < 2:
            raise Unreadable("a tuplet has from 2 to 9 notes", "write such as (3abc", self.place)
        voice.tuplet, voice.left = Fraction(q, p), int(found[3] or 0) or p

    def note(self, found: re.Match[str]) -> None:
        """A note, altered by its sign, by one before it in the bar, or by the key."""
        voice = self.voice
        sign, micro, name, marks = found[1], found[2], found[3].upper(), found[4]
        register = (4 if found[3].isupper() else 5) + marks.count("'") - marks.count(",")
        heard = (name, register if self.tune.by_octave else 0)
        if sign:
            alter = voice.altered[heard] = _ALTERATIONS[sign]
        elif voice.tied and voice.tied[:2] == (name, register):
            alter = voice.tied[2]
        else:
            alter = voice.altered.get(heard, voice.key.alterations.get(name, 0))
        pitch, mistake = signs.sounding(LETTERS.index(name), alter, register, voice.shift)
        if micro:
            pitch, mistake = None, "a quarter tone"
        self.tune.counted(self.place)
        voice.add(voice.length * _times(found[5], found[6]), pitch, mistake, self.place)
        voice.tied = None

    def rest(self, found: re.Match[str]) -> None:
        """A rest."""
        self.tune.counted(self.place)
        self.voice.add(self.voice.length * _times(found[1], found[2]), None, "", self.place)
        self.voice.tied = None

    def bars(self, found: re.Match[str]) -> None:
        """Rests for whole bars."""
        voice, count = self.voice, int(found[1] or 1)
        if voice.metre is None:
            raise Unreadable("a rest of whole bars needs a time signature", "write M:", self.place)
        if not 1 <= count <= MAX_BARS:
            raise Unreadable(f"a rest may have {MAX_BARS} bars, no more", place=self.place)
        for number in range(count):
            voice.add(voice.metre.bar_length, None, "", self.place)
            if number < count - 1:
                voice.end_bar()

    def tie(self, found: re.Match[str]) -> None:
        """A tie from the note before."""
        voice = self.voice
        bar = voice.items or (voice.measures[-2].lines.get("", []) if len(voice.measures) > 1 else [])
        if not bar or (bar[-1].pitch is None and not bar[-1].mistake):
            raise Unreadable("this tie leads from no note", "write it right behind its note", self.place)
        if bar[-1].tie:
            return
        bar[-1] = replace(bar[-1], tie=True)
        written = self._last_note()
        voice.tied = written

    def _last_note(self) -> tuple[str, int, int] | None:
        """Letter, octave and alteration of the note before, as written."""
        voice = self.voice
        bar = voice.items or voice.measures[-2].lines.get("", [])
        pitch = bar[-1].pitch
        if pitch is None:
            return None
        written = Pitch(pitch - voice.shift)
        return LETTERS[letter(written)], octave(written), alteration(written)

    def broken(self, found: re.Match[str]) -> None:
        """``>`` lengthens the note before by half and takes it from the next, ``<`` the other way round."""
        voice, part = self.voice, Fraction(1, 2 ** len(found[0]))
        long, short = (2 - part, part) if found[0][0] == ">" else (part, 2 - part)
        if not voice.items or not voice.items[-1].length:
            raise Unreadable("no note stands before this sign", place=self.place)
        item = voice.items[-1]
        voice.items[-1] = replace(item, length=item.length * long)
        voice.move(item.length * (long - 1), self.place)
        voice.factor = short

    def overlay(self, found: re.Match[str]) -> None:
        """A second voice in the same bar."""
        raise Unreadable("two voices in one line (&) are not read", "write a V: for each voice", self.place)


_SIGNS: list[tuple[re.Pattern[str], Callable[[_Music, re.Match[str]], None]]] = [
    (re.compile(r"[ \t`\\$]+|y\d{0,3}"), _Music.skip),
    (re.compile(rf"(\^{{1,2}}|_{{1,2}}|=|)(\d*/\d*|)([A-Ga-g])([,']{{0,6}}){_LENGTH}"), _Music.note),
    (re.compile(r"\.?(\[\|\]?|:+\|+[\]:]*|\|+[\]:]*|::+)[ ]?(\d[\d,.-]*|)"), _Music.bar_line),
    (re.compile(rf"[zx]{_LENGTH}"), _Music.rest),
    (re.compile(r"[ZX](\d{0,6})"), _Music.bars),
    (re.compile(r"\.?-"), _Music.tie),
    (re.compile(r"\((\d)(?::(\d?))?(?::(\d?))?"), _Music.tuplet),
    (re.compile(r"[()~.H-WYh-wu-v#*;?@]"), _Music.skip),
    (re.compile(r"<{1,3}|>{1,3}"), _Music.broken),
    (re.compile(r'"[^"]*"'), _Music.skip),
    (re.compile(r"![^!]*!|\+[^+]*\+|!"), _Music.decoration),
    (re.compile(r"\{[^}]*\}"), _Music.grace),
    (re.compile(r"\[([A-Za-z]):([^\]]*)\]"), _Music.inline),
    (re.compile(r"\[[\d\"]"), _Music.ending),
    (re.compile(rf"\[([^\]]*)\]{_LENGTH}"), _Music.chord),
    (re.compile(r"&"), _Music.overlay),
]


# ---- words of fields -----------------------------------------------------------------------------


def _times(count: str, part: str) -> Fraction:
    """``3``, ``3/2``, ``/``, ``//``, ``/4`` as a multiple of the unit."""
    divisor = int(part[1:]) if part[1:].isdecimal() else 2 ** len(part)
    return Fraction(int(count or 1), divisor or 1)


def _metre(text: str, place: Place) -> Metre | None:
    if text in ("", "none"):
        return None
    common = {"C": ("4", "4"), "C|": ("2", "2")}.get(text)
    if common is None:
        beats, _, unit = text.replace("(", "").replace(")", "").replace(" ", "").partition("/")
        common = beats, unit
    return signs.metre(*common, place)


def _key(text: str, place: Place) -> _Key:
    """``D dorian``, ``Am``, ``F#mix``, ``HP``, ``none``, with accidentals of its own: ``D phr ^f``, ``D exp _b``."""
    found = _KEY.match(text)
    words = text.split()
    if found is None or words[:1] in (["HP"], ["Hp"], ["none"]):
        if words and words[0] not in ("HP", "Hp", "none") and "=" not in words[0] and not _CLEF.fullmatch(words[0]):
            raise Unreadable("this is not a key", "write such as K:D dorian or K:Gm", place)
        fifths, key = 0, _Key(fifths=None if not words or words[0] == "none" else 0)
    else:
        word = found[3].casefold()
        name, offset = _MODES.get(word if word == "m" else word[:3], ("", 0))
        fifths = _FIFTHS[found[1]] + 7 * ({"#": 1, "b": -1}.get(found[2], 0)) + offset
        if word[:3] == "exp":
            fifths, name = 0, ""
        elif word and (word if word == "m" else word[:3]) not in _MODES and not _is_property(word, text):
            near = nearest(word, ["dorian", "phrygian", "lydian", "mixolydian", "aeolian", "ionian", "major", "minor"])
            raise Unreadable(f"there is no mode ‘{clean_name(word)}’", f"did you mean {near}?" if near else "", place)
        if abs(fifths) > 7:
            raise Unreadable("this key has more than seven sharps or flats", place=place)
        key = _Key(fifths=fifths, mode=church_mode(name, fifths) if name else None)
    key.alterations = dict.fromkeys(_SHARPS[: max(fifths, 0)], 1)
    key.alterations |= dict.fromkeys(_FLATS[: max(-fifths, 0)], -1)
    for sign, name in re.findall(r"(?<=\s)(\^{1,2}|_{1,2}|=)([A-Ga-g])(?=\s|$)", text):
        key.alterations[name.upper()] = _ALTERATIONS[sign]
        key.mode = None
    return key


def _is_property(word: str, text: str) -> bool:
    """Whether a word behind the key is no mode but a clef or the name of a property."""
    return word in _CLEFS or re.search(rf"\b{re.escape(word)}[+-]?\d?\s*=", text, re.IGNORECASE) is not None


def _properties(text: str) -> dict[str, str]:
    """``name="cantus" clef=bass octave=-1`` as a dictionary; a clef may stand alone."""
    found = {name.casefold(): quoted or plain for name, quoted, plain in _PROPERTY.findall(text)}
    bare = [word for word in re.sub(_PROPERTY, "", text).split() if _CLEF.fullmatch(word) and word not in LETTERS]
    return {"clef": bare[0], **found} if bare else found


def _dress(voice: _Voice, properties: dict[str, str]) -> None:
    """Give a voice its name, clef and transposition."""
    name = properties.get("name") or properties.get("nm")
    if name:
        voice.name = clean_name(name)
    clef = _CLEF.fullmatch(properties.get("clef", ""))
    octaves, semitones = 0, 0
    if clef is not None:
        shape, line = _CLEFS[clef[1]]
        octaves = {"+8": 1, "-8": -1}.get(clef[3], 0)
        voice.clef = voice.clef or signs.clef(shape, int(clef[2] or line), octaves)
    for key in ("octave", "transpose"):
        if re.fullmatch(r"[+-]?\d{1,2}", properties.get(key, "")):
            octaves += int(properties[key]) if key == "octave" else 0
            semitones += int(properties[key]) if key == "transpose" else 0
    if clef is not None or octaves or semitones:
        shift = make_interval(round(semitones * 7 / 12), semitones)
        voice.shift = Interval(shift + octaves * _OCTAVE)


def _part(voice: _Voice) -> Part | None:
    """The part of a voice, None if it has no notes; a short first bar is the pickup, numbered 0."""
    measures = [*_in_bars(voice)]
    if not any(measure.length for measure in measures):
        return None
    first = measures[0]
    if first.metre is not None and len(measures) > 1:
        first.number = 0 if first.length < first.metre.bar_length else 1
    return Part(voice.name, measures, [""], {"": voice.clef} if voice.clef else {})


def _in_bars(voice: _Voice) -> Iterator[Measure]:
    """The measures of a voice; a voice without bar lines is cut into bars of its metre."""
    measures = [measure for measure in voice.measures if measure.length]
    if len(measures) != 1 or measures[0].metre is None:
        yield from measures
        return
    (whole,) = measures
    bar = measures[0].metre.bar_length
    count = max(1, -int(-whole.length // bar))
    cut = [Measure(min(bar, whole.length - number * bar)) for number in range(count)]
    cut[0].metre, cut[0].fifths, cut[0].mode = whole.metre, whole.fifths, whole.mode
    for item in whole.lines[""]:
        number = min(int(item.onset // bar), count - 1)
        cut[number].lines.setdefault("", []).append(replace(item, onset=item.onset - number * bar))
    yield from cut
