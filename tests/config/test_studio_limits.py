"""Limits are the studio's: a later file may tighten them, and what it loosens is told with both places."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.load import load_config
from gpost.config.model import Bed
from gpost.errors import PlanError
from gpost.pipeline import check_file, run_file
from tests.config_files import load_files

STUDIO = """machine:
  bed: {x_min_mm: 0, x_max_mm: 200, y_min_mm: 0, y_max_mm: 200}
  ceiling_mm: 300
  max_feed_mm_min: 3000
  max_flow_ml_min: 40
  max_relieve_ml: 1
  travel_feed_mm_min: 2000
  lift_feed_mm_min: 500
  prime_flow_ml_min: 10
  pause: {lift_mm: 10, relieve_ml: 0.5}
"""
LOOSER = {
    "bed: {x_max_mm: 1e6}": ("bed", 2),
    "bed: {x_min_mm: -1}": ("bed", 2),
    "bed: {y_max_mm: 200.1}": ("bed", 2),
    "bed: {y_min_mm: -5, y_max_mm: 100}": ("bed", 2),
    "ceiling_mm: 301": ("ceiling_mm", 3),
    "max_feed_mm_min: 3001": ("max_feed_mm_min", 4),
    "max_feed_mm_min: null": ("max_feed_mm_min", 4),
    "max_flow_ml_min: 41": ("max_flow_ml_min", 5),
    "max_flow_ml_min: null": ("max_flow_ml_min", 5),
    "max_relieve_ml: 1.5": ("max_relieve_ml", 6),
    "travel_feed_mm_min: 3000": ("travel_feed_mm_min", 7),
    "lift_feed_mm_min: 501": ("lift_feed_mm_min", 8),
    "prime_flow_ml_min: 40": ("prime_flow_ml_min", 9),
    "pause: {relieve_ml: 1}": ("pause.relieve_ml", 10),
    "pause: {lift_mm: 9}": ("pause.lift_mm", 10),
    "pause: {commands: [M1]}": ("pause.commands", None),
    "pause: {hold: []}": ("pause.hold", None),
    "home: {z_mm: 500}": ("home.z_mm", None),
    "home: {x_mm: 1}": ("home.x_mm", None),
    "dwell_p: seconds": ("dwell_p", None),
    "axis_mode_sets_e: no": ("axis_mode_sets_e", None),
    "body_clearance_mm: 0": ("body_clearance_mm", None),
    "file_may_hold: [M92]": ("file_may_hold", None),
    "pushes_no_clay: [M42]": ("pushes_no_clay", None),
    "pushes_no_clay: [M42 P6]": ("pushes_no_clay", None),
    "body_clearance_mm: 30": ("body_clearance_mm", None),
}
"""What a later file says: the key that is named, and its line in the studio's file, if it stands there."""
AS_TIGHT = (
    "bed: {x_max_mm: 150}",
    "bed: {round: yes}",
    "bed: {x_min_mm: 0, x_max_mm: 200}",
    "bed: null",
    "ceiling_mm: 300",
    "ceiling_mm: 100",
    "max_feed_mm_min: 2000",
    "max_relieve_ml: 0.5",
    "travel_feed_mm_min: 2000",
    "prime_flow_ml_min: 9",
    "pause: {relieve_ml: 0.4}",
    "pause: {lift_mm: 20}",
    "pause: {commands: [M0]}",
    "pause: {hold: [M84 S0]}",
    "home: {z_mm: 0}",
    "dwell_p: milliseconds",
    "axis_mode_sets_e: yes",
    "body_clearance_mm: 20",
    "file_may_hold: []",
    "pushes_no_clay: []",
    "pause: null",
    "park: {x_mm: 50}",
    "nozzle_mm: 6",
)
POT = "G28\nG90\nM83\nG1 X100 Y100 Z2 F1500\nG1 X140 E0.9\nG1 Y140 E0.9\nG1 X100 E0.9\nG1 Y100 E0.9\n"


def loosened(*machines: str, studio: int = 1) -> tuple[str, ...]:
    """The sentences of files that each say one line under `machine:` on their first line, after the studio's."""
    texts = [(f"{n}.yaml", f"machine: {{{said}}}\n") for n, said in enumerate(machines, 1)]
    return load_files([("studio.yaml", STUDIO), *texts], studio=studio).config.origin.loosened


@pytest.mark.parametrize("said", LOOSER)
def test_loosening_is_told_with_both_places(said: str) -> None:
    """One sentence, with the key, the later file's line and the studio's (or that it left its default)."""
    key, line = LOOSER[said]
    (sentence,) = loosened(said)
    assert sentence.startswith(f"machine.{key}: ")
    assert "1.yaml:1" in sentence
    assert (f"studio.yaml:{line}" if line else "as studio.yaml leaves it") in sentence
    assert sentence.endswith("say it in the studio's own file if the machine is really so")


@pytest.mark.parametrize("said", AS_TIGHT)
def test_tightening_is_free(said: str) -> None:
    """So is saying the same again."""
    assert loosened(said) == ()


@pytest.mark.parametrize("key", ["travel_feed_mm_min", "lift_feed_mm_min", "prime_flow_ml_min", "ceiling_mm"])
def test_a_number_without_a_limit_behind_it_is_the_limit(key: str) -> None:
    """A feed that the studio gives is not raised where no limit says how far."""
    texts = [("studio.yaml", f"machine: {{{key}: 15}}"), ("r.yaml", f"machine: {{{key}: 15.5}}")]
    (sentence,) = load_files(texts).config.origin.loosened
    assert sentence.startswith(f"machine.{key}: 15.5 (r.yaml:1) is beyond 15 (studio.yaml:1)")


