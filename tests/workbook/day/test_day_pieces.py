"""The pieces of a folder, as their recipes print them."""

from __future__ import annotations

import gc
import math
from pathlib import Path

import pytest

from gpost.demo.gcode import Piece, SliceStyle
from gpost.errors import ConfigError
from gpost.pipeline import check_file, make_plan, survey_file
from gpost.steps.recipe import read_recipe
from gpost.supply.cartridges import cartridges
from gpost.survey.model import Survey
from gpost.workbook.day.pieces import read_pieces
from gpost.workbook.day.sheet import make_sheet
from gpost.workbook.day.wishes import Wishes
from tests.reference.walls import named
from tests.sliced import write_piece

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
    assert "put `refill` into the steps" in left_out[0].reason


def test_nothing_of_a_piece_left_out_is_kept(folder: Path) -> None:
    """When the pieces are read no survey is left of those that can't be done."""
    (folder.parent / "studio.yaml").write_text("steps: [{purge: {volume_ml: 9000}}]\n")
    gc.disable()  # what is freed by itself, or when it is told
    try:
        before = sum(isinstance(found, Survey) for found in gc.get_objects())
        left_out = read_pieces(folder, [folder.parent / "studio.yaml"])[2]
        assert [row.name for row in left_out] == ["cup.gcode", "vase.gcode"]
        assert sum(isinstance(found, Survey) for found in gc.get_objects()) <= before
    finally:
        gc.enable()


def reason_of(folder: Path, name: str, allow: tuple[str, ...] = ()) -> str | None:
    """Why a file is left out; None if it is not."""
    left_out = read_pieces(folder, [folder.parent / "studio.yaml"], allow=allow)[2]
    return next((row.reason for row in left_out if row.name == name), None)


def test_what_check_refuses_is_left_out(folder: Path) -> None:
    """With the words of the check, on one line, until it is allowed by name."""
    studio = folder.parent / "studio.yaml"
    studio.write_text(STUDIO + "machine: {ceiling_mm: 12, bed: {x_max_mm: 400, y_max_mm: 400}}\n")
    recipe = read_recipe([studio])
    found = check_file(folder / "cup.gcode", recipe.config, recipe.steps)
    errors = [finding.sentence for finding in found if finding.severity == "error"]
    assert errors
    assert reason_of(folder, "cup.gcode") == "; ".join(errors)
    assert "above-ceiling" in errors[0]
    assert reason_of(folder, "cup.gcode", allow=("above-ceiling",)) is None


def test_a_day_cannot_be_packed_with_more_than_a_cartridge_gives(folder: Path) -> None:
    """Even if that is allowed, or no more than a warning because no config says `cartridge`."""
    assert str(reason_of(folder, "vase.gcode")).startswith("short-clay, line ")
    allowed = reason_of(folder, "vase.gcode", allow=("short-clay",))
    assert str(allowed).startswith("it asks 30 ml of cartridge 1, which gives 25 ml")
    heavy = "clay: {metering: {unit: ml, ml_per_unit: 2}}\n"
    (folder.parent / "studio.yaml").write_text(heavy)
    recipe = read_recipe([folder.parent / "studio.yaml"])
    found = check_file(folder / "vase.gcode", recipe.config, recipe.steps)
    assert [(f.name, f.severity) for f in found if f.name == "short-clay"] == [("short-clay", "warning")]
    assert str(reason_of(folder, "vase.gcode")).startswith("it asks ")


def test_what_is_allowed_is_allowed_for_every_amount_in_the_first_cartridge(folder: Path) -> None:
    """A layer's number where layers are a guess: it is asked for again with what the hose's filling leaves."""
    (folder / "cup.gcode").write_bytes(named("ceases after 20 turns").program)
    studio = folder.parent / "studio.yaml"
    studio.write_text(
        "clay: {metering: {unit: mm3}}\n"
        "machine: {nozzle_mm: 8}\n"
        "cartridge: {volume_ml: 60, reserve_ml: 2, line_ml: 15}\n"
        "steps: [refill: {prime_ml: 2}, fan: {bands: [{from_layer: 24, level_percent: 50}]}]\n"
    )
    assert str(reason_of(folder, "cup.gcode")).startswith("odd-layers: fan: layer 24 is asked for, but from ")
    _, pieces, _ = read_pieces(folder, [studio], allow=["odd-layers"])
    (cup,) = [piece for piece in pieces if piece.name == "cup.gcode"]
    assert len(cup.full.uses) == len(cup.filling.uses) == 2
    assert cup.filling.uses[0][1] <= 43 < cup.full.uses[0][1]
    assert cup.full.only_from_ml is None


def test_the_file_s_own_pauses_are_stops(folder: Path) -> None:
    """At their time, without a new cartridge; the clock counts a wait for each."""
    path = folder / "cup.gcode"
    lines = path.read_text().splitlines()
    path.write_text("\n".join([*lines[: len(lines) // 2], "M0", *lines[len(lines) // 2 :], "M600", ""]))
    config, pieces, _ = read_pieces(folder, [folder.parent / "studio.yaml"])
    first, second = pieces[0].full.stops
    assert (first.text, second.text) == ("the file's own M0", "the file's own M600")
    assert not first.new_cartridge
    assert 0 < first.clock_s < second.clock_s
    assert second.clock_s == pytest.approx(pieces[0].full.time_s, rel=0.01)
    sheet = make_sheet(pieces, config, Wishes(0.0, between_s=0.0, pause_s=600.0))
    assert [event.text for event in sheet.events if "waits" in event.text] == [
        "cup.gcode waits: the file's own M0",
        "cup.gcode waits: the file's own M600",
    ]


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
    """If its first cartridge fills the hose, a piece takes what is left, and its pause comes earlier."""
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
