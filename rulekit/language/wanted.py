"""What belongs in a place where something else stands, in words."""

# One place stands on one line.
# ruff: noqa: E501

from collections.abc import Iterable


def wanted(expected: Iterable[str]) -> str:
    """What belongs in a place, in words, from the names of the tokens that could stand there."""
    names = {name for name in expected if not name.startswith("__")}
    for needed, words in _WANTED:
        if needed <= names:
            return words
    keywords = sorted(name.lower() for name in names if name.isalpha() and name != "COMMA")
    return (
        f"Write ‘{'’ or ‘'.join(keywords)}’ here."
        if 0 < len(keywords) < 4
        else "Look at what stands before it: is a word missing?"
    )


_WANTED: tuple[tuple[set[str], str], ...] = (
    ({"OVERALL", "AT"}, "Say where it is broken: ‘rejects at bar 2’, or ‘rejects overall’."),
    ({"POINTS"}, "Write ‘points’ after the number, such as ‘fault, 3 points’."),
    ({"NAME", "LPAR", "PREVIOUS"}, "A value belongs here, such as ‘interval’, ‘approach to upper’, ‘third’, ‘P5’ or ‘3’."),
    ({"NAME", "FIRST", "LAST"}, "A place belongs here, such as ‘first’, ‘last’, ‘3rd’, ‘in bar 4’ or ‘on the downbeat’."),
    ({"NOTE", "INTERVAL", "LINE"}, "Say what the rule looks at: note, interval, move, sonority, line, pair or exercise."),
    ({"IS", "ARE"}, "A verb belongs here, such as ‘is’, ‘is not’, ‘is at least’ or ‘is wider than’."),
    ({"REQUIRE", "FORBID", "EXAMPLE_LINE"}, "Notes stand on lines that begin with |. Or a new clause begins, such as ‘source …’ or ‘rejects at bar 2’."),
    ({"REQUIRE", "FORBID"}, "This is no part of a rule. What must be begins with ‘require’, what must not be with ‘forbid’, a condition with ‘when’, a place with ‘at’ or ‘in’."),
    ({"RULE", "DEFINE"}, "No statement begins so. A new rule begins with ‘rule’, another ruleset is taken with ‘build on’, its rules are changed with ‘adjust’ and taken out with ‘drop’."),
    ({"EXAMPLE_LINE"}, "Write the notes, a line for each voice: | upper A4 B4 C5"),
    ({"COLON"}, "The sign ‘:’ belongs here, such as in ‘with widest: interval’ or ‘adjust RULE: warning’."),
    ({"RPAR"}, "A bracket is still open: close it with ‘)’."),
    ({"STRING", "NAME"}, "A name belongs here, or a text in double quotes."),
    ({"STRING"}, "A text in double quotes belongs here."),
    ({"NAME"}, "A name belongs here: letters, figures and hyphens."),
    ({"INT"}, "A whole number belongs here."),
)  # fmt: skip
