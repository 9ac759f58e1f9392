"""What the tests of pages share: a page."""

import pytest

from rulekit import load_ruleset
from rulekit.language.ruleset import Ruleset
from rulekit.marking import Marked
from rulekit.page.data import PageOptions
from rulekit.page.render import page_of
from tests.page.cases import FAULTY, marked_text


@pytest.fixture(scope="session")
def strict() -> Ruleset:
    return load_ruleset("first-species-strict")


@pytest.fixture(scope="session")
def faulty(strict: Ruleset) -> Marked:
    """An exercise with faults and warnings of many kinds."""
    return marked_text(FAULTY, strict)


@pytest.fixture(scope="session")
def faulty_page(faulty: Marked, strict: Ruleset) -> str:
    return page_of([faulty], strict, PageOptions(title="Harbour Street", words="Sing it first.", seconds=60))
