"""Pages as PDF, by the browser if there is one on this machine."""

import shutil
import subprocess
from pathlib import Path

from rulekit.files import whole

_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
_OPTIONS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run",
    "--no-pdf-header-footer",
)  # fmt: skip
_SECONDS = 120


class NoBrowser(RuntimeError):
    """There is no browser that could print, or it did not."""


def browser() -> str | None:
    """The browser that can print a page, None if there is none."""
    return next((found for name in _BROWSERS if (found := shutil.which(name))), None)


def print_pdf(page: Path, pdf: Path) -> None:
    """Print an HTML file to PDF. Raises NoBrowser, in words for a person."""
    found = browser()
    if found is None:
        raise NoBrowser("a PDF needs Chromium, and there is none on this machine; open the page and print it instead")
    try:
        with whole(pdf) as new:
            command = [found, *_OPTIONS, f"--print-to-pdf={new.resolve()}", page.resolve().as_uri()]
            subprocess.run(command, check=True, capture_output=True, timeout=_SECONDS)
    except (subprocess.SubprocessError, OSError) as error:
        raise NoBrowser(f"{found} could not print {page.name}; open the page and print it instead") from error
