"""Notebooks: the worked one runs, and what it shows is staves and tables, whatever the titles hold."""

from dataclasses import replace
from pathlib import Path

import pytest

from rulekit.language.ruleset import Ruleset
from rulekit.marking import Marked

_EXAMPLES = Path(__file__).parent.parent.parent / "examples"


def test_the_worked_notebook_runs() -> None:
    nbformat = pytest.importorskip("nbformat")
    nbclient = pytest.importorskip("nbclient")
    pytest.importorskip("ipykernel")
    notebook = nbformat.read(_EXAMPLES / "look.ipynb", as_version=4)
    nbclient.NotebookClient(notebook, timeout=120, resources={"metadata": {"path": str(_EXAMPLES)}}).execute()
    shown = [output for cell in notebook.cells for output in cell.get("outputs", [])]
    assert not [output for output in shown if output.output_type in ("error", "stream")]
    assert sum("<svg" in output.get("data", {}).get("text/html", "") for output in shown) == 3
    assert shown[-1].data["text/plain"] == "()"


def test_a_marked_exercise_shows_its_findings_on_the_staff(faulty: Marked) -> None:
    html = faulty._repr_html_()
    placed = [finding for finding in faulty.findings if finding.bar is not None]
    assert html.count('class="badge-number"') == len(placed)
    assert html.count("<li>") == len(faulty.findings)


def test_titles_are_only_text(faulty: Marked, strict: Ruleset) -> None:
    hostile = "<script>x</script>"
    for shown in (replace(faulty.exercise, title=hostile), replace(strict, title=hostile)):
        assert "<script" not in shown._repr_html_()