@pytest.mark.parametrize(
    "said", ["ceiling_mm: 900", "max_feed_mm_min: 9000", "bed: {x_max_mm: 900}", "max_relieve_ml: 9"]
)
def test_a_default_is_no_limit(said: str) -> None:
    """A studio that doesn't say how large its machine is has set no limit."""
    texts = [("studio.yaml", "clay: {colour: red}"), ("r.yaml", f"machine: {{{said}}}")]
    assert load_files(texts).config.origin.loosened == ()


def test_the_studio_may_be_several_files() -> None:
    """This machine's file may say other than the base file; what comes after both may not."""
    assert loosened("ceiling_mm: 400", "ceiling_mm: 400", studio=2) == ()
    (sentence,) = loosened("ceiling_mm: 400", "ceiling_mm: 401", studio=2)
    assert "401 (2.yaml:1) is beyond 400 (1.yaml:1)" in sentence


def test_what_was_tightened_stays_so() -> None:
    """A recipe that tightens is the limit of the files after it."""
    (sentence,) = loosened("ceiling_mm: 100", "ceiling_mm: 200")
    assert "200 (2.yaml:1) is beyond 100 (1.yaml:1)" in sentence


beds = st.builds(
    lambda x, y, width, depth, round_: Bed(x_min_mm=x, x_max_mm=x + width, y_min_mm=y, y_max_mm=y + depth, round=round_),
    *[st.floats(-50, 50)] * 2, *[st.floats(10, 100)] * 2, st.booleans(),
)  # fmt: skip


@given(outer=beds, inner=beds, u=st.floats(0, 1), v=st.floats(0, 1))
def test_a_bed_within_holds_nothing_that_the_other_does_not(
    outer: Bed, inner: Bed, u: float, v: float
) -> None:
    """Any point of it lies on the other too, to some thousandths of a mm."""
    x = inner.x_min_mm + u * (inner.x_max_mm - inner.x_min_mm)
    y = inner.y_min_mm + v * (inner.y_max_mm - inner.y_min_mm)
    if outer.contains(inner) and inner.holds(x, y):
        grown = Bed(x_min_mm=outer.x_min_mm - 0.01, x_max_mm=outer.x_max_mm + 0.01, y_min_mm=outer.y_min_mm - 0.01,
                    y_max_mm=outer.y_max_mm + 0.01, round=outer.round)  # fmt: skip
        assert grown.holds(x, y)
    assert outer.contains(outer)


def test_no_job_is_done_with_looser_limits(tmp_path: Path) -> None:
    """An error by its name, which nobody is advised to allow; allowed, it is a warning, and is done."""
    studio, recipe, pot = tmp_path / "studio.yaml", tmp_path / "recipe.yaml", tmp_path / "pot.gcode"
    studio.write_text(STUDIO + "clay: {metering: {unit: ml, ml_per_unit: 1}}\n")
    recipe.write_text("machine:\n  home: {z_mm: 500}\n  bed: {x_max_mm: 1e6}\n")
    pot.write_text(POT)
    config = load_config([studio, recipe]).config
    with pytest.raises(PlanError) as error:
        run_file(pot, tmp_path / "out.gcode", config, [])
    assert re.search(r"machine\.bed: .*recipe.yaml:3.*studio.yaml:2", str(error.value))
    assert re.search(r"machine\.home\.z_mm: 500 \(.*recipe.yaml:2\) differs from 0", str(error.value))
    assert "--allow" not in str(error.value)
    assert not (tmp_path / "out.gcode").exists()
    found = {f.name: f.severity for f in check_file(pot, config, [], allow=["looser-limits"])}
    assert found["looser-limits"] == "warning"
    assert load_config([recipe], studio=[studio]).config.origin.loosened == config.origin.loosened


def test_metering_may_be_the_piece_s(tmp_path: Path) -> None:
    """Files come from several programs: the summary says which config gave it."""
    texts = [("studio.yaml", STUDIO), ("pot.yaml", "clay: {metering: {unit: ml, ml_per_unit: 1}}")]
    pot = tmp_path / "pot.gcode"
    pot.write_text(POT)
    config = load_files(texts).config
    summary = run_file(pot, tmp_path / "out.gcode", config, [])
    assert config.origin.loosened == ()
    assert summary.metering is not None
    assert summary.metering.file == "pot.yaml"


def test_names_of_commands_are_compared_as_they_are_read() -> None:
    """The case and leading zeros of what the studio's files may hold make no difference."""
    texts = [
        ("studio.yaml", "machine: {file_may_hold: [M92, SET_AIR]}"),
        ("piece.yaml", "machine: {file_may_hold: [m092, set_air]}"),
    ]
    assert load_files(texts).config.origin.loosened == ()


@pytest.mark.parametrize(
    ("studio", "told"),
    [("", ["auger.on", "auger.off"]), ("auger: {on: M3 S<level>, off: M5}", ["auger.on"]), ("auger: {on: M4, off: M5}", [])],
)
def test_what_the_auger_is_is_the_studio_s_to_say(studio: str, told: list[str]) -> None:
    """Followed by another command, what the studio's machine runs on by would be off nowhere."""
    texts = [("studio.yaml", f"machine: {{nozzle_mm: 4, {studio}}}"), ("piece.yaml", "machine: {auger: {on: M4, off: M5}}")]
    sentences = load_files(texts).config.origin.loosened
    assert [sentence.split(":")[0].removeprefix("machine.") for sentence in sentences] == told
