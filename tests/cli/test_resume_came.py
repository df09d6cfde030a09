"""`gpost resume --came-ml`: what a cartridge has lost is compared with what the file meters out of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.test_resume_clay import REFILLED, made
from tests.resuming import resume, summary

ML_PER_MM = 3.14159265358979 * 1.75**2 / 4000
"""Filament of 1.75 mm (geometry)."""
RELIEVE_ML = 0.3
"""Drawn back before a pause, and given again after it."""


def metered_ml(lines: list[str], since: int) -> float:
    """The sum of E from a line on, read by hand: relative words, or absolute ones from where G92 set them."""
    sum_mm = at_mm = 0.0
    relative = False
    for number, line in enumerate(lines):
        words = line.split(";")[0].split()
        e_mm = next((float(word[1:]) for word in words if word.startswith("E")), None)
        if words[:1] in (["M82"], ["M83"]):
            relative = words == ["M83"]
        elif words[:1] == ["G92"] and e_mm is not None:
            at_mm = e_mm
        elif e_mm is not None:
            sum_mm += (e_mm if relative else e_mm - at_mm) * (number >= since)
            at_mm = at_mm + e_mm if relative else e_mm
    return sum_mm * ML_PER_MM


@pytest.mark.parametrize("cartridge", [1, 2])
def test_what_the_file_has_metered_is_as_planned(tmp_path: Path, cartridge: int) -> None:
    """From the wait at which it was put on up to the stop, what it gives again included: nothing is otherwise."""
    job = made(tmp_path, REFILLED, relieve_ml=RELIEVE_ML)
    lines = (job / "print.gcode").read_text().splitlines()
    wait = lines.index("M0") if cartridge == 2 else 0
    stop = wait + 40 if cartridge == 2 else lines.index("M0") - 80
    given_ml = metered_ml(lines[:stop], wait)
    result = resume(job, "--from-line", stop + 1, "--came-ml", given_ml)
    assert result.exit_code == 0, result.output
    said = summary(job)["resume"]
    assert said["cartridge"] == cartridge
    assert [came["percent"] for came in said["stops"][0]["came"]] == pytest.approx([100], abs=0.1)
    assert f"As much as planned has left cartridge {cartridge}: {given_ml:.1f} ml." in said["checks"]


def test_what_was_to_come_is_said_beside_the_difference(tmp_path: Path) -> None:
    """So who counts otherwise sees by what."""
    job = made(tmp_path, REFILLED, relieve_ml=RELIEVE_ML)
    line = (job / "print.gcode").read_text().splitlines().index("M0") + 40
    assert resume(job, "--from-line", line, "--came-ml", 1).exit_code == 0
    [said] = [text for text in summary(job)["resume"]["checks"] if "less than planned" in text]
    less_ml, planned_ml = float(said.split()[0]), float(said.split("(")[1].split()[0])
    assert planned_ml - less_ml == pytest.approx(1, abs=0.11)
