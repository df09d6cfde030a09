"""`gpost resume`: the rest of a stopped print, from the summary of its run."""

from __future__ import annotations

import gzip
import json
import math
import os
from pathlib import Path

import pytest

from tests.reference.interpreter import run
from tests.resuming import resume, summary, tail, typed, vase_ran

CONFIG = """
machine:
  bed: {x_max_mm: 300, y_max_mm: 300}
  ceiling_mm: 300
  park: {x_mm: 15, y_mm: 15}
clay: {metering: {unit: filament, diameter_mm: 1.75}, rim_min: 8, colour: white}
cartridge: {volume_ml: 90, reserve_ml: 10, line_ml: 12}
steps:
  - cold: {move_cold: true}
  - purge: {volume_ml: 8}
  - swap: {at_height_mm: 34, colour: blue}
  - refill: {prime_ml: 4}
  - fan: {bands: [{from_layer: 1, level_percent: 0}, {from_layer: 3, level_percent: 40}]}
"""


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A folder with a vase of 25 layers, its config, and what `gpost run` has made of them."""
    return vase_ran(tmp_path, CONFIG)


def test_changes_are_those_of_the_rest(tmp_path: Path) -> None:
    """Feeds of layers that are laid are not told, and what reaches over the place begins with it."""
    bands = "[{from_layer: 3, feed_percent: 80}, {from_layer: 20, feed_percent: 50}]"
    job = vase_ran(tmp_path, CONFIG + f"  - taper: {{shape: steps, steps: {bands}}}\n")
    assert resume(job, "--from-layer", 21).exit_code == 0
    [found] = [change for change in summary(job)["changes"] if change["kind"] == "feed"]
    assert found["what"] == "feed taken to 50 %"
    [place] = found["where"]
    assert (place["layer"], place["last_layer"], place["height_mm"]) == (21, 25, 42.0)


def test_the_rest_ends_as_the_print_does(job: Path) -> None:
    """It is the print from there on, with its pauses and what the steps change."""
    result = resume(job, "--from-layer", 5)
    assert result.exit_code == 0, result.output
    rest, whole = tail(job / "rest.gcode"), (job / "print.gcode").read_text().splitlines()
    assert whole[-len(rest) :] == rest
    assert any("swap" in line for line in rest)


def test_clocks_and_amounts_are_those_of_the_rest(job: Path) -> None:
    """What has been is in no figure: the first wait is at 0:00, the other pauses are as much earlier."""
    assert resume(job, "--from-layer", 5).exit_code == 0
    whole, rest = summary(job, "print"), summary(job)
    first, *later = rest["pauses"]
    assert (first["step"], first["clock_s"], first["new_cartridge"]) == ("resume", 0.0, False)
    gone_s = whole["layer_table"]["clock_s"][3]
    for mine, theirs in zip(later, whole["pauses"][-len(later) :], strict=True):
        assert mine["reason"].split(";")[0] == theirs["reason"].split(";")[0]
        assert mine["height_mm"] == theirs["height_mm"]
        assert mine["clock_s"] == pytest.approx(theirs["clock_s"] - gone_s, abs=60)
    assert rest["layer_table"]["layer"][0] == 5
    assert rest["clay_ml"] == pytest.approx(sum(c["clay_ml"] for c in rest["cartridges"]), abs=0.5)
    assert rest["cartridges"][0]["number"] == rest["resume"]["cartridge"]


def test_all_that_is_sent_is_told(job: Path) -> None:
    """Each command of the opening that is no move stands in the summary; homing and heating are left out."""
    result = resume(job, "--from-layer", 5)
    lines = (job / "rest.gcode").read_text().splitlines()
    opening = lines[: lines.index("; gpost: resume ends")]
    told = {command["command"] for command in summary(job)["commands"]}
    for line in opening:
        if line.startswith((";", "G0", "G1 X", "G1 Z", "G1 E")):
            continue
        assert any(line == one or one.startswith(line.split()[0]) for one in told), line
    assert "M302 P1" in opening
    assert not any(line.startswith(("G28", "M104", "M109", "M140", "M190")) for line in opening)
    assert "It leaves out: first-layer beads and purges, G28" in result.output
    assert "Before you let it go" in result.output


def test_it_can_stop_once_more(job: Path) -> None:
    """The summary of the rest can be gone on with; the rest of that is that of the print."""
    assert resume(job, "--from-layer", 5).exit_code == 0
    again = resume(job, "--from-layer", 12, of="rest", name="last")
    assert again.exit_code == 0, again.output
    whole = (job / "print.gcode").read_text().splitlines()
    found = tail(job / "last.gcode")
    assert whole[-len(found) :] == found
    assert len(summary(job, "last")["resume"]["stops"]) == 2


@pytest.mark.parametrize("name", ["vase.gcode", "studio.yaml"])
def test_what_has_changed_is_refused(job: Path, name: str) -> None:
    """Another sliced file or config would not fit what stands; nothing is written."""
    (job / name).write_text((job / name).read_text().replace("line_ml: 12", "line_ml: 13") + "\n")
    result = resume(job, "--from-layer", 5)
    assert result.exit_code == 1
    assert f"{name} has changed since the print was made from it" in result.output
    assert not (job / "rest.gcode").exists()


def test_a_line_of_the_print_is_found_in_the_file(job: Path) -> None:
    """The line on which the machine's reading stopped is that of the file that was run."""
    whole = (job / "print.gcode").read_text().splitlines()
    at = next(n for n, line in enumerate(whole) if n > len(whole) // 2 and line.startswith("G1 X"))
    assert resume(job, "--from-line", at + 1).exit_code == 0
    assert tail(job / "rest.gcode") == whole[at:]


def test_a_clock_is_near_the_place(job: Path) -> None:
    """Machine time leads to the layer that the table has then."""
    table = summary(job, "print")["layer_table"]
    seconds = int(table["clock_s"][9]) + 1
    clock = f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
    assert resume(job, "--from-clock", clock).exit_code == 0
    assert summary(job)["resume"]["layer"] == 11


def test_a_height_and_a_place_in_the_turn(job: Path) -> None:
    """The path goes on at that very place, so much shifted, and the shift is told."""
    result = resume(job, "--from-height", 20.3, "--at", "150,175")
    assert result.exit_code == 0, result.output
    found = summary(job)["resume"]
    assert found["off_mm"] < 2
    assert 0.0 < abs(found["stops"][0]["shift_mm"]) < 1.0
    lines = (job / "rest.gcode").read_bytes()
    events = run(lines)
    ends = (job / "rest.gcode").read_text().splitlines().index("; gpost: resume ends")
    x, y, z = events[ends].state.position_mm
    assert (x - 150) ** 2 + (y - 175) ** 2 < 4
    assert z == pytest.approx(20.3, abs=0.01)


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--from-height", "55"], "above the piece"),
        (["--from-height", "20.3", "--at", "10,10"], "more than a bead's width"),
        (["--from-layer", "99"], "no layer 99"),
        (["--from-layer", "1"], "nothing stands"),
        (["--from-layer", "5", "--shift", "20"], "half a layer"),
        (["--from-layer", "5", "--left-ml", "9"], "all reserve"),
        (["--from-layer", "5", "--nozzle-below", "295"], "over the ceiling"),
        (["--from-layer", "5", "--lost", "all", "--set-on", "bed"], "--set-on rim"),
        (["--from-layer", "5", "--nozzle-below", "7"], "lies under the top, which stands at 8.00 mm"),
        (["--from-layer", "5", "--lost", "z", "--nozzle-below", "40"], "--nozzle-below goes with a height"),
        (["--from-layer", "5", "--lost", "all", "--nozzle-below", "40"], "--nozzle-below goes with a height"),
    ],
)
def test_refused_with_what_to_do(job: Path, args: list[str], said: str) -> None:
    """What can't safely be done is refused, and nothing is written."""
    result = resume(job, *args)
    assert result.exit_code == 1, result.output
    assert said in result.output
    assert not (job / "rest.gcode").exists()


