"""The language server, asked by a real client over standard input and output."""

import asyncio
import queue
import random
import sys
import threading
from collections.abc import Awaitable, Callable, Coroutine, Iterator
from pathlib import Path
from typing import Any, TypeVar

import pytest
from lsprotocol import types as lsp
from pygls.lsp.client import LanguageClient

from rulekit.editor.folder import Folder
from rulekit.language import parser

P = TypeVar("P")
T = TypeVar("T")

RULES = """ruleset "Evening class"
use vocabulary

parameter most-thirds is count from 1 to 9, usually 3

define narrow for an interval with limit: interval as interval is at most limit

rule thirds-in-a-row
  "More than {most-thirds} thirds."
  for every interval between each pair
  forbid run where (interval is third) is more than most-thirds
  warning
  source "our class"
  accepts
    | upper E5 F5 G5
    | lower C5 D5 E5
  rejects at bar 2
    | upper E5 F5 G5 A5
    | lower C5 D5 E5 F5

rule close-together
  "Too wide: {interval}."
  for every interval between each pair
  require it is narrow(M10)
  fault
  source "our class"
  accepts
    | upper E5
    | lower C4
"""
BUILT = """ruleset "Strict evening class"
build on evening

set most-thirds to 2
adjust thirds-in-a-row: fault, 3 points
"""


class Asking:
    """The framework’s own client with a server of its own, asked from outside its loop."""

    def __init__(self) -> None:
        self.loop = asyncio.new_event_loop()
        self.thread = threading.Thread(target=self.loop.run_forever, daemon=True)
        self.thread.start()
        self.to = LanguageClient("tests", "0")
        self.told: queue.Queue[lsp.PublishDiagnosticsParams] = queue.Queue()
        self.to.feature(lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)(lambda told: self.told.put(told))
        self.wait(self.to.start_io(sys.executable, "-m", "rulekit", "language-server"))
        self.watched: queue.Queue[lsp.RegistrationParams] = queue.Queue()
        self.to.feature(lsp.CLIENT_REGISTER_CAPABILITY)(lambda wish: self.watched.put(wish))
        watching = lsp.DidChangeWatchedFilesClientCapabilities(dynamic_registration=True)
        able = lsp.ClientCapabilities(workspace=lsp.WorkspaceClientCapabilities(did_change_watched_files=watching))
        self.wait(self.to.initialize_async(lsp.InitializeParams(capabilities=able)))
        self.do(self.to.initialized, lsp.InitializedParams())

    def wait(self, answer: Coroutine[Any, Any, T]) -> T:
        return asyncio.run_coroutine_threadsafe(answer, self.loop).result(60)

    def ask(self, question: Callable[[P], Awaitable[T]], params: P) -> T:
        async def asked() -> T:
            return await question(params)

        return self.wait(asked())

    def do(self, action: Callable[[P], object], params: P) -> None:
        async def done() -> None:
            action(params)

        self.wait(done())

    def end(self) -> None:
        self.wait(self.to.shutdown_async(None))
        self.do(self.to.exit, None)
        self.wait(self.to.stop())
        self.loop.call_soon_threadsafe(self.loop.stop)
        self.thread.join(10)


@pytest.fixture(scope="module")
def client() -> Iterator[Asking]:
    asking = Asking()
    yield asking
    asking.end()


class Desk:
    """A file open in the editor."""

    def __init__(self, client: Asking, path: Path, text: str) -> None:
        self.client, self.uri, self.text, self.version = client, path.resolve().as_uri(), text, 1
        document = lsp.TextDocumentItem(self.uri, "rules", 1, text)
        client.do(client.to.text_document_did_open, lsp.DidOpenTextDocumentParams(document))
        self.name = lsp.TextDocumentIdentifier(self.uri)

    def write(self, text: str) -> None:
        self.text, self.version = text, self.version + 1
        named = lsp.VersionedTextDocumentIdentifier(uri=self.uri, version=self.version)
        whole = lsp.TextDocumentContentChangeWholeDocument(text)
        self.client.do(self.client.to.text_document_did_change, lsp.DidChangeTextDocumentParams(named, [whole]))

    def after(self, words: str, number: int = 0) -> lsp.Position:
        """The place right after some words of the text."""
        place = -1
        for _ in range(number + 1):
            place = self.text.index(words, place + 1)
        head = self.text[: place + len(words)]
        return lsp.Position(head.count("\n"), len(head) - head.rfind("\n") - 1)

    def told(self) -> list[lsp.Diagnostic]:
        while True:
            told = self.client.told.get(timeout=60)
            if told.uri == self.uri:
                return list(told.diagnostics)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    (tmp_path / "evening.rules").write_text(RULES, encoding="utf-8")
    (tmp_path / "strict.rules").write_text(BUILT, encoding="utf-8")
    return tmp_path


