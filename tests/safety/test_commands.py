"""No config, recipe or step sends what is not free; by the studio's word it is sent, and then it is said."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from gpost_plugins.cold import Cold, ColdSettings

from gpost.api import Ban, Command, Intention, Pause, Plan, Spot, Step, Survey, Wait
from gpost.config.model import Config
from gpost.errors import ConfigError, GpostError, PlanError
from gpost.pipeline import check_file, run_file
from gpost.report.brief import brief_warnings
from gpost.report.text import to_text
from gpost.steps.recipe import make_recipe
from gpost.workbook.trial.strip import StripWishes, strip
from gpost.workbook.trial.tube import TubeWishes, tube_gcode
from tests.config_files import by_line, load_files
from tests.reference.commands import EXAMPLES, EXAMPLES_IN_PAUSE, FREE, FREE_IN_PAUSE, SURPRISES, TABLE

KEYS: dict[str, dict[str, Any]] = {
    "pause.hold[1]": {"pause": {"hold": ["?"]}},
    "pause.commands[1]": {"pause": {"commands": ["?", "M0"]}},
    "beep[1]": {"beep": ["?"]},
    "air.on": {"air": {"on": "?"}},
    "air.off": {"air": {"off": "?"}},
    "display": {"display": "?"},
}
"""Every key under `machine:` at which a command can stand."""
ROOM = {"bed": {"x_max_mm": 300, "y_max_mm": 300}, "park": {"x_mm": 15, "y_mm": 15}}
POT = "G28\nG90\nM83\nG1 X100 Y100 Z2 F1500\nG1 X140 E9\nG1 Y140 E9\nG1 X100 E9\nG1 Y100 E9\n"


def machine(key: str, command: str) -> dict[str, Any]:
    """What stands under `machine:` with the command at the key."""
    return dict(json.loads(json.dumps(KEYS[key]).replace('"?"', json.dumps(command))))


class Sends(Step[Any]):
    """Sends commands, and pauses."""

    name = "sends"

    def __init__(self, *codes: str) -> None:
        self.codes = codes

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """Both in the middle of the pot."""
        if self.codes:
            yield Command(Spot(5), self.codes)
        yield Pause(Spot(6), "look", "to look", "Look")


@pytest.fixture
def pot(tmp_path: Path) -> Path:
    path = tmp_path / "pot.gcode"
    path.write_text(POT)
    return path


def config(**keys: Any) -> Config:
    """The config of a studio that says just this."""
    said = {"machine": {**ROOM, **keys}, "clay": {"metering": {"unit": "ml", "ml_per_unit": 1}}}
    return load_files([("studio.yaml", json.dumps(said))]).config


def run(pot: Path, config: Config, *steps: Step[Any]) -> tuple[str, Any]:
    """The output and its summary. Raises GpostError, and nothing is written then."""
    out = pot.with_name("out.gcode")
    try:
        summary = run_file(pot, out, config, steps)
    except GpostError:
        assert not out.exists()
        raise
    return out.read_text(), summary


def test_the_table() -> None:
    """It is long enough, and holds nothing that is free."""
    assert len(TABLE) >= 150
    assert all(len(some) > 5 for some in SURPRISES.values())
    assert not [command for command in TABLE if FREE.fullmatch(command)]


@pytest.mark.parametrize("command", TABLE)
def test_no_config_may_send_it(command: str) -> None:
    """In the studio's file or in a recipe, at each key: an error with file, line and key.

    But a pin that the studio's own air names is the studio's word.
    """
    for key in KEYS:
        said = json.dumps({"machine": machine(key, command)})
        alone, after = [("a.yaml", said)], [("studio.yaml", json.dumps({"machine": ROOM})), ("a.yaml", said)]
        for texts in [after] if command == "M42 P4 S255" and key.startswith("air") else [alone, after]:
            with pytest.raises(ConfigError) as error:
                load_files(texts)
            assert by_line(str(error.value)).startswith(f"a.yaml:1: machine.{key}: "), error.value


@pytest.mark.parametrize("command", TABLE)
def test_no_step_sends_it(pot: Path, command: str) -> None:
    """A step's own command, what `cold` sends, what a trial sends first: refused, and nothing is written."""
    with pytest.raises(PlanError):
        run(pot, config(), Sends(command))
    if command[0].isalpha():
        with pytest.raises(PlanError, match="cold_command can't be"):
            run(pot, config(), Cold(ColdSettings(move_cold=True, cold_command=(command,))))
    with pytest.raises(GpostError):
        strip(config(), StripWishes(first=(command,)))
    with pytest.raises(GpostError):
        tube_gcode(config(), TubeWishes(first=(command,)))


