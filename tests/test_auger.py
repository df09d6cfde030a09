"""A file that switches its auger by M3, run, rehearsed and gone on with as people do it.

M3 turns the spindle at S until M5 (NISTIR 6556, section 3.6.2); that an auger is driven so is common practice, no source.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path

import pytest

from gpost.pipeline import check_file
from gpost.read.source import Source
from gpost.survey.build import survey_source
from tests.config_files import load_files
from tests.reference.interpreter import run
from tests.reference.state import Event
from tests.resuming import ran, resume, summary, typed

WIDTH_MM, LAYER_MM, LAYERS = 6.0, 2.0, 12
CONFIG = f"""
machine:
  bed: {{x_max_mm: 300, y_max_mm: 300}}
  ceiling_mm: 300
  park: {{x_mm: 15, y_mm: 285}}
  auger: {{on: "M3 S<level>", off: M5}}
clay:
  metering: {{unit: path, bead_height_mm: {LAYER_MM}}}
  bead_width_mm: {WIDTH_MM}
  colour: white
cartridge: {{volume_ml: 200, reserve_ml: 10, line_ml: 12}}
steps:
  - swap: {{at_height_mm: 16, colour: blue, prime_ml: 0}}
"""
CORNERS = ((140, 100), (140, 140), (100, 140), (100, 100))


def squares(*, travel: str = "G1", ends: str = "M5", speeds: tuple[int, ...] = (600,)) -> str:
    """Squares of 40 mm on two places; the auger is off on the way from one to the other, by `travel` moves."""
    lines = ["G28", "M5"]
    for layer in range(LAYERS):
        for x_mm in (0, 80):
            up_mm = LAYER_MM * (layer + 1)
            lines += [f"{travel} Z{up_mm + 3} F900", f"{travel} X{100 + x_mm} Y100 F3000", f"{travel} Z{up_mm} F900"]
            lines += [f"M3 S{speeds[layer % len(speeds)]}", "G4 P200"]
            lines += [f"G1 X{x + x_mm} Y{y} F1200" for x, y in CORNERS]
            lines.append(ends)
    return "\n".join([*lines, "G0 Z60 F900", ""])


def section_mm2() -> float:
    """Of a bead of that width and height: a rectangle with half circles at its sides."""
    return (WIDTH_MM - LAYER_MM) * LAYER_MM + math.pi * LAYER_MM**2 / 4


def along(path: Path) -> Iterator[Event]:
    """What the machine does on moves along that are no G0."""
    for event in run(path.read_bytes()):
        if event.kind == "move" and event.motion == 1 and event.start_mm[:2] != event.end_mm[:2]:
            yield event


def off_in_swap(path: Path) -> bool:
    """Whether the spindle stands on each move and wait of the swap, by the reference interpreter."""
    lines, events = path.read_text().splitlines(), run(path.read_bytes())
    begin = next(at for at, line in enumerate(lines) if line.startswith("; gpost: swap:"))
    end = lines.index("; gpost: swap ends")
    found = [e for e in events[begin:end] if lines[e.line] == "M0" or (e.kind == "move" and e.motion == 0)]
    assert len(found) > 4
    return not any(event.state.spindle_on for event in found)


@pytest.mark.parametrize("travel", ["G0", "G1"])
def test_clay_is_that_of_moves_while_it_runs(tmp_path: Path, travel: str) -> None:
    """However its travels are written; each layer is 320 mm of bead."""
    (tmp_path / "pot.gcode").write_text(squares(travel=travel))
    found = summary(ran(tmp_path, "pot.gcode", CONFIG), "print")
    assert found["layers"] == LAYERS
    assert found["clay_ml"] == pytest.approx(LAYERS * 320 * section_mm2() / 1000, rel=1e-6)
    assert not [text for text in found["warnings"] if "odd-layers" in text or "M101" in text or "M3" in text]


@pytest.mark.parametrize("ends", ["M5", "G4 P1"])
def test_off_at_the_wait_and_as_it_was_on_the_wall(tmp_path: Path, ends: str) -> None:
    """Whether the file has it on there or not, at speeds by the layer; the source's moves come at their own."""
    (tmp_path / "pot.gcode").write_text(squares(travel="G0", ends=ends, speeds=(600, 450)) + "M5\n")
    folder = ran(tmp_path, "pot.gcode", CONFIG)
    assert off_in_swap(folder / "print.gcode")
    mine, theirs = (
        [(e.end_mm, e.state.spindle_on, e.state.speed) for e in along(folder / name)]
        for name in ("pot.gcode", "print.gcode")
    )
    assert mine == theirs
    assert not run((folder / "print.gcode").read_bytes())[-1].state.spindle_on
    sent = {command["command"]: command["kind"] for command in summary(folder, "print")["commands"]}
    assert (sent["M5"], sent["M3 S<level>"]) == ("clay", "clay")