def whole(desk: Desk) -> lsp.Range:
    return lsp.Range(lsp.Position(0, 0), lsp.Position(desk.text.count("\n") + 1, 0))


def test_a_mistake_is_told_with_its_mend(client: Asking, place: Path) -> None:
    desk = Desk(client, place / "evening.rules", RULES.replace("interval is third", "intervall is third"))
    (told,) = desk.told()
    assert (told.range.start.line, told.range.end.character - told.range.start.character) == (10, len("intervall"))
    asked = lsp.CodeActionParams(desk.name, told.range, lsp.CodeActionContext([told]))
    (action,) = client.ask(client.to.text_document_code_action_async, asked) or ()
    assert isinstance(action, lsp.CodeAction) and action.edit and action.edit.changes
    (edit,) = action.edit.changes[desk.uri]
    assert edit.new_text == "interval"
    desk.write(RULES)
    assert desk.told() == []


def test_examples_show_how_they_come_out(client: Asking, place: Path) -> None:
    desk = Desk(client, place / "evening.rules", RULES)
    hints = client.ask(client.to.text_document_inlay_hint_async, lsp.InlayHintParams(desk.name, whole(desk))) or ()
    assert [hint.label for hint in hints] == [
        "as expected", "not as expected: bar 2 is not broken; bar 4 is broken", "as expected",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("place_of", "wanted", "unwanted"),
    [
        ("(interval is ", {"third", "dissonance", "exactly"}, {"contrary", "most-thirds", "strong"}),
        ("is more than ", {"most-thirds"}, {"third", "contrary"}),
        ("require it is ", {"narrow", "crossed", "on the downbeat"}, {"third", "most-thirds"}),
        ("use ", {"vocabulary"}, {"third"}),
    ],
)
def test_only_what_makes_sense_is_offered(
    client: Asking, place: Path, place_of: str, wanted: set[str], unwanted: set[str]
) -> None:
    desk = Desk(client, place / "evening.rules", RULES)
    found = (
        client.ask(client.to.text_document_completion_async, lsp.CompletionParams(desk.name, desk.after(place_of)))
        or ()
    )
    words = {item.label for item in found if isinstance(item, lsp.CompletionItem)}
    assert wanted <= words and not unwanted & words


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("adjust thirds", "fault, 3 points"),
        ("set most", "set in strict"),
    ],
)
def test_hovering_says_what_is_in_force(client: Asking, place: Path, word: str, said: str) -> None:
    desk = Desk(client, place / "strict.rules", BUILT)
    found = client.ask(client.to.text_document_hover_async, lsp.HoverParams(desk.name, desk.after(word)))
    assert found and isinstance(found.contents, lsp.MarkupContent) and said in found.contents.value


def test_names_are_followed_and_changed_across_files(client: Asking, place: Path) -> None:
    desk = Desk(client, place / "strict.rules", BUILT)
    home = client.ask(client.to.text_document_definition_async, lsp.DefinitionParams(desk.name, desk.after("set most")))
    assert isinstance(home, lsp.Location)
    assert (Path(home.uri).name, home.range.start.line) == ("evening.rules", 3)
    asked = lsp.RenameParams(desk.name, desk.after("set most"), "thirds-allowed")
    edit = client.ask(client.to.text_document_rename_async, asked)
    assert edit and edit.changes
    changed = {Path(uri).name: len(edits) for uri, edits in edit.changes.items()}
    assert changed == {"evening.rules": 3, "strict.rules": 1}  # the placeholder in the message is one
    taken = lsp.RenameParams(desk.name, desk.after("set most"), "thirds-in-a-row")
    assert client.ask(client.to.text_document_rename_async, taken) is None


def test_shipped_names_and_words_of_the_language_are_not_renamed(client: Asking, place: Path) -> None:
    desk = Desk(client, place / "evening.rules", RULES)
    for word in ("forbid run where (interval", "is thi"):
        asked = lsp.PrepareRenameParams(desk.name, desk.after(word))
        assert client.ask(client.to.text_document_prepare_rename_async, asked) is None


def test_outline_folds_colours_and_layout(client: Asking, place: Path) -> None:
    desk = Desk(client, place / "evening.rules", RULES.replace("  warning\n", "    warning\n"))
    outline = client.ask(client.to.text_document_document_symbol_async, lsp.DocumentSymbolParams(desk.name)) or ()
    assert [each.name for each in outline] == [
        "vocabulary", "most-thirds", "narrow", "thirds-in-a-row", "close-together",
    ]  # fmt: skip
    assert [len(each.children or ()) for each in outline if isinstance(each, lsp.DocumentSymbol)] == [0, 0, 0, 2, 1]
    folds = client.ask(client.to.text_document_folding_range_async, lsp.FoldingRangeParams(desk.name)) or ()
    assert (7, 18) in {(fold.start_line, fold.end_line) for fold in folds}
    colours = client.ask(client.to.text_document_semantic_tokens_full_async, lsp.SemanticTokensParams(desk.name))
    assert colours and len(colours.data) % 5 == 0 and len(colours.data) > 300
    options = lsp.FormattingOptions(2, True)
    (edit,) = (
        client.ask(client.to.text_document_formatting_async, lsp.DocumentFormattingParams(desk.name, options)) or ()
    )
    assert edit.new_text == RULES


