"""The language server for rules files: the protocol’s requests, answered from the modules beside this one."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from lsprotocol import types as lsp
from pygls import uris
from pygls.lsp.server import LanguageServer
from pygls.workspace import TextDocument

from rulekit.diagnostics import Diagnostic, RulekitError
from rulekit.editor import meaning, outline
from rulekit.editor.completion import Offer, offers
from rulekit.editor.exercises import Remark, remarks, said_of
from rulekit.editor.folder import Folder, Located
from rulekit.editor.mends import mend
from rulekit.editor.names import Occurrence, declarations
from rulekit.editor.outline import COLOURS, Colour, Entry
from rulekit.editor.verdicts import Verdicts
from rulekit.exercise.notation import Placed, read_placed
from rulekit.language import syntax as s
from rulekit.language.format import format_text
from rulekit.language.library import EXTENSION
from rulekit.language.parser import Parsed
from rulekit.severity import Severity

SOURCE, TYPED = "rulekit", ".notes"
_HEADINGS = {
    "rule": lsp.SymbolKind.Class, "definition": lsp.SymbolKind.Function, "parameter": lsp.SymbolKind.Variable,
    "change": lsp.SymbolKind.Event, "example": lsp.SymbolKind.Object, "file": lsp.SymbolKind.Module,
}  # fmt: skip
_COLOURS: dict[Colour, str] = {
    "keyword": "keyword", "rule": "class", "definition": "function", "parameter": "variable", "word": "property",
    "value": "enumMember", "number": "number", "text": "string", "notes": "macro",
}  # fmt: skip
_SEVERITIES = {
    Severity.FAULT: lsp.DiagnosticSeverity.Warning, Severity.WARNING: lsp.DiagnosticSeverity.Information,
    Severity.ADVICE: lsp.DiagnosticSeverity.Information,
}  # fmt: skip
_OFFERED = {
    "keyword": lsp.CompletionItemKind.Keyword, "definition": lsp.CompletionItemKind.Function,
    "parameter": lsp.CompletionItemKind.Variable, "rule": lsp.CompletionItemKind.Class,
    "word": lsp.CompletionItemKind.Property, "file": lsp.CompletionItemKind.Module,
}  # fmt: skip


_AtCursor = lsp.HoverParams | lsp.DefinitionParams | lsp.ReferenceParams | lsp.PrepareRenameParams | lsp.RenameParams


class RulesServer(LanguageServer):
    """What is open in one editor."""

    def __init__(self) -> None:
        super().__init__(SOURCE, "")  # pyright: ignore[reportUnknownMemberType]
        self.folder = Folder()
        self.exercises: dict[Path, str] = {}  # the URIs of open ones
        self.verdicts = Verdicts()

    # ---- places ----------------------------------------------------------------------------------

    def range(self, path: Path, span: s.Span) -> lsp.Range:
        """A stretch of a file in the editor’s units."""
        parsed = self.folder.parsed(path)
        return lsp.Range(self.position(parsed, span.start), self.position(parsed, span.end))

    def position(self, parsed: Parsed, place: int) -> lsp.Position:
        """A place, in characters from the start of a file, in the editor’s units."""
        line = parsed.text.count("\n", 0, place)
        start = parsed.text.rfind("\n", 0, place) + 1
        return lsp.Position(line, self.units(parsed.text[start:place]))

    def units(self, text: str) -> int:
        """How long a text is for the editor."""
        return self.workspace.position_codec.client_num_units(text)

    def place(self, document: TextDocument, position: lsp.Position) -> int:
        """A position of the editor in characters from the start of the file."""
        parsed = self.folder.parsed(path_of(document.uri))
        lines = parsed.text.split("\n")
        there = document.position_from_client_units(position)
        line = min(there.line, len(lines) - 1)
        return sum(len(each) + 1 for each in lines[:line]) + min(there.character, len(lines[line]))

    def stretch(self, problem: Diagnostic) -> lsp.Range:
        """The words that a problem is about, in the editor’s units."""
        line = problem.source_line
        first = self.units(line[: problem.column - 1]) if line else problem.column - 1
        width = self.units(line[problem.column - 1 :][: problem.length]) if line else problem.length
        row = problem.line - 1
        return lsp.Range(lsp.Position(row, first), lsp.Position(row, first + max(1, width)))

    def location(self, found: Located) -> lsp.Location:
        """A name in a file, for the editor."""
        return lsp.Location(uri_of(found.path), self.range(found.path, found.occurrence.span))

    def named(self, params: "_AtCursor") -> tuple[Path, Occurrence | None]:
        """The file and the name that the editor’s cursor is on."""
        document = self.workspace.get_text_document(params.text_document.uri)
        path = path_of(document.uri)
        return path, self.folder.at(path, self.place(document, params.position))


server = RulesServer()


def path_of(uri: str) -> Path:
    """The file of a URI."""
    return Path(uris.to_fs_path(uri) or "untitled.rules")


def uri_of(path: Path) -> str:
    """The URI of a file."""
    return path.resolve().as_uri()


# ---- what is open --------------------------------------------------------------------------------


@server.feature(lsp.TEXT_DOCUMENT_DID_OPEN)
def opened(ls: RulesServer, params: lsp.DidOpenTextDocumentParams) -> None:
    """A file was opened."""
    _changed(ls, params.text_document.uri)


@server.feature(lsp.TEXT_DOCUMENT_DID_CHANGE)
def changed(ls: RulesServer, params: lsp.DidChangeTextDocumentParams) -> None:
    """Something was typed."""
    _changed(ls, params.text_document.uri)


@server.feature(lsp.TEXT_DOCUMENT_DID_CLOSE)
def closed(ls: RulesServer, params: lsp.DidCloseTextDocumentParams) -> None:
    """A file was closed: the disk’s text counts again."""
    path = path_of(params.text_document.uri).resolve()
    ls.exercises.pop(path, None)
    if ls.folder.unsaved.pop(str(path), None) is not None:
        _refresh(ls, path)


@server.feature(lsp.INITIALIZED)
def initialized(ls: RulesServer, params: lsp.InitializedParams) -> None:
    """Ask an editor that can watch files to tell when one of ours changes on the disk."""
    workspace = ls.client_capabilities.workspace
    watching = workspace.did_change_watched_files if workspace else None
    if watching is None or not watching.dynamic_registration:
        return
    watched = lsp.DidChangeWatchedFilesRegistrationOptions([lsp.FileSystemWatcher(f"**/*{EXTENSION}")])
    wish = lsp.Registration("rules-files", lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES, watched)
    ls.client_register_capability(lsp.RegistrationParams([wish]))


@server.feature(lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES)
def changed_on_disk(ls: RulesServer, params: lsp.DidChangeWatchedFilesParams) -> None:
    """Files changed on the disk, whoever changed them."""
    for each in params.changes:
        _refresh(ls, path_of(each.uri).resolve())


def _changed(ls: RulesServer, uri: str) -> None:
    path = path_of(uri).resolve()
    if path.suffix == TYPED:
        ls.exercises[path] = uri
        _publish_remarks(ls, uri)
        return
    ls.folder.unsaved[str(path)] = ls.workspace.get_text_document(uri).source
    _refresh(ls, path)


def _refresh(ls: RulesServer, path: Path) -> None:
    """Send anew what is wrong in each open file that a rules file is part of, or would be if it were there."""
    for open_path in map(Path, list(ls.folder.unsaved)):
        if open_path == path or path.stem in ls.folder.named_in(open_path):
            _publish(ls, open_path)
    for uri in ls.exercises.values():
        _publish_remarks(ls, uri)


def _publish(ls: RulesServer, path: Path) -> None:
    """Send what is wrong in a file, its examples’ notes among it; if nothing is, what is odd."""
    examined, parsed = ls.folder.examined(path), ls.folder.parsed(path)
    notes = [problem for each in ls.verdicts.of(examined, parsed) for problem in each.problems]
    told = [_diagnostic(ls, each, lsp.DiagnosticSeverity.Error) for each in (*_own(examined.problems, path), *notes)]
    if not told:
        odd = _own(examined.ruleset.warnings, path)
        told = [_diagnostic(ls, each, lsp.DiagnosticSeverity.Warning) for each in odd]
    ls.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(uri_of(path), told))


def _publish_remarks(ls: RulesServer, uri: str) -> None:
    """Send what is wrong in a file of exercises, and what the rulesets that they name find in them."""
    path = path_of(uri)
    placed, problems = read_placed(ls.workspace.get_text_document(uri).source, str(path))
    told = [_diagnostic(ls, each, lsp.DiagnosticSeverity.Error) for each in problems]
    for each in placed:
        if each.rules:
            told += _remarks(ls, path, each)
    ls.text_document_publish_diagnostics(lsp.PublishDiagnosticsParams(uri_of(path), told))


def _remarks(ls: RulesServer, path: Path, placed: Placed) -> list[lsp.Diagnostic]:
    named = ls.folder.named_file(path, placed.rules)
    line = next(iter(placed.typed.values()))[0][0]
    if named is None:
        words = f"there is no ruleset ‘{placed.rules}’, which a header names"
        return [_diagnostic(ls, Diagnostic(str(path), line, 1, 1, words), lsp.DiagnosticSeverity.Error)]
    ruleset = ls.folder.examined(named).ruleset
    return [_found(remark, line) for remark in remarks(placed, ruleset)]


def _found(remark: Remark, line: int) -> lsp.Diagnostic:
    """A finding at its last note; one about the whole at the first line of the notes."""
    finding = remark.finding
    row, column, length = remark.stretches[-1] if remark.stretches else (line, 1, 1)
    there = lsp.Range(lsp.Position(row - 1, column - 1), lsp.Position(row - 1, column - 1 + length))
    severity = _SEVERITIES[finding.severity] if finding.excuse is None else lsp.DiagnosticSeverity.Hint
    excused = "" if finding.excuse is None else f" (excused: {finding.excuse.reason})"
    return lsp.Diagnostic(there, f"{finding.message}{excused}", severity=severity, source=SOURCE, code=finding.rule)


def _own(problems: Iterable[Diagnostic], path: Path) -> list[Diagnostic]:
    return [each for each in problems if Path(each.path).resolve() == path.resolve()]


def _diagnostic(ls: RulesServer, problem: Diagnostic, severity: lsp.DiagnosticSeverity) -> lsp.Diagnostic:
    words = f"{problem.message}\n{problem.hint}" if problem.hint else problem.message
    return lsp.Diagnostic(ls.stretch(problem), words, severity=severity, source=SOURCE)


@server.feature(lsp.TEXT_DOCUMENT_CODE_ACTION)
def code_actions(ls: RulesServer, params: lsp.CodeActionParams) -> list[lsp.CodeAction]:
    """The changes that the messages in a stretch of the file propose."""
    path = path_of(params.text_document.uri)
    problems = _own(ls.folder.mended(path), path)
    return [
        action
        for problem in problems
        if params.range.start.line <= problem.line - 1 <= params.range.end.line
        for action in _actions(ls, path, problem)
    ]


def _actions(ls: RulesServer, path: Path, problem: Diagnostic) -> list[lsp.CodeAction]:
    change = mend(problem)
    if change is None:
        return []
    line = problem.source_line
    first, last = (ls.units(line[:end]) for end in (change.column - 1, change.column - 1 + change.length))
    there = lsp.Range(lsp.Position(change.line - 1, first), lsp.Position(change.line - 1, last))
    edit = lsp.WorkspaceEdit({uri_of(path): [lsp.TextEdit(there, change.text)]})
    told = [_diagnostic(ls, problem, lsp.DiagnosticSeverity.Error)]
    return [lsp.CodeAction(f"Write: {change.text}", lsp.CodeActionKind.QuickFix, told, edit=edit)]


# ---- what things mean ----------------------------------------------------------------------------


@server.feature(lsp.TEXT_DOCUMENT_HOVER)
def hover(ls: RulesServer, params: lsp.HoverParams) -> lsp.Hover | None:
    """The meaning of the name under the cursor."""
    if path_of(params.text_document.uri).suffix == TYPED:
        return _note_hover(ls, params)
    path, name = ls.named(params)
    text = "" if name is None else meaning.of_name(ls.folder, path, ls.folder.examined(path), name)
    if name is None or not text:
        return None
    return lsp.Hover(lsp.MarkupContent(lsp.MarkupKind.Markdown, text), ls.range(path, name.span))


def _note_hover(ls: RulesServer, params: lsp.HoverParams) -> lsp.Hover | None:
    document = ls.workspace.get_text_document(params.text_document.uri)
    placed, _ = read_placed(document.source, document.uri)
    there = document.position_from_client_units(params.position)
    said = (said_of(each, there.line + 1, there.character + 1) for each in placed)
    text = next((each for each in said if each), "")
    return lsp.Hover(lsp.MarkupContent(lsp.MarkupKind.Markdown, text)) if text else None


@server.feature(lsp.TEXT_DOCUMENT_DEFINITION)
def definition(ls: RulesServer, params: lsp.DefinitionParams) -> lsp.Location | None:
    """Where the name under the cursor is declared; for a file, its beginning."""
    path, name = ls.named(params)
    if name is None:
        return None
    if name.kind == "file":
        return _file(ls, path, name)
    home = ls.folder.declaration(path, name)
    return None if home is None else ls.location(home)


def _file(ls: RulesServer, path: Path, name: Occurrence) -> lsp.Location | None:
    found = ls.folder.named_file(path, name.word)
    start = lsp.Position(0, 0)
    return None if found is None else lsp.Location(uri_of(found), lsp.Range(start, start))


@server.feature(lsp.TEXT_DOCUMENT_REFERENCES)
def all_references(ls: RulesServer, params: lsp.ReferenceParams) -> list[lsp.Location]:
    """Every place that names the same thing."""
    path, name = ls.named(params)
    found = [] if name is None else ls.folder.everywhere(path, name)
    wanted = params.context.include_declaration
    return [ls.location(each) for each in found if wanted or not each.occurrence.declares]


@server.feature(lsp.TEXT_DOCUMENT_PREPARE_RENAME)
def may_be_renamed(ls: RulesServer, params: lsp.PrepareRenameParams) -> lsp.Range | None:
    """The name that would be changed; None for a word of the language and for what is shipped."""
    path, name = ls.named(params)
    return ls.range(path, name.span) if name is not None and ls.folder.may_rename(path, name) else None


@server.feature(lsp.TEXT_DOCUMENT_RENAME)
def rename(ls: RulesServer, params: lsp.RenameParams) -> lsp.WorkspaceEdit | None:
    """A rule, definition or parameter called otherwise, in every file that names it."""
    path, name = ls.named(params)
    if name is None or not ls.folder.may_rename(path, name) or not ls.folder.is_free(path, params.new_name):
        return None
    edits: dict[str, list[lsp.TextEdit]] = {}
    for each in ls.folder.everywhere(path, name):
        edit = lsp.TextEdit(ls.range(each.path, each.occurrence.span), params.new_name)
        edits.setdefault(uri_of(each.path), []).append(edit)
    return lsp.WorkspaceEdit(dict(edits))


# ---- what can be written --------------------------------------------------------------------------


@server.feature(lsp.TEXT_DOCUMENT_COMPLETION)
def completion(ls: RulesServer, params: lsp.CompletionParams) -> list[lsp.CompletionItem]:
    """What can stand at the cursor."""
    document = ls.workspace.get_text_document(params.text_document.uri)
    path = path_of(document.uri)
    found = offers(ls.folder.parsed(path).text, ls.place(document, params.position), ls.folder.examined(path))
    return [_item(offer, number) for number, offer in enumerate(found)]


def _item(offer: Offer, number: int) -> lsp.CompletionItem:
    return lsp.CompletionItem(offer.word, kind=_OFFERED[offer.kind], detail=offer.said, sort_text=f"{number:04}")


@server.feature(lsp.TEXT_DOCUMENT_FORMATTING)
def formatting(ls: RulesServer, params: lsp.DocumentFormattingParams) -> list[lsp.TextEdit] | None:
    """The file in its layout; None while it has a mistake that keeps it from being laid out."""
    path = path_of(params.text_document.uri)
    parsed = ls.folder.parsed(path)
    try:
        laid = format_text(parsed.text, str(path))
    except RulekitError:
        return None
    if laid == parsed.text:
        return []
    everything = lsp.Range(lsp.Position(0, 0), ls.position(parsed, len(parsed.text)))
    return [lsp.TextEdit(everything, laid)]


# ---- what is where --------------------------------------------------------------------------------


@server.feature(lsp.TEXT_DOCUMENT_DOCUMENT_SYMBOL)
def symbols(ls: RulesServer, params: lsp.DocumentSymbolParams) -> list[lsp.DocumentSymbol]:
    """The outline of the file."""
    path = path_of(params.text_document.uri)
    return _symbols(ls, path, outline.outline(ls.folder.parsed(path)))


def _symbols(ls: RulesServer, path: Path, entries: Sequence[Entry]) -> list[lsp.DocumentSymbol]:
    return [
        lsp.DocumentSymbol(
            each.name, _HEADINGS[each.heading], ls.range(path, each.whole), ls.range(path, each.named),
            children=_symbols(ls, path, each.below),
        )
        for each in entries
    ]  # fmt: skip


@server.feature(lsp.TEXT_DOCUMENT_FOLDING_RANGE)
def folding(ls: RulesServer, params: lsp.FoldingRangeParams) -> list[lsp.FoldingRange]:
    """What can be folded."""
    parsed = ls.folder.parsed(path_of(params.text_document.uri))
    return [lsp.FoldingRange(first - 1, last - 1) for first, last in outline.folds(parsed)]


@server.feature(
    lsp.TEXT_DOCUMENT_SEMANTIC_TOKENS_FULL,
    lsp.SemanticTokensLegend([_COLOURS[each] for each in COLOURS], []),
)
def semantic_tokens(ls: RulesServer, params: lsp.SemanticTokensParams) -> lsp.SemanticTokens:
    """The kinds of the words, each placed after the one before."""
    path = path_of(params.text_document.uri)
    parsed = ls.folder.parsed(path)
    known: dict[str, Colour] = {}
    for each in ls.folder.reached(path):
        for kind, word in declarations(ls.folder.parsed(each)):
            known[word] = "definition" if kind == "definition" else "parameter" if kind == "parameter" else "word"
    data: list[int] = []
    row = column = 0
    for start, length, colour in outline.colours(parsed, known):
        there = ls.position(parsed, start)
        before = column if there.line == row else 0
        width = ls.units(parsed.text[start : start + length])
        data += [there.line - row, there.character - before, width, COLOURS.index(colour), 0]
        row, column = there.line, there.character
    return lsp.SemanticTokens(data)


@server.feature(lsp.TEXT_DOCUMENT_INLAY_HINT)
def inlay_hints(ls: RulesServer, params: lsp.InlayHintParams) -> list[lsp.InlayHint]:
    """Beside each example in the part of the file that is shown, how it comes out."""
    path = path_of(params.text_document.uri)
    parsed = ls.folder.parsed(path)
    shown = range(params.range.start.line, params.range.end.line + 1)
    hints: list[lsp.InlayHint] = []
    for verdict in ls.verdicts.of(ls.folder.examined(path), parsed):
        row = verdict.example.span.line - 1
        if row in shown:
            end = lsp.Position(row, ls.units(parsed.text.split("\n")[row]))
            hints.append(lsp.InlayHint(end, verdict.words, padding_left=True))
    return hints
