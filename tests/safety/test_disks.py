"""Disks that are full or may not be written, outputs that are no files, and names nobody would choose."""

from __future__ import annotations

import gzip
import os
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

RUN = ("run", "pot.gcode", "-c", "recipe.yaml", "-o")


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.fixture
def mounted(tmp_path: Path) -> Iterator[Callable[..., Path]]:
    """mounted(options...): a folder that is mounted so; skips where that is not allowed."""
    made: list[Path] = []

    def mount(*options: str) -> Path:
        place = tmp_path / f"mounted{len(made)}"
        place.mkdir()
        done = subprocess.run(["mount", *options, place], capture_output=True, text=True, check=False)
        if done.returncode:
            pytest.skip(f"nothing may be mounted here: {done.stderr.strip()}")
        made.append(place)
        return place

    yield mount
    for place in made:
        subprocess.run(["umount", place], check=True)


@pytest.fixture
def read_only(tmp_path: Path, mounted: Callable[..., Path]) -> Callable[[Path], Path]:
    """read_only(folder): a path of the folder by which nothing in it can be changed, not even by root."""

    def protect(folder: Path) -> Path:
        if os.geteuid():
            folder.chmod(0o555)
            return folder
        place = mounted("--bind", str(folder))
        subprocess.run(["mount", "-o", "remount,bind,ro", place], check=True)
        return place

    return protect


@pytest.mark.parametrize("file_bytes", [4096, 300_000, 1_150_000])
def test_no_room_to_unpack(forker, shelf, bottle, file_bytes) -> None:
    """Where a packed file has no room to be unpacked, that is said, and nothing is left."""
    bottle.put(shelf)
    (shelf / "pot.gcode").write_bytes(gzip.compress(bottle.source))
    ended = forker.do(shelf, *RUN, "out.gcode", file_bytes=file_bytes)
    assert (ended.status, ended.err) == (1, "Error: there is no room to unpack pot.gcode; free some space\n")
    assert names(shelf) == {"pot.gcode", "recipe.yaml"}
    assert names(forker.spool) == set()


@pytest.mark.parametrize("file_bytes", [4096, 100_000])
@pytest.mark.parametrize("name", ["out.gcode.gz", "out.zip"])
def test_no_room_for_a_packed_file(forker, shelf, bottle, name, file_bytes) -> None:
    """A packed output for which there is no room leaves nothing but the sentence."""
    bottle.put(shelf)
    ended = forker.do(shelf, *RUN, name, file_bytes=file_bytes)
    assert ended.status == 1
    assert ended.err.startswith("Error: there is no room left to write ")
    assert ended.err.count("\n") == 1
    assert names(shelf) == {"pot.gcode", "recipe.yaml"}


@pytest.mark.parametrize("way", [("out.gcode",), ("out.gcode", "--overwrite"), ("-",)], ids=" ".join)
@pytest.mark.parametrize("file_bytes", [4096, 300_000, 1_180_000])
def test_no_room_for_so_large_a_file(forker, shelf, bottle, way, file_bytes) -> None:
    """Where no more bytes can be written, the run ends with a sentence, and everything is as it was."""
    bottle.put(shelf)
    if "--overwrite" in way:
        (shelf / "out.gcode").write_bytes(b"old")
    before = names(shelf)
    ended = forker.do(shelf, *RUN, *way, file_bytes=file_bytes)
    assert ended.status == 1
    assert "there is no room left to write" in ended.err
    assert names(shelf) == before
    assert names(forker.spool) == set()
    assert (shelf / "pot.gcode").read_bytes() == bottle.source
    assert "--overwrite" not in way or (shelf / "out.gcode").read_bytes() == b"old"


@pytest.mark.parametrize("size", ["4k", "256k", "1m"])
def test_full_disk(forker, shelf, bottle, mounted, size) -> None:
    """A disk that becomes full on the way is told, and is as empty afterwards as it was before."""
    bottle.put(shelf)
    disk = mounted("-t", "tmpfs", "-o", f"size={size}", "none")
    ended = forker.do(shelf, *RUN, disk / "out.gcode")
    assert (ended.status, ended.out) == (1, "")
    assert "there is no room left to write" in ended.err
    assert "free some space, or choose another disk" in ended.err
    assert names(disk) == set()


