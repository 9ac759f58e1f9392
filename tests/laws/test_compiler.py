"""The compiler against the plain meaning of rules: monitors fed moment by moment find what the whole shows."""

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rulekit.compiler.monitor import Monitor, monitors
from rulekit.diagnostics import RulekitError
from rulekit.exercise.model import Exercise
from rulekit.exercise.timeline import moments
from rulekit.language.ruleset import Ruleset, load_text
from rulekit.marking import mark
from tests.laws.naive import Breach, breaches
from tests.laws.strategies import DEFINITIONS, exercises, rules


def watched(monitor: Monitor, exercise: Exercise) -> list[Breach]:
    """What one monitor finds, its hits placed by counting samples."""
    state, count, found, doomed = monitor.start, 0, [], False
    for moment in moments(exercise):
        if not monitor.rule.whole and monitor.feed.of(moment) is not None:
            count += 1
        state, hits = monitor.step(state, moment)
        found += [(count, hit) for hit in hits]
        doomed = doomed or monitor.doomed(state)
    hash(state)
    found += [(count, hit) for hit in monitor.finish(state)]
    assert found or not doomed, "given up too early"
    return [
        Breach(
            monitor.rule.name,
            monitor.voices,
            None if hit.back is None else count - 1 - hit.back,
            None if hit.licence is None else monitor.rule.licences[hit.licence].reason,
        )
        for count, hit in found
    ]


def load(*texts: str) -> Ruleset:
    try:
        return load_text(DEFINITIONS + "\n".join(texts))
    except RulekitError:
        assume(False)
        raise


@settings(max_examples=400, deadline=None)
@given(rules("one"), st.lists(exercises(), min_size=1, max_size=3), st.booleans())
def test_monitors_find_what_the_whole_exercise_shows(text: str, tried: list[Exercise], saturate: bool) -> None:
    ruleset = load(text)
    for exercise in tried:
        made = monitors(ruleset, exercise.setting, saturate)
        found = [breach for monitor in made for breach in watched(monitor, exercise)]
        assert len(found) == len(set(found))
        assert set(found) == breaches(ruleset.rules, exercise)
        assert len(mark(exercise, ruleset).findings) == len(found)
