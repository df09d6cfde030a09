"""`gpost resume`: what must be so before a stopped print goes on, and what its first lines say and send."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import Result

from gpost.config.sheet import TickList
from gpost.steps.recipe import read_recipe
from tests.reference.interpreter import run
from tests.resuming import ran, resume, summary, typed

MACHINE = """
machine:
  bed: {x_max_mm: 300, y_max_mm: 300}
  ceiling_mm: 300
  park: {x_mm: 15, y_mm: 15}
"""
CONFIG = (
    MACHINE
    + """
clay: {metering: {unit: filament, diameter_mm: 1.75}, colour: white}
cartridge: {volume_ml: 90, reserve_ml: 10, line_ml: 12}
steps: [cold: {move_cold: true}]
"""
)
RISE_MM = 2.0
SIDE_MM = 40.0


def rings(layers: int = 10, *, zero_in: int | None = None, words: str = "G92 Z0", head: str = "") -> str:
    """A square tower, laid by absolute words; its zero may be set on the top of a layer, as some scripts do."""
    lines = ["G28", *head.splitlines(), "G21", "G90", "M82", "G92 E0", "G0 Z10 F900", "G0 X130 Y130 F3000"]
    e, x0, y0, z0 = 0.0, 0.0, 0.0, 0.0
    for layer in range(1, layers + 1):
        lines.append(f"G0 Z{RISE_MM * layer - z0:g} F900")
        for x, y in ((170, 130), (170, 170), (130, 170), (130, 130)):
            e += 40
            lines.append(f"G1 X{x - x0:g} Y{y - y0:g} E{e:g} F1200")
        if layer == zero_in:
            lines.append(words)
            x0, y0 = (130, 130) if "X" in words else (0, 0)
            z0 = RISE_MM * layer if "Z" in words else 0.0
    return "\n".join(lines) + "\n"


def tower(folder: Path, program: str, config: str = CONFIG) -> Path:
    """A folder with a run of a program: `print.json`."""
    (folder / "tower.gcode").write_text(program)
    return ran(folder, "tower.gcode", config)


def checks(folder: Path, name: str = "rest") -> str:
    """What the page says, as one text."""
    return " ".join(summary(folder, name)["resume"]["checks"])


def opening(folder: Path, name: str = "rest") -> list[str]:
    """The lines before the rest begins."""
    lines = (folder / f"{name}.gcode").read_text().splitlines()
    return lines[: lines.index("; gpost: resume ends") + 1]


def ok(result: Result) -> Result:
    """A result that is no refusal."""
    assert result.exit_code == 0, result.output
    return result


# -- its clock ---------------------------------------------------------------------------------


def test_its_clock_has_no_way_that_it_does_not_go(tmp_path: Path) -> None:
    """Where it goes on it doesn't go over the wall before (retrace_mm): its time is that of one without."""
    times_s = []
    for name, more in (("plain", ""), ("retraced", "\n  pause: {retrace_mm: 60}")):
        (tmp_path / name).mkdir()
        folder = tower(tmp_path / name, rings(), CONFIG.replace("ceiling_mm: 300", f"ceiling_mm: 300{more}"))
        ok(resume(folder, "--from-layer", 5))
        times_s.append(summary(folder)["time_s"])
    assert times_s[1] == times_s[0]


# -- a zero of the file's own ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "lost", "said"),
    [
        ("G92 Z0", "nothing", "its zero to Z 10.00 mm (line 33)"),
        ("G92 Z0", "nothing", "its display must show Z 10.00 mm less than"),
        ("G92 X0 Y0", "nothing", "its zero to X 130.00, Y 130.00 mm (line 33)"),
        ("G92 X0 Y0 Z0", "nothing", "X 130.00, Y 130.00, Z 10.00 mm"),
        ("G92 X0 Y0 Z0", "z", "its zero to X 130.00, Y 130.00 mm"),
        ("G92 X0 Y0 Z0", "all", None),
        ("G92 Z0", "z", None),
        ("G92 E200", "nothing", None),
    ],
)
def test_a_zero_of_the_files_own_is_told(tmp_path: Path, words: str, lost: str, said: str | None) -> None:
    """What the machine must still count from stands in the page, unless it is taken anew."""
    folder = tower(tmp_path, rings(zero_in=5, words=words.replace("E200", "E800")))
    ok(resume(folder, "--from-height", 14, "--lost", lost))
    if said is None:
        assert "moved its zero" not in checks(folder)
    else:
        assert said in checks(folder)
        assert "write this file anew with --lost" in checks(folder)