def test_full_disk_for_the_summary(forker, shelf, bowl, mounted) -> None:
    """When only the summary finds no room, the sentence says that the output is complete, and it is."""
    bowl.put(shelf)
    disk = mounted("-t", "tmpfs", "-o", "size=4k", "none")
    ended = forker.do(shelf, *RUN, "out.gcode", "--json", disk / "summary.json")
    assert ended.status == 1
    assert "out.gcode is complete, but its summary is not written: there is no room left" in ended.err
    assert (shelf / "out.gcode").read_bytes() == bowl.output
    assert names(disk) == set()


def test_full_disk_in_a_batch(forker, shelf, bowl, mounted) -> None:
    """In a batch the files that find no room fail, each with a sentence, and leave no half output or record."""
    bowl.put(shelf)
    (shelf / "in").mkdir()
    for name in "abcd":
        (shelf / "in" / f"{name}.gcode").write_bytes(bowl.source)
    disk = mounted("-t", "tmpfs", "-o", "size=64k", "none")
    ended = forker.do(shelf, "batch", "in", "-c", "recipe.yaml", "-o", disk, "--jobs", "1")
    assert ended.status == 1
    assert "there is no room left to write" in ended.err
    assert 0 < len(names(disk)) < 8
    outputs = {path.name for path in disk.glob("*.gcode")}
    assert names(disk) == outputs | {f"{name}.gpost.json" for name in outputs}
    for name in outputs:
        assert (disk / name).read_bytes().splitlines()[1:] == bowl.output.splitlines()[1:]


def test_read_only_folder(forker, shelf, bowl, read_only) -> None:
    """A folder that may not be written is told before the work starts; nothing is in it afterwards."""
    bowl.put(shelf)
    (shelf / "locked").mkdir()
    locked = read_only(shelf / "locked")
    ended = forker.do(shelf, *RUN, locked / "out.gcode")
    assert (ended.status, ended.out) == (1, "")
    assert f"nothing may be written in the folder {locked}" in ended.err
    assert names(locked) == set()


def test_read_only_source(forker, shelf, bowl, read_only) -> None:
    """A source that may only be read can be run, but not in place."""
    (shelf / "locked").mkdir()
    bowl.put(shelf / "locked")
    locked = read_only(shelf / "locked")
    assert forker.do(locked, *RUN, shelf / "out.gcode").status == 0
    ended = forker.do(locked, "run", "pot.gcode", "-c", "recipe.yaml", "--in-place")
    assert ended.status == 1
    assert "write" in ended.err
    assert (locked / "pot.gcode").read_bytes() == bowl.source
    assert names(locked) == {"pot.gcode", "recipe.yaml"}


def a_link(shelf: Path) -> None:
    (shelf / "out.gcode").symlink_to("pot.gcode")


def a_hard_link(shelf: Path) -> None:
    (shelf / "out.gcode").hardlink_to(shelf / "pot.gcode")


def a_link_by_another_folder(shelf: Path) -> None:
    (shelf / "here").symlink_to(shelf)
    (shelf / "out.gcode").symlink_to("here/pot.gcode")


def a_folder(shelf: Path) -> None:
    (shelf / "out.gcode").mkdir()


def a_link_to_a_folder(shelf: Path) -> None:
    (shelf / "out.gcode").symlink_to(".")


def a_pipe(shelf: Path) -> None:
    os.mkfifo(shelf / "out.gcode")


def a_device(shelf: Path) -> None:
    (shelf / "out.gcode").symlink_to(os.devnull)


def a_link_to_itself(shelf: Path) -> None:
    (shelf / "out.gcode").symlink_to("out.gcode")


def a_link_into_nowhere(shelf: Path) -> None:
    (shelf / "out.gcode").symlink_to("nowhere/out.gcode")


SAME = "is the sliced file itself"
NO_FILE = "is not a plain file"


@pytest.mark.parametrize("flags", [(), ("--overwrite",)], ids=["new", "overwrite"])
@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (a_link, SAME),
        (a_hard_link, SAME),
        (a_link_by_another_folder, SAME),
        (a_folder, "is a folder"),
        (a_link_to_a_folder, "is a folder"),
        (a_pipe, NO_FILE),
        (a_device, NO_FILE),
        (a_link_to_itself, "can't be"),
        (a_link_into_nowhere, "doesn't exist"),
    ],
    ids=lambda value: getattr(value, "__name__", None),
)
def test_output_that_is_no_place_for_a_file(forker, shelf, bowl, make, sentence, flags) -> None:
    """An output that is the source by another name, or no file, is refused; nothing is changed or added."""
    bowl.put(shelf)
    make(shelf)
    before = {path.name: path.lstat() for path in shelf.iterdir()}
    ended = forker.do(shelf, *RUN, "out.gcode", *flags)
    assert (ended.status, ended.out) == (1, "")
    assert sentence in ended.err
    after = {path.name: path.lstat() for path in shelf.iterdir()}
    assert {name: (found.st_ino, found.st_mtime_ns) for name, found in after.items()} == {
        name: (found.st_ino, found.st_mtime_ns) for name, found in before.items()
    }
    assert (shelf / "pot.gcode").read_bytes() == bowl.source


