"""`gpost log`: add, show and fit, and how they fail."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Gpost = Callable[..., Result]


@pytest.fixture
def add(run_vase: Gpost, gpost: Gpost, config: Path) -> Gpost:
    """`gpost log add` for the vase, which has been run; more arguments may follow."""
    run_vase("-o", "out.gcode", "--json", "vase.json")

    def run(*args: object) -> Result:
        return gpost("log", "add", "vase.json", "-c", config, *args)

    return run


def test_add_and_show(add: Gpost, gpost: Gpost, tmp_path: Path) -> None:
    """Prints are numbered, kept in one file in the folder, and shown with their notes."""
    result = add("--grams", "30.5", "--minutes", 2, "--softness", 4, "--note", "a little soft")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "is print 1 in gpost-log.sqlite" in result.stdout
    assert json.loads(add("--left-g", 90, "--json").stdout)["number"] == 2
    assert "a little soft" in gpost("log", "show").stdout
    found = json.loads(gpost("log", "show", "--json").stdout)["prints"]
    assert [row["number"] for row in found] == [1, 2]
    assert found[0]["found"] == {
        "weighed_g": 30.5, "minutes": 2, "left_g": None, "softness": 4, "notes": "a little soft"
    }  # fmt: skip
    assert (tmp_path / "gpost-log.sqlite").is_file()


def test_from_standard_input(add: Gpost, gpost: Gpost, config: Path, tmp_path: Path) -> None:
    """- is standard input, and --log names another file."""
    data = (tmp_path / "vase.json").read_bytes()
    result = gpost("log", "add", "-", "-c", config, "--log", "mine.db", stdin=data)
    assert (result.exit_code, result.stderr) == (0, "")
    assert len(json.loads(gpost("log", "show", "--log", "mine.db", "--json").stdout)["prints"]) == 1


def test_fit(add: Gpost, gpost: Gpost, config: Path) -> None:
    """Two weighed prints give the metering; one that went wrong is left out."""
    for grams in (30, 32, 3):
        add("--grams", grams)
    result = gpost("log", "fit", "-c", config, "--without", 3)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "on average of 2 prints" in result.stdout
    assert "metering: {unit: ml, ml_per_unit: " in result.stdout
    found = json.loads(gpost("log", "fit", "-c", config, "--without", 3, "--json").stdout)
    assert found["mass_ratio"]["prints"] == 2
    assert found["time_ratio"] is None


def test_too_few_prints(add: Gpost, gpost: Gpost, config: Path) -> None:
    """Status 1: one print teaches nothing."""
    add("--grams", 30)
    result = gpost("log", "fit", "-c", config)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "at least 2 prints" in result.stderr


@pytest.mark.parametrize("args", [("log", "show"), ("log", "fit")])
def test_no_log(gpost: Gpost, args: tuple[str, ...], tmp_path: Path) -> None:
    """Status 2: there is nothing to show, and no file is made."""
    result = gpost(*args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "there is no log" in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_no_summary(gpost: Gpost, sliced: Path, config: Path) -> None:
    """Status 2: a sliced file is no summary."""
    result = gpost("log", "add", sliced, "-c", config)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "is no summary" in result.stderr


def test_without_a_config(add: Gpost, gpost: Gpost) -> None:
    """Status 2: the log must know how E metered."""
    result = gpost("log", "add", "vase.json")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "-c CONFIG" in result.stderr


def test_not_a_log(add: Gpost, sliced: Path) -> None:
    """Status 1: another file is never written over."""
    before = sliced.read_bytes()
    result = add("--log", sliced)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "can't be used" in result.stderr
    assert sliced.read_bytes() == before
