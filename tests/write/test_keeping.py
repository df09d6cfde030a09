"""The sliced original is kept beside what takes its place, whatever stands there and whatever goes wrong."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from gpost.errors import OutputError
from gpost.write.keeping import Original, kept_names
from gpost.write.sink import AtomicFile


def replace(target: Path, content: bytes, *, overwrite: bool = False) -> Path:
    """Put other content in the file's place; where the original is kept."""
    original = Original(overwrite)
    with AtomicFile(target, overwrite=True, around=original.keep) as out:
        out.write(content)
    assert original.kept is not None
    return original.kept


@pytest.fixture
def sliced(tmp_path: Path) -> Path:
    """A file to replace."""
    path = tmp_path / "vase.gcode"
    path.write_bytes(b"sliced")
    return path


@pytest.fixture(params=["links", "no links"])
def disk(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that knows hard links, and one that doesn't, as on many memory cards."""
    if request.param == "no links":

        def refuse(*_names: object) -> None:
            raise OSError(errno.EPERM, "no links here")

        monkeypatch.setattr(os, "link", refuse)


@pytest.mark.parametrize(
    ("name", "first", "second"),
    [
        ("vase.gcode", "vase.sliced.gcode", "vase.sliced-2.gcode"),
        ("a.b.NC", "a.b.sliced.NC", "a.b.sliced-2.NC"),
        ("vase.gcode.gz", "vase.sliced.gcode.gz", "vase.sliced-2.gcode.gz"),
        ("vase.zip", "vase.sliced.zip", "vase.sliced-2.zip"),
        ("vase", "vase.sliced", "vase.sliced-2"),
    ],
)
def test_names(name: str, first: str, second: str) -> None:
    """The ending stays the last, so that the file is still known for what it is."""
    names = kept_names(Path("shelf") / name)
    assert [next(names), next(names)] == [Path("shelf") / first, Path("shelf") / second]


@pytest.mark.usefixtures("disk")
def test_the_original_is_kept(sliced: Path, tmp_path: Path) -> None:
    """Both files are there afterwards, with the same permissions, and nothing else is."""
    sliced.chmod(0o640)
    kept = replace(sliced, b"to run")
    assert (kept.name, kept.read_bytes(), sliced.read_bytes()) == ("vase.sliced.gcode", b"sliced", b"to run")
    assert {path.stat().st_mode & 0o777 for path in (kept, sliced)} == {0o640}
    assert {path.name for path in tmp_path.iterdir()} == {"vase.gcode", "vase.sliced.gcode"}


@pytest.mark.parametrize("overwrite", [False, True])
def test_a_link_to_the_file_itself_keeps_nothing(sliced: Path, overwrite: bool) -> None:
    """It would lead to what takes the place; the original gets a name of its own."""
    (sliced.parent / "vase.sliced.gcode").symlink_to(sliced.name)
    kept = replace(sliced, b"to run", overwrite=overwrite)
    assert (kept.read_bytes(), sliced.read_bytes()) == (b"sliced", b"to run")
    assert not kept.is_symlink()


@pytest.mark.usefixtures("disk")
def test_what_stands_there_is_not_lost(sliced: Path) -> None:
    """Another slicing's original stays, and the next takes a name of its own; the same bytes are kept once."""
    assert replace(sliced, b"to run").name == "vase.sliced.gcode"
    sliced.write_bytes(b"sliced anew")
    assert replace(sliced, b"to run anew").name == "vase.sliced-2.gcode"
    sliced.write_bytes(b"sliced anew")
    assert replace(sliced, b"again").name == "vase.sliced-2.gcode"
    contents = {path.name: path.read_bytes() for path in sliced.parent.iterdir()}
    assert contents == {
        "vase.gcode": b"again",
        "vase.sliced.gcode": b"sliced",
        "vase.sliced-2.gcode": b"sliced anew",
    }


@pytest.mark.usefixtures("disk")
def test_overwrite(sliced: Path) -> None:
    """With `overwrite` the older original gives way; a folder of that name doesn't."""
    replace(sliced, b"to run")
    sliced.write_bytes(b"sliced anew")
    assert replace(sliced, b"to run anew", overwrite=True).read_bytes() == b"sliced anew"
    assert len(list(sliced.parent.iterdir())) == 2
    (sliced.parent / "vase.sliced.gcode").unlink()
    (sliced.parent / "vase.sliced.gcode").mkdir()
    assert replace(sliced, b"x", overwrite=True).name == "vase.sliced-2.gcode"


@pytest.mark.usefixtures("disk")
def test_nothing_is_left_when_it_fails(sliced: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the output can't take the place, the source is where it was and no second one beside it."""
    there = os.replace

    def fail_at_target(name: Path, target: Path) -> None:
        if Path(target) == sliced:
            raise OSError(errno.EIO, "the disk failed")
        there(name, target)

    monkeypatch.setattr(os, "replace", fail_at_target)
    with pytest.raises(OutputError, match="the disk failed"):
        replace(sliced, b"to run")
    assert {path.name: path.read_bytes() for path in sliced.parent.iterdir()} == {"vase.gcode": b"sliced"}


def test_a_name_that_is_too_long(tmp_path: Path) -> None:
    """Where the disk takes no name for the original, nothing is replaced."""
    path = tmp_path / f"{'v' * 245}.gcode"
    path.write_bytes(b"sliced")
    with pytest.raises(OutputError, match="too long"):
        replace(path, b"to run")
    assert [entry.read_bytes() for entry in tmp_path.iterdir()] == [b"sliced"]