@pytest.mark.parametrize(
    "args",
    [
        [],
        ["--from-layer", "5", "--from-line", "9"],
        ["--from-layer", "5", "--at", "1,2"],
        ["--from-height", "5", "--at", "1,2", "--along", "3"],
        ["--from-height", "5", "--shift", "3"],
        ["--from-layer", "5", "--left-ml", "60", "--left-g", "60"],
        ["--from-layer", "5", "--rehearse"],
        ["--from-clock", "90"],
        ["--from-height", "5", "--at", "1"],
        ["--from-layer", "5", "--set-on", "bed"],
        ["--from-layer", "5", "--set-on", "rim"],
    ],
)
def test_wrong_usage(job: Path, args: list[str]) -> None:
    """Options that don't go together end with status 2."""
    assert resume(job, *args).exit_code == 2


def test_where_all_is_homed_nothing_is_set(job: Path) -> None:
    """`--set-on` would not count, and is refused; how high the nozzle may stand does."""
    (job / "studio.yaml").write_text(CONFIG.replace("machine:\n", "machine:\n  home: {z_mm: 290}\n  home_with_piece: all_up\n"))
    ran = typed(
        "run", job / "vase.gcode", "-c", job / "studio.yaml", "-o", job / "h.gcode", "--json", job / "h.json"
    )
    assert ran.exit_code == 0, ran.output
    result = resume(job, "--from-layer", 5, "--lost", "z", "--set-on", "rim", of="h")
    assert result.exit_code == 1
    assert "--set-on would not count" in result.output
    assert resume(job, "--from-layer", 5, "--lost", "z", "--nozzle-below", 40, of="h").exit_code == 0
    assert "stand clear of the wall, at 40.0 mm at most" in " ".join(summary(job)["resume"]["checks"])


