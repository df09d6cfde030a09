"""The JSON Schema of the summary, as it is shipped."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any


def published_schema() -> dict[str, Any]:
    """The schema beside the code that writes the summary; its `$id` is `urn:gpost:summary:1`."""
    text = files("gpost.report").joinpath("summary.schema.json").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema
