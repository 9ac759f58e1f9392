"""Random rules over the whole language, as text, and random exercises small enough to judge by hand."""

from fractions import Fraction
from random import Random

from hypothesis import strategies as st

from rulekit.exercise.model import ALLA_BREVE, Compass, Event, Exercise, Metre, Voice
from rulekit.language import vocabulary
from rulekit.language.typed import Kind
from rulekit.music.mode import Mode
from rulekit.music.pitch import Pitch, pitch_of

# ---- exercises -----------------------------------------------------------------------------------

_NAMES = "C4 C#4 D4 Eb4 E4 F4 G4 A4 Bb4 B4 C5 D5".split()
pitches = st.sampled_from([pitch_of(name) for name in _NAMES])
lengths = st.sampled_from([Fraction(1), Fraction(2), Fraction(4)])


@st.composite
def _voice(draw: st.DrawFn, name: str) -> Voice:
    events: list[Event] = []
    for _ in range(draw(st.integers(1, 7))):
        pitch = draw(st.none() | pitches | pitches)
        length = draw(lengths)
        if pitch is not None and draw(st.integers(0, 4)) == 0:
            events.append(Event(pitch, length, tie=True))
            length = draw(lengths)
        events.append(Event(pitch, length))
    return Voice(name, tuple(events), Compass(name, Pitch(pitch_of("D4")), Pitch(pitch_of("B4"))))


@st.composite
def exercises(draw: st.DrawFn) -> Exercise:
    """Two or three voices that cross, rest, tie and end where they like."""
    names = ["high", "middle", "low"][: draw(st.integers(2, 3))]
    return Exercise(
        title="random",
        voices=tuple(draw(_voice(name)) for name in names),
        mode=draw(st.sampled_from([Mode(1, 0, "dorian"), Mode(2, 0, "phrygian"), Mode(5, 0, "minor")])),
        metre=draw(st.sampled_from([ALLA_BREVE, Metre(3, Fraction(2))])),
        cantus=draw(st.sampled_from([None, *range(len(names))])),
    )


def varied_exercises(chance: Random, count: int) -> list[Exercise]:
    """Longer exercises than :func:`exercises` makes, with fewer rests; quick to make in numbers."""
    return [_varied(chance) for _ in range(count)]


def _varied(chance: Random) -> Exercise:
    names = ["high", "middle", "low"][: chance.choice([2, 3])]
    compass = Compass("", Pitch(pitch_of("D4")), Pitch(pitch_of("B4")))
    voices: list[Voice] = []
    for name in names:
        events: list[Event] = []
        for _ in range(chance.randint(4, 9)):
            pitch = None if chance.random() < 0.15 else pitch_of(chance.choice(_NAMES))
            length = Fraction(chance.choice([1, 2, 2, 4]))
            tied = pitch is not None and chance.random() < 0.15
            events += [Event(pitch, length, tie=True)] if tied else []
            events.append(Event(pitch, Fraction(chance.choice([1, 2, 4])) if tied else length))
        voices.append(Voice(name, tuple(events), compass))
    mode = chance.choice([Mode(1, 0, "dorian"), Mode(2, 0, "phrygian"), Mode(5, 0, "minor")])
    metre = chance.choice([ALLA_BREVE, ALLA_BREVE, Metre(3, Fraction(2))])
    return Exercise("varied", tuple(voices), mode, metre, cantus=chance.choice([None, *range(len(names))]))


def alike(chance: Random, count: int) -> list[Exercise]:
    """Exercises of one to four voices and one setting, few of whose notes and lengths differ."""
    names = ["high", "middle", "tenor", "low"][: chance.choice([1, 2, 2, 3, 4])]
    bars = chance.randint(2, 5)
    mode = chance.choice([Mode(1, 0, "dorian"), Mode(5, 0, "minor")])
    metre, cantus = chance.choice([ALLA_BREVE, Metre(3, Fraction(2))]), chance.choice([None, *range(len(names))])
    known = [chance.sample(_NAMES, 3) for _ in names]
    length = bars * metre.bar_length
    return [
        Exercise("alike", tuple(_line(chance, *each, length) for each in zip(names, known, strict=True)), mode, metre,
                 cantus=cantus)
        for _ in range(count)
    ]  # fmt: skip


