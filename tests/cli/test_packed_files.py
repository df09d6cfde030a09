"""Packed files at the command line: what goes in packed is as if it were not, and an output is packed by its name."""

from __future__ import annotations

import gzip
import io
import json
import shutil
import subprocess
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from tests.cli.conftest import Gpost

HEADER_LINES = 1
"""The first line of an output names the file that it was made from."""


def body(data: bytes) -> list[bytes]:
    return data.splitlines()[HEADER_LINES:]


def zipped(name: str, data: bytes) -> bytes:
    with io.BytesIO() as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(name, data)
        return file.getvalue()


@pytest.fixture
def do(gpost: Gpost, sliced: Path, config: Path, steps: Path) -> Callable[..., Result]:
    """A command on a file with the config and step of the small cylinder, its packed twins beside it."""
    data = sliced.read_bytes()
    sliced.with_name("vase.gcode.gz").write_bytes(gzip.compress(data))
    sliced.with_name("vase.zip").write_bytes(zipped("my vase.gcode", data))

    def run(command: str, name: str, *args: object, stdin: bytes = b"", own_steps: bool = True) -> Result:
        mine = ["--steps-from", steps] if own_steps else []
        return gpost(command, name, "-c", config, *mine, *args, stdin=stdin)

    return run


@pytest.mark.parametrize("name", ["vase.gcode.gz", "vase.zip", "-"])
def test_every_command_says_the_same(do: Callable[..., Result], tmp_path: Path, name: str) -> None:
    """Run, check, survey and load say of a packed file, and of one on standard input, what they say of it unpacked."""
    (tmp_path / "bands.yaml").write_text("bands: [{clay: white}]\n")
    stdin = (tmp_path / "vase.gcode.gz").read_bytes()

    def said(result: Result, name: str) -> str:
        assert result.exit_code == 0, result.stderr
        return result.stdout.replace(name, "vase.gcode", 1)

    for command, more, own in [
        ("check", (), True),
        ("survey", ("--all",), False),
        ("load", ("--bands", "bands.yaml"), True),
        ("run", ("-o", "out.gcode", "--overwrite"), True),
    ]:
        plain = do(command, "vase.gcode", *more, own_steps=own)
        packed = do(command, name, *more, own_steps=own, stdin=stdin)
        assert said(packed, name) == said(plain, "vase.gcode")


@pytest.mark.parametrize("source", ["vase.gcode", "vase.gcode.gz", "vase.zip"])
def test_the_output_s_name_says_how(do: Callable[..., Result], tmp_path: Path, source: str) -> None:
    """Whatever the source is, `.gz` and `.zip` outputs hold what the plain one is."""
    for name in ("out.gcode", "out.gcode.gz", "out.zip"):
        assert do("run", source, "-o", name).exit_code == 0
    plain = (tmp_path / "out.gcode").read_bytes()
    assert b"M0" in plain
    assert gzip.decompress((tmp_path / "out.gcode.gz").read_bytes()) == plain
    with zipfile.ZipFile(tmp_path / "out.zip") as archive:
        assert archive.namelist() == ["out.gcode"]
        assert archive.read("out.gcode") == plain


def test_the_usual_programs_unpack_it(do: Callable[..., Result], tmp_path: Path) -> None:
    """What gpost packs, gzip and unzip unpack and find whole."""
    for name in ("out.gcode", "out.gcode.gz", "out.zip"):
        assert do("run", "vase.gcode", "-o", name).exit_code == 0
    for command in (["gzip", "-dc", "out.gcode.gz"], ["unzip", "-p", "out.zip"]):
        if shutil.which(command[0]) is None:
            pytest.skip(f"there is no {command[0]} here")
        done = subprocess.run(command, cwd=tmp_path, capture_output=True, check=True)
        assert done.stdout == (tmp_path / "out.gcode").read_bytes()


@pytest.mark.parametrize("name", ["out.gcode.gz", "out.zip"])
def test_the_same_bytes_again(do: Callable[..., Result], tmp_path: Path, name: str) -> None:
    """Nothing of the hour or of another name goes into a packed output."""
    assert do("run", "vase.gcode", "-o", name).exit_code == 0
    first = (tmp_path / name).read_bytes()
    (tmp_path / "later").mkdir()
    assert do("run", "vase.gcode", "-o", f"later/{name}").exit_code == 0
    assert (tmp_path / "later" / name).read_bytes() == first
    if name.endswith(".gz"):
        assert first[4:8] == bytes(4)  # RFC 1952, section 2.3.1: MTIME 0 is no time
        assert first[3] == 0  # no file name


def test_a_packed_output_is_not_done_again(do: Callable[..., Result], tmp_path: Path) -> None:
    """A second run over a packed output is refused as over a plain one, and leaves nothing."""
    assert do("run", "vase.gcode.gz", "-o", "out.gcode.gz").exit_code == 0
    again = do("run", "out.gcode.gz", "-o", "twice.gcode.gz")
    assert again.exit_code == 1
    assert "already written by gpost" in again.stderr
    assert not (tmp_path / "twice.gcode.gz").exists()