def test_no_other_height_on_a_zero_of_the_files_own(tmp_path: Path) -> None:
    """The machine's zero lies where the stopped file put it, so that words for a moved one would go too deep."""
    folder = tower(tmp_path, rings(zero_in=5))
    result = resume(folder, "--from-height", 14.4)
    assert (result.exit_code, (folder / "rest.gcode").exists()) == (1, False)
    assert "set its own zero of Z on line 33" in result.output
    assert "say --lost z" in result.output
    ok(resume(folder, "--from-height", 14.4, "--lost", "z"))


def test_another_height_on_a_zero_that_was_set_before_the_nozzle_came_down(tmp_path: Path) -> None:
    """Such a zero isn't moved: nothing is lost, and the words of the rest are higher by what was measured."""
    folder = tower(tmp_path, rings(head="G90\nG0 Z5\nG92 Z2"))
    ok(resume(folder, "--from-height", 14 + 3 + 0.4))
    assert "its zero to Z 3.00 mm" in checks(folder)
    assert summary(folder)["resume"]["stops"][0]["shift_mm"] == pytest.approx(0.4)
    lines = (folder / "rest.gcode").read_text().splitlines()
    z_mm = [float(line.split("Z")[1].split()[0]) for line in lines[len(opening(folder)) :] if "Z" in line]
    assert z_mm == pytest.approx([16.4, 18.4, 20.4][-len(z_mm) :])
    assert z_mm


# -- levelling ---------------------------------------------------------------------------------


@pytest.mark.parametrize("homes", ["none", "xy", "all_up"])
def test_levelling_is_in_use_after_homing(tmp_path: Path, homes: str) -> None:
    """It is sent once: with the set-up, or behind the last homing, which would switch it off."""
    word = f"machine:\n  home_with_piece: {homes}\n  home: {{z_mm: 290}}\n"
    folder = tower(tmp_path, rings(head="M92 E80\nG29\nM420 S1 Z10"), CONFIG.replace("machine:\n", word))
    ok(resume(folder, "--from-layer", 5))
    lines = opening(folder)
    level = lines.index("M420 S1 Z10")
    assert sum("M420" in line for line in lines) == 1
    homed = [at for at, line in enumerate(lines) if line.startswith("G28")]
    assert level < lines.index("M0") if homes == "none" else max(homed) < level
    assert lines.index("M92 E80") < lines.index("M0")
    assert lines[level + 1].startswith("G0 X15 Y15") or homes == "none"
    assert {"M420 S1 Z10", "M92 E80"} <= {one["command"] for one in summary(folder)["commands"]}


# -- what of a config may change ---------------------------------------------------------------

HOMES = "machine:\n  home_with_piece: xy\n"


def test_what_counts_for_a_rest_alone_may_be_said_then(tmp_path: Path) -> None:
    """Comments too; the summary of the rest is that of the config as it is now, and can be gone on with."""
    folder = tower(tmp_path, rings())
    (folder / "studio.yaml").write_text("# a comment\n" + CONFIG.replace("machine:\n", HOMES))
    ok(resume(folder, "--from-layer", 5))
    assert "G28 X Y" in opening(folder)
    before, after = summary(folder, "print")["origin"], summary(folder)["origin"]
    assert before["rest_sha256"] == after["rest_sha256"]
    assert before["recipe_sha256"] != after["recipe_sha256"]
    assert before["configs"][0]["state"] != after["configs"][0]["state"]
    last = typed("resume", folder / "rest.json", "--from-layer", 7, "-o", folder / "l.gcode", "--json", folder / "l.json")
    ok(last)


