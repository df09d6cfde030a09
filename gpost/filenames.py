"""What a file is by its name."""

from __future__ import annotations

from pathlib import PurePath

SLICED = (".gcode", ".nc", ".ngc", ".gco")
CONFIG = (".yaml", ".yml")


def is_sliced(path: PurePath) -> bool:
    """Whether its name is that of a sliced file."""
    return path.suffix.lower() in SLICED


def is_config(path: PurePath) -> bool:
    """Whether its name is that of a config."""
    return path.suffix.lower() in CONFIG
