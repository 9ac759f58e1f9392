"""A musician’s way through the desk in a real browser: by keyboard, by mouse, after mistakes and losses."""

import re
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from tests.desk.conftest import NOTES, RULES, Served

_PATIENCE = 60  # seconds


def until(page: Any, condition: str, given: object = None) -> None:
    """Wait for something to be so; the page’s own policy forbids to let it wait itself."""
    end = time.monotonic() + _PATIENCE
    while not page.evaluate(condition, given):
        assert time.monotonic() < end, f"never: {condition}"
        page.wait_for_timeout(40)


class Sheet:
    """The desk opened in the browser, and what it said and asked for."""

    def __init__(self, page: Any, served: Served) -> None:
        self.page, self.served = page, served
        self.said: list[str] = []
        self.asked: list[str] = []
        page.on("console", lambda message: self.said.append(message.text))
        page.on("pageerror", lambda error: self.said.append(str(error)))
        page.on("request", lambda request: self.asked.append(request.url))
        page.goto(served.address)
        until(page, "document.querySelectorAll('#rules-file option').length > 1")

    def open(self, rules: str = "thursday.rules", notes: str = "wenke.notes") -> None:
        self.page.select_option("#rules-file", rules)
        until(self.page, "document.getElementById('verdicts').textContent")
        self.page.select_option("#exercise-file", notes)
        self.page.wait_for_selector("#staves svg.staves")

    def cursor(self, words: str) -> None:
        """Put the cursor after some words."""
        self.page.evaluate(
            "words => { const a = document.getElementById('rules'); const p = a.value.indexOf(words) + words.length;"
            " a.focus(); a.setSelectionRange(p, p) }",
            words,
        )


@pytest.fixture
def sheet(chromium: Any, served: Served) -> Any:
    page = chromium.new_page(viewport={"width": 1400, "height": 1000})
    yield Sheet(page, served)
    page.close()


def go_to(page: Any, wanted: str, key: str = "Tab") -> None:
    """Go to something as one does without a mouse."""
    for _ in range(100):
        if page.evaluate("wanted => document.activeElement.matches(wanted)", wanted):
            return
        page.keyboard.press(key)
    raise AssertionError(f"no key leads to {wanted}")


def test_a_musicians_way_by_keyboard(sheet: Sheet) -> None:
    """Nothing but keys: files and rulesets are chosen in their lists by the first letters of their names."""
    page = sheet.page
    go_to(page, "#new-rules")
    page.keyboard.press("Enter")
    page.keyboard.type("friday")
    page.keyboard.press("Tab")
    page.keyboard.type("first-species-s")
    assert page.input_value("#new-base") == "first-species-strict"
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    until(page, "document.getElementById('rules').value.includes('build on first-species-strict')")
    page.keyboard.type("set most-thirds to 2\nadjust no-unison: warning\ndrop more-contr")
    page.keyboard.press("Control+Space")
    page.wait_for_selector("#offers li")
    assert page.text_content("#offers li").startswith("more-contrary")
    page.keyboard.press("Enter")
    until(page, "document.getElementById('verdicts').textContent")
    go_to(page, "#exercise-file")
    page.keyboard.type("wenke")
    page.wait_for_selector("#findings li")
    go_to(page, "#changes")
    page.keyboard.press("Enter")
    page.wait_for_selector("#effects table")
    assert "Wenke Oudshoorn" in page.text_content("#effects")
    go_to(page, "#rules", "Shift+Tab")
    page.keyboard.press("Control+s")
    until(page, "document.getElementById('said').textContent === 'friday.rules is saved.'")
    assert "ask again" in page.text_content("#effects .since")
    assert "drop more-contrary" in (sheet.served.folder / "friday.rules").read_text(encoding="utf-8")
    assert sheet.said == [] and all(url.startswith("http://127.0.0.1:") for url in sheet.asked)


