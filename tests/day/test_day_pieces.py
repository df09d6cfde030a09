"""The pieces of a folder, as their recipes print them."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from gpost.clay.supply import cartridges
from gpost.day.pieces import read_pieces
from gpost.demo.gcode import Piece, SliceStyle, write_piece
from gpost.errors import ConfigError
from gpost.pipeline import make_plan, survey_file
from gpost.recipe import read_recipe

STUDIO = """
clay: {colour: white}
cartridge: {volume_ml: 27, reserve_ml: 2, line_ml: 5}
steps: [tally]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two cylinders of about 14 ml and 30 ml, and the studio's config."""
    (tmp_path / "sliced").mkdir()
    for name, height_mm in (("cup", 16), ("vase", 40)):
        piece = Piece(height_mm=height_mm, radius_mm=20, segments=24, base_layers=1)
        write_piece(tmp_path / "sliced" / f"{name}.gcode", piece, SliceStyle())
    (tmp_path / "studio.yaml").write_text(STUDIO)
    return tmp_path / "sliced"


def test_each_piece_alone(folder: Path) -> None:
    """A piece has its clay and time; one that takes more than a cartridge is left out with the reason."""
    config, pieces, left_out = read_pieces(folder, [folder.parent / "studio.yaml"])
    assert config.cartridge.volume_ml == 27
    assert [piece.name for piece in pieces] == ["cup.gcode"]
    assert pieces[0].full == pieces[0].filling
    assert pieces[0].full.uses[0][0] == "white"
    assert pieces[0].full.time_s > 0
    assert left_out[0].name == "vase.gcode"
    assert "add refill" in left_out[0].reason


def test_what_is_drawn_back_at_the_end_must_be_there_first(folder: Path) -> None:
    """400 mm of a strand of 1.75 mm, 0.96 ml (pi / 4 d^2 l), have passed before they are drawn back."""
    studio = folder.parent / "studio.yaml"
    before = read_pieces(folder, [studio])[1][0].full
    with (folder / "cup.gcode").open("a") as file:
        file.write("M83\nG1 E-400 F1000\n")
    after = read_pieces(folder, [studio])[1][0].full
    assert before.clay_ml - after.clay_ml == pytest.approx(math.pi / 4 * 1.75**2 * 400 / 1000)
    assert after.need_ml(0) == pytest.approx(before.need_ml(0))


def test_a_config_of_its_own(folder: Path) -> None:
    """vase.yaml is read after the studio's config for vase.gcode, and for no other piece."""
    (folder / "vase.yaml").write_text("clay: {colour: blue}\nsteps: [refill: {prime_ml: 2}]\n")
    _, pieces, left_out = read_pieces(folder, [folder.parent / "studio.yaml"])
    assert not left_out
    assert [piece.full.uses[0][0] for piece in pieces] == ["white", "blue"]
    assert len(pieces[1].full.uses) == 2


def test_filling_the_line_first_leaves_less(folder: Path) -> None:
    """If its first cartridge fills the line, a piece takes what is left, and its pause comes earlier."""
    (folder / "vase.yaml").write_text("steps: [refill: {prime_ml: 2}]\n")
    _, (_, vase), _ = read_pieces(folder, [folder.parent / "studio.yaml"])
    assert vase.full.uses[0][1] <= 25
    assert vase.filling.uses[0][1] <= 20
    assert vase.filling.stops[0].clock_s < vase.full.stops[0].clock_s
    assert vase.filling.stops[0].new_cartridge


@pytest.mark.parametrize("share", ["full", "even"])
def test_a_part_used_cartridge_that_reaches_to_the_first_change_will_do(folder: Path, share: str) -> None:
    """With `first_ml` no more than its first cartridge gives and the reserve, a piece is printed the same."""
    (folder / "vase.yaml").write_text(f"steps: [refill: {{prime_ml: 2, share: {share}}}]\n")
    _, (_, vase), _ = read_pieces(folder, [folder.parent / "studio.yaml"])
    assert vase.full.only_from_ml is None
    recipe = read_recipe([folder.parent / "studio.yaml", folder / "vase.yaml"], [])
    first_ml = math.ceil(vase.full.uses[0][1] + 2)
    cartridge = recipe.config.cartridge.model_copy(update={"first_ml": first_ml})
    config = recipe.config.model_copy(update={"cartridge": cartridge})
    plan = make_plan(survey_file(folder / "vase.gcode", config), recipe.steps, config)
    assert [use.clay_ml for use in cartridges(plan)] == pytest.approx([ml for _, ml in vase.full.uses])


