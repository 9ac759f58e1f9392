"""Pages in a real browser: no message, no request, chosen by keyboard, heard, printed, read aloud."""

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from rulekit.language.loading import load_text
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Marked, mark
from rulekit.music.mode import mode_of
from rulekit.page.data import PageOptions, played
from rulekit.page.found import Section, found_page
from rulekit.page.index import ClassIndex, entry_of, index_of
from rulekit.page.lesson import lesson_sheet
from rulekit.page.plots import Plot, counts
from rulekit.page.printing import print_pdf
from rulekit.page.render import page_of
from tests.page.cases import FAULTY, marked_text

_LISTEN = """
window.tones = [];
const made = AudioContext.prototype.createOscillator;
AudioContext.prototype.createOscillator = function () {
  const tone = made.call(this);
  const start = tone.start.bind(tone);
  const heard = {};
  tone.start = (time) => {
    heard.frequency = tone.frequency.value;
    heard.start = time;
    window.tones.push(heard);
    start(time);
  };
  return tone;
};
"""


class Opened:
    """A page opened in the browser, and what it said and asked for."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.said: list[str] = []
        self.asked: list[str] = []
        page.on("console", lambda message: self.said.append(message.text))
        page.on("pageerror", lambda error: self.said.append(str(error)))
        page.on("request", lambda request: self.asked.append(request.url))

    def silent(self) -> bool:
        """Nothing on the console, and no request but for the file itself."""
        return not self.said and len(self.asked) == 1 and self.asked[0].startswith("file:")


@pytest.fixture
def open_page(chromium: Any, tmp_path: Path) -> Iterator[Any]:
    opened: list[Any] = []

    def go(html: str, width: int = 1000) -> Opened:
        path = tmp_path / "page.html"
        path.write_text(html, encoding="utf-8")
        page = chromium.new_page(viewport={"width": width, "height": 900})
        page.add_init_script(_LISTEN)
        opened.append(page)
        found = Opened(page)
        page.goto(path.as_uri())
        return found

    yield go
    for page in opened:
        page.close()


@pytest.fixture(scope="module")
def german_page(faulty: Marked, strict: Ruleset) -> str:
    return page_of([faulty], strict, PageOptions(language="de", seconds=2))


@pytest.fixture(scope="module")
def class_index(faulty: Marked) -> str:
    entries = (entry_of(faulty, "a.html", "a.notes").since(40, ((2, "Gone."),)), entry_of(faulty, "b.html", "b.notes"))
    return index_of(ClassIndex(PageOptions(title="Harbour Street"), "strict", entries))


@pytest.fixture(scope="module")
def lines_found(faulty: Marked) -> str:
    plot = Plot("By opening", "note", "lines", counts([("D4", 3), ("A4", 10**30)]))
    return found_page("Lines", [Section("the ferry", [("one of 2", faulty.exercise)], [plot])])


@pytest.fixture(scope="module")
def lesson(strict: Ruleset) -> str:
    return lesson_sheet(replace(strict, rules=strict.rules[:6]), mode_of("D dorian"))


@pytest.mark.parametrize("width", [320, 640, 1000, 1600])
def test_a_page_fits_every_width_and_asks_for_nothing(open_page: Any, faulty_page: str, width: int) -> None:
    opened = open_page(faulty_page, width)
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
    assert opened.silent()


@pytest.mark.parametrize("width", [320, 1600])
@pytest.mark.parametrize("which", ["class_index", "lines_found", "lesson"])
def test_every_kind_of_page_fits_every_width_and_asks_for_nothing(
    open_page: Any, which: str, width: int, request: pytest.FixtureRequest
) -> None:
    opened = open_page(request.getfixturevalue(which), width)
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
    assert opened.silent()


@pytest.mark.parametrize("which", ["faulty_page", "german_page", "class_index", "lines_found", "lesson"])
def test_an_accessibility_checker_finds_nothing(open_page: Any, which: str, request: pytest.FixtureRequest) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    opened = open_page(request.getfixturevalue(which).replace("Content-Security-Policy", "X-Policy"))
    found = axe.Axe().run(opened.page).response["violations"]
    serious = [v for v in found if v["impact"] in ("serious", "critical")]
    assert [(v["id"], [node["html"][:120] for node in v["nodes"]][:3]) for v in serious] == []


def test_a_finding_is_chosen_by_keyboard_and_lights_its_notes(open_page: Any, faulty_page: str) -> None:
    opened = open_page(faulty_page)
    page = opened.page
    page.focus("#finding-1 .choose")
    page.keyboard.press("Enter")
    score = json.loads(page.inner_text("#score") or page.evaluate("document.getElementById('score').textContent"))
    lit = page.evaluate("[...document.querySelectorAll('.wide .of-chosen')].map(n => n.dataset.note)")
    assert sorted(set(lit)) == sorted(score["findings"][0])
    assert page.get_attribute("#finding-1 .choose", "aria-pressed") == "true"
    page.keyboard.press("Enter")
    assert page.evaluate("document.querySelectorAll('.of-chosen').length") == 0
    assert opened.silent()


def test_notes_are_reached_and_asked_by_keyboard(open_page: Any, faulty_page: str) -> None:
    opened = open_page(faulty_page)
    page = opened.page
    page.focus(".wide .note[tabindex='0']")
    for key in ("ArrowRight", "ArrowRight", "ArrowDown", "ArrowUp"):
        page.keyboard.press(key)
    assert page.evaluate("document.activeElement.dataset.note") == "0.2"
    page.keyboard.press("Enter")
    assert "G4" in page.inner_text(".strip-place")
    here = page.inner_text(".strip-notes .here")
    assert here.startswith("G4")
    assert page.evaluate("document.querySelectorAll('.strip-notes .fits').length") > 0
    reasons = page.get_attribute(".strip-notes .not >> nth=0", "aria-label")
    assert reasons and ":" in reasons
    assert opened.silent()


def test_touching_a_note_lights_its_finding(open_page: Any, faulty_page: str) -> None:
    opened = open_page(faulty_page)
    opened.page.click(".wide [data-note='0.8'] .area")
    assert opened.page.evaluate("document.querySelectorAll('.findings li.chosen').length") == 1
    opened.page.click(".wide [data-finding='1']")
    assert opened.page.get_attribute("#finding-1", "class") == "chosen"


def heard(page: Any) -> list[tuple[float, float]]:
    """Frequency and start of the fundamental tones scheduled, from the first."""
    tones = page.evaluate("window.tones")
    fundamentals = tones[::3]
    begin = min(tone["start"] for tone in fundamentals)
    return sorted((round(tone["start"] - begin, 3), round(tone["frequency"], 2)) for tone in fundamentals)


def pitch(midi: int) -> float:
    """The frequency of a MIDI number, A4 being 440 Hz."""
    return round(440 * 2 ** ((midi - 69) / 12), 2)


def test_playing_schedules_the_pitches_of_the_exercise(open_page: Any, faulty_page: str, faulty: Marked) -> None:
    opened = open_page(faulty_page)
    opened.page.click(".play")
    upper = [67, 67, 67, 67, 69, 69, 71, 67, 68, 72]
    cantus = [60, 64, 62, 67, 65, 69, 67, 64, 62, 60]
    expected = sorted(
        (round(2.0 * n, 3), round(440 * 2 ** ((midi - 69) / 12), 2))
        for line in (upper, cantus)
        for n, midi in enumerate(line)
    )
    assert heard(opened.page) == expected
    opened.page.wait_for_selector(".note.sounding")
    opened.page.click(".play")
    assert opened.page.evaluate("document.querySelectorAll('.note.sounding').length") == 0
    assert opened.silent()


def test_one_voice_from_a_bar_faster_and_lower(open_page: Any, faulty_page: str) -> None:
    page = open_page(faulty_page).page
    for name, value in {"voice": "1", "from": "7", "speed": "2", "pitch": "-2"}.items():
        page.select_option(f"[name={name}]", value)
    page.click(".play")
    assert heard(page) == [(1.0 * bar, pitch(midi)) for bar, midi in enumerate([65, 62, 60, 58])]


def test_syllables_clefs_and_figures_are_turned(open_page: Any, german_page: str) -> None:
    opened = open_page(german_page)
    page = opened.page
    page.select_option("[name=sung]", "0")
    assert page.evaluate("document.querySelector(\".wide [data-sung='0.6']\").textContent") == "h"
    page.select_option("[name=sung]", "2")
    assert page.evaluate("document.querySelector(\".wide [data-sung='0.8']\").textContent") == "si"
    shown = page.evaluate("[...document.querySelectorAll('.clefs')].filter(e => !e.hidden).length")
    page.select_option("[name=clefs]", "modern")
    assert shown == page.evaluate("[...document.querySelectorAll('.clefs')].filter(e => !e.hidden).length") == 1
    assert page.evaluate("document.documentElement.lang") == "de"
    assert opened.silent()


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_fourteen_bars_print_on_one_page(chromium: Any, tmp_path: Path, strict: Ruleset, paper: str) -> None:
    text = FAULTY.replace("C5\n", "C5 B4 C5 D5 C5\n").replace("C4\n", "C4 G4 A4 B4 C4\n")
    options = PageOptions(paper=paper, seconds=1, words="Sing it first.")  # type: ignore[arg-type]
    page, pdf = tmp_path / "page.html", tmp_path / "page.pdf"
    page.write_text(page_of([marked_text(text, strict)], strict, options), encoding="utf-8")
    print_pdf(page, pdf)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes())) == 1


def test_a_line_that_was_found_is_heard(open_page: Any, lines_found: str, faulty: Marked) -> None:
    page = open_page(lines_found).page
    page.click(".play-line")
    notes = [each for voice in played(faulty.exercise) for each in voice]
    assert heard(page) == sorted((onset / 2, pitch(int(midi))) for onset, _, midi in notes)


def test_a_line_that_was_found_is_heard_as_one_chooses(open_page: Any, lines_found: str, faulty: Marked) -> None:
    page = open_page(lines_found).page
    page.select_option("[name=voice]", "1")
    page.select_option("[name=speed]", "2")
    page.select_option("[name=pitch]", "-2")
    page.click(".play-line")
    notes = played(faulty.exercise)[1]
    assert heard(page) == sorted((onset / 4, pitch(int(midi) - 2)) for onset, _, midi in notes)


HOSTILE = "</script><script>window.hit=1</script><img src=x onerror=window.hit=1>'&<!--"
RULES = f"""
ruleset "{HOSTILE}"

