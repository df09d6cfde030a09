"""`gpost run`: every ending has its exit status and its sentence, and leaves the right files."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest
from click.testing import Result

from gpost import calls
from tests.shipped_schema import published_schema

Gpost = Callable[..., Result]


def outputs(folder: Path) -> set[str]:
    """What is in the folder beside what the fixtures put there."""
    return {path.name for path in folder.iterdir()} - {"vase.gcode", "studio.yaml", "steps"}


def test_output_and_summary(run_vase: Gpost, tmp_path: Path) -> None:
    """Status 0: the output is there, and the summary in words is on standard output."""
    result = run_vase("-o", "out.gcode")
    assert (result.exit_code, result.stderr) == (0, "")
    head = "".join(result.stdout.partition(" layers")[0].split())
    assert head == f"{tmp_path}/vase.gcode->out.gcode6"
    assert "layer 3, 6.0 mm: look, to look at the base" in result.stdout
    assert outputs(tmp_path) == {"out.gcode"}
    assert b"M0" in (tmp_path / "out.gcode").read_bytes()


def test_json_summary(run_vase: Gpost, tmp_path: Path) -> None:
    """The summary as JSON fits the published schema and names the pause's line in the output."""
    assert run_vase("-o", "out.gcode", "--json", "out.json").exit_code == 0
    summary = json.loads((tmp_path / "out.json").read_text())
    jsonschema.Draft202012Validator(published_schema()).validate(summary)
    assert (summary["output"], summary["steps"], summary["layers"]) == ("out.gcode", ["look"], 6)
    [pause] = summary["pauses"]
    lines = (tmp_path / "out.gcode").read_text().splitlines()
    assert summary["output_lines"] == len(lines)
    assert any(line.startswith("M0") for line in lines[pause["output_line"] - 1 :])
    assert not any(line.startswith("M0") for line in lines[: pause["output_line"] - 1])


def test_it_can_ask_first(run_vase: Gpost, tmp_path: Path) -> None:
    """--ask-first: before the file's first line it shows the clay and waits; the summary has the wait at 0:00."""
    assert run_vase("-o", "out.gcode", "--json", "out.json", "--ask-first").exit_code == 0
    lines = (tmp_path / "out.gcode").read_text().splitlines()
    assert lines[2].startswith("M117 In: ")
    assert lines[3].startswith("M0")
    assert lines[5] == (tmp_path / "vase.gcode").read_text().splitlines()[0]
    summary = json.loads((tmp_path / "out.json").read_text())
    jsonschema.Draft202012Validator(published_schema()).validate(summary)
    first = summary["pauses"][0]
    assert (first["kind"], first["clock_s"], first["layer"], first["output_line"]) == ("ask", 0, 0, 2)


def test_json_to_standard_output(run_vase: Gpost) -> None:
    """`--json -` puts the JSON alone on standard output, and the words on standard error."""
    result = run_vase("-o", "out.gcode", "--json", "-")
    assert json.loads(result.stdout)["output"] == "out.gcode"
    assert "When to be at the machine" in result.stderr


def test_output_to_standard_output(run_vase: Gpost, tmp_path: Path) -> None:
    """`-o -` puts the file alone on standard output, byte for byte, and the words on standard error."""
    assert run_vase("-o", "out.gcode").exit_code == 0
    result = run_vase("-o", "-")
    assert result.exit_code == 0
    assert result.stdout_bytes == (tmp_path / "out.gcode").read_bytes()
    assert "When to be at the machine" in result.stderr


def test_standard_input(gpost: Gpost, sliced: Path, config: Path, steps: Path, tmp_path: Path) -> None:
    """`-` reads the sliced file from standard input; it makes the same moves as the named file."""
    common = ("-c", config, "--steps-from", steps)
    assert gpost("run", "-", *common, "-o", "piped.gcode", stdin=sliced.read_bytes()).exit_code == 0
    assert gpost("run", sliced, *common, "-o", "named.gcode").exit_code == 0
    piped, named = ((tmp_path / name).read_bytes() for name in ("piped.gcode", "named.gcode"))
    assert piped == named.replace(b"vase.gcode", b"standard-input.gcode")


