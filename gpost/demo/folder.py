"""The demo: a folder with a sliced piece, a recipe, the file to print, and its summary."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import Literal, NamedTuple

from gpost.common.plain import shown, storable
from gpost.demo.gcode import Piece, class_pieces, slice_piece
from gpost.errors import OutputError
from gpost.origin import origin_of
from gpost.pipeline import run_file
from gpost.report.jsonout import to_json
from gpost.report.model import Summary
from gpost.report.text import to_text
from gpost.steps.recipe import read_recipe
from gpost.write.sink import AtomicFile, check_target, work_folder

PIECE = "twisted-bottle"
SLICED, RECIPE, PRINT = f"{PIECE}.gcode", "recipe.yaml", f"{PIECE}-print.gcode"
TEXT, JSON = "summary.txt", "summary.json"
STUDIO = "studio.yaml"
RECIPES = {
    "two-colours": "twisted-bottle",
    "long-piece": "tall-bottle",
    "class-folder": "small-bowl-1",
    "base-on-slab": "waved-vase",
    "level-by-eye": "small-bowl-1",
}
"""The recipes that come with gpost, each with the piece of the class that shows it."""
_HEIGHT = re.compile(r"\b((?:at|from)_height_mm: )([0-9.]+)")


class Show(NamedTuple):
    """What a demo is made of."""

    name: str
    """The piece's."""
    sliced: bytes
    configs: Mapping[str, str]
    """The config's files by their names, in the order in which they are read."""

    @property
    def files(self) -> tuple[str, ...]:
        """The names of all that is written."""
        return (f"{self.name}.gcode", *self.configs, f"{self.name}-print.gcode", TEXT, JSON)


def make_demo(
    folder: Path,
    *,
    recipe: str | None = None,
    height_mm: float | None = None,
    twist_deg: float | None = None,
    wall: Literal["flat", "rise"] = "rise",
    overwrite: bool = False,
    width: int | None = None,
) -> str:
    """Write everything into the folder, which is made if need be; returns the summary in words.

    `width`: the terminal's columns, as `laid_out` takes them.
    `recipe`, one of RECIPES: that one, with the studio's file, on the piece that shows it; otherwise the
    stock recipe on the bottle. `height_mm` takes the bottle to that height, and all its measures and the
    recipe's heights with it; `twist_deg` is the twist from bottom to top. Raises GpostError.
    """
    show = _bottle(height_mm, twist_deg, wall) if recipe is None else _shown_by(recipe)
    _make_folder(folder)
    for name in show.files:
        check_target(folder / name, overwrite=overwrite)
    with work_folder(folder) as work:
        summary = _make(work, folder, show)
        for path in sorted(work.iterdir()):
            with AtomicFile(folder / path.name, overwrite) as out:
                out.write(path.read_bytes())
    return to_text(summary, width=width)


def _bottle(height_mm: float | None, twist_deg: float | None, wall: Literal["flat", "rise"]) -> Show:
    """The stock recipe on the twisted bottle."""
    piece, style = class_pieces()[PIECE]
    scale = 1.0 if height_mm is None else height_mm / piece.height_mm
    style = dataclasses.replace(style, wall=wall, level_last=wall == "rise")
    return Show(PIECE, slice_piece(_fitted(piece, scale, twist_deg), style), {RECIPE: stock_recipe(scale)})


def _shown_by(recipe: str) -> Show:
    """A recipe that comes with gpost, on its piece."""
    texts = {
        STUDIO: files("gpost.workbook.first").joinpath(STUDIO).read_text("utf-8"),
        f"{recipe}.yaml": files("gpost.demo").joinpath("recipes", f"{recipe}.yaml").read_text("utf-8"),
    }
    name = RECIPES[recipe]
    return Show(name, slice_piece(*class_pieces()[name]), texts)


def _make(folder: Path, final: Path, show: Show) -> Summary:
    """Make all the files in an empty folder; `final`: where they will lie."""
    sliced, *configs, output, _, _ = (folder / name for name in show.files)
    sliced.write_bytes(show.sliced)
    for path, text in zip(configs, show.configs.values(), strict=True):
        path.write_text(text, "utf-8")
    recipe = read_recipe(configs)
    # the folder is a passing one, so the summary names the config as it will be found
    config = recipe.config.from_files(recipe.config.origin._replace(metering=configs[0].name))
    summary = run_file(sliced, output, config, recipe.steps)
    origin = origin_of(sliced, recipe).in_folder(storable(final.resolve()))
    summary = summary.model_copy(update={"origin": origin})
    (folder / TEXT).write_text(to_text(summary), "utf-8")
    (folder / JSON).write_text(to_json(summary), "utf-8")
    return summary


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
