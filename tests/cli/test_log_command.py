"""`gpost log`: add, show and fit, and how they fail."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Gpost = Callable[..., Result]


@pytest.fixture
def add(run_vase: Gpost, gpost: Gpost, config: Path) -> Gpost:
    """`gpost log add` for the vase, which has been run; more arguments may follow."""
    run_vase("-o", "out.gcode", "--json", "vase.json")

    def run(*args: object) -> Result:
        return gpost("log", "add", "vase.json", "-c", config, *args)

    return run


def test_add_and_show(add: Gpost, gpost: Gpost, tmp_path: Path) -> None:
    """Prints are numbered, kept in one file in the folder, and shown with their notes."""
    result = add("--grams", "30.5", "--minutes", 2, "--softness", 4, "--note", "a little soft")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "is print 1 in gpost-log.sqlite" in result.stdout
    assert json.loads(add("--left-g", 90, "--json").stdout)["number"] == 2
    assert "a little soft" in gpost("log", "show").stdout
    found = json.loads(gpost("log", "show", "--json").stdout)["prints"]
    assert [row["number"] for row in found] == [1, 2]
    assert found[0]["found"] == {
        "weighed_g": 30.5, "minutes": 2, "left_g": None, "softness": 4, "notes": "a little soft",
        "turned": "", "flow_share": 1, "time_share": 1,
    }  # fmt: skip
    assert (tmp_path / "gpost-log.sqlite").is_file()


def test_what_was_turned(add: Gpost, gpost: Gpost, tmp_path: Path) -> None:
    """It is kept as it was said, shown, and counted in clay and time; what can't be read is refused."""
    assert add("--grams", 31).exit_code == 0
    result = add("--grams", 31, "--minutes", 2, "--turned", "flow=110@1", "--turned", "speed=80@1")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "turned by hand: flow=110@1 speed=80@1" in gpost("log", "show").stdout
    one, other = json.loads(gpost("log", "show", "--json").stdout)["prints"]
    assert other["mass_ratio"] == pytest.approx(one["mass_ratio"] / 1.1)
    assert other["time_ratio"] == pytest.approx(2 / other["minutes"] * 0.8)
    wrong = add("--turned", "flow=110")
    assert (wrong.exit_code, wrong.stdout) == (2, "")
    assert "flow=110@40" in wrong.stderr
    high = add("--turned", "flow=110@4000")
    assert (high.exit_code, high.stdout) == (2, "")
    assert "the piece has" in high.stderr


def test_what_was_turned_by_the_card(add: Gpost, gpost: Gpost, tmp_path: Path) -> None:
    """The card has a line for it, which takes several."""
    (tmp_path / "vase.txt").write_text(
        "Card for the print of vase.gcode: fill in what you know\n  grams:  31  # wet\n  turned:  flow=110@1 speed=80@1  # by hand\n"
    )
    assert add("--card", "vase.txt").exit_code == 0
    (row,) = json.loads(gpost("log", "show", "--json").stdout)["prints"]
    assert (row["found"]["weighed_g"], row["found"]["turned"]) == (31, "flow=110@1 speed=80@1")
    assert add("--card", "vase.txt", "--turned", "flow=90@2").exit_code == 0
    rows = json.loads(gpost("log", "show", "--json").stdout)["prints"]
    assert rows[1]["found"]["turned"] == "flow=90@2"


def test_a_card_of_another_piece_or_without_a_word_is_refused(add: Gpost, tmp_path: Path) -> None:
    """Nothing is added then."""
    head = "Card for the print of {}: fill in what you know\n  grams: {}  # wet\n"
    (tmp_path / "other.txt").write_text(head.format("pot.gcode", "31"))
    result = add("--card", "other.txt")
    assert result.exit_code == 2
    assert "the card is of pot.gcode, and the summary of " in result.stderr
    (tmp_path / "empty.txt").write_text(head.format("vase.gcode", ""))
    result = add("--card", "empty.txt")
    assert (result.exit_code, "nothing is filled in on the card" in result.stderr) == (2, True)
    assert not (tmp_path / "gpost-log.sqlite").exists()


def test_from_standard_input(add: Gpost, gpost: Gpost, config: Path, tmp_path: Path) -> None:
    """- is standard input, and --log names another file."""
    data = (tmp_path / "vase.json").read_bytes()
    args = ("--log", "mine.db", "--grams", 31)
    result = gpost("log", "add", "-", "-c", config, *args, stdin=data)
    assert (result.exit_code, result.stderr) == (0, "")
    assert len(json.loads(gpost("log", "show", "--log", "mine.db", "--json").stdout)["prints"]) == 1


