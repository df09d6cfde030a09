"""`gpost stain`: the stain sheet."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Gpost = Callable[..., Result]
BASIC = ("stain", "--wet-g", 1000, "--water-percent", 25, "--add", "cobalt=1.5", "--add", "manganese=0.5")


def test_the_sheet(gpost: Gpost) -> None:
    """Grams by the dry mass, with cautions for the powders."""
    result = gpost(*BASIC)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "Weigh out 1000.0 g of wet clay (750.0 g dry)" in result.stdout
    assert "11.25 g cobalt (1.5 % of the dry mass)" in result.stdout
    assert "3.75 g manganese" in result.stdout
    assert "poisonous" in result.stdout
    assert all(len(line) <= 80 for line in result.stdout.splitlines())


def test_a_ladder_as_json(gpost: Gpost) -> None:
    """Every rung with its share, and the two clays that blend them."""
    document = json.loads(
        gpost(*BASIC, "--loss-percent", 5, "--ladder", 5, "--from", "iron=4", "--json").stdout
    )
    assert [rung["share"] for rung in document["ladder"]] == [0, 0.25, 0.5, 0.75, 1]
    assert document["ladder"][2]["batch"]["percent"] == pytest.approx(
        {"iron": 2, "cobalt": 0.75, "manganese": 0.25}
    )
    assert [batch["wet_g"] for batch in document["batches"]] == pytest.approx([2500 / 0.95] * 2)
    assert document["cautions"]


def test_a_ladder_in_words(gpost: Gpost) -> None:
    """The rungs can be blended or coloured directly."""
    result = gpost(*BASIC, "--ladder", 3)
    said = " ".join(result.stdout.split())
    assert "2: 500.0 g of the first and 510.0 g of the second clay; or 1000.0 g plain with" in said
    assert "manganese 1.88 g and 2.5 g water" in said
    assert all(len(line) <= 80 for line in result.stdout.splitlines())


def test_the_config_gives_the_water(gpost: Gpost, tmp_path: Path) -> None:
    """Unless the option does."""
    (tmp_path / "clay.yaml").write_text("clay: {water_percent: 20}\n")
    result = gpost("stain", "--wet-g", 1000, "--add", "blue=10", "-c", "clay.yaml")
    assert "80.00 g blue" in result.stdout


def test_percent_of_the_moist_clay(gpost: Gpost) -> None:
    """5 % of 1 kg moist are 50 g, whatever the water."""
    assert "50.00 g blue" in gpost("stain", "--no-config", "--wet-g", 1000, "--add", "blue=5", "--moist").stdout


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (("--add", "blue"), "write a name and a number"),
        (("--add", "=2"), "write a name and a number"),
        (("--add", "blue=nan"), "blue=nan: 'nan' is no ordinary number"),
        (("--add", "blue=1,5%"), "blue=1,5%: '1,5%' is no number; write 1.5, in percent"),
        (("--add", "blue=1", "--add", "blue=2"), "given twice"),
        (("--add", "blue=-1"), "blue must be"),
        (("--add", "blue=1", "--water-percent", "100"), "below 100"),
        (("--add", "blue=1", "--ladder", "1"), "2 steps"),
        (("--add", "blue=1", "--from", "red=1"), "--ladder"),
        ((), "--add"),
    ],
)
def test_wrong_options(gpost: Gpost, arguments: tuple[str, ...], text: str) -> None:
    """Status 2 with a sentence."""
    result = gpost("stain", "--wet-g", 1000, *arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert text in result.stderr


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--water-percent", 0.25), ["--water-percent: 0.25 percent is next to nothing; if a share of 1 is meant, write 25"]),
        (("--water-percent", 25, "--add", "iron=0.08"), ["--add iron: 0.08 percent is next to nothing; if a share of 1 is meant, write 8"]),
        (("--water-percent", 25, "--moist", "--add", "iron=0.08"), ["--add iron: 0.08 percent is"]),
        (("--water-percent", 25, "--ladder", 3, "--from", "tin=0.05"), ["--from tin: 0.05 percent is"]),
        (("-c", "clay.yaml", "--add", "iron=0.01"), ["clay.water_percent: 0.25 percent is", "--add iron: 0.01 percent is"]),
        (("-c", "clay.yaml", "--water-percent", 25), []),
        (("--water-percent", 25, "--add", "iron=0.1", "--loss-percent", 0.5), []),
        (("--water-percent", 0, "--add", "iron=0"), []),
    ],
)  # fmt: skip
def test_shares_of_1_are_asked_about(
    gpost: Gpost, tmp_path: Path, args: tuple[object, ...], said: list[str]
) -> None:
    """What the config would be asked is asked here too, of what is used, and stands in the JSON; nothing else changes."""
    (tmp_path / "clay.yaml").write_text("clay: {water_percent: 0.25}\n")
    all_args = ("stain", "--wet-g", 1000, "--add", "cobalt=1.5", *args)
    result = gpost(*all_args)
    assert result.exit_code == 0
    message = " ".join(result.stderr.split())
    assert all(text in message for text in said)
    assert message.count("next to nothing") == len(said)
    document = json.loads(gpost(*all_args, "--json").stdout)
    assert [doubt[: len(text)] for doubt, text in zip(document["doubts"], said, strict=True)] == said


def test_water_that_the_config_leaves_open(gpost: Gpost, tmp_path: Path) -> None:
    """A config without it gives gpost's own 25 %: said, with what hangs on it: 0.80 against 0.75 dry is 7 % more."""
    (tmp_path / "studio.yaml").write_text("clay: {colour: white}\n")
    args = ("stain", "--wet-g", 1000, "--add", "cobalt=1.5")
    for command in ((*args, "-c", "studio.yaml"), (*args, "-c", "studio.yaml", "--json")):
        said = " ".join(gpost(*command).stderr.split())
        assert "taken for 25 % of the wet mass, gpost's own number" in said
        assert f"all colourants are {100 * (0.80 / 0.75 - 1):.0f} % short" in said
    assert "taken for 25" in json.loads(gpost(*args, "-c", "studio.yaml", "--json").stdout)["doubts"][0]
    assert gpost(*args, "--water-percent", 25).stderr == ""
    (tmp_path / "studio.yaml").write_text("clay: {water_percent: 25}\n")
    assert gpost(*args, "-c", "studio.yaml").stderr == ""


