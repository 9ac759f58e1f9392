"""Conditions: what is said of values and things, and whether it can be."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from rulekit.diagnostics import with_article
from rulekit.language import limits
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language import vocabulary as v
from rulekit.language.checking.comparisons import any_of, comparable, equals, is_said_of, one_of, order, says
from rulekit.language.checking.context import Context, Meaning, Thing, what
from rulekit.language.checking.errors import CheckError, each, joined, together
from rulekit.language.checking.figures import Figure, NoMember, Row, before, figures, in_row, length, moved
from rulekit.language.checking.moving import PLACED, shifted
from rulekit.language.checking.possible import check_missing, check_possible, check_sung, check_voices
from rulekit.language.checking.scopes import voices
from rulekit.language.checking.sequences import sequence
from rulekit.language.checking.values import (
    SUBJECTS,
    alternatives,
    bind,
    defined,
    known_figures,
    meaning,
    pitch_of_thing,
)
from rulekit.language.checking.words import unknown, words_here
from rulekit.language.typed import HERE, Kind, Type

_PROBES = {Kind.NOTE: ("pitch", Type.PITCH), Kind.DYAD: ("interval", Type.HARMONIC), Kind.MOMENT: ("bar", Type.COUNT)}


def test(condition: s.Condition, context: Context) -> t.Test:
    """The typed form of a condition; raises CheckError."""
    with context.draft.within_limits(condition):
        found = _test(condition, context)
    end = condition.right[-1] if isinstance(condition, s.Compare) else condition
    context.draft.said[found] = (condition.span, end.span)
    return found


def _test(condition: s.Condition, context: Context) -> t.Test:
    match condition:
        case s.Not():
            return t.Negation(test(condition.inner, context))
        case s.Logic():
            parts = each(lambda part: test(part, context), condition.parts)
            return t.All(parts) if condition.operator == "and" else t.AnyOf(parts)
        case s.Missing():
            return _missing(condition, context)
        case s.FigureTest():
            return _figure(condition, context)
        case s.Sequence():
            return sequence(condition, context)
        case s.Compare():
            return _compare(condition, context)
        case s.Choice(values=(s.Group(inner=inner),)):
            return test(inner, context)
        case s.Choice() | s.Figure():
            hint = "Write such as ‘interval is a third’."
            raise CheckError(condition.span, "this is no condition: it lacks its verb", hint)


def _missing(condition: s.Missing, context: Context) -> t.Test:
    found = meaning(condition.target, context)
    if isinstance(found, Thing):
        if found.kind not in _PROBES:
            raise CheckError(condition.span, f"{with_article(found.kind)} can’t be missing")
        found = t.Attr(found.ref, *_PROBES[found.kind])
    check_missing(found, condition, context)
    exists = t.Exists(found)
    return exists if condition.negated else t.Negation(exists)


# ---- figures ---------------------------------------------------------------------------------


def _figure(condition: s.FigureTest, context: Context) -> t.Test:
    """Whether something begins or ends a figure: it is the first of it, or the last."""
    place = s.Position(condition.span, "place", 1, 1, condition.ends)
    found, target = together(
        lambda: figures(condition.steps, condition.span, context), lambda: meaning(condition.target, context)
    )
    return any_of(each(lambda figure: _placed(target, condition.target, place, figure, context), found))


def _member(target: Meaning, left: s.Expr, member: s.Member, context: Context) -> t.Test:
    """Whether something has its place in a figure, or in one of several; a parameter's may lack it."""
    inner = member.figure.inner if isinstance(member.figure, s.Group) else None
    steps = inner.steps if isinstance(inner, s.Figure) else (member.figure,)
    are_held = known_figures(member.figure, context) is not None

    def one(figure: Figure) -> list[t.Test]:
        try:
            return [_placed(target, left, member.place, figure, context)]
        except NoMember:
            if are_held:
                return []
            raise

    found = each(one, figures(steps, member.figure.span, context))
    said = any_of([test for tests in found for test in tests])
    context.draft.said[said] = (member.span, member.span)
    return said


def _placed(target: Meaning, left: s.Expr, place: s.Position, figure: Figure, context: Context) -> t.Test:
    """Whether something has a place in one figure."""
    if isinstance(figure, Row):
        return in_row(target, left, place, figure, context)
    definition = context.definitions[figure.word]
    if not isinstance(target, Thing):
        kind = with_article(SUBJECTS[definition.subject or "note"])
        message = f"‘{figure.word}’ is said of {kind}, but this is {what(target)}"
        raise CheckError(left.span, message, "Ask it of the note: ‘it is 2nd of …’.")
    members = length(_apply(definition, target, figure, context), target)
    back = before(place, members, str(target.kind), figure.word)
    return _apply(definition, moved(target, -back, place.span, context), figure, context)


