"""Weighings from files, against the present config."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from gpost.clay.trials import Weighing
from gpost.config.load import load_text
from gpost.config.metering import ml_per_unit
from gpost.config.model import CubicMillimetres, Filament, PathSection
from gpost.errors import ConfigError
from gpost.workbook.trial.weighed import config_lines, weighings_text
from gpost.workbook.trial.weighings import calibrate
from gpost.workbook.trial.weighingsfile import read_weighings

TWO = [Weighing(400, 1.9), Weighing(800, 3.8)]


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.csv", "400,1.9\n800,3.8\n"),
        ("a.csv", "E,grams\n400,1.9\n\n# a bubble\n800,3.8\n"),
        ("a.csv", "\ufeffE;grams\r\n400;1.9\r\n800;3.8\r\n"),
        ("a.txt", "400\t1.9\n800\t3.8"),
        ("a.txt", "400\t1,9\n800\t3,8"),
        ("a.csv", "E;Gramm\r\n400;1,9\r\n800;3,8\r\n"),  # as a German program for tables writes it
        ("a.csv", "Sep=;\nE;Gramm\n400;1,9\n800,0;3.8\n"),
        ("a.csv", "E;Gramm;\n400;1,9;\n800;3,8;\n"),
        ("a.csv", '"E","grams"\n"400","1.9"\n"800","3.8"\n'),
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
        ("a.csv", ""),
        ("a.csv", "a day's work\n"),
        ("a.csv", "E,grams\n"),
        ("a.yaml", "e: 400\n"),
        ("a.yaml", "- [\n"),
        ("a.yaml", "!!python/object/apply:os.system [ls]\n"),
    ],
)
def test_wrong_files(tmp_path: Path, name: str, text: str) -> None:
    """What doesn't hold two numbers a weighing is refused with the file's name."""
    (tmp_path / name).write_text(text)
    with pytest.raises(ConfigError, match=rf"{name} holds no weighings: it must hold two numbers"):
        read_weighings(tmp_path / name)


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("a.csv", "400,1.9,2\n", "line 1: there are 3 columns; keep two, E and grams"),
        ("a.csv", "400,1,9\n800,3,8\n", "write a point for the decimals, such as 400,1.9"),
        ("a.csv", "E;g;note\n400;1,9;good\n800;3,8;\n", "line 2: there are 3 columns"),
        ("a.csv", "400\n", "line 1: there is one column; part E and grams by"),
        ("a.csv", "1 400 1.9\n", "line 1: there is one column; part E and grams by"),
        ("a.csv", "E,grams\n\n400,much\n", "line 3: 'much' is no number"),
        ("a.csv", "E,grams\n400,1.9g\n", "line 2: '1.9g' is no number; write 1.9, in g"),
        ("a.csv", "400,1.9\n800,\n", "line 2: there is nothing for grams"),
        ("a.csv", "E;g\n;1.9\n", "line 2: there is nothing for E"),
        ("a.csv", "4 000;1,9\n", "line 1: '4 000' is no number; write it without blanks: 4000"),
        ("a.csv", "400;1,9\n4.000;19,0\n", "line 2: '4.000' may be meant as thousands; write 4000 or 4.000"),
        ("a.csv", "4,000;19.5\n", "line 1: '4,000' may be meant as thousands; write 4000 or 4.000"),
        ("a.csv", "1.400.000;19,5\n", "line 1: '1.400.000' may be meant as thousands; write 1400000"),
        ("a.csv", '400,"1.9\n', "line 1: its quotation marks don't fit"),
        ("a.csv", "400;inf\n", "line 1: 'inf' is no ordinary number"),
        ("a.yaml", "- {e: 400}\n", "weighing 1: there is nothing for grams"),
        ("a.yaml", "- [400, 1.9]\n- [800, 3,8]\n", "weighing 2: [800, 3, 8] is no pair, such as [400, 1.9] (with a point"),
        ("a.yaml", "- [400, '1,9']\n", "weighing 1: '1,9' is no number; write a point, not a comma: 1.9"),
        ("a.yaml", "- 400\n", "weighing 1: 400 is no pair"),
    ],
)
def test_one_wrong_cell_is_told_with_its_line(tmp_path: Path, name: str, text: str, said: str) -> None:
    """As a weighing that is typed is: what is wrong, where, and how to write it."""
    (tmp_path / name).write_text(text)
    with pytest.raises(ConfigError) as refused:
        read_weighings(tmp_path / name)
    assert f"{name}, {said}" in str(refused.value) or said in str(refused.value).partition(f"{name}, ")[2]


@pytest.mark.parametrize(
    ("data", "read"),
    [
        ("E;grams\n400;1,9\n800;3,8\n".encode("utf-16"), True),
        ("Länge;Masse\n400;1,9\n800;3,8\n".encode("cp1252"), True),
        (b"PK\x03\x04\x14\x00\x06\x00\x08\x00", False),
        ("400;1,9\n".encode("utf-16-le"), False),
    ],
)
def test_other_bytes(tmp_path: Path, data: bytes, read: bool) -> None:
    """UTF-16 that says so, and a heading in an older alphabet, are read; what is no text says how to save it."""
    (tmp_path / "a.csv").write_bytes(data)
    if read:
        assert read_weighings(tmp_path / "a.csv") == TWO
    else:
        with pytest.raises(ConfigError, match="as it is no text; from a program for tables save it as CSV"):
            read_weighings(tmp_path / "a.csv")


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
    assert found.interval_ml is None


def test_one_weighing_has_no_interval() -> None:
    """One weighing gives ml per unit alone."""
    assert calibrate(TWO[:1], 1.9, Filament(unit="filament", diameter_mm=1.75)).interval_ml is None


MM3 = CubicMillimetres(unit="mm3")
GOOD = [Weighing(e, grams) for e, grams in ((10e3, 18.0), (20e3, 37.1), (30e3, 55.9), (40e3, 75.0))]
"""About 1.9 g for 1000 units, and about 1 g lost at each start."""


def test_slope_and_loss_in_ml() -> None:
    """By the differences alone: 19.0 g for each 10,000 units at 2 g/ml, and what the first lacks is lost."""
    found = calibrate(GOOD, 2.0, MM3)
    assert found.ml == pytest.approx(0.00095, rel=0.005)
    assert found.loss_ml is not None
    assert found.loss_ml.value == pytest.approx(0.5, abs=0.06)
    assert (found.no_line, found.no_loss_line) == ("", "")


ROUGH = [Weighing(e, grams) for e, grams in ((10e3, 18.0), (20e3, 38.0), (30e3, 54.5), (40e3, 75.0))]
"""The same, but worse than usual."""


def test_the_spread_has_the_interval_s_reach() -> None:
    """1.96 of it reach as far as the 95 % interval; the config's own is kept where it is wider."""
    found = calibrate([*ROUGH, *GOOD], 2.0, MM3)
    assert found.interval_ml is not None
    assert not found.lucky
    reach_percent = 100 * (found.interval_ml[1] / found.ml - 1)
    assert found.spread_percent == pytest.approx(reach_percent / 1.959964, rel=1e-6)
    wide = calibrate(GOOD, 2.0, CubicMillimetres(unit="mm3", spread_percent=3))
    assert wide.spread_percent == 3


