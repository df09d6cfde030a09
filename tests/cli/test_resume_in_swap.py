"""`gpost resume`: stopped at a swap's pause, after its wait and before all of its clay has come."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from tests.cli.test_resume_clay import made
from tests.cli.test_resume_clay_told import done
from tests.reference.interpreter import run
from tests.reference.tape import Tape, one
from tests.resuming import summary

SWAPPED = """
cartridge: {volume_ml: 90, reserve_ml: 10, line_ml: 12}
steps: [{cold: {move_cold: true}}, {swap: {at_height_mm: 30, colour: blue, prime_ml: 4MORE}}]
"""
ML_PER_MM = math.pi / 4 * 1.75**2 / 1000
"""Clay of 1 mm of a strand of 1.75 mm: geometry."""


@pytest.mark.parametrize("part", [0.0, 0.5])
@pytest.mark.parametrize(
    ("more", "all_ml"),
    [("", 4), (", clear: purge, onto: bed", 12), (", clear: purge, onto: park", 12)],
)
def test_stopped_in_a_swap_before_all_has_come(tmp_path: Path, more: str, all_ml: float, part: float) -> None:
    """What is said to do with the prime, and the beads on the bed, brings the clay that is told for each layer.

    The clay that comes is what a tape in the reference interpreter brings: nothing has come of the new
    cartridge after the wait, or half of it.
    """
    folder = made(tmp_path, SWAPPED.replace("MORE", more), relieve_ml=0)
    lines = (folder / "print.gcode").read_bytes().split(b"\n")
    wait = lines.index(b"M0") + 1  # the first one: of the swap
    (check,) = [
        text for text in done(folder, "--from-line", wait + 1)["resume"]["checks"] if "is not repeated" in text
    ]
    said = re.search(r"if they have not been yet, say --came-ml 0 --run-out ([\d.]+)", check)
    assert said is not None, check
    assert float(said.group(1)) == pytest.approx(all_ml, abs=0.01)
    assert ("to lay on the bed" in check) == ("bed" in more)
    came_ml = part * float(said.group(1))
    run_out_ml = float(said.group(1)) - came_ml
    found = done(folder, "--from-line", wait + 1, "--came-ml", came_ml, "--run-out", run_out_ml)
    tape = Tape(12, one("white"), one("white"))
    for event in run(b"\n".join(lines[:wait]) + b"\n"):
        tape.push(event.e_metered_mm * ML_PER_MM)
    tape.put_on(one("blue"))
    tape.push(came_ml)
    shares = {row["height_mm"]: row["clays"] for row in found["shares"]}
    told = [next(iter(shares[height])) for height in sorted(shares)]
    assert told in (["blue"], ["white", "blue"])
    front_mm = max(shares) if len(told) == 2 else 0.0
    blue_mm = []
    for event in run((folder / "rest.gcode").read_bytes()):
        before_ml = tape.moved_ml
        tape.push(event.e_metered_mm * ML_PER_MM)
        if event.lays_clay and tape.at((before_ml + tape.moved_ml) / 2) == "blue":
            blue_mm.append(event.end_mm[2])
    assert min(blue_mm) == pytest.approx(front_mm, abs=2.1) or (told == ["blue"] and min(blue_mm) < 32)
    begins_ml = summary(folder, "print")["cartridges"][1]["to_load_ml"] - came_ml
    assert found["cartridges"][0]["begins_ml"] == pytest.approx(begins_ml, abs=1e-6)


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (["--came-ml", 0, "--run-out", 4], "4 ml are"),
        (["--came-ml", 2, "--run-out", 2], "2 ml are"),
        (["--came-g", 0, "--run-out", 3], "3 ml are"),
        (["--left-ml", 70, "--run-out", 12], "12 ml are"),
        (["--left-ml", 70, "--run-out", 0], "nothing is"),
        (["--came-ml", 0], None),
        (["--left-ml", 70], None),
        (["--run-out", 1], None),
        ([], None),
    ],
)
def test_who_has_said_all_is_not_told_to_say_it(tmp_path: Path, said: list[object], told: str | None) -> None:
    """What has come, or is left, and what is run out: with both said there is no advice, and nothing to do by hand."""
    folder = made(tmp_path, SWAPPED.replace("MORE", ""), relieve_ml=0)
    wait = (folder / "print.gcode").read_bytes().split(b"\n").index(b"M0") + 1
    (check,) = [
        text for text in done(folder, "--from-line", wait + 1, *said)["resume"]["checks"] if "is not repeated" in text
    ]
    advice = "4 ml to run out; if they have not been yet, say --came-ml 0 --run-out 4)"
    assert (f"4 ml to run out; as you say, {told} run out when it goes on)" if told else advice) in check
    assert told is None or "--" not in check
