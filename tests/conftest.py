"""Property tests run without a deadline; in CI they draw the same cases every time, elsewhere new ones.

Tests in a browser share one, for only one can be driven in a process.
"""

import os
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

from rulekit.page.printing import browser

settings.register_profile("usual", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("usual"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "usual")


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    """A headless browser of the system."""
    playwright = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    found = browser()
    if found is None:
        pytest.skip("there is no Chromium on this machine")
    with playwright.sync_playwright() as running:
        options = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"]
        opened = running.chromium.launch(executable_path=found, args=options)
        yield opened
        opened.close()
