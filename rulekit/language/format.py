"""The canonical layout of a rules file: comments and articles as written, lines, spaces and spelling ours.

A statement starts at the margin, a clause of a rule stands two spaces in, an example line two spaces
further. Between statements is one blank line; those of one line may follow each other without, as
the author has them. A line that is too long is broken at the outermost phrases. Formatting twice
changes nothing more, and the formatted text means the same.
"""

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import pairwise

from rulekit.diagnostics import RulekitError
from rulekit.language.build import interval_code, note_name
from rulekit.language.parser import Parsed, grammar, parse
from rulekit.language.syntax import (
    Call,
    Choice,
    Compare,
    Definition,
    ExampleItem,
    File,
    Node,
    ParameterItem,
    Places,
    Position,
    RuleItem,
    Scope,
    SetItem,
    Span,
)  # fmt: skip
from rulekit.language.vocabulary import PREPOSITIONS, WITH_CANTUS
from rulekit.numbers import ordinal

WIDTH = 100
_INDENT = 2
_UNBROKEN = ("Title", "Overlay", "Message", "Taught", "Source", "EXAMPLE_LINE")
_BREAKS = ("AND", "OR", "IS", "ARE", "THEN", "WHEN", "STRING")


@dataclass(frozen=True, slots=True)
class _Piece:
    """A word, sign, text, comment or article, and how it stood: after how many line ends, and whether indented."""

    text: str
    newlines: int
    indented: bool
    kind: str
    start: int

    @property
    def is_comment(self) -> bool:
        return self.kind == "COMMENT"

    @property
    def is_ignored(self) -> bool:
        return self.kind in ("COMMENT", "ARTICLE")


@dataclass(slots=True)
class _Row:
    """What belongs on one line (if it fits): a statement's head, a clause, an example line or a comment."""

    indent: int
    kind: str
    pieces: list[_Piece] = field(default_factory=list[_Piece])
    lines: list[str] = field(default_factory=list[str])

    @property
    def newlines(self) -> int:
        return self.pieces[0].newlines

    @property
    def is_margin_comment(self) -> bool:
        return self.kind == "COMMENT" and self.indent == 0


@dataclass(frozen=True, slots=True)
class _Shape:
    """Where rows start in the text, with their indent and kind; which brackets follow a name closely.

    ``kept`` are the words that stay on the line of the word before, for on a new one they would begin a clause.
    ``depths`` says where a line may well be broken: the smaller the number, the more phrases it ends.
    """

    rows: dict[int, tuple[int, str]]
    calls: frozenset[int]
    kept: frozenset[int]
    depths: dict[int, int]


@dataclass(frozen=True, slots=True)
class _Atom:
    """What is never broken, and how deep within phrases the break before it would be, None within the words of one."""

    text: str
    depth: int | None


def format_text(text: str, path: str = "<text>") -> str:
    """The text of a rules file in its canonical layout and spelling; raises RulekitError if it can't be read."""
    parsed = parse(text, path)
    if parsed.diagnostics:
        raise RulekitError(parsed.diagnostics)
    shape = _shape(parsed)
    rows = _rows(list(_pieces(parsed)), shape)
    for row in rows:
        row.lines = _rendered(row, shape)
    return _joined(rows)


def rule_clauses(parsed: Parsed) -> dict[int, list[str]]:
    """The clauses of every rule of a parsed file, each on one line, without comments, articles and the examples.

    The key is the line that the rule starts on.
    """
    shape = _shape(parsed)
    pieces = [piece for piece in _pieces(parsed) if not piece.is_ignored]
    starts = [piece.start for piece in pieces]

    def words(span: Span) -> str:
        return _text(_atoms(pieces[bisect_left(starts, span.start) : bisect_left(starts, span.end)], shape))

    rules = [item for item in parsed.file.items if isinstance(item, RuleItem)]
    return {
        rule.span.line: [words(clause.span) for clause in rule.clauses if not isinstance(clause, ExampleItem)]
        for rule in rules
    }


# ---- reading -----------------------------------------------------------------------------------


def _pieces(parsed: Parsed) -> list[_Piece]:
    """The tokens of a text in their one spelling, with the comments and articles that stand between them."""
    text, end = parsed.text, 0
    pieces: list[_Piece] = []
    for kind, start, stop in _stretches(parsed):
        indented = start > 0 and text[start - 1] != "\n"
        pieces.append(_Piece(text[start:stop].rstrip(), text.count("\n", end, start), indented, kind, start))
        end = stop
    return _spelt(pieces, parsed.file)