@pytest.mark.parametrize(
    "change", [("line_ml: 12", "line_ml: 13"), ("x_mm: 15", "x_mm: 16"), ("move_cold: true", "move_cold: false")]
)
def test_all_else_of_a_config_must_be_as_it_was(tmp_path: Path, change: tuple[str, str]) -> None:
    """Beside a word for the rest alone too; the file is named."""
    folder = tower(tmp_path, rings())
    (folder / "studio.yaml").write_text(CONFIG.replace("machine:\n", HOMES).replace(*change))
    result = resume(folder, "--from-layer", 5)
    assert (result.exit_code, (folder / "rest.gcode").exists()) == (1, False)
    assert "studio.yaml has changed since the print was made from it" in result.output


def test_a_folder_that_was_moved_goes_on_where_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What lies beside the summary is taken, to the same rest; what is there no more, or is another, is refused."""
    yesterday = tmp_path / "yesterday"
    (yesterday / "sliced").mkdir(parents=True)
    tower(yesterday / "sliced", rings())
    tower(yesterday, rings())
    monkeypatch.chdir(yesterday)
    names = ["-c", "studio.yaml", "-o", "print.gcode", "--json", "print.json", "--overwrite"]
    ok(typed("run", "sliced/tower.gcode", *names))
    ok(resume(yesterday, "--from-layer", 5))
    there = (yesterday / "rest.gcode").read_bytes()
    today = yesterday.rename(tmp_path / "today")
    (today / "rest.gcode").unlink()
    (today / "rest.json").unlink()
    monkeypatch.chdir(tmp_path)
    ok(resume(today, "--from-layer", 5))
    assert (today / "rest.gcode").read_bytes() == there
    (today / "sliced" / "tower.gcode").rename(today / "tower.gcode")
    ok(resume(today, "--from-layer", 5, "--overwrite"))
    with (today / "tower.gcode").open("a") as file:
        file.write("; another\n")
    result = resume(today, "--from-layer", 5, "--overwrite")
    assert "sliced/tower.gcode has changed since the print was made from it" in " ".join(result.output.split())
    (today / "tower.gcode").unlink()
    result = resume(today, "--from-layer", 5, "--overwrite")
    assert result.exit_code == 1
    words = " ".join(result.output.split())
    assert words.startswith("Error: sliced/tower.gcode, which the print was made from, can't be read: No such file")
    place = yesterday / "sliced" / "tower.gcode"
    assert words.endswith(f"; bring it back to where it lay, {place}, or put it beside the summary")


def test_a_summary_of_before_takes_its_configs_as_they_were(tmp_path: Path) -> None:
    """It doesn't tell what they meant: any change is refused, and none is needed."""
    folder = tower(tmp_path, rings())
    said = summary(folder, "print")
    del said["origin"]["rest_sha256"]
    (folder / "print.json").write_text(json.dumps(said))
    ok(resume(folder, "--from-layer", 5))
    (folder / "studio.yaml").write_text(CONFIG + "# a comment\n")
    assert "studio.yaml has changed since" in resume(folder, "--from-layer", 6, name="second").output


IN_OTHER_WORDS = """
import sys
from gpost import words
said = words.written()
said = {**said, "ticks": {key: f"{text}!" for key, text in said["ticks"].items()}}
words.written = lambda: said
from gpost.cli import cli
cli(sys.argv[1:])
"""


