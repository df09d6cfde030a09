"""What tells two states of a file apart."""

from __future__ import annotations

import hashlib
from pathlib import Path


def size_and_sha256(path: Path) -> tuple[int, str]:
    """Size in bytes and SHA-256 of a file, read in small pieces. Raises OSError."""
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256")
        return file.tell(), digest.hexdigest()