@pytest.mark.parametrize("layer", [3, 5, 10])
def test_a_rest_starts_it_as_the_file_last_had_it(tmp_path: Path, layer: int) -> None:
    """Off for the wait and the way; then at the speed of the square in which it goes on."""
    (tmp_path / "pot.gcode").write_text(squares(travel="G0", ends="G4 P1", speeds=(600, 450)) + "M5\n")
    folder = ran(tmp_path, "pot.gcode", CONFIG)
    result = resume(folder, "--from-layer", layer)
    assert result.exit_code == 0, result.output
    lines = (folder / "rest.gcode").read_text().splitlines()
    opening = lines[: lines.index("; gpost: resume ends") + 1]
    speed = 450 if (layer - 1) % 2 == 0 else 600  # of the layer before: it is said anew at each square
    assert [line for line in opening if line[:2] in ("M3", "M5")] == ["M5", f"M3 S{speed}"]
    assert opening.index("M5") < opening.index("M0") < opening.index(f"M3 S{speed}")
    events = run((folder / "rest.gcode").read_bytes())
    flights = [e for e in events[: len(opening)] if e.kind == "move"]
    assert not any(event.state.spindle_on for event in flights)
    assert not events[-1].state.spindle_on
    assert {"kind": "clay", "command": "M3 S<level>"}.items() <= next(
        command for command in summary(folder)["commands"] if command["command"].startswith("M3")
    ).items()


def test_a_rehearsal_leaves_it_off(tmp_path: Path) -> None:
    """What pushes clay is a comment."""
    (tmp_path / "pot.gcode").write_text(squares())
    (tmp_path / "studio.yaml").write_text(CONFIG)
    result = typed(
        "run", tmp_path / "pot.gcode", "-c", tmp_path / "studio.yaml", "-o", tmp_path / "dry-rehearsal.gcode", "--rehearse", "20"
    )
    assert result.exit_code == 0, result.output
    assert not any(event.state.spindle_on for event in run((tmp_path / "dry-rehearsal.gcode").read_bytes()))


def test_a_file_that_never_starts_it_is_refused(tmp_path: Path) -> None:
    """With what the config says, and what to do."""
    (tmp_path / "pot.gcode").write_text(squares().replace("M3 S600", "M42 P5 S255"))
    (tmp_path / "studio.yaml").write_text(CONFIG)
    result = typed("check", tmp_path / "pot.gcode", "-c", tmp_path / "studio.yaml")
    assert result.exit_code == 1
    assert "no G1 moves along while the auger is on, by M3 S<level>" in " ".join(result.output.split())


def test_its_commands_are_listed_as_they_are(tmp_path: Path) -> None:
    """Not as M101 and M103, which they count as."""
    (tmp_path / "pot.gcode").write_text(squares())
    (tmp_path / "studio.yaml").write_text(CONFIG)
    result = typed("survey", tmp_path / "pot.gcode", "-c", tmp_path / "studio.yaml")
    assert f"M3 x {2 * LAYERS}, M5 x {2 * LAYERS + 1}" in " ".join(result.output.split())
    assert "M101" not in result.output


@pytest.mark.parametrize("key", [True, False])
def test_the_survey_names_the_key_before_what_comes_of_its_want(tmp_path: Path, key: bool) -> None:
    """Guessed layers and walls in the air are travels that count as clay; with the key there are none."""
    (tmp_path / "pot.gcode").write_text(squares())
    config = [line for line in CONFIG.splitlines() if key or "auger:" not in line]
    (tmp_path / "studio.yaml").write_text("\n".join(config))
    command = ("survey", tmp_path / "pot.gcode", "-c", tmp_path / "studio.yaml")
    odd = [warning.split(",")[0] for warning in json.loads(typed(*command, "--json").output)["warnings"]]
    assert odd[:1] == ([] if key else ["off-path"])
    assert ("odd-layers" in odd) == (not key)
    assert ('auger: {on: "M3 S<level>", off: "M5"}' in " ".join(typed(*command).output.split())) == (not key)


BUCKET = ["G0 Z30 F900", "G0 X20 Y20 F3000", "G0 Z5", "M3 S600", "G4 S8", "M5", "G0 Z30"]
"""Fills the nozzle by the auger alone, as the seventh line of a file waits."""