def test_other_words_make_no_other_print(tmp_path: Path) -> None:
    """What only a reader sees is not compared, whether the words differ or the config's own ticks."""
    folder = tower(tmp_path, rings())
    args = ["resume", "print.json", "--from-layer", "5", "-o", "rest.gcode", "--json", "rest.json"]
    done = subprocess.run(
        [sys.executable, "-c", IN_OTHER_WORDS, *args], cwd=folder, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert summary(folder)["ticks"]["during"][0].endswith("!")
    ok(resume(folder, "--from-layer", 7, of="rest", name="second"))
    (folder / "studio.yaml").write_text(CONFIG + "sheet: {before: [roll the slab], rest: {before: [the kettle is on]}}\n")
    ok(resume(folder, "--from-layer", 5, name="third"))
    assert summary(folder, "third")["ticks"]["before"] == ["the kettle is on"]


@pytest.mark.parametrize("ticks", [[], ["the board is clamped tight"]])
def test_a_summary_of_before_holds_the_ticks_in_its_prints(tmp_path: Path, ticks: list[str]) -> None:
    """It goes on with other words too: they are taken from the summary, and all else is compared."""
    folder = tower(tmp_path, rings())
    recipe = read_recipe([], studio=[folder / "studio.yaml"])
    said = summary(folder, "print")
    said["ticks"]["before"] = ticks
    before = recipe.as_before(TickList(**said["ticks"]))
    assert before[0] not in (recipe.fingerprint, recipe.of_print)
    said["origin"] |= {"recipe_sha256": before[0], "rest_sha256": before[1]}
    (folder / "print.json").write_text(json.dumps(said))
    ok(resume(folder, "--from-layer", 5))
    assert summary(folder)["origin"]["rest_sha256"] == recipe.for_a_rest
    (folder / "studio.yaml").write_text("# a comment\n" + CONFIG)
    ok(resume(folder, "--from-layer", 5, name="second"))
    (folder / "studio.yaml").write_text(CONFIG.replace("line_ml: 12", "line_ml: 13"))
    assert "studio.yaml has changed since" in resume(folder, "--from-layer", 6, name="third").output


def test_homing_of_a_recipe_is_no_studios_word(tmp_path: Path) -> None:
    """What the studio alone may say is refused in a recipe once the print has stopped, too."""
    folder = tower(tmp_path, rings())
    (folder / "recipe.yaml").write_text("cartridge: {line_ml: 12}\n")
    configs = ["-c", folder / "studio.yaml", "-c", folder / "recipe.yaml"]
    ok(typed("run", folder / "tower.gcode", *configs, "-o", folder / "two.gcode", "--json", folder / "two.json"))
    (folder / "recipe.yaml").write_text("cartridge: {line_ml: 12}\nmachine: {home_with_piece: xy}\n")
    result = typed("resume", folder / "two.json", "--from-layer", 5, "-o", folder / "r.gcode", "--json", folder / "r.json")
    assert (result.exit_code, (folder / "r.gcode").exists()) == (1, False)
    words = " ".join(result.output.split())
    assert "recipe.yaml has changed" in words
    assert "and, in the studio's own file, machine: home_with_piece" in words


# -- how it begins -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("homes", "args", "shown", "said"),
    [
        ("none", [], "Not moved: go on", "the machine must know its place: "),
        ("none", ["--lost", "z"], "Tip on rim: go on", "the tip must be on the rim: "),
        ("none", ["--lost", "all"], "Tip on rim: go on", "the tip must be on the rim: "),
        ("none", ["--lost", "z", "--set-on", "bed"], "Tip on bed: go on", "the tip must be on the bed: "),
        ("xy", [], "Homes XY, goes on", "it homes X and Y: "),
        ("xy", ["--lost", "all"], "Tip on rim: homes XY", "the tip must be on the rim, it homes X and Y: "),
        ("xy", ["--lost", "all", "--set-on", "bed"], "Tip on bed: homes XY", "the tip must be on the bed, it homes X"),
        ("all_up", ["--lost", "all"], "Homes all, goes on", "it homes all axes: "),
        ("none", ["--rehearse"], "REHEARSAL: look", "REHEARSAL, the machine must know its place: "),
        ("none", ["--lost", "z", "--rehearse"], "REHEARSAL tip on rim", "REHEARSAL, the tip must be on the rim: "),
    ],
)
def test_how_it_begins_is_shown(tmp_path: Path, homes: str, args: list[str], shown: str, said: str) -> None:
    """One file is told from another at the machine: on a display of 20 letters, and in the first lines."""
    word = f"machine:\n  home_with_piece: {homes}\n  home: {{z_mm: 290}}\n"
    folder = tower(tmp_path, rings(), CONFIG.replace("machine:\n", word))
    ok(resume(folder, "--from-layer", 5, *args, name="rehearsal"))
    lines = opening(folder, "rehearsal")
    assert lines[lines.index("M0") - 1] == f"M117 {shown}"
    assert len(shown) <= 20
    assert next(line for line in lines if "resume: " in line).startswith(f"; gpost: resume: {said}")
    assert lines.index(next(line for line in lines if "resume: " in line)) <= 1