def _line(chance: Random, name: str, known: list[str], length: Fraction) -> Voice:
    events: list[Event] = []
    rests = chance.choice([0, 0, 0.3])
    while length > 0:
        each = min(length, Fraction(chance.choice([1, 2, 2, 4])))
        pitch = None if chance.random() < rests else pitch_of(chance.choice(known))
        events.append(Event(pitch, each, tie=pitch is not None and chance.random() < 0.2))
        length -= each
    return Voice(name, tuple(events), Compass(name, Pitch(pitch_of("D4")), Pitch(pitch_of("B4"))))


# ---- rules ---------------------------------------------------------------------------------------

DEFINITIONS = """
define consonant as P1 or P5 or P8 or third or sixth
define passing for a note as approach is step and departure is step and direction of departure is direction of approach
define cambiata as falling step then falling third then rising step
define wide for an interval with limit: count as size of interval is at least limit
define near for an interval with other: note as lower is in other or approach to other is step
define crowded for a sonority as some interval between neighbouring voices is third
define harsh for a note as interval with cantus is not consonant and interval with cantus of note before it is consonant
define joined with gap: interval as rising step then gap
define turn for a note as it begins step then step and length of note after it is half-note or quarter-note
parameter ornaments is a set of figure, usually cambiata or turn
"""

_ROLES = {
    "note": ["it"],
    "interval": ["upper", "lower", "cantus", "counterpoint", "sounding-upper", "sounding-lower"],
    "sonority": ["bass", "cantus"],
}
_HARMONIC = ["P1", "P5", "M3", "m10", "third", "sixth", "octave", "perfect", "augmented", "consonant", "exactly P8"]
_MELODIC = ["step", "leap", "repetition", "rising", "falling", "rising m6", "falling leap", "third", "P4", "chromatic"]
_RHYTHMS = ["whole-note", "(half-note then half-note)", "(half-note then tied-half-note)"]
_MOTIONS = ["contrary", "oblique", "similar", "parallel", "none"]
_LENGTHS = ["whole-note", "half-note", "quarter-note", "dotted-half-note"]
_TAKEN = ["on downbeats", "off downbeats", "where (it is accented)", "where (beat is 2)",
          "where (bar is at most 3 and it is not accented)"]  # fmt: skip
_FIGURES = ["step then leap", "falling step then rising", "cambiata", "joined(third)", "third",
            "step then step then step", "cambiata or leap", "turn", "ornaments"]  # fmt: skip
_PLACED = ["cambiata", "turn", "(turn or cambiata)", "ornaments", "joined(third)", "(step then leap)"]
_PLACES = ["first", "last", "last but one", "3rd", "2nd from end", "in bar 2", "in bars 1 to 2", "in last bar"]
_OF_THEIR_OWN = {"pitch", "departure", "approach", "motion", "interval"}  # words that have phrases of their own below


def flags(kind: Kind) -> list[str]:
    """The adjectives of the language's own table, as it is now."""
    return list(vocabulary.FLAGS[kind])


def attributes(kind: Kind) -> list[str]:
    """The attributes of the language's own table, as it is now."""
    return [word for word in vocabulary.ATTRIBUTES[kind] if word not in _OF_THEIR_OWN]


_LINE_SCOPES = ["each voice", "cantus", "counterpoint", "highest voice", "lowest voice", "outer voices", "upper voices",
                "voice 2", "inner voices", "moving voice", "voice in halves", "florid voice", "tied voice",
                "each voice but lowest voice"]  # fmt: skip
_PAIR_SCOPES = ["each pair", "outer voices", "neighbouring voices", "upper voices", "cantus and counterpoint",
                "voices 1 and 2", "each pair but outer voices", "each pair but cantus and counterpoint",
                "cantus and moving voice", "moving voice and others", "voice in halves and voice in quarters",
                "cantus and tied voice", "upper voices and lowest voice", "moving voice and moving voice"]  # fmt: skip
