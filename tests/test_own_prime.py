"""A file that primes by itself, and a recipe that does it instead: `purge: {silence_own_prime: true}`."""

from __future__ import annotations

from pathlib import Path

import pytest

from gpost.pipeline import check_file, run_file
from gpost.report.model import Summary
from gpost.steps.recipe import make_recipe
from tests.config_files import load_files
from tests.reference.interpreter import run
from tests.reference.outputs import SILENCED
from tests.reference.state import Event

CONFIG = """
machine: {max_flow_ml_min: 20, max_relieve_ml: 1, pause: {relieve_ml: 0}}
clay: {metering: {unit: mm3}}
cartridge: {line_ml: 10}
steps: [{purge: {volume_ml: 5, silence_own_prime: true}}]
"""
SIDES = ((140, 100), (140, 140), (100, 140), (100, 100))


def square(e_mm3: float, *, relative: bool) -> list[str]:
    """A ring of 4 ml; E goes on from so many mm^3."""
    rows = ["G0 X100 Y100 Z2 F3000"]
    for number, (x, y) in enumerate(SIDES, 1):
        rows.append(f"G1 X{x} Y{y} E{1000 if relative else e_mm3 + number * 1000}" + " F300" * (number == 1))
    return rows


STARTS = {
    "absolute, register kept": (["M82", "G1 F40000 E3000"], 3000, 3.0, 1),
    "absolute, register set back": (["M82", "G92 E0", "G1 F40000 E3000", "G92 E0"], 0, 3.0, 1),
    "absolute, drawn back and given again": (
        ["M82", "G1 E3000 F40000", "G1 E2500", "G0 Z5 F3000", "G1 E3000 F600"],
        3000,
        3.0,
        3,
    ),
    "absolute, drawn back only": (["M82", "G1 E3000 F40000", "G1 E2000", "G92 E0"], 0, 2.0, 2),
    "relative": (["M83", "G1 F40000 E3000"], None, 3.0, 1),
    "relative, in two": (["M83", "G1 E1500 F40000", "G4 P500", "E1500"], None, 3.0, 2),
    "relative, then absolute": (["M83", "G1 E3000 F40000", "M82"], 3000, 3.0, 1),
    "in inches": (["G20", "M83", "G1 E118.1102362205 F1500", "G21", "M82", "G92 E0"], 0, 3.0, 1),
    "feed for what follows": (["M82", "G92 E0", "G1 F600 E3000", "G92 E0", "G1 X90 Y90"], 0, 3.0, 1),
}


def done(
    folder: Path, start: list[str], e_mm3: float | None
) -> tuple[Summary, list[Event], list[Event], list[str]]:
    """The summary, the source's lines and the output's as the interpreter runs them, the output's text."""
    body = square(e_mm3 or 0.0, relative=e_mm3 is None)
    source, output = folder / "pot.gcode", folder / "out.gcode"
    source.write_text("\n".join(["G28", "G90", *start, *body, "M84"]) + "\n")
    recipe = make_recipe(load_files({"pot.yaml": CONFIG}))
    summary = run_file(source, output, recipe.config, recipe.steps, overwrite=True)
    text = output.read_bytes()
    return summary, run(source.read_bytes()), run(text), text.decode().splitlines()


@pytest.mark.parametrize(("start", "e_mm3", "prime_ml", "lines"), STARTS.values(), ids=STARTS)
def test_the_purge_does_instead(
    tmp_path: Path, start: list[str], e_mm3: float | None, prime_ml: float, lines: int
) -> None:
    """What the file pushes in place is gone, each side of the ring has its 1 ml, and the sums fit: by the interpreter."""
    summary, before, after, text = done(tmp_path, start, e_mm3)
    assert sum(event.e_metered_mm for event in before) / 1000 == pytest.approx(4 + prime_ml)
    assert sum(event.e_metered_mm for event in after) / 1000 == pytest.approx(4 + 5)
    assert summary.clay_ml == pytest.approx(9)
    assert sum(SILENCED.decode() in line for line in text) == lines
    assert not any(event.path_mm == 0 and event.e_metered_mm > 1 for event in after)
    sides = [event for event in after if event.path_mm and event.e_metered_mm and event.end_mm[:2] in SIDES][
        -4:
    ]
    assert [event.e_metered_mm for event in sides] == pytest.approx([1000] * 4, abs=1e-4)


