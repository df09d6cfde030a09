"""`gpost guide`: pages in the terminal, as one HTML file, and in the browser."""

from __future__ import annotations

import re
import webbrowser
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from gpost.cli import cli
from gpost.common.columns import READABLE
from gpost.guide.html import guide_html
from gpost.guide.pages import PAGES, page_text, title
from gpost.guide.terminal import page_lines


def guide(*args: str, width: int = 80) -> Result:
    """Run the command in a terminal so wide."""
    return CliRunner().invoke(cli, ["guide", *args], env={"COLUMNS": str(width)})


class Outline(HTMLParser):
    """Ids and links of an HTML text, and whether every tag is closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note it."""
        found = dict(attrs)
        if found.get("id"):
            self.ids.append(found["id"] or "")
        if tag == "a":
            self.links.append(found["href"] or "")
        if tag not in ("meta", "br", "img", "hr"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """It closes the one that was opened last."""
        assert self.open.pop() == tag


def test_without_a_page_all_are_listed() -> None:
    """Each page stands there with its title."""
    result = guide()
    assert result.exit_code == 0
    for name in PAGES:
        assert re.search(rf"^{name} +{re.escape(title(name))}$", result.stdout, re.MULTILINE)


@pytest.mark.parametrize("width", [40, 80, 200])
@pytest.mark.parametrize("name", PAGES)
def test_a_page_fits_the_terminal(name: str, width: int) -> None:
    """No line but those of code, and words longer than a line, is wider; no mark of Markdown's is left."""
    result = guide(name, width=width)
    assert result.exit_code == 0
    assert result.stdout.startswith(f"{title(name)}\n===")
    for line in result.stdout.splitlines():
        if not line.startswith("    "):
            most = width if "|" in page_text(name) else min(width, READABLE)
            assert len(line) <= most or len(line.split()) <= 2, line
            assert not re.search(r"\*\*|\]\(|<!--|^#", line), line


def test_code_stays_as_it_is() -> None:
    """What is to be typed or saved stands there letter for letter, behind four blanks."""
    text = "```sh\ngpost  run a.gcode   -c b.yaml and so on for a line that is wider than any terminal is\n```\n"
    assert page_lines(text, 40) == f"    {text.splitlines()[1]}\n"


def test_lists_and_tables() -> None:
    """Entries hang behind their marks; a table has columns on a terminal, in a file a row's cells stand below its first."""
    assert page_lines("- one two\n  three\n- four\n", 80) == "- one two three\n- four\n"
    assert page_lines("1. a\n\n   b\n2. c\n", 80) == "1. a\n\n   b\n2. c\n"
    table = "| page | what for |\n| --- | --- |\n| x | all of it |\n"
    assert page_lines(table) == "x\n    all of it\n"
    assert page_lines(table, 80) == "page  what for\nx     all of it\n"


def test_a_page_that_is_not_there() -> None:
    """Status 2, with the nearest name."""
    result = guide("trails")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "did you mean trials?" in result.stderr


def test_links_within_the_one_file() -> None:
    """The HTML holds every page; each link within it leads to an id, each id stands once, each tag is closed."""
    outline = Outline(guide_html())
    assert outline.open == []
    assert len(set(outline.ids)) == len(outline.ids)
    assert set(PAGES) <= set(outline.ids)
    inner = [link for link in outline.links if link.startswith("#")]
    assert len(inner) > len(PAGES)
    assert {link[1:] for link in inner} <= set(outline.ids)


def test_nothing_is_loaded_and_nothing_runs() -> None:
    """The file needs no network and holds no script."""
    text = guide_html()
    assert "default-src 'none'" in text
    assert not re.search(r"<script|<img|<link|https?://", text)


def test_what_looks_like_a_tag_is_text() -> None:
    """`<level>` in the words of a key is shown, in the terminal too."""
    assert "S&lt;level&gt;" in guide_html()
    assert "S<level>" in guide("config-reference").stdout


def test_html_to_a_file(tmp_path: Path) -> None:
    """`--html` writes it, and replaces none that is there unless told."""
    target = tmp_path / "guide.html"
    assert guide("--html", str(target)).exit_code == 0
    assert target.read_text("utf-8") == guide_html()
    again = guide("--html", str(target))
    assert again.exit_code == 1
    assert "exists already" in " ".join(again.stderr.split())
    assert guide("--html", str(target), "--overwrite").exit_code == 0


def test_in_the_browser(monkeypatch: pytest.MonkeyPatch) -> None:
    """`--browser` opens the file at the page; where there is no browser it is said where the file is."""
    opened: list[str] = []
    monkeypatch.setattr(webbrowser, "open", lambda where: opened.append(where) or len(opened) == 1)
    result = guide("log", "--browser")
    assert result.exit_code == 0
    assert opened[0].endswith("guide.html#log")
    assert Path(result.stdout.strip()).read_text("utf-8") == guide_html()
    without = guide("--browser")
    assert without.exit_code == 1
    assert "no browser could be opened" in without.stderr


def test_pages_hold_no_notes_to_the_tests() -> None:
    """What is said to the tests alone is not shown."""
    assert all("<!--" not in page_text(name) for name in PAGES)


def test_a_shell_completes_names() -> None:
    """What is begun is completed to the pages that begin so."""
    result = CliRunner().invoke(
        cli, env={"_GPOST_COMPLETE": "bash_complete", "COMP_WORDS": "gpost guide st", "COMP_CWORD": "2"}, prog_name="gpost"
    )
    assert re.findall(r"plain,(\S+)", result.stdout) == ["steps", "step-reference"]