# ---- comparisons -----------------------------------------------------------------------------


def _compare(condition: s.Compare, context: Context) -> t.Test:
    left = condition.left
    if isinstance(left, s.Quantified):
        return _quantified(condition, left, context)
    try:
        target = meaning(left, context)
    except CheckError as error:
        raise joined([error, *_meaningless(condition.right, context)]) from error
    found = _relate(target, condition, context)
    return t.Negation(found) if condition.negated else found


def _meaningless(parts: Sequence[s.Expr], context: Context) -> Iterator[CheckError]:
    """The mistakes in what something is compared with, whatever that is."""
    for part in parts:
        try:
            _look(part, context)
        except CheckError as error:
            yield error


def _look(part: s.Expr, context: Context) -> None:
    if isinstance(part, s.InVoice):
        _voice_of(part.scope, context)
    elif not isinstance(part, s.Member) and not _is_adjective(part, context):
        alternatives(part, context)


def _is_adjective(part: s.Expr, context: Context) -> bool:
    """Whether this is said of some kind of thing."""
    if isinstance(part, s.InVoice | s.Position):
        return True
    definition = defined(part, context)
    if definition is not None:
        return definition.subject is not None
    return isinstance(part, s.Name) and any(part.word in v.FLAGS[kind] for kind in Kind)


def _relate(found: Meaning, condition: s.Compare, context: Context) -> t.Test:
    """The relation of something to the right side of a comparison, not negated."""
    thing = found if isinstance(found, Thing) else _near_interval(condition.left, found)
    if thing is not None and condition.comparator == "is":
        rights = _spread(condition.right)
        tests = each(lambda right: _is_one(thing, found, right, condition, context), rights)
        return any_of([test for several in tests for test in several])
    value = pitch_of_thing(found, condition.left.span) if isinstance(found, Thing) else found
    if condition.comparator == "is":
        return _equals_one(value, condition, context)
    return _in_order(value, condition, context)


def _equals_one(found: t.Value, condition: s.Compare, context: Context) -> t.Test:
    """Whether a value is one of several, or has one of some places in a row of values."""
    value, rights = comparable(found, condition.span), _spread(condition.right)
    members = [right for right in rights if isinstance(right, s.Member)]
    others = [right for right in rights if not isinstance(right, s.Member)]
    tests = each(lambda right: _equal(value, right, condition, context), others)
    placed = each(lambda member: _member(value, condition.left, member, context), members)
    equal = [one_of(value, [one for several in tests for one in several])] if others else []
    return any_of([*equal, *placed])


def _spread(rights: Sequence[s.Expr]) -> list[s.Expr]:
    """What something is, one by one: in ‘2nd or 3rd of cambiata’ both places are of that figure."""
    found: list[s.Expr] = []
    figure: s.Expr | None = None
    for right in reversed(rights):
        if isinstance(right, s.Member):
            figure = right.figure
        elif not isinstance(right, s.Position) or right.unit == "bar":
            figure = None
        found.append(s.Member(right.span, right, figure) if isinstance(right, s.Position) and figure else right)
    return found[::-1]


def _near_interval(left: s.Expr, found: t.Value) -> Thing | None:
    """An interval before or after as a thing, of which can be said what it is as well as how wide."""
    named = isinstance(left, s.Shift) and isinstance(left.target, s.Name) and left.target.word == Kind.DYAD
    return Thing(found.ref, Kind.DYAD) if named and isinstance(found, t.Attr) else None


def _is_one(thing: Thing, found: Meaning, right: s.Expr, condition: s.Compare, context: Context) -> Sequence[t.Test]:
    """Whether a thing is something, or the value that stands for it is: a note's pitch, how wide an interval is."""
    if _is_adjective(right, context):
        return [adjective(thing, right, context)]
    if isinstance(right, s.Member) and not isinstance(found, Thing):
        return [_member(found, condition.left, right, context)]
    if isinstance(found, Thing):
        if thing.kind != Kind.NOTE or not (isinstance(right, s.Literal_) and right.kind == "pitch"):
            return [adjective(thing, right, context)]
        found = pitch_of_thing(thing, right.span)
    return _equal(found, right, condition, context)


def _equal(value: t.Value, right: s.Expr, condition: s.Compare, context: Context) -> list[t.Among | t.Relation]:
    found: list[t.Among | t.Relation] = []
    for one in alternatives(right, context):
        check_sung(value, one, right.span, right)
        found.append(equals(value, one, right.span))
        check_possible(value, found[-1], right, condition, context)
    return found