def test_a_summary_of_another_kind_is_refused(job: Path) -> None:
    """A file that is none, and one that doesn't say what it was made from."""
    (job / "other.json").write_text("{}")
    assert "no summary" in resume(job, "--from-layer", 5, of="other").output
    bare = {**summary(job, "print"), "origin": None}
    (job / "bare.json").write_text(json.dumps(bare))
    assert "doesn't say what the print was made from" in resume(job, "--from-layer", 5, of="bare").output


def test_an_output_of_it_is_not_run_again(job: Path) -> None:
    """Nor is any other output: a second run is refused, and only `resume` goes on."""
    assert resume(job, "--from-layer", 5).exit_code == 0
    result = typed("run", job / "rest.gcode", "-c", job / "studio.yaml", "-o", job / "twice.gcode")
    assert result.exit_code == 1
    assert "already written by gpost" in result.output


def test_clay_run_out_brings_colours_forward(job: Path) -> None:
    """So many ml of it, and the pause for blue, which is still due, comes so much earlier in the wall."""
    assert resume(job, "--from-layer", 5).exit_code == 0
    before = next(p for p in summary(job)["pauses"] if p["colour"] == "blue")
    assert typed(
        "resume", job / "print.json", "--from-layer", 5, "--run-out", 6, "--left-ml", 80, "-o", job / "out.gcode",
        "--json", job / "out.json",
    ).exit_code == 0  # fmt: skip
    after = next(p for p in summary(job, "out")["pauses"] if p["colour"] == "blue")
    # it is early for the hose alone, which the clay run out before doesn't change
    assert after["height_mm"] == before["height_mm"]
    assert after["clay_ml"] == pytest.approx(before["clay_ml"] + 6, abs=1e-6)


def test_a_refill_comes_where_it_is_due_now(job: Path) -> None:
    """With less in the cartridge than was planned it comes earlier than any pause did."""
    assert resume(job, "--from-layer", 5).exit_code == 0
    planned = summary(job)["pauses"][1]
    assert resume(job, "--from-layer", 5, "--left-ml", 16, name="less").exit_code == 0
    found = summary(job, "less")["pauses"][1]
    assert found["kind"] == "refill"
    assert found["clock_s"] < planned["clock_s"]
    use = summary(job, "less")["cartridges"][0]
    assert use["need_ml"] <= use["usable_ml"] == 6


