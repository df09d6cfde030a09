"""gpost in the shell: names are completed, and long options have short ones where it makes sense."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.shell_completion import ShellComplete

from gpost.cli import COMMANDS, cli
from gpost.preflight.model import ALLOWABLE
from gpost.steps.manager import build_manager
from tests.cli.conftest import Gpost

PROGRAM = Path(sys.executable).with_name("gpost")


def completed(*words: str) -> set[str]:
    """What the Tab key offers after these words, of which the last is only begun; a type such as `file` if the shell does it."""
    found = ShellComplete(cli, {}, "gpost", "_GPOST_COMPLETE").get_completions([*words[:-1]], words[-1])
    return {item.value if item.type == "plain" else f"<{item.type}>" for item in found}


def test_commands_steps_findings_pages_and_files_are_completed() -> None:
    """Each by what there is; the names of files are the shell's own matter."""
    assert completed("") == set(COMMANDS)
    assert completed("re") == {"resume"}
    assert completed("log", "") == {"add", "drop", "show", "fit"}
    assert completed("check", "vase.gcode", "--allow", "") == set(ALLOWABLE)
    assert completed("run", "vase.gcode", "--allow", "above") == {name for name in ALLOWABLE if name.startswith("above")} != set()
    assert set(build_manager().names) | {"machine", "clay", "steps"} <= completed("explain", "")
    assert completed("explain", "sw") == {"swap"}
    assert completed("guide", "tut") == {"tutorial"}
    assert completed("demo", "x", "--recipe", "two") == {"two-colours"}
    assert completed("run", "--in-pl") == {"--in-place"}
    for words in (("run", "va"), ("run", "vase.gcode", "-c", "st"), ("batch", "in", "-o", "ou")):
        assert completed(*words) == {"<file>"}, words


def test_a_step_of_one_s_own_is_completed(steps: Path) -> None:
    """With the folder that holds it."""
    assert completed("explain", "--steps-from", str(steps), "lo") == {"look"}


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_is_told_how(shell: str, tmp_path: Path) -> None:
    """What the page tells to type gives that shell's own lines, and what they ask for is answered as they read it."""
    told = subprocess.run([PROGRAM], env=os.environ | {"_GPOST_COMPLETE": f"{shell}_source"}, capture_output=True, text=True, check=True)
    assert f"_GPOST_COMPLETE={shell}_complete" in told.stdout
    words = {"COMP_WORDS": "gpost explain sw", "COMP_CWORD": "sw" if shell == "fish" else "2"}
    asked = subprocess.run(
        [PROGRAM], env=os.environ | words | {"_GPOST_COMPLETE": f"{shell}_complete"}, capture_output=True, text=True, check=True, cwd=tmp_path
    )
    assert asked.stdout.split() == {"bash": ["plain,swap"], "zsh": ["plain", "swap", "_"], "fish": ["plain,swap"]}[shell]
    if shutil.which(shell) and shell != "bash":
        parsed = subprocess.run([shell, "-n"], input=told.stdout, text=True, check=False)
        assert parsed.returncode == 0


@pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash")
@pytest.mark.parametrize(("typed", "offered"), [("gpost expl", ["explain"]), ("gpost explain sw", ["swap"]), ("gpost guide tut", ["tutorial"])])
def test_bash_completes(typed: str, offered: list[str]) -> None:
    """Bash itself, with the line of the page: what it would put there."""
    words = typed.split()
    script = (
        'eval "$(_GPOST_COMPLETE=bash_source gpost)"\n'
        f"COMP_WORDS=({typed}); COMP_CWORD={len(words) - 1}; _gpost_completion gpost {words[-1]} {words[-2]}\n"
        'printf "%s\\n" "${COMPREPLY[@]}"'
    )
    path = os.pathsep.join([str(PROGRAM.parent), os.environ["PATH"]])
    done = subprocess.run(["bash", "-c", script], env=os.environ | {"PATH": path}, capture_output=True, text=True, check=True)
    assert done.stdout.split() == offered


