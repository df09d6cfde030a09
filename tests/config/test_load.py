"""Configs are loaded with all problems told at once; no text does anything but load or be refused."""

import json
import pickle
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.api import Intention, Plan, Positive, Settings, Step, Survey
from gpost.config.load import LoadedConfig, load_config
from gpost.config.model import Config, Machine
from gpost.config.problem import ConfigProblems, Problem, shown_key
from gpost.errors import ConfigError
from gpost.steps.making import make_steps
from tests.config_files import by_line, load_files


def load(*texts: str) -> LoadedConfig:
    """The config of texts named studio.yaml, piece.yaml, and so on."""
    names = ("studio.yaml", "piece.yaml", "day.yaml")
    return load_files(dict(zip(names, texts, strict=False)))


def problems(*texts: str) -> list[str]:
    """The lines of what is wrong with the texts."""
    with pytest.raises(ConfigError) as caught:
        load(*texts)
    return by_line(str(caught.value)).splitlines()


class RimSettings(Settings):
    """Settings of a step for these tests."""

    height_mm: Positive = 5.0
    wet: bool = True


class Rim(Step[RimSettings]):
    """Smooths the rim."""

    name = "rim"
    Settings = RimSettings

    def plan(self, survey: Survey, plan: Plan) -> list[Intention]:
        """Nothing."""
        return []


class Cracked(Rim):
    """A step that can't be made."""

    name = "cracked"

    def __init__(self, settings: RimSettings) -> None:
        raise RuntimeError("no clay\nleft")


KNOWN: dict[str, type[Step[Any]]] = {"rim": Rim, "cracked": Cracked}


def step_problems(text: str) -> list[str]:
    """The lines of what is wrong with the steps of a config that is right by itself."""
    loaded = load(text)
    with pytest.raises(ConfigError) as caught:
        make_steps(loaded, KNOWN)
    return by_line(str(caught.value)).splitlines()


def test_no_file_and_an_empty_file_are_the_defaults() -> None:
    """Every part of the config has its defaults."""
    assert load().config == load("").config == Config()


def test_a_later_file_overrides_an_earlier_one_key_by_key() -> None:
    """What the piece does not say stays as the studio said it; lists are replaced."""
    studio = "machine: {ceiling_mm: 400, nozzle_mm: 5, beep: [M300, M301]}\nsteps: [rim, cold]"
    piece = "machine:\n  ceiling_mm: 250\n  beep: [M302]\ncartridge:\nsteps:\n- tally\n"
    config = load(studio, piece).config
    assert (config.machine.ceiling_mm, config.machine.nozzle_mm) == (250, 5)
    assert config.machine.beep == ("M302",)
    assert [step.name for step in config.steps] == ["tally"]


def test_the_piece_may_meter_clay_in_another_way() -> None:
    """Another `unit` leaves nothing of the first way behind."""
    config = load(
        "clay: {metering: {unit: filament, diameter_mm: 3}}",
        "clay: {metering: {unit: ml, ml_per_unit: 0.01}}",
    ).config
    assert config.clay.metering.unit == "ml"


def test_a_config_laid_over_itself_is_itself() -> None:
    """The same file given twice says nothing new."""
    text = "machine: {beep: [M300], park: {x_mm: 5}}\nclay: {metering: {unit: mm3}}\nsteps: [rim: {wet: no}]"
    assert load(text, text).config.model_dump() == load(text).config.model_dump()
    assert load(text, text).config.origin.loosened == ()


def test_a_loaded_config_can_be_sent_to_another_process() -> None:
    """A batch hands it to its workers; the steps are checked there just the same."""
    sent = pickle.loads(pickle.dumps(load("machine: {nozzle_mm: 5}\nsteps: [rim: {height_mm: 3}]")))
    assert sent.config.machine.nozzle_mm == 5
    assert make_steps(sent, KNOWN)[0].settings.height_mm == 3


