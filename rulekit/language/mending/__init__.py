"""A mistake told with the line as it should be written.

What could have been meant comes from the slips and from the words of the sentence; a line is offered only if the file
can be used with it in the place of the author's.
"""

from collections.abc import Sequence
from dataclasses import replace

from rulekit.diagnostics import Diagnostic
from rulekit.language.intent import left_out
from rulekit.language.mending.attempts import STRUCTURE, Attempts, Found, Told
from rulekit.language.mending.brackets import MIXED, bracketed
from rulekit.language.mending.counted import run_counted
from rulekit.language.mending.elsewhere import asked_of_others, said_of_others
from rulekit.language.mending.halves import halved
from rulekit.language.mending.licences import licensed
from rulekit.language.mending.lines import mended
from rulekit.language.mending.models import OFFERED, is_near, modelled, nearest_words, of_the_vocabulary
from rulekit.language.mending.placeholders import filled
from rulekit.language.mending.reasons import leaves_out, named, not_understood
from rulekit.language.mending.rules import completed, speaks_of_all
from rulekit.language.mending.wording import begun, reworded
from rulekit.language.slips import data

_LONGEST = 300  # characters of a line that is mended
_WITHOUT = "Without it one would write: "
_UNCLEAR = ("no clause begins with", "there is no ", "this is no condition")


def explained(problems: Sequence[Diagnostic], text: str, path: str, told: Told) -> list[Diagnostic]:
    """The mistakes of a file, each with the line as it should be written if one is found.

    ``told`` gives what is wrong with another text of the file. The work spent on it is bounded.
    """
    file = Attempts(text.split("\n"), path, {(problem.line, problem.message) for problem in problems}, told)
    file.problems = [problem for problem in problems if problem.path == path]
    found = list(problems)
    for shares in (len(problems), 1):  # an easy mistake first gets its part of the work, then a hard one the rest
        for number, problem in enumerate(problems):
            if problem.path == path and OFFERED not in found[number].hint and problem.line not in file.respelt:
                file.share(shares)
                found[number] = _explain(file, problem)
    return [_answered(each) for each in _one_a_line(found, file.respelt)]


def _explain(file: Attempts, problem: Diagnostic) -> Diagnostic:
    """The mistake, with the line as it should be written if one is found."""
    number = problem.line
    file.settle(number)
    if not 0 < number <= len(file.lines) or len(file.lines[number - 1]) > _LONGEST:
        return problem
    taken = of_the_vocabulary(file, problem)
    if taken:
        return replace(problem, hint=taken)
    if STRUCTURE in problem.message:
        return completed(file, problem)
    in_notes = file.lines[number - 1].lstrip().startswith("|")
    file.unclear = _is_unclear(problem)
    file.expect_lack(number)
    found = None if in_notes else _mended(file, problem)
    if found is None and not file.lines[number - 1][: problem.column - 1].strip():
        number = next((n for n in range(number - 1, 0, -1) if file.lines[n - 1].strip()), 0)
        found = mended(file, number, problem.line) if number else None
        problem = problem if found is None else _moved(file, problem, number)
    if found is None:
        number = problem.line
        is_elsewhere = problem.message.endswith("can’t be asked here")
        found = (asked_of_others(file, number) if is_elsewhere else None) or said_of_others(file, number)
    if found is None:
        return modelled(file, problem)
    line, reasons = found
    lost = (
        []
        if reasons == [problem.hint]
        else [each for each in dict.fromkeys(left_out(file.written[number - 1], line)) if each not in "".join(reasons)]
    )
    if lost:
        reasons = [not_understood(lost), *reasons]
    if speaks_of_all(file.written[number - 1]) and "approach" in line and not file.scope_of(number):
        reasons = [*reasons, "That is asked in a rule ‘for every note in each voice’."]
    reasons = named(reasons, file.written[number - 1], line)
    offered = _WITHOUT if leaves_out((line, reasons)) else OFFERED
    file.better[problem.line] = line
    told = [reason for reason in dict.fromkeys(reasons) if not reason.startswith("Write ‘")]
    return replace(problem, hint=" ".join([*told, f"{offered}{line.strip()}"]))


def _mended(file: Attempts, problem: Diagnostic) -> Found | None:
    """The line as it should be written: the surest ways to find it first."""
    number, column = problem.line, problem.column
    of_voices = problem.message.endswith("name voices")  # of which many are near each other
    return (
        filled(file, problem)
        or begun(file, number, problem.message)
        or reworded(file, number, column, problem.message)
        or (None if of_voices else nearest_words(file, problem))
        or (bracketed(file, number, number) if problem.message.startswith(MIXED) else None)
        or licensed(file, number, number)
        or halved(file, number, number)
        or run_counted(file, number, number)
        or mended(file, number, number)
        or (nearest_words(file, problem) if of_voices else None)
    )


def _moved(file: Attempts, problem: Diagnostic, number: int) -> Diagnostic:
    """A mistake that was noticed on the next line, told at the end of the line that it is in."""
    line = file.lines[number - 1]
    message = "this is not finished"
    return replace(problem, line=number, column=len(line.rstrip()), length=1, message=message, source_line=line)


def _answered(problem: Diagnostic) -> Diagnostic:
    """The mistake with what to do about it, if its message says only what it is."""
    if problem.hint:
        return problem
    return replace(
        problem, hint=next((hint for part, hint in data()["answers"].items() if part in problem.message), "")
    )


def _one_a_line(problems: list[Diagnostic], respelt: set[int]) -> list[Diagnostic]:
    """Of the mistakes on a line the one with a better line, if it is not respelt; of words not understood the first."""
    offers = {(each.path, each.line): each for each in reversed(problems) if _is_offer(each)}
    unclear = {(each.path, each.line): each for each in reversed(problems) if _is_unread(each)}
    kept = [each for each in problems if offers.get((each.path, each.line), each) is each or each.line in respelt]
    return [
        each
        for each in kept
        if not _is_unread(each) or is_near(each) or each in (unclear[each.path, each.line], *offers.values())
    ]


def _is_offer(problem: Diagnostic) -> bool:
    return OFFERED in problem.hint or _WITHOUT in problem.hint


def _is_unclear(problem: Diagnostic) -> bool:
    """Whether the words were not understood, rather than understood and found wrong."""
    return _is_unread(problem) or problem.message.endswith(("name voices", "asked here"))


def _is_unread(problem: Diagnostic) -> bool:
    """Whether the words could not even be read as a phrase."""
    unread = problem.message.endswith(("expected here", "read here", "too early"))
    return unread or problem.message.startswith(_UNCLEAR)
