"""`gpost resume --waited`: the clay that has stood in the hose stays so much older, also after a second stop."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.resuming import resume, summary, vase_ran

LINE_ML = 12.0
CONFIG = """
machine:
  bed: {x_max_mm: 300, y_max_mm: 300}
  ceiling_mm: 300
  park: {x_mm: 15, y_mm: 15}
clay: {metering: {unit: filament, diameter_mm: 1.75}, working_min: 60, colour: white}
cartridge: {volume_ml: 90, reserve_ml: 10, line_ml: 12}
steps:
  - cold: {move_cold: true}
  - remind: {at_heights_mm: [22, 44], how: pause, text: Look}
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A folder with a vase of 25 layers of 2 mm, of some 1.75 ml each, and the run of it."""
    return vase_ran(tmp_path, CONFIG)


def rest(job: Path, *args: object, of: str = "print", name: str = "rest") -> dict[str, Any]:
    """The summary of a rest."""
    result = resume(job, *args, "--left-ml", 85, of=of, name=name)
    assert result.exit_code == 0, result.output
    return summary(job, name)


def ages(found: dict[str, Any]) -> list[float]:
    """Age of the oldest clay in each layer, min."""
    return list(found["layer_table"]["age_min"])


def done_ml(found: dict[str, Any]) -> list[float]:
    """Clay of the piece when each layer is done, since it goes on."""
    return list(found["layer_table"]["clay_ml"])


def told(found: dict[str, Any], word: str) -> str:
    """What is said of that before it goes on."""
    return " ".join(check for check in found["resume"]["checks"] if word in check)


def test_what_stood_in_the_hose_is_laid_so_much_older(job: Path) -> None:
    """The hose's 12 ml have stood 40 min, what comes behind them has not: the sum is made by hand."""
    plain, stood = rest(job, "--from-layer", 8, name="plain"), rest(job, "--from-layer", 8, "--waited", 40)
    begins_ml = [0.0, *done_ml(plain)[:-1]]
    more = [40.0 if begins < LINE_ML else 0.0 for begins in begins_ml]
    assert {0.0, 40.0} == set(more)
    assert ages(stood) == pytest.approx([age + by for age, by in zip(ages(plain), more, strict=True)], abs=0.02)


def test_a_later_pause_may_last_so_much_less(job: Path) -> None:
    """At the pause some of the clay that stood is still in the hose; at the last none is."""
    plain, stood = rest(job, "--from-layer", 8, name="plain"), rest(job, "--from-layer", 8, "--waited", 40)
    lasts = [[p["hose_min"] for p in found["pauses"][1:]] for found in (plain, stood)]
    assert lasts[1] == pytest.approx([lasts[0][0] - 40, lasts[0][1]], abs=0.02)


@pytest.mark.parametrize(
    ("turns_before", "counts"), [(0.0, True), (0.5, True), (0.9, True), (1.0, False), (1.5, False), (5.0, False)]
)
def test_what_the_rim_stood_counts_until_it_is_laid_over(tmp_path: Path, turns_before: float, counts: bool) -> None:
    """At the first pause some of the last turn stood 3 min already, if the stop was less than a turn before it.

    That is the definition of the rim's joint: what is laid after the pause meets the turn before it. A turn of
    the vase is one move for each of its 36 segments, so lines are shares of a turn.
    """
    job = vase_ran(tmp_path, CONFIG.replace("working_min: 60", "working_min: 60, rim_min: 8"))
    first = summary(job, "print")["pauses"][0]["output_line"]
    beads = _beads(job / "print.gcode", first)
    line = first if not turns_before else beads[-round(36 * turns_before)]
    plain, stood = rest(job, "--from-line", line, name="plain"), rest(job, "--from-line", line, "--waited", 3)
    lasts = [[p["rim_min"] for p in found["pauses"][1:]] for found in (plain, stood)]
    assert len(lasts[0]) == 2, "both pauses are still due"
    assert lasts[1] == pytest.approx([lasts[0][0] - 3 * counts, lasts[0][1]], abs=1e-6)


def test_a_rim_that_has_stood_too_long_may_not_wait_again(tmp_path: Path) -> None:
    """20 min are more than the 8: no time is left, and none below it."""
    job = vase_ran(tmp_path, CONFIG.replace("working_min: 60", "working_min: 60, rim_min: 8"))
    line = summary(job, "print")["pauses"][0]["output_line"]
    assert rest(job, "--from-line", line, "--waited", 20)["pauses"][1]["rim_min"] == 0


