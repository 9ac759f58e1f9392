"""A mistake told with the line as it should be written.

What could have been meant comes from the slips and from the words of the sentence; a line is offered only if the file
can be used with it in the place of the author's.
"""

import re
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import cache
from itertools import islice

from rulekit.diagnostics import Diagnostic
from rulekit.language.intent import Proposal, is_said, left_out, placeholders, proposals, unknown_words
from rulekit.language.intent.phrasebook import Match, matches
from rulekit.language.parser import grammar
from rulekit.language.slips import beyond, changes, data
from rulekit.resources import shipped

_SECONDS = 3  # of work for all suggestions to one file
_MOST_TRIES = 200
_MOST_READ = 200_000  # characters in all tries
_LONGEST = 300  # characters of a line that is mended
_DEEPEST = 3  # slips in one line
_MOST_SCOPES = 3  # wordings that are tried in a rule on other things
_MOST_PROPOSALS = 12  # readings of a sentence that are tried
_MEANT = re.compile(r"Did you mean ‘([^’]+)’\?$")
_DEMAND = re.compile(r"\s+(require|forbid) (.+?)\s*", re.IGNORECASE)
_BARE_PLACE = re.compile(r"(?:require|forbid) it is (?:not )?(?:first|last)")  # it says where, but not what
_OFFERED = "Write: "
_OPEN = "Say whether it must be (‘require’) or must not be (‘forbid’)."
_NOT_UNDERSTOOD = "not understood."
_IN_BRACES = "In braces stands what is filled in, a thing or a value such as {upper}, {interval} or {degree of upper}."
_WITHOUT = "Without it one would write: "
_LACKS = (  # what a rule may lack, and how lines begin that could be it
    ("lacks a ‘for every", r"^\s*(?:for|over|in|at|on)\b"),
    ("lacks a message", '["“”„«]'),
    ("lacks a severity", r"\b(?:fault|warning|advice|error|mistake|points?)\b|^\s*\w+(?:,|$)"),
    ("lacks a source", r"^\s*(?:source|from|see|after|quelle|fonte|fuente|taught)\b"),
)
_STRUCTURE = "the rule ‘"
_ARTICLE = re.compile(r"(?<![\w-])(?:an?|the) (?=[^\"]*$)", re.IGNORECASE)
_SHIPPED = {word: noun for noun in ("consonance", "dissonance") for word in (f"{noun[:-2]}t", f"{noun}s")}

_SLOT = re.compile(r"\{+([^{}\"]*)\}*")  # a placeholder, closed or not
_NUMBER = re.compile(
    r"(?:the )?(?:n|x|count|number|amount|total|times|how many|sum|value|found)(?: of \w+)?", re.IGNORECASE
)
_COUNTED = re.compile(
    r"\s*(?:require|forbid|when) ((?:number|run|share|longest run|climax-count)\b.*?) "
    r"(?:is|are) (?:not )?(?:at |more |less |\d)"
)

Told = Callable[[str], Iterable[Diagnostic]]
Found = tuple[str, list[str]]  # a line, and the reasons for each change


@cache
def _shipped_definitions() -> frozenset[str]:
    text = (shipped("rulesets") / "vocabulary.rules").read_text(encoding="utf-8")
    return frozenset(re.findall(r"^define ([\w-]+)", text, re.MULTILINE))


@cache
def _keywords() -> frozenset[str]:
    """The words of the grammar itself."""
    return frozenset(terminal.name.lower() for terminal in grammar().terminals)


def _models() -> dict[str, list[str]]:
    """For each word that begins a clause, clauses of which one can be used in any rule."""
    return data()["models"]


def _reasons() -> dict[str, str]:
    """What is said of each word that begins a clause."""
    return data()["reasons"]


def explained(problems: Sequence[Diagnostic], text: str, path: str, told: Told) -> list[Diagnostic]:
    """The mistakes of a file, each with the line as it should be written if one is found.

    ``told`` gives what is wrong with another text of the file. The work spent on it is bounded.
    """
    search = _Search(text.split("\n"), path, {(problem.line, problem.message) for problem in problems}, told)
    found = list(problems)
    for shares in (len(problems), 1):  # an easy mistake first gets its part of the work, then a hard one the rest
        for number, problem in enumerate(problems):
            if problem.path == path and _OFFERED not in found[number].hint:
                search.share(shares)
                found[number] = search.explain(problem)
    return [_answered(each) for each in _one_a_line(found)]