LOOK = '''
"""A step that changes the cartridge when half of the first is used."""

from gpost.api import Pause, Settings, Step, hookimpl

class Half(Step[Settings]):
    """Changes the cartridge at half of what the first one gives."""

    name = "half"
    Settings = Settings

    def plan(self, survey, plan):
        cartridge = plan.config.cartridge
        spot = plan.find_clay(((cartridge.first_ml or cartridge.volume_ml) - cartridge.reserve_ml) / 2)
        yield Pause(spot, "half", "half of it is used", "Half", new_cartridge=True, within_layer=True)

@hookimpl
def gpost_steps():
    """The step."""
    return [Half]
'''


def test_a_piece_whose_pauses_depend_on_the_first_cartridge(folder: Path, tmp_path: Path) -> None:
    """Where less in the first cartridge puts the change elsewhere, the piece goes from that amount alone."""
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "half.py").write_text(LOOK)
    (folder / "vase.yaml").write_text("steps: [half]\n")
    _, (_, vase), _ = read_pieces(folder, [folder.parent / "studio.yaml"], [tmp_path / "own"])
    assert (vase.full.only_from_ml, vase.filling.only_from_ml) == (27, 22)


def test_times_are_multiplied(folder: Path) -> None:
    """What the log has learnt of times makes pieces and their pauses longer by that factor."""
    (folder / "vase.yaml").write_text("steps: [refill: {prime_ml: 2}]\n")
    (_, vase), (_, longer) = (
        read_pieces(folder, [folder.parent / "studio.yaml"], time_factor=factor)[1] for factor in (1.0, 1.5)
    )
    assert longer.full.time_s == pytest.approx(1.5 * vase.full.time_s)
    assert longer.full.stops[0].clock_s == pytest.approx(1.5 * vase.full.stops[0].clock_s)


def test_a_part_used_cartridge_counts_for_nothing(folder: Path) -> None:
    """`first_ml` is of one run, not of a day: the day knows what an earlier piece has left."""
    studio = folder.parent / "studio.yaml"
    before = read_pieces(folder, [studio])[1]
    studio.write_text(STUDIO.replace("volume_ml", "first_ml: 20, volume_ml"))
    assert read_pieces(folder, [studio])[1] == before


def test_another_cartridge_is_refused(folder: Path) -> None:
    """A piece whose own config changes the cartridge can't share the day's."""
    (folder / "cup.yaml").write_text("cartridge: {volume_ml: 500}\n")
    left_out = read_pieces(folder, [folder.parent / "studio.yaml"])[2]
    assert left_out[0].name == "cup.gcode"
    assert "changes the cartridge" in left_out[0].reason


def test_a_damaged_file_is_left_out(folder: Path) -> None:
    """A file that can't be read is left out, and the others are read."""
    (folder / "broken.gcode").write_bytes(b"")
    found = [row.name for row in read_pieces(folder, [folder.parent / "studio.yaml"])[2]]
    assert found == ["broken.gcode", "vase.gcode"]


def test_progress_is_told(folder: Path) -> None:
    """Each file counts, in the order of the names."""
    told: list[tuple[int, int]] = []
    read_pieces(
        folder, [folder.parent / "studio.yaml"], on_piece=lambda done, total: told.append((done, total))
    )
    assert told == [(1, 2), (2, 2)]


def test_a_folder_without_sliced_files(tmp_path: Path) -> None:
    """No folder, and a folder with nothing in it, are refused."""
    with pytest.raises(ConfigError, match="is no folder"):
        read_pieces(tmp_path / "nowhere", [])
    with pytest.raises(ConfigError, match="there is no sliced file"):
        read_pieces(tmp_path, [])