def _stretches(parsed: Parsed) -> Iterator[tuple[str, int, int]]:
    """The kind, start and end of everything in a text that is not a space."""
    end = 0
    for token in parsed.tokens:
        start = token.start_pos or 0
        yield from _ignored(parsed.text, end, start)
        end = start + len(token)
        yield token.type, start, end
    yield from _ignored(parsed.text, end, len(parsed.text))


def _ignored(text: str, start: int, end: int) -> Iterator[tuple[str, int, int]]:
    """The comments and articles in a stretch where nothing else stands."""
    for match in _between().finditer(text, start, end):
        yield match.lastgroup or "", *match.span()


@cache
def _between() -> re.Pattern[str]:
    """What the grammar passes over between tokens, spaces apart."""
    kinds = (grammar().get_terminal(name) for name in ("COMMENT", "ARTICLE"))
    return re.compile("|".join(f"(?P<{kind.name}>{kind.pattern.to_regexp()})" for kind in kinds))


def _spelt(pieces: Sequence[_Piece], file: File) -> list[_Piece]:
    """The pieces in the spelling that is ours where there are several."""
    changed = dict([*_joints(pieces, file), *_voices(pieces, file), *_places(pieces, file), *_near(pieces)])
    spelt = (replace(piece, **changed.get(piece.start) or _spelling(piece)) for piece in pieces)
    kept = [piece for piece in spelt if piece.text]
    return [
        replace(piece, newlines=1)
        if before and before.is_comment and piece.is_comment and not piece.newlines
        else piece
        for before, piece in zip([None, *kept], kept, strict=False)
    ]


def _voices(pieces: Sequence[_Piece], file: File) -> Iterator[tuple[int, dict[str, str]]]:
    """Voices by the name that is ours where they have several: all its words stand in the place of the first."""
    starts = [piece.start for piece in pieces]
    for scope in (node for node, _ in _walk(file) if isinstance(node, Scope)):
        said = pieces[bisect_left(starts, scope.span.start) : bisect_left(starts, scope.span.end)]
        how, *words = (piece for piece in said if not piece.is_ignored)
        yield how.start, {"text": scope.kind}
        if " ".join(word.text for word in words).lower() != " ".join(scope.words):
            yield words[0].start, {"text": scope.text}
            yield from (
                (piece.start, {"text": ""}) for piece in said if not (piece.is_comment or piece in (how, words[0]))
            )


def _places(pieces: Sequence[_Piece], file: File) -> Iterator[tuple[int, dict[str, str]]]:
    """Places by the words that are ours where they have several, like voices."""
    starts = [piece.start for piece in pieces]
    for place in (node for node, _ in _walk(file) if isinstance(node, Position)):
        said = pieces[bisect_left(starts, place.span.start) : bisect_left(starts, place.span.end)]
        first, *rest = (piece for piece in said if not piece.is_comment)
        yield first.start, {"text": _place_words(place)}
        yield from ((piece.start, {"text": ""}) for piece in rest)


def _place_words(place: Position) -> str:
    match place:
        case Position(unit="bar", from_end=False):
            return f"bar {place.index}" if place.index == place.until else f"bars {place.index} to {place.until}"
        case Position(unit="bar") if place.index > 2:
            return f"bar {place.index} from end"
        case Position(unit="bar"):
            return f"{_LAST[place.index]} bar"
        case Position(from_end=True):
            return _LAST.get(place.index) or f"last but {place.index - 1}"
        case _:
            return "first" if place.index == 1 else ordinal(place.index)


_LAST = {1: "last", 2: "last but one"}


def _near(pieces: Sequence[_Piece]) -> Iterator[tuple[int, dict[str, str]]]:
    """Words that go by those before them: downbeats are many where a rule is taken on them, an approach is *to*."""
    said = [piece for piece in pieces if not piece.is_ignored]
    for before, piece, following in zip(said, said[1:], said[2:], strict=False):
        if following.kind == "DOWNBEAT":
            yield following.start, {"text": "downbeats" if before.kind == "TAKEN" else "downbeat"}
        if piece.kind == "OF" and before.text in PREPOSITIONS:
            yield piece.start, {"text": PREPOSITIONS[before.text]}


def _spelling(piece: _Piece) -> dict[str, str]:
    match piece.kind:
        case "EACH":
            return {"text": "every", "kind": "EVERY"}
        case "PACED":
            return {"text": " ".join(piece.text.split())}
        case "WITH_CANTUS":
            return {"text": WITH_CANTUS}
        case "INTERVAL":
            return {"text": interval_code(piece.text)}
        case "NOTE_NAME":
            return {"text": note_name(piece.text)}
        case "STRING" if '"' not in piece.text:
            return {"text": f'"{piece.text[1:-1]}"'}
        case keyword if keyword == piece.text.upper():
            return {"text": piece.text.lower()}
        case _:
            return {}


