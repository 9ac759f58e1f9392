"""What is kept beside a ruleset: its own, whatever others are like it, and gone when it is."""

import gc
from dataclasses import replace
from weakref import ref

from rulekit.beside import Beside
from rulekit.exercise.notation import read_exercises
from rulekit.language.loading import load_ruleset
from rulekit.marking import mark
from rulekit.page.pictures import Pictures
from rulekit.trying import try_ruleset


def test_each_thing_has_its_own() -> None:
    kept, one = Beside(list[str]), load_ruleset("vocabulary")
    other = replace(one)
    kept.of(one).append("said")
    assert one == other and kept.of(one) == ["said"] and kept.of(other) == []


def test_what_is_kept_goes_with_the_thing() -> None:
    kept, one, other = Beside(list[object]), load_ruleset("vocabulary"), load_ruleset("the-ends")
    kept.of(one).append(other)
    gone = ref(other)
    del other
    gc.collect()
    assert gone() is not None
    del one
    gc.collect()
    assert gone() is None


def test_nothing_made_of_a_ruleset_holds_it() -> None:
    (exercise,), _ = read_exercises("upper A4 B4 A4\ncantus D4 D4 D4")
    ruleset = load_ruleset("first-species-strict")
    assert mark(exercise, ruleset).findings and try_ruleset(ruleset)
    assert Pictures().rejected(ruleset.rules[0], ruleset)
    gone = ref(ruleset)
    del ruleset
    gc.collect()
    assert gone() is None
