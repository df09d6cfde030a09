"""The pages of the guide: which there are, in the order of reading, and what stands on each."""

from __future__ import annotations

import re
from importlib.resources import files

from gpost.common.layout import Column, Table, laid_out
from gpost.common.plain import shown
from gpost.config.nearest import did_you_mean
from gpost.errors import ConfigError

PAGES = (
    *("tutorial", "files", "check", "resume", "sure", "config", "steps", "colours", "trials", "day", "log"),
    *("safety", "changes", "own-step", "python", "step-reference", "config-reference"),
)
"""By name, each a file `NAME.md` beside this one."""
_NOTE = re.compile(r"^<!--.*?-->\n", re.MULTILINE | re.DOTALL)
"""What is said to the tests alone."""


def page_text(name: str) -> str:
    """A page as Markdown. Raises ConfigError with the nearest name if there is none of that name."""
    if name not in PAGES:
        hint = did_you_mean(name, PAGES) or f"there are: {', '.join(PAGES)}"
        raise ConfigError(f"there is no page {shown(name)}; {hint}")
    return _NOTE.sub("", files("gpost.guide").joinpath(f"{name}.md").read_text("utf-8"))


def title(name: str) -> str:
    """What a page is called."""
    return page_text(name).partition("\n")[0].removeprefix("# ")


def contents_text(width: int | None = None) -> str:
    """All pages with their titles, laid out as `laid_out` does."""
    columns = (Column("", 18, number=False), Column("", number=False))
    pages = Table(columns, [(name, title(name)) for name in PAGES])
    return laid_out(
        [pages, "", "`gpost guide PAGE` shows one, `gpost guide --browser` opens them all."], width
    )
