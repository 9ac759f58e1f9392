"""Whole statements: rules, licences, definitions, the values of parameters."""

from collections.abc import Iterator, Sequence
from typing import cast

from rulekit.diagnostics import with_article
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language.build import ClauseError
from rulekit.language.checking.comparisons import is_intervals, patterns
from rulekit.language.checking.conditions import adjective, places_test, test
from rulekit.language.checking.context import Context, Draft, Environment, Thing, nowhere, what
from rulekit.language.checking.errors import CheckError, each, together
from rulekit.language.checking.moving import PLACED
from rulekit.language.checking.scopes import scope_of
from rulekit.language.checking.streams import stream
from rulekit.language.checking.values import SUBJECTS, alternatives, figure_named, meaning, typical_of
from rulekit.language.parser import parse_phrase
from rulekit.language.typed import HERE, Kind, Ref, Type

_KINDS = {**SUBJECTS, "move": Kind.DYAD, "line": Kind.LINE, "pair": Kind.PAIR, "exercise": Kind.EXERCISE}


# ---- rules -----------------------------------------------------------------------------------


def check_rule(item: s.RuleItem, environment: Environment, weight: t.Weight, origin: str) -> t.Rule:
    """The typed form of a rule; raises CheckError for all in it that has no meaning."""
    context = _context(item.subject, Draft(environment, stream))
    _, scope, (where, broken), licences, (message, taught) = together(
        lambda: _sample(item.subject, context.draft),
        lambda: scope_of(item.subject),
        lambda: _conditions(item, context),
        lambda: each(lambda licence: _licence(licence, item.licences, context), item.licences),
        lambda: together(lambda: _words(item.all(s.Message), context), lambda: _taught(item, context)),
    )
    if _excludes_itself(broken):
        told = f"the rule ‘{item.name.word}’ can never apply: what it asks for excludes itself"
        raise CheckError(item.name.span, told, "Look at its ‘when’ and ‘forbid’ together.")
    environment.remarks += _idle_licences(item, broken, licences)
    return t.Rule(
        name=item.name.word,
        span=item.span,
        message=message,
        taught=taught,
        track=context.track,
        scope=scope,
        whole=context.whole,
        where=where,
        broken=broken,
        licences=licences,
        weight=weight,
        source=item.source,
        streams=tuple(context.draft.streams),
        examples=item.examples,
        origin=origin,
        said=tuple(context.draft.said.items()),
    )


def _context(subject: s.Subject, draft: Draft) -> Context:
    """What a rule with this subject speaks of."""
    kind = _KINDS[subject.kind]
    try:
        sample = _sample(subject, draft)
    except CheckError:  # told by itself
        sample = None
    return Context(draft, Thing(HERE, kind), t.Track(kind, sample=sample), kind not in PLACED)


_ATTRIBUTES_OF_RHYTHM = {"bar", "beat", "length", "rhythm"}
_FLAGS_OF_RHYTHM = {"downbeat", "accented", "tied", "rested", "opens_bar", "last"}


def _sample(subject: s.Subject, draft: Draft) -> t.Test | None:
    """Which samples are kept, None for all; raises CheckError where more is asked than their own rhythm."""
    written, kind = subject.sample, _KINDS[subject.kind]
    if written is None:
        return None
    if kind not in PLACED:
        hint = "Write it after a note, interval, move or sonority: these have a place in the bar."
        raise CheckError(written.span, f"{with_article(kind)} can’t be taken by its place in the bar", hint)
    inner = Context(draft, Thing(HERE, kind), t.Track(kind), False, inner=True)
    found = adjective(inner.it, written, inner) if isinstance(written, s.Name) else test(written, inner)
    if not all(map(_is_of_rhythm, t.walk(found))):
        hint = "Ask only for its own bar, beat or length, as in: taken where (beat is 2); the rest goes into ‘when’."
        raise CheckError(written.span, "what is taken is chosen by rhythm alone", hint)
    return found


def _is_of_rhythm(part: "t.Value | t.Test") -> bool:
    match part:
        case t.Attr(ref=ref, name=name):
            return name in _ATTRIBUTES_OF_RHYTHM and not ref.offset and not ref.hops
        case t.Flag(ref=ref, name=name):
            return name in _FLAGS_OF_RHYTHM and not ref.offset and not ref.hops
        case t.Holds() | t.Same() | t.InVoices() | t.Stream() | t.Exists():
            return False
        case _:
            return True


