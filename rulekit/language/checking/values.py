"""What phrases stand for: things, values, and the choices of sets; definitions are written out."""

from dataclasses import replace
from typing import cast

from rulekit.diagnostics import with_article
from rulekit.language import limits
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language import vocabulary as v
from rulekit.language.checking.comparisons import agree, as_rhythm, is_intervals, patterns
from rulekit.language.checking.constants import TYPICAL, literal
from rulekit.language.checking.context import Context, Environment, Meaning, Thing, nowhere, what
from rulekit.language.checking.errors import CheckError, each, joined, told_elsewhere
from rulekit.language.checking.moving import hopped, shifted
from rulekit.language.checking.words import unknown, words_here
from rulekit.language.typed import HERE, Kind, Ref, Type
from rulekit.music.rhythm import BarRhythm

SUBJECTS = {"note": Kind.NOTE, "interval": Kind.DYAD, "sonority": Kind.MOMENT}


# ---- one or several --------------------------------------------------------------------------


def alternatives(expr: s.Expr, context: Context) -> list[t.Value]:
    """The values a phrase offers: one, or those of a bracketed choice or a defined set."""
    with context.draft.within_limits(expr):
        if isinstance(expr, s.Group) and isinstance(expr.inner, s.Choice):
            return _all_values(expr.inner, context)
        definition = defined(expr, context)
        if definition is not None and definition.subject is None and isinstance(definition.body, s.Choice):
            return _set_values(definition, definition.body, expr, context)
        found = meaning(expr, context)
        return [pitch_of_thing(found, expr.span) if isinstance(found, Thing) else found]


def _all_values(choice: s.Choice, context: Context) -> list[t.Value]:
    return [value for values in each(lambda part: alternatives(part, context), choice.values) for value in values]


def _set_values(definition: s.Definition, body: s.Choice, expr: s.Expr, context: Context) -> list[t.Value]:
    inner = nowhere(context.draft, bind(definition, expr, context))
    with context.draft.opened(definition, expr.span):
        values = _all_values(body, inner)
    if len(values) > limits.MAX_SET:
        raise CheckError(expr.span, f"a set names at most {limits.MAX_SET} values")
    return values


def meaning(expr: s.Expr, context: Context) -> Meaning:
    """What a phrase stands for: a thing or a value."""
    with context.draft.within_limits(expr):
        found = _meaning(expr, context)
    said = t.told(found.ref, found.kind) if isinstance(found, Thing) else found
    if said is not None and not isinstance(said, t.Const):
        context.draft.said[said] = (expr.span, expr.span)
    return found


def _meaning(expr: s.Expr, context: Context) -> Meaning:
    match expr:
        case s.Name():
            return _name(expr, context)
        case s.Of():
            return _of(expr, context)
        case s.Shift():
            return _shift(expr, context)
        case s.NoteShift():
            return _note_shift(expr, context)
        case s.Literal_():
            return literal(expr)
        case s.Directed() | s.Exactly():
            return _qualified(expr, context)
        case s.Run() | s.Tally() | s.Latest() | s.Total() | s.TimeOf():
            return context.draft.stream(expr, context)
        case s.SpanBetween():
            return t.Function("span", each(lambda end: _pitch(end, context), (expr.start, expr.end)), Type.MELODIC)
        case s.Arithmetic():
            return _arithmetic(expr, context)
        case s.Group(inner=s.Choice(values=(value,))):
            return meaning(value, context)
        case s.Group(inner=s.Figure() as figure):
            return _rhythm(figure, context)
        case s.Call() | s.Group():
            return _set(expr, context)
        case s.Position() | s.Member() | s.InVoice():
            raise CheckError(expr.span, "a place can only follow ‘it is’, ‘upper is’ …")
        case s.Quantified():
            raise CheckError(expr.span, f"‘{expr.quantifier} {expr.kind}’ must come first, before ‘is’")