def _joints(pieces: Sequence[_Piece], file: File) -> Iterator[tuple[int, dict[str, str]]]:
    """How the members of lists are joined: commas, and ‘or’ before the last."""
    starts = [piece.start for piece in pieces]
    for members in _lists(file):
        for member, following in pairwise(members):
            first, past = (bisect_left(starts, place) for place in (member.span.end, following.span.start))
            kind = "OR" if following is members[-1] else "COMMA"
            for piece in pieces[first:past]:
                if piece.kind in ("OR", "COMMA"):
                    yield piece.start, {"text": "or" if kind == "OR" else ",", "kind": kind}


def _lists(file: File) -> Iterator[tuple[Node, ...]]:
    """Every row of values that are joined by ‘or’."""
    for node, _ in _walk(file):
        match node:
            case Compare():
                yield node.right
            case Choice():
                yield node.values
            case Places():
                yield node.places
            case ParameterItem():
                yield node.usual
            case SetItem():
                yield node.value
            case _:
                pass


def _walk(file: File) -> Iterator[tuple[Node, int]]:
    """Every node of a file, and how deep it stands."""
    waiting: list[tuple[Node, int]] = [(file, 0)]
    while waiting:
        node, depth = waiting.pop()
        yield node, depth
        waiting += [(part, depth + 1) for part in node.children()]


def _shape(parsed: Parsed) -> _Shape:
    rows: dict[int, tuple[int, str]] = {}
    for item in parsed.file.items:
        rows[item.span.start] = 0, type(item).__name__
        if isinstance(item, RuleItem):
            rows |= {clause.span.start: (_INDENT, type(clause).__name__) for clause in item.clauses}
        inside = _INDENT if isinstance(item, ExampleItem) else 2 * _INDENT
        within = [token for token in parsed.tokens if item.span.start <= (token.start_pos or 0) < item.span.end]
        rows |= {token.start_pos or 0: (inside, token.type) for token in within if token.type == "EXAMPLE_LINE"}
        rows |= {token.start_pos or 0: (_INDENT, "taken") for token in within if token.type == "TAKEN"}
    starts = [token.start_pos or 0 for token in parsed.tokens]
    calls = [node.span.start for node, _ in _walk(parsed.file) if isinstance(node, Call)]
    scopes = [node.span for node, _ in _walk(parsed.file) if isinstance(node, Scope)]
    return _Shape(
        rows,
        frozenset(starts[bisect_right(starts, call)] for call in calls),
        frozenset(start for span in scopes for start in starts[_within(starts, span)]),
        dict(_depths(parsed)),
    )


def _within(starts: Sequence[int], span: Span) -> slice:
    """Which tokens stand in a phrase behind its first."""
    return slice(bisect_right(starts, span.start), bisect_left(starts, span.end))


def _depths(parsed: Parsed) -> Iterator[tuple[int, int]]:
    """Where phrases begin that a line is better broken before than within, and how deep they are."""
    starts = [token.start_pos or 0 for token in parsed.tokens]
    depths = [0] * len(starts)
    for node, depth in _walk(parsed.file):
        for place in range(len(starts))[_within(starts, node.span)]:
            depths[place] = max(depths[place], depth)
    for token, depth in zip(parsed.tokens, depths, strict=True):
        if token.type in _BREAKS:
            yield token.start_pos or 0, depth
    for item in parsed.file.items:
        if isinstance(item, Definition):
            yield item.body.span.start, 0


# ---- rows --------------------------------------------------------------------------------------


def _rows(pieces: Sequence[_Piece], shape: _Shape) -> list[_Row]:
    """The pieces shared out among rows."""
    rows: list[_Row] = []
    waiting: list[_Piece] = []
    for piece in pieces:
        if piece.is_ignored:
            waiting.append(piece)
        elif piece.start in shape.rows:
            indent, kind = shape.rows[piece.start]
            articles = _place_ignored(waiting, rows, indent)
            rows.append(_Row(indent, kind, [*articles, piece]))
            waiting = []
        else:
            rows[-1].pieces += [*waiting, piece]
            waiting = []
    last = _place_ignored(waiting, rows, 0)
    if last:
        rows.append(_Row(0, "COMMENT", last))
    return rows


def _place_ignored(waiting: Sequence[_Piece], rows: list[_Row], indent: int) -> list[_Piece]:
    """Give comments before a new row rows of their own; the articles after the last of them begin the new row."""
    comments = [index for index, piece in enumerate(waiting) if piece.is_comment]
    first_article = comments[-1] + 1 if comments else 0
    for piece in waiting[:first_article]:
        if rows and piece.newlines == 0:
            rows[-1].pieces.append(piece)
        else:
            stays = indent == 0 and piece.newlines == 1 and piece.indented and _is_in_statement(rows)
            rows.append(_Row(_INDENT if stays else indent, "COMMENT", [piece]))
    return list(waiting[first_article:])