@pytest.mark.parametrize(("start", "e_mm3", "prime_ml", "lines"), STARTS.values(), ids=STARTS)
def test_it_is_said(
    tmp_path: Path, start: list[str], e_mm3: float | None, prime_ml: float, lines: int
) -> None:
    """The summary names the amount and counts the lines; no warning is left of what is not pushed any more."""
    summary = done(tmp_path, start, e_mm3)[0]
    count = f"{lines} line{'s' * (lines > 1)}"
    assert f"purge: the file's own prime is silenced: {prime_ml:.1f} ml on {count}" in summary.notes
    (change,) = [change for change in summary.changes if change.kind == "silence"]
    assert (change.what, change.count) == ("turned into comments: the file's own prime", lines)
    assert not [text for text in summary.warnings if "fast-push" in text or "long-relief" in text]


@pytest.mark.parametrize("own_ml", [3, 9])
def test_a_prime_that_is_silenced_is_not_told_as_the_file_s(tmp_path: Path, own_ml: int) -> None:
    """The survey tells of one of more than 5 ml; the job, of which it is no part any more, doesn't, nor the check."""
    start = ["M82", f"G1 F600 E{1000 * own_ml}", "G92 E0"]
    summary = done(tmp_path, start, 0)[0]
    says = f"the file itself runs out {own_ml} ml"
    assert not [text for text in summary.warnings if says in text]
    config = load_files({"pot.yaml": CONFIG}).config
    plain = check_file(tmp_path / "pot.gcode", config, [])
    assert any(says in found.text for found in plain) == (own_ml > 5)


LINE = ["G0 X10 Y10 Z2 F3000", "G1 X60 E1000 F600"]
"""A bead that primes beside the piece."""


@pytest.mark.parametrize(
    ("lay", "before", "severity", "advice"),
    [
        (0, True, "note", "`silence_own_prime: true`"),
        (2, True, "note", "(line 6); if that fills the nozzle, all is well"),  # no step can silence it
        (0, False, "warning", "leaves a lump: take it out"),
    ],
    ids=["before the first bead", "behind a line", "in the middle"],
)
def test_much_clay_in_one_place_comes_with_advice(
    tmp_path: Path, lay: int, before: bool, severity: str, advice: str
) -> None:
    """To fill the nozzle before the first bead is usual, common practice, and no warning; over the piece it is one."""
    push, body = [*LINE[:lay], "G1 F600 E6000"], square(0.0, relative=True)
    lines = [*push, *body] if before else [*body[:3], *push, *body[3:]]
    source = tmp_path / "pot.gcode"
    source.write_text("\n".join(["G28", "G90", "M83", *lines, "M84"]) + "\n")
    recipe = make_recipe(load_files({"pot.yaml": CONFIG.split("steps:")[0]}))
    (found,) = [f for f in check_file(source, recipe.config, []) if "runs out 6 ml" in f.text]
    assert (found.name, found.severity) == ("odd", severity)
    assert advice in found.text
    assert not lay or found.text.endswith(advice)
    summary = run_file(source, tmp_path / "out.gcode", recipe.config, recipe.steps)
    assert any("runs out 6 ml" in text for text in (summary.notes if before else summary.warnings))


def test_what_follows_at_the_prime_s_feed_keeps_it(tmp_path: Path) -> None:
    """A move without an F of its own goes as fast as before."""
    _, before, after, _ = done(tmp_path, *STARTS["feed for what follows"][:2])
    feeds = [
        [event.feed_mm_min for event in events if event.end_mm[:2] == (90, 90)] for events in (before, after)
    ]
    assert feeds[0][0] == feeds[1][0] == 600


def test_the_time_of_it_is_gone_too(tmp_path: Path) -> None:
    """3000 mm of E at 600 mm/min are five minutes, which the machine no longer takes."""
    slow = ["M83", "G1 E3000 F600"]
    with_prime = done(tmp_path, ["M83"], None)[0].time_s
    assert done(tmp_path, slow, None)[0].time_s == pytest.approx(with_prime, abs=1.5)


def test_a_push_that_does_more_stays_and_is_told(tmp_path: Path) -> None:
    """A line that names a place as well can't be taken out."""
    summary = done(tmp_path, ["M83", "G0 X50 Y50 F3000", "G1 X50 Y50 E3000 F600"], None)[0]
    assert summary.clay_ml == pytest.approx(4 + 3 + 5)
    assert "line 5 pushes 3.0 ml out in one place, and does more than that, so it stays" in " ".join(
        summary.warnings
    )