def test_in_place(do: Callable[..., Result], tmp_path: Path) -> None:
    """`--in-place` packs what was packed, and keeps what it was."""
    before = (tmp_path / "vase.gcode.gz").read_bytes()
    assert do("run", "vase.gcode", "-o", "out.gcode").exit_code == 0
    assert do("run", "vase.gcode.gz", "--in-place").exit_code == 0
    data = gzip.decompress((tmp_path / "vase.gcode.gz").read_bytes())
    assert body(data) == body((tmp_path / "out.gcode").read_bytes())
    assert (tmp_path / "vase.sliced.gcode.gz").read_bytes() == before


def test_a_damaged_file_leaves_nothing(do: Callable[..., Result], tmp_path: Path) -> None:
    """A packed file that is cut short ends with status 1 and a sentence, and no output."""
    whole = (tmp_path / "vase.gcode.gz").read_bytes()
    (tmp_path / "vase.gcode.gz").write_bytes(whole[:-20])
    before = sorted(tmp_path.iterdir())
    result = do("run", "vase.gcode.gz", "-o", "out.gcode")
    assert (result.exit_code, result.stderr) == (
        1,
        "Error: vase.gcode.gz is damaged or cut short; copy or pack it again\n",
    )
    assert sorted(tmp_path.iterdir()) == before


def test_the_bound(do: Callable[..., Result], config: Path, tmp_path: Path) -> None:
    """`reading: most_piped_gb` holds for what a packed file unpacks to."""
    config.write_text(config.read_text() + "reading: {most_piped_gb: 0.000001}\n")
    result = do("run", "vase.gcode.gz", "-o", "out.gcode")
    assert result.exit_code == 1
    assert "vase.gcode.gz unpacks to more than 1e-06 GB" in result.stderr
    assert not (tmp_path / "out.gcode").exists()


def test_a_folder(do: Callable[..., Result], tmp_path: Path) -> None:
    """A batch does packed files too, each with its own config, keeps their kind, and knows them when it is done again."""
    folder = tmp_path / "in"
    folder.mkdir()
    for name in ("vase.gcode", "vase.gcode.gz", "vase.zip"):
        shutil.move(tmp_path / name, folder / name)
    (folder / "vase.yaml").write_text("steps: [{look: {at_layer: 5}}]\n")
    assert do("batch", "in", "-o", "out", "--jobs", "1").exit_code == 0
    out = tmp_path / "out"
    plain = (out / "vase.gcode").read_bytes()
    assert body(gzip.decompress((out / "vase.gcode.gz").read_bytes())) == body(plain)
    with zipfile.ZipFile(out / "vase.zip") as archive:
        assert body(archive.read("vase.gcode")) == body(plain)
    layers = [json.loads((out / f"{name}.gpost.json").read_text())["pauses"][0]["layer"] for name in ("vase.gcode", "vase.zip", "vase.gcode.gz")]
    assert layers == [5, 5, 5]
    again = do("batch", "in", "-o", "out", "--jobs", "1")
    assert again.exit_code == 0
    assert again.stdout.count("unchanged") >= 3


def test_a_day(do: Callable[..., Result], gpost: Gpost, tmp_path: Path) -> None:
    """The day packs packed files as it packs the others."""
    folder = tmp_path / "in"
    folder.mkdir()
    shutil.move(tmp_path / "vase.gcode.gz", folder / "cup.gcode.gz")
    shutil.move(tmp_path / "vase.gcode", folder / "vase.gcode")
    day = json.loads(gpost("day", "in", "--no-config", "--json").stdout)
    said = json.dumps(day)
    assert "cup.gcode.gz" in said
    assert "vase.gcode" in said


def test_trials(gpost: Gpost, sliced: Path, tmp_path: Path) -> None:
    """A trial's piece may be packed, and its file to weigh by is packed if it is named so."""
    (tmp_path / "pot.gcode.gz").write_bytes(gzip.compress(sliced.read_bytes()))
    (tmp_path / "recipe.yaml").write_text("cartridge: {line_ml: 3}\nsteps: [swap: {at_layer: 3, colour: blue}]\n")
    trial = ("-c", "recipe.yaml", "--colour", "7=9", "--json")
    said = [gpost("calibrate", "--piece", name, *trial).stdout for name in (sliced, "pot.gcode.gz")]
    assert said[0] == said[1]
    assert "line_ml" in said[0]
    for name in ("strip.gcode", "strip.gcode.gz"):
        assert gpost("calibrate", "--no-config", "--strip", name).exit_code == 0
    assert gzip.decompress((tmp_path / "strip.gcode.gz").read_bytes()) == (tmp_path / "strip.gcode").read_bytes()


def test_a_packed_file_is_no_config(gpost: Gpost, sliced: Path, tmp_path: Path) -> None:
    """It is known by its name where a config is asked for."""
    (tmp_path / "vase.gcode.gz").write_bytes(gzip.compress(sliced.read_bytes()))
    result = gpost("check", sliced, "-c", "vase.gcode.gz")
    assert result.exit_code == 2
    assert "it is a sliced file" in result.stderr
