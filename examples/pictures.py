"""Make the pictures of the README: the demo's class returned, one page and the index as a browser shows them.

    python examples/pictures.py examples/pictures

Needs Chromium and Playwright.
"""

import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from rulekit.cli import UNUSABLE, main
from rulekit.page.printing import browser

_HERE = Path(__file__).parent
_OPTIONS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"]
_SHOWN = {"selim-harnas.html": ("page.png", 1500), "index.html": ("index.png", 900)}


def picture(opened: Browser, page: Path, target: Path, height: int) -> None:
    """Take the picture of the top of a page, the first finding chosen if there is one."""
    tab = opened.new_page(viewport={"width": 900, "height": height})
    tab.goto(page.as_uri())
    for note in tab.query_selector_all(".wide [data-note='0.8'][role] .area")[:1]:
        note.click()
    tab.screenshot(path=target)
    tab.close()


def make(folder: Path) -> None:
    """Make all pictures in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as pages, sync_playwright() as running:
        scores, rules = str(_HERE / "exercises"), str(_HERE / "harbour-street.rules")
        heading = ["--title", "Harbour Street School of Music"]
        if main(["page", scores, "--rules", rules, "--to", pages, *heading, "--search", "60"]) >= UNUSABLE:
            sys.exit("the demo could not be returned")
        opened = running.chromium.launch(executable_path=browser(), args=_OPTIONS)
        for name, (target, height) in _SHOWN.items():
            picture(opened, Path(pages) / name, folder / target, height)
        opened.close()


if __name__ == "__main__":
    make(Path(sys.argv[1]))
