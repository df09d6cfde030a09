"""The step that lays beads round the foot."""

from __future__ import annotations

from pathlib import Path

import pytest
from gpost_plugins.foot import Foot, gpost_steps
from gpost_plugins.purge import Purge
from gpost_plugins.slab import Slab
from gpost_plugins.tally import Tally

from gpost.api import LayClay, Note, Pause, PlanError
from gpost.config.model import Config
from gpost.demo.gcode import class_pieces
from gpost.pipeline import check_file, run_file
from gpost.supply.cartridges import cartridges, colours
from gpost.testing import layer_start, make_survey, run_step
from gpost.write.script import LONGEST_MESSAGE
from tests.sliced import write_piece

SURVEY = make_survey(layer_ml=[2.0] * 5)


def test_the_module_offers_the_step() -> None:
    """The hook names the class, and nothing else."""
    assert list(gpost_steps()) == [Foot]


@pytest.mark.parametrize("rounds", [1, 10])
def test_each_round_is_followed_by_a_wait(rounds: int) -> None:
    """Bead and wait in turn, before the first layer; the message fits a display and says when not to turn."""
    plan = run_step(Foot, {"rounds": rounds}, SURVEY)
    kinds = [type(entry.intention) for entry in plan.entries]
    assert kinds == [LayClay, Pause] * rounds + [Note]
    for number, pause in enumerate(plan.pauses, 1):
        assert pause.spot == layer_start(SURVEY, 1)
        assert pause.message == f"Turn bed screws only now, never while it moves: {number} of {rounds}"
        assert len(pause.message) <= LONGEST_MESSAGE
        assert "never while it moves" in pause.reason
        assert not pause.new_cartridge


def test_it_goes_on_without_a_wait_if_it_is_told_to() -> None:
    """Beads alone."""
    plan = run_step(Foot, {"wait": False}, SURVEY)
    assert len(plan.of(LayClay)) == 2
    assert not plan.pauses


def test_its_clay_is_counted() -> None:
    """In the job, in the cartridge and in its colour."""
    plan = run_step(Foot, {}, SURVEY, {"clay": {"colour": "white"}})
    laid_ml = sum(lay.clay_ml for lay in plan.of(LayClay))
    assert laid_ml > 2 * 2.0  # each round is longer than the foot's own
    assert plan.total_ml == pytest.approx(SURVEY.clay_ml + laid_ml)
    assert cartridges(plan)[0].need_ml == pytest.approx(plan.total_ml)
    assert sum(use.clay_ml for use in cartridges(plan)) == pytest.approx(plan.total_ml)
    assert list(colours(plan)) == ["white"]


def test_a_purge_in_its_way_is_named_and_one_farther_out_is_not() -> None:
    """The potter is told which clay lies there, and what to do."""
    near, far = (Purge(Purge.Settings(volume_ml=3, gap_mm=gap_mm)) for gap_mm in (10, 40))
    with pytest.raises(PlanError, match="the clay that purge lays leaves 7"):
        run_step(Foot, {"distance_mm": 8}, SURVEY, before=[near])
    assert run_step(Foot, {"distance_mm": 8}, SURVEY, before=[far]).pauses


def test_on_a_slab_it_stays_on_it() -> None:
    """The slab must be as large as the beads need; that is told."""
    with pytest.raises(PlanError, match="the edge of the slab leaves"):
        run_step(Foot, {}, SURVEY, before=[Slab(Slab.Settings(diameter_mm=110))])
    plan = run_step(Foot, {}, SURVEY, before=[Slab(Slab.Settings(diameter_mm=150))])
    assert {stroke.z_mm for lay in plan.of(LayClay) for stroke in lay.strokes} == {2.0 + 3.0 + 0.1}


def test_a_file_without_layers_is_refused() -> None:
    """There is no foot to go round."""
    with pytest.raises(PlanError, match="no clay is laid"):
        run_step(Foot, {}, make_survey(layers=0))


@pytest.mark.parametrize("name", ["twisted-bottle", "small-bowl-1", "waved-vase"])
def test_pieces_that_widen_are_gone_round_at_their_foot(name: str, tmp_path: Path) -> None:
    """Beads lie under what leans out above them, since nothing stands there yet; no check finds anything in their way."""
    path = tmp_path / "piece.gcode"
    write_piece(path, *class_pieces()[name])
    steps = [Foot(Foot.Settings(rounds=2, distance_mm=3)), Slab(Slab.Settings(diameter_mm=230))]
    summary = run_file(path, tmp_path / "out.gcode", Config(), steps)
    assert [pause.kind for pause in summary.pauses] == ["foot", "foot"]
    assert not [finding for finding in check_file(path, Config(), steps) if finding.name == "bead-crossed"]


def test_what_holds_for_all_waits_is_noted_once() -> None:
    """They stand at one place, so how long each may last is the same."""
    feet = [Foot(Foot.Settings(rounds=3))]
    notes = [note.text for note in run_step(Tally, {}, SURVEY, before=feet).of(Note)]
    assert len([text for text in notes if "the foot pause" in text]) == 1
