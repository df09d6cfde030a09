"""What a file is by its name."""

from __future__ import annotations

import os
from pathlib import PurePath

SLICED = (".gcode", ".nc", ".ngc", ".gco")
CONFIG = (".yaml", ".yml")
MOST_BYTES = 255
"""Of a name: what the disks in use allow (POSIX, NAME_MAX, is at least 14; common practice is 255)."""


def is_sliced(path: PurePath) -> bool:
    """Whether its name is that of a sliced file."""
    return path.suffix.lower() in SLICED


def is_config(path: PurePath) -> bool:
    """Whether its name is that of a config."""
    return path.suffix.lower() in CONFIG


def fits(name: str) -> bool:
    """Whether a disk takes a name as long as that."""
    return len(os.fsencode(name)) <= MOST_BYTES