def _set(expr: s.Call | s.Group | s.Name, context: Context) -> t.Const:
    """Several interval constants as one; raises CheckError where they are not intervals."""
    if isinstance(expr, s.Call) and expr.word not in context.definitions:
        raise unknown(expr.span, expr.word, context.definitions, "definition", context.draft.environment)
    definition = defined(expr, context)
    if definition is not None and isinstance(definition.body, s.Figure):
        inner = nowhere(context.draft, bind(definition, expr, context))
        with context.draft.opened(definition, expr.span):
            try:
                return _rhythm(definition.body, inner)
            except CheckError as error:
                raise _no_rhythm(definition.name.word, expr.span) from error
    if _is_condition(expr, context):
        if definition is not None and definition.name.word in context.draft.environment.faulty:
            raise told_elsewhere(expr.span, f"‘{definition.name.word}’ has a mistake")
        raise CheckError(expr.span, "a condition stands where a value is wanted")
    values = alternatives(expr, context)
    if not all(map(is_intervals, values)):
        raise CheckError(expr.span, "one value is wanted here, not a choice")
    return _joined(values)


def _no_rhythm(word: str, span: s.Span) -> CheckError:
    """What is told of a figure that stands for a value and is not made of lengths."""
    hint = f"Ask whether something begins or ends it: ‘upper begins {word}’, ‘it ends {word}’."
    return CheckError(span, f"‘{word}’ is a figure, a row of steps, not a value", hint)


def _rhythm(figure: s.Figure, context: Context) -> t.Const:
    """What fills a bar, as one value: lengths and rests in a row, the last perhaps tied into the next bar."""
    parts = each(lambda step: _filling(step, context), figure.steps)
    for step, part in zip(figure.steps[:-1], parts, strict=False):
        if part.tied:
            raise CheckError(step.span, "only the last note of a bar is tied", "Write one longer note.")
    values = tuple(value for part in parts for value in part.values)
    return t.Const(BarRhythm(values, parts[-1].tied), Type.RHYTHM)


def _filling(step: s.Expr, context: Context) -> BarRhythm:
    value = meaning(step, context)
    if not isinstance(value, t.Const) or value.many or value.type not in (Type.LENGTH, Type.RHYTHM):
        hint = "A rhythm is such as (half-rest then tied-half-note)."
        raise CheckError(step.span, f"a length or a rest is wanted here, not {what(value)}", hint)
    return as_rhythm(value)


def _joined(values: list[t.Value]) -> t.Const:
    """Interval constants as one."""
    return t.Const(tuple(p for value in values for p in patterns(cast(t.Const, value))), Type.INTERVAL)


def _is_condition(expr: s.Call | s.Group | s.Name, context: Context) -> bool:
    if isinstance(expr, s.Group):
        return not isinstance(expr.inner, s.Choice)
    definition = context.definitions[expr.word]
    return definition.subject is not None or not isinstance(definition.body, s.Choice)


# ---- definitions -----------------------------------------------------------------------------


def defined(expr: s.Node, context: Context) -> s.Definition | None:
    """The definition that a name or call stands for, if it is one."""
    if not isinstance(expr, s.Name | s.Call) or expr.word in context.bound:
        return None
    return context.definitions.get(expr.word)


def bind(definition: s.Definition, expr: s.Expr, context: Context) -> dict[str, Meaning]:
    """What the parameters of a definition stand for where it is called; raises CheckError if they do not fit."""
    arguments = expr.arguments if isinstance(expr, s.Call) else ()
    if len(arguments) != len(definition.formals):
        wanted = ", ".join(f"{formal.name} ({formal.type.word})" for formal in definition.formals) or "nothing"
        message = f"‘{definition.name.word}’ is given {len(arguments)} values; it takes {wanted}"
        raise CheckError(expr.span, message, _given_so(definition))
    given = zip(definition.formals, arguments, strict=True)
    values = each(lambda pair: _given(definition, *pair, context), given)
    return {formal.name: value for formal, value in zip(definition.formals, values, strict=True)}


def _given_so(definition: s.Definition) -> str:
    """How the values that a definition takes are given."""
    word, types = definition.name.word, [v.NAMED_TYPES.get(formal.type.word) for formal in definition.formals]
    if not types:
        return f"Write ‘{word}’ alone, without brackets."
    some = [v.SUCH_AS[each].split(",")[0].split(" or ")[0].strip("‘’") if each else "upper" for each in types]
    return f"They stand in brackets after it, such as ‘{word}({', '.join(some)})’."


