"""The pages of the documentation cut into what stands in them: blocks of code with what is said before them."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "gpost" / "guide"
README = ROOT / "README.md"
MADE = ("step-reference", "config-reference")
"""Pages that are made from the code; their blocks are the steps' own."""
PAGES = (README, *sorted(path for path in GUIDE.glob("*.md") if path.stem not in MADE))
"""Those that are written by hand."""
_BLOCK = re.compile(r"(?:^<!-- (?P<note>[^\n]*) -->\n)?^(?P<margin> *)```(?P<kind>\w*)\n(?P<text>.*?)^ *```$", re.M | re.S)
_GIVEN = re.compile(r"^<!-- given: (.*?) -->$", re.M)


class Block(NamedTuple):
    """A block of code."""

    page: Path
    line: int
    """Its first line, counted from 1."""
    kind: str
    """The word behind its fence: sh, text, yaml, python."""
    note: str
    """What the comment right before it says to the tests, or nothing."""
    text: str

    @property
    def where(self) -> str:
        """For the name of a test."""
        return f"{self.page.stem}:{self.line}"


def blocks(page: Path, *kinds: str) -> list[Block]:
    """The blocks of these kinds (none: of all), in order."""
    text = page.read_text("utf-8")
    found = []
    for match in _BLOCK.finditer(text):
        margin = len(match["margin"])
        inner = "".join(line[margin:] for line in match["text"].splitlines(keepends=True))
        line = text.count("\n", 0, match.start("kind")) + 1
        found.append(Block(page, line, match["kind"], match["note"] or "", inner))
    return [block for block in found if not kinds or block.kind in kinds]


def given(page: Path) -> list[str]:
    """What the reader has when the page begins, as its comment `given:` says."""
    return [word for match in _GIVEN.finditer(page.read_text("utf-8")) for word in match[1].split()]
