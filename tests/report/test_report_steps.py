"""The steps there are, told from their own classes."""

from __future__ import annotations

from pathlib import Path

import pytest

from gpost.errors import ConfigError
from gpost.steps.manager import build_manager
from gpost.steps.words import explain_text, steps_text

STEP = '''
from pydantic import Field
from gpost.api import Positive, Settings, Step, hookimpl

class Coat(Settings):
    minutes: float = 1.5

class DipSettings(Settings):
    depth_mm: Positive = Field(description="How deep it is dipped.")
    colour: str = Field("celadon", description="Name of the glaze.")
    coats: tuple[Coat, ...] = Field((), description="More of it.")
    name: str | None = None
    """What it is called,
    if at all."""

class GlazeDip(Step[DipSettings]):
    """Dips the piece.

    It does nothing to the file.
    """

    name = "glaze_dip"
    Settings = DipSettings
    after = ("cold",)

    def plan(self, survey, plan):
        return []

@hookimpl
def gpost_steps():
    return [GlazeDip]
'''


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "dipping.py").write_text(STEP)
    return tmp_path


def test_steps_are_listed_with_their_owner(folder: Path) -> None:
    """Each step has its first line, where it comes from, and what it comes after."""
    registry = build_manager([folder])
    registry.load_all()
    text = steps_text(registry)
    assert "glaze_dip  Dips the piece.\n" in text
    assert f"from{folder / 'dipping.py'};comesaftercold" in "".join(text.split())


def test_broken_steps_are_listed_with_the_reason(folder: Path) -> None:
    """A plugin that can't be loaded is told, and doesn't hide the others."""
    (folder / "cracked.py").write_text("raise RuntimeError('kiln \\x1b[31m cold')\n")
    registry = build_manager([folder])
    registry.load_all()
    text = steps_text(registry)
    assert "glaze_dip" in text
    told = " ".join(text.partition("These can't be used:")[2].split())
    assert "cracked (from" in told
    assert "RuntimeError: kiln \\x1b[31m cold" in told


def test_step_is_explained(folder: Path) -> None:
    """Docstring and settings, each with what is expected, its default and its description."""
    assert explain_text(build_manager([folder]), "glaze_dip") == (
        "glaze_dip\n\nDips the piece.\n\nIt does nothing to the file.\n\n"
        "Settings:\n"
        "  depth_mm\n      a number greater than 0, in mm; must be given\n      How deep it is dipped.\n"
        "  colour\n      a text; if left out: celadon\n      Name of the glaze.\n"
        "  coats\n      a list, each entry keys such as minutes:; if left out: []\n      More of it.\n"
        "      minutes\n          a number; if left out: 1.5\n"
        "  name\n      a text; may be left out\n      What it is called, if at all.\n"
        "\nWhen they are used too, it comes after: cold.\n"
    )


def test_unknown_step_is_refused_with_the_nearest(folder: Path) -> None:
    """A step that is not there is a wrong usage, and the nearest name is offered."""
    with pytest.raises(ConfigError, match=r"there is no step, key or finding glaze_dap; .*glaze_dip"):
        explain_text(build_manager([folder]), "glaze_dap")


def test_hopeless_name_gets_the_list(folder: Path) -> None:
    """A name like no other gets the list of all names."""
    with pytest.raises(ConfigError, match=r"there are: .*glaze_dip"):
        explain_text(build_manager([folder]), "xyzzy")
