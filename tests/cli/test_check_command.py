"""`gpost check`, and how its errors stop `gpost run` and `gpost batch`."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from gpost import calls

Gpost = Callable[..., Result]
SMALL_BED = "machine: {bed: {x_max_mm: 160, y_max_mm: 300}}\nsteps: [cold]\n"


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A config whose bed is too small for the vase."""
    path = tmp_path / "small.yaml"
    path.write_text(SMALL_BED)
    return path


@pytest.fixture
def clean(tmp_path: Path) -> Path:
    """A config under which nothing is wrong with the vase."""
    path = tmp_path / "clean.yaml"
    path.write_text("machine: {bed: {x_max_mm: 300, y_max_mm: 300}}\nsteps: [cold]\n")
    return path


def test_clean_file(gpost: Gpost, sliced: Path, clean: Path, tmp_path: Path) -> None:
    """Status 0 when nothing is wrong; no file is written."""
    before = set(tmp_path.iterdir())
    result = gpost("check", sliced, "-c", clean)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.endswith("Nothing stands in the way.\n")
    assert set(tmp_path.iterdir()) == before


def test_warnings_alone(gpost: Gpost, sliced: Path, clean: Path, tmp_path: Path) -> None:
    """Status 0 with warnings: heating without the step `cold`, which a later config has left out."""
    (tmp_path / "warm.yaml").write_text("steps: []\n")
    result = gpost("check", sliced, "-c", clean, "-c", tmp_path / "warm.yaml")
    assert result.exit_code == 0
    assert "  - heating, line " in result.stdout
    assert "  - replaced: steps: " in result.stdout
    assert result.stdout.endswith("0 errors, 2 warnings\n")


def test_errors(gpost: Gpost, sliced: Path, small: Path) -> None:
    """Status 1 with errors, in words and as JSON alike, from standard input too."""
    text = gpost("check", sliced, "-c", small)
    assert (text.exit_code, text.stderr) == (1, "")
    found = gpost("check", "-", "-c", small, "--json", stdin=sliced.read_bytes())
    assert found.exit_code == 1
    finding = json.loads(found.stdout)["findings"][0]
    assert (finding["name"], finding["severity"]) == ("outside-bed", "error")
    assert f"outside-bed, line {finding['line']} (first of {finding['count']}): " in text.stdout
    line = sliced.read_text().splitlines()[finding["line"] - 1]
    assert float(line.partition("X")[2].split()[0]) > 160


@pytest.mark.parametrize(
    "text", ["machine: {bad: 1}\n", "machine: {max_feed_mm_min: 0}\n", "steps: [glaze]\n"]
)
def test_wrong_config(gpost: Gpost, sliced: Path, tmp_path: Path, text: str) -> None:
    """Status 2 when the config is wrong."""
    (tmp_path / "bad.yaml").write_text(text)
    result = gpost("check", sliced, "-c", tmp_path / "bad.yaml")
    assert (result.exit_code, result.stdout) == (2, "")


def test_unreadable_file(gpost: Gpost, clean: Path) -> None:
    """Status 1 and a sentence when the file can't be read as G-code at all."""
    result = gpost("check", "-", "-c", clean, stdin=b"")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "is empty" in result.stderr


def test_run_refuses(gpost: Gpost, sliced: Path, small: Path, tmp_path: Path) -> None:
    """Status 1: run names the errors and writes nothing; nobody is advised to leave the bed."""
    result = gpost("run", sliced, "-c", small, "-o", "out.gcode")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "outside-bed, line " in result.stderr
    assert "--allow" not in result.stderr
    assert not (tmp_path / "out.gcode").exists()


def test_run_with_the_error_allowed(gpost: Gpost, sliced: Path, small: Path, tmp_path: Path) -> None:
    """Allowed by name, run goes on, and the summary still warns."""
    result = gpost("run", sliced, "-c", small, "-o", "out.gcode", "--allow", "outside-bed")
    assert result.exit_code == 0
    assert "(allowed)" in " ".join(result.stdout.split())
    assert (tmp_path / "out.gcode").exists()


def test_what_was_allowed_once_is_not_allowed_for_ever(
    gpost: Gpost, sliced: Path, small: Path, tmp_path: Path
) -> None:
    """A file that a batch did because it was allowed is refused again when it is not; the output stays."""
    (tmp_path / "in").mkdir()
    sliced.rename(tmp_path / "in" / "vase.gcode")
    args = ("batch", "in", "-c", small, "-o", "out")
    assert gpost(*args, "--allow", "outside-bed").exit_code == 0
    before = (tmp_path / "out" / "vase.gcode").read_bytes()
    refused = gpost(*args)
    assert refused.exit_code == 1
    assert refused.stderr.startswith("vase.gcode: outside-bed, line ")
    assert (tmp_path / "out" / "vase.gcode").read_bytes() == before
    assert "unchanged" in gpost(*args, "--allow", "outside-bed").stdout


def test_check_with_the_error_allowed(gpost: Gpost, sliced: Path, small: Path) -> None:
    """Status 0, and a warning that says that it is allowed; another name leaves it an error."""
    result = gpost("check", sliced, "-c", small, "--allow", "outside-bed")
    assert result.exit_code == 0
    assert "(allowed)" in result.stdout
    assert result.stdout.endswith("0 errors, 1 warning\n")
    assert gpost("check", sliced, "-c", small, "--allow", "too-fast").exit_code == 1
    assert gpost("check", sliced, "-c", small, "--allow", "plan").exit_code == 2