# -- what is sent before the wait --------------------------------------------------------------


@pytest.mark.parametrize("again", [False, True])
def test_who_ends_it_at_the_wait_has_a_machine_as_it_was(tmp_path: Path, again: bool) -> None:
    """Relative moves come after it; what holds motors, which some machines read as off, at the park alone."""
    manner = f"machine:\n  pause: {{hold_again: {str(again).lower()}}}\n"
    folder = tower(tmp_path, rings(), CONFIG.replace("machine:\n", manner))
    ok(resume(folder, "--from-layer", 5))
    lines = opening(folder)
    wait = lines.index("M0")
    assert not {"G91", "M84 S0"} & set(lines[:wait])
    assert lines[wait + 1] == "G91"
    assert lines.count("M84 S0") == again
    if again:
        park = next(at for at, line in enumerate(lines) if line.startswith("G0 X15 Y15"))
        assert park < lines.index("M84 S0") < len(lines) - 1 - lines[::-1].index("M0")
    assert "M84 S0 (machine: pause: hold) is not sent before the first wait" in checks(folder)


@pytest.mark.parametrize(
    ("homes", "before"), [("none", "before the nozzle is set,"), ("xy", "before the nozzle is set,"), ("all_up", "before you let it go,")]
)
def test_motors_are_held_before_what_the_potter_does(tmp_path: Path, homes: str, before: str) -> None:
    """Where all axes home nobody sets the nozzle."""
    manner = f"machine:\n  home_with_piece: {homes}\n  home: {{z_mm: 290}}\n"
    folder = tower(tmp_path, rings(), CONFIG.replace("machine:\n", manner))
    ok(resume(folder, "--from-layer", 5, "--lost", "all"))
    [held] = [text for text in summary(folder)["resume"]["checks"] if "is not sent before the first wait" in text]
    assert f"switch the motors on, or prop the axis, {before}" in held


# -- what is said of the clay ------------------------------------------------------------------


@pytest.mark.parametrize("left", ["--left-ml", "--left-g"])
@pytest.mark.parametrize("came", ["--came-ml", "--came-g"])
def test_left_and_come_are_not_said_both(tmp_path: Path, left: str, came: str) -> None:
    """Of 40 ml 5 that came leave 35, whatever else is said to be left."""
    folder = tower(tmp_path, rings())
    result = resume(folder, "--from-layer", 5, left, 20, came, 5)
    assert result.exit_code == 2
    assert "not both" in " ".join(result.output.split())


@pytest.mark.parametrize(("came", "gave"), [(("--came-g", 113), "113 g (61 ml)"), (("--came-ml", 61), "61 ml")])
def test_what_can_not_have_come_is_told_as_it_was_said(tmp_path: Path, came: tuple[object, ...], gave: str) -> None:
    """By weight, too: 61 ml of 1.86 g each, of the 14 ml that were told to load."""
    folder = tower(tmp_path, rings())
    result = resume(folder, "--from-layer", 5, *came)
    assert result.exit_code == 1
    held = "26 g (14 ml)" if came[0] == "--came-g" else "14 ml"
    assert f"can't have given {gave}: loaded as was told it held {held};" in " ".join(result.output.split())


# -- axes that have not homed ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("homes", "lost", "axes"),
    [
        ("none", "nothing", None),
        ("none", "z", "Z"),
        ("none", "all", "X, Y and Z"),
        ("xy", "all", "Z"),
        ("xy", "nothing", None),
        ("all_up", "all", None),
    ],
)
def test_moves_of_an_axis_that_has_not_homed(tmp_path: Path, homes: str, lost: str, axes: str | None) -> None:
    """They may be ignored, so they are tried off the piece; where all is known or homed nothing is said."""
    word = f"machine:\n  home_with_piece: {homes}\n  home: {{z_mm: 290}}\n"
    folder = tower(tmp_path, rings(), CONFIG.replace("machine:\n", word))
    ok(resume(folder, "--from-layer", 5, "--lost", lost))
    if axes is None:
        assert "will not be homed" not in checks(folder)
    else:
        found = summary(folder)["resume"]["checks"]
        assert [text for text in found if text.startswith(f"{axes} will not be homed")]
        assert "off the piece" in checks(folder)


