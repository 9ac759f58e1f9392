"""The rule sheet for students."""

from pathlib import Path

from markdown_it import MarkdownIt

from rulekit.language.ruleset import load_ruleset
from rulekit.resources import shipped
from rulekit.show.handout import handout

RULES = """\
ruleset "Signs <b>and</b> *stars*"

rule no_such
  "A *wide* {interval} [here]."
  for every interval between each pair
  except at first or last
  when it is strong
  forbid interval is P4
  excused as weak-beat when it is weak "it is weak"
  fault, 4 points
  source "the school’s own `book`"
  accepts
    | upper A4
    | cantus D4
  rejects at bars 1, 2
    | upper  A4 A4 A4
    | cantus E4 E4 E4
"""


def sheet(tmp_path: Path, text: str = RULES) -> str:
    """The sheet of a ruleset."""
    path = tmp_path / "class.rules"
    path.write_text(text, encoding="utf-8")
    return handout(load_ruleset(path))


def test_a_rule_is_told_in_the_words_of_its_author(tmp_path: Path) -> None:
    lines = sheet(tmp_path).splitlines()
    assert "- Looked at: every interval between each pair" in lines
    assert "- Except at first or last" in lines
    assert "- When it is strong" in lines
    assert "- **Never:** interval is P4" in lines
    assert "- Excused (weak-beat): it is weak" in lines
    assert "- Weight: fault, 4 points" in lines
    assert "Not so (bars 1, 2):" in lines


def test_signs_of_markdown_in_a_text_are_only_signs(tmp_path: Path) -> None:
    """markdown-it, a reference reader of CommonMark, sees text where the author wrote text."""
    html = MarkdownIt().render(sheet(tmp_path))
    assert "<h1>Signs &lt;b&gt;and&lt;/b&gt; *stars*</h1>" in html
    assert "<em>A *wide* ‹interval› [here].</em>" in html
    assert "Source: the school’s own `book`</li>" in html
    assert '<pre><code class="language-text">upper A4\ncantus D4\n</code></pre>' in html


def test_every_rule_of_a_shipped_ruleset_has_its_heading() -> None:
    for path in shipped("rulesets").glob("*.rules"):
        ruleset = load_ruleset(path)
        tokens = MarkdownIt().parse(handout(ruleset))
        headings = [token.tag for token in tokens if token.type == "heading_open"]
        assert headings.count("h3") == len(ruleset.rules)
        assert headings.count("h1") == 1