def _given(definition: s.Definition, formal: s.Formal, argument: s.Expr, context: Context) -> Meaning:
    typical = typical_of(formal, context.draft.environment)
    if isinstance(typical, t.Const) and typical.type == Type.FIGURE:
        return figure_named(argument, context)
    value = meaning(argument, context)
    if isinstance(value, Thing) != isinstance(typical, Thing) or not agree(value, typical):
        message = f"‘{formal.name}’ of ‘{definition.name.word}’ is {with_article(formal.type.word)}"
        raise CheckError(argument.span, f"{message}, but this is {what(value)}")
    return value


def typical_of(formal: s.Formal, environment: Environment) -> Meaning:
    """Some value of the type of a definition's parameter."""
    word = formal.type.word
    if word in v.THING_TYPES:
        return Thing(HERE, v.THING_TYPES[word])
    if word not in v.NAMED_TYPES:
        raise unknown(formal.type.span, word, [*v.NAMED_TYPES, *v.THING_TYPES], "type", environment)
    return TYPICAL[v.NAMED_TYPES[word]]


# ---- figures ---------------------------------------------------------------------------------


def known_figures(expr: s.Node, context: Context) -> tuple[str, ...] | None:
    """The names of the figures that a parameter, or what a definition is given, stands for; None for all else."""
    if not isinstance(expr, s.Name):
        return None
    held = context.bound.get(expr.word, context.draft.environment.parameters.get(expr.word))
    if not isinstance(held, t.Const) or held.type != Type.FIGURE:
        return None
    context.draft.environment.used.add(expr.word)
    return cast("tuple[str, ...]", held.value if held.many else (held.value,))


def figure_named(expr: s.Expr, context: Context) -> t.Const:
    """A figure as the value of a parameter: its name; raises CheckError for all else."""
    environment = context.draft.environment
    if isinstance(expr, s.Name):
        held = known_figures(expr, context)
        if held is not None:
            return t.Const(held, Type.FIGURE, many=True)
        definition = defined(expr, context)
        if definition is not None and _is_figure(definition):
            environment.used.add(expr.word)
            return t.Const(expr.word, Type.FIGURE)
        if definition is None and expr.word not in words_here(context):
            names = [name for name, each in environment.definitions.items() if _is_figure(each)]
            raise unknown(expr.span, expr.word, names, "figure", environment)
    hint = "Define it first, such as ‘define turn as rising step then falling step’, and write its name."
    raise CheckError(expr.span, "a figure is known by its name, and this is none", hint)


def _is_figure(definition: s.Definition) -> bool:
    """Whether a definition is a row, or a condition on the first of a figure, which is given nothing."""
    return not definition.formals and (definition.subject is not None or isinstance(definition.body, s.Figure))


# ---- names and properties --------------------------------------------------------------------


def _name(expr: s.Name, context: Context) -> Meaning:
    word, it, environment = expr.word, context.it, context.draft.environment
    if word in context.bound:
        return context.bound[word]
    if word == "it" or (word == "note" and it.kind == Kind.NOTE):
        return it
    if word in v.ROLES[it.kind] and not it.ref.role:
        return Thing(replace(it.ref, role=word), Kind.LINE if it.kind == Kind.PAIR else Kind.NOTE)
    if word in v.ATTRIBUTES[it.kind]:
        return _attribute(it, word, context)
    if word in v.FIXED:
        return t.Fixed(word, v.FIXED[word])
    if word in environment.parameters:
        environment.used.add(word)
        return environment.parameters[word]
    if word in environment.definitions:
        return _set(expr, context)
    if word in v.CONSTANTS:
        return v.CONSTANTS[word]
    raise unknown(expr.span, word, words_here(context), "word", environment)


def _of(expr: s.Of, context: Context) -> Meaning:
    try:
        target = meaning(expr.target, context)
    except CheckError as error:
        raise joined([error, *_no_property(expr, context)]) from error
    if not isinstance(target, Thing):
        return _function(expr, target, context)
    known = v.ATTRIBUTES[target.kind]
    if expr.word in known:
        return _attribute(target, expr.word, context)
    raise unknown(expr.span, expr.word, known, f"property of {with_article(target.kind)}", context.draft.environment)