def test_it_homes_by_the_studios_word_alone(job: Path) -> None:
    """A recipe that says that all may home is refused."""
    (job / "recipe.yaml").write_text("machine: {home_with_piece: all_up}\n")
    configs = ["-c", job / "studio.yaml", "-c", job / "recipe.yaml"]
    result = typed("run", job / "vase.gcode", *configs, "-o", job / "homing.gcode")
    assert result.exit_code == 1
    assert "machine.home_with_piece: all_up" in result.output


@pytest.mark.parametrize("layer", [8, 14, 21])
def test_of_several_colours_those_that_are_on_are_not_due_again(job: Path, layer: int) -> None:
    """Before, between and after two swaps, what is still due is the end of the whole print's pauses."""
    config = CONFIG.replace("- swap: {at_height_mm: 34, colour: blue}",
                            "- swap: {at_height_mm: 28, colour: blue}\n  - swap: {at_height_mm: 42, colour: red}")  # fmt: skip
    (job / "studio.yaml").write_text(config)
    made = typed(
        "run", job / "vase.gcode", "-c", job / "studio.yaml", "-o", job / "two.gcode", "--json", job / "two.json"
    )  # fmt: skip
    assert made.exit_code == 0, made.output
    result = resume(job, "--from-layer", layer, of="two")
    assert result.exit_code == 0, result.output
    due = [p["colour"] for p in summary(job, "two")["pauses"] if p["layer"] > layer]
    assert [p["colour"] for p in summary(job)["pauses"][1:]] == due
    rest, whole = tail(job / "rest.gcode"), (job / "two.gcode").read_text().splitlines()
    assert whole[-len(rest) :] == rest


def test_a_limit_is_one_number(tmp_path: Path) -> None:
    """The same wait is told alike by tally and under the waits, and in a rest by its sheet too: rounded down."""
    job = vase_ran(tmp_path, CONFIG.replace("rim_min: 8", "rim_min: 8, working_min: 58.6") + "  - tally\n")
    whole = summary(job, "print")
    [swap] = [pause for pause in whole["pauses"] if pause["step"] == "swap"]
    limit = math.floor(swap["hose_min"])
    assert swap["hose_min"] - limit > 0.5, "it would be rounded up"
    [note] = [text for text in whole["notes"] if text.startswith("tally: the swap pause")]
    assert f"may last {limit} min if no other waits" in note
    said = " ".join(resume(job, "--from-layer", 5).output.split())
    # a hose that is full holds clay that is as old anywhere in the piece
    assert f"longer than {limit} min the clay in the hose is too stiff" in said


def test_a_hose_that_waited_too_long_is_run_out_whole(job: Path) -> None:
    """`working_min` is 60: after two hours the hose's 12 ml come out at the park."""
    result = resume(job, "--from-layer", 5, "--waited", 120)
    assert result.exit_code == 0, result.output
    assert summary(job)["resume"]["stops"][0]["run_out_ml"] == 12.0
    assert "It has waited 2.0 h, longer than 8 min: score it and mist it" in " ".join(result.output.split())


@pytest.mark.parametrize("way", ["packed", "in place", "asked first"])
def test_however_it_was_run(job: Path, way: str) -> None:
    """A packed file, one that was replaced and one that asks first go on as a plain one, at the same line."""
    vase, number = job / "vase.gcode", len((job / "print.gcode").read_text().splitlines()) // 2
    assert resume(job, "--from-line", number, name="plain").exit_code == 0
    if way == "packed":
        (job / "vase.gcode.gz").write_bytes(gzip.compress(vase.read_bytes()))
        vase = job / "vase.gcode.gz"
    ran = job / "other.gcode" if way != "in place" else vase
    how = ["--in-place"] if way == "in place" else ["-o", ran, *(["--ask-first"] if way == "asked first" else [])]
    again = typed("run", vase, "-c", job / "studio.yaml", *how, "--json", job / "other.json")
    assert again.exit_code == 0, again.output
    number += len(ran.read_text().splitlines()) - len((job / "print.gcode").read_text().splitlines())
    result = resume(job, "--from-line", number, of="other")
    assert result.exit_code == 0, result.output
    assert tail(job / "rest.gcode") == tail(job / "plain.gcode")