def _answered(problem: Diagnostic) -> Diagnostic:
    """The mistake with what to do about it, if its message says only what it is."""
    answers = data()["answers"].items() if not problem.hint else ()
    return (
        replace(problem, hint=next((hint for part, hint in answers if part in problem.message), ""))
        if answers
        else problem
    )


def _one_a_line(problems: list[Diagnostic]) -> list[Diagnostic]:
    """Of the mistakes on a line the one with a better line, if there is one; of words not understood the first."""
    offers = {(each.path, each.line): each for each in reversed(problems) if _is_offer(each)}
    unclear = {(each.path, each.line): each for each in reversed(problems) if _is_unread(each)}
    kept = [each for each in problems if offers.get((each.path, each.line), each) is each]
    return [each for each in kept if not _is_unread(each) or each in (unclear[each.path, each.line], *offers.values())]


def _is_offer(problem: Diagnostic) -> bool:
    return _OFFERED in problem.hint or _WITHOUT in problem.hint


_UNFINISHED = re.compile(r"(?:\b(?:and|or|is|are|than)|,)\s*$")
_UNCLEAR = ("no clause begins with", "there is no ", "this is no condition")


def _is_unclear(problem: Diagnostic) -> bool:
    """Whether the words were not understood, rather than understood and found wrong."""
    return _is_unread(problem) or problem.message.endswith(("name voices", "asked here"))


def _is_unread(problem: Diagnostic) -> bool:
    """Whether the words could not even be read as a phrase."""
    unread = problem.message.endswith(("expected here", "read here", "too early"))
    return unread or problem.message.startswith(_UNCLEAR)


_NAMED = re.compile(r"^\s*(?:replace )?(?:define|parameter) ([^\W\d_][\w-]*)(?! for)")


def _names(lines: Iterable[str]) -> frozenset[str]:
    """The names that a file gives to values."""
    taken = _shipped_definitions() if any(re.match(r"use vocabulary|build on", line) for line in lines) else ()
    return frozenset([*(match[1] for match in map(_NAMED.match, lines) if match), *taken])


_WHOLE = 0.999  # how like a sentence a phrase is that says all of it
_SCOPES = {
    "note": "for every note in counterpoint", "interval": "for every interval between each pair",
    "move": "for every move between each pair", "line": "for every line in counterpoint",
    "pair": "for every pair between each pair", "sonority": "for every sonority",
}  # fmt: skip
_BEGINS = re.compile(r"(?:replace )?rule\b|define\b|parameter\b|example\b")
_LOOKS = re.compile(r"\s*for (?:every|each|all|any)\b", re.IGNORECASE)
_SPEAKS = re.compile(r"\s*for (?:every|each|all|any) (\w+?)s?(?!\w)|rule ", re.IGNORECASE)
_OF_NOTES = r"\b(?:approach|departure|pitch|degree) is\b"
_FOREIGN = {"interval": _OF_NOTES, "move": _OF_NOTES, "note": r"(?<!\()\b(?:interval|motion) is\b"}


