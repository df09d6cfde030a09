"""The demo: a folder with a sliced bottle, the stock recipe, the file to print, and its summary."""

from __future__ import annotations

import dataclasses
import re
from importlib.resources import files
from pathlib import Path
from typing import Literal

from gpost.common.plain import shown, storable
from gpost.demo.gcode import Piece, class_pieces, slice_piece
from gpost.errors import OutputError
from gpost.origin import origin_of
from gpost.pipeline import run_file
from gpost.report.jsonout import to_json
from gpost.report.text import to_text
from gpost.steps.recipe import read_recipe
from gpost.write.sink import AtomicFile, check_target, work_folder

PIECE = "twisted-bottle"
SLICED, RECIPE, PRINT = f"{PIECE}.gcode", "recipe.yaml", f"{PIECE}-print.gcode"
TEXT, JSON = "summary.txt", "summary.json"
_HEIGHT = re.compile(r"\b((?:at|from)_height_mm: )([0-9.]+)")


def make_demo(
    folder: Path,
    *,
    height_mm: float | None = None,
    twist_deg: float | None = None,
    wall: Literal["flat", "rise"] = "rise",
    overwrite: bool = False,
) -> str:
    """Write everything into the folder, which is made if need be; returns the summary in words.

    `height_mm` takes the bottle to that height, and all its measures and the recipe's heights with it;
    `twist_deg` is the twist from bottom to top. Raises GpostError.
    """
    _make_folder(folder)
    for name in (SLICED, RECIPE, PRINT, TEXT, JSON):
        check_target(folder / name, overwrite=overwrite)
    with work_folder(folder) as work:
        text = _make(work, folder, height_mm, twist_deg, wall)
        for path in sorted(work.iterdir()):
            with AtomicFile(folder / path.name, overwrite) as out:
                out.write(path.read_bytes())
    return text


def _make(
    folder: Path,
    final: Path,
    height_mm: float | None,
    twist_deg: float | None,
    wall: Literal["flat", "rise"],
) -> str:
    """Make all the files in an empty folder; `final`: where they will lie. Returns the summary in words."""
    piece, style = class_pieces()[PIECE]
    scale = 1.0 if height_mm is None else height_mm / piece.height_mm
    style = dataclasses.replace(style, wall=wall, level_last=wall == "rise")
    (folder / SLICED).write_bytes(slice_piece(_fitted(piece, scale, twist_deg), style))
    (folder / RECIPE).write_text(stock_recipe(scale), "utf-8")
    recipe = read_recipe([folder / RECIPE])
    # the folder is a passing one, so the summary names the recipe as it will be found
    config = recipe.config.from_files(recipe.config.origin._replace(metering=RECIPE))
    summary = run_file(folder / SLICED, folder / PRINT, config, recipe.steps)
    origin = origin_of(folder / SLICED, recipe).in_folder(storable(final.resolve()))
    summary = summary.model_copy(update={"origin": origin})
    text = to_text(summary)
    (folder / TEXT).write_text(text, "utf-8")
    (folder / JSON).write_text(to_json(summary), "utf-8")
    return text


def stock_recipe(scale: float = 1.0) -> str:
    """The stock recipe's text, its heights for a bottle that is `scale` times as high."""
    text = files("gpost.demo").joinpath(RECIPE).read_text("utf-8")
    return _HEIGHT.sub(lambda found: f"{found[1]}{round(float(found[2]) * scale, 1):g}", text)


def _fitted(piece: Piece, scale: float, twist_deg: float | None) -> Piece:
    """The piece `scale` times as large, of the same bead."""
    height_mm = piece.height_mm * scale
    twist = piece.twist_deg_per_mm / scale if twist_deg is None else twist_deg / height_mm
    return dataclasses.replace(
        piece,
        height_mm=height_mm,
        radius_mm=piece.radius_mm * scale,
        foot_mm=piece.foot_mm * scale,
        twist_deg_per_mm=twist,
    )


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        text = f"the folder {shown(folder)} can't be made: {error.strerror}; name another one"
        raise OutputError(text) from error
