"""Why a rule judged as it did, in sentences."""

import re
from collections.abc import Iterator

from rulekit.explaining import Explained, Step, Tried
from rulekit.music.pitch import interval_words

_CODE = re.compile(r"(?<![\w-])(?<!pitch )(P|M|m|A{1,4}|d{1,4})([1-9]\d?)(?![\w-])")
_HELD = {True: "held", False: "did not hold", None: "could not be judged"}


def sentences(each: Explained) -> Iterator[str]:
    """Every condition with what it saw, then every licence tried with what it lacked."""
    if each.outcome == "passed over" and not each.steps:
        yield "the rule looks at none of these"
    for step in each.steps:
        yield step_words(step)
    yield from tried_words(each)


def tried_words(each: Explained) -> Iterator[str]:
    """Every licence that was tried, with what it lacked."""
    for tried in each.licences:
        if tried.step.held:
            yield f"licence {licence_name(tried)}: {step_words(tried.step)}"
        else:
            near = " came nearest" if tried is each.nearest and len(each.licences) > 1 else ""
            yield f"licence {licence_name(tried)}{near}: {lack_words(tried)}"


def reason(each: Explained) -> str:
    """What decided, in one sentence."""
    if each.outcome == "broken":
        return "; ".join(step_words(step) for step in each.steps)
    if each.outcome == "excused":
        return next(f"licence {licence_name(x)}: {step_words(x.step)}" for x in each.licences if x.step.held)
    deciding = [step for step in each.steps if step.breaks is False] or [s for s in each.steps if s.breaks is None]
    return step_words(deciding[0]) if deciding else "it does not look here"


def step_words(step: Step) -> str:
    """A condition, whether it held, and what it or its deciding parts saw."""
    saw = ", ".join(dict.fromkeys(_saw(step)))
    required = "the required " if step.required else ""
    return f"{required}‘{_named(step.words)}’ {_HELD[step.held]}{f': {saw}' if saw else ''}"


def _named(words: str) -> str:
    """A condition with its intervals in words: among note names a code may be taken for a note."""
    return _CODE.sub(lambda code: interval_words(code[1], int(code[2])), words)


def lack_words(tried: Tried) -> str:
    """What a licence lacked."""
    return "; ".join(dict.fromkeys(step_words(step) for step in tried.lacked))


def _saw(step: Step) -> Iterator[str]:
    for phrase, value in step.saw:
        yield f"{phrase} was {'missing' if value == 'nothing' else value}"
    for part in step.deciding:
        if part.words in step.words:
            yield from _saw(part)
        else:  # of a definition
            yield step_words(part)


def licence_name(tried: Tried) -> str:
    """What a licence is called."""
    return tried.name or f"‘{tried.reason}’"


def near_words(tried: Tried) -> str:
    """The licence that nearly applied to a finding."""
    return f"nearly excused as {licence_name(tried)}: {lack_words(tried)}"