@pytest.mark.skipif(os.name != "posix", reason="names are text there")
def test_a_name_that_is_no_text_is_found_again(job: Path) -> None:
    """The summary holds it as text, with the byte written out."""
    vase = Path(os.fsdecode(os.fsencode(job) + b"/v\xff.gcode"))
    try:
        (job / "vase.gcode").rename(vase)
    except OSError:
        pytest.skip("this disk takes no such name")
    how = ("-o", job / "other.gcode", "--json", job / "other.json")
    assert typed("run", vase, "-c", job / "studio.yaml", *how).exit_code == 0
    result = resume(job, "--from-layer", 8, of="other")
    assert result.exit_code == 0, result.output


def test_a_rest_begins_where_it_began(job: Path) -> None:
    """What the file that was run has not laid is not gone on from: the nozzle would go into what stands."""
    assert resume(job, "--from-layer", 8).exit_code == 0
    result = resume(job, "--from-layer", 6, of="rest", name="second")
    assert (result.exit_code, (job / "second.gcode").exists()) == (1, False)
    assert "began above that place" in result.output


def test_a_look_is_not_gone_on_with(job: Path) -> None:
    """A file that only shows the way has laid nothing."""
    looked = typed(
        "resume", job / "print.json", "--from-layer", 8, "--rehearse", "-o", job / "look-rehearsal.gcode",
        "--json", job / "look.json",
    )  # fmt: skip
    assert looked.exit_code == 0, looked.output
    result = resume(job, "--from-layer", 9, of="look")
    assert result.exit_code == 1
    assert "rehearsal" in result.output


@pytest.fixture
def ring(job: Path) -> Path:
    """The folder with a run of rings of radius 40 in quarter-circles too; one of them switches the blower."""
    lines = ["G90", "M82", "G28", "G92 E0", "G1 F1200"]
    for layer in range(6):
        lines.append(f"G1 X190 Y150 Z{2 * layer + 2}")
        for quarter, (x, y, i, j) in enumerate(
            ((150, 190, -40, 0), (110, 150, 0, -40), (150, 110, 40, 0), (190, 150, 0, 40)), 1
        ):
            more = " M106 S90" if (layer, quarter) == (4, 3) else ""
            lines.append(f"G3 X{x} Y{y} I{i} J{j} E{(4 * layer + quarter) * 20}{more}")
    (job / "ring.gcode").write_text("\n".join(lines) + "\n")
    (job / "ring.yaml").write_text(CONFIG.split("steps:")[0] + "steps: [{cold: {move_cold: true}}]\n")
    ran = typed(
        "run", job / "ring.gcode", "-c", job / "ring.yaml", "-o", job / "r.gcode", "--json", job / "r.json"
    )
    assert ran.exit_code == 0, ran.output
    return job


def test_along_an_arc(ring: Path) -> None:
    """Along is measured on the arcs, not on their chords, and the arc is split: a tenth of the third is laid."""
    along_mm = math.pi * 40 + 2 * math.pi
    result = resume(ring, "--from-height", 6, "--along", f"{along_mm:.4f}", of="r")
    assert result.exit_code == 0, result.output
    found = summary(ring)["resume"]
    assert (found["gap_mm"], found["overlap_mm"], found["joint_at_most"]) == (0.0, 0.0, False)
    x, y = 150 - 40 * math.cos(math.radians(9)), 150 - 40 * math.sin(math.radians(9))
    events = run((ring / "rest.gcode").read_bytes())
    arc = next(event for event in events if event.arc)
    assert arc.arc is not None
    assert arc.start_mm == pytest.approx((x, y, 6), abs=1e-3)
    assert arc.end_mm == pytest.approx((150, 110, 6), abs=1e-9)
    assert arc.arc.sweep_rad == pytest.approx(math.radians(81), abs=1e-5)
    assert arc.e_delta_mm == pytest.approx(18, abs=1e-4)


