"""The words of the pictures: all of them stand in `picturewords.json`, ready to be translated."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files


@cache
def _words() -> dict[str, str]:
    found: dict[str, str] = json.loads(files("gpost.page").joinpath("picturewords.json").read_text("utf-8"))
    return found


def say(key: str, **values: object) -> str:
    """Words by their key, with their values put in. Raises KeyError for words that there aren't."""
    return _words()[key].format_map(values)
