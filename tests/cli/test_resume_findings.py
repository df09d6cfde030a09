"""`gpost resume`: what is warned of in a rest is true of the rest, in its text, on its page and in its JSON."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import pytest

from tests.resuming import summary, typed

CONFIG = """
machine:
  bed: {x_max_mm: 300, y_max_mm: 300}
  ceiling_mm: 300
  park: {x_mm: 15, y_mm: 15}
  max_feed_mm_min: 6000
clay: {metering: {unit: filament, diameter_mm: 1.75}, least_layer_s: 5}
cartridge: {volume_ml: 400, reserve_ml: 10, line_ml: 3}
"""
LAYERS, RADIUS_MM, POINTS = 12, 30, 48
LINE_E = 10 * 2 * math.pi * RADIUS_MM / POINTS / (math.pi / 4 * 1.75**2)
"""mm of strand in each move, for a bead of 5 x 2 mm: geometry."""
ODD = [
    "G1 E2500 F600",  # 6 ml in one place
    "M0",  # with the blower on
    "G77",  # nobody knows
    "G4 P1e-1",  # an exponent
    "M104 S200",  # heating
    "M906 X700",  # sets the machine
    "G1 E-3000 F600\nG1 E3000 F600",  # draws back 7 ml
    "G0 X400 F9000\nG0 X180 F1500",  # off the bed, and too fast
]
TOLD = [
    "runs out", "blown-wait", "G77", "exponent", "heating", "file-commands", "long-relief", "outside-bed", "too-fast",
    "lump", "wall-in-air",
]  # fmt: skip
"""What is told of these, of a bead with far too much clay and of a layer that lies too high."""


def program(odd_layers: tuple[int, ...], *, homes: bool = True, quick: tuple[int, ...] = ()) -> str:
    """Rings, some of which begin with all that is odd, and some of which are laid quickly."""
    lines = ["G21", "G90", "M83", *(["G28"] if homes else []), "M106 S255", "G1 Z8 F900", "G0 X180 Y150 F3000"]
    z = 0.0
    for layer in range(1, LAYERS + 1):
        odd = layer in odd_layers
        z += 6 if odd else 2
        lines += [f"G0 Z{z:g} F900", *(ODD if odd else []), f"G1 F{5000 if layer in quick else 1500}"]
        for at in range(1, POINTS + 1):
            angle = 2 * math.pi * at / POINTS
            e = LINE_E * (30 if odd and at == 20 else 1)
            lines.append(f"G1 X{150 + RADIUS_MM * math.cos(angle):.3f} Y{150 + RADIUS_MM * math.sin(angle):.3f} E{e:.4f}")
    return "\n".join([*lines, "G0 Z90 F900", ""])


def made(folder: Path, text: str) -> Path:
    """The folder, with that file run in it."""
    (folder / "studio.yaml").write_text(CONFIG)
    (folder / "rings.gcode").write_text(text)
    allow = [f"--allow={name}" for name in ("outside-bed", "too-fast", "wall-in-air")]
    args = ("-o", folder / "print.gcode", "--json", folder / "print.json")
    result = typed("run", folder / "rings.gcode", "-c", folder / "studio.yaml", *args, *allow)
    assert result.exit_code == 0, result.output
    return folder


def rest(folder: Path, *where: object) -> tuple[dict[str, Any], str]:
    """(its summary, its text and its page in one)."""
    out = ("-o", folder / "rest.gcode", "--json", folder / "rest.json", "--page", folder / "rest.html")
    result = typed("resume", folder / "print.json", *where, *out, "-v", "--overwrite")
    assert result.exit_code == 0, result.output
    return summary(folder), " ".join((result.output + (folder / "rest.html").read_text()).split())


@pytest.mark.parametrize(
    ("where", "to_come"),
    [
        (["--from-layer", 2], [4, 9]),
        (["--from-layer", 4], [4, 9]),
        (["--from-layer", 5], [9]),
        (["--from-height", 20.0, "--at", "120,150"], [9]),
        (["--from-layer", 9], [9]),
        (["--from-layer", 10], []),
    ],
)
def test_a_rest_is_warned_of_what_is_still_to_come(tmp_path: Path, where: list[object], to_come: list[int]) -> None:
    """Each kind of thing is told if one of it is still to come, with the first line on which it does."""
    job = made(tmp_path, program((4, 9)))
    whole = summary(job, "print")["warnings"]
    assert [name for name in TOLD if not any(name in text for text in whole)] == []
    found, shown = rest(job, *where)
    warned = found["warnings"]
    assert [name for name in TOLD if any(name in text for text in warned)] == (TOLD if to_come else [])
    assert bool(warned) == bool(to_come)
    assert ("Look at this first" in shown) == bool(to_come)
    begins = found["resume"]["stops"][-1]["source_line"] + 1
    said = [text for text in (*warned, *found["notes"]) if not text.startswith(("beside moves", "tally"))]
    named = [int(number) for text in said for number in re.findall(r"\blines? (\d+)", text)]
    assert all(number >= begins for number in named)
    assert all(f"(first of {n})" not in text for text in warned for n in range(2, 9) if len(to_come) < 2)


@pytest.mark.parametrize(("layer", "first"), [(4, 4), (5, 9), (10, None)])
def test_layers_that_are_quick_are_those_to_come(tmp_path: Path, layer: int, first: int | None) -> None:
    """The first of them that is still to be laid is named."""
    found, _ = rest(made(tmp_path, program((), quick=(4, 9))), "--from-layer", layer)
    said = [text for text in found["warnings"] if text.startswith("short-layer")]
    assert [re.findall(r"layer (\d+) is the first", text) for text in said] == ([[str(first)]] if first else [])


def test_nobody_is_told_to_home_over_a_piece(tmp_path: Path) -> None:
    """Of a file that never homes the run says so, and the rest doesn't: its nozzle would go into the wall."""
    job = made(tmp_path, program((), homes=False))
    assert any("clay-before-homing" in text for text in summary(job, "print")["warnings"])
    for lost in ("nothing", "z", "all"):
        found, shown = rest(job, "--from-layer", 7, "--lost", lost)
        assert found["warnings"] == []
        assert "clay-before-homing" not in shown
        assert "home the machine" not in shown
        assert "G28" not in shown