def _verb(condition: s.Compare) -> s.Span:
    """Where the words stand between the two sides of a comparison."""
    before, after = condition.left.span, condition.right[0].span
    start = before.end + 1
    column = before.column + before.length + 1
    if after.start - start < 1 or after.line != before.line:
        return after
    return replace(before, column=column, place=before.place + before.length + 1, length=after.start - start - 1)


def _in_order(value: t.Value, condition: s.Compare, context: Context) -> t.Test:
    def one(right: s.Expr) -> list[t.Test]:
        found: list[t.Test] = []
        for bound in alternatives(right, context):
            check_sung(value, bound, right.span, right)
            if is_said:
                found.append(order(value, condition, bound, right.span))
                check_possible(value, found[-1], right, condition, context)
        return found

    is_said = says(value, condition.comparator)
    _, tests = together(
        lambda: is_said_of(value, condition, _verb(condition)),
        lambda: each(one, condition.right),
    )
    return any_of([test for several in tests for test in several])


# ---- some, every, no -------------------------------------------------------------------------


def _quantified(condition: s.Compare, left: s.Quantified, context: Context) -> t.Test:
    if context.whole or context.it.kind not in (Kind.DYAD, Kind.MOMENT) or context.it.ref.role:
        raise CheckError(left.span, f"‘{left.quantifier} {left.kind}’ needs a rule on intervals or sonorities")
    kind = Kind.DYAD if left.kind == "interval" else Kind.NOTE
    found, scope = together(lambda: _of_each(condition, kind, context), lambda: _sounding(left.scope, kind))
    if left.scope is not None and left.scope.kind == "above":
        found = _on_bass(left, found)
    found = t.Negation(found) if condition.negated else found
    return t.Holds(context.it.ref.offset, left.quantifier, kind, scope, found)


def _sounding(scope: s.Scope | None, kind: Kind) -> t.Voices:
    """The voices or pairs of what sounds; all, if not said."""
    if scope is not None:
        return voices(scope, lines=kind == Kind.NOTE)
    return t.Voices("each voice" if kind == Kind.NOTE else "each pair")


def _of_each(condition: s.Compare, kind: Kind, context: Context) -> t.Test:
    """What is said of each thing that sounds, not negated."""
    inner = Context(context.draft, Thing(HERE, kind), t.Track(kind), False, context.bound, inner=True)
    is_value = kind == Kind.DYAD and _is_value(condition.right[0], inner)
    found = _relate(t.Attr(HERE, "interval", Type.HARMONIC) if is_value else inner.it, condition, inner)
    if any(ref.offset or ref.hops for ref in t.refs(found)):
        raise CheckError(condition.span, "what is said of some interval or note can’t look before or after")
    return found


def _on_bass(left: s.Quantified, found: t.Test) -> t.Test:
    flag = t.Flag(HERE, "on_bass")
    return t.AnyOf((t.Negation(flag), found)) if left.quantifier == "every" else t.All((flag, found))


def _is_value(expr: s.Expr, context: Context) -> bool:
    """Whether the right side is a value (``third``) rather than an adjective (``crossed``)."""
    if not isinstance(expr, s.Name | s.Call):
        return True
    definition = context.definitions.get(expr.word)
    return definition.subject is None if definition is not None else expr.word not in v.FLAGS[context.it.kind]


# ---- what a thing is -------------------------------------------------------------------------


def adjective(thing: Thing, right: s.Expr, context: Context) -> t.Test:
    """Whether a thing is something: an adjective, a place, a defined condition, the same voice as another."""
    if isinstance(right, s.Position):
        return _position(thing, right)
    if isinstance(right, s.Member):
        return _member(thing, s.Name(right.span, "it"), right, context)
    if isinstance(right, s.InVoice):
        return _in_voice(thing, right, context)
    if isinstance(right, s.Group):
        raise CheckError(right.span, "brackets can’t follow ‘is’ here", "Write each condition with its own verb.")
    definition = defined(right, context)
    if definition is not None and definition.subject is not None:
        return _apply(definition, thing, right, context)
    flags = v.FLAGS[thing.kind]
    if isinstance(right, s.Name) and right.word in flags and right.word not in context.bound:
        word = flags[right.word]
        flag = t.Flag(thing.ref, word.slot, word.definite)
        return t.Negation(flag) if word.negated else flag
    raise _no_adjective(thing, right, context)


