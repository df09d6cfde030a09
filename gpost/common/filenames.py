"""What a file is by its name."""

from __future__ import annotations

import os
from pathlib import PurePath
from typing import TypeVar

P = TypeVar("P", bound=PurePath)

SLICED = (".gcode", ".nc", ".ngc", ".gco")
PACKED = (".gz", ".zip")
CONFIG = (".yaml", ".yml")
MOST_BYTES = 255
"""Of a name: what the disks in use allow (POSIX, NAME_MAX, is at least 14; common practice is 255)."""


def is_sliced(path: PurePath) -> bool:
    """Whether its name is that of a sliced file, packed or not."""
    return unpacked_name(path).suffix.lower() in SLICED


def is_packed(path: PurePath) -> bool:
    """Whether its name is that of a packed file."""
    return path.suffix.lower() in PACKED


def unpacked_name(path: P) -> P:
    """The name without the ending of a packed file: `vase.gcode` of `vase.gcode.gz`."""
    return path.with_suffix("") if is_packed(path) else path


def own_config(path: P) -> P:
    """Where a piece's own config lies: `vase.yaml` beside `vase.gcode`, `vase.gcode.gz` and `vase.zip`."""
    bare = unpacked_name(path)
    stem = bare.stem if is_sliced(bare) else bare.name
    return path.with_name(f"{stem}{CONFIG[0]}")


def is_config(path: PurePath) -> bool:
    """Whether its name is that of a config."""
    return path.suffix.lower() in CONFIG


def fits(name: str) -> bool:
    """Whether a disk takes a name as long as that."""
    return len(os.fsencode(name)) <= MOST_BYTES