def test_weighings_that_agree_by_luck_are_no_surer_than_usual() -> None:
    """The spread is then that of the usual errors, 0.25 g and 1 %: by NumPy's weighted fit with known variances."""
    found = calibrate(GOOD, 2.0, MM3)
    assert found.lucky
    e, grams = np.array([(one.e, one.grams) for one in GOOD]).T
    deviation = np.sqrt(0.25**2 + 0.1**2 / 12 + (0.01 * grams) ** 2)
    _, covariance = np.polyfit(e, grams, 1, w=1 / deviation, cov="unscaled")
    percent = 100 * float(np.sqrt(covariance[0, 0])) / found.fit.slope
    assert found.spread_percent == pytest.approx(percent, rel=0.02)


@pytest.mark.parametrize("count", [4, 6])
@pytest.mark.parametrize("times", [0.5, 1.0])
def test_what_is_taught_is_right_as_often_as_it_says(count: int, times: float) -> None:
    """Of the lines that 800 drawn trials with usual or half the errors give, 95 % or more hold the truth."""
    random, e = np.random.default_rng(count), 1e4 * np.arange(1.0, count + 1)
    given = held = 0
    for _ in range(800):
        grams = (0.0019 * e - 1) * (1 + 0.01 * times * random.standard_normal(count))
        grams = np.round(grams + 0.25 * times * random.standard_normal(count), 1)
        pairs = zip(e.tolist(), grams.tolist(), strict=True)
        found = calibrate([Weighing(*pair) for pair in pairs], 2.0, MM3)
        if found.no_line or found.spread_percent is None:
            continue
        given += 1
        held += abs(0.00095 / found.ml - 1) <= 1.96 * found.spread_percent / 100
    assert given > 300
    assert held / given > 0.95


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([(1e4, 18.0)], "one weighing says nothing"),
        ([(1e4, 18.0)] * 4, "what each start loses is still in it"),
        ([(1e4, 18.0), (2e4, 37.0)], "so few weighings"),
        ([(1e4, 18.0), (2e4, 37.0), (3e4, 56.0)], "so few weighings"),
        ([(1e4, 24.0), (2e4, 43.1), (3e4, 61.9), (4e4, 81.0)], "don't start at nought"),
        ([(1e4, 18.0), (2e4, 33.1), (3e4, 58.9), (4e4, 75.0)], "and must be to +-5 %"),
        ([(e * 1e4, e * 19.0 - 1 - 8 * (e == 4)) for e in range(1, 8)], "weighing 4 does not agree"),
    ],
)
def test_no_line_from_what_teaches_nothing(pairs: list[tuple[float, float]], words: str) -> None:
    """Neither for the metering nor for the start."""
    found = calibrate([Weighing(*pair) for pair in pairs], 2.0, MM3)
    assert words in found.no_line
    assert found.no_loss_line
    assert config_lines(found) == []


