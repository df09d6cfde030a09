"""`gpost explain FINDING`: what the guide says of it."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from gpost.cli import cli
from gpost.guide.findings import finding_text
from gpost.preflight.model import NAMES


@pytest.mark.parametrize("name", NAMES)
def test_each_finding_is_explained(name: str) -> None:
    """Whatever `gpost check` names can be asked for; the colours of a sheet are told by load and day alone."""
    if name == "colours":
        assert finding_text(name) == ""
        return
    text = finding_text(name)
    assert text.startswith(f"{name}\n  ")
    assert f"`{name}`" in text
    assert text.count("(") == text.count(")")


def test_one_that_is_an_error_here_and_a_warning_there() -> None:
    """Both are told, each by what it is."""
    result = CliRunner().invoke(cli, ["explain", "changed-midway"])
    kinds = [line.split(":")[0].strip() for line in result.stdout.splitlines() if line.lstrip().startswith(("Err", "Warn"))]
    assert (result.exit_code, kinds) == (0, ["Error", "Warning"])


def test_no_such_finding() -> None:
    """A name that nothing has is refused in a sentence."""
    result = CliRunner().invoke(cli, ["explain", "outside-bad"])
    assert result.exit_code == 2
    assert "there is no step, key or finding outside-bad" in result.stderr