def _conditions(item: s.RuleItem, context: Context) -> tuple[t.Test, t.Test]:
    """Where a rule looks, and where it is broken."""
    looked, asked, broken = together(
        lambda: each(lambda places: places_test(places, context), item.places),
        lambda: each(lambda condition: test(condition, context), item.when),
        lambda: _demand(item.demand, context),
    )
    where = (*_looks_at(item.subject), *looked)
    return t.All(where), t.All((*where, *asked, broken))


def _demand(demand: s.Demand, context: Context) -> t.Test:
    found = test(demand.condition, context)
    return found if demand.forbids else t.Negation(found)


def _looks_at(subject: s.Subject) -> Iterator[t.Test]:
    """What the things a rule speaks of have in common: a move comes from somewhere, ‘above bass’ has the bass in it."""
    if subject.scope is not None and subject.scope.kind == "above":
        yield t.Flag(HERE, "on_bass")
    if subject.kind == "move":
        yield t.Exists(t.Attr(Ref(-1), "interval", Type.HARMONIC))


def _licence(licence: s.LicenceItem, beside: Sequence[s.LicenceItem], context: Context) -> t.Licence:
    alike = [each for each in beside if (each.name, each.span.path) == (licence.name, licence.span.path)]
    if alike[0] is not licence:
        hint = "Give it a name of its own: an example says by its name which licence holds."
        raise CheckError(licence.span, "another licence of this rule has the same name", hint)
    return t.Licence(licence.name, test(licence.condition, context), licence.reason)


def _idle_licences(item: s.RuleItem, broken: t.Test, licences: Sequence[t.Licence]) -> Iterator[CheckError]:
    """Licences that hold nowhere where their rule finds anything."""
    for licence, written in zip(licences, item.licences, strict=True):
        if _excludes_itself(t.All((broken, licence.test))):
            message = f"the licence ‘{licence.name}’ can never apply: its rule finds nothing where it holds"
            yield CheckError(written.span, message, "Change it, or take it out.")


def _excludes_itself(condition: t.Test) -> bool:
    """Whether a condition asks for two things that can't both be."""
    parts = _flatten(condition)
    wanted: dict[t.Value, frozenset[object]] = {}
    for part in parts:
        if isinstance(part, t.Among):
            wanted[part.value] = wanted.get(part.value, part.members) & part.members
    for part in parts:
        if isinstance(part, t.Negation) and isinstance(part.inner, t.Among) and part.inner.value in wanted:
            wanted[part.inner.value] -= part.inner.members
    denied = any(isinstance(part, t.Negation) and part.inner in parts for part in parts)
    return denied or not all(wanted.values())


def _flatten(condition: t.Test) -> list[t.Test]:
    if isinstance(condition, t.All):
        return [leaf for part in condition.parts for leaf in _flatten(part)]
    return [condition]


# ---- messages --------------------------------------------------------------------------------


_Placeholder = tuple[str, s.Span]


def _words(clauses: Sequence[s.Words], context: Context) -> tuple[str | t.Slot, ...]:
    """The text of a clause, if there is one, and what stands in its braces."""
    pieces = (piece for clause in clauses for piece in clause.pieces())
    return each(lambda part: part if isinstance(part, str) else _slot(*part, context), pieces)


def _taught(item: s.RuleItem, context: Context) -> tuple[str | t.Slot, ...]:
    """What is said to students before they have written a note: only what is known beforehand stands in braces."""
    found = _words(item.all(s.Taught), context)
    if any(isinstance(part, t.Slot) and not isinstance(part.value, t.Const) for part in found):
        message = "this sentence depends on an exercise, and is said before there is one"
        hint = "In braces write a parameter’s name; what stands in a place is told by the message."
        raise CheckError(item.all(s.Taught)[0].span, message, hint)
    return found


def _slot(words: str, span: s.Span, context: Context) -> t.Slot:
    inside, closed, _ = words.partition("}")
    if not closed or not inside.strip():
        wrong = "is empty" if closed else "is not closed"
        raise CheckError(span, f"this placeholder {wrong}", "Write it such as {interval}.")
    found = meaning(_phrase_of(inside, span), context)
    if isinstance(found, Thing):
        return t.Slot(inside, t.told(found.ref, found.kind) or found.ref)
    return t.Slot(inside, found)


