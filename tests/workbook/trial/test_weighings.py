"""Weighings from files, against the present config."""

from __future__ import annotations

from pathlib import Path

import pytest

from gpost.clay.trials import Weighing
from gpost.config.model import CubicMillimetres, Filament, PathSection
from gpost.errors import ConfigError
from gpost.workbook.trial.weighings import calibrate, read_weighings

TWO = [Weighing(400, 1.9), Weighing(800, 3.8)]


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.csv", "400,1.9\n800,3.8\n"),
        ("a.csv", "E,grams\n400,1.9\n\n# a bubble\n800,3.8\n"),
        ("a.csv", "\ufeffE;grams\r\n400;1.9\r\n800;3.8\r\n"),
        ("a.txt", "400\t1.9\n800\t3.8"),
        ("a.yaml", "- [400, 1.9]\n- [800, 3.8]\n"),
        ("a.yml", "- {e: 400, grams: 1.9}\n- {grams: 3.8, e: 800}\n"),
    ],
)
def test_files(tmp_path: Path, name: str, text: str) -> None:
    """A table with or without a heading, commas, semicolons or tabs; a YAML list of pairs or of keys."""
    (tmp_path / name).write_text(text, "utf-8")
    assert read_weighings(tmp_path / name) == TWO


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.csv", "400,1.9,2\n"),
        ("a.csv", "400\n"),
        ("a.csv", "E,grams\n400,much\n"),
        ("a.yaml", "e: 400\n"),
        ("a.yaml", "- {e: 400}\n"),
        ("a.yaml", "- [\n"),
        ("a.yaml", "- 400\n"),
        ("a.yaml", "!!python/object/apply:os.system [ls]\n"),
    ],
)
def test_wrong_files(tmp_path: Path, name: str, text: str) -> None:
    """What doesn't hold two numbers a weighing is refused with the file's name."""
    (tmp_path / name).write_text(text)
    with pytest.raises(ConfigError, match=rf"{name} holds no weighings: it must hold two numbers"):
        read_weighings(tmp_path / name)


def test_no_file(tmp_path: Path) -> None:
    """A file that is not there, or is no text, is refused."""
    with pytest.raises(ConfigError, match="can't be read"):
        read_weighings(tmp_path / "none.csv")
    (tmp_path / "a.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ConfigError, match="can't be read"):
        read_weighings(tmp_path / "a.csv")


def test_against_the_config() -> None:
    """400 units of 1 mm^3 that weigh 0.76 g at 2 g/ml: 0.95 ml a unit, so 5 % less; flow 100 / 0.95."""
    found = calibrate([Weighing(400, 0.76), Weighing(800, 1.52)], 2.0, CubicMillimetres(unit="mm3"))
    assert found.ml == pytest.approx(0.00095)
    assert found.off_percent == pytest.approx(-5)
    assert found.flow_percent == pytest.approx(100 / 0.95)
    # the scale shows hundredths of a gram; Student's t for one degree of freedom is 12.706
    reach = 12.706 * 0.01 / 12**0.5 / (400**2 + 800**2) ** 0.5 / 2
    assert found.interval_ml == pytest.approx((0.00095 - reach, 0.00095 + reach), rel=1e-5)


def test_one_weighing_has_no_interval() -> None:
    """One weighing gives ml per unit alone."""
    assert calibrate(TWO[:1], 1.9, Filament(unit="filament", diameter_mm=1.75)).interval_ml is None


def test_a_config_without_e() -> None:
    """A config that meters by path gives nothing to compare with."""
    found = calibrate(TWO, 2.0, PathSection(unit="path"))
    assert (found.off_percent, found.flow_percent) == (None, None)


def test_no_weighing() -> None:
    """An empty list is refused."""
    with pytest.raises(ConfigError, match="at least one weighing"):
        calibrate([], 2.0, PathSection(unit="path"))