def test_fit(add: Gpost, gpost: Gpost, config: Path) -> None:
    """Three weighed prints give the metering with its spread; one that went wrong is left out."""
    for grams in (30.5, 31, 30.8, 3):
        add("--grams", grams)
    result = gpost("log", "fit", "-c", config, "--without", 4)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "on average of 3 prints" in result.stdout
    assert "metering: {unit: ml, ml_per_unit: " in result.stdout
    assert "spread_percent: " in result.stdout
    found = json.loads(gpost("log", "fit", "-c", config, "--without", 4, "--json").stdout)
    assert found["mass_ratio"]["prints"] == 3
    assert found["time_ratio"] is None
    assert "metering: " not in gpost("log", "fit", "-c", config).stdout


def test_the_reserve_as_a_limit_or_as_an_average(add: Gpost, gpost: Gpost, config: Path) -> None:
    """One or the other, never both."""
    for grams in (90, 100, 95, 104):
        add("--left-g", grams)
    limit = gpost("log", "fit", "-c", config).stdout
    assert "95 % of cartridges leave no more, with 95 % confidence" in limit
    assert "reserve_spread_ml" not in limit
    average = gpost("log", "fit", "-c", config, "--average").stdout
    assert "reserve_spread_ml: " in average
    assert "# on average of 4 cartridges" in average
    found = json.loads(gpost("log", "fit", "-c", config, "--average", "--json").stdout)
    assert found["reserve_ml"] < found["limit_ml"]
    assert found["reserve_spread_ml"] > 0


def test_the_piece_s_own_figures(add: Gpost, gpost: Gpost, config: Path, tmp_path: Path) -> None:
    """With a config of thicker filament and denser clay the log keeps the summary's figures, and warns."""
    add("--grams", 31)
    (tmp_path / "other.yaml").write_text(
        "clay: {metering: {unit: filament, diameter_mm: 2.85}, wet_density_g_ml: 1.95}\n"
    )
    result = gpost("log", "add", "vase.json", "-c", "other.yaml", "--grams", 30, "--json")
    assert result.exit_code == 0
    assert result.stderr.count("the summary's is kept") == 2
    assert len(json.loads(result.stdout)["doubts"]) == 2
    one, other = json.loads(gpost("log", "show", "--json").stdout)["prints"]
    assert {key: one[key] for key in ("piece_g", "ml_per_unit", "density_g_ml")} == {
        key: other[key] for key in ("piece_g", "ml_per_unit", "density_g_ml")
    }
    summary = json.loads((tmp_path / "vase.json").read_text())
    assert one["piece_g"] == pytest.approx(summary["piece"]["wet_g"])


def test_what_looks_like_a_slip_is_asked_about(add: Gpost, config: Path) -> None:
    """Kilograms for grams, hours for minutes, a left-over no cartridge holds, the same print twice."""
    assert add("--grams", 31, "--softness", 3).stderr == ""
    assert add("--grams", 31).stderr == ""
    assert "print 3 says the same as print 2" in add("--grams", 31, "--note", "again").stderr
    assert "is far from the" in add("--grams", 310).stderr
    assert "gpost log drop 5" in add("--grams", 31_000).stderr
    assert "0.02 min is far from" in add("--minutes", 0.02).stderr
    assert "weighed with its cartridge?" in add("--left-g", 90_000).stderr


def test_a_print_of_which_nothing_is_said_is_not_kept(add: Gpost, tmp_path: Path) -> None:
    """Status 2, and no log is begun; a note alone is kept, and told to teach nothing."""
    result = add()
    assert (result.exit_code, result.stdout) == (2, "")
    assert "nothing is said of the print, so it is not kept; give --grams" in result.stderr
    assert not (tmp_path / "gpost-log.sqlite").exists()
    noted = add("--note", "it fell over", "--json")
    assert noted.exit_code == 0
    assert "nothing is learnt from it" in json.loads(noted.stdout)["doubts"][0]