def _phrase_of(words: str, span: s.Span) -> s.Expr:
    try:
        return parse_phrase(words, span)
    except ClauseError as error:
        raise CheckError(error.span, str(error), error.hint) from error


# ---- definitions -----------------------------------------------------------------------------


def check_definition(definition: s.Definition, environment: Environment) -> None:
    """Look at a definition by itself, so that one that no rule uses is checked too.

    Raises CheckError; what uses the definition then tells no mistake of its own.
    """
    try:
        _definition(definition, environment)
    except CheckError:
        environment.faulty.add(definition.name.word)
        raise


def _definition(definition: s.Definition, environment: Environment) -> None:
    """Check a definition with parameters standing for typical values of their types."""
    context = _within(definition, Draft(environment, stream, open=[definition.name.word]))
    body = definition.body
    if isinstance(body, s.Figure):
        each(lambda step: alternatives(step, context), body.steps)
    elif definition.subject is not None:
        test(body, context)
    elif isinstance(body, s.Choice):
        each(lambda value: meaning(value, context), body.values)
    else:
        given = ", ".join(f"{formal.name}: {formal.type.word}" for formal in definition.formals)
        said = f"{definition.name.word} for a note{f' with {given}' if given else ''} as …"
        hint = f"Write ‘define {said}’ (or for an interval, a sonority)."
        raise CheckError(definition.name.span, "this condition does not say what it is a condition of", hint)


def _within(definition: s.Definition, draft: Draft) -> Context:
    """What the body of a definition speaks of; its parameters stand for some value of their types."""
    typical = each(lambda formal: typical_of(formal, draft.environment), definition.formals)
    bound = {formal.name: value for formal, value in zip(definition.formals, typical, strict=True)}
    if definition.subject is None:
        return nowhere(draft, bound)
    kind = SUBJECTS[definition.subject]
    return Context(draft, Thing(HERE, kind), t.Track(kind), False, bound)


# ---- a phrase by itself ----------------------------------------------------------------------


def fits(phrase: s.Condition | s.Places, within: s.RuleItem | s.Definition, environment: Environment) -> bool:
    """Whether a condition, a value or a place means something in a rule or a definition."""
    try:
        _phrase(phrase, _inside(within, environment))
    except CheckError:
        return False
    return True


def _phrase(phrase: s.Condition | s.Places, context: Context) -> None:
    if isinstance(phrase, s.Places):
        places_test(phrase, context)
    elif isinstance(phrase, s.Compare | s.Missing | s.FigureTest | s.Sequence | s.Not | s.Logic):
        test(phrase, context)
    else:
        meaning(cast(s.Expr, phrase), context)


def _inside(item: s.RuleItem | s.Definition, environment: Environment) -> Context:
    """What a phrase within a rule or a definition speaks of."""
    draft = Draft(environment, stream)
    if isinstance(item, s.Definition):
        return _within(item, draft)
    return _context(item.subject, draft) if item.all(s.Subject) else nowhere(draft)


# ---- the values of parameters ----------------------------------------------------------------


def constant(expr: s.Expr, type_word: str, environment: Environment) -> t.Const:
    """The value of a phrase that says a constant, for a parameter of a type; raises CheckError if it is not one."""
    context = nowhere(Draft(environment, stream))
    found = figure_named(expr, context) if type_word == Type.FIGURE else meaning(expr, context)
    if not isinstance(found, t.Const):
        raise CheckError(expr.span, "a value is wanted here that is known beforehand, such as 3 or P5")
    return found


def constant_set(exprs: tuple[s.Expr, ...], type_word: str, environment: Environment) -> t.Const:
    """Several constants as one set; raises CheckError unless all are of one type."""
    values = each(lambda expr: constant(expr, type_word, environment), exprs)
    for value, expr in zip(values, exprs, strict=True):
        if value.type != values[0].type:
            raise CheckError(expr.span, f"{what(value)} does not go into one set with {what(values[0])}")
    if is_intervals(values[0]):
        return t.Const(tuple(pattern for value in values for pattern in patterns(value)), Type.INTERVAL)
    return t.Const(tuple(value.value for value in values), values[0].type, many=True)