def test_load_refuses_and_allows(gpost: Gpost, sliced: Path, small: Path, tmp_path: Path) -> None:
    """No loading sheet for what run would refuse; the words are those of run."""
    (tmp_path / "bands.yaml").write_text("bands: [{clay: white}]\n")
    refused = gpost("load", sliced, "-c", small, "--bands", "bands.yaml")
    assert (refused.exit_code, refused.stdout) == (1, "")
    assert refused.stderr == gpost("run", sliced, "-c", small, "-o", "out.gcode").stderr
    allowed = gpost("load", sliced, "-c", small, "--bands", "bands.yaml", "--allow", "outside-bed")
    assert allowed.exit_code == 0


def test_day_refuses_and_allows(gpost: Gpost, sliced: Path, small: Path, tmp_path: Path) -> None:
    """A piece that run would refuse is left out of the day's sheet, with the reason."""
    (tmp_path / "in").mkdir()
    sliced.rename(tmp_path / "in" / "vase.gcode")
    refused = gpost("day", "in", "-c", small)
    assert refused.exit_code == 1
    assert "outside-bed, line " in refused.stdout.partition("Left out")[2]
    assert gpost("day", "in", "-c", small, "--allow", "outside-bed").exit_code == 0


def test_notes_stop_nothing(gpost: Gpost, sliced: Path, clean: Path) -> None:
    """What steps note, and where the file itself waits, is told apart from what is wrong."""
    sliced.write_text(sliced.read_text() + "M600\n")
    lines = len(sliced.read_text().splitlines())
    result = gpost("check", sliced, "-c", clean)
    assert result.exit_code == 0
    assert "Notes\n" in result.stdout
    assert f"the file itself makes the machine wait for you, by M600: line {lines}" in " ".join(
        result.stdout.split()
    )
    assert result.stdout.endswith("Nothing stands in the way.\n")
    found = json.loads(gpost("check", sliced, "-c", clean, "--json").stdout)
    assert (found["errors"], found["warnings"]) == (0, 0)
    assert ("own-pause", "note", lines) in {
        (one["name"], one["severity"], one["line"]) for one in found["findings"]
    }


def test_allowing_another_error(gpost: Gpost, sliced: Path, small: Path) -> None:
    """Only what is named is allowed, and only names that exist: status 2 otherwise."""
    assert gpost("run", sliced, "-c", small, "-o", "out.gcode", "--allow", "too-fast").exit_code == 1
    assert gpost("run", sliced, "-c", small, "-o", "out.gcode", "--allow", "plan").exit_code == 2
    assert gpost("batch", ".", "-c", small, "-o", "out", "--allow", "everything").exit_code == 2


def test_batch_refuses_and_allows(gpost: Gpost, sliced: Path, small: Path, tmp_path: Path) -> None:
    """A file with errors fails in a batch, with the reason on one line, unless they are allowed."""
    (tmp_path / "in").mkdir()
    sliced.rename(tmp_path / "in" / "vase.gcode")
    refused = gpost("batch", "in", "-c", small, "-o", "out")
    assert refused.exit_code == 1
    assert refused.stderr.startswith("vase.gcode: outside-bed, line ")
    assert refused.stderr.count("\n") == 1
    allowed = gpost("batch", "in", "-c", small, "-o", "out", "--allow", "outside-bed")
    assert allowed.exit_code == 0
    assert (tmp_path / "out" / "vase.gcode").exists()


@pytest.mark.parametrize("as_json", [False, True])
def test_survey_says_of_the_layers_what_check_says(
    gpost: Gpost, sliced: Path, tmp_path: Path, as_json: bool
) -> None:
    """In the same words: a first layer that doesn't fit a nozzle that the config names."""
    (tmp_path / "wide.yaml").write_text(
        "machine: {nozzle_mm: 10, bed: {x_max_mm: 300, y_max_mm: 300}}\nsteps: [cold]\n"
    )
    told = gpost("check", sliced, "-c", tmp_path / "wide.yaml", "--json")
    (first,) = [found for found in json.loads(told.stdout)["findings"] if found["name"] == "first-layer"]
    said = f"first-layer, line {first['line']}: {first['text']}"
    result = gpost("survey", sliced, "-c", tmp_path / "wide.yaml", *(["--json"] if as_json else []))
    if as_json:
        assert said in json.loads(result.stdout)["warnings"]
    else:
        assert said in " ".join(result.stdout.split())
    assert "first-layer" not in gpost("survey", sliced).stdout


def test_a_cut_file_is_told_alike(gpost: Gpost, sliced: Path, clean: Path, tmp_path: Path) -> None:
    """By survey, check, run and batch, and by the calls, in one sentence with the line."""
    laid = [line for line in sliced.read_bytes().split(b"\n") if line.startswith(b"G1 X") and b" E" in line]
    whole = sliced.read_bytes()
    (tmp_path / "in").mkdir()
    cut = tmp_path / "in" / "cut.gcode"
    cut.write_bytes(whole[: whole.rindex(laid[-3]) + len(laid[-3]) - 4])
    line = cut.read_bytes().count(b"\n") + 1
    said = f"the file ends in the middle of line {line} as it seems: it may be cut off"
    told = [gpost(*words, "-c", clean) for words in (("survey", cut), ("check", cut))]
    told += [
        gpost("run", cut, "-c", clean, "-o", "out.gcode"),
        gpost("batch", "in", "-c", clean, "-o", "out"),
    ]
    for result in told:
        assert (result.exit_code, said in " ".join((result.stdout + result.stderr).split())) == (0, True)
    assert any(said in text for text in calls.survey(cut, clean).warnings)
    assert any(said in found.text for found in calls.check(cut, clean))
    assert any(said in text for text in calls.run(cut, clean, tmp_path / "again.gcode").warnings)