def test_all_problems_of_all_files_come_at_once_in_reading_order() -> None:
    """One line for each problem, by file and line, syntax and duplicates and values and keys alike."""
    studio = (
        "machine:\n  travel_feed: 3000\n  travel_feed_mm_min: fast\n  travel_feed_mm_min: 5\nvolume_ml: 9\n"
    )
    piece = "clay:\n  metering: {unit: filament, diameter_mm: 0}\nsteps: {cold: }\n"
    assert problems(studio, piece, "machine: [") == [
        "studio.yaml:2: machine.travel_feed: unknown key; did you mean travel_feed_mm_min?",
        'studio.yaml:3: machine.travel_feed_mm_min: "fast" is not a number; expected a number greater than 0',
        "studio.yaml:4: machine.travel_feed_mm_min: the key is here twice; it already stands on line 3",
        "studio.yaml:5: volume_ml: unknown key; volume_ml belongs under cartridge",
        "piece.yaml:2: clay.metering.diameter_mm: 0 is too small; expected a number greater than 0",
        "piece.yaml:3: steps: a group of settings is not a list; expected a list of steps;"
        " put '- ' before each step's name",
        "day.yaml:1: this is not valid YAML: something is missing here, such as a value or a closing bracket",
    ]


def test_a_problem_holds_its_parts() -> None:
    """Who shows problems in another way finds file, line, key, value, expectation and hint apart."""
    with pytest.raises(ConfigProblems) as caught:
        load("cartridge:\n  volume_ml: 1_000")
    assert caught.value.problems == (
        Problem(
            "studio.yaml",
            2,
            "cartridge.volume_ml",
            '"1_000"',
            "is not a number",
            "a number greater than 0",
            "write it without _: 1000",
            column=14,
            text="  volume_ml: 1_000",
        ),
    )
    assert caught.value.exit_status == 2


def test_keys_that_don_t_go_together_are_told_at_their_group() -> None:
    """A rule about several keys names the group, in the file that spoke last."""
    assert problems("cartridge:\n  volume_ml: 400", "\ncartridge:\n  reserve_ml: 400") == [
        "piece.yaml:2: cartridge: reserve_ml, 400, must be less than volume_ml, 400, or nothing is left to print with"
    ]


def test_a_file_that_can_t_be_read_makes_no_false_problems_elsewhere() -> None:
    """What the unread file may have said is not missed; a wrong key is still told."""
    lines = problems(
        "cartridge: [", "cartridge: {reserve_ml: 1500}\nclay: {metering: {diameter_mm: 2}}\nx: 1"
    )
    assert [line.partition(" ")[0] for line in lines] == ["studio.yaml:1:", "piece.yaml:3:"]


def test_what_a_later_file_hides_is_told_all_the_same() -> None:
    """Each file must be right by itself, so that a studio file fits the next piece too."""
    assert problems("machine: {ceiling_mm: high, lift: 3}", "machine: {ceiling_mm: 250, lift: 3}") == [
        'studio.yaml:1: machine.ceiling_mm: "high" is not a number; expected a number greater than 0',
        "studio.yaml:1: machine.lift: unknown key; did you mean lift_feed_mm_min?",
        "piece.yaml:1: machine.lift: unknown key; did you mean lift_feed_mm_min?",
    ]


def test_an_unknown_key_at_the_top_may_be_a_step() -> None:
    """Who writes a step beside `machine:` is told where steps go."""
    [line] = problems("purge: {volume_ml: 60}")
    assert line.endswith("a step goes into the list under steps:")


def test_steps_are_names_or_names_with_settings() -> None:
    """A bare name, a name with nothing below it, and a name with settings are steps; one may come twice."""
    loaded = load("steps:\n- rim\n- rim:\n- rim: {height_mm: 1e1, wet: off}\n")
    assert [dict(step.settings) for step in loaded.config.steps] == [{}, {}, {"height_mm": 10, "wet": "off"}]
    assert loaded.step_names == {"rim"}
    steps = make_steps(loaded, KNOWN)
    assert [step.settings for step in steps] == [
        RimSettings(),
        RimSettings(),
        RimSettings(height_mm=10, wet=False),
    ]


@pytest.mark.parametrize("text", ["steps:", "steps: []", "steps: ~"])
def test_no_steps_are_no_problem(text: str) -> None:
    """A config without steps is a config."""
    assert make_steps(load(text), {}) == []


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ("5", "5 is not a step; expected a step's name, or a name with its settings below it"),
        ("", "nothing is given; expected a step's name, or a name with its settings below it"),
        ("{}", "nothing is given; expected a step's name, or a name with its settings below it"),
        ("[rim]", "a list is not a step; expected a step's name, or a name with its settings below it"),
        ("rim: 5", "rim: 5 is not a step with its settings; expected keys with values below rim:"),
        (
            "rim:\n  height_mm: 5",
            "one entry has several names: rim, height_mm; expected a step's name, or a name with its settings"
            " below it; indent settings further than rim",
        ),
        (
            "{rim: {}, cold: {}}",
            "one entry has several names: rim, cold; expected a step's name, or a name with its settings"
            " below it; start each step with '- '",
        ),
    ],
)
def test_what_is_no_step_is_told_with_its_place_in_the_list(entry: str, said: str) -> None:
    """Each slip in the list of steps has its sentence."""
    assert problems(f"steps:\n- cold\n- {entry}") == [f"studio.yaml:3: steps[2]: {said}"]