def test_by_the_clock_inside_an_arc(ring: Path) -> None:
    """An arc of 63 mm at 20 mm/s is not gone on at its end; gap and overlap aren't known."""
    clock_s = summary(ring, "r")["layer_table"]["clock_s"][3] + 1.5
    assert resume(ring, "--from-clock", f"0:00:{clock_s:02.0f}" if clock_s < 60 else f"0:01:{clock_s - 60:02.0f}",
                  of="r").exit_code == 0  # fmt: skip
    found = summary(ring)["resume"]
    assert (found["gap_mm"], found["overlap_mm"]) == (None, None)
    assert 0.01 < found["stops"][0]["fraction"] < 0.99


def test_a_line_that_does_more_is_gone_on_from_its_nearer_end(ring: Path) -> None:
    """The third quarter of layer 5 switches the blower too: a third of it laid is 20.94 mm laid twice, two are a gap."""
    quarter_mm = math.pi * 20
    for share, gap_mm, overlap_mm in ((1 / 3, 0.0, quarter_mm / 3), (2 / 3, quarter_mm / 3, 0.0)):
        along = f"{(2 + share) * quarter_mm:.6f}"
        result = resume(ring, "--from-height", 10, "--along", along, of="r", name=f"{share:.1f}")
        assert result.exit_code == 0, result.output
        found = summary(ring, f"{share:.1f}")["resume"]
        assert found["gap_mm"] == pytest.approx(gap_mm, abs=1e-3)
        assert found["overlap_mm"] == pytest.approx(overlap_mm, abs=1e-3)
        said = " ".join(result.output.split())
        assert ("press a coil in" in said) == (gap_mm > 0)
        assert ("Cut the old bead away" in said) == (overlap_mm > 0)
        assert f"gap {gap_mm:.1f} mm, laid twice {overlap_mm:.1f} mm" in said


def test_gap_and_overlap_that_are_not_known_are_bounds(ring: Path) -> None:
    """Without a place in the turn the last turn may be missing; by a layer, all of it may be laid twice."""
    turn_mm = 2 * math.pi * 40
    for args, gap_mm, overlap_mm in ((["--from-height", 6], turn_mm, 0.0), (["--from-layer", 4], 0.0, turn_mm)):
        result = resume(ring, *args, of="r", name=args[0][2:])
        assert result.exit_code == 0, result.output
        found = summary(ring, args[0][2:])["resume"]
        assert (found["layer"], found["joint_at_most"]) == (4, True)
        assert (found["gap_mm"], found["overlap_mm"]) == pytest.approx((gap_mm, overlap_mm), abs=1e-6)
        assert f"up to {turn_mm:.1f} mm" in " ".join(result.output.split())


def lines_from_layer_five(job: Path, of: Path) -> list[str]:
    """The rest of a summary anywhere in the folder."""
    result = typed("resume", of, "--from-layer", 5, "-o", job / "of.gcode", "--json", job / "of.json", "--overwrite")
    assert result.exit_code == 0, result.output
    return tail(job / "of.gcode")


@pytest.mark.parametrize("packs", [False, True])
def test_a_file_of_a_batch_goes_on(job: Path, packs: bool) -> None:
    """Its record beside the output is named; a config of its own over the folder's counts, and a packed file."""
    (job / "in").mkdir()
    data = (job / "vase.gcode").read_bytes()
    name = "vase.gcode.gz" if packs else "vase.gcode"
    (job / "in" / name).write_bytes(gzip.compress(data) if packs else data)
    (job / "in" / "vase.yaml").write_text("cartridge: {first_ml: 80}\n")
    done = typed("batch", job / "in", "-c", job / "studio.yaml", "-o", job / "out", "--jobs", 1)
    assert done.exit_code == 0, done.output
    (job / "own.yaml").write_text("cartridge: {first_ml: 80}\n")
    ran = typed(
        "run", job / "vase.gcode", "-c", job / "studio.yaml", "-c", job / "own.yaml", "-o", job / "own.gcode",
        "--json", job / "own.json",
    )  # fmt: skip
    assert ran.exit_code == 0, ran.output
    rest = lines_from_layer_five(job, job / "out" / f"{name}.gpost.json")
    left_ml = summary(job, "of")["resume"]["stops"][0]["left_ml"]
    assert rest == lines_from_layer_five(job, job / "own.json")
    assert left_ml == summary(job, "of")["resume"]["stops"][0]["left_ml"] < 80