def test_a_recipe_s_cold_command_is_refused_at_its_line() -> None:
    """Before any file is read."""
    said = "steps:\n  - cold:\n      move_cold: yes\n      cold_command: [M302 P1, M92 E1]\n"
    with pytest.raises(
        ConfigError, match=r"recipe.yaml:4:[0-9]+: steps\[1\].cold.cold_command: .*M92 E1: gpost doesn't"
    ):
        make_recipe(load_files([("studio.yaml", json.dumps({"machine": ROOM})), ("recipe.yaml", said)]))


@pytest.mark.parametrize("command", [command for command in TABLE if command[0].isalpha()])
def test_what_the_studio_allows_is_sent_and_said_or_known_to_move(pot: Path, command: str) -> None:
    """It stands in output, summary and JSON, once, with count and first line; what moves is never sent."""
    try:
        output, summary = run(
            pot, config(allow_commands=[command], pause={"commands": [command, "M0"]}), Sends()
        )
    except (PlanError, ConfigError) as error:
        assert "can't be" in str(error) or "expected" in str(error)
        return
    (said,) = [record for record in summary.commands if record.kind == "allowed"]
    lines = output.split("\n")
    assert (said.command, said.count, said.step) == (command, lines.count(command), "sends")
    assert lines[said.first_output_line - 1] == command
    (note,) = [note for note in (*summary.warnings, *summary.notes) if "allow_commands" in note]
    assert f"gpost writes {command} (once, on line {said.first_output_line})" in note


@pytest.mark.parametrize("command", EXAMPLES)
def test_what_is_free_is_sent_without_a_word(pot: Path, command: str) -> None:
    """At each key, and from a step; the summary has it by its kind."""
    assert FREE.fullmatch(command)
    blower = " P1" * command.endswith((" P1", " P1 S5"))
    lets_blow = command.startswith("M106")
    on, off = (command, f"M107{blower}") if lets_blow else (f"M106{blower} S<level>", command)
    said = [machine(key, command) for key in ("pause.hold[1]", "pause.commands[1]", "beep[1]")]
    for keys in (*said, {"air": {"on": on, "off": off}}):
        load_files([("studio.yaml", json.dumps({"machine": keys}))])
    output, summary = run(pot, config(pause={"commands": ["M0"]}), Sends(command))
    record = next(record for record in summary.commands if record.command == command)
    assert record.kind in ("beep", "air", "cold")
    assert record.count == output.split("\n").count(command)


@pytest.mark.parametrize("command", EXAMPLES_IN_PAUSE)
def test_what_waits_or_holds_is_free_in_a_pause_alone(pot: Path, command: str) -> None:
    """Elsewhere the nozzle would stand on the wall uncounted, or a recipe let the motors go before a wait."""
    assert FREE_IN_PAUSE.fullmatch(command)
    for key in ("hold", "commands"):
        output, summary = run(pot, config(pause={"commands": ["M0"], key: [command, "M0"]}), Sends())
        record = next(record for record in summary.commands if record.command == command)
        assert record.kind in ("wait", "hold", "dwell")
        assert record.count == output.split("\n").count(command)
        (pot.parent / "out.gcode").unlink()
    for said in ({"beep": [command]}, {"air": {"off": command}}):
        with pytest.raises(
            ConfigError, match=r"in a pause alone|in `pause: hold` or `pause: commands` alone"
        ):
            config(**said)
    with pytest.raises(PlanError, match=r"in a pause alone|it is a dwell, which no clock would count"):
        run(pot, config(pause={"commands": ["M0"]}), Sends(command))


def test_a_dwell_is_free_in_a_pause_alone(pot: Path) -> None:
    """G4 under `pause`, and nowhere else."""
    assert "G4 P10" in run(pot, config(pause={"hold": ["G4 P10"], "commands": ["G4 S1", "M0"]}), Sends())[0]
    for said in ({"beep": ["G4 P10"]}, {"air": {"off": "G4 P10"}}):
        with pytest.raises(
            ConfigError, match="a dwell may stand in `pause: hold` or `pause: commands` alone"
        ):
            config(**said)