# -- the way down ------------------------------------------------------------------------------


def test_it_comes_straight_down_on_the_place(tmp_path: Path) -> None:
    """Whatever wall pauses go over again: nothing is touched before the place, and the page says so."""
    manner = "machine:\n  pause: {retrace_mm: 30, retrace_gives: true}\n"
    folder = tower(tmp_path, rings(), CONFIG.replace("machine:\n", manner))
    ok(resume(folder, "--from-height", 8, "--at", "170,160"))
    events = run((folder / "rest.gcode").read_bytes())[: len(opening(folder))]
    moves = [event for event in events if event.kind == "move" and event.path_mm > 0]
    x, y, z = moves[-1].end_mm
    assert (x, y, z) == pytest.approx((170, 160, 8), abs=1e-3)
    low = [event for event in moves[1:] if event.end_mm[2] < z + 2]
    assert low
    assert all(event.start_mm[:2] == event.end_mm[:2] == (x, y) for event in low)
    assert "It doesn't go over the wall before it again" in checks(folder)


# -- heights of a rest that is laid higher -----------------------------------------------------


def test_heights_are_those_of_what_is_laid(tmp_path: Path) -> None:
    """Top, pauses and layers are with the measured top, twice too; without one they are the file's."""
    config = CONFIG.replace("cold: {move_cold: true}", "cold: {move_cold: true}, remind: {at_heights_mm: [16], how: pause}")
    folder = tower(tmp_path, rings(), config)
    ok(resume(folder, "--from-height", 8, name="same"))
    ok(resume(folder, "--from-height", 8.4, name="high"))
    same, high = summary(folder, "same"), summary(folder, "high")
    assert same["height_mm"] == 20
    assert high["height_mm"] == pytest.approx(20.4, abs=1e-6)
    assert high["piece"]["outside_wet"]["height_mm"] == pytest.approx(20.4, abs=1e-6)
    assert len(high["pauses"]) == 2
    heights = [(a["height_mm"], b["height_mm"]) for a, b in zip(same["pauses"], high["pauses"], strict=True)]
    heights += zip(same["layer_table"]["height_mm"], high["layer_table"]["height_mm"], strict=True)
    assert all(b - a == pytest.approx(0.4, abs=1e-6) for a, b in heights)
    last = typed(
        "resume", folder / "high.json", "--from-height", 12.7, "-o", folder / "l.gcode", "--json", folder / "l.json"
    )
    ok(last)
    assert summary(folder, "l")["height_mm"] == pytest.approx(20.7, abs=1e-6)
    z = max(event.end_mm[2] for event in run((folder / "l.gcode").read_bytes()) if event.lays_clay)
    assert z == pytest.approx(20.7, abs=2e-3)


# -- a clay that nobody asked for there --------------------------------------------------------


@pytest.mark.parametrize(
    ("args", "shows_ml"),
    [
        (["--hose-holds", "red"], 12),
        (["--hose-holds", "red", "--run-out", 5, "--left-ml", 80], 7),
        (["--hose-holds", "red", "--run-out", 12, "--left-ml", 80], None),
        (["--hose-holds", "white"], None),
        ([], None),
    ],
)
def test_another_clay_in_the_hose_is_told(tmp_path: Path, args: list[object], shows_ml: int | None) -> None:
    """With a swap too: so much of it is laid, but for what is run out, where white was to come."""
    swap = "cold: {move_cold: true}, swap: {at_height_mm: 16, colour: blue}"
    folder = tower(tmp_path, rings(), CONFIG.replace("cold: {move_cold: true}", swap).replace("1.75", "7"))
    ok(resume(folder, "--from-height", 8, *args))
    if shows_ml is None:
        assert "shows in the first" not in checks(folder)
    else:
        assert f"red shows in the first {shows_ml} ml of the wall, where white was to come" in checks(folder)