def test_examples_follow_what_is_typed(sheet: Sheet) -> None:
    page = sheet.page
    sheet.open()
    sheet.cursor("forbid interval is wider than tenth")
    page.keyboard.press("Control+Shift+ArrowLeft")
    page.keyboard.type("ninth")
    until(page, "document.getElementById('verdicts').textContent === '1 of 2 examples as expected'")
    page.wait_for_selector("#examples .saw li")
    assert "major tenth" in page.text_content("#examples .saw")
    page.keyboard.press("F2")
    until(page, "document.getElementById('meaning').textContent.includes('interval')")
    assert int(page.get_attribute("body", "data-looked")) < 5_000


def test_a_mistake_is_told_and_mended_by_mouse(sheet: Sheet) -> None:
    page = sheet.page
    sheet.open()
    page.fill("#rules", RULES.replace("interval is wider", "intervall is wider"))
    page.click("#problems .mend")
    until(page, "text => document.getElementById('rules').value === text", RULES)
    until(page, "!document.querySelector('#problems li')")


def test_a_place_shows_what_may_stand_there(sheet: Sheet) -> None:
    page = sheet.page
    sheet.open(notes="cantus.notes")
    page.focus("#staves [data-open='0.0']")
    page.keyboard.press("Enter")
    page.wait_for_selector("#strip .fits")
    page.click("#strip .fits >> nth=-1")
    until(page, "!document.getElementById('notes').value.includes('upper   ?')")
    page.click("#staves [data-note='0.0'] .area")
    page.wait_for_selector("#strip .here")
    page.click("#complete")
    page.wait_for_selector("#lines svg.staves")
    page.click("#lines button >> nth=0")
    until(page, "!document.getElementById('notes').value.includes('?')")


def test_what_was_typed_outlives_the_page_and_a_change_on_the_disk(sheet: Sheet) -> None:
    page = sheet.page
    sheet.open()
    page.fill("#rules", RULES + "\n-- more to come\n")
    (sheet.served.folder / "thursday.rules").write_text(RULES.replace("Thursday", "Monday"), encoding="utf-8")
    page.click("#save-rules")
    until(page, "document.getElementById('said').textContent.includes('has changed on the disk')")
    assert "Monday" in (sheet.served.folder / "thursday.rules").read_text(encoding="utf-8")
    page.on("dialog", lambda dialog: dialog.accept())
    page.reload()
    until(page, "document.querySelectorAll('#rules-file option').length > 1")
    page.select_option("#rules-file", "thursday.rules")
    page.wait_for_selector("#draft:not([hidden])")
    page.click("#draft [data-take]")
    assert "more to come" in page.input_value("#rules")


def test_hostile_files_do_nothing(sheet: Sheet) -> None:
    hostile = "<img src=x onerror=alert(1)>"
    folder = sheet.served.folder
    (folder / "bad.rules").write_text(RULES.replace("Thursday class", hostile).replace("our class", hostile))
    (folder / "bad.notes").write_text(f"exercise: {hostile}\nupper A4 B4 A4\n<script> D4 G4 F4\ncantus D4 G4 F4\n")
    sheet.page.reload()
    until(sheet.page, "document.querySelectorAll('#rules-file option').length > 2")
    sheet.page.select_option("#rules-file", "bad.rules")
    until(sheet.page, "document.getElementById('verdicts').textContent")
    sheet.page.select_option("#exercise-file", "bad.notes")
    sheet.page.wait_for_selector("#staves svg.staves, #note-problems li")
    assert sheet.page.query_selector("img, script:not([src])") is None
    assert not [text for text in sheet.said if "400" not in text]


@pytest.mark.parametrize("width", [320, 700, 1600])
def test_it_fits_and_can_be_used_by_all(sheet: Sheet, width: int) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    sheet.page.set_viewport_size({"width": width, "height": 900})
    sheet.open()
    assert sheet.page.evaluate("document.documentElement.scrollWidth") <= width
    found = axe.Axe().run(sheet.page).response["violations"]
    assert [each["id"] for each in found if each["impact"] in ("serious", "critical")] == []


def written(page: Any) -> list[str]:
    """The notes of the voice to be written, as they are typed."""
    line = next(line for line in page.input_value("#notes").splitlines() if line.startswith("upper"))
    return line.split()[1:]