def _is_in_statement(rows: Sequence[_Row]) -> bool:
    """Whether a comment here can still belong to the statement before it."""
    return bool(rows) and not rows[-1].is_margin_comment


def _joined(rows: Sequence[_Row]) -> str:
    """All rows as a text, with blank lines where they belong."""
    lines: list[str] = []
    for index, row in enumerate(rows):
        if index and row.indent == 0 and _wants_blank(rows, index):
            lines.append("")
        lines += row.lines
    return "".join(line + "\n" for line in lines)


def _wants_blank(rows: Sequence[_Row], index: int) -> bool:
    before, row = rows[index - 1], rows[index]
    if row.newlines > 1:
        return True
    if before.is_margin_comment:
        return False
    following = next((i for i in range(index, len(rows)) if rows[i].kind != "COMMENT"), index)
    return not (_is_one_line(rows, index - 1) and _is_one_line(rows, following))


def _is_one_line(rows: Sequence[_Row], index: int) -> bool:
    """Whether a statement, or a comment, is one line."""
    ends = index + 1 == len(rows) or rows[index + 1].indent == 0
    return rows[index].indent == 0 and len(rows[index].lines) == 1 and ends


# ---- lines -------------------------------------------------------------------------------------


def _rendered(row: _Row, shape: _Shape) -> list[str]:
    """The lines of a row: runs of words, each broken if need be, and the comments between them."""
    margin, hang = " " * row.indent, " " * (row.indent + _INDENT)
    lines: list[str] = []
    run: list[_Piece] = []
    for piece in row.pieces:
        if not piece.is_comment:
            run.append(piece)
            continue
        lines += _run_lines(row, _atoms(run, shape), hang if lines else margin, hang)
        if lines and piece.newlines == 0:
            lines[-1] += f" {piece.text}"
        else:
            lines.append((hang if lines else margin) + piece.text)
        run = []
    return lines + _run_lines(row, _atoms(run, shape), hang if lines else margin, hang)


def _run_lines(row: _Row, atoms: Sequence[_Atom], margin: str, hang: str) -> list[str]:
    if not atoms:
        return []
    if row.kind in _UNBROKEN:
        return [margin + _text(atoms)]
    lines = [margin]
    _place(atoms, lines, hang)
    return lines


def _place(atoms: Sequence[_Atom], lines: list[str], hang: str) -> None:
    """Add atoms to the last line, or to new lines, phrases whole where they fit."""
    text = _text(atoms)
    line = lines[-1]
    joined = f"{line} {text}" if line.strip() else line + text
    if len(joined) <= WIDTH or (len(atoms) == 1 and not line.strip()):
        lines[-1] = joined
    elif line.strip() and (len(atoms) == 1 or len(hang) + len(text) <= WIDTH):
        lines.append(hang + text)
    else:
        for phrase in _phrases(atoms):
            _place(phrase, lines, hang)


def _phrases(atoms: Sequence[_Atom]) -> list[Sequence[_Atom]]:
    """The atoms divided at their outermost phrases, or else one by one."""
    depths = [atom.depth for atom in atoms[1:] if atom.depth is not None]
    outermost = min(depths) if depths else None
    starts = [index for index, atom in enumerate(atoms) if index == 0 or atom.depth == outermost]
    return [atoms[start:end] for start, end in zip(starts, [*starts[1:], len(atoms)], strict=True)]


def _text(atoms: Sequence[_Atom]) -> str:
    return " ".join(atom.text for atom in atoms)


def _atoms(pieces: Sequence[_Piece], shape: _Shape) -> list[_Atom]:
    """The pieces joined where no space stands between them."""
    atoms: list[_Atom] = []
    opened = False
    for before, piece in zip([None, *pieces], pieces, strict=False):
        closely = piece.kind in ("COMMA", "COLON", "RPAR")
        calls = piece.start in shape.calls and before is not None and before.kind == "NAME"
        if atoms and (opened or closely or calls):
            atoms[-1] = _Atom(atoms[-1].text + piece.text, atoms[-1].depth)
        elif atoms and piece.start in shape.kept:
            atoms[-1] = _Atom(f"{atoms[-1].text} {piece.text}", atoms[-1].depth)
        else:
            atoms.append(_Atom(piece.text, shape.depths.get(piece.start)))
        opened = piece.kind == "LPAR"
    return atoms