def test_words_of_a_step_on_a_pause_that_has_been_are_left_out(tmp_path: Path) -> None:
    """A swap says where it pauses and its clay is expected; behind it nothing more is said of that."""
    steps = "steps: [{swap: {at_height_mm: 8, colour: blue}}, {swap: {at_height_mm: 20, colour: red}}]\n"
    (tmp_path / "studio.yaml").write_text(CONFIG + steps)
    (tmp_path / "rings.gcode").write_text(program(()))
    args = ("-o", tmp_path / "print.gcode", "--json", tmp_path / "print.json")
    result = typed("run", tmp_path / "rings.gcode", "-c", tmp_path / "studio.yaml", *args)
    assert result.exit_code == 0, result.output
    at = [pause["layer"] for pause in summary(tmp_path, "print")["pauses"]]
    for layer, told in ((2, ["blue", "red"]), (at[0] + 1, ["red"]), (at[1] + 1, [])):
        notes = rest(tmp_path, "--from-layer", layer)[0]["notes"]
        assert [name for name in ("blue", "red") if any(f"swap: {name}: the pause" in note for note in notes)] == told


def test_a_blower_on_a_pin_blows_again_where_the_rest_goes_on(tmp_path: Path) -> None:
    """As the file had it there, by its own level; off before anybody reaches in. No pin is left for the potter."""
    made(tmp_path, program(()))
    pin = 'air: {on: "M42 P4 S<level>", off: M42 P4 S0}\n  max_feed_mm_min: 6000'
    (tmp_path / "studio.yaml").write_text(CONFIG.replace("max_feed_mm_min: 6000", pin))
    (tmp_path / "rings.gcode").write_text(program(()).replace("M106 S255", "M42 P4 S77"))
    job = ("-o", tmp_path / "print.gcode", "--json", tmp_path / "print.json", "--overwrite")
    ran = typed("run", tmp_path / "rings.gcode", "-c", tmp_path / "studio.yaml", *job)
    assert ran.exit_code == 0, ran.output
    _, said = rest(tmp_path, "--from-layer", 6)
    lines = [
        line for line in (tmp_path / "rest.gcode").read_text().splitlines() if line.startswith(("M", "G1 X"))
    ]
    laid = next(at for at, line in enumerate(lines) if line.startswith("G1 X"))
    switched = [line for line in lines[:laid] if line.startswith(("M42", "M106", "M107", "M0"))]
    assert switched == ["M42 P4 S0", "M107", "M0", "M42 P4 S77"]
    assert "M42 (" not in said


KEPT = "leave the sliced file and its configs as they are"


@pytest.mark.parametrize(("layer", "warned"), [(2, True), (9, True), (10, False)])
def test_no_advice_costs_the_rest(tmp_path: Path, layer: int, warned: bool) -> None:
    """A file that is sliced anew, as a warning may advise, can't be gone on with: that is said beside it."""
    job = made(tmp_path, program((4, 9)))
    assert not any(KEPT in text for text in summary(job, "print")["warnings"])
    found, shown = rest(job, "--from-layer", layer)
    assert [KEPT in text for text in found["warnings"][-1:]] == [True] * warned
    assert shown.count(KEPT) == 2 * warned  # once in the text, once on the page
    (job / "rings.gcode").write_text(program((9,)))
    result = typed("resume", job / "print.json", "--from-layer", layer, "-o", job / "second.gcode")
    assert result.exit_code == 1
    assert "has changed since the print was made from it" in " ".join(result.output.split())


def test_what_steps_note_is_said_to_be_about_the_whole_print(tmp_path: Path) -> None:
    """The slab of a piece that stands is not laid again."""
    steps = "steps: [{slab: {thickness_mm: 5, diameter_mm: 120}}]\n"
    (tmp_path / "studio.yaml").write_text(CONFIG + steps)
    (tmp_path / "rings.gcode").write_text(program(()))
    args = ("-o", tmp_path / "print.gcode", "--json", tmp_path / "print.json")
    result = typed("run", tmp_path / "rings.gcode", "-c", tmp_path / "studio.yaml", *args)
    assert result.exit_code == 0, result.output
    notes = rest(tmp_path, "--from-layer", 5)[0]["notes"]
    whole = next(at for at, note in enumerate(notes) if "about the whole print" in note)
    assert whole < next(at for at, note in enumerate(notes) if note.startswith("slab: lay the slab"))
    assert not any("about the whole print" in note for note in summary(tmp_path, "print")["notes"])
