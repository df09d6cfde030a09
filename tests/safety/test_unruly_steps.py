"""A step is anybody's code: what it does with what it is given, raises, prints or wants reaches nobody else."""

from __future__ import annotations

import math
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from gpost.config.model import Config
from gpost.config.settings import Settings
from gpost.errors import PlanError, StepError
from gpost.pipeline import check_file, make_plan, run_file, survey_file
from gpost.plan.intentions import (
    Air,
    AirInPause,
    Command,
    Ground,
    LayClay,
    MovePause,
    Note,
    Pause,
    Say,
    ScaleFeed,
    ScaleFlow,
    Shift,
    Silence,
    SilencePush,
    Stroke,
)
from gpost.plan.plan import Plan
from gpost.report.jsonout import to_json
from gpost.spot import Spot
from gpost.steps.step import Step
from gpost.survey.model import Survey
from tests.config_files import load_files

POT = b"G28\nM104 S200\nG1 E3 F300\nG1 X100 Y140 Z2 F1500\nG1 X180 E5\nG1 Y180 E10\nG1 X100 E15\nG1 Y140 E20\nG0 Z30\n"
ROOM = Config.model_validate({"machine": {"bed": {"x_max_mm": 300, "y_max_mm": 300}}})
FAULT = "This is a fault of the step, not of your file"
Act = Callable[[Survey, Plan], Any]


class Acts(Step[Settings]):
    """Does what it was told to do."""

    name = "acts"
    Settings = Settings

    def __init__(self, act: Act) -> None:
        super().__init__(Settings())
        self.act = act

    def plan(self, survey: Survey, plan: Plan) -> Any:
        """What the act gives back."""
        return self.act(survey, plan)


@pytest.fixture
def pot(tmp_path: Path) -> Path:
    """A small file, with a push in place on line 3."""
    path = tmp_path / "pot.gcode"
    path.write_bytes(POT)
    return path


def done(pot: Path, *acts: Act, config: Config = ROOM) -> tuple[bytes, str]:
    """What is written and said when steps do these, one after the other."""
    out = pot.with_name("out.gcode")
    summary = run_file(pot, out, config, [Acts(act) for act in acts], overwrite=True)
    return out.read_bytes(), to_json(summary)


def wants(*wishes: Any) -> Act:
    """A step that wants these."""
    return lambda _survey, _plan: list(wishes)


# -- whatever a step gives -------------------------------------------------------------------------


class Odd:
    """A thing that can't even be looked at."""

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        raise SystemExit("nothing to see")

    def __eq__(self, other: object) -> bool:
        raise KeyboardInterrupt


BEAD = Stroke(((10.0, 10.0), (10.0, 70.0)), 8.0, 4.0, 4.0, 3.0)
LAY = LayClay(Spot(5), (BEAD,), 900.0)
STOP = Pause(Spot(5), "look", "why", "Look")
WISHES = (
    *(
        LAY,
        STOP,
        MovePause(STOP, replace(STOP, spot=Spot(6)), "later"),
        Say(Spot(5), "Look"),
        Air(Spot(5), 0.5),
    ),
    *(AirInPause(True), Command(Spot(5), ("M300",)), ScaleFeed(0, 9, 0.5, 100.0), ScaleFlow(0, 9, 1.1)),
    *(Shift(0, 9, (1.0, 2.0, 3.0)), Ground((0.0, 10.0), (0.0, 10.0), 1.0), Silence(np.array([1]))),
    *(SilencePush(2), Note("well")),
)
JUNK = (
    *(
        None,
        True,
        0,
        1,
        -1,
        0.5,
        math.nan,
        math.inf,
        -math.inf,
        1e300,
        10**400,
        -(10**400),
        2**63,
        1 + 2j,
        b"x",
    ),
    *(
        "",
        "x",
        "a\nG28",
        "\x1b[31m",
        "\ud800",
        "é",
        "x" * 5000,
        [],
        (),
        [1],
        ("x",),
        {},
        {1},
        {"a": 1},
        Odd(),
        Odd,
    ),
    *(
        np.float64(3),
        np.int64(2),
        np.bool_(True),
        np.array(3),
        np.array([1, 2]),
        np.array([[1.0, 2.0], [3.0, 4.0]]),
    ),
    *(np.array(["a"]), np.array([Odd()]), range(3), Exception("x"), Spot(3), Spot(10**30), Spot(3, math.nan)),
    *(Spot(None), Spot(3, 0.5), [[10, 10], [10, 70]], [BEAD], BEAD, LAY, STOP),  # type: ignore[arg-type]
)


