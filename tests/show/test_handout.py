"""The rule sheet for students."""

from pathlib import Path

from markdown_it import MarkdownIt

from rulekit.language.loading import load_ruleset, load_text
from rulekit.music.mode import mode_of
from rulekit.resources import shipped
from rulekit.show.handout import handout

RULES = """\
ruleset "Signs <b>and</b> *stars*"

rule no_such
  "A *wide* {interval} [here]."
  for every interval between each pair
  except at first or last
  when it is on the downbeat
  forbid interval is P4
  excused as weak-beat when it is off the downbeat "it is off the downbeat"
  fault, 4 points
  source "the school’s own `book`"
  accepts
    | upper A4
    | cantus D4
  rejects at bar 2
    | upper  A4 A4 A4
    | cantus E4 E4 E4
"""


def sheet(tmp_path: Path, text: str = RULES) -> str:
    """The sheet of a ruleset."""
    path = tmp_path / "class.rules"
    path.write_text(text, encoding="utf-8")
    return handout(load_ruleset(path))


def test_a_rule_is_told_in_a_sentence_and_by_its_examples(tmp_path: Path) -> None:
    lines = sheet(tmp_path).splitlines()
    assert "## What sounds together" in lines
    said = "Between any two voices, where the interval lies on the downbeat, the interval must not be a perfect fourth"
    assert f"{said}, except at the beginning and at the end." in lines
    assert "- Excused where: it is off the downbeat" in lines
    assert "- Fault, 4 points" in lines
    assert r"Incorrect, bar 2: A \*wide\* perfect fourth \[here\]." in lines


def test_a_mode_is_told_with_its_semitones(tmp_path: Path) -> None:
    """Source: the phrygian semitones are those of degrees 1 to 2 and 5 to 6; common practice, no source."""
    text = handout(load_text(RULES), mode_of("E phrygian"))
    assert "Semitones: E–F, B–C" in text and "| degrees | 1 | 2 |" in text


def test_signs_of_markdown_in_a_text_are_only_signs(tmp_path: Path) -> None:
    """markdown-it, a reference reader of CommonMark, sees text where the author wrote text."""
    html = MarkdownIt().render(sheet(tmp_path))
    assert "<h1>Signs &lt;b&gt;and&lt;/b&gt; *stars*</h1>" in html
    assert "A *wide* perfect fourth [here]." in html
    assert "Source: the school’s own `book`</li>" in html
    assert '<pre><code class="language-text">upper A4\ncantus D4\n</code></pre>' in html


def test_every_rule_of_a_shipped_ruleset_has_its_heading() -> None:
    for path in shipped("rulesets").glob("*.rules"):
        ruleset = load_ruleset(path)
        tokens = MarkdownIt().parse(handout(ruleset))
        headings = [token.tag for token in tokens if token.type == "heading_open"]
        assert headings.count("h3") == len(ruleset.rules)
        assert headings.count("h1") == 1
