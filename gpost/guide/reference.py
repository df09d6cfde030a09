"""The two pages that are made from the code: every setting of the stock steps, every key of the config.

`python -m gpost.guide.reference` writes them beside this module.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from itertools import groupby
from pathlib import Path

from pydantic import BaseModel

from gpost.common.docs import docstring
from gpost.config.described import Key, keys_of, wanted
from gpost.config.fieldwords import field_words
from gpost.config.model import Config
from gpost.steps.manager import build_manager

STOCK = "gpost_plugins."
_TAG = re.compile(r"`[^`]*`|<")
"""What Markdown would take for a tag, and the quoted code in which it doesn't."""
MADE = "This page is made from the code; `gpost explain` says the same in the terminal"


def references() -> Mapping[str, str]:
    """The text of each page, by its name."""
    return {"step-reference": "\n".join(_steps()), "config-reference": "\n".join(_config())}


def _steps() -> Iterator[str]:
    yield from ("# Step reference", "")
    yield from (f"{MADE}, and of steps by others too. [The steps](steps.md) has an example of each.", "")
    for name, step in sorted(build_manager().load_all().items()):
        if step.__module__.startswith(STOCK):
            yield from (f"## {name}", "", docstring(step), "")
            if step.after:
                yield from (f"When they are used too, it comes after: {', '.join(step.after)}.", "")
            yield from _table(step.Settings)


def _config() -> Iterator[str]:
    yield from ("# Config reference", "")
    yield from (f"{MADE}. [The config](config.md) shows a file.", "")
    words = field_words(Config)
    for name in Config.model_fields:
        yield from (f"## {name}", "", words.get(name, ""), "")
        yield from _table(Config, name)


def _table(model: type[BaseModel], only: str | None = None) -> Iterator[str]:
    """An entry for each key, by its path; where several groups of keys may stand, each with what it is."""
    keys = [key for key in keys_of(model) if only in (None, key.path[0])]
    if not keys:
        yield from ("It has no settings.", "")
        return
    owners = {(key.path[:-1], key.owner) for key in keys}
    chosen = False
    for (path, owner), group in groupby(keys, key=lambda key: (key.path[:-1], key.owner)):
        before, chosen = chosen, sum(path == other for other, _ in owners) > 1
        if chosen or before:
            yield from ("", docstring(owner) if chosen else "Beside these:", "")
        # what stands under its heading already is not said again
        yield from (_entry(key) for key in group if only is None or path or not _below(key, keys))
    yield ""


def _below(key: Key, keys: list[Key]) -> bool:
    """Whether other keys stand under it."""
    return any(other.path[: len(key.path)] == key.path and other is not key for other in keys)


def _entry(key: Key) -> str:
    """One key: what may stand there, and what is said of it."""
    said = field_words(key.owner).get(key.path[-1], "")
    words = _TAG.sub(lambda found: found[0] if len(found[0]) > 1 else "\\<", f"{wanted(key)}. {said}")
    return f"- `{'.'.join(key.path)}`: {words}".rstrip()


def write(folder: Path) -> None:
    """Write the pages into the folder."""
    for name, text in references().items():
        (folder / f"{name}.md").write_text(text, "utf-8")


if __name__ == "__main__":
    write(Path(__file__).parent)
