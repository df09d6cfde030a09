"""A stopped print in the log: one record of the whole piece, added by the summary of its rest."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.resuming import ran, resume, summary, typed

LAYERS, ML, G_ML, MIN = 40, 2.5, 2.0, 0.4
"""A square of four sides of 40 mm at 400 mm/min and 0.625 ml each, 40 times."""
CONFIG = f"""
machine:
  bed: {{x_max_mm: 300, y_max_mm: 300}}
  ceiling_mm: 300
  park: {{x_mm: 15, y_mm: 15}}
clay: {{metering: {{unit: ml, ml_per_unit: 1}}, wet_density_g_ml: {G_ML}}}
cartridge: {{volume_ml: 300, reserve_ml: 10, line_ml: 12, start_loss_ml: 0}}
steps: []
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """The square, run."""
    lines = ["G21", "G90", "M83", "G28", "G1 Z2 F400", "G1 X100 Y100"]
    for layer in range(LAYERS):
        lines += [f"G1 Z{2 * (layer + 1)}"]
        lines += [f"G1 {to} E0.625" for to in ("X140", "Y140", "X100", "Y100")]
    (tmp_path / "pot.gcode").write_text("\n".join(lines) + "\n")
    return ran(tmp_path, "pot.gcode", CONFIG)


def added(job: Path, name: str, *args: object) -> dict[str, Any]:
    """The one print of a new log to which that summary was added."""
    log = job / f"{name}{len(args)}.sqlite"
    result = typed("log", "add", job / f"{name}.json", "-c", job / "studio.yaml", "--log", log, *args)
    assert result.exit_code == 0, result.output
    (row,) = json.loads(typed("log", "show", "--log", log, "--json").stdout)["prints"]
    found: dict[str, Any] = row
    return found


def test_the_whole_piece_is_weighed_and_the_rest_timed(job: Path) -> None:
    """However often it stopped: 40 layers of 2.5 ml are 200 g, and each part is as long as its own layers."""
    assert resume(job, "--from-layer", 21).exit_code == 0
    assert resume(job, "--from-layer", 31, of="rest", name="again").exit_code == 0
    for name in ("print", "rest", "again"):
        row = added(job, name, "--grams", 210, "--minutes", 30)
        assert row["piece_g"] == pytest.approx(LAYERS * ML * G_ML)
        assert row["mass_ratio"] == pytest.approx(1.05)
        assert row["minutes"] == pytest.approx(summary(job, name)["time_s"] / 60)
    assert row["minutes"] == pytest.approx(10 * MIN, rel=0.3)


def test_the_run_and_its_rest_as_two_pieces_is_asked_about(job: Path) -> None:
    """When the second of them is added; the print is kept all the same."""
    assert resume(job, "--from-layer", 21).exit_code == 0
    args = ("-c", job / "studio.yaml", "--log", job / "log.sqlite", "--grams", 205)
    assert typed("log", "add", job / "print.json", *args).stderr == ""
    result = typed("log", "add", job / "rest.json", *args)
    assert result.exit_code == 0
    assert "print 2 is the rest of a stopped print" in " ".join(result.stderr.split())


def asked(job: Path, name: str, grams: float) -> str:
    """What `log add` asks about that mass, in one line."""
    args = ("log", "add", job / f"{name}.json", "-c", job / "studio.yaml", "--log", job / "log.sqlite")
    result = typed(*args, "--grams", grams)
    assert result.exit_code == 0
    return " ".join(result.stderr.split())


def test_a_part_weighed_alone_is_asked_about(job: Path) -> None:
    """Of 200 g the last 19 layers of 40 are 95, whatever is known of E; it is kept all the same."""
    assert resume(job, "--from-layer", 22).exit_code == 0
    assert "97 g are about the 95 g that this rest alone lays" in asked(job, "rest", 97)
    assert "107 g are about the 105 g that were laid before it stopped" in asked(job, "rest", 107)


def test_the_first_part_by_the_run_s_summary(job: Path) -> None:
    """Asked about as soon as an earlier print of that clay says that E is right: else it may be E."""
    assert "did it stop" not in asked(job, "print", 93)
    assert asked(job, "print", 196) == ""
    assert "94 g are 0.47 times the 200 g that were predicted for the whole piece: did it stop" in asked(
        job, "print", 94
    )


def test_the_first_part_where_the_config_knows_how_sure_e_is(job: Path) -> None:
    """Its spread comes from a trial."""
    (job / "print.gcode").unlink()
    (job / "print.json").unlink()
    ran(job, "pot.gcode", CONFIG.replace("ml_per_unit: 1}", "ml_per_unit: 1, spread_percent: 3}"))
    assert "did it stop" in asked(job, "print", 93)


def test_its_card_says_which(job: Path) -> None:
    """That of a rest asks for the whole piece's mass and the rest's own time, and can be read back."""
    assert resume(job, "--from-layer", 21, "--summary", job / "rest.txt").exit_code == 0
    text = (job / "rest.txt").read_text()
    assert "wet mass of the whole piece, g" in text
    assert "machine time of this rest alone, min" in text
    (job / "rest.txt").write_text(
        text.replace("  grams: ", "  grams: 190").replace("  minutes: ", "  minutes: 9")
    )
    row = added(job, "rest", "--card", job / "rest.txt")
    assert (row["mass_ratio"], row["found"]["minutes"]) == (pytest.approx(0.95), 9)


def test_its_page_asks_the_same(job: Path) -> None:
    """In the fields that are filled in there."""
    assert resume(job, "--from-layer", 21, "--page", job / "rest.html").exit_code == 0
    page = (job / "rest.html").read_text("utf-8")
    assert "Wet mass of the whole piece, g" in page
    assert "Machine time of this rest alone, h:mm" in page


@pytest.mark.parametrize(
    ("turned", "flow", "time"),
    [
        (("flow=120@21",), 1.1, 1),  # half of the piece is laid a fifth more
        (("flow=120@31",), 1.05, 1),
        (("flow=120@60mm",), 1.05, 1),
        (("flow=120@21", "flow=100@31"), 1.05, 1),
        (("speed=80@31",), 1, 0.5 + 0.5 / 0.8),  # and half of the rest's time takes so much longer
    ],
)
def test_what_was_turned_in_the_rest(job: Path, turned: tuple[str, ...], flow: float, time: float) -> None:
    """Its clay counts in the whole piece, its time in the rest."""
    assert resume(job, "--from-layer", 21).exit_code == 0
    row = added(job, "rest", *(word for each in turned for word in ("--turned", each)), "--grams", 200)
    assert row["found"]["flow_share"] == pytest.approx(flow, rel=1e-3)
    assert row["found"]["time_share"] == pytest.approx(time, rel=0.03)


@pytest.mark.parametrize("turned", ["flow=110@5", "flow=110@30mm", "speed=90@20"])
def test_what_was_turned_before_it_stopped(job: Path, turned: str) -> None:
    """The rest's summary can't place it; the whole run's does, and that is said."""
    assert resume(job, "--from-layer", 21).exit_code == 0
    log = job / "log.sqlite"
    args = ("log", "add", job / "rest.json", "-c", job / "studio.yaml", "--log", log, "--grams", 200)
    result = typed(*args, "--turned", turned)
    assert result.exit_code == 2
    said = " ".join(result.stderr.split())
    assert "a rest, which begins in layer 21, at 40 mm" in said
    assert f"{turned[: turned.index('=')]}=100@21" in said
    assert not log.exists()
