"""The pictures of the job sheet that README shows: small, of the right kind, and made by a program."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from tests.page.readme import GUIDE, MOST_BYTES

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")


@pytest.mark.parametrize("name", ["now.png", "piece.png"])
def test_pictures_are_small_and_shown(name: str) -> None:
    """A PNG (its signature and header as in ISO/IEC 15948) of few bytes and enough pixels, with words for it."""
    data = (GUIDE / name).read_bytes()
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    assert len(data) <= MOST_BYTES
    width, height = struct.unpack(">II", data[16:24])
    assert min(width, height) >= 250
    shown = README[README.index(f'src="gpost/guide/{name}"') :]
    assert len(shown.split('alt="')[1].split('"')[0]) > 20