def spoilt() -> Iterator[Any]:
    """Every kind of wish with every kind of junk in each of its fields, and the junk itself."""
    yield from JUNK
    for wish in WISHES:
        yield from (replace(wish, **{field.name: junk}) for field in fields(wish) for junk in JUNK)
    for junk in JUNK:
        for field in fields(BEAD):
            yield replace(LAY, strokes=(replace(BEAD, **{field.name: junk}),))
        for field in fields(STOP):
            yield MovePause(STOP, replace(STOP, **{field.name: junk}), "")


def test_whatever_a_step_wants_is_done_or_refused_in_its_name(pot: Path, long: bool) -> None:
    """Junk in any field of any wish: a job with its summary, or a sentence that names the step; no other error."""
    counts = {"done": 0, "refused": 0}
    for wish in islice(spoilt(), 0, None, 1 if long else 3):
        before = [STOP] if isinstance(wish, MovePause) else []
        try:
            output, said = done(pot, wants(*before, wish))
        except PlanError as error:
            assert "acts" in str(error) or "the piece can't be moved" in str(error)
            counts["refused"] += 1
        else:
            assert (output.splitlines().count(b"G28"), said.count("\x1b")) == (1, 0)
            counts["done"] += 1
    print("wishes done and refused:", *counts.values())
    assert counts["refused"] > 3 * counts["done"] > 100


def test_what_later_steps_and_the_writer_see_is_what_was_checked(pot: Path) -> None:
    """Lists and arrays that a step keeps and changes after it was asked change nothing."""
    lines, codes = np.array([1]), ["M300"]

    def change(_survey: Survey, _plan: Plan) -> list[Any]:
        lines[0], codes[0] = 4, "G28"
        return []

    asked = wants(Silence(lines), Command(Spot(5), codes))  # type: ignore[arg-type]
    assert (
        done(pot, asked, wants())[0]
        == done(pot, wants(Silence(np.array([1])), Command(Spot(5), ("M300",))))[0]
    )
    lines[0], codes[0] = 1, "M300"
    changed = done(pot, asked, change)[0]
    assert b"; gpost silenced: M104 S200" in changed
    assert b"M300\n" in changed


def test_a_pause_is_the_same_pause_however_it_was_written(pot: Path) -> None:
    """A pause of numpy's numbers can be moved by the step that wants it, in the same answer."""
    pause = replace(STOP, spot=Spot(np.int64(5)), prime_ml=np.float64(1.0))  # type: ignore[arg-type]
    output, _ = done(pot, wants(pause, MovePause(pause, replace(STOP, spot=Spot(6)), "later")))
    assert output == done(pot, wants(replace(STOP, spot=Spot(6))))[0]


# -- whatever a step does to what it is given ------------------------------------------------------


def change_entries(_survey: Survey, plan: Plan) -> None:
    plan.entries += ()  # type: ignore[misc]


def change_an_entry(_survey: Survey, plan: Plan) -> None:
    plan.entries[0].intention.text = "changed"  # type: ignore[union-attr, misc]


def change_lines(_survey: Survey, plan: Plan) -> None:
    plan.of(Silence)[0].lines[0] = 4


def unlock_the_layers(survey: Survey, _plan: Plan) -> None:
    survey.layers.setflags(write=True)


def change_one_layer(survey: Survey, _plan: Plan) -> None:
    survey.layers[0]["height_mm"] = 5


def change_pushes(survey: Survey, _plan: Plan) -> None:
    survey.pushes(0, 9).clay_ml[:] = 0


def change_names(survey: Survey, _plan: Plan) -> None:
    survey.named["LIFT_ALL"] = 1  # type: ignore[index]


def change_points(survey: Survey, _plan: Plan) -> None:
    survey.laid_points(0, 9)[:] = 0


def change_what_is_loose(survey: Survey, _plan: Plan) -> None:
    survey.loose[:] = True


def change_times(_survey: Survey, plan: Plan) -> None:
    plan.layer_times_s[:] = 0


def change_settings(_survey: Survey, plan: Plan) -> None:
    plan.config.steps[0].settings["heights_mm"] = ()  # type: ignore[index]


def change_settings_below(_survey: Survey, plan: Plan) -> None:
    plan.config.steps[0].settings["deep"]["er"] = 4


def change_the_machine(_survey: Survey, plan: Plan) -> None:
    plan.config.machine.ceiling_mm = 1e6  # type: ignore[misc]


