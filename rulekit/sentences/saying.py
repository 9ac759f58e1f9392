"""From a rule's typed tree to its sentence: where it looks, under which conditions, and what it asks."""

from collections.abc import Sequence
from dataclasses import dataclass

from rulekit.language import typed as t
from rulekit.sentences import forms
from rulekit.sentences.forms import BE, OF, REFUSED, Form, Unsayable, counted, joined, must, times
from rulekit.sentences.sets import intervals, many, single, sung
from rulekit.severity import Severity
from rulekit.telling import show
from rulekit.words import Words


def _(message: str) -> str:
    """Mark a message for the catalogues."""
    return message


def c_(context: str, message: str) -> str:
    """Mark a message that stands in contexts as well."""
    return message


_LINES = {
    "each voice": _("in every voice"), "cantus": _("in the cantus"), "counterpoint": _("in the counterpoint"),
    "highest voice": _("in the highest voice"), "lowest voice": _("in the lowest voice"),
    "inner voices": _("in the inner voices"), "outer voices": _("in the outer voices"),
    "upper voices": _("in the upper voices"), "moving voice": _("in the moving voice"),
    "voice in halves": _("in the voice in half notes"), "voice in quarters": _("in the voice in quarter notes"),
    "tied voice": _("in the tied voice"), "florid voice": _("in the florid voice"),
}  # fmt: skip
_PAIRS = {
    "each pair": _("between any two voices"), "outer voices": _("between the outer voices"),
    "inner voices": _("between the inner voices"), "upper voices": _("between the upper voices"),
    "neighbouring voices": _("between neighbouring voices"),
    "cantus and counterpoint": _("between cantus and counterpoint"),
}  # fmt: skip
_IN_VOICE = _("in voice {number}")
_ANY_TWO = _("between {one} and {other}")
_ONE_OF_TWO = {
    "each voice": c_("between", "the others"), "cantus": c_("between", "the cantus"),
    "counterpoint": c_("between", "the counterpoint"), "highest voice": c_("between", "the highest voice"),
    "lowest voice": c_("between", "the lowest voice"), "inner voices": c_("between", "the inner voices"),
    "outer voices": c_("between", "the outer voices"), "upper voices": c_("between", "the upper voices"),
    "moving voice": c_("between", "the moving voice"), "voice in halves": c_("between", "the voice in half notes"),
    "voice in quarters": c_("between", "the voice in quarter notes"), "tied voice": c_("between", "the tied voice"),
    "florid voice": c_("between", "the florid voice"), "voice": c_("between", "voice {number}"),
}  # fmt: skip
_BOTH = {
    "each pair": _("the voices"), "outer voices": _("the outer voices"), "inner voices": _("the inner voices"),
    "upper voices": _("the upper voices"), "neighbouring voices": _("neighbouring voices"),
    "cantus and counterpoint": _("cantus and counterpoint"),
}  # fmt: skip
_OVER_BASS = _("between the lowest voice and every other")
_MOMENT, _WHOLE = _("in every sonority"), _("in the exercise as a whole")
_BEATS = {
    ("downbeat", True): _("{where} on downbeats"), ("downbeat", False): _("{where} off the downbeats"),
    ("accented", True): _("{where} on accented beats"), ("accented", False): _("{where} on unaccented beats"),
}  # fmt: skip
_FEW = {"in": _("in {number} voices, {where}"), "in more": _("in {number} or more voices, {where}")}
_ALL_OF_FEW = {"in": _("in {number} voices"), "in more": _("in {number} or more voices")}
_PLACES = {"first": _("at the beginning"), "last": _("at the end"), "last but one": _("just before the end")}
_PLACED = {
    (t.Kind.DYAD, "first"): _("the first interval"), (t.Kind.DYAD, "last"): _("the last interval"),
    (t.Kind.DYAD, "last but one"): _("the last interval but one"),
    (t.Kind.NOTE, "first"): _("the first note"), (t.Kind.NOTE, "last"): _("the last note"),
    (t.Kind.NOTE, "last but one"): _("the last note but one"),
}  # fmt: skip
_SONORITIES = {
    "first": _("in the first sonority"), "last": _("in the last sonority"),
    "last but one": _("in the last sonority but one"),
}  # fmt: skip
_AT = _("{where} {place}")
_ASKED, _ASKED_WHERE = _("{where}, {asked}"), _("{where}, where {conditions}, {asked}")
_EXCEPT = _("{asked}, except {places}")
_FLAGS = {
    "accented": _("accented"), "sharpened": _("raised"), "flattened": _("lowered"),
    "tied": _("tied"), "leading": _("the leading note"), "held": _("held"),
}  # fmt: skip
_FINAL = _("the final")
_NOTES = {False: _("a note"), True: _("the note")}  # whether it has been spoken of
_EACH_NOTE = _("each note")
_FARTHEST = 5
_NEAR = {
    (t.Kind.NOTE, -1): _("the note before it"), (t.Kind.NOTE, 1): _("the note after it"),
    (t.Kind.NOTE, -2): _("the note {number} before it"), (t.Kind.NOTE, 2): _("the note {number} after it"),
    (t.Kind.DYAD, -1): _("the interval before it"), (t.Kind.DYAD, 1): _("the interval after it"),
    (t.Kind.DYAD, -2): _("the interval {number} before it"), (t.Kind.DYAD, 2): _("the interval {number} after it"),
}  # fmt: skip
_VOICES = {
    "upper": _("of the upper voice"), "lower": _("of the lower voice"), "cantus": _("of the cantus"),
    "counterpoint": _("of the counterpoint"), "sounding-upper": _("of the voice that sounds higher"),
    "sounding-lower": _("of the voice that sounds lower"), "bass": _("of the lowest voice"),
}  # fmt: skip
_OF_VOICE = {
    (0, 0): _("the note {voice}"),
    (-1, 0): _("the note {voice} just before"), (0, -1): _("the note {voice} just before"),
    (1, 0): _("the next note {voice}"), (0, 1): _("the next note {voice}"),
}  # fmt: skip
_LYING = {
    "first": _("at the beginning"), "last": _("at the end"), "downbeat": _("on the downbeat"),
    "rested": _("after a rest"), "in_compass": _("within the range of the voice"), "inner": _("in an inner voice"),
}  # fmt: skip
_IN_CONTEXT = (
    c_("of", "a note"), c_("of", "the note"), c_("of", "each note"),
    c_("of", "the first note"), c_("of", "the last note"), c_("of", "the last note but one"),
    c_("of", "the note before it"), c_("of", "the note after it"), c_("of", "the note {number} before it"),
    c_("of", "the note {number} after it"), c_("of", "the note {voice}"), c_("of", "the note {voice} just before"),
    c_("of", "the next note {voice}"),
    c_("refused", "accented"), c_("refused", "raised"), c_("refused", "lowered"),
    c_("refused", "tied"), c_("refused", "the leading note"), c_("refused", "held"), c_("refused", "the final"),
    c_("refused", "the upper voice"), c_("refused", "the lower voice"), c_("refused", "{value}"),
)  # fmt: skip
_SIDES = {"upper": _("the upper voice"), "lower": _("the lower voice")}
_ROLES = {"cantus": _("the cantus"), "counterpoint": _("the counterpoint")}
_INTERVAL, _THE_VOICES, _JUST_BEFORE = _("the interval"), _("the voices"), _("the voices just before")
_SOME_NOTE = _("some note")
_MOTIONS = {
    "contrary": _("contrary motion"), "oblique": _("oblique motion"), "similar": _("similar motion"),
    "parallel": _("parallel motion"),
}  # fmt: skip
_MOTION_SETS = {
    frozenset({"parallel", "similar"}): _("the same direction"),
    frozenset({"contrary", "oblique"}): _("contrary or oblique motion"),
}
_MOVES, _THERE_WITH = _("moves in {motion}"), _("{intervals} with the cantus")
_SOUNDING = _("the number of voices that sound")
_FIXED = {
    "number-of-voices": _("the number of voices"), "number-of-bars": _("the number of bars"), "mode": _("the mode"),
    "metre": _("the metre"),
}  # fmt: skip
_NAMED = {
    "dorian": _("dorian"), "phrygian": _("phrygian"), "lydian": _("lydian"), "mixolydian": _("mixolydian"),
    "aeolian": _("aeolian"), "ionian": _("ionian"), "locrian": _("locrian"), "major": c_("mode", "major"),
    "minor": c_("mode", "minor"), "duple": _("duple"), "triple": _("triple"),
}  # fmt: skip
_LENGTHS = {
    "breve": (_("a breve"), _("breves")), "whole note": (_("a whole note"), _("whole notes")),
    "half note": (_("a half note"), _("half notes")), "quarter note": (_("a quarter note"), _("quarter notes")),
    "eighth note": (_("an eighth note"), _("eighth notes")),
    "dotted half note": (_("a dotted half note"), _("dotted half notes")),
}  # fmt: skip
_PROPERTIES = {
    "degree": _("the degree {of}"), "length": _("the length {of}"), "letter": _("the letter {of}"),
    "pitch": _("the name {of}"), "with_cantus": _("the interval {of} with the cantus"),
}  # fmt: skip
_OF = _("of {note}")
_DIRECTION, _OPPOSITE = _("the direction in which {note} is reached"), _("the opposite of {value}")
_FORMED = _("the interval that {first} and {last} form")
_RANGE = _("the distance from the lowest to the highest note")
_SUNG_SIZE = _("the size of the interval by which {note} is reached")
_BY, _SAME_WAY = _("by {what}"), _("in the same direction as {note}")
_OTHER_WAY, _AGAINST = _("in the opposite direction"), _("in another direction than {note}")
_SUMMIT_ENDS = {"first": _("at the beginning"), "last": _("at the end")}
_NEITHER = _("neither at the beginning nor at the end")
_ONLY_ONCE, _MORE_OFTEN, _AT_MOST_OFTEN = _("only once"), _("more than {times}"), _("at most {times}")
_MORE_THAN_THOSE, _AS_MANY = _("more {these} than {those}"), _("at least as many {these} as {those}")
_MORE_OF, _AT_MOST_OF = _("more than {number} {these}"), _("at most {number} {these}")
_AT_LEAST_ONE, _AT_LEAST_OF = _("at least {one}"), _("at least {number} {these}")
_COMPARED: dict[tuple[t.Type | None, str], str] = {
    (t.Type.PITCH, "<"): _("lower than {value}"), (t.Type.PITCH, "<="): _("at most as high as {value}"),
    (t.Type.LENGTH, "<"): _("shorter than {value}"), (t.Type.LENGTH, "<="): _("no longer than {value}"),
    (t.Type.TIME, "<"): _("earlier than {value}"), (t.Type.TIME, "<="): _("no later than {value}"),
    (None, "<"): _("less than {value}"), (None, "<="): _("at most {value}"),
    (None, ">"): _("more than {value}"), (None, ">="): _("at least {value}"),
    (t.Type.LENGTH, ">"): _("longer than {value}"), (t.Type.LENGTH, ">="): _("at least as long as {value}"),
}  # fmt: skip
_REFUSED_COMPARED = (
    c_("refused", "lower than {value}"), c_("refused", "at most as high as {value}"),
    c_("refused", "shorter than {value}"), c_("refused", "no longer than {value}"),
    c_("refused", "earlier than {value}"), c_("refused", "no later than {value}"),
    c_("refused", "less than {value}"), c_("refused", "at most {value}"),
    c_("refused", "more than {value}"), c_("refused", "at least {value}"),
    c_("refused", "longer than {value}"), c_("refused", "at least as long as {value}"),
    c_("refused", "the same as {note}"), c_("refused", "the same as {interval}"), c_("refused", "the same as {value}"),
)  # fmt: skip
_SAME = {
    t.Type.PITCH: _("the same as {note}"), t.Type.NOTE_NAME: _("the same as {note}"),
    t.Type.LETTER: _("the same as {note}"), t.Type.HARMONIC: _("the same as {interval}"),
}  # fmt: skip
_SAME_VALUE, _VALUE = _("the same as {value}"), "{value}"
_EITHER, _NOT_SO = _("either {what}"), _("it is not so that {what}")