def test_a_config_that_knows_better_is_kept() -> None:
    """A spread of a tenth of a percent is finer than four weighings tell."""
    found = calibrate(GOOD, 2.0, CubicMillimetres(unit="mm3", spread_percent=0.1))
    assert "the config knows better" in found.no_line


@pytest.mark.parametrize("scale", [0.9, 1.0, 1.3, 1.9])
def test_the_same_weighings_agree_with_the_line_they_gave(scale: float) -> None:
    """Once their line is in the config, the config doesn't know better."""
    first = calibrate([Weighing(one.e * scale, one.grams) for one in [*ROUGH, *GOOD]], 2.0, MM3)
    printed = float(f"{first.spread_percent:.2g}")
    again = calibrate(first.weighings, 2.0, CubicMillimetres(unit="mm3", spread_percent=printed))
    assert (first.no_line, again.no_line) == ("", "")


FEW = [Weighing(4200.0 * at, grams) for at, grams in ((1, 19.1), (2, 38.6), (3, 57.9), (4, 76.6))]
"""What a start loses can't be told from nothing."""


@pytest.mark.parametrize("grams", [(19.1, 38.6, 57.9, 76.6), (19.4, 38.6, 57.9, 77.0), (18.0, 37.1, 55.9, 75.0)])
def test_the_pasted_lines_come_to_what_was_weighed(grams: tuple[float, ...]) -> None:
    """With the lines in a config the weighed grams are due: their errors, each by its weight, sum to nothing.

    That is so of any line with a loss that least squares give (the first of the normal equations); through the
    origin it is so of the errors times E.
    """
    e, y = 4200.0 * np.arange(1, 5), np.array(grams)
    found = calibrate([Weighing(*pair) for pair in zip(e.tolist(), grams, strict=True)], 1.9, MM3, hose_ml=40)
    config = load_text("c.yaml", "\n".join(config_lines(found))).config
    loss_ml = config.cartridge.start_loss_ml
    due_g = 1.9 * (e * (ml_per_unit(config.clay.metering) or 0) - loss_ml)
    weight = 1 / (0.25**2 + 0.1**2 / 12 + (0.01 * e * np.median(y / e)) ** 2)
    moment = weight if loss_ml else weight * e
    assert float(moment @ (due_g - y) / (moment @ y)) == pytest.approx(0, abs=3e-4)


