"""What a name or word means, as text that an editor shows beside it (Markdown)."""

import re
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

from rulekit.editor.folder import Folder, Located
from rulekit.editor.names import Occurrence
from rulekit.language import vocabulary as v
from rulekit.language.ruleset import Parameter
from rulekit.language.typed import Kind, Rule
from rulekit.language.whole import Examined
from rulekit.resources import shipped
from rulekit.show.words import bounds_words, const_words, message_words, source_words, weight_words

_CODE = re.compile(r"`([^`]+)`")
_SAID_OF = {
    Kind.NOTE: "a note", Kind.DYAD: "an interval", Kind.MOMENT: "a sonority", Kind.LINE: "a line", Kind.PAIR: "a pair",
    Kind.EXERCISE: "the exercise",
}  # fmt: skip


def of_name(folder: Folder, path: Path, examined: Examined, name: Occurrence) -> str:
    """What a name in a file means; empty for one that means nothing."""
    home = folder.declaration(path, name)
    if home is None:
        return of_word(name.word)
    ruleset, word = examined.ruleset, name.word
    if home.occurrence.kind == "rule":
        said = [of_rule(rule) for rule in ruleset.rules if rule.name == word]
    elif home.occurrence.kind == "parameter":
        said = [of_parameter(parameter) for parameter in ruleset.parameters if parameter.name == word]
    else:
        said = []
    return said[0] if said else _as_written(folder, home)


def _as_written(folder: Folder, home: Located) -> str:
    """A statement as its file has it."""
    parsed, start = folder.parsed(home.path), home.occurrence.span.start
    items = (item for item in parsed.file.items if item.span.start <= start < item.span.end)
    return "".join(f"```\n{item.span.of(parsed.text)}\n```\n\n{home.path.stem}" for item in items)


def of_rule(rule: Rule) -> str:
    """A rule in plain words: what a student is told, what it costs, what excuses it, where it is taught."""
    lines = [f"**{rule.name}** · {weight_words(rule.weight)}", message_words(rule)]
    lines += [f"- excused as *{licence.name}*: {licence.reason}" for licence in rule.licences]
    source = source_words(rule.source)
    return "\n\n".join(line for line in (*lines, source and f"*{source}*") if line)


def of_parameter(parameter: Parameter) -> str:
    """A parameter with its value, its bounds, and the file that set it."""
    bounds = bounds_words(parameter)
    said = [f"**{parameter.name}** is {const_words(parameter.value)}, set in {parameter.origin}"]
    said += [f"{parameter.type}{f', {bounds}' if bounds else ''}"]
    return "\n\n".join((*said, parameter.note) if parameter.note else said)


def of_word(word: str) -> str:
    """A word of the language: what it is said of, and what the reference says of it; empty if it is none."""
    return "\n\n".join((*_uses(word), *reference().get(word, ())))


def _uses(word: str) -> Iterator[str]:
    for kind, words in v.ATTRIBUTES.items():
        if word in words:
            yield f"**{word}** is asked of {_SAID_OF[kind]}, and is {_article(words[word].type)}"
    for kind, words in v.FLAGS.items():
        if word in words:
            yield f"**{word}** is said of {_SAID_OF[kind]}"
    for kind, words in v.ROLES.items():
        if word in words:
            yield f"**{word}** is a part of {_SAID_OF[kind]}"
    if word in v.CONSTANTS:
        yield f"**{word}** is {_article(v.CONSTANTS[word].type)}"
    if word in v.FUNCTIONS:
        yield f"**{word}** is asked of a value, and is {_article(v.FUNCTIONS[word][1])}"
    if word in v.FIXED:
        yield f"**{word}** of the exercise is {_article(v.FIXED[word])}"


def _article(noun: str) -> str:
    return f"{'an' if noun[:1] in 'aeiou' else 'a'} {noun}"


@cache
def reference() -> Mapping[str, tuple[str, ...]]:
    """Each word in the tables of the language’s reference, with what the rows say that begin with it."""
    found: dict[str, list[str]] = {}
    text = (shipped("grammar") / "LANGUAGE.md").read_text(encoding="utf-8")
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split(" | ")]
        if not line.startswith("| ") or len(cells) < 2:
            continue
        for phrase in _CODE.findall(cells[0]):
            said = f"`{phrase}`: {'; '.join(cell for cell in cells[1:] if cell)}"
            for word in re.findall(r"[\w-]+", phrase):
                found.setdefault(word, []).append(said)
    return {word: tuple(dict.fromkeys(said)) for word, said in found.items()}