@dataclass(frozen=True, slots=True)
class _Clause:
    """Somebody does something: a form with what fills it; or does not."""

    form: Form
    values: dict[str, str]
    refused: dict[str, str]
    yes: bool = True
    plural: bool = False

    def denied(self) -> "_Clause":
        return _Clause(self.form, self.values, self.refused, not self.yes, self.plural)


class Saying:
    """Says one rule in the words of one language."""

    def __init__(self, rule: t.Rule, said: Words) -> None:
        self.rule, self.said, self.phrase = rule, said, said.phrase
        self.strict = rule.weight.severity == Severity.FAULT
        self.place = ""  # where the rule looks, until that has been said
        self.known = False  # whether the note that it is about has been spoken of
        self.each = False  # whether something is asked of it, not refused
        self.excepted: list[tuple[str, ...]] = []  # what has still to be said at the end

    def sentence(self) -> str:
        """The whole. Raises Unsayable, and Untranslated where the language lacks words."""
        assert isinstance(self.rule.broken, t.All)
        *when, demand = _flat(self.rule.broken)
        told = [part for part in when if not _is_understood(part)]
        places = [place for part in told if (place := _place(part))]
        conditions = [part for part in told if not _place(part)]
        self.place = next((names[0] for kind, *names in places if kind == "at"), "")
        if self.rule.track.kind == t.Kind.MOMENT and self.place:
            where, self.place = self.phrase(_SONORITIES[self.place]), ""
        else:
            where = self._where(places)
        stated = self._all(conditions, "where") if conditions else ""
        text = self._crossing(demand) if not (conditions or self.place) else ""
        if not text:
            asked = self._demand(demand)
            if self.place:
                where = self.phrase(_AT, where=where, place=self.phrase(_PLACES[self.place]))
            values = {"where": where, "asked": asked}
            text = self.phrase(_ASKED_WHERE, conditions=stated, **values) if stated else self.phrase(_ASKED, **values)
        text = self._except(text, [*places, *self.excepted])
        return f"{text[0].upper()}{text[1:]}."

    def _except(self, text: str, places: Sequence[tuple[str, ...]]) -> str:
        parts = [self.phrase(_PLACES[name]) for kind, *names in places if kind == "except" for name in names]
        return self.phrase(_EXCEPT, asked=text, places=joined(self.said, parts, "and")) if parts else text

    def _crossing(self, demand: t.Test) -> str:
        """A demand that says itself which voices it is about."""
        match demand:
            case t.Flag(name="crossed", ref=t.HERE) if _pair(self.rule.scope) in _BOTH and not self._is_on_bass():
                voices = self.phrase(_BOTH[_pair(self.rule.scope)])
                return self._asked(_Clause(forms.CROSS, {"it": voices}, {}, False, True))
            case _:
                return ""

    def _where(self, places: Sequence[tuple[str, ...]]) -> str:
        """The voices that a rule is about."""
        few = [(kind, names[0]) for kind, *names in places if kind in _FEW]
        everywhere = self.rule.track.kind == t.Kind.DYAD and self.rule.scope.words == "each pair"
        if few and everywhere and not self._is_on_bass():
            (kind, number), *few = few
            where = self.phrase(_ALL_OF_FEW[kind], number=counted(int(number), self.said))
        else:
            where = self._subject()
        match self.rule.track.sample:
            case None:
                pass
            case t.Flag(name="downbeat" | "accented" as name):
                where = self.phrase(_BEATS[name, True], where=where)
            case t.Negation(inner=t.Flag(name="downbeat" | "accented" as name)):
                where = self.phrase(_BEATS[name, False], where=where)
            case _:
                raise Unsayable
        for kind, number in few:
            where = self.phrase(_FEW[kind], number=counted(int(number), self.said), where=where)
        return where

    def _subject(self) -> str:
        track, scope = self.rule.track, self.rule.scope
        match track.kind:
            case t.Kind.NOTE | t.Kind.LINE:
                return self._in(scope)
            case t.Kind.DYAD if self._is_on_bass():
                return self.phrase(_OVER_BASS)
            case t.Kind.DYAD | t.Kind.PAIR:
                return self._between(scope)
            case t.Kind.MOMENT:
                return self.phrase(_MOMENT)
            case _:
                return self.phrase(_WHOLE)

    def _in(self, scope: t.Voices) -> str:
        """``in the tied voice``."""
        if scope.but is not None:
            raise Unsayable
        if scope.words == "or":
            return joined(self.said, [self._in(part) for part in scope.parts], "and")
        return (
            self._named(_LINES, scope.words) if not scope.number else self.phrase(_IN_VOICE, number=str(scope.number))
        )

    def _between(self, scope: t.Voices) -> str:
        """``between the tied voice and the others``."""
        if scope.but is not None or (scope.words == "and" and scope.parts[0] == scope.parts[1]):
            raise Unsayable
        if scope.words == "or":
            return joined(self.said, [self._between(part) for part in scope.parts], "and")
        if scope.words != "and" or _pair(scope) in _PAIRS:
            return self._named(_PAIRS, _pair(scope))
        one, other = (self._one_of_two(part) for part in scope.parts)
        return self.phrase(_ANY_TWO, one=one, other=other)

    def _one_of_two(self, scope: t.Voices) -> str:
        return self.phrase(_ONE_OF_TWO[scope.words], "between", number=str(scope.number))

    def _named(self, table: dict[str, str], name: str, context: str = "") -> str:
        if name not in table:
            raise Unsayable
        return self.phrase(table[name], context)

    def _is_on_bass(self) -> bool:
        parts = _flat(self.rule.where) if isinstance(self.rule.where, t.All) else []
        return any(isinstance(part, t.Flag) and part.name == "on_bass" for part in parts)

    # ---- what is asked ------------------------------------------------------------------------------

    def _asked(self, clause: _Clause) -> str:
        """``the interval must be a third``."""
        values = {**clause.values, "must": must(self.said, self.strict, clause.yes, clause.plural)}
        if clause.yes:
            return self.phrase(clause.form.asked, **values)
        return self.phrase(*clause.form.refused, **values | clause.refused)

    def _stated(self, clause: _Clause) -> str:
        """``the interval is a third``."""
        if clause.yes:
            return self.phrase(clause.form.stated, **clause.values)
        return self.phrase(clause.form.denied, **clause.values | clause.refused)

    def _demand(self, broken: t.Test) -> str:
        """What is asked, where a condition says what breaks it."""
        match broken:
            case t.Negation(inner=t.AnyOf() | t.All() as inner):
                return self._asked(_Clause(forms.HAPPEN, {"what": self.stated(inner, "that")}, {}))
            case t.Relation("<", t.Const(value=int(most)), t.Stream(number=number)) if self._is_run(number):
                return self._run(self.rule.streams[number], most)
            case t.AnyOf((t.Relation() as one, t.Relation() as other)) if self._are_both_ends(one, other):
                return self._asked(_Clause(forms.SUMMIT, {"what": self.phrase(_NEITHER)}, {}))
            case t.AnyOf(parts) if not any(isinstance(part, t.All | t.AnyOf) for part in parts):
                return joined(self.said, [self._demand(part) for part in parts], "and")
            case t.AnyOf() | t.All() | t.Holds():
                return self._asked(_Clause(forms.HAPPEN, {"what": self.stated(broken, "that")}, {}, False))
            case _:
                self.each = isinstance(broken, t.Negation)
                return self._asked(self._clause(broken, yes=False))

    def _run(self, stream: t.Gathered, most: int) -> str:
        """No more than so many in a row."""
        assert stream.test is not None
        try:
            called = self._several(stream.test)
        except Unsayable:
            values = {"times": times(most, self.said), "what": self.stated(stream.test, "that")}
            return self._asked(_Clause(forms.OFTEN, values, {}, False))
        these = f"{counted(most + 1, self.said)} {called}"
        return self._asked(_Clause(forms.FOLLOW, {"what": these}, {}, False, True))

    def _are_both_ends(self, one: t.Relation, other: t.Relation) -> bool:
        """Whether two conditions say that the highest note comes at the beginning, and at the end."""
        found = [self._summit_end(each) for each in (one, other)]
        return set(found) == {"first", "last"}

    def _summit_end(self, test: t.Relation) -> str:
        match test:
            case t.Relation("==", t.Stream(number), t.Stream(other)) if self._kind(number) == "climax":
                return self._kind(other) if self._kind(other) in _SUMMIT_ENDS else ""
            case _:
                return ""

    def _kind(self, number: int) -> str:
        return self.rule.streams[number].kind

    def _is_run(self, number: int) -> bool:
        stream = self.rule.streams[number]
        return stream.kind == "run" and stream.value is None and stream.test is not None

    # ---- conditions ---------------------------------------------------------------------------------

    def stated(self, test: t.Test, link: str) -> str:
        """A condition as a clause; ``link`` is the word after which it stands."""
        match test:
            case t.All():
                return self._all(_flat(test), link)
            case t.AnyOf(parts):
                word = f"or {link}" if any(isinstance(part, t.All) for part in parts) else "or"
                return joined(self.said, [self.stated(part, link) for part in parts], word)
            case t.Negation(inner=t.AnyOf(parts)) if not any(isinstance(part, t.All) for part in parts):
                return joined(self.said, [self.stated(t.Negation(part), link) for part in parts], "and")
            case t.Negation(inner=t.All() | t.AnyOf() | t.Holds() as inner):
                return self.phrase(_NOT_SO, what=self.stated(inner, "that"))
            case _:
                return self._stated(self._clause(test))

    def _all(self, parts: Sequence[t.Test], link: str) -> str:
        """Conditions that hold together."""
        told = [part for part in parts if not _is_understood(part)]
        same = self._in_a_row(told)
        if same:
            return same
        deep = [part for part in told if isinstance(part, t.AnyOf)]
        said = [self.stated(part, link) for part in told if part not in deep]
        said += [self.phrase(_EITHER, what=self.stated(part, link)) for part in deep]
        return joined(self.said, said, "and")

    def _in_a_row(self, parts: Sequence[t.Test]) -> str:
        """The same said of several places that follow each other."""
        asked = [part for part in parts if isinstance(part, t.Among) and isinstance(part.value, t.Attr)]
        refs = [part.value.ref for part in asked if isinstance(part.value, t.Attr)]
        names = {part.value.name for part in asked if isinstance(part.value, t.Attr)}
        offsets = sorted(ref.offset for ref in refs)
        if len(asked) < 2 or len(asked) < len(parts) or len({part.members for part in asked}) > 1 or len(names) > 1:
            return ""
        if offsets != list(range(offsets[0], offsets[0] + len(offsets))) or any(ref.role or ref.hops for ref in refs):
            return ""
        if not names <= {"interval", "approach"}:
            return ""
        called = many(asked[0].members, names == {"approach"}, self.said)
        these = f"{counted(len(refs), self.said)} {called}"
        return self._stated(_Clause(forms.FOLLOW, {"what": these}, {}, plural=True))

    def _clause(self, test: t.Test, here: str = "", *, yes: bool = True) -> _Clause:
        """A condition as somebody who does something, or (not ``yes``) does not."""
        if isinstance(test, t.Negation):
            return self._clause(test.inner, here, yes=not yes)
        if isinstance(test, t.Relation):
            return self._relation(test, yes)
        clause = self._affirmed(test, here)
        return clause if yes else clause.denied()

    def _be(self, it: str, message: str, **values: str) -> _Clause:
        """``it`` is something, told by one message."""
        what = self.phrase(message, **values) if message != _VALUE else values["value"]
        return _Clause(BE, {"it": it, "what": what}, {"what": self.phrase(message, REFUSED, **values)})

    def _affirmed(self, test: t.Test, here: str) -> _Clause:
        match test:
            case t.Holds(
                quantifier="some", kind=t.Kind.NOTE, condition=t.Flag() | t.Negation(inner=t.Flag()) as condition
            ):
                return self._clause(condition, self.phrase(_SOME_NOTE))
            case t.Among(value=t.Attr(ref, "approach"), members=members):
                return self._reached(ref, self.phrase(_BY, what=sung(members, self.said)))
            case t.Among(value=t.Attr(ref, "degree"), members=members) if members == frozenset({1}):
                return self._be(self._note(ref), _FINAL)
            case t.Among(value=t.Attr(ref, "motion"), members=members):
                return self._motion(ref, members)
            case t.Among(value=t.Stream(number), members=members) if self._is_once(number, members):
                return _Clause(forms.SUMMIT, {"what": self.phrase(_ONLY_ONCE)}, {})
            case t.Among(value=value, members=members):
                return self._among(value, members)
            case t.Flag(name="crossed", ref=ref):
                return _Clause(forms.CROSS, {"it": self._voices(ref)}, {}, plural=True)
            case t.Flag(ref, "diatonic"):
                return _Clause(forms.BELONG, {"it": here or self._thing(ref)}, {})
            case t.Flag(ref, name) if name in _LYING:
                return _Clause(forms.LIE, {"it": here or self._thing(ref), "what": self.phrase(_LYING[name])}, {})
            case t.Flag(ref, name) if name in _FLAGS:
                return self._be(here or self._thing(ref), _FLAGS[name])
            case t.InVoices(ref, scope):
                return _Clause(forms.LIE, {"it": here or self._thing(ref), "what": self._in(scope)}, {})
            case t.Same(left, right) if left.role in _SIDES and right.role in _ROLES:
                return self._be(self.phrase(_ROLES[right.role]), _SIDES[left.role])
            case _:
                raise Unsayable

    def _is_once(self, number: int, members: frozenset[object]) -> bool:
        return self._kind(number) == "climaxes" and members == frozenset[object]({1})

    def _voices(self, ref: t.Ref) -> str:
        return self.phrase(_JUST_BEFORE if ref.offset else _THE_VOICES)

    def _motion(self, ref: t.Ref, members: frozenset[object]) -> _Clause:
        if {str(member) for member in members} == {"none"} and not ref.offset:
            return _Clause(forms.STAY, {}, {}, plural=True)
        return _Clause(forms.MOVE, {"it": self._voices(ref), "what": self._motions(members)}, {}, plural=True)

    def _motions(self, members: frozenset[object]) -> str:
        together = _MOTION_SETS.get(frozenset(map(str, members)))
        if together:
            return self.phrase(together)
        return joined(self.said, [self._named(_MOTIONS, name) for name in sorted(map(str, members))], "or")

    def _among(self, value: t.Value, members: frozenset[object]) -> _Clause:
        it = self._value(value)
        if value.type in (t.Type.HARMONIC, t.Type.MELODIC, t.Type.INTERVAL):
            what = {context: intervals(members, self.said, context) for context in ("", REFUSED)}
            return _Clause(BE, {"it": it, "what": what[""]}, {"what": what[REFUSED]})
        names = sorted(show(member, value.type) for member in members)
        plain = [name for name in names if not (name.startswith("hypo") and name.removeprefix("hypo") in names)]
        return self._be(it, _VALUE, value=joined(self.said, [self._shown(name, value.type) for name in plain], "or"))

    def _shown(self, name: str, type_: t.Type) -> str:
        """A constant in words; letters, names of notes and numbers need none."""
        match type_:
            case t.Type.LENGTH:
                if name not in _LENGTHS:
                    raise Unsayable
                return self.phrase(_LENGTHS[name][0])
            case t.Type.MODE | t.Type.METRE:
                return self._named(_NAMED, name, "mode" if name in ("major", "minor") else "")
            case t.Type.COUNT:
                return counted(int(name), self.said) if name.isdecimal() else name
            case t.Type.PITCH | t.Type.NOTE_NAME | t.Type.LETTER | t.Type.DEGREE | t.Type.SIZE | t.Type.SHARE:
                return name
            case _:
                raise Unsayable

    # ---- comparisons --------------------------------------------------------------------------------

    def _relation(self, test: t.Relation, yes: bool) -> _Clause:
        """A comparison; one of counts that does not hold is told as its opposite."""
        special = self._special(test)
        if special is not None:
            return special if yes else special.denied()
        if test.operator == "==":
            equal = self._equal(test.left, test.right)
            return equal if yes else equal.denied()
        if test.left.type == t.Type.COUNT and not yes:
            test, yes = t.Relation("<=" if test.operator == "<" else "<", test.right, test.left), True
        counts = self._counts(test)
        if counts is not None:
            return counts
        compared = self._compared(test)
        return compared if yes else compared.denied()

    def _special(self, test: t.Relation) -> _Clause | None:
        match test.operator, test.left, test.right:
            case "==", t.Function(name="direction", arguments=(t.Attr(here, "approach"),)), t.Function(
                "direction", (t.Attr(there, "approach"),)
            ):
                return self._reached(here, self.phrase(_SAME_WAY, note=self._note(there)))
            case "==", t.Function(name="direction", arguments=(t.Attr(here, "approach"),)), t.Function(
                "opposite", (t.Function("direction", (t.Attr(there, "approach"),)),)
            ):
                other = _OTHER_WAY if there == t.HERE else _AGAINST
                return self._reached(here, self.phrase(other, note=self._note(there)))
            case "==", t.Attr(name="number_sounding"), t.Fixed(name="number-of-voices"):
                return _Clause(forms.SOUND, {}, {})
            case "==", t.Stream(number), t.Stream(other) if self._kind(number) == "climax":
                return self._summits(test, other)
            case "<" | "<=", t.Stream(number), t.Const(value=int(most)) if self._kind(number) == "climaxes":
                most -= test.operator == "<"
                return _Clause(forms.SUMMIT, {"what": self.phrase(_AT_MOST_OFTEN, times=times(most, self.said))}, {})
            case "<" | "<=", t.Const(value=int(least)), t.Stream(number) if self._kind(number) == "climaxes":
                least -= test.operator == "<="
                return _Clause(forms.SUMMIT, {"what": self.phrase(_MORE_OFTEN, times=times(least, self.said))}, {})
            case _:
                return None

    def _reached(self, ref: t.Ref, how: str) -> _Clause:
        return _Clause(forms.REACHED, {"it": self._note(ref), "what": how}, {})

    def _summits(self, test: t.Relation, other: int) -> _Clause:
        end = self._summit_end(test)
        if end:
            return _Clause(forms.SUMMIT, {"what": self.phrase(_SUMMIT_ENDS[end])}, {})
        if self._kind(other) == "climax":
            return _Clause(forms.SUMMITS, {}, {}, plural=True)
        raise Unsayable

    def _counts(self, test: t.Relation) -> _Clause | None:
        """How many there are of something that has a name in the plural; None for other comparisons."""
        match test:
            case t.Relation(operator, t.Stream() as left, t.Stream() as right):
                few, lot = self._these(left, alone=False), self._these(right, alone=False)
                pattern = _MORE_THAN_THOSE if operator == "<" else _AS_MANY
                return self._there(self.phrase(pattern, these=lot, those=few)) if few and lot else None
            case t.Relation(operator, t.Const(value=int(least)), t.Stream() as right):
                these = self._these(right)
                if these and (operator == "<=" or least == 0):
                    return self._there(self._at_least(max(1, least), these, right))
                told = self.phrase(_MORE_OF, number=counted(least, self.said), these=these or "")
                return self._there(told) if these else None
            case t.Relation(operator, t.Stream() as left, t.Const(value=int(most))):
                these, most = self._these(left), most - (operator == "<")
                told = self.phrase(_AT_MOST_OF, number=counted(most, self.said), these=these or "")
                return self._there(told) if these else None
            case _:
                return None

    def _at_least(self, least: int, these: str, stream: t.Stream) -> str:
        match self.rule.streams[stream.number].test:
            case t.Among(value=t.Attr(name="approach"), members=members) if least == 1:
                return self.phrase(_AT_LEAST_ONE, one=single(members, self.said))
            case _ if least == 1:
                raise Unsayable
            case _:
                pass
        return self.phrase(_AT_LEAST_OF, number=counted(least, self.said), these=these)

    def _there(self, what: str) -> _Clause:
        return _Clause(forms.THERE, {"what": what}, {})

    def _these(self, value: t.Stream, *, alone: bool = True) -> str | None:
        """What a stream counts, in the plural; None where that has no name."""
        stream = self.rule.streams[value.number]
        if stream.kind != "number" or stream.test is None:
            return None
        parts = _flat(stream.test) if isinstance(stream.test, t.All) else [stream.test]
        told = [part for part in parts if not _is_understood(part)]
        test = [part for part in told if not _place(part)]
        if len(test) != 1:
            raise Unsayable
        called = self._several(test[0])
        places = [place for part in told if (place := _place(part))]
        if any(kind != "except" or not alone for kind, *_names in places):
            raise Unsayable
        self.excepted += places
        return called

    def _several(self, test: t.Test) -> str:
        """Several things of which a condition holds: ``thirds``, ``leaps``, ``moves in contrary motion``."""
        match test:
            case t.Among(value=t.Attr(ref=t.HERE, name="interval"), members=members):
                return many(members, False, self.said)
            case t.Among(value=t.Attr(ref=t.HERE, name="approach"), members=members):
                return many(members, True, self.said)
            case t.Among(value=t.Attr(ref=t.HERE, name="with_cantus"), members=members):
                return self.phrase(_THERE_WITH, intervals=many(members, False, self.said))
            case t.Among(value=t.Attr(ref=t.HERE, name="motion"), members=members):
                return self.phrase(_MOVES, motion=self._motions(members))
            case t.Relation("==", t.Attr(ref=t.HERE, name="length"), t.Const(value=length, type=kind)):
                return self._lengths(show(length, kind))
            case t.Among(value=t.Attr(ref=t.HERE, name="length") as value, members=members) if len(members) == 1:
                return self._lengths(show(next(iter(members)), value.type))
            case _:
                raise Unsayable

    def _lengths(self, name: str) -> str:
        if name not in _LENGTHS:
            raise Unsayable
        return self.phrase(_LENGTHS[name][1])

    def _equal(self, left: t.Value, right: t.Value) -> _Clause:
        it = self._value(left)
        same = isinstance(left, t.Attr) and isinstance(right, t.Attr) and left.name == right.name
        if same and left.type in _SAME:
            return self._be(it, _SAME[left.type], note=self._value(right), interval=self._value(right))
        return self._be(it, _SAME_VALUE if same else _VALUE, value=self._value(right))

    def _compared(self, test: t.Relation) -> _Clause:
        left, right, operator = test.left, test.right, test.operator
        if isinstance(left, t.Const) or (isinstance(left, t.Fixed | t.Stream) and isinstance(right, t.Stream)):
            left, right, operator = right, left, operator.replace("<", ">")
        compared = _COMPARED.get((left.type, operator)) or _COMPARED[None, operator]
        return self._be(self._value(left), compared, value=self._value(right))

    # ---- values -------------------------------------------------------------------------------------

    def _value(self, value: t.Value) -> str:
        match value:
            case t.Const(value=known, type=kind, many=False):
                return self._shown(show(known, kind), kind)
            case t.Fixed(name=name):
                return self.phrase(_FIXED[name])
            case t.Stream(number=number) if self._kind(number) in ("highest", "lowest"):
                raise Unsayable
            case t.Attr(ref, "interval"):
                return self._near(t.Kind.DYAD, ref.offset)
            case t.Attr(ref, "pitch") if value.type == t.Type.PITCH:
                return self._note(ref)
            case t.Attr(ref, "number_sounding"):
                return self.phrase(_SOUNDING)
            case t.Attr(ref, "degree" | "length" | "letter" | "with_cantus" as name):
                return self.phrase(_PROPERTIES[name], of=self._of(ref))
            case t.Function(name="note-name", arguments=(t.Attr(ref, "pitch"),)):
                return self.phrase(_PROPERTIES["pitch"], of=self._of(ref))
            case t.Function(name="direction", arguments=(t.Attr(ref, "approach"),)):
                return self.phrase(_DIRECTION, note=self._note(ref))
            case t.Function(name="opposite", arguments=(inner,)):
                return self.phrase(_OPPOSITE, value=self._value(inner))
            case t.Function(name="span", arguments=(t.Stream(low), t.Stream(high))) if (
                self._kind(low) == "lowest" and self._kind(high) == "highest"
            ):
                return self.phrase(_RANGE)
            case t.Function(name="span", arguments=(first, last)):
                return self.phrase(_FORMED, first=self._value(first), last=self._value(last))
            case t.Function(name="size", arguments=(t.Attr(ref, "approach"),)):
                return self.phrase(_SUNG_SIZE, note=self._note(ref))
            case _:
                raise Unsayable

    def _of(self, ref: t.Ref) -> str:
        """``of the note``."""
        return self.phrase(_OF, note=self._note(ref, OF))

    def _thing(self, ref: t.Ref) -> str:
        """What an adjective is said of."""
        if self.rule.track.kind == t.Kind.MOMENT and not ref.role:
            raise Unsayable
        if self.rule.track.kind != t.Kind.NOTE and not ref.role:
            return self._near(t.Kind.DYAD, ref.offset)
        return self._note(ref)

    def _near(self, kind: t.Kind, offset: int, context: str = "") -> str:
        """A thing by how far from the one that is judged it lies."""
        if abs(offset) > _FARTHEST:
            raise Unsayable
        if offset:
            side = max(-2, min(2, offset))
            return self.phrase(_NEAR[kind, side], context, number=counted(abs(offset), self.said))
        if self.place:
            place, self.place, self.known = self.place, "", True
            return self.phrase(_PLACED[kind, place], context)
        if kind == t.Kind.DYAD:
            return self.phrase(_INTERVAL)
        known, self.known = self.known, True
        return self.phrase(_EACH_NOTE if self.each and not known else _NOTES[known], context)

    def _note(self, ref: t.Ref, context: str = "") -> str:
        if not ref.role:
            where = ref.offset if self.rule.track.kind == t.Kind.NOTE else ref.hops
            return self._near(t.Kind.NOTE, where, context)
        if (ref.offset, ref.hops) not in _OF_VOICE:
            raise Unsayable
        return self.phrase(_OF_VOICE[ref.offset, ref.hops], context, voice=self._named(_VOICES, ref.role))