def _no_adjective(thing: Thing, right: s.Expr, context: Context) -> CheckError:
    """What is told of words that say nothing of a thing."""
    try:
        found = meaning(right, context)
    except CheckError as error:
        if not isinstance(right, s.Name) or right.word in words_here(context):
            return error
        words = [*v.FLAGS[thing.kind], *(name for name, each in context.definitions.items() if each.subject)]
        kind = f"quality of {with_article(thing.kind)}"
        return unknown(right.span, right.word, words, kind, context.draft.environment)
    if isinstance(found, Thing) and found.kind == thing.kind == Kind.NOTE:
        hint = f"Write ‘is in {right.word}’ of the voice, or compare pitches." if isinstance(right, s.Name) else ""
        return CheckError(right.span, "a note is not another note, but may be in its voice", hint)
    hint = "Name what is compared, such as ‘pitch of upper’, ‘degree of it’, ‘interval’."
    if isinstance(right, s.Name) and known_figures(right, context) is not None:
        hint = f"Write such as ‘begins {right.word}’ or ‘is 2nd of {right.word}’."
    return CheckError(right.span, f"{with_article(thing.kind)} can’t be this", hint)


def _apply(definition: s.Definition, thing: Thing, expr: s.Expr, context: Context) -> t.Test:
    """A defined condition with the thing it is said of as its ``it``."""
    kind = SUBJECTS[definition.subject or "note"]
    if kind != thing.kind:
        message = f"‘{definition.name.word}’ is said of {with_article(kind)}, but this is {with_article(thing.kind)}"
        raise CheckError(expr.span, message, _said_of(definition.name.word, kind, thing.kind))
    inner = replace(context, it=thing, bound=bind(definition, expr, context))
    with context.draft.opened(definition, expr.span):
        return test(definition.body, inner)


def _said_of(word: str, kind: Kind, thing: Kind) -> str:
    """How a condition on one kind of thing is asked where another is looked at."""
    if kind == Kind.NOTE and thing in (Kind.DYAD, Kind.MOMENT):
        role = "upper" if thing == Kind.DYAD else "bass"
        return f"Say which of its notes: ‘{role} is {word}’."
    scope = "every sonority" if kind == Kind.MOMENT else f"every {kind} {'in' if kind == Kind.NOTE else 'between'} …"
    return f"It can be asked in a rule that begins ‘for {scope}’; or define it ‘for {with_article(thing)}’."


def places_test(places: s.Places, context: Context) -> t.Test:
    """Whether ``it`` is in one of the places of a clause."""
    found = any_of(each(lambda place: adjective(context.it, place, context), _spread(places.places)))
    found = t.Negation(found) if places.negated else found
    context.draft.said[found] = (places.span, places.span)
    return found


def _in_voice(thing: Thing, right: s.InVoice, context: Context) -> t.Test:
    """Whether a note is in the same voice as another, or in one of those that words name."""
    other = _voice_of(right.scope, context)
    if thing.kind == Kind.NOTE and isinstance(other, t.Voices):
        return t.InVoices(thing.ref, other)
    if isinstance(other, Thing) and other.kind == thing.kind == Kind.NOTE:
        check_voices(thing.ref, other.ref, right.span)
        return t.Same(thing.ref, other.ref)
    raise CheckError(right.span, "only a note is in a voice", "Write such as ‘upper is in the cantus’.")


def _voice_of(scope: s.Scope, context: Context) -> "t.Voices | Meaning":
    """The voices that words name, or the note that a single word stands for here."""
    is_note = len(scope.words) == 1 and (scope.text in words_here(context) or scope.text not in v.LINE_SCOPES)
    return meaning(s.Name(scope.span, scope.text), context) if is_note else voices(scope, lines=True)


def _position(thing: Thing, place: s.Position) -> t.Test:
    if thing.kind not in PLACED:
        message = f"{with_article(thing.kind)} has no place; notes, intervals and sonorities have"
        raise CheckError(place.span, message)
    if place.unit == "bar":
        return _in_bars(thing, place)
    ref = shifted(thing, place.index - 1 if place.from_end else 1 - place.index, place.span).ref
    return t.Flag(ref, "last" if place.from_end else "first", definite=True)


def _in_bars(thing: Thing, place: s.Position) -> t.Test:
    bar = t.Attr(thing.ref, "bar", Type.COUNT)
    if not place.from_end:
        return t.Among(bar, frozenset(range(place.index, min(place.until, limits.MAX_NUMBER) + 1)))
    from_end = t.Function("minus", (t.Fixed("number-of-bars", Type.COUNT), bar), Type.COUNT)
    return t.Among(from_end, frozenset({place.index - 1}))