def test_all_problems_of_all_steps_come_at_once() -> None:
    """Steps' settings are told as the config's own: file, line, the key's path, what was expected."""
    text = "steps:\n- rim: {height: 5}\n- rimm\n- purge\n- rim:\n    height_mm: 0\n    wet: 3\n"
    text += "    lift_mm: 2\n- cracked"
    assert step_problems(text) == [
        "studio.yaml:2: steps[1].rim.height: unknown key; did you mean height_mm?",
        'studio.yaml:3: steps[2]: there is no step "rimm"; did you mean rim?',
        'studio.yaml:4: steps[3]: there is no step "purge"; `gpost steps` lists the steps there are; one of your own '
        "needs its folder (--steps-from)",
        "studio.yaml:6: steps[4].rim.height_mm: 0 is too small; expected a number greater than 0",
        "studio.yaml:7: steps[4].rim.wet: 3 is neither true nor false; expected true or false",
        "studio.yaml:8: steps[4].rim.lift_mm: unknown key; lift_mm belongs under machine.pause;"
        " did you mean height_mm?",
        "studio.yaml:9: steps[5].cracked: the step failed on these settings: RuntimeError: no clay\\nleft",
    ]


def test_files_are_read_from_disk_and_named_as_given(tmp_path: Path) -> None:
    """The path as it was given stands in front of a problem."""
    path = tmp_path / "studio.yaml"
    path.write_text("machine:\n  ceiling_mm: 250\n", encoding="utf-8")
    assert load_config([path]).config.machine.ceiling_mm == 250
    path.write_text("\nmachin: 1\n", encoding="utf-8")
    with pytest.raises(ConfigError) as caught:
        load_config([path])
    assert by_line(str(caught.value)) == f"{path}:2: machin: unknown key; did you mean machine?"


def test_files_that_can_t_be_read_are_told_with_the_reason(tmp_path: Path) -> None:
    """Missing, a folder, too large, not UTF-8, not a file, standard input: one sentence each, all at once."""
    (tmp_path / "large.yaml").write_bytes(b"#" * ((1 << 20) + 1))
    (tmp_path / "latin.yaml").write_bytes(b"machine:\n  display: caf\xe9\n")
    (tmp_path / "wide.yaml").write_bytes("machine:\n".encode("utf-16"))
    (tmp_path / "binary.yaml").write_bytes(bytes(range(128)))
    names = [
        "none.yaml",
        "",
        "large.yaml",
        "latin.yaml",
        "wide.yaml",
        "binary.yaml",
        "nul\0.yaml",
        "x" * 5000,
    ]
    with pytest.raises(ConfigError) as caught:
        load_config([*(tmp_path / name for name in names), Path("-"), Path("/dev/null")])
    lines = by_line(str(caught.value)).replace(str(tmp_path), "").splitlines()
    assert lines[:-3] == [
        "/none.yaml: the config can't be read: there is no such file; check its name and folder",
        ": the config can't be read: it is a folder; name a file in it",
        "/large.yaml: the config can't be read: it is larger than 1 MiB; a config is a page or two",
        "/latin.yaml: the config can't be read: line 2 is not UTF-8 text; save the file as UTF-8",
        "/wide.yaml: the config can't be read: line 1 is not UTF-8 text; save the file as UTF-8",
        '/binary.yaml:1: "\\x00" can\'t stand in a config; remove it',
        "/nul\\x00.yaml: the config can't be read: there is no such file; check its name and folder",
    ]
    assert lines[-2:] == [
        "-: the config can't be read: it can't come from standard input; name a file",
        "/dev/null: the config can't be read: it is no ordinary file",
    ]


WORDS = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=50)