def _place(test: t.Test) -> tuple[str, ...]:
    """Where a rule looks, if that is what a condition says: ``("at", "first")``; nothing for other conditions."""
    match test:
        case t.Among(value=t.Fixed(name="number-of-voices"), members=members) if len(members) == 1:
            (number,) = members
            return "in", str(number)
        case t.Relation("<", t.Const(value=int(number)), t.Fixed(name="number-of-voices")):
            return "in more", str(number + 1)
        case t.Flag(ref=t.Ref(offset=0, role="", hops=0), name="first" | "last" as name):
            return "at", name
        case t.Flag(ref=t.Ref(offset=1, role="", hops=0), name="last"):
            return "at", "last but one"
        case t.Negation(inner=t.AnyOf(parts)):
            places = [_place(part) for part in parts]
            at = all(place[:1] == ("at",) for place in places)
            return ("except", *(place[1] for place in places)) if at else ()
        case t.Negation(inner=t.Flag() as inner) if _place(inner):
            return "except", _place(inner)[1]
        case _:
            return ()


def _pair(scope: t.Voices) -> str:
    """What pairs are called."""
    return " and ".join(part.words for part in scope.parts) if scope.words == "and" else scope.words


def _flat(test: t.All) -> list[t.Test]:
    """All the parts of a conjunction, those of conjunctions in it as well."""
    return [inner for part in test.parts for inner in (_flat(part) if isinstance(part, t.All) else [part])]


def _is_understood(test: t.Test) -> bool:
    """What needs no words: that there is something before or after, that the lowest voice is meant."""
    match test:
        case t.Exists():
            return True
        case t.Flag(name="on_bass"):
            return True
        case t.Negation(inner=t.Exists()):
            raise Unsayable
        case _:
            return False
