"""Text from a config or a file's name stays text: no machine ever takes it for a command."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.errors import ConfigError, PlanError
from gpost.motion.state import MachineState
from gpost.pipeline import run_file, survey_file
from gpost.plan.plan import Plan
from gpost.steps.recipe import make_recipe
from gpost.survey.model import Survey
from gpost.write.compiler import Compiler
from gpost.write.script import LONGEST_MESSAGE, LONGEST_REMARK, Script
from tests.config_files import by_line, load_files
from tests.reference.interpreter import run
from tests.reference.state import Event

HARMLESS = "blue"
HOSTILE = [
    "blue\nG28",
    "blue\r\nG1 X0 Y0 Z0 F9000",
    "blue\rM112",
    "blue\u2028G28\u2029G28\x85G28",
    "blue; G28",
    "blue*71",
    "blue*",
    "N5 G28*12",
    "blue) G28 (",
    "(",
    "M112",
    "G1 X0 Y0 Z0 E9999 F9000",
    "%",
    "#1=5 [1+1] <o>",
    "/G28",
    "!~?\x18",
    '"G28',
    "\x00\x01\x1b[2J",
    "\u202eeulb\u2066\u200b\ufeff",
    "；G28＊71\uff08",
    "b\u0337l\u0335u\u0336e",
    "Č花إناء",
    "\U0001f3fa",
    "\\n G28",
    "<level> {0} %s $(G28)",
    "x" * 200,
    " ",
    "",
]
MACHINE_TEXT = re.compile(rb"[A-Za-z0-9 .,:+\-=/_]*")
"""What may stand in a message or a comment of gpost's own."""
RECIPE = {
    "machine": {"bed": {"x_max_mm": 300, "y_max_mm": 300}, "park": {"x_mm": 15, "y_mm": 15}},
    "clay": {"metering": {"unit": "filament", "diameter_mm": 1.75}, "colour": HARMLESS},
    "cartridge": {"volume_ml": 12, "reserve_ml": 2, "line_ml": 2},
    "steps": [
        {"swap": {"at_layer": 5, "colour": HARMLESS, "clear": "purge", "message": HARMLESS}},
        {"refill": {"message": HARMLESS, "prime_ml": 2, "join_layers": 0}},
        {"remind": {"at_heights_mm": [8], "text": HARMLESS}},
    ],
}


def with_text(recipe: str, place: tuple[str | int, ...], text: str) -> str:
    """The recipe, which is JSON and so YAML, with a text at a place."""
    changed: dict[str, Any] = json.loads(recipe)
    inner: Any = changed
    for key in place[:-1]:
        inner = inner[key]
    inner[place[-1]] = text
    return json.dumps(changed)


def done(folder: Path, source: bytes, recipe: str, name: str = "pot.gcode") -> bytes:
    """The output of a run in an empty folder. Raises GpostError."""
    made = make_recipe(load_files({"recipe.yaml": recipe}))
    (folder / name).write_bytes(source)
    run_file(folder / name, folder / "out", made.config, made.steps, overwrite=True)
    return (folder / "out").read_bytes()


def deeds(output: bytes) -> list[tuple[Any, ...]]:
    """What a machine does on each line, without the words that it shows."""

    def deed(event: Event) -> tuple[Any, ...]:
        state = event.state.copy()
        state.messages = ()
        return (
            event.kind,
            event.motion,
            event.start_mm,
            event.end_mm,
            event.e_metered_mm,
            event.error,
            state,
        )

    return [deed(event) for event in run(output)]


def is_harmless(line: bytes) -> bool:
    """Whether a line with a text is one message or one comment, and nothing else."""
    text = (
        line.removeprefix(b"M117").removeprefix(b"; gpost:").removeprefix(b"; gpost wrote this file (0.1.0)")
    )
    return text != line and MACHINE_TEXT.fullmatch(text) is not None


def assert_same_deeds(output: bytes, harmless: bytes) -> None:
    """The outputs differ in the words of messages and comments alone, and a machine does the same on both."""
    lines, others = output.split(b"\n"), harmless.split(b"\n")
    assert len(lines) == len(others)
    assert [
        line for line, other in zip(lines, others, strict=True) if line != other and not is_harmless(line)
    ] == []
    assert deeds(output) == deeds(harmless)