def test_drop(add: Gpost, gpost: Gpost, config: Path) -> None:
    """A print is taken back: still shown, no longer learnt from, and not the same as one added after."""
    for grams in (30, 32, 0.03):
        add("--grams", grams)
    result = gpost("log", "drop", 3)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "is dropped" in result.stdout
    assert "1 of them dropped" in gpost("log", "show").stdout
    assert "on average of 2 prints" in gpost("log", "fit", "-c", config).stdout
    assert json.loads(gpost("log", "drop", 2, "--json").stdout)["number"] == 2
    assert add("--grams", 32).stderr == ""


@pytest.mark.parametrize(
    ("number", "status", "words"),
    [(1, 1, "dropped already"), (7, 1, "no print 7"), (0, 2, "NUMBER"), ("one", 2, "NUMBER")],
)
def test_drop_refused(add: Gpost, gpost: Gpost, number: object, status: int, words: str) -> None:
    """What is not there, or dropped already, and what is no number."""
    add("--grams", 30)
    gpost("log", "drop", 1)
    result = gpost("log", "drop", number)
    assert (result.exit_code, result.stdout) == (status, "")
    assert words in result.stderr


@pytest.mark.parametrize(("given", "minutes"), [("0:30", 30), ("1:32", 92), ("12:05", 725), ("92.5", 92.5)])
def test_minutes(add: Gpost, gpost: Gpost, given: str, minutes: float) -> None:
    """As minutes or as h:mm."""
    assert add("--minutes", given).exit_code == 0
    (row,) = json.loads(gpost("log", "show", "--json").stdout)["prints"]
    assert row["found"]["minutes"] == minutes


@pytest.mark.parametrize("given", ["1:75", "0:00", "0", "-3", "nan", "inf", "half an hour", "1:2", ""])
def test_what_are_no_minutes(add: Gpost, given: str) -> None:
    """Status 2, and what to write instead."""
    result = add("--minutes", given)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "h:mm, such as 1:32" in result.stderr


def test_too_few_prints(add: Gpost, gpost: Gpost, config: Path) -> None:
    """Status 1: one print teaches nothing."""
    add("--grams", 30)
    result = gpost("log", "fit", "-c", config)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "at least 2 prints" in result.stderr


@pytest.mark.parametrize("args", [("log", "show"), ("log", "fit"), ("log", "drop", "1")])
def test_no_log(gpost: Gpost, args: tuple[str, ...], tmp_path: Path) -> None:
    """Status 2: there is nothing to show, and no file is made."""
    result = gpost(*args)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "there is no log" in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_no_summary(gpost: Gpost, sliced: Path, config: Path) -> None:
    """Status 2: a sliced file is no summary."""
    result = gpost("log", "add", sliced, "-c", config, "--grams", 31)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "is no summary" in result.stderr


def test_without_a_config(add: Gpost, gpost: Gpost) -> None:
    """Status 2: the log must know how E metered."""
    result = gpost("log", "add", "vase.json")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "-c CONFIG" in result.stderr


def test_not_a_log(add: Gpost, sliced: Path) -> None:
    """Status 1: another file is never written over."""
    before = sliced.read_bytes()
    result = add("--log", sliced, "--grams", 31)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "is not a log of gpost's; name another file with --log" in result.stderr
    assert sliced.read_bytes() == before


def test_the_slab_of_the_summary_is_asked_about(gpost: Gpost, run_vase: Gpost, config: Path, tmp_path: Path) -> None:
    """A piece that weighs its own mass and the slab's; weighed alone it is not asked about.

    The summary knows the slab: the recipe that laid it need not be named.
    """
    (tmp_path / "slab.yaml").write_text("steps: [slab: {diameter_mm: 150}]\n")
    assert run_vase("-c", "slab.yaml", "-o", "out.gcode", "--json", "vase.json").exit_code == 0
    summary = json.loads((tmp_path / "vase.json").read_text())
    own_g, slab_g = summary["piece"]["wet_g"], summary["slab"]["wet_g"]
    args = ("log", "add", "vase.json", "-c", config, "--grams")
    assert gpost(*args, round(own_g)).stderr == ""
    result = gpost(*args, round(own_g + slab_g), "--json")
    assert "was it weighed with its slab?" in " ".join(result.stderr.split())
    (doubt,) = json.loads(result.stdout)["doubts"]
    assert "was it weighed with its slab?" in doubt
    fitted = json.loads(gpost("log", "fit", "-c", config, "--json").stdout)
    assert [said for said in fitted["doubts"] if said.startswith(f"print 2: {doubt[:20]}")], "and by fit again"