def _no_property(expr: s.Of, context: Context) -> list[CheckError]:
    """What is wrong with the name of a property, whatever it is asked of."""
    known = [*v.FUNCTIONS, *(word for kind in Kind for word in v.ATTRIBUTES[kind])]
    if expr.word in known:
        return []
    return [unknown(expr.span, expr.word, known, "property", context.draft.environment)]


def _function(expr: s.Of, value: t.Value, context: Context) -> t.Function:
    if expr.word not in v.FUNCTIONS:
        raise unknown(expr.span, expr.word, v.FUNCTIONS, "property of a value", context.draft.environment)
    takes, gives = v.FUNCTIONS[expr.word]
    if value.type not in takes:
        wanted = " or ".join(map(with_article, takes))
        raise CheckError(expr.span, f"‘{expr.word} of’ wants {wanted}, not {what(value)}")
    return t.Function(expr.word, (value,), gives)


def _attribute(thing: Thing, word: str, context: Context) -> t.Value:
    attribute, type_ = v.ATTRIBUTES[thing.kind][word].slot, v.ATTRIBUTES[thing.kind][word].type
    if thing.kind == Kind.LINE:
        return _of_line(thing, attribute, type_, context)
    if attribute == "departure":
        return t.Attr(hopped(thing.ref, 1, s.NOWHERE, context), "approach", type_)
    if attribute == "motion" and context.track.sample:
        return _sampled_motion(thing.ref)
    if type_ == Type.NOTE_NAME:
        return t.Function(word, (t.Attr(thing.ref, attribute, Type.PITCH),), type_)
    return t.Attr(thing.ref, attribute, type_)


def _sampled_motion(ref: Ref) -> t.Function:
    """The motion from the sample before, where samples are left out between."""
    before = shifted(Thing(ref, Kind.DYAD), -1, s.NOWHERE).ref
    notes = [replace(place, role=role) for place in (before, ref) for role in ("upper", "lower")]
    return t.Function("motion", tuple(t.Attr(note, "pitch", Type.PITCH) for note in notes), Type.MOTION)


def _of_line(thing: Thing, attribute: str, type_: Type, context: Context) -> t.Value:
    track, gather = t.Track(Kind.NOTE, thing.ref.role), context.draft.gather
    if attribute == "ambitus":
        return t.Function("span", (gather("lowest", track, Type.PITCH), gather("highest", track, Type.PITCH)), type_)
    return gather(attribute, track, type_)


# ---- elsewhere -------------------------------------------------------------------------------


def _shift(expr: s.Shift, context: Context) -> Meaning:
    if context.whole:
        raise CheckError(expr.span, "a rule about the whole has no ‘previous’, ‘next’, ‘before’ or ‘after’")
    if not isinstance(expr.target, s.Name):
        raise CheckError(expr.span, "‘previous’ and ‘next’ stand before a single word", _turned_round(expr))
    otherwise = _said_otherwise(expr.target.word, expr, context)
    if otherwise:
        raise CheckError(expr.span, "this is said in another way", f"Write ‘{otherwise}’.")
    there = shifted(context.it, expr.offset, expr.span)
    if expr.target.word == there.kind != Kind.DYAD:
        return there
    return meaning(expr.target, replace(context, it=there))


def _turned_round(expr: s.Shift) -> str:
    """How a property of something before or after is asked: ``size of previous interval``."""
    asked, target = list[str](), expr.target
    while isinstance(target, s.Of):
        asked += [target.word, v.PREPOSITIONS.get(target.word, "of")]
        target = target.target
    if not isinstance(target, s.Name):
        return "Such as: size of previous interval."
    return f"Write ‘{' '.join(asked)} {'previous' if expr.offset < 0 else 'next'} {target.word}’."


