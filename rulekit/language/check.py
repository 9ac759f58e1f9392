"""Syntax tree to typed tree: names are looked up, definitions written out, types compared."""

import re
from collections.abc import Generator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Literal, cast

from rulekit.diagnostics import did_you_mean, nearest, with_article
from rulekit.exercise.limits import MAX_VOICES
from rulekit.language import intervals, limits
from rulekit.language import syntax as s
from rulekit.language import typed as t
from rulekit.language import vocabulary as v
from rulekit.language.typed import HERE, Kind, Ref, Type
from rulekit.music.pitch import pitch_of

_PITCH = re.compile(r"[A-G](?:##?|bb?)?\d?")
_ORDERED = (Type.COUNT, Type.LENGTH, Type.SHARE, Type.TIME, Type.SIZE, Type.DEGREE)
_INTERVALS = (Type.INTERVAL, Type.HARMONIC, Type.MELODIC)


class CheckError(Exception):
    """Something in a statement has no meaning; ``hint`` says how to mend it."""

    def __init__(self, span: s.Span, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.span, self.hint = span, hint


@dataclass(frozen=True, slots=True)
class Thing:
    """A note, dyad, moment or line that a phrase points to."""

    ref: Ref
    kind: Kind


Meaning = Thing | t.Value


@dataclass(frozen=True, slots=True)
class Context:
    """What ``it`` is, where its samples come from, and what a definition's parameters stand for.

    ``inner`` says that this is inside a run, a count or a quantifier, which can't hold another run.
    """

    it: Thing
    track: t.Track
    whole: bool = False
    bound: Mapping[str, Meaning] = field(default_factory=dict[str, Meaning])
    inner: bool = False


@dataclass(slots=True)
class Environment:
    """Names known to the whole ruleset. ``used`` collects the names that were looked up."""

    definitions: Mapping[str, s.Definition]
    parameters: Mapping[str, t.Const]
    used: set[str] = field(default_factory=set[str])


def check_rule(item: s.RuleItem, environment: Environment, weight: t.Weight, origin: str) -> t.Rule:
    """The typed form of a rule; raises CheckError for the first thing that has no meaning."""
    return _Checker(environment).rule(item, weight, origin)


def check_definition(definition: s.Definition, environment: Environment) -> None:
    """Look at a definition by itself, so that one that no rule uses is checked too.

    Raises CheckError.
    """
    _Checker(environment).definition(definition)


def check_licence(item: s.RuleItem, licence: s.LicenceItem, environment: Environment) -> None:
    """Check one licence against the rule it excuses; raises CheckError."""
    checker = _Checker(environment)
    checker.licence(licence, checker.context(item.subject))


def constant_set(exprs: tuple[s.Expr, ...], environment: Environment) -> t.Const:
    """Several constants as one set; raises CheckError unless all are of one type."""
    values = [constant(expr, environment) for expr in exprs]
    for value, expr in zip(values, exprs, strict=True):
        if value.type != values[0].type:
            raise CheckError(expr.span, f"{_what(value)} does not go into one set with {_what(values[0])}")
    if values[0].type == Type.INTERVAL:
        patterns = [p for value in values for p in cast("tuple[t.Pattern, ...]", value.value)]
        return t.Const(tuple(patterns), Type.INTERVAL)
    return t.Const(tuple(value.value for value in values), values[0].type, many=True)


def constant(expr: s.Expr, environment: Environment) -> t.Const:
    """The value of a phrase that says a constant; raises CheckError if it is not one."""
    checker = _Checker(environment)
    nowhere = Context(Thing(HERE, Kind.EXERCISE), t.Track(Kind.EXERCISE), whole=True)
    meaning = checker.meaning(expr, nowhere)
    if not isinstance(meaning, t.Const):
        raise CheckError(expr.span, "a value is wanted here that is known beforehand, such as 3 or P5")
    return meaning


class _Checker:
    """Checks one rule or definition; gathers its streams and counts its parts."""

    def __init__(self, environment: Environment) -> None:
        self.environment = environment
        self.streams: list[t.Gathered] = []
        self.nodes = self.depth = 0
        self.open: list[str] = []  # definitions being written out, to find a cycle

    # ---- statements -------------------------------------------------------------------------

    def rule(self, item: s.RuleItem, weight: t.Weight, origin: str) -> t.Rule:
        context = self.context(item.subject)
        parts = [self._place_test(places, context) for places in item.places]
        if item.subject.kind == "move":
            parts.insert(0, t.Exists(t.Attr(Ref(-1), "interval", Type.HARMONIC)))
        if item.subject.scope is not None and item.subject.scope.kind == "above":
            parts.insert(0, t.Flag(HERE, "on_bass"))
        parts += [self.test(condition, context) for condition in item.when]
        demand = self.test(item.demand.condition, context)
        parts.append(demand if item.demand.forbids else t.Negation(demand))
        broken = t.All(tuple(parts))
        self._can_apply(broken, item)
        return t.Rule(
            name=item.name.word,
            span=item.span,
            message=self._message(item, context),
            track=context.track,
            scope=self._scope(item.subject),
            whole=context.whole,
            broken=broken,
            licences=tuple(self.licence(licence, context) for licence in item.licences),
            weight=weight,
            source=item.source,
            streams=tuple(self.streams),
            examples=item.examples,
            origin=origin,
        )

    def context(self, subject: s.Subject) -> Context:
        """What a rule with this subject speaks of."""
        kind = {"interval": Kind.DYAD, "move": Kind.DYAD}.get(subject.kind) or Kind(subject.kind)
        sample: Literal["", "strong", "accented"] = ""
        if subject.sample is not None:
            word = subject.sample.word
            if word not in ("strong", "accented") or kind not in (Kind.NOTE, Kind.DYAD, Kind.MOMENT):
                hint = "Write ‘taken on strong’ or ‘taken on accented’ after note, interval, move or moment."
                raise CheckError(subject.sample.span, f"‘{word}’ can’t be what samples are taken on", hint)
            sample = word
        whole = kind in (Kind.LINE, Kind.PAIR, Kind.EXERCISE)
        return Context(Thing(HERE, kind), t.Track(kind, sample=sample), whole)

    def licence(self, licence: s.LicenceItem, context: Context) -> t.Licence:
        """The typed form of a licence."""
        return t.Licence(licence.name, self.test(licence.condition, context), licence.reason)

    def definition(self, definition: s.Definition) -> None:
        """Check a definition with parameters standing for typical values of their types."""
        self.open.append(definition.name.word)
        bound = {formal.name: self._typical(formal) for formal in definition.formals}
        kind = _SUBJECTS[definition.subject] if definition.subject else None
        body = definition.body
        if isinstance(body, s.Figure):
            for step in body.steps:
                self.alternatives(step, _nowhere(bound))
        elif isinstance(body, s.Choice) and kind is None:
            for value in body.values:
                self.meaning(value, _nowhere(bound))
        elif kind is None:
            hint = f"Write ‘define {definition.name.word} for a note as …’ (or for an interval, a moment)."
            raise CheckError(definition.name.span, "this condition does not say what it is a condition of", hint)
        else:
            self.test(body, Context(Thing(HERE, kind), t.Track(kind), False, bound))

    def _typical(self, formal: s.Formal) -> Meaning:
        word = formal.type.word
        if word in v.THING_TYPES:
            return Thing(HERE, v.THING_TYPES[word])
        if word not in v.NAMED_TYPES:
            raise self._unknown(formal.type.span, word, [*v.NAMED_TYPES, *v.THING_TYPES], "type")
        return _TYPICAL[v.NAMED_TYPES[word]]

    def _scope(self, subject: s.Subject) -> t.Voices:
        if subject.scope is None:
            default = {"note": "each voice", "line": "each voice"}
            return t.Voices(default.get(subject.kind, "each pair"))
        return self.voices(subject.scope, lines=subject.kind in ("note", "line"))

    def voices(self, scope: s.Scope, lines: bool) -> t.Voices:
        """The voices or pairs that the words of a scope name."""
        numbers = tuple(int(word[:6]) for word in scope.words if word.isdecimal())
        words = " ".join(word for word in scope.words if not word.isdecimal())
        known = v.LINE_SCOPES if lines else v.PAIR_SCOPES
        if scope.kind == "above":
            if words != v.BASS_SCOPE:
                raise CheckError(scope.span, f"‘above {words}’ is not known", "Write ‘above the bass’.")
            return t.Voices("each pair")
        if words == "every voice":
            words = "each voice"
        if not all(0 < number <= MAX_VOICES for number in numbers):
            raise CheckError(scope.span, f"voices count from 1, the highest written one, to {MAX_VOICES}")
        wanted = {"voice": 1, "voices and": 2}.get(words, 0)
        if words not in known or len(numbers) != wanted:
            near = nearest(words, known)
            shown = ", ".join(
                word.replace("voices and", "voices 1 and 2").replace("voice ", "voice ") for word in known
            )
            hint = f"Did you mean ‘{near}’?" if near and words != near else f"Here may stand: {shown}."
            raise CheckError(scope.span, f"‘{' '.join(scope.words)}’ does not name voices", hint)
        return t.Voices(words, numbers)

    def _message(self, item: s.RuleItem, context: Context) -> tuple[str | t.Slot, ...]:
        from rulekit.language.parser import parse_phrase

        parts: list[str | t.Slot] = []
        rest, column = item.message, item.message_span.column + 1
        while "{" in rest:
            before, _, after = rest.partition("{")
            words, closed, rest = after.partition("}")
            column += len(before) + 1
            span = s.Span(item.message_span.path, item.message_span.line, column, max(1, len(words)))
            if not closed or not words.strip():
                wrong = "is empty" if closed else "is not closed"
                raise CheckError(span, f"this placeholder {wrong}", "Write it such as {interval}.")
            parts.append(before)
            meaning = self.meaning(parse_phrase(words, span), context)
            parts.append(t.Slot(words, meaning.ref if isinstance(meaning, Thing) else meaning))
            column += len(words) + 1
        return tuple(part for part in (*parts, rest) if part)

    def _can_apply(self, broken: t.All, item: s.RuleItem) -> None:
        """Refuse a rule that nothing can break."""
        wanted: dict[t.Value, frozenset[object]] = {}
        for part in _flatten(broken):
            if isinstance(part, t.Among):
                wanted[part.value] = wanted.get(part.value, part.members) & part.members
                if not wanted[part.value]:
                    message = f"the rule ‘{item.name.word}’ can never apply: what it asks for excludes itself"
                    raise CheckError(item.name.span, message, "Look at its ‘when’ and ‘forbid’ together.")

    # ---- conditions -------------------------------------------------------------------------

    def test(self, condition: s.Condition, context: Context) -> t.Test:
        """The typed form of a condition."""
        with self._within_limits(condition):
            return self._test(condition, context)

    def _test(self, condition: s.Condition, context: Context) -> t.Test:
        match condition:
            case s.Not():
                return t.Negation(self.test(condition.inner, context))
            case s.Logic():
                parts = tuple(self.test(part, context) for part in condition.parts)
                return t.All(parts) if condition.operator == "and" else t.AnyOf(parts)
            case s.Missing():
                return self._missing(condition, context)
            case s.FigureTest():
                return self._figure(condition, context)
            case s.Compare():
                return self._compare(condition, context)
            case s.Choice(values=(s.Group(inner=inner),)):
                return self.test(inner, context)
            case s.Choice() | s.Figure():
                raise CheckError(
                    condition.span, "this is no condition: it lacks its verb", "Write such as ‘interval is a third’."
                )

    def _missing(self, condition: s.Missing, context: Context) -> t.Test:
        meaning = self.meaning(condition.target, context)
        if isinstance(meaning, Thing):
            if meaning.kind not in _PROBES:
                raise CheckError(condition.span, f"{with_article(meaning.kind)} can’t be missing")
            meaning = t.Attr(meaning.ref, *_PROBES[meaning.kind])
        exists = t.Exists(meaning)
        return exists if condition.negated else t.Negation(exists)

    def _figure(self, condition: s.FigureTest, context: Context) -> t.Test:
        steps: list[tuple[t.Value, ...]] = []
        for step in condition.steps:
            steps += self._steps(step, context)
        if len(steps) > limits.MAX_WINDOW:
            raise CheckError(condition.span, f"a figure has at most {limits.MAX_WINDOW} steps")
        target = self.meaning(condition.target, context)
        parts: list[t.Test] = []
        for index, step in enumerate(steps):
            if isinstance(target, Thing) and target.kind == Kind.NOTE:
                offset = index + 1 - len(steps) if condition.ends else index + 1
                ref = self._hop(target.ref, offset, condition.span, context)
                value: t.Value = t.Attr(ref, "approach", Type.MELODIC)
            elif isinstance(target, t.Attr | t.Function):
                offset = index + 1 - len(steps) if condition.ends else index
                shifted = replace(context, it=self._shift(context.it, offset, condition.span))
                value = cast(t.Value, self.meaning(condition.target, shifted))
            else:
                raise CheckError(condition.target.span, "only a note, an interval or a motion begins or ends a figure")
            parts.append(self._among(value, [(c, condition.span) for c in step], condition.span))
        return t.All(tuple(parts))

    def _steps(self, step: s.Expr, context: Context) -> list[tuple[t.Value, ...]]:
        """A step of a figure; the name of a defined figure stands for all its steps."""
        if isinstance(step, s.Name | s.Call):
            definition = self.environment.definitions.get(step.word)
            if definition is not None and isinstance(definition.body, s.Figure):
                arguments = step.arguments if isinstance(step, s.Call) else ()
                with _Opened(self, definition, step.span):
                    inner = _nowhere(self._bind(definition, arguments, context, step.span))
                    return [row for part in definition.body.steps for row in self._steps(part, inner)]
        return [tuple(self.alternatives(step, context))]

    def _compare(self, condition: s.Compare, context: Context) -> t.Test:
        left = condition.left
        if isinstance(left, s.Quantified):
            return self._quantified(condition, left, context)
        meaning = self.meaning(left, context)
        test = self._relate(meaning, condition, context)
        return t.Negation(test) if condition.negated else test

    def _relate(self, meaning: Meaning, condition: s.Compare, context: Context) -> t.Test:
        """The relation of something to the right side of a comparison, not negated."""
        if isinstance(meaning, Thing) and condition.comparator == "is":
            parts = [self._adjective(meaning, right, context) for right in condition.right]
            return parts[0] if len(parts) == 1 else t.AnyOf(tuple(parts))
        if isinstance(meaning, Thing):
            meaning = self._pitch(meaning, condition.left.span)
        values = [(value, right.span) for right in condition.right for value in self.alternatives(right, context)]
        if condition.comparator == "is":
            return self._among(meaning, values, condition.span)
        parts = [self._order(meaning, condition.comparator, value, span) for value, span in values]
        return parts[0] if len(parts) == 1 else t.AnyOf(tuple(parts))

    def _quantified(self, condition: s.Compare, left: s.Quantified, context: Context) -> t.Test:
        if context.whole or context.it.kind not in (Kind.DYAD, Kind.MOMENT) or context.it.ref.role:
            raise CheckError(left.span, f"‘{left.quantifier} {left.kind}’ needs a rule on intervals or moments")
        kind = Kind.DYAD if left.kind == "interval" else Kind.NOTE
        inner = Context(Thing(HERE, kind), t.Track(kind), False, context.bound, inner=True)
        meaning: Meaning = inner.it if kind == Kind.NOTE else t.Attr(HERE, "interval", Type.HARMONIC)
        if kind == Kind.DYAD and not self._is_value(condition.right[0], inner):
            meaning = inner.it
        test = self._relate(meaning, condition, inner)
        if any(ref.offset or ref.hops for ref in refs(test)):
            raise CheckError(condition.span, "what is said of some interval or note can’t look before or after")
        scope = t.Voices("each voice" if kind == Kind.NOTE else "each pair")
        if left.scope is not None:
            scope = self.voices(left.scope, lines=kind == Kind.NOTE)
            if left.scope.kind == "above":
                test = t.All((t.Flag(HERE, "on_bass"), test)) if left.quantifier != "every" else t.AnyOf(
                    (t.Negation(t.Flag(HERE, "on_bass")), test)
                )  # fmt: skip
        if condition.negated:
            test = t.Negation(test)
        return t.Holds(context.it.ref.offset, left.quantifier, kind, scope, test)

    def _is_value(self, expr: s.Expr, context: Context) -> bool:
        """Whether the right side is a value (``third``) rather than an adjective (``crossed``)."""
        if isinstance(expr, s.Name | s.Call):
            definition = self.environment.definitions.get(expr.word)
            if definition is not None:
                return definition.subject is None
            return expr.word not in v.FLAGS[context.it.kind]
        return True

    def _adjective(self, thing: Thing, right: s.Expr, context: Context) -> t.Test:
        """Whether a thing is something: an adjective, a place, a defined condition, the same voice as another."""
        if isinstance(right, s.Position):
            return self._position(thing, right)
        if isinstance(right, s.Group):
            raise CheckError(right.span, "brackets can’t follow ‘is’ here", "Write each condition with its own verb.")
        if isinstance(right, s.Name | s.Call):
            definition = self.environment.definitions.get(right.word)
            if right.word not in context.bound and definition is not None and definition.subject is not None:
                arguments = right.arguments if isinstance(right, s.Call) else ()
                return self._apply(definition, thing, arguments, context, right.span)
            flags = v.FLAGS[thing.kind]
            if isinstance(right, s.Name) and right.word in flags and right.word not in context.bound:
                word = flags[right.word]
                flag = t.Flag(thing.ref, word.attribute, word.definite)
                return t.Negation(flag) if word.negated else flag
        try:
            meaning = self.meaning(right, context)
        except CheckError as error:
            if isinstance(right, s.Name) and not self._known(right.word, context):
                words = [*v.FLAGS[thing.kind], *(d for d, x in self.environment.definitions.items() if x.subject)]
                raise self._unknown(right.span, right.word, words, f"quality of {with_article(thing.kind)}") from error
            raise
        if isinstance(meaning, Thing) and meaning.kind == thing.kind == Kind.NOTE:
            return t.Same(thing.ref, meaning.ref)
        hint = "Name what is compared, such as ‘pitch of upper’, ‘degree of it’, ‘interval’."
        raise CheckError(right.span, f"{with_article(thing.kind)} can’t be this", hint)

    def _apply(
        self, definition: s.Definition, thing: Thing, arguments: tuple[s.Expr, ...], context: Context, span: s.Span
    ) -> t.Test:
        """A defined condition with the thing it is said of as its ``it``."""
        kind = _SUBJECTS[definition.subject or "note"]
        if kind != thing.kind:
            raise CheckError(
                span,
                f"‘{definition.name.word}’ is said of {with_article(kind)}, but this is {with_article(thing.kind)}",
            )
        with _Opened(self, definition, span):
            bound = self._bind(definition, arguments, context, span)
            return self.test(definition.body, replace(context, it=thing, bound=bound))

    def _bind(
        self, definition: s.Definition, arguments: tuple[s.Expr, ...], context: Context, span: s.Span
    ) -> dict[str, Meaning]:
        if len(arguments) != len(definition.formals):
            wanted = ", ".join(f"{formal.name} ({formal.type.word})" for formal in definition.formals) or "nothing"
            message = f"‘{definition.name.word}’ is given {len(arguments)} values; it takes {wanted}"
            raise CheckError(span, message)
        bound: dict[str, Meaning] = {}
        for formal, argument in zip(definition.formals, arguments, strict=True):
            value = self.meaning(argument, context)
            typical = self._typical(formal)
            if isinstance(value, Thing) != isinstance(typical, Thing) or not _agree(value, typical):
                message = f"‘{formal.name}’ of ‘{definition.name.word}’ is {with_article(formal.type.word)}"
                raise CheckError(argument.span, f"{message}, but this is {_what(value)}")
            bound[formal.name] = value
        return bound

    def _place_test(self, places: s.Places, context: Context) -> t.Test:
        tests = tuple(self._adjective(context.it, place, context) for place in places.places)
        test = tests[0] if len(tests) == 1 else t.AnyOf(tests)
        return t.Negation(test) if places.negated else test

    def _position(self, thing: Thing, place: s.Position) -> t.Test:
        if thing.kind not in (Kind.NOTE, Kind.DYAD, Kind.MOMENT):
            raise CheckError(place.span, f"{with_article(thing.kind)} has no place; notes, intervals and moments have")
        if place.unit == "bar":
            bar = t.Attr(thing.ref, "bar", Type.COUNT)
            if not place.from_end:
                return t.Among(bar, frozenset(range(place.index, min(place.until, limits.MAX_NUMBER) + 1)))
            from_end = t.Function("minus", (t.Fixed("number-of-bars", Type.COUNT), bar), Type.COUNT)
            return t.Among(from_end, frozenset({place.index - 1}))
        offset = place.index - 1 if place.from_end else 1 - place.index
        ref = self._shift(thing, offset, place.span).ref
        return t.Flag(ref, "last" if place.from_end else "first", definite=True)

    def _among(self, value: Meaning, choices: list[tuple[t.Value, s.Span]], span: s.Span) -> t.Test:
        """Whether a value equals one of the choices: constants make a set, others are compared one by one."""
        if isinstance(value, Thing):
            raise CheckError(
                span, f"{with_article(value.kind)} is no value to compare", "Name its pitch, degree, length …"
            )
        if isinstance(value, t.Const) and value.type == Type.INTERVAL:
            raise CheckError(
                span, "what is compared must come first", "Write such as ‘approach is P5’, ‘interval is P5’."
            )
        members: set[object] = set()
        parts: list[t.Test] = []
        for choice, place in choices:
            if isinstance(choice, t.Const):
                members |= self._members(value, choice, place)
            elif not _agree(value, choice):
                raise CheckError(place, f"{_what(choice)} can’t equal {_what(value)}")
            else:
                parts.append(t.Relation("==", value, choice))
        if members or not parts:
            parts.insert(0, t.Among(value, frozenset(members)))
        return parts[0] if len(parts) == 1 else t.AnyOf(tuple(parts))

    def _members(self, value: t.Value, const: t.Const, span: s.Span) -> frozenset[object]:
        """What a constant means as a set of values like the one on the left."""
        if const.type == Type.INTERVAL and value.type in _INTERVALS:
            patterns = cast("tuple[t.Pattern, ...]", const.value)
            return intervals.harmonic(patterns) if value.type == Type.HARMONIC else intervals.melodic(patterns)
        if const.type == Type.INTERVAL and value.type == Type.SIZE:
            patterns = cast("tuple[t.Pattern, ...]", const.value)
            return frozenset(n for p in patterns for n in range(p.low, p.high + 1))
        if const.type == Type.MODE and value.type == Type.MODE:
            names = cast("tuple[object, ...]", const.value) if const.many else (const.value,)
            return frozenset(name for each in names for name in (each, f"hypo{each}"))
        if const.type == value.type or (const.type == Type.COUNT and value.type in (Type.DEGREE, Type.SIZE)):
            return frozenset(cast("tuple[object, ...]", const.value)) if const.many else frozenset({const.value})
        raise CheckError(span, f"{_what(const)} can’t equal {_what(value)}", _WANTED.get(value.type, ""))

    def _order(self, left: t.Value, comparator: s.Comparator, right: t.Value, span: s.Span) -> t.Test:
        """``at least``, ``more than``, ``above`` …, and their opposites."""
        if comparator in ("above", "below"):
            if left.type != Type.PITCH or right.type != Type.PITCH:
                raise CheckError(
                    span,
                    f"‘{comparator}’ compares pitches, not {_what(left)} with {_what(right)}",
                    "Intervals are ‘wider than’ or ‘narrower than’ others.",
                )
            high, low = (left, right) if comparator == "above" else (right, left)
            return t.Relation("<", low, high)
        operator: Literal["<", "<="] = "<" if comparator in ("more_than", "less_than") else "<="
        greater = comparator in ("more_than", "at_least")
        if left.type in (Type.HARMONIC, Type.MELODIC) and isinstance(right, t.Const) and right.type == Type.INTERVAL:
            patterns = cast("tuple[t.Pattern, ...]", right.value)
            return t.Among(left, intervals.by_width(operator, patterns, greater))
        if left.type in (Type.HARMONIC, Type.MELODIC) and right.type in (Type.HARMONIC, Type.MELODIC):
            left = t.Function("width", (left,), Type.COUNT)
            right = t.Function("width", (right,), Type.COUNT)
        elif left.type == Type.SIZE and right.type == Type.INTERVAL and isinstance(right, t.Const):
            (pattern,) = cast("tuple[t.Pattern, ...]", right.value)[:1]
            right = t.Const(pattern.high, Type.SIZE)
        elif left.type not in _ORDERED or not _agree(left, right):
            raise CheckError(span, f"{_what(left)} can’t be more or less than {_what(right)}")
        return t.Relation(operator, right, left) if greater else t.Relation(operator, left, right)

    # ---- values -----------------------------------------------------------------------------

    def alternatives(self, expr: s.Expr, context: Context) -> list[t.Value]:
        """The values a phrase offers: one, or those of a bracketed choice or a defined set."""
        with self._within_limits(expr):
            return self._alternatives(expr, context)

    def _alternatives(self, expr: s.Expr, context: Context) -> list[t.Value]:
        if isinstance(expr, s.Group) and isinstance(expr.inner, s.Choice):
            return [value for part in expr.inner.values for value in self.alternatives(part, context)]
        if isinstance(expr, s.Name | s.Call) and expr.word not in context.bound:
            definition = self.environment.definitions.get(expr.word)
            if definition is not None and definition.subject is None and isinstance(definition.body, s.Choice):
                arguments = expr.arguments if isinstance(expr, s.Call) else ()
                with _Opened(self, definition, expr.span):
                    inner = _nowhere(self._bind(definition, arguments, context, expr.span))
                    values = [x for part in definition.body.values for x in self.alternatives(part, inner)]
                    if len(values) > limits.MAX_SET:
                        raise CheckError(expr.span, f"a set names at most {limits.MAX_SET} values")
                    return values
        meaning = self.meaning(expr, context)
        if isinstance(meaning, Thing):
            return [self._pitch(meaning, expr.span)]
        return [meaning]

    def meaning(self, expr: s.Expr, context: Context) -> Meaning:
        """What a phrase stands for: a thing or a value."""
        with self._within_limits(expr):
            return self._meaning(expr, context)

    def _meaning(self, expr: s.Expr, context: Context) -> Meaning:
        match expr:
            case s.Name():
                return self._name(expr, context)
            case s.Of():
                return self._of(expr, context)
            case s.Shift():
                return self._shifted(expr, context)
            case s.NoteShift():
                target = context.it if expr.target is None else self.meaning(expr.target, context)
                if not isinstance(target, Thing) or target.kind != Kind.NOTE:
                    raise CheckError(
                        expr.span, "‘note before’ and ‘note after’ need a note", "Such as: note before upper."
                    )
                return Thing(self._hop(target.ref, expr.offset, expr.span, context), Kind.NOTE)
            case s.Literal_():
                return self._literal(expr)
            case s.Directed() | s.Exactly():
                return self._qualified(expr, context)
            case s.Run() | s.Latest() | s.Total() | s.TimeOf():
                return self._stream(expr, context)
            case s.SpanBetween():
                pitches = tuple(self._as_pitch(part, context) for part in (expr.start, expr.end))
                return t.Function("span", pitches, Type.MELODIC)
            case s.Arithmetic():
                return self._arithmetic(expr, context)
            case s.Group(inner=s.Choice(values=(value,))):
                return self.meaning(value, context)
            case s.Call() | s.Group():
                return self._set(expr, context)
            case s.Position():
                raise CheckError(expr.span, "a place can only follow ‘it is’, ‘upper is’ …")
            case s.Quantified():
                raise CheckError(expr.span, f"‘{expr.quantifier} {expr.kind}’ must come first, before ‘is’")

    def _set(self, expr: s.Call | s.Group | s.Name, context: Context) -> t.Const:
        """Several interval constants as one; raises where they are not intervals."""
        if isinstance(expr, s.Call) and expr.word not in self.environment.definitions:
            raise self._unknown(expr.span, expr.word, self.environment.definitions, "definition")
        values = self.alternatives(expr, context) if not self._is_condition(expr) else []
        patterns: list[t.Pattern] = []
        for value in values:
            if not isinstance(value, t.Const) or value.type != Type.INTERVAL:
                raise CheckError(expr.span, "one value is wanted here, not a choice")
            patterns += cast("tuple[t.Pattern, ...]", value.value)
        if not patterns:
            raise CheckError(expr.span, "a condition stands where a value is wanted")
        return t.Const(tuple(patterns), Type.INTERVAL)

    def _is_condition(self, expr: s.Call | s.Group | s.Name) -> bool:
        if isinstance(expr, s.Group):
            return not isinstance(expr.inner, s.Choice)
        definition = self.environment.definitions[expr.word]
        return definition.subject is not None or not isinstance(definition.body, s.Choice)

    def _name(self, expr: s.Name, context: Context) -> Meaning:
        word, it = expr.word, context.it
        if word in context.bound:
            return context.bound[word]
        if word in ("it", "here") or (word == "note" and it.kind == Kind.NOTE):
            return it
        if word in v.ROLES[it.kind] and not it.ref.role:
            kind = Kind.LINE if it.kind == Kind.PAIR else Kind.NOTE
            return Thing(replace(it.ref, role=word), kind)
        if word in v.ATTRIBUTES[it.kind]:
            return self._attribute(it, word, context)
        if word in v.FIXED:
            return t.Fixed(word, v.FIXED[word])
        if word in self.environment.parameters:
            self.environment.used.add(word)
            return self.environment.parameters[word]
        if word in self.environment.definitions:
            return self._set(expr, context)
        if word in v.CONSTANTS:
            return v.CONSTANTS[word]
        if word.endswith("s") and word[:-1] in v.CONSTANTS:
            return v.CONSTANTS[word[:-1]]
        raise self._unknown(expr.span, word, self._words(context), "word")

    def _known(self, word: str, context: Context) -> bool:
        return word in self._words(context)

    def _words(self, context: Context) -> list[str]:
        """Every word that could stand for something here."""
        kind = context.it.kind
        own = [*context.bound, "it", *v.ROLES[kind], *v.ATTRIBUTES[kind], *v.FIXED, *v.CONSTANTS]
        return [*own, *self.environment.parameters, *self.environment.definitions, *v.FLAGS[kind]]

    def _unknown(self, span: s.Span, word: str, words: "Mapping[str, object] | list[str]", what: str) -> CheckError:
        elsewhere = [k for k in Kind if word in v.ATTRIBUTES[k] or word in v.ROLES[k] or word in v.FLAGS[k]]
        if elsewhere:
            kinds = " or ".join(with_article(kind) for kind in elsewhere)
            return CheckError(span, f"‘{word}’ can’t be asked here", f"It belongs to {kinds}.")
        hint = did_you_mean(word, words, "Is it spelt right, or a definition that is missing?")
        if _PITCH.fullmatch(word):
            hint = f"A pitch is written ‘pitch {word}’."
        return CheckError(span, f"there is no {what} ‘{word}’", hint)

    def _attribute(self, thing: Thing, word: str, context: Context) -> t.Value:
        attribute, type_ = v.ATTRIBUTES[thing.kind][word]
        if thing.kind == Kind.LINE:
            return self._line_attribute(thing, attribute, type_)
        if attribute == "departure":
            return t.Attr(self._hop(thing.ref, 1, s.NOWHERE, context), "approach", type_)
        if attribute == "motion" and context.track.sample:
            before = self._shift(Thing(thing.ref, Kind.DYAD), -1, s.NOWHERE).ref
            refs = (replace(before, role="upper"), replace(before, role="lower"),
                    replace(thing.ref, role="upper"), replace(thing.ref, role="lower"))  # fmt: skip
            return t.Function("motion", tuple(t.Attr(ref, "pitch", Type.PITCH) for ref in refs), type_)
        return t.Attr(thing.ref, attribute, type_)

    def _line_attribute(self, thing: Thing, attribute: str, type_: Type) -> t.Value:
        track = t.Track(Kind.NOTE, thing.ref.role)
        if attribute == "range":
            ends = tuple(self._gather("lowest highest".split()[i], track, Type.PITCH) for i in range(2))
            return t.Function("span", ends, type_)
        return self._gather(attribute, track, type_)

    def _gather(
        self, kind: str, track: t.Track, type_: Type, test: t.Test | None = None, value: t.Value | None = None
    ) -> t.Stream:
        gathered = t.Gathered(cast(Literal["run"], kind), track, test, value)
        if gathered not in self.streams:
            self.streams.append(gathered)
        return t.Stream(self.streams.index(gathered), type_)

    def _of(self, expr: s.Of, context: Context) -> Meaning:
        target = self.meaning(expr.target, context)
        if isinstance(target, Thing):
            if expr.word in v.ATTRIBUTES[target.kind]:
                return self._attribute(target, expr.word, context)
            raise self._unknown(
                expr.span, expr.word, v.ATTRIBUTES[target.kind], f"property of {with_article(target.kind)}"
            )
        if expr.word not in v.FUNCTIONS:
            raise self._unknown(expr.span, expr.word, v.FUNCTIONS, "property of a value")
        takes, gives = v.FUNCTIONS[expr.word]
        if target.type not in takes:
            raise CheckError(
                expr.span, f"‘{expr.word} of’ wants {' or '.join(map(with_article, takes))}, not {_what(target)}"
            )
        return t.Function(expr.word, (target,), gives)

    def _shifted(self, expr: s.Shift, context: Context) -> Meaning:
        if context.whole:
            raise CheckError(expr.span, "a rule about the whole has no ‘previous’, ‘next’, ‘before’ or ‘after’")
        inner = expr.target
        if isinstance(inner, s.Name) and isinstance(context.bound.get(inner.word), Thing):
            return self._shift(cast(Thing, context.bound[inner.word]), expr.offset, expr.span)
        moved = replace(context, it=self._shift(context.it, expr.offset, expr.span))
        return self.meaning(inner, moved)

    def _shift(self, thing: Thing, offset: int, span: s.Span) -> Thing:
        """The thing some places on along the track; a note of a dyad or moment goes along its voice."""
        if thing.kind in (Kind.LINE, Kind.PAIR, Kind.EXERCISE):
            raise CheckError(span, f"there is nothing before or after a {thing.kind}")
        if thing.ref.role:
            return Thing(self._hop(thing.ref, offset, span), thing.kind)
        moved = thing.ref.offset + offset
        self._within(moved, span)
        return Thing(replace(thing.ref, offset=moved), thing.kind)

    def _hop(self, ref: Ref, hops: int, span: s.Span, context: Context | None = None) -> Ref:
        """The note some notes on in its voice; without samples left out, those are the track's own samples."""
        if not ref.role and not (context and context.track.sample):
            self._within(ref.offset + hops, span)
            return replace(ref, offset=ref.offset + hops)
        self._within(ref.hops + hops, span)
        return replace(ref, hops=ref.hops + hops)

    def _within(self, distance: int, span: s.Span) -> None:
        if abs(distance) > limits.MAX_WINDOW:
            raise CheckError(span, f"a rule looks at most {limits.MAX_WINDOW} places before or after")

    def _literal(self, expr: s.Literal_) -> t.Const:
        if expr.kind == "interval":
            from rulekit.music.pitch import interval_of, quality, size

            try:
                interval = interval_of(expr.text)
            except ValueError as error:
                raise CheckError(expr.span, str(error)) from error
            number = size(interval)
            return t.Const((t.Pattern(number, number, quality(interval)),), Type.INTERVAL)
        if expr.kind == "pitch":
            return t.Const(pitch_of(expr.text), Type.PITCH)
        if expr.kind == "percent":
            return t.Const(int(expr.text) * 100, Type.SHARE)
        return t.Const(int(expr.text), Type.COUNT)

    def _qualified(self, expr: s.Directed | s.Exactly, context: Context) -> t.Const:
        if expr.target is None:
            heading = 1 if expr.rising else -1
            return t.Const((t.Pattern(1, v.WIDEST, heading=heading, exact=True),), Type.INTERVAL)
        patterns: list[t.Pattern] = []
        for value in self.alternatives(expr.target, context):
            if not isinstance(value, t.Const) or value.type != Type.INTERVAL:
                raise CheckError(expr.target.span, f"an interval is wanted here, not {_what(value)}")
            patterns += cast("tuple[t.Pattern, ...]", value.value)
        if isinstance(expr, s.Exactly):
            changed = tuple(replace(pattern, exact=True) for pattern in patterns)
        else:
            changed = tuple(replace(pattern, heading=1 if expr.rising else -1) for pattern in patterns)
        return t.Const(changed, Type.INTERVAL)

    def _arithmetic(self, expr: s.Arithmetic, context: Context) -> t.Value:
        values = tuple(self._number(part, context) for part in (expr.left, expr.right))
        if all(isinstance(value, t.Const) for value in values):
            left, right = (cast(int, cast(t.Const, value).value) for value in values)
            total = {"plus": left + right, "minus": left - right, "times": left * right}[expr.operator]
            return t.Const(min(total, limits.MAX_NUMBER), Type.COUNT)
        return t.Function(expr.operator, values, Type.COUNT)

    def _number(self, expr: s.Expr, context: Context) -> t.Value:
        value = self.meaning(expr, context)
        if isinstance(value, Thing) or value.type != Type.COUNT:
            raise CheckError(expr.span, f"a number is wanted here, not {_what(value)}")
        return value

    def _as_pitch(self, expr: s.Expr, context: Context) -> t.Value:
        meaning = self.meaning(expr, context)
        value = self._pitch(meaning, expr.span) if isinstance(meaning, Thing) else meaning
        if value.type != Type.PITCH:
            raise CheckError(expr.span, f"a note or pitch is wanted here, not {_what(value)}")
        return value

    def _pitch(self, thing: Thing, span: s.Span) -> t.Value:
        if thing.kind != Kind.NOTE:
            raise CheckError(span, f"{with_article(thing.kind)} has no single pitch")
        return t.Attr(thing.ref, "pitch", Type.PITCH)

    # ---- streams ----------------------------------------------------------------------------

    def _stream(self, expr: s.Run | s.Latest | s.Total | s.TimeOf, context: Context) -> t.Stream | t.Function:
        if isinstance(expr, s.Run | s.Latest):
            return self._running(expr, context)
        if not context.whole:
            hint = "Write ‘for every line …’, ‘for every pair …’ or ‘for every exercise’; or use ‘run where’."
            raise CheckError(expr.span, "only a rule about the whole can count over the whole", hint)
        track, inner = self._things(expr.things, context)
        counted = self._counted(expr.things)
        test = None if expr.condition is None else self.test(expr.condition, inner)
        both = t.All((counted, test)) if counted and test else counted or test
        if isinstance(expr, s.TimeOf):
            self._no_ahead(both, expr.span)
            return self._gather("first" if expr.first else "last", track, Type.TIME, both)
        if expr.kind == "longest":
            value = None if expr.same is None else self._key(expr.same, inner)
            for part in (both, value):
                self._no_ahead(part, expr.span)
            return self._gather("longest", track, Type.COUNT, both, value)
        number = self._gather("number", track, Type.COUNT, both)
        if expr.kind == "number":
            return number
        return t.Function("share", (number, self._gather("number", track, Type.COUNT, counted)), Type.SHARE)

    def _counted(self, things: s.Things) -> t.Test | None:
        """Which samples count as the things at all: a move comes from somewhere, ‘above bass’ has the bass in it."""
        parts: list[t.Test] = []
        if things.kind == "moves":
            parts.append(t.Exists(t.Attr(Ref(-1), "interval", Type.HARMONIC)))
        if things.scope is not None and things.scope.kind == "above":
            parts.append(t.Flag(HERE, "on_bass"))
        return t.All(tuple(parts)) if parts else None

    def _running(self, expr: s.Run | s.Latest, context: Context) -> t.Stream:
        it = context.it
        if context.inner:
            raise CheckError(expr.span, "a run can’t stand inside another run, a count or a ‘some’, ‘every’ or ‘no’")
        if context.whole or it.ref.role or it.kind not in (Kind.NOTE, Kind.DYAD, Kind.MOMENT):
            raise CheckError(expr.span, "a run is counted along the notes, intervals or moments a rule speaks of")
        if it.ref.offset:
            raise CheckError(expr.span, "a run is counted up to here, not up to somewhere else")
        inner = replace(context, inner=True)
        test = None if expr.condition is None else self.test(expr.condition, inner)
        if isinstance(expr, s.Run):
            value, kind = None if expr.same is None else self._key(expr.same, inner), "run"
            type_ = Type.COUNT
        else:
            meaning, kind = self.meaning(expr.value, inner), "latest"
            value = self._pitch(meaning, expr.value.span) if isinstance(meaning, Thing) else meaning
            type_ = value.type
        for part in (test, value):
            self._no_ahead(part, expr.span)
        return self._gather(kind, context.track, type_, test, value)

    def _key(self, expr: s.Expr, context: Context) -> t.Value:
        value = self.meaning(expr, context)
        if isinstance(value, (Thing, t.Const)):
            raise CheckError(expr.span, "a run needs a value that changes, such as motion or size of interval")
        return value

    def _no_ahead(self, part: "t.Test | t.Value | None", span: s.Span) -> None:
        if part is not None and any(ref.offset > 0 or ref.hops > 0 for ref in refs(part)):
            raise CheckError(
                span,
                "this can’t look ahead: it is kept while the music goes by",
                "Say it from the later place, with ‘previous’.",
            )

    def _things(self, things: s.Things, context: Context) -> tuple[t.Track, Context]:
        """The track that is counted over and what ``it`` is there."""
        kind = {"notes": Kind.NOTE, "intervals": Kind.DYAD, "moves": Kind.DYAD, "moments": Kind.MOMENT}[things.kind]
        whole, scope = context.it.kind, things.scope
        role, voices = "", None
        if kind == Kind.NOTE and whole == Kind.PAIR and scope is not None and len(scope.words) == 1:
            role = scope.words[0]
            if role not in v.ROLES[Kind.PAIR]:
                raise self._unknown(scope.span, role, list(v.ROLES[Kind.PAIR]), "voice of a pair")
        elif scope is not None:
            voices = self.voices(scope, lines=kind == Kind.NOTE)
        elif kind == Kind.NOTE and whole == Kind.PAIR:
            raise CheckError(things.span, "a pair has two voices", "Write ‘notes in upper’ or ‘notes in lower’.")
        elif kind == Kind.DYAD and whole == Kind.LINE:
            raise CheckError(things.span, "a line has no intervals", "Write ‘for every pair between …’.")
        elif whole == Kind.EXERCISE and kind != Kind.MOMENT:
            voices = t.Voices("each voice" if kind == Kind.NOTE else "each pair")
        track = t.Track(kind, role, "", voices)
        return track, Context(Thing(HERE, kind), track, False, context.bound, inner=True)

    # ---- limits -----------------------------------------------------------------------------

    @contextmanager
    def _within_limits(self, node: s.Node) -> Generator[None, None, None]:
        """Count a part of the rule and how deep it stands; raises CheckError past the limits."""
        self.nodes += 1
        if self.nodes > limits.MAX_NODES:
            raise CheckError(node.span, "with its definitions written out, this is too large", "Divide it into rules.")
        if self.depth > limits.MAX_NESTED:
            message = "with its definitions written out, this is too deep within brackets, ‘not’ and definitions"
            raise CheckError(node.span, message, "Say it with fewer definitions inside each other.")
        self.depth += 1
        try:
            yield
        finally:
            self.depth -= 1


class _Opened:
    """A definition while it is written out; opening it again inside itself is a cycle."""

    def __init__(self, checker: _Checker, definition: s.Definition, span: s.Span) -> None:
        self.checker, self.word, self.span = checker, definition.name.word, span

    def __enter__(self) -> None:
        if self.word in self.checker.open:
            circle = " → ".join([*self.checker.open[self.checker.open.index(self.word) :], self.word])
            raise CheckError(self.span, f"the definition goes round in a circle: {circle}")
        self.checker.environment.used.add(self.word)
        self.checker.open.append(self.word)

    def __exit__(self, *_: object) -> None:
        self.checker.open.pop()


_SUBJECTS = {"note": Kind.NOTE, "interval": Kind.DYAD, "moment": Kind.MOMENT}
_PROBES = {Kind.NOTE: ("pitch", Type.PITCH), Kind.DYAD: ("interval", Type.HARMONIC), Kind.MOMENT: ("bar", Type.COUNT)}
_WANTED = {
    Type.MOTION: "A motion is contrary, oblique, similar, parallel or none.",
    Type.DIRECTION: "A direction is up, down or level.",
    Type.DEGREE: "A degree is a number from 1 to 7.",
    Type.LENGTH: "A length is such as whole-note, half-note or dotted-half-note.",
    Type.PITCH: "A pitch is written such as ‘pitch C4’.",
    Type.HARMONIC: "An interval is such as P5, third or augmented.",
    Type.MELODIC: "A melodic interval is such as step, rising m6 or falling third.",
    Type.MODE: "A mode is such as dorian or phrygian.",
    Type.METRE: "A metre is duple or triple.",
}
_TYPICAL: dict[Type, t.Const] = {
    Type.COUNT: t.Const(1, Type.COUNT),
    Type.INTERVAL: t.Const((t.Pattern(5, 5, "P"),), Type.INTERVAL),
    Type.PITCH: t.Const(pitch_of("C4"), Type.PITCH),
    Type.DEGREE: t.Const(1, Type.DEGREE),
    Type.MOTION: v.CONSTANTS["contrary"],
    Type.DIRECTION: v.CONSTANTS["up"],
    Type.LENGTH: v.CONSTANTS["whole-note"],
    Type.SHARE: t.Const(5000, Type.SHARE),
    Type.MODE: v.CONSTANTS["dorian"],
}


def stand_in(type_word: str) -> t.Const | None:
    """Some value of a type, for a parameter whose own value is a mistake; None for an unknown type."""
    type_ = v.NAMED_TYPES.get(type_word)
    return None if type_ is None else _TYPICAL[type_]


def _nowhere(bound: Mapping[str, Meaning]) -> Context:
    """The context of a set or figure: it speaks of nothing in particular."""
    return Context(Thing(HERE, Kind.EXERCISE), t.Track(Kind.EXERCISE), True, bound)


def _what(meaning: Meaning) -> str:
    if isinstance(meaning, Thing):
        return with_article(meaning.kind)
    return with_article(meaning.type)


def _agree(left: Meaning, right: Meaning) -> bool:
    """Whether two values can be compared for equality."""
    if isinstance(left, Thing) or isinstance(right, Thing):
        return isinstance(left, Thing) and isinstance(right, Thing) and left.kind == right.kind
    if left.type == right.type or (left.type in _INTERVALS and right.type in _INTERVALS):
        return True
    return {left.type, right.type} <= {Type.COUNT, Type.DEGREE, Type.SIZE}


def _flatten(test: t.Test) -> list[t.Test]:
    if isinstance(test, t.All):
        return [leaf for part in test.parts for leaf in _flatten(part)]
    return [test]


def refs(part: "t.Test | t.Value") -> list[Ref]:
    """Every thing that a condition or value points to, outside its streams."""
    match part:
        case t.Attr() | t.Flag():
            return [part.ref]
        case t.Function():
            return [ref for argument in part.arguments for ref in refs(argument)]
        case t.Among() | t.Exists():
            return refs(part.value)
        case t.Relation():
            return refs(part.left) + refs(part.right)
        case t.Same():
            return [part.left, part.right]
        case t.Holds():
            return [Ref(part.offset)]
        case t.Negation():
            return refs(part.inner)
        case t.All() | t.AnyOf():
            return [ref for inner in part.parts for ref in refs(inner)]
        case t.Stream():
            return [HERE]
        case t.Const() | t.Fixed():
            return []