def test_a_record_of_an_earlier_batch_is_made_anew(job: Path) -> None:
    """One that doesn't say what the file was made from can't be gone on with, so the batch does the file again."""
    (job / "in").mkdir()
    (job / "in" / "vase.gcode").write_bytes((job / "vase.gcode").read_bytes())
    do = ("batch", job / "in", "-c", job / "studio.yaml", "-o", job / "out", "--jobs", 1)
    assert typed(*do).exit_code == 0
    record = job / "out" / "vase.gcode.gpost.json"
    record.write_text(json.dumps({**json.loads(record.read_text()), "origin": None}))
    assert typed(*do).exit_code == 0
    assert lines_from_layer_five(job, record)


def test_the_demo_goes_on(job: Path) -> None:
    """By its own summary as by one of a run of it, and not if its recipe was changed since."""
    made = typed("demo", job / "class")
    assert made.exit_code == 0, made.output
    sliced, recipe = job / "class" / "twisted-bottle.gcode", job / "class" / "recipe.yaml"
    assert typed("run", sliced, "-c", recipe, "-o", job / "b.gcode", "--json", job / "b.json").exit_code == 0
    rest = lines_from_layer_five(job, job / "class" / "summary.json")
    assert rest == lines_from_layer_five(job, job / "b.json")
    recipe.write_text(recipe.read_text() + "# changed\n")
    assert rest == lines_from_layer_five(job, job / "class" / "summary.json")
    recipe.write_text(recipe.read_text().replace("volume_ml: ", "volume_ml: 1"))
    result = resume(job, "--from-layer", 5, of="class/summary")
    assert result.exit_code == 1
    assert "recipe.yaml has changed" in result.output


@pytest.mark.parametrize("volume_ml", [36.0, 36.4, 36.8, 37.2, 37.6])
def test_refills_come_where_they_were_due(job: Path, volume_ml: float) -> None:
    """With nothing said of the clay every pause after the stop is where the run has it, wherever it stops."""
    config = CONFIG.replace("park: {x_mm: 15, y_mm: 15}", "park: {x_mm: 15, y_mm: 15}\n  pause: {relieve_ml: 0.5}")
    config = config.replace("  - swap: {at_height_mm: 34, colour: blue}\n", "")
    config = config.replace("volume_ml: 90", f"volume_ml: {volume_ml}")
    (job / "small.yaml").write_text(config)
    ran = typed(
        "run", job / "vase.gcode", "-c", job / "small.yaml", "-o", job / "small.gcode", "--json", job / "small.json"
    )
    assert ran.exit_code == 0, ran.output
    due = [round(pause["height_mm"], 3) for pause in summary(job, "small")["pauses"]]
    assert due
    for layer in range(3, 25, 2):
        result = resume(job, "--from-layer", layer, of="small", name=f"from-{layer}")
        assert result.exit_code == 0, (layer, result.output)
        _, *later = summary(job, f"from-{layer}")["pauses"]
        heights = [round(pause["height_mm"], 3) for pause in later]
        assert heights == due[len(due) - len(heights) :], layer
        assert len(heights) >= sum(height > 2.0 * layer for height in due), layer


def test_the_clock_of_a_rest_begins_with_it(job: Path) -> None:
    """Stopped a second time by the clock: counted as its own summary counts, from the second start on."""
    assert resume(job, "--from-layer", 5).exit_code == 0
    table = summary(job)["layer_table"]
    seconds = int(table["clock_s"][table["layer"].index(11)]) + 2  # when layer 11 is done
    clock = f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
    assert resume(job, "--from-clock", clock, of="rest", name="last").exit_code == 0
    assert summary(job, "last")["resume"]["layer"] == 12


def test_a_summary_for_standard_output_goes_there_once(job: Path) -> None:
    """What is said besides goes to the other one, as for a run."""
    out = job / "rest.gcode"
    result = typed("resume", job / "print.json", "--from-layer", 9, "-o", out, "--summary", "-")
    assert result.exit_code == 0, result.output
    assert [text.count("Before you let it go") for text in (result.stdout, result.stderr)] == [1, 1]