class Waits(Step[Any]):
    """Waits, for a machine where others may have ruled that out."""

    name = "waits"

    def __init__(self, *banned: str) -> None:
        self.banned = banned

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """In the middle of the pot."""
        yield Wait(Spot(5), 2.5)
        if self.banned:
            yield Ban(self.banned, "nobody waits here")


def test_a_step_dwells_by_a_wait_alone(pot: Path) -> None:
    """The studio's word lets no step send a dwell, which no clock would see; its Wait takes no word."""
    studio = config(allow_commands=["G4", "M400 G4 P10"])
    for command in ("G4 P10", "G4", "M400 G4 P10"):
        with pytest.raises(
            PlanError, match=r"sends: the command .* can't be sent: it is a dwell.* by the intention Wait"
        ):
            run(pot, studio, Sends(command))
    output, summary = run(pot, config(), Waits())
    assert output.split("\n").count("G4 P2500") == 1
    assert [(record.kind, record.command, record.step) for record in summary.commands] == [
        ("wait", "G4 P<milliseconds>", "waits")
    ]
    pot.with_name("out.gcode").unlink()
    with pytest.raises(
        PlanError, match="waits: the command 'G4 P2500' can't be sent, as waits rules it out: nobody"
    ):
        run(pot, config(), Waits("G4"))


def test_the_studio_s_air_names_the_pins(pot: Path) -> None:
    """Its pin is free everywhere, also for recipes; another is not, nor one that a recipe names."""
    air = {"on": "M42 P4 S<level>", "off": "M42 P4 S0"}
    studio = ("studio.yaml", json.dumps({"machine": {**ROOM, "allow_commands": [], "air": air}}))
    allowed = (
        "studio.yaml",
        json.dumps({"machine": {**ROOM, "allow_commands": ["M42 P4 S<level>"], "air": air}}),
    )
    for texts in ([studio], [allowed]):
        loaded = load_files([*texts, ("r.yaml", "machine: {beep: [M42 P4 S1]}")])
        assert loaded.config.machine.beep == ("M42 P4 S1",)
        with pytest.raises(ConfigError, match=r"r.yaml:1:[0-9]+: machine.beep\[1\]"):
            load_files([*texts, ("r.yaml", "machine: {beep: [M42 P5 S1]}")])
    plain = ("studio.yaml", json.dumps({"machine": ROOM}))
    with pytest.raises(ConfigError, match=r"r.yaml:1:[0-9]+: machine.air.on: \"M42 P5"):
        load_files([plain, ("r.yaml", 'machine: {air: {on: "M42 P5 S<level>"}}')])


@pytest.mark.parametrize(("entry", "sent"), [
    ("M600", {"M600": True, "m600 E5": True, "M0600": True, "M6": False, "M600 G28": False}),
    ("M42 P7 S1", {"M42 P7 S1": True, "M42  p7 s1": True, "M42 P7 S0": False, "M42 P8 S1": False, "M42": False}),
    # an M behind M42 says how the pin is driven
    ("M42", {"M42 P4 M1 S5": True, "m42p4s5m0": True, "M42 M3": True, "M42 P4 M104 S5": False, "M42 M1 M0": False,
             "M42 P4 M1.1": False, "M42 P4 M5 S1": False, "M42 M1 G28": False}),
    ("M43", {"M43 P4 M1": False}),
    ("WIPE", {"WIPE": True, "WIPE FAST=1": True, "WIPER": False}),
    ("WIPE fast", {"WIPE fast": True, "WIPE FAST": False, "WIPE": False}),
])  # fmt: skip
def test_how_far_the_studio_s_word_goes(entry: str, sent: dict[str, bool]) -> None:
    """A code or a name alone allows it with any words, but no second command; with words just that."""
    for command, allowed in sent.items():
        word = Config.model_validate({"machine": {"allow_commands": [entry]}}).machine
        assert bool(not word.refusal(command)) == allowed, command


