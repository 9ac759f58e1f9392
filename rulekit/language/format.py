"""The canonical layout of a rules file: words, comments and articles as written, lines and spaces ours.

A statement starts at the margin, a clause of a rule stands two spaces in, an example line two spaces
further. Between statements is one blank line; those of one line may follow each other without, as
the author has them. A line that is too long is broken at the outermost phrases. Formatting twice
changes nothing more, and the formatted text means the same.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedToken

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.language.parser import grammar, parse

WIDTH = 100
_INDENT = 2
_IGNORED = re.compile(r"--[^\n]*|\S+")
_UNBROKEN = ("title", "message", "source", "EXAMPLE_LINE")
_RULES = ("rule", "replace")


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

    ``depths`` says where a line may well be broken: the smaller the number, the more phrases it ends.
    """

    rows: dict[int, tuple[int, str]]
    calls: frozenset[int]
    depths: dict[int, int]


@dataclass(frozen=True, slots=True)
class _Atom:
    """What is never broken, and how deep within phrases the break before it would be, None within the words of one."""

    text: str
    depth: int | None


def format_text(text: str, path: str = "<text>") -> str:
    """The text of a rules file in its canonical layout; raises RulekitError if it can't be read."""
    text = text.replace("\r\n", "\n")
    parsed = parse(text, path)
    if parsed.diagnostics:
        raise RulekitError(parsed.diagnostics)
    tree = _tree(text, path)
    shape = _shape(tree)
    rows = _rows(list(_pieces(text, tree)), shape)
    for row in rows:
        row.lines = _rendered(row, shape)
    return _joined(rows)


def rule_clauses(text: str) -> dict[int, list[str]]:
    """The clauses of every rule of a readable rules file, each on one line, without the examples.

    The key is the line that the rule starts on.
    """
    tree = _tree(text.replace("\r\n", "\n"), "")
    shape = _shape(tree)
    return {
        rule.meta.line: [_one_line(part, shape) for part in _trees(rule) if part.data not in ("accepts", "rejects")]
        for rule in _trees(tree)
        if rule.data in _RULES
    }


def _one_line(clause: Tree[Token], shape: _Shape) -> str:
    tokens = _all_tokens(clause)
    pieces = [_Piece(str(token), 0, False, token.type, token.start_pos or 0) for token in tokens]
    return _text(_atoms(pieces, shape))


# ---- reading -----------------------------------------------------------------------------------


@cache
def _parser() -> Lark:
    return grammar("start", keep_all_tokens=True)


def _tree(text: str, path: str) -> Tree[Token]:
    """The parse tree of a whole readable file, every token kept."""
    try:
        return _parser().parse(text)  # type: ignore[reportUnknownMemberType]
    except UnexpectedToken as error:
        message = "the title stands once, at the top of the file"
        raise RulekitError([Diagnostic(path, error.line, error.column, 1, message)]) from error


def _pieces(text: str, tree: Tree[Token]) -> Iterator[_Piece]:
    """The tokens of a text, with the comments and articles that stand between them."""
    end = 0
    for kind, start, stop in _stretches(text, tree):
        indented = start > 0 and text[start - 1] != "\n"
        yield _Piece(text[start:stop].rstrip(), text.count("\n", end, start), indented, kind, start)
        end = stop


def _stretches(text: str, tree: Tree[Token]) -> Iterator[tuple[str, int, int]]:
    """The kind, start and end of everything in a text that is not a space."""
    end = 0
    for token in _all_tokens(tree):
        start = token.start_pos or 0
        yield from _ignored(text, end, start)
        end = token.end_pos or start
        yield token.type, start, end
    yield from _ignored(text, end, len(text))


def _ignored(text: str, start: int, end: int) -> Iterator[tuple[str, int, int]]:
    for match in _IGNORED.finditer(text, start, end):
        yield "COMMENT" if match[0].startswith("--") else "ARTICLE", *match.span()


def _shape(tree: Tree[Token]) -> _Shape:
    rows: dict[int, tuple[int, str]] = {}
    for item in _trees(tree):
        rows[item.meta.start_pos] = 0, item.data
        if item.data in _RULES:
            rows |= {clause.meta.start_pos: (_INDENT, clause.data) for clause in _trees(item)}
            taken = [token for token in _all_tokens(item) if token.type == "TAKEN"]
            rows |= {token.start_pos or 0: (_INDENT, "taken") for token in taken}
        inside = _INDENT if item.data == "example" else 2 * _INDENT
        lines = [token for token in _all_tokens(item) if token.type == "EXAMPLE_LINE"]
        rows |= {token.start_pos or 0: (inside, token.type) for token in lines}
    brackets = [_tokens(call)[1].start_pos or 0 for call in tree.find_data("call")]
    return _Shape(rows, frozenset(brackets), dict(_depths(tree)))


def _depths(tree: Tree[Token]) -> Iterator[tuple[int, int]]:
    """Where phrases begin that a line is better broken before than within, and how deep they are."""
    waiting: list[tuple[Tree[Token], int]] = [(tree, 0)]
    while waiting:
        node, depth = waiting.pop()
        parts = _trees(node)
        waiting += [(part, depth + 1) for part in parts]
        for part, following in pairwise([*parts, None]):
            assert part is not None
            if part.data in ("and_", "or_") and following is not None:
                yield part.meta.start_pos, depth + (2 if following.data == "bare" else 0)
            elif part.data in ("verb", "is_", "is_not") or (node.data == "define" and following is None):
                yield part.meta.start_pos, depth
        for token in _tokens(node):
            ends_statement = token.type in ("WHEN", "STRING") and node.data in ("licence", "excuse", "parameter")
            if ends_statement or token.type == "THEN":
                yield token.start_pos or 0, depth


def _trees(node: Tree[Token]) -> list[Tree[Token]]:
    return [child for child in node.children if isinstance(child, Tree)]


def _tokens(node: Tree[Token]) -> list[Token]:
    return [child for child in node.children if isinstance(child, Token)]


def _all_tokens(node: Tree[Token]) -> list[Token]:
    return list(node.scan_values(lambda value: isinstance(value, Token)))


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
        else:
            atoms.append(_Atom(piece.text, shape.depths.get(piece.start)))
        opened = piece.kind == "LPAR"
    return atoms