def _said_otherwise(word: str, expr: s.Shift, context: Context) -> str:
    """How something before or after is said, if not so: along a voice, ‘note before it’ instead of ‘previous’."""
    kind, near = context.it.kind, "before" if expr.offset < 0 else "after"
    if isinstance(context.bound.get(word), Thing):
        return f"{_note_near(expr.offset)} {word}"
    if kind == Kind.NOTE and not context.track.sample:
        there = f"{_note_near(expr.offset)} it"
        known = word in v.ATTRIBUTES[kind]
        return f"{word} {v.PREPOSITIONS.get(word, 'of')} {there}" if known else there if word in ("it", "note") else ""
    if word == "it" or (word == "move" and kind == Kind.DYAD):
        neighbour = "previous" if near == "before" else "next"
        return f"{neighbour} {kind}" if abs(expr.offset) == 1 else f"{kind} {abs(expr.offset)} {near}"
    return ""


def _note_near(offset: int) -> str:
    """The note so many notes on, but for that which it is counted from."""
    far = "" if abs(offset) == 1 else f" {abs(offset)}"
    return f"note{far} {'before' if offset < 0 else 'after'}"


def _note_shift(expr: s.NoteShift, context: Context) -> Thing:
    if expr.target is None:
        message = "it is not said from which note this is counted"
        hint = (
            f"Write ‘{_note_near(expr.offset)} it’." if context.it.kind == Kind.NOTE else "Such as: note before upper."
        )
        raise CheckError(expr.span, message, hint)
    target = meaning(expr.target, context)
    if not isinstance(target, Thing) or target.kind != Kind.NOTE:
        raise CheckError(expr.span, "‘note before’ and ‘note after’ need a note", "Such as: note before upper.")
    return Thing(hopped(target.ref, expr.offset, expr.span, context), Kind.NOTE)


# ---- made of others --------------------------------------------------------------------------


def _qualified(expr: s.Directed | s.Exactly, context: Context) -> t.Const:
    """An interval in one direction only, or without its compounds."""
    heading = 0 if isinstance(expr, s.Exactly) else 1 if expr.rising else -1
    if expr.target is None:
        return t.Const((t.Pattern(1, v.WIDEST, heading=heading, exact=True),), Type.INTERVAL)
    values = alternatives(expr.target, context)
    for value in values:
        if not is_intervals(value):
            raise CheckError(expr.target.span, f"an interval is wanted here, not {what(value)}")
    families = patterns(_joined(values))
    if isinstance(expr, s.Exactly):
        return t.Const(tuple(replace(family, exact=True) for family in families), Type.INTERVAL)
    return t.Const(tuple(replace(family, heading=heading) for family in families), Type.INTERVAL)


def _arithmetic(expr: s.Arithmetic, context: Context) -> t.Value:
    left, right = each(lambda part: _number(part, context), (expr.left, expr.right))
    if not isinstance(left, t.Const) or not isinstance(right, t.Const):
        return t.Function(expr.operator, (left, right), Type.COUNT)
    first, second = cast(int, left.value), cast(int, right.value)
    total = {"plus": first + second, "minus": first - second, "times": first * second}[expr.operator]
    return t.Const(min(total, limits.MAX_NUMBER), Type.COUNT)


def _number(expr: s.Expr, context: Context) -> t.Value:
    value = meaning(expr, context)
    if isinstance(value, Thing) or value.type != Type.COUNT:
        raise CheckError(expr.span, f"a number is wanted here, not {what(value)}")
    return value


def _pitch(expr: s.Expr, context: Context) -> t.Value:
    value = as_value(expr, context)
    if value.type != Type.PITCH:
        raise CheckError(expr.span, f"a note or pitch is wanted here, not {what(value)}")
    return value


def as_value(expr: s.Expr, context: Context) -> t.Value:
    """The value of a phrase; a note stands for its pitch."""
    found = meaning(expr, context)
    return pitch_of_thing(found, expr.span) if isinstance(found, Thing) else found


def pitch_of_thing(thing: Thing, span: s.Span) -> t.Value:
    """The pitch of a note; raises CheckError for another thing."""
    if thing.kind != Kind.NOTE:
        raise CheckError(span, f"{with_article(thing.kind)} has no single pitch")
    return t.Attr(thing.ref, "pitch", Type.PITCH)