def test_no_start_gives_more_than_its_e() -> None:
    """Where the line would have it so by chance, none is lost, and the metering is that of no loss (NumPy's)."""
    pairs = [(4200.0, 19.4), (8400.0, 38.6), (12600.0, 57.9), (16800.0, 77.0)]
    found = calibrate([Weighing(*pair) for pair in pairs], 1.9, MM3, hose_ml=40)
    assert found.loss_ml is not None
    assert found.loss_ml.value < 0
    assert "can't be told from none" in found.no_loss_line
    e, grams = np.array(pairs).T
    root = 1 / np.sqrt(0.25**2 + 0.1**2 / 12 + (0.01 * e * np.median(grams / e)) ** 2)
    (slope,), *_ = np.linalg.lstsq((root * e)[:, None], root * grams, rcond=None)
    assert found.ml == pytest.approx(float(slope) / 1.9, rel=1e-12)
    assert found.interval_ml is not None
    low, high = found.interval_ml
    assert low < found.ml < high
    assert found.reach_percent == pytest.approx(100 * max(high / found.ml - 1, 1 - low / found.ml))


def test_a_loss_that_can_t_be_told_is_said_and_goes_along() -> None:
    """The metering presumes it, so the screen says how much, and the lines bring it."""
    found = calibrate(FEW, 1.9, MM3, hose_ml=40)
    said = " ".join(weighings_text(found).split())
    assert "can't be told from nothing: it is less than 0.59 ml (95 %); the ml per unit is reckoned with 0.054 ml" in said
    assert config_lines(found)[-1] == "  start_loss_ml: 0.054"
    loose = calibrate(FEW, 1.9, MM3, hose_ml=5)
    assert "no line for what a start loses" in weighings_text(loose)


def test_a_loss_that_is_loose_against_the_hose_gives_no_line() -> None:
    """5 % of 1 ml in the hose are less than it is known to; of 60 ml more. The metering stands either way."""
    assert "5 % of what the hose holds" in calibrate(GOOD, 2.0, MM3, hose_ml=1).no_loss_line
    assert "start_loss_ml" not in " ".join(config_lines(calibrate(GOOD, 2.0, MM3, hose_ml=1)))
    assert calibrate(GOOD, 2.0, MM3, hose_ml=60).no_loss_line == ""


@pytest.mark.parametrize("slip", [0.2, -0.2, 0.5, -0.5])
def test_a_slip_among_five_weighings_moves_no_line(slip: float) -> None:
    """Of 300 trials each gives no line, or one within the interval of that without the slip (invented data)."""
    random, e = np.random.default_rng(12), 1e4 * np.arange(1.0, 6)
    lines = 0
    for _ in range(300):
        grams = np.round((0.0019 * e - 1) * (1 + 0.01 * random.standard_normal(5)), 1)
        right = [Weighing(*pair) for pair in zip(e.tolist(), grams.tolist(), strict=True)]
        wrong = int(random.integers(5))
        slipped = [*right]
        slipped[wrong] = Weighing(e[wrong], round(grams[wrong] * (1 + slip), 1))
        lines += calibrate(right, 2.0, MM3).no_line == ""
        found = calibrate(slipped, 2.0, MM3)
        if not found.no_line:
            good = calibrate([one for index, one in enumerate(right) if index != wrong], 2.0, MM3)
            assert good.interval_ml is not None
            assert good.interval_ml[0] <= found.ml <= good.interval_ml[1]
    assert lines > 200


def test_a_config_without_e() -> None:
    """A config that meters by path gives nothing to compare with."""
    found = calibrate(TWO, 2.0, PathSection(unit="path"))
    assert (found.off_percent, found.flow_percent) == (None, None)


def test_no_weighing() -> None:
    """An empty list is refused."""
    with pytest.raises(ConfigError, match="at least one weighing"):
        calibrate([], 2.0, PathSection(unit="path"))
