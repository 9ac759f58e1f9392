"""Whatever a stranger types, it is refused in words and in good time, and nothing of it is executed."""

import os
import random
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rulekit.diagnostics import RulekitError
from rulekit.exercise.notation import read_exercises
from rulekit.language import limits
from rulekit.language.loading import load_ruleset, load_text
from rulekit.language.mending import attempts
from rulekit.marking import mark
from rulekit.resources import shipped
from tests.laws.strategies import DEFINITIONS, rules

_TOKENS = re.compile(r'"[^"\n]*"|\|[^\n]*|[\w#-]+|\s+|[^\w\s]')
_SAMPLES = sorted(shipped("rulesets").glob("*.rules"))
_SECONDS = 5.0
_EXERCISE = read_exercises("high A4 C5/2 B4 | A4 r A4/1\nmiddle r E4 F4 E4\ncantus D4 C4 D4 D4\n")[0][0]
_RULE = '\n  "Broken."\n  for every interval\n  {clauses}\n  fault\n  source "common practice"\n'


def rule(clauses: str, name: str = "one") -> str:
    return f"rule {name}" + _RULE.format(clauses=clauses)


def tried(text: str, folder: Path | None = None) -> list[str]:
    """Load a text that may be wrong in any way; its mistakes as messages."""
    try:
        mark(_EXERCISE, load_text(text, "stranger.rules", folder))
    except RulekitError as error:
        assert error.diagnostics
        assert all(d.line >= 1 and d.column >= 1 and d.message for d in error.diagnostics)
        return [str(diagnostic) for diagnostic in error.diagnostics]
    return []