def test_notes_are_written_on_the_staff_by_mouse(sheet: Sheet) -> None:
    """The law: where one points is the note that then stands there, by the staff’s own lines."""
    page = sheet.page
    sheet.open(notes="cantus.notes")
    for slot, (note, half_spaces) in enumerate([("A4", 5), ("D5", 2), ("E4", 8), ("A5", -2), ("C4", 10)]):
        ground = page.query_selector_all("#staves [data-staff='0']")[slot]
        ground.evaluate("each => each.scrollIntoView({ block: 'center' })")
        box = ground.bounding_box()
        unit = box["height"] / float(ground.get_attribute("height"))
        place = page.query_selector(f"#staves [data-place='0.{slot}'] .area").bounding_box()
        top = box["y"] + (float(ground.get_attribute("data-top")) - float(ground.get_attribute("y"))) * unit
        page.mouse.click(place["x"] + place["width"] / 2, top + half_spaces * 5 * unit)
        until(page, f'document.querySelector(\'#staves [data-place="0.{slot}"][aria-label$="{note}"]\') !== null')
        until(page, f"document.getElementById('strip').textContent.includes('note {slot + 1}: {note}')")
    assert written(page) == ["A4", "D5", "E4", "A5", "C4", "?"]
    page.click("#take-back")
    until(page, "document.getElementById('notes').value.includes('A5 ? ?')")
    assert sheet.said == []


def test_notes_are_written_on_the_staff_by_keyboard(sheet: Sheet) -> None:
    page = sheet.page
    sheet.open(notes="cantus.notes")
    page.focus("#staves [data-place='0.0']")
    for key in ("ArrowUp", "ArrowDown", "ArrowDown", "ArrowUp"):  # the middle line, then from there
        page.keyboard.press(key)
    until(page, "document.getElementById('notes').value.includes('upper   A4 ')")
    until(page, "document.activeElement.getAttribute('aria-label') === 'Bar 1, upper: A4'")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("-")
    until(page, "document.activeElement.getAttribute('aria-label') === 'Bar 2, upper: Bb4'")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Delete")
    until(page, "document.activeElement.getAttribute('aria-label') === 'Bar 1, upper: still to be found'")
    page.keyboard.press("Control+z")
    until(page, "document.getElementById('notes').value.includes('upper   A4 Bb4')")
    page.focus("#staves [data-place='1.0']")
    page.keyboard.press("ArrowUp")  # the cantus is given
    assert "cantus  D4 F4" in page.input_value("#notes")


def test_a_voice_is_begun_over_a_cantus_alone(sheet: Sheet) -> None:
    page = sheet.page
    (sheet.served.folder / "alone.notes").write_text("exercise: alone\ncantus D4 F4 E4 F4 E4 D4\n", encoding="utf-8")
    page.reload()
    until(page, "document.querySelectorAll('#exercise-file option').length > 3")
    sheet.open(notes="alone.notes")
    page.click("#above")
    until(page, "document.querySelectorAll('#staves [data-open]').length === 6")
    page.focus("#staves [data-place='0.0']")
    page.keyboard.press("ArrowUp")
    until(page, "document.getElementById('notes').value.includes('upper   B4 ?')")


def started(folder: Path) -> tuple[subprocess.Popen[str], str]:
    """A desk in a process of its own, and its address."""
    command = [sys.executable, "-m", "rulekit", "desk", str(folder), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, encoding="utf-8")
    assert process.stdout is not None
    found = re.search(r"http://\S+", process.stdout.readline())
    assert found is not None
    return process, found[0]