class _Search:
    """Looks for lines that could have been meant; counts its tries and its time."""

    def __init__(self, lines: list[str], path: str, known: set[tuple[int, str]], told: Told) -> None:
        self.written, self.path, self.known, self.told = lines, path, known, told
        self.lines = lines
        self.better: dict[int, str] = {}  # lines as they should be written, found so far
        self.tries = min(_MOST_TRIES, _MOST_READ // (1 + sum(map(len, lines))))
        self.unclear = False
        self.names = _names(lines)
        self.end = self.until = time.process_time() + _SECONDS
        self.reserved = 0
        self.tried: dict[tuple[int, str], set[tuple[int, str]]] = {}
        self.around: dict[int, str] = {}

    def share(self, shares: int) -> None:
        """Keep most of the work that is left for other mistakes: one mistake may use one of so many shares."""
        now = time.process_time()
        self.until = now + max(0.0, self.end - now) / shares
        self.reserved = self.tries - self.tries // shares

    def explain(self, problem: Diagnostic) -> Diagnostic:
        """The mistake, with the line as it should be written if one is found."""
        number = problem.line
        self._settle(number)
        if not 0 < number <= len(self.lines) or len(self.lines[number - 1]) > _LONGEST:
            return problem
        taken = self._vocabulary(problem)
        if taken:
            return replace(problem, hint=taken)
        if _STRUCTURE in problem.message:
            return self._completed(problem)
        in_notes = self.lines[number - 1].lstrip().startswith("|")
        self.unclear = _is_unclear(problem)
        self._expect_lack(number)
        found = None if in_notes else self._filled(problem) or self._near(problem) or self._mended(number, number)
        if found is None and not self.lines[number - 1][: problem.column - 1].strip():
            number = next((n for n in range(number - 1, 0, -1) if self.lines[n - 1].strip()), 0)
            found = self._mended(number, problem.line) if number else None
            problem = problem if found is None else self._moved(problem, number)
        if found is None:
            number = problem.line
            found = self._said_of_others(number)
        if found is None:
            return self._modelled(problem)
        line, reasons = found
        lost = (
            []
            if reasons == [problem.hint]
            else [
                each for each in dict.fromkeys(left_out(self.written[number - 1], line)) if each not in "".join(reasons)
            ]
        )
        if lost:
            reasons = [_not_understood(lost), *reasons]
        offered = _WITHOUT if _leaves_out((line, reasons)) else _OFFERED
        self.better[problem.line] = line
        return replace(problem, hint=" ".join([*dict.fromkeys(reasons), f"{offered}{line.strip()}"]))

    def _settle(self, number: int) -> None:
        """Read the file as it is mended so far, but for this line, so that no other line stands in its way."""
        around = {place: line for place, line in self.better.items() if place != number}
        if around != self.around:
            self.around, self.tried = around, {}
            self.lines = [around.get(place, line) for place, line in enumerate(self.written, 1)]
            self.names = _names(self.lines)
            self.known |= self._left(number, self.written[number - 1]) if 0 < number <= len(self.written) else set()

    def _expect_lack(self, number: int) -> None:
        """A rule with a line that can’t be read may lack other parts besides, which is told only without it."""
        if not self.unclear or self._is_spent():
            return
        lacks = [what for what, own in _LACKS if not re.search(own, self.lines[number - 1], re.IGNORECASE)]
        self.known |= {each for each in self._left(number, "") if any(what in each[1] for what in lacks)}

    def _vocabulary(self, problem: Diagnostic) -> str:
        """How to take a definition that ships, if an unknown word is one."""
        line = self.lines[problem.line - 1]
        word = line[problem.column - 1 : problem.column - 1 + problem.length].lower()
        known = next((each for each in (word, _SHIPPED.get(word, "")) if each in _shipped_definitions()), "")
        if not known or (known == word and word in self.names) or not problem.message.startswith("there is no"):
            return ""
        written = line[: problem.column - 1] + known + line[problem.column - 1 + problem.length :]
        changed = "" if known == word else f" {_OFFERED}{written.strip()}"
        if known in self.names:
            return f"Did you mean ‘{known}’?{changed}"
        return (
            f"‘{known}’ is defined in the shipped vocabulary: write ‘use vocabulary’ at the top of the file.{changed}"
        )

    def _moved(self, problem: Diagnostic, number: int) -> Diagnostic:
        """A mistake that was noticed on the next line, told at the end of the line that it is in."""
        line = self.lines[number - 1]
        message = "this is not finished"
        return replace(problem, line=number, column=len(line.rstrip()), length=1, message=message, source_line=line)

    def _modelled(self, problem: Diagnostic) -> Diagnostic:
        """A mistake of which nothing is made, with a line of its kind as a model if it was told in general words."""
        line = self.lines[problem.line - 1]
        for each in beyond():
            if each.pattern.search(line):
                return replace(problem, hint=each.why)
        words = re.findall(r"[^\W\d_]+", line.lower())
        begun = problem.message.startswith("no clause begins")
        kind = next((word for word in words if word in _models()), "forbid" if begun else "")
        is_scope = _LOOKS.match(line)
        near = None
        if self.unclear and not is_scope and not _UNFINISHED.search(line):
            near = self._by_the_book(problem.line, problem.line, 0) or self._in_another_rule(problem.line, 0)
        if near:
            model, reasons = near
            return replace(problem, hint=" ".join([*reasons, f"Near to it is: {model}"]))
        told = "such as" in problem.hint or "Did you mean" in problem.hint
        if told or not (begun or problem.message.endswith("here")):
            return problem
        unknown = unknown_words(line, self.names | _keywords())
        if unknown:
            problem = replace(
                problem, hint=f"No word of the language: ‘{'’, ‘'.join(unknown)}’. {problem.hint}".strip()
            )
        for model in _models().get(kind, []):
            left = self._left(problem.line, f"  {model}") if self.tries > self.reserved else None
            if left is not None and problem.line not in {number for number, _ in left} and left <= self.known:
                return replace(problem, hint=f"{problem.hint} Such a line is: {model}".strip())
        return problem

    def _by_the_book(self, number: int, noticed: int, least: float) -> Found | None:
        """Clauses that say at least so much of what a line says, in a rule that speaks of what this one does."""
        found = [match for match in matches(self.lines[number - 1], self.names) if match.likeness >= least]
        place = self._scope_of(number)
        spoken_of = re.match(r"\s*for \w+ (\w+?)s?\b", self.lines[place - 1]) if place else None
        for match in found[:_MOST_PROPOSALS]:
            if self._is_spent():
                return None
            here = not spoken_of or spoken_of[1] in match.of or match.of[0] not in _SCOPES
            if here and self._fits(number, noticed, f"  {match.clause}"):
                return match.clause, list(_why(Proposal(match.clause, open=match.open)))
        return None

    def _in_another_rule(self, number: int, least: float) -> Found | None:
        """The same in a rule that would speak of something else."""
        place = self._scope_of(number)
        found = [match for match in matches(self.lines[number - 1], self.names) if match.likeness >= least]
        others = (self._elsewhere(number, place, match) for match in found[:_MOST_SCOPES] if place)
        return next((each for each in others if each), None)

    def _fits(self, number: int, noticed: int, line: str) -> bool:
        """Whether a line can be used in the place of another: what is wrong then was wrong before, or is uncovered."""
        left = self._left(number, line)
        new = left - self.known
        return not {place for place, _ in left} & {number, noticed} and (
            not new or (not _LOOKS.match(line) and self._only_uncovers(new, number, line))
        )

    def _elsewhere(self, number: int, place: int, match: Match) -> Found | None:
        """A clause in a rule that speaks of what the clause asks of, if all of it can be used so."""
        for scope in (_SCOPES[each] for each in match.of if each in _SCOPES):
            written = list(self.lines)
            written[place - 1], written[number - 1] = f"  {scope}", f"  {match.clause}"
            self.tries -= 1
            told = {
                (each.line, each.message) for each in self.told("\n".join([*written, ""])) if each.path == self.path
            }
            if told <= self._but(place, number):
                self.better[place] = f"  {scope}"
                return match.clause, [f"That is asked with ‘{scope}’ in place of ‘{self.lines[place - 1].strip()}’."]
        return None

    def _scope_of(self, number: int) -> int:
        """The line of the same rule that says what it looks at; 0 if there is none."""
        begun = max((n for n in range(1, number) if _BEGINS.match(self.lines[n - 1])), default=0)
        ended = next(
            (n for n in range(number, len(self.lines) + 1) if _BEGINS.match(self.lines[n - 1])), len(self.lines)
        )
        return next((n for n in range(begun + 1, ended) if n != number and _LOOKS.match(self.lines[n - 1])), 0)

    def _completed(self, problem: Diagnostic) -> Diagnostic:
        """A rule that lacks a part, or has too many, with a line that makes it whole; each is tried."""
        number = problem.line
        known = {message for _, message in self.known} - {problem.message}
        for told, lines in self._wholes(number, problem.message):
            if self._is_spent():
                break
            self.tries -= 1
            if {each.message for each in self.told("\n".join(lines)) if each.path == self.path} <= known:
                return replace(problem, hint=f"{problem.hint} {told}".strip())
        return problem

    def _wholes(self, number: int, message: str) -> Iterator[tuple[str, list[str]]]:
        """What may make a rule whole, in words, and the file with it."""
        lines = self.lines
        if "lacks a ‘for every" in message:
            for kind in ("interval", "note", "line", "pair", "sonority", "exercise"):
                subject = data()["subjects"][kind]
                yield f"Here it can be: {subject}", [*lines[:number], f"  {subject}", *lines[number:]]
        past = next((n for n in range(number, len(lines)) if re.match(r"[^\s]", lines[n])), len(lines))
        found = {n: demand for n in range(number, past) if (demand := _DEMAND.fullmatch(lines[n]))}
        words = {demand[1].lower() for demand in found.values()}
        if " once, not " in message and "‘require’" in message and len(words) == 1 and len(found) > 1:
            joined = (" or " if words == {"forbid"} else " and ").join(demand[2] for demand in found.values())
            one = f"{words.pop()} {joined}"
            first = min(found)
            rest = [f"  {one}" if n == first else "" if n in found else line for n, line in enumerate(lines)]
            yield f"In one line: {one}", rest

    def _near(self, problem: Diagnostic) -> Found | None:
        """The line with the nearest word in the place of one that is misspelt, if that is all that is wrong."""
        near = _MEANT.match(problem.hint)
        line = self.lines[problem.line - 1]
        if near is None or problem.message.startswith("there is no rule"):
            return None
        if is_said(line[problem.column - 1 : problem.column - 1 + problem.length]):  # in other words, not misspelt
            return None
        changed = line[: problem.column - 1] + near[1] + line[problem.column - 1 + problem.length :]
        left = self._left(problem.line, changed)
        if problem.line in {number for number, _ in left} or not left <= self.known or self._is_spent():
            return None
        return changed, [problem.hint]

    def _said_of_others(self, number: int) -> Found | None:
        """A line as it is said in a rule that speaks of other things, if all of it can be said there."""
        place = self._scope_of(number) if self.unclear else 0
        speaks = _SPEAKS.match(self.lines[place - 1]) if place else None
        for kind, subject in data()["subjects"].items() if speaks else ():
            said = self._said_in(f"  {subject}", place, number) if speaks and kind != speaks[1] else None
            if said:
                why = f"That is asked with ‘{subject}’ in place of ‘{self.lines[place - 1].strip()}’."
                self.better[place] = f"  {subject}"
                return said[0], [*said[1], why]
        return None

    def _said_in(self, scope: str, place: int, number: int) -> Found | None:
        """A line as it is said in a rule that begins so; it is tried in one."""
        written, better = self.lines, dict(self.better)
        self.lines, self.tried = [*written[: place - 1], scope, *written[place:]], {}
        said = self._mended(number, number, deepest=1)
        left = self._left(number, said[0]) if said else set[tuple[int, str]]()
        self.lines, self.tried, self.better, changed = written, {}, better, self.better != better
        if said is None or changed or _leaves_out(said) or _OPEN in said[1] or not left <= self._but(place, number):
            return None
        line = written[number - 1]
        lost = any(left_out(line, said[0])) or _forgets_limit(line, said[0]) or _forgets_voices(line, said[0])
        return None if lost else said

    def _but(self, *places: int) -> set[tuple[int, str]]:
        """What is known to be wrong in other lines."""
        return {each for each in self.known if each[0] not in places}

    def _filled(self, problem: Diagnostic) -> Found | None:
        """The line with each placeholder filled in that can be; what can't be stands without its braces."""
        line = self.lines[problem.line - 1]
        start = line.rfind("{", 0, problem.column)
        if start < 0 or line.count('"', 0, start) % 2 == 0:
            return None
        better = {place: self._better_filled(problem.line, place) for place in _SLOT.finditer(line)}
        if self._is_spent():
            return None
        lost = [place[1].strip() for place, phrase in better.items() if "{" not in phrase and place[1].strip()]
        why = [f"Nothing is called ‘{'’ or ‘'.join(lost)}’ here: put in what is meant, or no braces."] if lost else []
        changed = _SLOT.sub(lambda place: next(better[each] for each in better if each.start() == place.start()), line)
        return changed, [_IN_BRACES, *why]

    def _better_filled(self, number: int, place: re.Match[str]) -> str:
        """What a placeholder should be: itself if it can stand, or what can be filled in there, or its bare words."""
        before, after = (
            re.sub(r"[{}]", "", part) for part in (place.string[: place.start()], place.string[place.end() :])
        )
        words = place[1].split()
        shortest = len(words) if place[0].endswith("}") else 1
        for count in range(len(words), shortest - 1, -1):  # one that is not closed may end after any of its words
            said = " ".join(words[:count]).rstrip(".,;:!?")
            rest = " ".join(words)[len(said) :]
            for phrase in (
                said,
                *islice(self._placeholders(number, said, before), _MOST_PROPOSALS if count == shortest else 0),
            ):
                if phrase and not self._on(number, f"{before}{{{phrase}}}{after}"):
                    return f"{{{phrase}}}{rest}"
        return " ".join(words)

    def _placeholders(self, number: int, said: str, before: str) -> Iterator[str]:
        """What can be meant by a placeholder: a number that the rule compares, or what the word before it names."""
        if _NUMBER.fullmatch(said):
            yield from (found[1] for found in map(_COUNTED.match, self.lines[number:]) if found)
        named = re.search(r"(\w+) $", before)
        yield from (
            *(placeholders(said) if said else ()),
            *(placeholders(named[1]) if named else ()),
            *placeholders(said),
        )

    def _on(self, number: int, line: str) -> set[tuple[int, str]]:
        """What is wrong on a line when it reads so."""
        return set() if self._is_spent() else {each for each in self._left(number, line) if each[0] == number}

    def _mended(self, number: int, noticed: int, deepest: int = _DEEPEST) -> Found | None:
        """The nearest line that can be used in the place of a line, with the reasons for each change."""
        written = self.lines[number - 1]
        bare = _ARTICLE.sub("", written)  # articles mean nothing, but may stand in the way of a pattern
        layer: list[Found] = [(each, []) for each in dict.fromkeys((written, bare))]
        seen = {written, bare}
        said: Found | None = None
        for depth in range(deepest):
            found, likely, layer = self._layer(layer, seen, number, noticed)
            said = self._said(number, noticed) if depth == 0 and not found else said
            found = found or (None if said and _leaves_out(said) else said) or likely
            if found or self._is_spent():
                return found or said
        return said

    def _layer(
        self, layer: list[Found], seen: set[str], number: int, noticed: int
    ) -> tuple[Found | None, Found | None, list[Found]]:
        """The first line that one more slip makes good, one that only uncovers other mistakes, those to go on from."""
        likely: Found | None = None
        following: list[Found] = []
        for line, reasons in layer:
            for changed, reason in (*self._hyphened(line), *changes(line)):
                if changed in seen:
                    continue
                if self._is_spent():
                    return None, likely, []
                seen.add(changed)
                left = self._left(number, changed)
                found = changed, [*reasons, reason]
                new = left - self.known
                if not {line for line, told in left if _STRUCTURE not in told} & {number, noticed}:
                    if not new:
                        return found, None, []
                    likely = likely or (found if self._only_uncovers(new, number, changed) else None)
                following.append(found)
        return None, likely, following

    def _only_uncovers(self, new: set[tuple[int, str]], number: int, line: str) -> bool:
        """Whether what is wrong besides, with a line mended, is not of its making."""
        before = next((n for n in range(number - 1, 0, -1) if self.lines[n - 1].strip()), 0)
        begun = line.startswith("replace rule ")  # a new rule, of which the clauses are still to come
        return begun or not any(_STRUCTURE in message or place == before for place, message in new)

    def _hyphened(self, line: str) -> Iterator[tuple[str, str]]:
        """The line with the words of a name of the author’s joined by hyphens."""
        for name in self.names:
            joined = re.sub(rf"(?<![\w-]){name.replace('-', ' ')}s?(?![\w-])", name, line) if "-" in name else line
            if joined != line:
                yield joined, f"‘{name}’ is one word, with hyphens."

    def _said(self, number: int, noticed: int) -> Found | None:
        """The line as the clause that says what its words ask for: the one that leaves least amiss."""
        found: list[tuple[int, Proposal]] = []
        if not self.unclear or _UNFINISHED.search(self.lines[number - 1]):
            return None
        line = self.lines[number - 1]
        whole = self._by_the_book(number, noticed, _WHOLE) or self._in_another_rule(number, _WHOLE)
        if whole:
            return whole
        for proposal in islice(proposals(line, self.names), _MOST_PROPOSALS):
            if self._is_spent():
                break
            if (
                _changes_kind(line, proposal.clause)
                or self._is_said_of_others(number, proposal.clause)
                or _BARE_PLACE.fullmatch(proposal.clause)
            ):
                continue
            left = self._left(number, f"  {proposal.clause}")
            if not {line for line, _ in left} & {number, noticed} and left <= self.known:
                found.append((len(left), proposal))
        if not found:
            return None
        _, best = min(found, key=lambda each: each[0])
        return best.clause, list(_why(best))

    def _is_said_of_others(self, number: int, clause: str) -> bool:
        """Whether a clause asks what can’t be asked of the things that its rule speaks of."""
        above = (_SPEAKS.match(line) for line in reversed(self.lines[: number - 1]))
        kind = next((match[1] for match in above if match), "")
        return kind in _FOREIGN and bool(re.search(_FOREIGN[kind], clause))

    def _is_spent(self) -> bool:
        return self.tries <= self.reserved or time.process_time() > self.until

    def _left(self, number: int, line: str) -> set[tuple[int, str]]:
        """What is wrong, and in which lines, when this one stands there."""
        if (number, line) not in self.tried:
            self.tries -= 1
            text = "\n".join([*self.lines[: number - 1], line, *self.lines[number:], ""])
            told = {(problem.line, problem.message) for problem in self.told(text) if problem.path == self.path}
            self.tried[number, line] = told
        return self.tried[number, line]


_LIMIT = re.compile(r"(?<![\w-])(?:max\w*|min\w*|at most|at least|more|less|fewer|once|up to)(?![\w-])", re.IGNORECASE)
_COMPARES = re.compile(r"at most|at least|than|\bis \d")


def _forgets_limit(line: str, offered: str) -> bool:
    """Whether a line says how many, and what is offered for it does not."""
    return bool(_LIMIT.search(line)) and not _COMPARES.search(offered)


def _forgets_voices(line: str, offered: str) -> bool:
    """Whether a line speaks of voices or bars, and what is offered for it does not."""
    return any(word in line and word[:-1] not in offered for word in ("voices", "bars", "measures"))


def _leaves_out(found: Found) -> bool:
    """Whether words were not understood."""
    return any(reason.endswith(_NOT_UNDERSTOOD) for reason in found[1])


def _changes_kind(line: str, clause: str) -> bool:
    """Whether a line begins as a statement of the language does, and what is offered as another."""
    begun = re.match(r"(set|drop|take|use|build|lay|excuse|replace|example)\b", line, re.IGNORECASE)
    return begun is not None and not clause.lower().startswith(begun[1].lower())


def _not_understood(words: Sequence[str]) -> str:
    return f"‘{'’, ‘'.join(words)}’ {'is' if len(words) == 1 else 'are'} {_NOT_UNDERSTOOD}"


def _why(proposal: Proposal) -> Iterator[str]:
    """What is told with a clause that was read from a sentence."""
    if proposal.unknown:
        yield _not_understood(proposal.unknown)
    if "run where (approach is repetition)" in proposal.clause:
        yield "A note that sounds three times is repeated twice."
    if proposal.open:
        yield _OPEN
    yield from (reason for word, reason in _reasons().items() if proposal.clause.startswith(word))