def test_without_config(gpost: Gpost, sliced: Path, tmp_path: Path) -> None:
    """With --no-config gpost takes its defaults and changes nothing in the file's lines; forgotten, -c is asked for."""
    forgotten = gpost("run", sliced, "-o", "out.gcode")
    assert (forgotten.exit_code, (tmp_path / "out.gcode").exists()) == (2, False)
    assert "gpost can't know your machine, clay and cartridge" in " ".join(forgotten.stderr.split())
    both = gpost("run", sliced, "-o", "out.gcode", "-c", "a.yaml", "--no-config")
    assert (both.exit_code, "leave one of them out" in both.stderr) == (2, True)
    result = gpost("run", sliced, "-o", "out.gcode", "--long", "--no-config")
    assert result.exit_code == 0
    assert result.stderr == ""
    assert "none; the file is as it was" in result.stdout
    assert set(sliced.read_bytes().splitlines()) <= set((tmp_path / "out.gcode").read_bytes().splitlines())


def test_later_config_overrides(run_vase: Gpost, tmp_path: Path) -> None:
    """`-c` may be given several times, and the later file wins."""
    (tmp_path / "piece.yaml").write_text("steps: [{look: {at_layer: 5}}]\n")
    result = run_vase("-c", tmp_path / "piece.yaml", "-o", "out.gcode")
    assert "layer 5, 10.0 mm: look" in result.stdout


def test_in_place(run_vase: Gpost, sliced: Path, tmp_path: Path) -> None:
    """`--in-place` replaces the sliced file itself, with what another output would have been; that is kept."""
    before = sliced.read_bytes()
    assert run_vase("-o", "out.gcode").exit_code == 0
    assert run_vase("--in-place").exit_code == 0
    assert sliced.read_bytes() == (tmp_path / "out.gcode").read_bytes()
    assert (tmp_path / "vase.sliced.gcode").read_bytes() == before
    assert outputs(tmp_path) == {"out.gcode", "vase.sliced.gcode"}


def test_overwrite(run_vase: Gpost, tmp_path: Path) -> None:
    """`--overwrite` replaces output and summary."""
    for name in ("out.gcode", "out.json"):
        (tmp_path / name).write_text("old")
    assert run_vase("-o", "out.gcode", "--json", "out.json", "--overwrite").exit_code == 0
    assert all((tmp_path / name).read_text() != "old" for name in ("out.gcode", "out.json"))


def test_source_is_never_changed(run_vase: Gpost, sliced: Path) -> None:
    """A run leaves the source byte for byte as it was."""
    before = sliced.read_bytes()
    run_vase("-o", "out.gcode")
    assert sliced.read_bytes() == before


USAGE = [
    ((), "say where to write"),
    (("-o", "out.gcode", "--in-place"), "either -o OUT or --in-place"),
    (("-o", "-", "--json", "-"), "only one thing can go to standard output"),
    (("-o", "-", "--page", "-"), "only one thing can go to standard output"),
    (("-o", "out.gcode", "--summary", "-", "--page", "-"), "only one thing can go to standard output"),
    (("-o", "out.gcode", "--json", "out.gcode"), "the summary needs a file of its own"),
    (("-o", "out.gcode", "--jason", "x"), "No such option"),
]