def test_the_rim_counts_both_stops_of_one_turn(tmp_path: Path) -> None:
    """Nothing but a few segments was laid after the first: 5 and 4 min are more than 8. In the next turn they are not."""
    job = vase_ran(tmp_path, CONFIG.replace("working_min: 60", "working_min: 60, rim_min: 8"))
    first = summary(job, "print")["pauses"][0]["output_line"]
    rest(job, "--from-line", _beads(job / "print.gcode", first)[-30], "--waited", 5, name="first")
    again = summary(job, "first")["pauses"][1]["output_line"]
    beads = _beads(job / "first.gcode", again)
    assert "longer than 3 min: score it" in told(rest(job, "--from-line", beads[-10], "--waited", 4, of="first"), "score")
    later = rest(job, "--from-layer", 14, "--waited", 4, of="first", name="later")
    assert "score" not in told(later, "It has waited")


def _beads(path: Path, before: int) -> list[int]:
    """Lines, from 1, of moves that lay, before a line of an output."""
    lines = path.read_text().splitlines()[: before - 1]
    return [at for at, line in enumerate(lines, 1) if re.match(r"G1 X[-0-9.]+ Y[-0-9.]+.* E", line)]


def test_the_first_wait_counts_at_the_second_stop(job: Path) -> None:
    """50 and 20 min are more than the 60 for which it can be worked: the hose is run out, as after 70."""
    first = rest(job, "--from-layer", 8, "--waited", 50, name="first")
    assert first["resume"]["stops"][0]["waited_min"] == 50
    second = rest(job, "--from-layer", 10, "--waited", 20, of="first")
    assert [stop["run_out_ml"] for stop in second["resume"]["stops"]] == [0.0, LINE_ML]
    unsaid = rest(job, "--from-layer", 10, "--waited", 20, name="unsaid")
    assert unsaid["resume"]["stops"][0]["run_out_ml"] == 0.0


@pytest.mark.parametrize("again", [["--from-line", 1], ["--from-clock", "0:00"]])
@pytest.mark.parametrize("waited", [[], ["--waited", 45], ["--waited", 75]])
def test_a_wait_that_nobody_has_ended_is_one(job: Path, again: list[object], waited: list[object]) -> None:
    """A rest that was never let go is written anew: what stands is told as if it were written for the first time.

    But for the seconds of its way, which are reckoned for both, and may take a limit's last minute.
    """
    rest(job, "--from-layer", 8, "--waited", 40, name="first")
    found = rest(job, *again, *waited, of="first")
    once = rest(job, "--from-layer", 8, *(waited or ["--waited", 40]), name="once")
    assert found["resume"]["stops"][1]["run_out_ml"] == once["resume"]["stops"][0]["run_out_ml"]
    (said, limit_min), (said_once, once_min) = (_without_limit(told(each, "waited")) for each in (found, once))
    assert said == said_once
    assert abs(limit_min - once_min) <= 1
    assert ages(found) == pytest.approx(ages(once), abs=0.3)
    assert found["pauses"][1]["hose_min"] == pytest.approx(once["pauses"][1]["hose_min"], abs=0.3)


def _without_limit(text: str) -> tuple[str, int]:
    """What is told of a wait, and the minutes after which the hose must be run out; 0 where none are told."""
    limit = re.search(r"after (\d+) min", text)
    return re.sub(r"after \d+ min", "after", text), int(limit[1]) if limit else 0


def test_a_first_wait_that_is_laid_counts_no_more(job: Path) -> None:
    """When the clay that stood has gone through, a second wait is judged alone."""
    rest(job, "--from-layer", 8, "--waited", 50, name="first")
    second = rest(job, "--from-layer", 18, "--waited", 20, of="first")
    assert second["resume"]["stops"][1]["run_out_ml"] == 0.0


@pytest.mark.parametrize(("out_ml", "stays"), [(0, "12 ml"), (3, "9 ml")])
def test_stiff_clay_that_stays_is_said(job: Path, out_ml: float, stays: str) -> None:
    """What stays in the hose is told with how long it has stood, and warned of, as any clay that is too old."""
    found = rest(job, "--from-layer", 8, "--waited", 80, "--run-out", out_ml)
    said = told(found, "too stiff")
    assert said.startswith("It has waited 80 min, longer than 5")
    assert f"the {stays} of clay that stay in the hose are too stiff; run it out whole (--run-out 12)" in said
    assert any("old-clay" in text and "the 80 min that it has stood" in text for text in found["warnings"])