def with_bucket(bucket: list[str]) -> str:
    """Squares on one place alone, after that."""
    lines = ["G28", "M5", *bucket]
    for layer in range(LAYERS):
        lines += ["G0 X100 Y100 F3000", f"G0 Z{LAYER_MM * (layer + 1)}", "M3 S600"]
        lines += [*(f"G1 X{x} Y{y} F1200" for x, y in CORNERS), "M5"]
    return "\n".join([*lines, "G0 Z60 F900", ""])


@pytest.mark.parametrize("fills", [True, False])
def test_a_bucket_filled_by_the_auger_stays_and_is_told(tmp_path: Path, fills: bool) -> None:
    """The piece is moved, and clay still comes where it came; the amount is nobody's, and that is said."""
    bucket = BUCKET if fills else [line for line in BUCKET if not line.startswith("G4")]
    (tmp_path / "pot.gcode").write_text(with_bucket(bucket))
    config = CONFIG[: CONFIG.index("steps:")] + "steps: [{place: {x_mm: 170, y_mm: 150}}]\n"
    folder = ran(tmp_path, "pot.gcode", config)
    said = " ".join((folder / "print.json").read_text().split())
    assert ("left where the file has it, as no part of the piece: its own push on line 7 (x 20.0, y 20.0 mm)" in said) == fills
    assert ("what comes out is counted nowhere" in said) == fills
    lines, turned_on = (folder / "print.gcode").read_text().splitlines(), False
    stood = []
    for event in run((folder / "print.gcode").read_bytes()):
        turned_on = event.state.spindle_on
        if turned_on and lines[event.line].startswith("G4"):
            stood.append(tuple(float(mm) for mm in event.end_mm[:2]))
    assert stood == [(20.0, 20.0)] * fills


@pytest.mark.parametrize("settles", ["G4 P200", "G4 P1"])
def test_a_dwell_where_the_bead_begins_is_no_bucket(tmp_path: Path, settles: str) -> None:
    """So many files let the auger build up pressure."""
    (tmp_path / "pot.gcode").write_text(with_bucket([]).replace("M3 S600", f"M3 S600\n{settles}"))
    (tmp_path / "studio.yaml").write_text(CONFIG)
    assert "counted nowhere" not in typed("survey", tmp_path / "pot.gcode", "-c", tmp_path / "studio.yaml").output


@pytest.mark.parametrize("fills", [True, False])
def test_a_purge_that_would_silence_it_says_that_it_stays(tmp_path: Path, fills: bool) -> None:
    """Not that the file doesn't prime by itself."""
    (tmp_path / "pot.gcode").write_text(with_bucket(BUCKET * fills))
    config = CONFIG[: CONFIG.index("steps:")] + "steps: [{purge: {volume_ml: 0, silence_own_prime: true}}]\n"
    said = " ".join((ran(tmp_path, "pot.gcode", config) / "print.json").read_text().split())
    assert ("while it stands on line 7 (G4), and that stays" in said) == fills
    assert ("doesn't prime by itself" in said) != fills


def test_an_output_is_known_without_its_comments(tmp_path: Path) -> None:
    """By its blocks, in which the auger's commands stand."""
    (tmp_path / "pot.gcode").write_text(squares(travel="G0", ends="G4 P1") + "M5\n")
    folder = ran(tmp_path, "pot.gcode", CONFIG)
    bare = [line for line in (folder / "print.gcode").read_text().splitlines() if not line.startswith(";")]
    assert "M3 S600" in bare[bare.index("M0") :]
    (folder / "bare.gcode").write_text("\n".join([*bare, ""]))
    result = typed("check", folder / "bare.gcode", "-c", folder / "studio.yaml")
    assert "second-run" in result.output


def test_without_the_key_travels_are_told_once_and_guesses_a_few_times(tmp_path: Path) -> None:
    """The cause stands beside what comes of it, and what comes of it isn't said for each layer anew."""
    (tmp_path / "pot.gcode").write_text(squares())
    config = "\n".join(line for line in CONFIG.splitlines() if "auger:" not in line)
    (tmp_path / "studio.yaml").write_text(config)
    path = tmp_path / "pot.gcode"
    loaded = load_files({"studio.yaml": config}).config
    found = [finding for finding in check_file(path, loaded, []) if finding.severity != "note"]
    assert [finding.count for finding in found if finding.name == "off-path"] == [2 * LAYERS]
    guesses = [finding for finding in found if finding.name == "odd-layers"]
    assert len(guesses) == 5
    survey = survey_source(Source(path), loaded)
    assert sum(finding.count for finding in guesses) == len(survey.odd) > 5
    assert [finding.line for finding in guesses] == [stretch.first_line for stretch in survey.odd[:5]]