@pytest.mark.parametrize(("args", "sentence"), USAGE)
def test_wrong_usage(run_vase: Gpost, tmp_path: Path, args: tuple[str, ...], sentence: str) -> None:
    """Status 2: options that don't go together are refused, and nothing is written."""
    result = run_vase(*args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert sentence in result.stderr
    assert outputs(tmp_path) == set()


def test_standard_input_in_place(gpost: Gpost) -> None:
    """Status 2: standard input can't be replaced."""
    result = gpost("run", "-", "--in-place")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "standard input can't be replaced" in result.stderr


def test_missing_source(gpost: Gpost) -> None:
    """Status 2: a source that is not there is named; its name can't steer the terminal."""
    result = gpost("run", "a\x1b[31m.gcode", "-o", "out.gcode", "--no-config")
    assert (result.exit_code, result.stdout) == (2, "")
    assert r"a\x1b[31m.gcode" in result.stderr
    assert "\x1b" not in result.stderr


def test_wrong_config(run_vase: Gpost, config: Path, tmp_path: Path) -> None:
    """Status 2: a wrong config is told with file, line and key, and nothing is written."""
    config.write_text("machine:\n  nozle_mm: 4\n")
    result = run_vase("-o", "out.gcode")
    assert (result.exit_code, result.stdout) == (2, "")
    assert f"Error: {config}:2:3: machine.nozle_mm: " in result.stderr
    assert "nozzle_mm" in result.stderr
    assert outputs(tmp_path) == set()


def test_several_config_problems(run_vase: Gpost, config: Path) -> None:
    """Status 2: all problems are told at once, one a line."""
    config.write_text("machine:\n  nozle_mm: 4\nclay:\n  water_percent: -1\nsteps: [glace]\n")
    result = run_vase("-o", "out.gcode")
    assert result.exit_code == 2
    assert result.stderr.startswith(f"Error:\n{config}:2:")
    assert f"\n{config}:4:" in result.stderr


def test_unknown_step(run_vase: Gpost, config: Path) -> None:
    """Status 2: a step that is not there is told with its line."""
    config.write_text("steps:\n  - glace\n")
    result = run_vase("-o", "out.gcode")
    assert (result.exit_code, result.stdout) == (2, "")
    assert f'{config}:2:5: steps[1]: there is no step "glace"' in result.stderr


def test_source_that_cannot_be_followed(run_vase: Gpost, sliced: Path, tmp_path: Path) -> None:
    """Status 1: a source beyond what can be known ahead is told with its line, and nothing is written."""
    sliced.write_text("G1 X1\nG1 X[#3 + 1]\n")
    result = run_vase("-o", "out.gcode")
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.startswith(f"Error: {sliced}, line 2: ")
    assert outputs(tmp_path) == set()


def test_plan_that_cannot_be_done(run_vase: Gpost, config: Path, tmp_path: Path) -> None:
    """Status 1: a step that can't do the piece ends the run with its own, harmless sentence."""
    config.write_text("steps: [{look: {fail: plan}}]\n")
    result = run_vase("-o", "out.gcode", "--json", "out.json")
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr == "Error: look: the piece is too \\x1b[31mgood to stop\n"
    assert outputs(tmp_path) == set()


def test_step_that_crashes(run_vase: Gpost, config: Path, tmp_path: Path) -> None:
    """Status 1: a fault in a step is told as the step's, without a traceback."""
    config.write_text("steps: [{look: {fail: crash}}]\n")
    result = run_vase("-o", "out.gcode")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "step look failed: ZeroDivisionError: one over nothing" in result.stderr
    assert "Traceback" not in result.stderr
    assert outputs(tmp_path) == set()


def test_output_that_exists(run_vase: Gpost, tmp_path: Path) -> None:
    """Status 1: a file in the way is kept."""
    (tmp_path / "out.gcode").write_text("old")
    result = run_vase("-o", "out.gcode")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "out.gcode exists already; choose another name, or say --overwrite" in result.stderr
    assert (tmp_path / "out.gcode").read_text() == "old"


def test_output_that_is_the_source(run_vase: Gpost, sliced: Path) -> None:
    """Status 1: the source is not overwritten, not even with --overwrite."""
    before = sliced.read_bytes()
    result = run_vase("-o", sliced, "--overwrite")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "is the sliced file itself" in result.stderr
    assert sliced.read_bytes() == before


@pytest.mark.parametrize("name", ["vase.gcode", "same.json"])
def test_summary_in_the_way(run_vase: Gpost, sliced: Path, tmp_path: Path, name: str) -> None:
    """Status 1: the summary may neither replace the source nor the output by another name for it."""
    before = sliced.read_bytes()
    (tmp_path / "same.json").symlink_to(tmp_path / "out.gcode")
    result = run_vase("-o", "out.gcode", "--json", name, "--overwrite")
    assert (result.exit_code, result.stdout) == (1, "")
    assert sliced.read_bytes() == before
    assert not (tmp_path / "out.gcode").exists()


def test_summary_that_cannot_be_written_is_refused_first(run_vase: Gpost, tmp_path: Path) -> None:
    """Status 1: a summary without a place is refused before the output is written."""
    result = run_vase("-o", "out.gcode", "--json", "away/out.json")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "away doesn't exist; make it first" in result.stderr
    assert outputs(tmp_path) == set()


def test_second_run_over_an_output(run_vase: Gpost, gpost: Gpost, config: Path, steps: Path) -> None:
    """Status 1: an output of gpost is not taken for a sliced file."""
    assert run_vase("-o", "out.gcode").exit_code == 0
    result = gpost("run", "out.gcode", "-c", config, "--steps-from", steps, "-o", "again.gcode")
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.startswith("Error: ")


def raising(error: BaseException) -> Callable[..., None]:
    def run_file(*_args: object, **_options: object) -> None:
        raise error

    return run_file


ENDINGS = [
    (KeyboardInterrupt(), 130, "Error: stopped; no half-written file is left behind\n"),
    (MemoryError(), 1, "Error: there is not enough memory; close other programs and try again\n"),
    (OSError(5, "Input/output error", "vase.gcode"), 1, "Error: vase.gcode: Input/output error\n"),
]


@pytest.mark.parametrize(("error", "status", "sentence"), ENDINGS)
def test_other_endings(
    run_vase: Gpost, monkeypatch: pytest.MonkeyPatch, error: BaseException, status: int, sentence: str
) -> None:
    """Ctrl-C and failures of the system end with a sentence of their own."""
    monkeypatch.setattr(calls, "run", raising(error))
    result = run_vase("-o", "out.gcode")
    assert (result.exit_code, result.stdout, result.stderr) == (status, "", sentence)


def test_fault_of_gpost(run_vase: Gpost, gpost: Gpost, sliced: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Status 1: an unexpected exception is owned up to; only --trace shows where it happened."""
    monkeypatch.setattr(calls, "run", raising(LookupError("no such \x1b[31mkiln")))
    result = run_vase("-o", "out.gcode")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "this is a fault of gpost, not yours (LookupError: no such \\x1b[31mkiln)" in result.stderr
    assert "--trace" in result.stderr
    assert "Traceback" not in result.stderr
    traced = gpost("--trace", "run", sliced, "-o", "out.gcode", "--no-config")
    assert traced.exit_code == 1
    assert "Traceback (most recent call last)" in traced.stderr
    assert "\x1b" not in traced.stderr


def test_told_to_stop(run_vase: Gpost, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SIGTERM ends the run as a shell expects (143), with a sentence and nothing left behind."""

    def run_file(*_args: object, **_options: object) -> None:
        os.kill(os.getpid(), signal.SIGTERM)
        signal.pause()

    before = signal.getsignal(signal.SIGTERM)
    monkeypatch.setattr(calls, "run", run_file)
    result = run_vase("-o", "-")
    assert (result.exit_code, result.stdout) == (143, "")
    assert result.stderr == "Error: told to stop; no half-written file is left behind\n"
    assert signal.getsignal(signal.SIGTERM) is before
    assert outputs(tmp_path) == set()


def test_broken_pipe(run_vase: Gpost, monkeypatch: pytest.MonkeyPatch) -> None:
    """When nobody reads the output any more, the run ends without a word."""
    monkeypatch.setattr(calls, "run", raising(BrokenPipeError(32, "Broken pipe")))
    result = run_vase("-o", "out.gcode")
    assert (result.exit_code, result.stdout, result.stderr) == (141, "", "")


@pytest.mark.parametrize("slip", ["--place", "--inplace", "--in-plac"])
def test_no_slip_of_the_pen_is_led_to_the_sliced_file(run_vase: Gpost, slip: str) -> None:
    """An option that is not there never gets the one suggested that replaces the sliced file."""
    result = run_vase(slip)
    assert result.exit_code == 2
    assert f"No such option '{slip}'" in result.stderr
    assert "--in-place" not in result.stderr


def test_the_studio_s_own_ticks(run_vase: Gpost, tmp_path: Path) -> None:
    """`sheet` in the config replaces a list whole; the others are gpost's own, and all are in the JSON."""
    config = tmp_path / "studio.yaml"
    config.write_text(config.read_text() + "sheet:\n  before: [the cat is out]\n  after: []\n")
    ended = run_vase("-o", "out.gcode", "--json", "out.json", "--long")
    assert ended.exit_code == 0, ended.stderr
    ticks = json.loads((tmp_path / "out.json").read_text())["ticks"]
    assert (ticks["before"], ticks["after"]) == (["the cat is out"], [])
    assert "Before you start\n  [ ] the cat is out\n" in ended.stdout
    assert "  [ ] the first layer is even on all sides\n" in ended.stdout
    assert "When it is done" not in ended.stdout
    assert b"the cat" not in (tmp_path / "out.gcode").read_bytes()
