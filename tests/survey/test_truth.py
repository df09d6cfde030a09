"""The survey of sliced pieces against what is known of them from their making."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gpost.config.model import Config
from gpost.demo.gcode import Piece, SliceStyle, class_pieces
from gpost.pipeline import survey_file
from gpost.survey.model import Survey
from tests.sliced import SlicedPiece, slice_piece

STYLES = {
    "flat": {"wall": "flat"},
    "flat, hops and relief": {"wall": "flat", "z_hop": True, "retract": True},
    "rise": {"wall": "rise"},
    "rise, all relative": {"wall": "rise", "relative_axes": True, "relative_e": True},
    "rise, inches, numbered": {"wall": "rise", "inches": True, "numbered": True, "decimals": 5},
    "rise, two decimals": {"wall": "rise", "decimals": 2},
    "rise, one decimal": {"wall": "rise", "decimals": 1},
    "flat, modal, lower case": {"wall": "flat", "modal_g": True, "lowercase": True},
    "flat, arcs in the base": {"wall": "flat", "arcs": True},
    "rise, G92 every layer": {"wall": "rise", "g92_every_layer": True},
    "rise, CRLF, comments": {"wall": "rise", "newline": "\r\n", "comments": True},
    "spiral base, prime": {"wall": "rise", "base": "spiral", "prime_in_place": True},
}
FORMS = {
    "plain cylinder": {"profile": "cylinder", "lobes": 0},
    "three lobes, twisted": {"lobes": 3, "lobe_depth": 0.12, "twist_deg_per_mm": 1.5},
    "five lobes, twisted back": {"lobes": 5, "lobe_depth": 0.1, "twist_deg_per_mm": -2.0},
    "eight lobes, twisted": {"lobes": 8, "lobe_depth": 0.08, "twist_deg_per_mm": 1.0},
    "twelve lobes, twisted": {"lobes": 12, "lobe_depth": 0.06, "twist_deg_per_mm": 2.5},
    "leaning": {"lean_mm": 40.0},
    "no base": {"base_layers": 0},
}


def bowl(**changes: object) -> Piece:
    """A small bowl of the class, changed."""
    return replace(class_pieces()["small-bowl-1"][0], **changes)  # type: ignore[arg-type]


def surveyed(folder: Path, sliced: SlicedPiece) -> Survey:
    """The survey of a sliced piece."""
    path = folder / "piece.gcode"
    path.write_bytes(sliced.text)
    return survey_file(path, Config())


def check(survey: Survey, sliced: SlicedPiece, *, mm: float, ml: float, path: float = 1e-3) -> None:
    """Layers, heights, clay, path and bounds agree with the truth."""
    truth, layers = sliced.truth, survey.layers
    assert len(layers) == len(truth.first_line)
    np.testing.assert_allclose(layers["height_mm"], truth.height_mm, atol=mm)
    np.testing.assert_allclose(layers["low_mm"], truth.low_mm, atol=mm)
    np.testing.assert_allclose(layers["path_mm"], truth.path_mm, rtol=path)
    np.testing.assert_allclose(layers["laid_ml"], truth.laid_ml, atol=ml)
    np.testing.assert_allclose(survey.bounds_mm, truth.bounds_mm, atol=mm)
    assert survey.clay_ml == pytest.approx(truth.total_ml, abs=ml * len(layers))
    assert survey.lead_in_ml == pytest.approx(truth.lead_in_ml, abs=ml)
    assert survey.lines == truth.lines
    assert survey.pieces == 1


@pytest.mark.parametrize("style", STYLES.values(), ids=STYLES.keys())
def test_a_piece_in_every_dialect(style: dict[str, object], tmp_path: Path) -> None:
    """However the file is written, its layers, heights and clay are those of the piece."""
    sliced = slice_piece(bowl(), SliceStyle(**style))  # type: ignore[arg-type]
    # at one decimal corners move by up to 0.05 mm, and a turn may end a segment earlier or later
    path, ml = (0.03, 0.15) if style.get("decimals") == 1 else (1e-3, 0.02)
    check(surveyed(tmp_path, sliced), sliced, mm=0.01, ml=ml, path=path)


@pytest.mark.parametrize("wall", ["flat", "rise"])
@pytest.mark.parametrize("form", FORMS.values(), ids=FORMS.keys())
def test_every_form(form: dict[str, object], wall: str, tmp_path: Path) -> None:
    """Lobes, twist, lean and a missing base change nothing about what a layer is."""
    sliced = slice_piece(bowl(**form), SliceStyle(wall=wall))  # type: ignore[arg-type]
    check(surveyed(tmp_path, sliced), sliced, mm=0.01, ml=0.05)


@pytest.mark.parametrize("form", FORMS.values(), ids=FORMS.keys())
def test_a_turn_starts_at_the_seam(form: dict[str, object], tmp_path: Path) -> None:
    """On a rising wall a layer starts within two segments of the seam."""
    piece = bowl(**form)
    sliced = slice_piece(piece, SliceStyle(wall="rise"))
    survey = surveyed(tmp_path, sliced)
    turning = sliced.truth.kind == 1
    assert turning.sum() > 5
    off = survey.layers["first_line"][turning] - sliced.truth.seam_line[turning]
    assert np.abs(off).max() <= 2


def test_a_wall_that_waves(tmp_path: Path) -> None:
    """A wall whose height waves along each turn has one layer a turn, though Z falls as well as rises."""
    for wall in ("flat", "rise"):
        piece, style = class_pieces()["waved-vase"]
        sliced = slice_piece(piece, replace(style, wall=wall))  # type: ignore[arg-type]
        survey = surveyed(tmp_path, sliced)
        check(survey, sliced, mm=0.01, ml=0.1)
        waved = survey.layers["kind"] == 1
        assert (survey.layers["low_mm"][1:] < survey.layers["height_mm"][:-1])[waved[1:]].any()


def test_two_pieces_in_one_file(tmp_path: Path) -> None:
    """Two pieces printed one after the other are counted as two."""
    sliced = slice_piece(bowl(centre_x_mm=80), SliceStyle(wall="flat", relative_e=True))
    other = slice_piece(bowl(centre_x_mm=200), SliceStyle(wall="flat", relative_e=True))
    path = tmp_path / "two.gcode"
    path.write_bytes(sliced.text + b"\n" + other.text)
    assert survey_file(path, Config()).pieces == 2


def test_one_layer(tmp_path: Path) -> None:
    """A single ring at height 0 is one layer."""
    turn = "\n".join(
        f"G1 X{150 + 40 * np.cos(a):.3f} Y{150 + 40 * np.sin(a):.3f} E{10 * i}"
        for i, a in enumerate(np.linspace(0, 2 * np.pi, 73)[1:], 1)
    )
    path = tmp_path / "ring.gcode"
    path.write_text(f"G28\nG90\nG0 X190 Y150 Z0 F1800\n{turn}\n")
    survey = survey_file(path, Config())
    assert len(survey.layers) == 1
    # the regular 72-gon of radius 40: 2 n R sin(pi / n), elementary geometry
    assert survey.layers["path_mm"][0] == pytest.approx(2 * 72 * 40 * np.sin(np.pi / 72), abs=0.01)


def test_a_wrong_unit_of_e_is_noticed(tmp_path: Path) -> None:
    """Clay by E that is far from path times bead section is the commonest mistake, and gets a warning."""
    piece = bowl()
    sliced = slice_piece(piece, SliceStyle(wall="flat"))
    path = tmp_path / "bowl.gcode"
    path.write_bytes(sliced.text)
    right = {"metering": {"unit": "filament", "diameter_mm": 1.75}, "bead_width_mm": piece.bead_width_mm}
    wrong = {"metering": {"unit": "mm3"}, "bead_width_mm": piece.bead_width_mm}
    assert not survey_file(path, Config.model_validate({"clay": right})).warnings
    (warning,) = survey_file(path, Config.model_validate({"clay": wrong})).warnings
    assert "check `clay: metering`" in warning
