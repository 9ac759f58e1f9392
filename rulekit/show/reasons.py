"""Why a rule judged as it did, in sentences."""

from collections.abc import Iterator

from rulekit.explaining import Explained, Step, Tried

_HELD = {True: "held", False: "did not hold", None: "could not be judged"}


def sentences(each: Explained) -> Iterator[str]:
    """Every condition with what it saw, then every licence tried with what it lacked."""
    for step in each.steps:
        yield step_words(step)
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
    return f"{required}‘{step.words}’ {_HELD[step.held]}{f': {saw}' if saw else ''}"


def lack_words(tried: Tried) -> str:
    """What a licence lacked."""
    return "; ".join(dict.fromkeys(step_words(step) for step in tried.lacked))


def _saw(step: Step) -> Iterator[str]:
    for phrase, value in step.saw:
        yield f"{phrase} was {'missing' if value == 'nothing' else value}"
    for part in step.deciding:
        yield from _saw(part)


def licence_name(tried: Tried) -> str:
    """What a licence is called."""
    return tried.name or f"‘{tried.reason}’"


def near_words(tried: Tried) -> str:
    """The licence that nearly applied to a finding."""
    return f"nearly excused as {licence_name(tried)}: {lack_words(tried)}"