def test_old_clay_is_told_with_all_that_it_has_stood(job: Path) -> None:
    """Two stops of 50 and 30 min, and nothing run out: the warning counts both."""
    rest(job, "--from-layer", 8, "--waited", 50, name="first")
    found = rest(job, "--from-layer", 10, "--waited", 30, "--run-out", 0, of="first")
    assert any("old-clay" in text and "the 80 min that it has stood" in text for text in found["warnings"])


def test_nothing_is_said_of_a_hose_that_is_run_out(job: Path) -> None:
    """All of the old clay is gone then."""
    for args in (["--waited", 80], ["--waited", 80, "--run-out", 12], ["--run-out", 12]):
        found = rest(job, "--from-layer", 8, *args, "--overwrite")
        assert not told(found, "stiff")
        assert max(ages(found)) < 60
        assert not any("old-clay" in text for text in found["warnings"])


def test_a_short_wait_is_said_with_its_limit(job: Path) -> None:
    """Setting up takes time too, so the potter hears how long it may be."""
    assert "It has waited 40 min; after 5" in told(rest(job, "--from-layer", 8, "--waited", 40), "stiff")
    plain = told(rest(job, "--from-layer", 8, "--overwrite"), "stiff")
    assert plain.startswith("If it has waited longer than 5")


def test_a_cartridge_that_stood_is_so_much_older(tmp_path: Path) -> None:
    """`keeps_min` is for what waits in a cartridge: 40 min of standing are more than 30."""
    job = vase_ran(tmp_path, CONFIG.replace("line_ml: 12", "line_ml: 12, keeps_min: 30"))
    warned = [
        any("old-cartridge" in text for text in rest(job, "--from-layer", 8, *waited, "--overwrite")["warnings"])
        for waited in ([], ["--waited", 40])
    ]
    assert warned == [False, True]


def test_a_cartridge_that_stays_on_is_as_old_as_it_was(tmp_path: Path) -> None:
    """It keeps two minutes longer than the whole print takes, and that stands for three; a full one is a fresh one."""
    for name in ("whole", "job"):
        (tmp_path / name).mkdir()
    whole_min = summary(vase_ran(tmp_path / "whole", CONFIG), "print")["time_s"] / 60
    job = vase_ran(tmp_path / "job", CONFIG.replace("line_ml: 12", f"line_ml: 12, keeps_min: {whole_min + 2:.2f}"))
    for name, args in (("rest", ["--waited", 3]), ("less", ["--waited", 0.5]), ("fresh", ["--waited", 3, "--left-ml", 90])):
        assert resume(job, "--from-layer", 18, *args, name=name).exit_code == 0
    assert resume(job, "--from-layer", 22, "--waited", 0.5, of="less", name="again").exit_code == 0
    assert resume(job, "--from-layer", 22, "--waited", 1.5, of="less", name="more").exit_code == 0
    said = {
        name: [text for text in summary(job, name)["warnings"] if "old-cartridge" in text]
        for name in ("print", "rest", "less", "fresh", "again", "more")
    }
    assert [name for name, texts in said.items() if texts] == ["rest", "more"]
    assert f"clay stays up to {whole_min + 3:.0f} min in its cartridge, the 3 min that it has stood counted in" in said["rest"][0]


def test_the_oldest_clay_of_a_rest_is_in_the_rest(tmp_path: Path) -> None:
    """The lowest layers were laid slowly, and clay was oldest there: in a note of the rest it is that of the table."""
    slow = "  - taper: {shape: steps, steps: [{from_layer: 3, feed_percent: 10}, {from_layer: 6, feed_percent: 100}]}\n"
    job = vase_ran(tmp_path, CONFIG + slow + "  - tally\n")
    rest(job, "--from-layer", 18)
    layers = []
    for name in ("print", "rest"):
        [note] = [note for note in summary(job, name)["notes"] if "out of its cartridge" in note]
        assert f"clay is up to {max(ages(summary(job, name))):.0f} min out of its cartridge" in note
        layers.append(int(note.split("(layer ")[1].split()[0]))
    assert layers[0] < 10
    assert layers[1] >= 18
