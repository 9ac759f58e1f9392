"""What comes along with a rule that is taken by itself: the definitions and parameters that it uses."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from rulekit.language import syntax as s
from rulekit.language.assembly import Assembly, Pick, RuleState
from rulekit.language.checking import CheckError

_WORD = re.compile(r"[^\W\d_]\w*(?:-\w+)*")


def used(nodes: Iterable[s.Node], known: Assembly) -> set[str]:
    """The definitions and parameters that statements use, and those that these use in turn."""
    found: set[str] = set()
    waiting = list(nodes)
    while waiting:
        new = {word for word in _words(waiting.pop()) if word in known.definitions or word in known.parameters} - found
        found |= new
        for word in new:
            waiting += [known.definitions[word]] if word in known.definitions else [known.parameters[word][0]]
            waiting += [known.settings[word][0]] if word in known.settings else []
    return found


def _words(node: s.Node) -> Iterator[str]:
    """The words in a statement that may be names, those in the braces of its texts included."""
    match node:
        case s.Name(word=word) | s.Call(word=word) | s.Of(word=word):
            yield word
        case s.Words():
            for piece in node.pieces():
                yield from _WORD.findall(piece[0]) if isinstance(piece, tuple) else ()
        case _:
            pass
    for each in node.children():
        yield from _words(each)


def is_told_before(item: s.RuleItem | s.Definition | s.ParameterItem, known: s.Node | None) -> bool:
    """Whether it is there already, or another file that was taken before says the very same."""
    if known is None or (known.span.path == item.span.path and known.span != item.span):
        return False
    return essence(known) == essence(item)


def essence(item: s.Node) -> s.Node:
    """What a statement says: without its examples, which say where they stand, and whatever it has replaced."""
    match item:
        case s.RuleItem():
            clauses = tuple(clause for clause in item.clauses if not isinstance(clause, s.ExampleItem))
            return replace(item, clauses=clauses, replaces=None)
        case s.Definition():
            return replace(item, replaces=False)
        case _:
            return item


def bring(pick: Pick, now: Any, into: Assembly) -> bool:
    """Put what was picked in its place, as it is ``now``; false where it is there already. Raises CheckError."""
    table, word = into.table(pick.kind), pick.word
    there = table.get(word)
    if there is None and not (pick.kind != "rules" and (word in into.definitions or word in into.parameters)):
        table[word] = now
        into.picks.append(pick)
        return True
    if there is None or not _is_same(pick, there, into):
        raise _clash(pick, into)
    if now is not pick.value:
        table[word] = now
    return False


def _is_same(pick: Pick, there: Any, into: Assembly) -> bool:
    """Whether what is there says what was picked, or said so before this ruleset gave it another meaning."""
    match pick.value:
        case RuleState(item=item, weight=weight, licences=licences):
            return (essence(item), weight, licences) == (essence(there.item), there.weight, there.licences)
        case s.Definition() as definition:
            meanings = (there, *into.meanings.get(pick.word, ()))
            return any(essence(each) == essence(definition) for each in meanings)
        case _:
            return pick.value[0] == there[0]


def _clash(pick: Pick, into: Assembly) -> CheckError:
    """What was picked is not what is there."""
    word, asked = pick.word, pick.asked
    if pick.kind == "rules":
        message = f"there is already a rule ‘{word}’, of ‘{into.rules[word].origin}’"
        return CheckError(asked.span, message, f"Write ‘drop {word}’ before this one is taken.")
    known = into.definitions[word] if word in into.definitions else into.parameters[word][0]
    message = f"‘{asked.word}’ uses ‘{word}’, which has another meaning in ‘{Path(known.span.path).stem}’"
    return CheckError(asked.span, message, f"Write the rule itself here, with another name for ‘{word}’.")
