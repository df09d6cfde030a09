"""The guide is whole: each page is listed, links lead somewhere, and what is made from the code is up to date."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from markdown_it import MarkdownIt

from gpost.guide.html import slug
from gpost.guide.pages import PAGES as NAMES
from gpost.guide.reference import references
from tests.docs.blocks import GUIDE, README, ROOT

DEVELOPERS = ROOT / "DEVELOPERS.md"
ALL = (README, DEVELOPERS, *sorted(GUIDE.glob("*.md")))


def links(page: Path) -> Iterator[str]:
    """All that a page links to or shows."""
    for token in MarkdownIt("commonmark").enable("table").parse(page.read_text("utf-8")):
        for part in token.children or ():
            if part.type in ("link_open", "image"):
                yield str(part.attrs.get("href", part.attrs.get("src")))


def headings(page: Path) -> set[str]:
    """The names under which a page's headings are linked to."""
    tokens = MarkdownIt("commonmark").enable("table").parse(page.read_text("utf-8"))
    pairs = pairwise(tokens)
    return {slug(words.content) for token, words in pairs if token.type == "heading_open"}


def test_every_page_is_listed() -> None:
    """The pages are the files of the folder, and README leads to each."""
    assert set(NAMES) == {path.stem for path in GUIDE.glob("*.md")}
    assert {f"gpost/guide/{name}.md" for name in NAMES} <= set(links(README))


@pytest.mark.parametrize("page", ALL, ids=lambda page: page.stem)
def test_links_lead_somewhere(page: Path) -> None:
    """Each link is to a file that is there, and to a heading in it; none goes to the network."""
    for link in links(page):
        name, _, part = link.partition("#")
        target = (page.parent / name).resolve() if name else page
        assert target.is_file(), link
        assert not part or part in headings(target), link
        assert page.parent != GUIDE or target.parent == GUIDE, f"{link}: no checkout is there when it is read"


@pytest.mark.parametrize("name", ["step-reference", "config-reference"])
def test_references_are_up_to_date(name: str) -> None:
    """What is made from the code is what the code makes now: `python -m gpost.guide.reference` writes it."""
    assert (GUIDE / f"{name}.md").read_text("utf-8") == references()[name]


def test_a_new_key_would_be_noticed() -> None:
    """The references hold a key of each depth, with unit, limit and default."""
    config, steps = (references()[name] for name in ("config-reference", "step-reference"))
    assert "- `machine.air.full`: a number greater than 0; if left out: 255" in config
    assert "- `cartridge.volume_ml`: a number greater than 0, in ml; if left out: 1000" in config
    assert "- `volume_ml`: " in steps
    assert "\n## taper\n" in steps


def test_the_pages_ship_in_the_wheel() -> None:
    """The package takes all Markdown of the folder along."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    assert "guide/*.md" in settings["tool"]["setuptools"]["package-data"]["gpost"]


def test_measurements_stand_beside_what_measures() -> None:
    """The contributor's page has no table of timings; what it says in short leads to them."""
    assert "tests/bench/measured.md" in set(links(DEVELOPERS))
    assert "| whole job, seven steps |" not in DEVELOPERS.read_text("utf-8")
    assert "| whole job, seven steps |" in (ROOT / "tests" / "bench" / "measured.md").read_text("utf-8")