def test_nothing_is_lost_when_the_server_is_killed(chromium: Any, tmp_path: Path) -> None:
    (tmp_path / "thursday.rules").write_text(RULES, encoding="utf-8")
    (tmp_path / "wenke.notes").write_text(NOTES, encoding="utf-8")
    page = chromium.new_page()
    process, address = started(tmp_path)
    page.goto(address)
    until(page, "document.querySelectorAll('#rules-file option').length > 1")
    page.select_option("#rules-file", "thursday.rules")
    until(page, "document.getElementById('verdicts').textContent")
    page.select_option("#exercise-file", "wenke.notes")
    page.wait_for_selector("#staves svg.staves")
    page.fill("#rules", RULES + "\n-- before the end\n")
    process.kill()
    process.wait(20)
    page.fill("#rules", RULES + "\n-- before the end, and after it\n")
    page.fill("#notes", NOTES.replace("A4 G4", "A4 B4"))
    until(page, "document.getElementById('said').textContent.includes('does not answer')")
    assert "kept in this browser" in page.text_content("#said")
    process, address = started(tmp_path)
    try:
        page.on("dialog", lambda dialog: dialog.accept())
        page.goto(address)
        until(page, "document.querySelectorAll('#rules-file option').length > 1")
        page.select_option("#rules-file", "thursday.rules")
        page.wait_for_selector("#draft:not([hidden])")
        assert "not saved" in page.text_content("#draft p")
        page.click("#draft [data-take]")
        assert "and after it" in page.input_value("#rules")
        page.select_option("#exercise-file", "wenke.notes")
        page.wait_for_selector("#notes-draft:not([hidden])")
        page.click("#notes-draft [data-take]")
        assert "A4 B4" in page.input_value("#notes")
        page.click("#save-rules")
        until(page, "document.getElementById('said').textContent === 'thursday.rules is saved.'")
        assert "and after it" in (tmp_path / "thursday.rules").read_text(encoding="utf-8")
    finally:
        process.kill()
        process.wait(20)
        page.close()


def test_a_draft_of_a_file_that_changed_says_so(sheet: Sheet) -> None:
    page = sheet.page
    sheet.open()
    page.fill("#notes", NOTES.replace("A4 G4", "A4 B4"))
    (sheet.served.folder / "wenke.notes").write_text(NOTES.replace("A4 G4", "A4 C5"), encoding="utf-8")
    page.select_option("#exercise-file", "cantus.notes")
    page.wait_for_selector("#notes-draft[hidden]", state="attached")
    page.select_option("#exercise-file", "wenke.notes")
    page.wait_for_selector("#notes-draft:not([hidden])")
    assert "has changed on the disk" in page.text_content("#notes-draft p")
    assert "A4 C5" in page.input_value("#notes")
    page.click("#notes-draft [data-leave]")
    assert "A4 C5" in page.input_value("#notes")


def test_two_windows_never_save_over_each_other(sheet: Sheet, chromium: Any) -> None:
    other = Sheet(chromium.new_page(), sheet.served)
    sheet.open()
    other.open()
    sheet.page.fill("#rules", RULES + "\n-- one\n")
    sheet.page.click("#save-rules")
    until(sheet.page, "document.getElementById('said').textContent.endsWith('is saved.')")
    other.page.fill("#rules", RULES + "\n-- two\n")
    other.page.click("#save-rules")
    until(other.page, "document.getElementById('said').textContent.includes('has changed on the disk')")
    assert "-- one" in (sheet.served.folder / "thursday.rules").read_text(encoding="utf-8")
    assert "-- two" in other.page.input_value("#rules")
    other.page.close()


def test_a_musicians_way_by_mouse(sheet: Sheet) -> None:
    """Words are typed, of course; whatever else is done is done by pointing, and choices are made in lists."""
    page = sheet.page
    page.click("#new-rules")
    page.click("#new-name")
    page.keyboard.type("saturday")
    page.select_option("#new-base", "first-species-strict")
    page.click("#new-form button")
    until(page, "document.getElementById('rules').value.includes('build on first-species-strict')")
    page.click("#rules")
    page.keyboard.press("Control+End")
    page.keyboard.type("set most-thirds to 2\nadjust no-unison: warning\ndrop more-contrary\n")
    until(page, "document.getElementById('verdicts').textContent")
    page.select_option("#exercise-file", "wenke.notes")
    page.wait_for_selector("#staves svg.staves")
    page.click("#changes")
    page.wait_for_selector("#effects table")
    assert "Wenke Oudshoorn" in page.text_content("#effects")
    page.click("#save-rules")
    until(page, "document.getElementById('said').textContent === 'saturday.rules is saved.'")
    saved = (sheet.served.folder / "saturday.rules").read_text(encoding="utf-8")
    assert all(words in saved for words in ("most-thirds", "no-unison", "more-contrary"))
    assert sheet.said == []