@pytest.mark.parametrize(
    "change",
    [
        *(change_entries, change_an_entry, change_lines, unlock_the_layers, change_one_layer, change_pushes),
        *(
            change_points,
            change_names,
            change_what_is_loose,
            change_times,
            change_settings,
            change_settings_below,
        ),
        change_the_machine,
    ],
)
def test_what_a_step_is_given_cannot_be_changed(pot: Path, change: Act) -> None:
    """Survey, look-ups, plan and config are read-only: a step that tries fails by its own fault."""
    text = "machine: {bed: {x_max_mm: 300, y_max_mm: 300}}\nsteps: [tally: {deep: {er: 3}}]\n"
    given = load_files([("studio.yaml", text)]).config
    with pytest.raises(StepError, match=f"step acts failed: .*{FAULT}"):
        done(pot, wants(Note("so far"), Silence(np.array([1]))), change, config=given)


def force_everything(survey: Survey, plan: Plan) -> list[Any]:
    """Put other things in the place of what was given, by force."""
    for given in (survey, plan):
        for field in fields(given):
            object.__setattr__(given, field.name, None)
        vars(given).clear()
    return []


def test_what_is_replaced_by_force_is_the_steps_own_copy(pot: Path) -> None:
    """The survey and the plan themselves go on as they were."""
    assert (
        done(pot, wants(STOP), force_everything, wants(Say(Spot(6), "Look")))[0]
        == (done(pot, wants(STOP), wants(), wants(Say(Spot(6), "Look")))[0])
    )


def test_blocks_of_the_file_are_not_handed_out(pot: Path) -> None:
    """What the second pass writes from can't be reached: no block, no way through one."""
    seen: list[tuple[Any, ...]] = []

    def look(survey: Survey, plan: Plan) -> list[Any]:
        with pytest.raises(ValueError, match="no file"):
            survey.follow(0)
        seen.append((survey.marks, survey.kept, plan.survey is survey))
        return []

    done(pot, look)
    assert seen == [((), (), True)]


def test_each_file_is_asked_of_a_fresh_step(pot: Path) -> None:
    """What a step notes in itself while it is asked about one file is gone when it is asked about the next."""

    class Notes(Acts):
        def plan(self, survey: Survey, plan: Plan) -> Any:
            self.count = getattr(self, "count", 0) + 1
            return [Note(str(self.count))]

    survey, step = survey_file(pot, ROOM), Notes(wants())
    plans = [make_plan(survey, [step], ROOM) for _ in range(2)]
    assert [plan.of(Note) for plan in plans] == [[Note("1")], [Note("1")]]


# -- whatever a step raises or prints --------------------------------------------------------------


class OwnError(BaseException):
    """What `except Exception` lets pass."""


@pytest.mark.parametrize(
    "error", [KeyboardInterrupt, SystemExit, GeneratorExit, OwnError, MemoryError, RecursionError]
)
@pytest.mark.parametrize("way", ["at once", "on the way"])
def test_whatever_a_step_raises_is_its_fault(pot: Path, error: type[BaseException], way: str) -> None:
    """Raised where it is asked, or while what it wants is taken from it; `check` says the same as `run`."""

    def on_the_way() -> Iterator[Any]:
        yield Note("so far")
        raise error("no more")

    def act(_survey: Survey, _plan: Plan) -> Any:
        if way == "on the way":
            return on_the_way()
        raise error("no more")

    said = f"step acts failed: {error.__name__}: no more. {FAULT}"
    with pytest.raises(StepError) as caught:
        run_file(pot, pot.with_name("out.gcode"), ROOM, [Acts(act)])
    assert said in str(caught.value)
    assert [found.text for found in check_file(pot, ROOM, [Acts(act)]) if found.severity == "error"] == [said]
    assert [path.name for path in pot.parent.iterdir()] == ["pot.gcode"]


@pytest.mark.parametrize("swallows", [False, True])
def test_a_real_interrupt_is_no_fault_of_the_step(pot: Path, swallows: bool) -> None:
    """Ctrl-C while a step is asked ends the job, even if the step catches it and goes on."""

    def act(_survey: Survey, _plan: Plan) -> list[Any]:
        try:
            signal.raise_signal(signal.SIGINT)
        except BaseException:
            if not swallows:
                raise
        return []

    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with pytest.raises(KeyboardInterrupt):
            run_file(pot, pot.with_name("out.gcode"), ROOM, [Acts(act)])
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, before)
    assert [path.name for path in pot.parent.iterdir()] == ["pot.gcode"]