@given(WORDS.filter(lambda key: key not in Machine.model_fields), st.integers(0, 5))
def test_an_unknown_key_is_named_with_file_and_line(key: str, blank: int) -> None:
    """Whatever the key, the problem names the file, the line and the key, printably."""
    text = "\n" * blank + "machine:\n  ceiling_mm: 5\n  " + json.dumps(key) + ": 1\n"
    [line] = problems(text)
    assert line.startswith(f"studio.yaml:{blank + 3}: machine.{shown_key(key)}: unknown key; ")
    assert line.isprintable()


def test_a_key_that_turns_the_direction_of_writing_is_shown_as_an_escape() -> None:
    """A hidden character in a key becomes visible."""
    [line] = problems("machine:\n  ceiling\u202e_mm: 5")
    assert line == 'studio.yaml:2: machine."ceiling\\u202e_mm": unknown key; did you mean ceiling_mm?'


YAML_WORDS = """
machine: clay: cartridge: steps: metering: unit: pause: air: commands: ceiling_mm: filament rim - {} { }
[] [ ] : , ' " &a *a !!str !!int !!python/name:os.system !x | > ? --- ... %YAML # \\ \\ud800 \\U00110000
<< 1e999 -.inf .nan 0x on ~ 12:30 1_000
"""
GAPS = ("\n", "  ", "\n  ", "\n- ", ": ", "\t", "\0", "\r", "\u202e", "\ufeff", "\u2028", "9" * 400)
FRAGMENTS = st.sampled_from([*YAML_WORDS.split(), *GAPS]) | st.text(max_size=5)


def refusal_lines(*texts: str) -> list[str]:
    """The lines of the ConfigError that the texts raise; none if they load."""
    try:
        make_steps(load(*texts), KNOWN)
    except ConfigError as error:
        return by_line(str(error)).split("\n")
    return []


@given(st.lists(FRAGMENTS, max_size=25).map("".join), st.booleans())
def test_any_text_loads_or_is_refused_in_printable_lines(text: str, twice: bool) -> None:
    """No text gets anything else out of loading than a config or a ConfigError."""
    for line in refusal_lines(text, text) if twice else refusal_lines(text):
        assert line.isprintable()
        assert line.startswith(("studio.yaml", "piece.yaml"))


def test_a_hose_gives_the_line_volume() -> None:
    """10 mm by 1.5 m hold 117.8097245 ml (computed); 12 ml in the auger come on top. Left out: 60 ml."""
    hose = "cartridge: {hose_bore_mm: 10, hose_length_mm: 1500"
    assert load(hose + "}").config.cartridge.line_ml == pytest.approx(117.8097245, abs=5e-8)
    found = load(hose + ", auger_ml: 12}").config
    assert found.cartridge.line_ml == pytest.approx(129.8097245, abs=5e-8)
    assert pickle.loads(pickle.dumps(found)) == found
    assert load("cartridge: {volume_ml: 500}").config.cartridge.line_ml == 60


def test_the_piece_may_bring_another_hose() -> None:
    """Length from the studio, bore from the piece: they are taken together."""
    found = load("cartridge: {hose_bore_mm: 10, hose_length_mm: 1000}", "cartridge: {hose_bore_mm: 8}")
    assert found.config.cartridge.line_ml == pytest.approx(50.2654825, abs=5e-8)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("line_ml: 60, hose_bore_mm: 10, hose_length_mm: 1500", "take line_ml out, or hose_bore_mm"),
        ("hose_bore_mm: 10", "give both"),
        ("hose_length_mm: 1500, line_ml: 60", "give both"),
        ("auger_ml: 12", "auger_ml is counted with a hose"),
        ("auger_ml: 12, line_ml: 60", "auger_ml is counted with a hose"),
        ("hose_bore_mm: 1e6, hose_length_mm: 1e6", "can't be meant"),
    ],
)
def test_the_line_volume_is_given_in_one_way(said: str, words: str) -> None:
    """Two ways, or half of one, are refused with what to do."""
    (line,) = problems(f"cartridge: {{{said}}}")
    assert words in line


@pytest.mark.parametrize("swatch", ["blau", '"#2f4d8"', '"2f4d86"', '"#2f4d8g"'])
def test_a_swatch_that_is_none_is_told_in_words(swatch: str) -> None:
    """How to write one, and not the pattern that programs find it by."""
    with pytest.raises(ConfigProblems) as refused:
        load_files({"a.yaml": f"clays: [{{name: blue, swatch: {swatch}}}]\n"})
    (problem,) = refused.value.problems
    assert "write a colour as # and six of the signs 0 to 9 and a to f" in str(problem)
    assert "^#" not in str(problem)