_LINE_LISTS = ["inner voices or voice 2", "voice 1, cantus or tied voice", "each voice but highest voice or cantus"]
_PAIR_LISTS = ["outer voices or cantus and counterpoint", "each pair but outer voices or cantus and florid voice",
               "voices 1 and 2, inner voices or tied voice and others"]  # fmt: skip


class _Author:
    """Writes phrases at random; ``kind`` is what the rule speaks of, ``depth`` how deep it may still go.

    ``ahead`` says whether a phrase may look ahead, ``runs`` whether it may keep runs.
    """

    def __init__(self, draw: st.DrawFn, kind: str, *, ahead: bool = True, runs: bool = True) -> None:
        self.draw, self.kind, self.ahead, self.runs = draw, kind, ahead, runs

    def one(self, *choices: object) -> str:
        chosen = self.draw(st.sampled_from(choices))
        return chosen() if callable(chosen) else str(chosen)

    def alternatives(self, words: list[str]) -> str:
        chosen = self.draw(st.lists(st.sampled_from(words), min_size=1, max_size=2, unique=True))
        return " or ".join(chosen)

    # things and values

    def shift(self, thing: str) -> str:
        """A thing or a property here, or before or after."""
        if self.kind == "note":
            asked = "" if thing == "it" else f"{thing} of "
            near = [f"{asked}note before it", f"{asked}note 2 before it"]
            return self.one(thing, thing, *near, *([f"{asked}note after it"] if self.ahead else []))
        name = self.kind if thing == "it" else thing
        back = [thing, thing, f"previous {name}", f"{name} 2 before"]
        return self.one(*back, *([f"next {name}", f"{name} 2 after"] if self.ahead else []))

    def note(self) -> str:
        thing = self.shift(self.one(*_ROLES[self.kind]))
        back = [thing, thing, f"note before {thing}", f"note 2 before {thing}"]
        return self.one(*back, *([f"note after {thing}", f"note 2 after {thing}"] if self.ahead else []))

    def melodic(self) -> str:
        note = self.note()
        choices = [f"approach of {note}", f"span between {self.note()} and {note}"]
        return self.one(*choices, *([f"departure of {note}"] if self.ahead else []))

    def harmonic(self) -> str:
        with_cantus = f"{vocabulary.WITH_CANTUS} of {self.note()}"
        return self.one(with_cantus, *([self.shift("interval")] * 2 if self.kind == "interval" else []))

    def direction(self) -> str:
        return self.one(f"direction of {self.melodic()}", f"opposite of direction of {self.melodic()}")

    def size(self) -> str:
        word = self.one("size", "simple-size")
        return f"{word} of {self.one(self.melodic, self.harmonic)}"

    def count(self) -> str:
        choices = [f"bar of {self.note()}", f"beat of {self.note()}", "number-of-voices", "number-of-bars"]
        choices.append("number-sounding" if self.kind == "sonority" else "bar")
        value = self.one(*choices, *([self.run] * 3 if self.runs else []))
        return self.one(value, value, f"{value} + 1", f"2 times {value}", f"number-of-bars - {value}")

    def run(self) -> str:
        inner = _Author(self.draw, self.kind, ahead=False, runs=False)
        if self.draw(st.booleans()):
            return f"run where ({inner.condition(1)})"
        counted = self.one("run", "number so far")
        return f"{counted} with same ({self.one(inner.direction, inner.melodic, *inner.own(), *inner.sung())})"

    def sung(self) -> list[str]:
        return ["pitch", vocabulary.WITH_CANTUS] if self.kind == "note" else []

    def own(self) -> list:
        return [self.harmonic, lambda: self.shift("motion"), self.size] if self.kind == "interval" else []

    def pitch(self) -> str:
        if self.runs and self.draw(st.integers(0, 3)) == 0:
            inner = _Author(self.draw, self.kind, ahead=False, runs=False)
            return f"(pitch of {inner.note()} where last ({inner.condition(1)}))"
        return f"pitch of {self.note()}"

    def placeholders(self) -> str:
        """A message with a few values in it."""
        single = [self.note, self.melodic, self.count, self.pitch, self.size, "bar"]
        whole = [
            "mode",
            "number-of-bars",
            "it",
            "number of sonorities",
            "share of sonorities where (it is on the downbeat)",
        ]
        choices = whole if self.kind in ("line", "pair", "exercise") else single
        return "Broken" + "".join(f", {{{self.one(*choices)}}}" for _ in range(self.draw(st.integers(0, 2))))

    # conditions

    def condition(self, depth: int) -> str:
        if depth <= 0 or self.draw(st.integers(0, 3)) > 1:
            return self.simple()
        parts = [f"({self.condition(depth - 1)})" for _ in range(2)]
        return self.one(f"not {parts[0]}", " and ".join(parts), " or ".join(parts))

    def simple(self) -> str:
        choices = [self.adjective, self.adjective, self.equal, self.equal, self.order, self.same, self.missing]
        choices += [self.place, self.setting, self.attribute]
        choices += [self.figure] if self.ahead else []
        choices += [self.quantified] if self.kind != "note" else []
        return self.one(*choices)

    def verb(self) -> str:
        return self.one("is", "is", "is not")

    def adjective(self) -> str:
        if self.kind == "interval" and self.draw(st.booleans()):
            own = [*flags(Kind.DYAD), "wide(4)", "near(lower)"]
            return f"{self.shift('it')} {self.verb()} {self.alternatives(own)}"
        if self.kind == "sonority" and self.draw(st.booleans()):
            return f"{self.shift('it')} {self.verb()} {self.alternatives([*flags(Kind.MOMENT), 'crowded'])}"
        return (
            f"{self.note()} {self.verb()} {self.alternatives([*flags(Kind.NOTE), 'harsh', *['passing'] * self.ahead])}"
        )

    def attribute(self) -> str:
        """A property of a note, or of the rule's own thing, compared with the same of another."""
        if self.draw(st.booleans()):
            word = self.one(*attributes(Kind.NOTE))
            return f"{word} of {self.note()} {self.verb()} {word} of {self.note()}"
        word = self.one(*attributes({"note": Kind.NOTE, "interval": Kind.DYAD, "sonority": Kind.MOMENT}[self.kind]))
        return f"{self.shift(word)} {self.verb()} {self.shift(word)}"

    def equal(self) -> str:
        left, right = self.one(
            lambda: f"{self.melodic()}|{self.alternatives(_MELODIC)}",
            lambda: f"{self.melodic()}|{self.melodic()}",
            lambda: f"degree of {self.note()}|{self.alternatives(['1', '2', '7'])}",
            lambda: f"degree of {self.note()}|degree of {self.note()}",
            lambda: f"{self.one('letter', 'note-name')} of {self.note()}|{self.alternatives(['B', 'D'])}",
            lambda: f"note-name of {self.pitch()}|{self.alternatives(['Bb', 'F#', 'A'])}",
            lambda: f"length of {self.note()}|{self.alternatives(_LENGTHS)}",
            lambda: f"rhythm of {self.note()}|{self.one(*_RHYTHMS)}",
            lambda: f"{self.direction()}|{self.alternatives(['up', 'down', 'level'])}",
            lambda: f"{self.direction()}|{self.direction()}",
            lambda: f"{self.size()}|{self.alternatives(['3', '6', '8'])}",
            lambda: f"{self.pitch()}|{self.alternatives(['pitch A4', 'pitch D4'])}",
            lambda: f"{self.pitch()}|{self.pitch()}",
            lambda: f"{self.count()}|{self.alternatives(['1', '2', '3'])}",
            lambda: f"{self.harmonic()}|{self.alternatives(_HARMONIC)}",
            lambda: f"{self.harmonic()}|{self.harmonic()}",
            *([lambda: f"{self.harmonic()}|{self.alternatives(_HARMONIC)}",
               lambda: f"{self.harmonic()}|{self.harmonic()}",
               lambda: f"{self.shift('motion')}|{self.alternatives(_MOTIONS)}"] * 2 if self.kind == "interval" else []),
        ).split("|")  # fmt: skip
        return f"{left} {self.verb()} {right}"

    def order(self) -> str:
        how = self.one("at least", "at most", "more than", "less than")
        wide = how.replace("more", "wider").replace("less", "narrower")
        long = how.replace("more", "longer").replace("less", "shorter")
        high = how.replace("more", "higher").replace("less", "lower")
        return self.one(
            lambda: f"{self.melodic()} is {wide} {self.one('M3', 'P5', 'second')}",
            lambda: f"{self.melodic()} is {wide} {self.melodic()}",
            lambda: f"length of {self.note()} is {long} {self.one(*_LENGTHS)}",
            lambda: f"degree of {self.note()} is {how} degree of {self.note()}",
            lambda: f"{self.count()} is {how} {self.one('1', '2', self.count)}",
            lambda: f"{self.pitch()} is {high} {self.one('pitch A4', self.pitch)}",
            lambda: f"{self.size()} is {how} {self.one('3', self.size)}",
            lambda: f"{self.harmonic()} is {wide} {self.one('M6', 'P8', self.melodic)}",
        )  # fmt: skip

    def same(self) -> str:
        return f"{self.note()} {self.verb()} in {self.one(*_ROLES[self.kind], *_LINE_SCOPES)}"

    def missing(self) -> str:
        near = {"note": ["note before it"], "interval": ["previous interval"], "sonority": ["previous sonority"]}
        return f"{self.one(self.note, self.melodic, *near[self.kind])} {self.verb()} missing"

    def place(self) -> str:
        places = _PLACES if self.ahead else [place for place in _PLACES if "but" not in place and "end" not in place]
        return f"{self.one('it', self.note)} {self.verb()} {self.alternatives(places)}"

    def figure(self) -> str:
        how = self.one("begins", "ends")
        if self.kind == "interval" and self.draw(st.booleans()):
            return self.one(f"interval {how} third then consonant", f"motion {how} contrary then parallel")
        if self.draw(st.integers(0, 3)) == 0:
            asked = vocabulary.WITH_CANTUS + ("" if self.kind == "note" else f" of {self.note()}")
            return f"{asked} {how} {self.one('consonant then second', 'third then unison then consonant')}"
        if self.draw(st.integers(0, 3)) == 0:
            return f"{self.note()} ends sequence of {self.one('2', '3', '4')} notes"
        if self.draw(st.booleans()):
            place = self.one("1st", "2nd", "2nd or 3rd", "last", "last but one")
            return f"{self.note()} {self.verb()} {place} of {self.one(*_PLACED)}"
        return f"{self.note()} {how} {self.one(*_FIGURES)}"

    def setting(self) -> str:
        return self.one("mode is phrygian", "metre is triple", "number-of-voices is 3", "number-of-bars is more than 2")

    def quantified(self) -> str:
        word = self.one("some", "every", "no")
        if self.draw(st.booleans()):
            scope = self.one("", " above bass", *(f" between {scope}" for scope in _PAIR_SCOPES + _PAIR_LISTS))
            words = [*_HARMONIC, *flags(Kind.DYAD), "wide(3)"]
            return f"{word} interval{scope} {self.verb()} {self.one(*words)}"
        scope = self.one("", *(f" in {scope}" for scope in _LINE_SCOPES + _LINE_LISTS))
        return f"{word} note{scope} {self.verb()} {self.one(*flags(Kind.NOTE))}"

    # rules on the whole

    def things(self) -> tuple[str, str]:
        """What is counted, and the kind of thing it is."""
        lines = [f"notes in {scope}" for scope in _LINE_SCOPES if " " in scope]
        pairs = [f"{word} {scope}" for word in ("intervals", "moves") for scope in
                 ("above bass", *(f"between {scope}" for scope in _PAIR_SCOPES))]  # fmt: skip
        own = {"line": ["notes"], "pair": ["notes in upper", "notes in cantus", "intervals", "moves"],
               "exercise": ["notes", "intervals", "moves"]}[self.kind]  # fmt: skip
        words = self.one(*own, *own, *own, *lines, *(pairs if self.kind != "line" else []), "sonorities")
        first = words.split()[0]
        return words, {"notes": "note", "sonorities": "sonority"}.get(first, "interval")

    def total(self) -> str:
        words, kind = self.things()
        free = _Author(self.draw, kind, runs=False)
        back = _Author(self.draw, kind, runs=False, ahead=False)
        return self.one(
            lambda: f"number of {words} is {self.one('at least 2', '3', 'less than 1')}",
            lambda: f"number of {words} where ({free.condition(2)}) is {self.one('at least 2', 'at most 1', '0')}",
            lambda: f"share of {words} where ({free.condition(2)}) is {self.one('at least 50%', 'less than 20%')}",
            lambda: f"longest run of {words} where ({back.condition(2)}) is {self.one('at least 2', 'less than 3')}",
            lambda: f"longest run of {words} with same ({self.one(back.melodic, back.direction)}) is at least 2",
            lambda: (
                f"time of {self.one('first', 'last')} {words} where ({back.condition(1)}) is "
                + self.one("missing", f"time of {self.one('first', 'last')} {words} where ({back.condition(1)})")
            ),
        )

    def line(self) -> str:
        of = self.one(" of upper", " of cantus") if self.kind == "pair" else ""
        return self.one(
            f"ambitus{of} is wider than M6", f"climax-count{of} is 1", f"lowest{of} is pitch D4",
            f"climax{of} is climax{of.replace('upper', 'lower')}", f"highest{of} is higher than pitch A4",
            f"highest{of} is missing",
        )  # fmt: skip

    def whole(self, depth: int) -> str:
        if depth > 0 and self.draw(st.booleans()):
            parts = [f"({self.whole(depth - 1)})" for _ in range(2)]
            return self.one(f"not {parts[0]}", " and ".join(parts), " or ".join(parts))
        return self.one(self.total, self.total, *([self.line] if self.kind != "exercise" else []), self.setting)


