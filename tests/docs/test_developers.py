"""DEVELOPERS.md names every hook and every intention, and no file that is not there."""

from __future__ import annotations

import re
from pathlib import Path

from gpost.plan.intentions import Intention
from gpost.steps import hookspecs

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "DEVELOPERS.md").read_text()


def test_every_hook_is_documented() -> None:
    """Each hook specification stands in the text with its exact arguments."""
    hooks = [name for name in vars(hookspecs) if name.startswith("gpost_")]
    assert hooks
    for name in hooks:
        arguments = getattr(hookspecs, name).__code__.co_varnames
        assert f"`{name}({', '.join(arguments)})`" in TEXT


def test_every_intention_is_documented() -> None:
    """What a step may want is listed in full."""
    for kind in Intention.__args__:  # type: ignore[attr-defined]
        assert f"`{kind.__name__}`" in TEXT


def test_files_that_are_named_exist() -> None:
    """Every path in backticks is there."""
    paths = re.findall(r"`((?:gpost|tests|plugins|configs|\.ci)/[\w./]*)`", TEXT)
    assert len(paths) > 10
    for path in paths:
        assert (ROOT / path).exists(), path