MINE = '''
import os, signal
from gpost.api import *

print("loaded")
{at_start}

class Mine(Step[Settings]):
    """A step of somebody's own."""

    name = "mine"
    Settings = Settings

    def plan(self, survey, plan):
        {plan}

@hookimpl
def gpost_steps():
    return [Mine]
'''


def run_mine(pot: Path, plan: str, *args: str, at_start: str = "") -> subprocess.CompletedProcess[str]:
    """`gpost run` with a step `mine` that plans so, in a process of its own."""
    (pot.parent / "steps").mkdir()
    (pot.parent / "steps" / "mine.py").write_text(MINE.format(plan=plan, at_start=at_start))
    (pot.parent / "studio.yaml").write_text("steps: [mine]\n")
    command = [sys.executable, "-m", "gpost", *args, "-c", "studio.yaml", "--steps-from", "steps"]
    return subprocess.run(command, cwd=pot.parent, capture_output=True, text=True, check=False)


def test_what_a_step_prints_is_no_part_of_the_output(pot: Path) -> None:
    """Standard output is the file to print, whole and alone; what steps print goes to standard error."""
    plain = 'return [Say(Spot(5), "Look")]'
    found = run_mine(pot, f'print("G28"); {plain}', "run", "pot.gcode", "-o", "-")
    assert found.returncode == 0, found.stderr
    lines = POT.decode().splitlines()
    assert found.stdout.splitlines()[1:-1] == [*lines[:5], "M117 Look", *lines[5:]]
    assert found.stderr.splitlines()[:2] == ["loaded", "G28"]


@pytest.mark.parametrize(
    ("number", "status"), [(signal.SIGTERM, 143), (signal.SIGINT, 130), (signal.SIGHUP, 129)]
)
def test_a_step_cannot_keep_gpost_from_being_stopped(pot: Path, number: int, status: int) -> None:
    """A signal that a step catches ends gpost with its status all the same."""
    plan = f"""
        signal.signal(signal.SIGINT, signal.getsignal(signal.SIGINT))
        try:
            os.kill(os.getpid(), {int(number)})
        except BaseException:
            pass
        return []"""
    found = run_mine(pot, plan, "run", "pot.gcode", "-o", "out.gcode")
    assert found.returncode == status, found.stderr
    assert found.stderr.splitlines()[-1].endswith("no half-written file is left behind")
    assert not (pot.parent / "out.gcode").exists()


def test_a_step_that_goes_to_another_folder_takes_nothing_along(pot: Path) -> None:
    """The output is written where it was asked for."""
    found = run_mine(pot, 'os.chdir("steps"); return []', "run", str(pot), "-o", "out.gcode")
    assert found.returncode == 0, found.stderr
    assert (pot.parent / "out.gcode").exists()
    assert not (pot.parent / "steps" / "out.gcode").exists()


@pytest.mark.parametrize("command", ["run", "check", "batch", "day", "load"])
def test_every_command_says_it_in_the_same_words(pot: Path, command: str) -> None:
    """The sentence that names the step, and an exit status other than 0."""
    (pot.parent / "in").mkdir()
    os.rename(pot, pot.parent / "in" / "pot.gcode")
    (pot.parent / "bands.yaml").write_text("bands: [{clay: white}]\n")
    args = {
        "run": ("in/pot.gcode", "-o", "out.gcode"),
        "check": ("in/pot.gcode",),
        "batch": ("in", "-o", "out", "--jobs", "2"),
        "day": ("in", "--start", "9:00"),
        "load": ("in/pot.gcode", "--bands", "bands.yaml"),
    }[command]
    found = run_mine(pot, "raise KeyboardInterrupt", command, *args)
    assert found.returncode == 1, found.stderr
    said = " ".join((found.stdout + found.stderr).split())
    assert f"step mine failed: KeyboardInterrupt. {FAULT}" in said
    assert "Traceback" not in said


@pytest.mark.parametrize("when", ["loaded", "planned"])
def test_a_step_that_goes_to_another_folder_goes_alone(pot: Path, when: str) -> None:
    """Names of files are meant from where gpost was started, whatever a step does to the current folder."""
    other = pot.parent / "other"
    other.mkdir()
    (other / "pot.gcode").write_text("G28\n")
    go = f"os.chdir({str(other)!r})"
    found = run_mine(
        pot, f"{go if when == 'planned' else 'pass'}; return []", "run", "pot.gcode", "-o", "out.gcode",
        at_start=go if when == "loaded" else "pass",
    )  # fmt: skip
    assert found.returncode == 0, found.stderr
    assert (pot.parent / "out.gcode").read_bytes() == POT
    assert sorted(path.name for path in other.iterdir()) == ["pot.gcode"]
