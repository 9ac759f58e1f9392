"""What the search knows of the future: stopped counts change no hit, and what is doomed never recovers."""

from hypothesis import given, settings
from hypothesis import strategies as st

from rulekit.compiler.monitor import Hit, Monitor, monitors
from rulekit.exercise.model import ALLA_BREVE, Exercise
from rulekit.exercise.timeline import moments
from rulekit.language.ruleset import Ruleset
from tests.laws.strategies import exercises
from tests.solving.cases import D_DORIAN, POOL, grades, pooled, ruleset, voice, written

_WHOLE = [name for name, text in POOL.items() if text.split()[2] in ("line", "pair", "exercise")]
wholes = st.dictionaries(st.sampled_from(_WHOLE), grades, min_size=1, max_size=4).map(lambda c: ruleset(*c.items()))


def hits(monitor: Monitor, exercise: Exercise) -> list[list[Hit]]:
    """The hits at every moment, and at the end."""
    state, found = monitor.start, list[list[Hit]]()
    for moment in moments(exercise):
        state, now = monitor.step(state, moment)
        found.append(now)
    return [*found, monitor.finish(state)]


def hits_of_all(rules: Ruleset, exercise: Exercise, saturate: bool) -> dict[object, list[list[Hit]]]:
    """For each rule and its voices the hits at every moment, whichever of its monitors finds them."""
    found: dict[object, list[list[Hit]]] = {}
    for monitor in monitors(rules, exercise.setting, saturate):
        own, key = hits(monitor, exercise), (monitor.rule.name, monitor.voices)
        found[key] = [one + other for one, other in zip(found.get(key, [[]] * len(own)), own, strict=True)]
    return found


@settings(max_examples=60, deadline=None)
@given(pooled | wholes | written(), exercises())
def test_stopped_and_shared_counts_change_no_hit(rules: Ruleset, exercise: Exercise) -> None:
    assert hits_of_all(rules, exercise, False) == hits_of_all(rules, exercise, True)


@settings(max_examples=60, deadline=None)
@given(wholes | written(), exercises(), st.booleans())
def test_what_is_doomed_is_broken_at_the_end(rules: Ruleset, exercise: Exercise, saturate: bool) -> None:
    for monitor in monitors(rules, exercise.setting, saturate):
        state, doomed = monitor.start, False
        for moment in moments(exercise):
            state, _ = monitor.step(state, moment)
            assert not doomed or monitor.doomed(state)
            doomed = doomed or monitor.doomed(state)
        assert not doomed or any(hit.licence is None for hit in monitor.finish(state))


def test_some_rules_are_doomed_early() -> None:
    rules = ruleset(("few-leaps", "fault"), ("lowest", "fault"))
    made = monitors(rules, _leaping().setting, saturate=True)
    watched = {monitor.rule.name: monitor for monitor in made if 0 in monitor.voices}
    first_doomed: dict[str, int] = {}
    for name, monitor in watched.items():
        state = monitor.start
        for number, moment in enumerate(moments(_leaping()), 1):
            state, _ = monitor.step(state, moment)
            if monitor.doomed(state):
                first_doomed.setdefault(name, number)
    assert first_doomed == {"few-leaps": 3}


def _leaping() -> Exercise:
    """Five notes with leaps from the first on, ending on its lowest note D4."""
    cantus = voice("cantus", "D4 F4 G4 E4 D4")
    return Exercise("leaps", (voice("upper", "A4 E4 A4 G4 D4"), cantus), D_DORIAN, ALLA_BREVE, 1)