@pytest.mark.parametrize(
    ("command", "short", "long"),
    [
        *(("run", *pair) for pair in (("-q", "--quiet"), ("-v", "--long"), ("-c", "--config"), ("-o", "--output"))),
        *(("batch", *pair) for pair in (("-q", "--quiet"), ("-j", "--jobs"))),
        *(("watch", "-j", "--jobs"), ("resume", "-v", "--long"), ("survey", "-v", "--all")),
    ],
)
def test_short_options(command: str, short: str, long: str) -> None:
    """One option by two names; no letter means two things."""
    options = cli.get_command(None, command).params  # type: ignore[arg-type, union-attr]
    assert sum({short, long} <= set(option.opts) for option in options) == 1


def test_a_letter_means_one_thing() -> None:
    """In all commands a short option stands for the same, or for nothing; steps are read by `--steps-from` alone."""
    meant: dict[str, set[str]] = {}
    for name in COMMANDS:
        command = cli.get_command(None, name)  # type: ignore[arg-type]
        for part in (command, *getattr(command, "commands", {}).values()):
            for option in part.params:  # type: ignore[union-attr]
                for short in (word for word in option.opts if re.fullmatch("-[a-z]", word)):
                    meant.setdefault(short, set()).update(word for word in option.opts if word.startswith("--"))
                assert option.name != "folders" or "--steps-from" in option.opts
    assert meant == {"-c": {"--config"}, "-o": {"--output"}, "-q": {"--quiet"}, "-v": {"--long", "--all"}, "-j": {"--jobs"}}


PRINTS_JSON = ("check", "survey", "batch", "steps", "load", "stain", "day", "calibrate")
"""Commands whose --json is printed; those of `log` too. `run` and `resume` take a file."""


def test_json_is_told_of_in_help(gpost: Gpost) -> None:
    """`--json` takes a file where the output is one already, and prints it elsewhere; help says which."""
    for name in (*PRINTS_JSON, "log add", "log drop", "log show", "log fit"):
        assert re.search(r"--json +Print .*JSON", " ".join(gpost(*name.split(), "--help").stdout.split())), name
    for name in ("run", "resume"):
        assert re.search(r"--json (SUMMARY|FILE)", gpost(name, "--help").stdout), name


def test_the_steps_as_json(gpost: Gpost, steps: Path) -> None:
    """Each step with where it comes from and what it says; those that are broken with the reason."""
    (steps / "bad.py").write_text("raise RuntimeError('no')\n")
    found = json.loads(gpost("steps", "--json", "--steps-from", steps).stdout)
    listed = {step["name"]: step for step in found["steps"]}
    assert set(build_manager().names) | {"look"} == set(listed)
    assert listed["look"]["says"] == "Stops so that you can look."
    assert listed["swap"]["from"].startswith("gpost")
    assert [one["name"] for one in found["broken"]] == ["bad"]


def test_a_batch_as_json_and_quiet(gpost: Gpost, sliced: Path, tmp_path: Path) -> None:
    """The table's numbers as JSON, once for each file; quiet, nothing is said of what is well, and all of what is not."""
    (tmp_path / "in").mkdir()
    for name in ("a", "b"):
        shutil.copy(sliced, tmp_path / "in" / f"{name}.gcode")
    (tmp_path / "studio.yaml").write_text("clay: {metering: {unit: filament, diameter_mm: 1.75}}\nsteps: [cold]\n")
    batch = ("batch", "in", "-c", "studio.yaml", "-o")
    found = json.loads(gpost(*batch, "out", "-j", 1, "--json").stdout)
    assert [(row["name"], row["result"], row["layers"]) for row in found["files"]] == [("a.gcode", "done", 6), ("b.gcode", "done", 6)]
    assert (found["total"], found["done"], found["failed"], found["stopped"]) == (2, 2, 0, False)
    assert gpost(*batch, "quiet", "-j", 1, "-q").stdout == ""
    (tmp_path / "in" / "c.gcode").write_text("G1 X1..2\n")
    bad = gpost(*batch, "bad", "-j", 1, "-q")
    assert (bad.exit_code, bad.stdout) == (1, "")
    assert "c.gcode: " in bad.stderr
    assert gpost(*batch, "no", "-q", "--json").exit_code == 2