@pytest.fixture(scope="module")
def harmless(bowl, tmp_path_factory) -> bytes:
    return done(tmp_path_factory.mktemp("harmless"), bowl.source, json.dumps(RECIPE))


PLACES: list[tuple[str | int, ...]] = [
    ("clay", "colour"),
    ("steps", 0, "swap", "colour"),
    ("steps", 0, "swap", "message"),
    ("steps", 1, "refill", "message"),
    ("steps", 2, "remind", "text"),
]


@pytest.mark.parametrize("text", HOSTILE, ids=ascii)
def test_text_never_becomes_a_command(tmp_path, bowl, harmless, text) -> None:
    """With any text for all colours and messages the machine does what it does with a harmless one, or it is refused."""
    recipe = json.dumps(RECIPE)
    for place in PLACES:
        recipe = with_text(recipe, place, text)
    try:
        output = done(tmp_path, bowl.source, recipe)
    except ConfigError as error:
        assert not (text.isprintable() and any(map(str.isalnum, text)))  # a clay has a name that can be said
        assert all(
            line.startswith("recipe.yaml:1: ") and line.isprintable() for line in by_line(str(error)).splitlines()
        )
    else:
        assert text.isprintable()
        assert any(map(str.isalnum, text))
        assert_same_deeds(output, harmless)


@pytest.mark.parametrize("place", PLACES, ids=lambda place: ".".join(map(str, place)))
def test_every_text_is_in_the_output(tmp_path, bowl, harmless, place) -> None:
    """The places tried are real: each of the texts by itself changes the output, harmlessly."""
    output = done(tmp_path, bowl.source, with_text(json.dumps(RECIPE), place, "G28 (G1 X0)"))
    assert output != harmless
    assert_same_deeds(output, harmless)


@pytest.mark.parametrize("name", [text for text in HOSTILE if text.strip() and not {"/", "\0"} & set(text)])
def test_file_name_never_becomes_a_command(tmp_path, bowl, harmless, name) -> None:
    """Whatever the source's name, the output's first line is one comment, and the rest is as ever."""
    assert_same_deeds(done(tmp_path, bowl.source, json.dumps(RECIPE), name), harmless)


@given(st.text())
@example("\u2028G28")
@example("ﬀ；＊（\u0085")
def test_any_text_becomes_one_harmless_line(text: str) -> None:
    """Whatever the text, a message or remark is one line of letters, digits and harmless marks, of bounded length."""
    script = Script(MachineState(), ml_per_mm=1.0)
    script.message("M117", text)
    script.remark(text)
    assert all(is_harmless(line.encode("ascii")) for line in script.lines if line != "M117")
    assert len(script.lines) == 2
    assert len(script.lines[0]) <= len("M117 ") + LONGEST_MESSAGE
    assert len(script.lines[1]) <= len("; gpost: ") + LONGEST_REMARK


NO_COMMAND = [
    "",
    " ",
    "M0\nG28",
    "M0\rG28",
    "M0\u2028G28",
    "M0;",
    "M0*71",
    "M0 (G28)",
    "%",
    "N5 M0",
    "\u202eM0",
    "Ｍ0",
    "0",
    "*5",
    "M0\x00",
]
"""What is not one command on one line."""
MOVES = [
    "G28",
    "G1 X5",
    "G0",
    "X5",
    "G92 E0",
    "G90",
    "G20",
    "M82",
    "M220 S50",
    "M84",
    "M18",
    "T1",
    "F100",
    "G2 I5",
    "G10",
    "M101",
    "n 5",
    "M0 G28",
    "M42 #5",
    "M42 é",
]
"""What moves the machine, or changes how later lines are read."""
KEYS: dict[str, dict[str, Any]] = {
    "hold": {"pause": {"hold": ["?"]}},
    "commands": {"pause": {"commands": ["?", "M0"]}},
    "beep": {"beep": ["?"]},
    "air on": {"air": {"on": "?"}},
    "air off": {"air": {"off": "?"}},
    "display": {"display": "?"},
}