@pytest.mark.parametrize(
    ("wet_g", "percent", "said"),
    [
        ("10", "0.5", "0.0375 g cobalt (0.5 % of the dry mass)"),
        ("100", "0.5", "0.375 g cobalt"),
        ("1000", "1.5", "11.25 g cobalt"),
        ("1", "0.01", "0.0001 g cobalt"),
    ],
)
def test_small_amounts_keep_three_digits(gpost: Gpost, wet_g: str, percent: str, said: str) -> None:
    """A hundredth of a gram is a quarter of the 0.04 g that it would be: a finer scale weighs so little (0.1 mg at best)."""
    result = gpost("stain", "--wet-g", wet_g, "--water-percent", "25", "--add", f"cobalt={percent}")
    assert said in result.stdout


def test_percent_of_the_moist_clay_has_three_digits(gpost: Gpost) -> None:
    """1.5 % of clay with 22 % of water are 1.5 / 0.78 of the dry mass."""
    result = gpost("stain", "--wet-g", "1000", "--water-percent", "22", "--moist", "--add", "cobalt=1.5")
    assert "15.00 g cobalt (1.92 % of the dry mass)" in result.stdout


def test_the_wet_mass_is_of_the_plain_clay(gpost: Gpost) -> None:
    """1000 g with 5 % lost are 1052.6 g to weigh out; powder and its water come on top, as the help says."""
    given = ("stain", "--wet-g", "1000", "--water-percent", "25", "--add", "cobalt=1.5", "--loss-percent", "5")
    (batch,) = json.loads(gpost(*given, "--json").stdout)["batches"]
    assert batch["wet_g"] * 0.95 == pytest.approx(1000)
    assert batch["total_g"] * 0.95 == pytest.approx(1000 + 1.5 / 100 * 750 / 0.75)
    assert "Wet plain clay to colour" in " ".join(gpost("stain", "--help").stdout.split())