def test_only_the_studio_allows(pot: Path) -> None:
    """A later file that allows is an error; one that repeats the studio's word, or part of it, is not."""
    studio = ("studio.yaml", 'machine: {allow_commands: [M600, "M42 P7 S1"]}')
    with pytest.raises(
        ConfigError, match=r'r.yaml:1:[0-9]+: machine.allow_commands\[1\]: "M92" can.t be used: only the'
    ):
        load_files([studio, ("r.yaml", "machine: {allow_commands: [M92]}")])
    with pytest.raises(ConfigError):
        load_files([studio, ("r.yaml", "machine: {allow_commands: [M42]}")])
    load_files([studio, ("r.yaml", "machine: {allow_commands: [M600 E5]}")])
    more = ("this-machine.yaml", "machine: {allow_commands: [M92]}")
    load_files([studio, more], studio=2)


@pytest.mark.parametrize("place", ["pause.hold[1]", "beep[1]", "pause.commands[1]"])
def test_cold_covers_what_gpost_sends(pot: Path, place: str) -> None:
    """With `cold` no heater is sent in a pause, whoever allows it."""
    put = machine(place, "M109 S200")
    heated = config(allow_commands=["M109"], **put)
    assert "M109 S200" in run(pot, heated, Sends())[0]
    pot.with_name("out.gcode").unlink()
    with pytest.raises(
        PlanError, match=r"'M109 S200' \(machine\..*\) can't be sent, as cold rules it out: it heats"
    ):
        run(pot, heated, Cold(ColdSettings()), Sends())


def test_check_says_what_run_says(pot: Path) -> None:
    """The same notes, by the same name."""
    said = config(allow_commands=["M400"], pause={"commands": ["M400", "M0"]})
    found = [f.sentence for f in check_file(pot, said, [Sends()]) if f.name == "command"]
    assert len(found) == 2
    assert set(found) <= set(run(pot, said, Sends())[1].notes)


HARMS = {
    "M104 S250": "heating: .* gpost writes M104 S250 .*: it heats, and clay must stay cold",
    "m190 R60": "heating: .* gpost writes m190 R60 .*: it heats, and without a heater the machine waits for ever",
    "M303 E0 S200 C8": "heating: .*: it heats, and clay must stay cold",
    "M500": "by the studio's word .* gpost writes M500 .*: it stores settings for good",
    "M206 X5": "by the studio's word .*: it shifts the machine's zero",
    "M502": "by the studio's word .*: it takes back stored settings",
}
"""What each does is common practice, no source."""
MILD = {
    "M104 S0": "it takes a heater's target to 0",
    "M125": "it parks, loads or unloads by itself",
    "M42 P7 S1": "it switches a pin, a servo or a spindle",
    "M400": "doesn't know what the machine does",
    "WIPE_NOZZLE": "doesn't know what the machine does",
}


@pytest.mark.parametrize("command", [*HARMS, *MILD])
def test_what_the_studio_allows_is_named_wherever_it_is_looked_at(pot: Path, command: str) -> None:
    """In check, in what a run prints and in its long text; what heats or stores comes first, and can't be missed."""
    said = config(allow_commands=[command], pause={"commands": [command, "M0"]})
    found = [f for f in check_file(pot, said, [Sends()]) if command in f.text]
    _, summary = run(pot, said, Sends())
    assert [f.severity for f in found] == ["warning" if command in HARMS else "note"]
    assert re.search((HARMS | MILD)[command], found[0].sentence)
    assert found[0].sentence in (summary.warnings if command in HARMS else summary.notes)
    for long in (True, False):
        assert command in " ".join(to_text(summary, long=long).split())
    assert (command in " ".join(brief_warnings(summary).split())) == (command in HARMS)


def test_heat_of_the_file_and_of_the_config_is_counted(pot: Path) -> None:
    """Each with how often: what the file has, and what is sent at a pause, by its beep and by what it waits with."""
    pot.write_text("M104 S200\n" + POT)
    said = config(allow_commands=["M104"], beep=["M104 S250"], pause={"commands": ["M104 S250", "M0"]})
    found = [f for f in check_file(pot, said, [Sends()]) if f.name == "heating"]
    assert sorted((f.line is None, f.count) for f in found) == [(False, 1), (True, 2)]
    assert run(pot, said, Sends())[0].count("\nM104 S250") == 2