@pytest.fixture(scope="module")
def survey(bowl, tmp_path_factory) -> Survey:
    path = tmp_path_factory.mktemp("survey") / "pot.gcode"
    path.write_bytes(bowl.source)
    return survey_file(path, Config())


def compiler(survey: Survey, key: str, command: str, allowed: tuple[str, ...] = ()) -> Compiler:
    """What writes for a studio that says the command at the key, and allows some."""
    put = json.loads(json.dumps(KEYS[key]).replace('"?"', json.dumps(command)))
    machine = {**RECIPE["machine"], "allow_commands": allowed, **put}
    config = load_files([("studio.yaml", json.dumps(RECIPE | {"machine": machine}))]).config
    return Compiler(Plan(survey, config))


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("command", [*NO_COMMAND, *MOVES], ids=ascii)
def test_command_that_would_do_more_is_refused(survey, key, command) -> None:
    """A configured command is one that leaves the machine as it found it; no other is read from a config."""
    with pytest.raises(ConfigError):
        compiler(survey, key, command)


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("command", MOVES, ids=ascii)
def test_nobody_s_word_lets_a_move_be_sent(survey, key, command) -> None:
    """Not even what the studio allows by its full text is written, if gpost knows that it moves or changes."""
    with pytest.raises((PlanError, ConfigError)):
        compiler(survey, key, command, (command,))


@pytest.mark.parametrize("command", ["M300 S440 P200", "M106 S0"])
@pytest.mark.parametrize("key", ["hold", "commands", "beep", "air off"])
def test_command_that_does_no_more_is_taken(survey, key, command) -> None:
    """What beeps or switches the air is taken."""
    assert compiler(survey, key, command)


@pytest.mark.parametrize("command", ["M0", "M1", "M25", "M84 S0", "G4 P0"])
@pytest.mark.parametrize("key", ["hold", "commands"])
def test_command_that_waits_is_taken_in_a_pause(survey, key, command) -> None:
    """What waits, or holds the motors, is taken there."""
    assert compiler(survey, key, command)


@pytest.mark.parametrize("key", ["hold", "commands", "beep", "air off"])
@pytest.mark.parametrize("command", ["G4 P0", "WAIT NOW", "M400", "M600"])
def test_what_else_does_no_more_takes_the_studio_s_word(survey, key, command) -> None:
    """Named commands and codes that move nothing are taken by the studio's word."""
    assert compiler(survey, key, command, (command,))


@pytest.mark.parametrize(
    "on",
    ["M<level>", "N<level>", "G<level>", "T<level>", "X<level>", "M106 S<level> G28", "M106 S2 P<level>"],
)
@pytest.mark.parametrize("allowed", [False, True])
def test_level_never_becomes_a_code(tmp_path, bowl, on, allowed) -> None:
    """A blower's level can't be put where it makes another command: 33 percent of 255 would make M84 of M<level>."""
    fan = {"fan": {"bands": [{"from_layer": 1, "level_percent": 33}]}}
    word = {"allow_commands": ["M<level>", "M84", "M106 S<level> G28"]} if allowed else {}
    recipe = RECIPE | {"machine": {**RECIPE["machine"], "air": {"on": on}, **word}, "steps": [fan]}
    with pytest.raises((PlanError, ConfigError)):
        done(tmp_path, bowl.source, json.dumps(recipe))


@pytest.mark.parametrize("display", ["M42", "M104", "M106", "M0", "G4"])
def test_display_must_show_text(tmp_path, bowl, display) -> None:
    """A command that carries out what follows it can't be the display: a colour named `G28 X0` would move."""
    recipe = json.loads(with_text(json.dumps(RECIPE), ("steps", 0, "swap", "message"), "G28 X0"))
    recipe["machine"] |= {"display": display, "allow_commands": [display]}
    with pytest.raises(PlanError, match="would be carried out, not shown"):
        done(tmp_path, bowl.source, json.dumps(recipe))