def test_registers_are_said_to_five_decimals(tmp_path: Path) -> None:
    """The noise of sums of floats is no place."""
    folder = tower(tmp_path, rings().replace("X170 Y170", "X170.457 Y171.123"))
    ok(resume(folder, "--from-height", 8.0123, "--at", "157.37,170.123", "--lost", "all"))
    register = next(line for line in opening(folder) if line.startswith("G92 X"))
    assert all(len(word.partition(".")[2]) <= 5 for word in register.split())
    assert register.endswith("Z8.112")


@pytest.mark.parametrize(("version", "said"), [("0.0.9", "gpost 0.0.9 made the file, and this is"), (None, "--steps-from")])
def test_steps_that_work_in_another_way_are_told_with_the_gpost_that_made_the_file(
    tmp_path: Path, version: str | None, said: str
) -> None:
    """What to do is to go on with the same: of another version its number is said, so that it can be had."""
    folder = tower(tmp_path, rings())
    made = summary(folder, "print")
    made["origin"] |= {"recipe_sha256": "0" * 64, "rest_sha256": "0" * 64}
    made["gpost_version"] = version or made["gpost_version"]
    (folder / "print.json").write_text(json.dumps(made))
    result = resume(folder, "--from-layer", 5)
    assert result.exit_code == 1
    assert said in " ".join(result.output.split())
    assert not (folder / "rest.gcode").exists()


# -- a nozzle that is set by hand --------------------------------------------------------------


@pytest.mark.parametrize(
    ("homes", "lost", "by_hand"), [("none", "all", True), ("none", "z", False), ("xy", "all", False)]
)
def test_a_place_that_is_set_by_hand_is_looked_for(tmp_path: Path, homes: str, lost: str, by_hand: bool) -> None:
    """No display says where it is then: whole mm are told, and what it does to stand beside it."""
    folder = tower(tmp_path, rings(), CONFIG.replace("machine:\n", f"machine:\n  home_with_piece: {homes}\n"))
    ok(resume(folder, "--from-layer", 5, "--lost", lost))
    assert ("above the end of the bead, about x 130, y 130 mm, whose height is 8.00 mm" in checks(folder)) == by_hand
    assert ("above the place x 130.0, y 130.0 mm" in checks(folder)) != by_hand
    assert ("It is taken for all three axes: by as much as it stands beside" in checks(folder)) == by_hand


# -- places that no homing gives back ----------------------------------------------------------

BY_HAND = "G92 X0 Y0 Z0"
"""Where the nozzle was put by hand, as a machine without switches is set up."""


def by_hand(folder: Path, head: str, homes: str = "none") -> Path:
    """A run of a tower whose file begins so, and homes nowhere else."""
    home = "  home: {z_mm: 290}\n" if homes == "all_up" else ""
    config = CONFIG.replace("machine:\n", f"machine:\n{home}  home_with_piece: {homes}\n")
    return tower(folder, head + rings().replace("G28\n", ""), config)


@pytest.mark.parametrize(
    ("head", "lost", "told"),
    [
        (f"{BY_HAND}\n", "nothing", True),
        (f"{BY_HAND}\n", "z", True),
        (f"{BY_HAND}\n", "all", False),
        (f"G28\n{BY_HAND}\n", "z", False),
        (f"G28 Z\n{BY_HAND}\n", "z", True),
        ("G28 X Y\nG92 Z0\n", "z", False),
        ("G92 E0\n", "z", False),
        ("", "z", False),
    ],
)
def test_places_set_by_hand_are_given_back_by_all_alone(tmp_path: Path, head: str, lost: str, told: bool) -> None:
    """Of a file that counts X and Y from where it was begun, and whose machine may have been switched off."""
    folder = by_hand(tmp_path, head)
    ok(resume(folder, "--from-layer", 5, "--lost", lost))
    assert ("takes X and Y from where the nozzle was put by hand" in checks(folder)) == told
    assert ("--lost all alone gives these places back" in checks(folder)) == told
    assert "--lost z or all" not in checks(folder)


