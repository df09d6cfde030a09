"""The progress bar is for long work on a terminal, and for nothing else."""

from __future__ import annotations

import io
import sys

import pytest

from gpost.cli.progress import LONG_BYTES, bar, file_bar


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    """Make standard error a terminal; in the test itself, as pytest sets it anew after the fixtures."""
    found = Terminal()
    monkeypatch.setattr(sys, "stderr", found)
    return found


def test_short_file_has_no_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that is done at once shows no bar."""
    screen = terminal(monkeypatch)
    with file_bar(LONG_BYTES - 1, "Writing") as progress:
        assert progress is None
    assert screen.getvalue() == ""


def test_long_file_has_a_bar_that_fills(monkeypatch: pytest.MonkeyPatch) -> None:
    """A long file shows what is done, up to all of it, whatever total it was told last."""
    screen = terminal(monkeypatch)
    with file_bar(LONG_BYTES, "Writing") as progress:
        assert progress is not None
        progress(1, 4)
        progress(4, 4)
    assert "Writing" in screen.getvalue()
    assert " 25%" in screen.getvalue()
    assert "100%" in screen.getvalue()


def test_no_bar_without_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Standard error that goes to a file gets no bar."""
    found = io.StringIO()
    monkeypatch.setattr(sys, "stderr", found)
    with bar("Files") as progress:
        assert progress is None
    assert found.getvalue() == ""
