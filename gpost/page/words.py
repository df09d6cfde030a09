"""The words of the page: all of them stand in `words.json`, ready to be translated."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import NamedTuple


class Words(NamedTuple):
    """Words by their keys; what stands in braces in one is put in where it is used."""

    page: dict[str, str]
    """Of the frame."""
    script: dict[str, str]
    """Of what the scripts write while the page is open."""
    pieces: dict[str, str]
    """Of the frame of the index, beside those of the page."""
    pieces_script: dict[str, str]
    """Of what its scripts write, in place of those of the page."""

    def say(self, key: str, **values: object) -> str:
        """Words of the frame with their values. Raises KeyError for words that there aren't."""
        return self.page[key].format_map(values)


@cache
def words() -> Words:
    """Those of the package."""
    found = json.loads(own_file("words.json"))
    return Words(**found)


def own_file(name: str) -> str:
    """The text of a file of the page."""
    return files("gpost.page").joinpath(name).read_text("utf-8")