@pytest.mark.parametrize(("words", "anew"), [("G92 Z0", "z or all"), ("G92 X0 Y0", "all"), ("G92 X0 Y0 Z0", "all")])
def test_what_takes_a_moved_zero_anew_is_named(tmp_path: Path, words: str, anew: str) -> None:
    """With --lost z the height alone is taken anew: of X and Y it would keep what the machine counts."""
    folder = tower(tmp_path, rings(zero_in=5, words=words))
    ok(resume(folder, "--from-height", 14))
    assert f"write this file anew with --lost {anew}:" in checks(folder)


@pytest.mark.parametrize(
    ("head", "homes", "refused"),
    [
        (f"{BY_HAND}\n", "xy", True),
        (f"{BY_HAND}\n", "all_up", True),
        (f"G28\n{BY_HAND}\n", "xy", False),
        ("G28 X Y\nG92 Z0\n", "xy", False),
        ("G28 X Y\nG92 Z0\n", "all_up", True),
        ("", "xy", False),
    ],
)
def test_no_homing_where_the_zero_was_set_by_hand(tmp_path: Path, head: str, homes: str, refused: bool) -> None:
    """The machine's own zero lies elsewhere, nobody knows where, and the rest would be laid there."""
    folder = by_hand(tmp_path, head, homes)
    result = resume(folder, "--from-layer", 5)
    assert (result.exit_code, (folder / "rest.gcode").exists()) == (int(refused), not refused), result.output
    assert ("where the nozzle was put by hand" in " ".join(result.output.split())) == refused


# -- the blower --------------------------------------------------------------------------------


def test_every_blower_of_the_file_is_off_at_the_first_wait(tmp_path: Path) -> None:
    """M106 with a P is another blower, which M107 doesn't stop (common practice): each is off, then as it was."""
    folder = tower(tmp_path, rings(head="M106 P2 S90\nM106 P3 S7\nM106 S40\nM107 P3"))
    ok(resume(folder, "--from-layer", 5))
    lines = opening(folder)
    air = [line for line in lines if line.startswith(("M106", "M107"))]
    assert air == ["M107", "M106 P2 S0", "M106 S40", "M106 P2 S90"]
    assert lines.index("M106 P2 S0") < lines.index("M0") < lines.index("M106 P2 S90")


def test_a_fan_that_sets_the_blower_has_no_others(tmp_path: Path) -> None:
    """The file's own commands are silenced then, so that none of its blowers blows."""
    config = CONFIG.replace("steps: [", "steps: [fan: {bands: [{from_layer: 2, level_percent: 40}]}, ")
    folder = tower(tmp_path, rings(head="M106 P2 S90"), config)
    ok(resume(folder, "--from-layer", 5))
    assert [line for line in opening(folder) if line.startswith("M10")] == ["M107", "M106 S102"]


RELAY = "machine:\n  air: {on: 'M42 P4 S<level>', off: M42 P4 S0, full: 1}\n"


@pytest.mark.parametrize(
    ("layer", "asked"),
    [
        (3, "30"),  # what it goes on with
        (5, "40"),  # asked for there
        (7, "40"),
        (9, None),  # on, which a relay knows; all else has been
    ],
)
def test_levels_that_have_been_are_no_warning_of_a_rest(tmp_path: Path, layer: int, asked: str | None) -> None:
    """A relay can't be set to 30 or 40 %: told where one of them is still to blow, with the first of them."""
    bands = ", ".join(f"{{from_layer: {at}, level_percent: {percent}}}" for at, percent in ((2, 30), (5, 40), (8, 100)))
    config = CONFIG.replace("machine:\n", RELAY).replace("steps: [", f"steps: [fan: {{bands: [{bands}]}}, ")
    folder = tower(tmp_path, rings(), config)
    ok(resume(folder, "--from-layer", layer))
    told = [text for text in summary(folder)["warnings"] if "air-level" in text]
    assert [f"asks the blower for {asked} %" in text for text in told] == ([] if asked is None else [True])