@st.composite
def rules(draw: st.DrawFn, name: str) -> str:
    """A rule as an author would write it; now and then the language refuses one."""
    subject = draw(st.sampled_from(["note", "interval", "interval", "move", "sonority", "line", "pair", "exercise"]))
    lines = [f" in {scope}" for scope in _LINE_SCOPES + _LINE_LISTS]
    pairs = [f" between {scope}" for scope in _PAIR_SCOPES + _PAIR_LISTS]
    scope = draw(st.sampled_from(lines if subject in ("note", "line") else pairs))
    if subject in ("interval", "move") and draw(st.integers(0, 4)) == 0:
        scope = " above bass"
    author = _Author(draw, "interval" if subject == "move" else subject)
    if subject in ("sonority", "exercise"):
        scope = ""
    lines = [f"rule {name}", f'  "{author.placeholders()}"', f"  for every {subject}{scope}"]
    whole = subject in ("line", "pair", "exercise")
    if not whole and draw(st.integers(0, 3)) == 0:
        lines.append(f"  taken {draw(st.sampled_from(_TAKEN))}")

    def condition(depth: int) -> str:
        return author.whole(depth) if whole else author.condition(depth)

    if not whole and draw(st.integers(0, 3)) == 0:
        lines.append(f"  {draw(st.sampled_from(['at', 'except at']))} {author.one(*_PLACES)}")
    if draw(st.booleans()):
        lines.append(f"  when {condition(1)}")
    lines.append(f"  {draw(st.sampled_from(['require', 'forbid']))} {condition(2)}")
    for number in range(draw(st.integers(0, 2))):
        lines.append(f'  excused as licence-{number} when {condition(1)} "reason {number}"')
    return "\n".join([*lines, "  fault", '  source "common practice"', ""])