rule closest
  "{HOSTILE} {{upper}}"
  for every interval between each pair
  forbid interval is third
  excused as kept when interval is m3 "{HOSTILE}"
  fault, 4 points
  source "{HOSTILE}"
  accepts
    | upper  G4
    | cantus C4
  rejects at bar 1
    | upper  E4
    | cantus C4
"""


def test_hostile_words_do_nothing(open_page: Any, faulty: Marked) -> None:
    rules = load_text(RULES)
    voices = tuple(replace(voice, name=HOSTILE + voice.name) for voice in faulty.exercise.voices)
    exercise = replace(faulty.exercise, title=HOSTILE, voices=voices, inferred=(HOSTILE,))
    options = PageOptions(title=HOSTILE, words=HOSTILE, style=f"</style>{HOSTILE}", seconds=2, identifiers=True)
    opened = open_page(page_of([mark(exercise, rules)], rules, options))
    opened.page.click(".wide [data-note='0.1'] .area")
    assert opened.page.evaluate("window.hit") is None
    assert opened.page.inner_text("h1") == HOSTILE
    assert HOSTILE in opened.page.inner_text(".findings .message >> nth=0")
    assert opened.page.evaluate("document.querySelectorAll('img').length") == 0
    assert opened.silent()


def test_hostile_words_do_nothing_on_an_index(open_page: Any, faulty: Marked) -> None:
    entry = replace(entry_of(faulty, "a.html", HOSTILE), title=HOSTILE, rules=(HOSTILE,))
    opened = open_page(index_of(ClassIndex(PageOptions(title=HOSTILE), HOSTILE, (entry,))))
    assert opened.page.evaluate("window.hit") is None
    assert opened.silent()


def test_hostile_words_do_nothing_among_lines_found_and_on_lesson_sheets(open_page: Any, faulty: Marked) -> None:
    rules = load_text(RULES)
    plot = Plot(HOSTILE, HOSTILE, HOSTILE, counts([(HOSTILE, 1)]))
    exercise = replace(
        faulty.exercise, title=HOSTILE, voices=tuple(replace(v, name=HOSTILE) for v in faulty.exercise.voices)
    )
    for html in (
        found_page(HOSTILE, [Section(HOSTILE, [(HOSTILE, exercise)], [plot])]),
        lesson_sheet(rules, exercise.mode),
    ):
        opened = open_page(html)
        assert opened.page.evaluate("window.hit") is None
        assert HOSTILE in opened.page.inner_text("h1")
        assert opened.silent()