@pytest.fixture(scope="module", autouse=True)
def few_suggestions() -> Iterator[None]:
    """Each suggestion is one more text to read; many would only read the same words again."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(attempts, "_MOST_TRIES", 2)
        yield


@settings(deadline=None)
@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    tried(text)


@settings(deadline=None)
@given(st.binary())
def test_any_file_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    path = tmp_path_factory.mktemp("bytes") / "stranger.rules"
    path.write_bytes(data)
    try:
        load_ruleset(path)
    except RulekitError as error:
        assert error.diagnostics


_WORDS = st.sampled_from(
    "rule define parameter set use build on adjust drop excuse example replace for every note interval move between "
    "voice voices when require forbid is not are at least most above than wider higher each “ ” missing "
    "begins then previous next upper it of "
    "first last but one 3rd in bar P5 M99 A1 pitch C4 3 99999 0 50% ( ) , : + - times run where with same "
    'number notes share longest time span fault points once source "a {b} c" accepts rejects | -- a the'.split(" ")
)


@settings(deadline=None)
@given(st.lists(_WORDS, max_size=30))
def test_any_row_of_words_is_read_or_refused(words: list[str]) -> None:
    tried(" ".join(words))
    tried(rule(" ".join(words)))


@settings(deadline=None)
@given(rules("one"), st.randoms(use_true_random=False))
def test_a_rule_with_slips_is_read_or_refused(text: str, chance: random.Random) -> None:
    tried(DEFINITIONS + slip(text, chance))


@pytest.mark.parametrize("path", _SAMPLES, ids=lambda path: path.stem)
@settings(max_examples=15, deadline=None)
@given(chance=st.randoms(use_true_random=False))
def test_a_shipped_ruleset_with_slips_is_read_or_refused(path: Path, chance: random.Random) -> None:
    tried(slip(path.read_text(encoding="utf-8"), chance), path.parent)


def slip(text: str, chance: random.Random) -> str:
    """The text with a few of its tokens lost, doubled or exchanged."""
    tokens = _TOKENS.findall(text)
    for _ in range(chance.randint(1, 4)):
        here, there = chance.randrange(len(tokens)), chance.randrange(len(tokens))
        match chance.randrange(3):
            case 0:
                tokens[here] = ""
            case 1:
                tokens[here] = f"{tokens[here]} {tokens[here]}"
            case _:
                tokens[here], tokens[there] = tokens[there], tokens[here]
    return "".join(tokens)


_SIGNS = st.sampled_from("upper cantus A4 B4/2 r | ~ mode: time: 3/2 C#9 : / x\n \n".split(" "))


@settings(deadline=None)
@given(st.text() | st.lists(_SIGNS).map(" ".join))
def test_any_exercise_is_read_or_refused(text: str) -> None:
    _, problems = read_exercises(text)
    assert all(problem.line >= 1 and problem.message for problem in problems)


# ---- hostile files -----------------------------------------------------------------------------

_MANY = 60_000


def _chain(count: int) -> str:
    steps = "".join(f"define c{i} for a note as not (it is c{i - 1})\n" for i in range(1, count))
    return f"define c0 for a note as it is on the downbeat\n{steps}" + rule(f"forbid upper is c{count - 1}")


def _doubling(count: int) -> str:
    steps = "".join(f"define w{i} for a note as it is w{i - 1} and it is w{i - 1}\n" for i in range(1, count))
    return f"define w0 for a note as it is on the downbeat\n{steps}" + rule(f"forbid upper is w{count - 1}")


def _doubling_sets(count: int) -> str:
    steps = "".join(f"define s{i} as s{i - 1} or s{i - 1}\n" for i in range(1, count))
    return f"define s0 as P1 or P5\n{steps}" + rule(f"forbid interval is s{count - 1}")


def _doubling_figures(count: int) -> str:
    steps = "".join(f"define f{i} as f{i - 1} then f{i - 1}\n" for i in range(1, count))
    return f"define f0 as step then step\n{steps}" + rule(f"forbid upper begins f{count - 1}")


HOSTILE = {
    "deep brackets": rule("forbid " + "(" * 5_000 + "interval is P5" + ")" * 5_000),
    "brackets at the limit": rule("forbid " + "(" * 100 + "interval is P5" + ")" * 100),
    "open brackets": rule("forbid " + "(" * _MANY),
    "brackets in a placeholder": f'rule one\n  "{"{" + "(" * 5_000 + "interval" + ")" * 5_000 + "}"}"\n  for every '
    'interval\n  forbid interval is P5\n  fault\n  source "common practice"\n',
    "many nots": rule("forbid " + "not " * _MANY + "interval is P5"),
    "many previous": rule("forbid " + "previous " * 20_000 + "interval is P5"),
    "many sums": rule("forbid bar + " + "1 + " * 20_000 + "1 is 5"),
    "many falls": rule("forbid approach to upper is " + "falling " * 20_000 + "P5"),
    "a long row of or": rule("forbid interval is P1" + " or P5" * 30_000),
    "many whens": rule("when interval is P5\n" * 10_000 + "forbid interval is P5"),
    "many licences": rule(
        "forbid interval is P5\n" + "".join(f'excused as x{number} when bar is 1 "x"\n' for number in range(8_000))
    ),
    "definitions in a long chain": _chain(390),
    "definitions that double": _doubling(60),
    "many definitions that double": _doubling(390),
    "sets that double": _doubling_sets(60),
    "figures that double": _doubling_figures(60),
    "a definition of itself": "define c for a note as it is c\n" + rule("forbid upper is c"),
    "a huge number": rule(f"forbid bar is {'9' * 100_000}"),
    "a huge percentage": rule("forbid bar is 1") + f"parameter p is a proportion, usually {'9' * 100_000}%\n",
    "a huge interval": rule(f"forbid interval is P{'9' * 100_000}"),
    "a huge ordinal": rule(f"at {'9' * 100_000}th\nforbid interval is P5"),
    "a huge voice": rule("forbid interval is P5").replace(
        "interval", f"interval between voices 1 and {'9' * 100_000}", 1
    ),
    "a product of numbers": rule("forbid bar is " + "9999 times (" * 25 + "9999" + ")" * 25),
    "a row of bars": rule("at in bars 1 to 10000\n" * 200 + "forbid interval is P5"),
    "a long name": rule(f"forbid {'x' * 200_000} is P5"),
    "a long text": f'rule one "{"{interval}" * 20_000}"' + rule("forbid interval is P5")[8:],
    "a long message": rule("forbid interval is P5").replace("Broken.", "{interval}" * 20_000),
    "many statements": "drop a\n" * 30_000,
    "many mistakes": "set\n" * 60_000,
    "many rules": "".join(rule("forbid interval is P5", f"r{i}") for i in range(2_000)),
    "many names dropped": "drop a" + ", a" * 80_000,
    "a huge file": "-- x\n" * 1_000_000,
    "only line ends": "\n" * 250_000,
    "a zero byte": "ruleset \"a\0b\"\nuse \"a\0b\"\n\0",
    "a long path": f'use "{"a/" * 50_000}"',
    "a long file name": f'use "{"a" * 5_000}"',
    "half a surrogate": 'ruleset "\ud800"\nuse "\ud800"\n' + rule("forbid interval is \ud800"),
    "numbers of other scripts": "".join(
        rule(f"forbid interval between voices {a} and {b} is P5", f"r{i}") + rule(f"forbid bar is {a}", f"s{i}")
        for i, (a, b) in enumerate([("²", "³"), ("٣", "٤"), ("①", "②"), ("Ⅷ", "一")])
    ),
}  # fmt: skip


def spread(text: str) -> str:
    """The text with its long lines broken wherever a space or bracket allows."""
    return re.sub(r"([^\n]{500,700}?)(?: |(?<=[()}]))", r"\1\n ", text)


@pytest.mark.parametrize("shape", [str, spread])
@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_files_are_refused_in_good_time(text: str, shape: Callable[[str], str]) -> None:
    text = shape(text)
    began = time.process_time()
    messages = tried(text)
    assert time.process_time() - began < _SECONDS
    assert all(len(message) < 3_000 for message in messages)
    assert len(messages) <= limits.MAX_ITEMS


@pytest.mark.parametrize("name", ["deep brackets", "many nots", "definitions in a long chain", "many mistakes",
                                  "definitions that double", "figures that double", "a huge number", "a huge file",
                                  "a huge percentage", "many statements", "a long path", "a definition of itself",
                                  "a huge voice", "many falls"])  # fmt: skip
def test_hostile_files_are_not_accepted(name: str) -> None:
    assert tried(HOSTILE[name])
    assert tried(spread(HOSTILE[name]))


_DEEP = "".join(f"define w{i} for a note as it is w{i - 1} and it is w{i - 1}\n" for i in range(1, 10))
_NAMES = ["abcdefgh" * 3 + f"{i:08o}".translate(str.maketrans("01234567", "hgfedcba")) for i in range(195)]
SLOW = {
    "many rules near the limit": "define w0 for a note as it is on the downbeat\n" + _DEEP
    + "".join(rule("forbid upper is w9", f"r{i}") for i in range(380)),
    "many users of a definition that is too large": _DEEP.replace("w", "v") + _doubling(60)
    + "".join(rule("forbid upper is w59", f"r{i}") for i in range(300)),
    "many long names": "".join(f"define {n} as P5\n" for n in _NAMES)
    + "".join(f"define x{n} as {n[::-1]}\n" for n in _NAMES),
}  # fmt: skip


@pytest.mark.parametrize("text", SLOW.values(), ids=SLOW.keys())
def test_what_is_written_out_and_compared_is_bounded_for_the_whole(text: str) -> None:
    began = time.process_time()
    messages = tried(text)
    assert time.process_time() - began < _SECONDS
    assert messages
    assert len(messages) <= limits.MAX_PROBLEMS + 1


def test_a_definition_with_a_mistake_is_told_once() -> None:
    users = "".join(rule("forbid upper is wrong", f"r{i}") for i in range(3))
    assert len(tried("define wrong for a note as pitch is strnog\n" + users)) == 1


@pytest.mark.parametrize("name", ["../secret", "../secret.rules", "../secret.txt", "/dev/zero", "/etc/hostname"])
def test_only_rules_files_of_the_folder_are_read(name: str, tmp_path: Path) -> None:
    for suffix in ("rules", "txt"):
        (tmp_path / f"secret.{suffix}").write_text("hidden words\n", encoding="utf-8")
    (tmp_path / "school").mkdir()
    (tmp_path / "school" / "own.rules").write_text(f'use "{name}"\n', encoding="utf-8")
    with pytest.raises(RulekitError) as caught:
        load_ruleset(tmp_path / "school" / "own.rules")
    assert "hidden" not in str(caught.value)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_pipes_and_links_to_other_files_are_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.rules")
    (tmp_path / "hidden.txt").write_text("hidden words\n", encoding="utf-8")
    (tmp_path / "link.rules").symlink_to(tmp_path / "hidden.txt")
    for name in ("pipe", "link"):
        with pytest.raises(RulekitError, match="regular file"):
            load_ruleset(tmp_path / f"{name}.rules")
        (told,) = tried(f"use {name}\n", tmp_path)
        assert "regular file" in told
        assert "hidden words" not in told


def test_devices_are_refused() -> None:
    with pytest.raises(RulekitError, match="regular file"):
        load_ruleset("/dev/zero")


def test_files_that_take_each_other_in_a_circle(tmp_path: Path) -> None:
    for here, there in (("one", "two"), ("two", "three"), ("three", "one")):
        (tmp_path / f"{here}.rules").write_text(f"use {there}\n", encoding="utf-8")
    with pytest.raises(RulekitError, match="circle: one → two → three → one"):
        load_ruleset(tmp_path / "one.rules")


def test_a_file_that_builds_on_itself(tmp_path: Path) -> None:
    (tmp_path / "own.rules").write_text("build on own\n", encoding="utf-8")
    with pytest.raises(RulekitError, match="circle: own → own"):
        load_ruleset(tmp_path / "own.rules")


def test_too_many_files(tmp_path: Path) -> None:
    for number in range(limits.MAX_FILES + 5):
        (tmp_path / f"f{number}.rules").write_text(f"use f{number + 1}\n", encoding="utf-8")
    with pytest.raises(RulekitError, match=f"at most {limits.MAX_FILES} files"):
        load_ruleset(tmp_path / "f0.rules")


def test_a_folder_or_a_missing_file_is_no_ruleset(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    for name in ("sub", "none", "."):
        with pytest.raises(RulekitError):
            load_ruleset(tmp_path / name)
        assert tried(f'use "{name}"', tmp_path)


@pytest.mark.parametrize(
    "phrase",
    ["__import__", "interval.__class__", "__builtins__", "eval", "x", "c", "s", "NO_NOTE", "_held", "k0", "moment",
     "import-os", "lambda", "print", "c.upper", "upper.voice", "voice"],
)  # fmt: skip
def test_names_of_the_machine_are_no_names_of_the_language(phrase: str) -> None:
    assert tried(rule(f"forbid {phrase} is P5"))
    assert tried(rule(f"forbid interval is {phrase}"))
    assert tried(rule(f"forbid {phrase} of upper is P5"))
    assert tried(rule("forbid interval is P5").replace("Broken.", f"{{{phrase}}}"))


def test_nothing_typed_is_executed(tmp_path: Path) -> None:
    mark = tmp_path / "executed"
    call = f"__import__('pathlib').Path('{mark}').touch()"
    for text in (
        rule(f"forbid interval is {call}"),
        rule("forbid interval is P5").replace("Broken.", f"{{{call}}}"),
        rule(f'forbid interval is P5\nexcused as x when bar is 1 "{call}"'),
        f"define {call} as P5\n",
    ):
        tried(text)
    assert not mark.exists()