def test_edits_at_random_equal_opening_afresh(client: Asking, place: Path) -> None:
    """The law: however a text came to be, the editor is told the same of it."""
    chance = random.Random(20)
    desk, lines = Desk(client, place / "evening.rules", RULES), RULES.splitlines()
    desk.told()
    for _ in range(12):
        changed = list(lines)
        for _ in range(chance.randrange(3)):
            at = chance.randrange(len(changed))
            cut = chance.randrange(len(changed[at]) + 1)
            changed[at] = chance.choice(["", changed[at][:cut], chance.choice(lines)])
        desk.write("\n".join(changed))
        told = desk.told()
        afresh = Desk(client, place / "afresh.rules", desk.text)
        assert {str(each) for each in afresh.told()} == {str(each) for each in told}
        client.do(client.to.text_document_did_close, lsp.DidCloseTextDocumentParams(afresh.name))


NOTES = """exercise: Wenke Oudshoorn
mode: D dorian
rules: first-species-strict
upper   A4 B4 A4 C#5 D5
cantus  D4 E4 D4 E4 D4
"""


def test_an_exercise_that_names_its_ruleset_shows_its_findings(client: Asking, place: Path) -> None:
    desk = Desk(client, place / "wenke.notes", NOTES)
    told = desk.told()
    (parallel,) = [each for each in told if each.code == "no-parallels" and each.range.start.character == 11]
    assert (parallel.range.start.line, parallel.range.end.character) == (4, 13)
    found = client.ask(client.to.text_document_hover_async, lsp.HoverParams(desk.name, desk.after("upper   A4 B")))
    assert found and isinstance(found.contents, lsp.MarkupContent)
    assert found.contents.value.split("\n\n") == ["**B4**, degree 6 of D dorian", "perfect fifth with E4 of cantus"]
    desk.write(NOTES.replace("first-species-strict", "nowhere").replace("B4", "Q4"))
    assert len(desk.told()) == 1  # an exercise that can’t be read is not judged
    desk.write(NOTES.replace("first-species-strict", "nowhere"))
    assert [each.message for each in desk.told()] == ["there is no ruleset ‘nowhere’, which a header names"]


def test_what_others_build_on_is_watched(client: Asking) -> None:
    (wish,) = client.watched.get(timeout=60).registrations
    assert wish.method == lsp.WORKSPACE_DID_CHANGE_WATCHED_FILES


def test_a_change_beneath_a_file_is_told_there(client: Asking, place: Path) -> None:
    """In the editor, on the disk, and when an editor’s text is given up again."""
    spoilt = RULES.replace("thirds-in-a-row", "rows-of-thirds")
    built = Desk(client, place / "strict.rules", BUILT)
    assert built.told() == []
    beneath = Desk(client, place / "evening.rules", RULES)
    assert built.told() == []
    beneath.write(spoilt)
    assert "thirds-in-a-row" in built.told()[0].message
    client.do(client.to.text_document_did_close, lsp.DidCloseTextDocumentParams(beneath.name))
    assert built.told() == []
    (place / "evening.rules").write_text(spoilt, encoding="utf-8")
    event = lsp.FileEvent(beneath.uri, lsp.FileChangeType.Changed)
    client.do(client.to.workspace_did_change_watched_files, lsp.DidChangeWatchedFilesParams([event]))
    assert "thirds-in-a-row" in built.told()[0].message


def test_exercises_follow_the_rules_that_they_name(client: Asking, place: Path) -> None:
    wide = "exercise: wide\nrules: evening\nupper  A5\nlower  C4\n"
    open_ = Desk(client, place / "wide.notes", wide)
    assert [each.code for each in open_.told()] == ["close-together"]
    beneath = Desk(client, place / "evening.rules", RULES)
    assert [each.code for each in open_.told()] == ["close-together"]
    beneath.write(RULES.replace("narrow(M10)", "narrow(P15)"))
    assert open_.told() == []


def test_after_a_key_only_its_own_statement_is_read_again(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The law: a key costs what it changes, however long the file is."""
    folder, path = Folder(), place / "evening.rules"
    folder.examined(path)
    read: list[str] = []
    really = parser._piece
    monkeypatch.setattr(parser, "_piece", lambda part, *given: read.append(part) or really(part, *given))
    folder.unsaved[str(path.resolve())] = RULES.replace("Too wide", "Too far")
    assert not folder.examined(path).problems
    assert read and all(part.startswith("rule close-together") for part in read)