@pytest.mark.parametrize("output", ["pot.gcode", "./pot.gcode", "../shelf/pot.gcode", "PATH"])
def test_output_that_is_the_source(forker, shelf, bowl, output) -> None:
    """The source is not written, whatever way its name is written."""
    bowl.put(shelf)
    output = shelf / "pot.gcode" if output == "PATH" else output
    ended = forker.do(shelf, *RUN, output, "--overwrite")
    assert (ended.status, SAME in ended.err) == (1, True)
    assert (shelf / "pot.gcode").read_bytes() == bowl.source


def test_dangling_link(forker, shelf, bowl) -> None:
    """An output that is a link to a file which is not there yet makes that file, whole; the link stays."""
    bowl.put(shelf)
    (shelf / "out.gcode").symlink_to("real.gcode")
    assert forker.do(shelf, *RUN, "out.gcode").status == 0
    assert (shelf / "out.gcode").is_symlink()
    assert (shelf / "real.gcode").read_bytes() == bowl.output


def test_in_place_through_a_link(forker, shelf, bowl) -> None:
    """In place, a link to the source stays a link, and another hard link keeps the old content."""
    bowl.put(shelf)
    (shelf / "other.gcode").hardlink_to(shelf / "pot.gcode")
    (shelf / "link.gcode").symlink_to("pot.gcode")
    assert forker.do(shelf, "run", "link.gcode", "-c", "recipe.yaml", "--in-place").status == 0
    assert (shelf / "link.gcode").is_symlink()
    assert (shelf / "other.gcode").read_bytes() == bowl.source
    assert (shelf / "pot.gcode").read_bytes().splitlines()[1:] == bowl.output.splitlines()[1:]


@pytest.mark.parametrize(
    "name",
    [
        "two words.gcode",
        'it\'s "quoted".gcode',
        "new\nline.gcode",
        "\r\n; G28\n.gcode",
        "Čaša 花瓶 إناء.gcode",
        "-leading.gcode",
        "--overwrite",
        "\x1b[31mred\x07.gcode",
        "\u202eedocg.\u2066gcode",
        "$(touch hacked) `touch hacked` %s {name} ~.gcode",
        "*.gcode",
        b"no\xfftext.gcode",
        "n" * 249 + ".gcode",
    ],
    ids=lambda name: ascii(name)[:16],
)
def test_odd_names(forker, shelf, bowl, name) -> None:
    """Any name will do for source, output and summary; none can steer a terminal or add a line to the file."""
    (shelf / "recipe.yaml").write_text(bowl.recipe)
    (shelf / "o").mkdir()
    source = shelf / os.fsdecode(name)
    source.write_bytes(bowl.source)
    target = Path("o") / source.name
    ended = forker.do(
        shelf,
        "run",
        "-c",
        "recipe.yaml",
        "-o",
        target,
        "--json",
        target.with_suffix(".js"),
        "--",
        source.name,
    )
    assert (ended.status, ended.err) == (0, "")
    assert all(char.isprintable() or char == "\n" for char in ended.out)
    lines = (shelf / target).read_bytes().splitlines()
    assert lines[1:] == bowl.output.splitlines()[1:]
    assert lines[0].startswith(b"; gpost wrote this file")
    assert lines[0].isascii()
    assert names(shelf) == {source.name, "recipe.yaml", "o"}
    assert names(shelf / "o") == {source.name, target.with_suffix(".js").name}
    assert source.read_bytes() == bowl.source


def test_odd_names_that_fail(forker, shelf) -> None:
    """A failure tells a hostile name in one harmless line."""
    name = "\x1b[31mred\nError: all is well\u202e.gcode"
    (shelf / name).write_bytes(b"")
    ended = forker.do(shelf, "run", name, "--no-config", "-o", "out.gcode")
    assert ended.status == 1
    assert [line for line in ended.err.splitlines() if line.startswith("Error: all")] == []
    assert all(char.isprintable() or char == "\n" for char in ended.err)
