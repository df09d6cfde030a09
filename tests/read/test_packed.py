"""Packed files: what the standard library and the usual programs pack is read as if it had not been packed."""

from __future__ import annotations

import bz2
import gzip
import io
import random
import shutil
import subprocess
import threading
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Reading
from gpost.errors import SourceError
from gpost.read.packed import below, pieces_in
from gpost.read.source import DEFAULT, Source

POT = b"".join(b"G1 X%d.5 Y%d E0.0%d\n" % (n % 200, n * 7 % 90, n % 10) for n in range(4000))
SMALL = Reading(most_piped_gb=1e-4)
"""100 kB."""


def zip_of(*members: tuple[str, bytes], how: int = zipfile.ZIP_DEFLATED) -> bytes:
    """An archive of files by name."""
    with io.BytesIO() as file:
        with zipfile.ZipFile(file, "w", how) as archive:
            for name, data in members:
                archive.writestr(name, data)
        return file.getvalue()


def read(path: Path, reading: Reading = DEFAULT, chunk_bytes: int | None = None) -> bytes:
    """All that its chunks hold."""
    return b"".join(chunk.data for chunk in Source(path, reading, chunk_bytes=chunk_bytes).chunks())


def by_program(path: Path, data: bytes, *command: str) -> None:
    """Pack data with a program of this machine, if it is there."""
    if shutil.which(command[0]) is None:
        pytest.skip(f"there is no {command[0]} here")
    (path.parent / "pot.gcode").write_bytes(data)
    done = subprocess.run(command, cwd=path.parent, capture_output=True, check=True)
    if done.stdout and not path.exists():
        path.write_bytes(done.stdout)


PACKERS: dict[str, Callable[[Path], object]] = {
    "gzip module": lambda path: path.write_bytes(gzip.compress(POT)),
    "two members, one after the other (RFC 1952, section 2.2)": lambda path: path.write_bytes(
        gzip.compress(POT[:50_000]) + gzip.compress(POT[50_000:])
    ),
    "gzip program": lambda path: by_program(path, POT, "gzip", "-c", "pot.gcode"),
    "zipfile module": lambda path: path.write_bytes(zip_of(("pot.gcode", POT))),
    "not pressed together": lambda path: path.write_bytes(zip_of(("pot.nc", POT), how=zipfile.ZIP_STORED)),
    "zip program": lambda path: by_program(path, POT, "zip", "-q", path.name, "pot.gcode"),
    "other things beside it": lambda path: path.write_bytes(
        zip_of(("a/", b""), ("a/notes.txt", b"!"), ("a/pot.gcode", POT), ("__MACOSX/a/._pot.gcode", b"?"), (".b.nc", b"?"))
    ),
}


@pytest.mark.parametrize("pack", PACKERS.values(), ids=PACKERS)
@pytest.mark.parametrize("chunk_bytes", [777, None])
def test_what_is_packed_is_read(tmp_path: Path, pack: Callable[[Path], object], chunk_bytes: int | None) -> None:
    """Both passes see the bytes that were packed, whoever packed them."""
    path = tmp_path / "packed.zip"
    pack(path)
    source = Source(path, chunk_bytes=chunk_bytes)
    chunks = list(source.chunks())
    assert b"".join(chunk.data for chunk in chunks) == POT
    assert source.size == len(POT)
    for chunk in chunks:
        assert source.read_range(chunk.offset, len(chunk.data)) == chunk.data


REFUSED = {
    "a bomb": (gzip.compress(b"\0" * 10_000_000), "unpacks to more than 0.0001 GB"),
    "a zip bomb": (zip_of(("pot.gcode", b"\0" * 10_000_000)), "unpacks to more than 0.0001 GB"),
    "packed twice": (gzip.compress(gzip.compress(POT[:900])), "packed twice"),
    "a zip in gzip": (gzip.compress(zip_of(("pot.gcode", POT[:900]))), "packed twice"),
    "a gzip in a zip": (zip_of(("pot.gcode.gz", gzip.compress(POT[:900]))), "packed twice"),
    "a zip in a zip": (zip_of(("pot.zip", zip_of(("pot.gcode", POT[:900])))), "holds no G-code file"),
    "two pots": (zip_of(("a.gcode", POT), ("b/c.NC", POT)), r"holds 2 G-code files \(a.gcode, c.NC\)"),
    "six pots": (zip_of(*((f"{n}.nc", POT) for n in range(6))), r"holds 6 .*\(0.nc, 1.nc, 2.nc, 3.nc, ...\)"),
    "no pot": (zip_of(("notes.txt", POT)), "holds no G-code file"),
    "nothing": (zip_of(), "holds no G-code file"),
    "an empty pot": (gzip.compress(b""), "is empty"),
    "bytes behind the end": (gzip.compress(POT[:900]) + b"more", "damaged or cut short"),
    "another way of packing": (zip_of(("pot.gcode", POT), how=zipfile.ZIP_BZIP2), "an unusual way"),
    "a picture": (gzip.compress(b"\x89PNG\r\n\x1a\n"), "a PNG picture"),
    "bzip2 in gzip": (gzip.compress(bz2.compress(POT)), "bzip2"),
    "a list of twenty thousand files": (zip_of(*((f"{n}.txt", b"") for n in range(20_000))), "damaged"),
}


@pytest.mark.parametrize(("data", "said"), REFUSED.values(), ids=REFUSED)
def test_what_is_refused(tmp_path: Path, data: bytes, said: str) -> None:
    """What can't be read as one sliced file within the bound is refused with a sentence that names the file."""
    path = tmp_path / "pot.gcode.gz"
    path.write_bytes(data)
    with pytest.raises(SourceError, match=f"^pot.gcode.gz .*{said}"):
        read(path, SMALL)


def test_a_locked_zip(tmp_path: Path) -> None:
    """A file with a password is refused with a sentence."""
    path = tmp_path / "pot.zip"
    by_program(path, POT, "zip", "-q", "-P", "clay", path.name, "pot.gcode")
    with pytest.raises(SourceError, match="locked with a password"):
        read(path)


@pytest.mark.parametrize("data", [gzip.compress(POT, mtime=0), zip_of(("pot.gcode", POT))], ids=["gzip", "zip"])
def test_cut_short_anywhere(tmp_path: Path, data: bytes) -> None:
    """However much of its end a packed file lacks, it is told, and never taken for a shorter pot."""
    path = tmp_path / "pot.gcode.gz"
    for size in [*range(4, 60), *range(60, len(data), len(data) // 40), *range(len(data) - 30, len(data))]:
        path.write_bytes(data[:size])
        with pytest.raises(SourceError, match=r"damaged or cut short"):
            read(path)


@given(seed=st.integers(0, 1 << 30), zipped=st.booleans())
def test_damaged_anywhere(tmp_path_factory: pytest.TempPathFactory, seed: int, zipped: bool) -> None:
    """Bytes that have changed give the pot itself or a sentence, no other pot and no other failure."""
    chance = random.Random(seed)
    data = bytearray(zip_of(("pot.gcode", POT)) if zipped else gzip.compress(POT, mtime=0))
    for _ in range(chance.randint(1, 6)):
        place = chance.choice([chance.randrange(4, len(data)), chance.randrange(4, 80), -chance.randint(1, 80)])
        data[place] = chance.randrange(256)
    path = tmp_path_factory.mktemp("damaged") / "pot.gcode.gz"
    path.write_bytes(data)
    try:
        assert read(path) == POT
    except SourceError as error:
        assert "pot.gcode.gz" in str(error)


@pytest.mark.parametrize("place", ["list", "name"])
def test_a_zip_that_lies(tmp_path: Path, place: str) -> None:
    """A file that would begin before the zip does, and one without a name (both found by changing bytes)."""
    data = bytearray(zip_of(("p.nc", POT[:900])))
    end = data.rindex(b"PK\x05\x06")  # the end record; offsets of APPNOTE.TXT, sections 4.3.12 and 4.3.16
    if place == "list":
        data[end + 16 : end + 20] = b"\xff\xff\xff\x0f"
    else:
        listed = data.index(b"PK\x01\x02")
        data[listed + 28] = 0
        del data[listed + 46 : listed + 50]
        data[end - 4 + 12] -= 4
    path = tmp_path / "pot.gcode.gz"
    path.write_bytes(data)
    with pytest.raises(SourceError, match="is damaged or cut short"):
        read(path)


def test_nothing_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While a packed file is read, and after it was refused, nothing of it has a name on the disk."""
    spool = tmp_path / "spool"
    spool.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(spool))
    path = tmp_path / "pot.gcode.gz"
    path.write_bytes(gzip.compress(POT * 2))
    source = Source(path)
    assert b"".join(chunk.data for chunk in source.chunks()) == POT * 2
    with pytest.raises(SourceError, match="unpacks to more"):
        read(path, SMALL)
    assert list(spool.iterdir()) == []


def test_a_packed_file_that_changes(tmp_path: Path) -> None:
    """Another file under its name between the passes is noticed, though it was unpacked before."""
    path = tmp_path / "pot.gcode.gz"
    path.write_bytes(gzip.compress(POT))
    source = Source(path)
    list(source.chunks())
    path.write_bytes(gzip.compress(POT + POT))
    with pytest.raises(SourceError, match="changed while it was read"):
        source.check_unchanged()


def test_threads_read_side_by_side(tmp_path: Path) -> None:
    """A thread that reads ahead and one that looks something up get their own bytes."""
    path = tmp_path / "pot.gcode.gz"
    path.write_bytes(gzip.compress(POT))
    source, wrong = Source(path), []

    def look(first: int) -> None:
        for offset in range(first, len(POT) - 64, 997):
            if source.read_range(offset, 64) != POT[offset : offset + 64]:
                wrong.append(offset)

    threads = [threading.Thread(target=look, args=(first,)) for first in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []


def test_the_pieces_of_a_folder(tmp_path: Path) -> None:
    """A folder's pieces are told by name, packed or not; a zip by what it holds, and others are left alone."""
    for name in ("a.gcode", "b.NC.GZ", "c.gcode.zip", ".d.gcode.gz", "e.gz", "f.txt", "broken.zip"):
        (tmp_path / name).write_bytes(b"?")
    (tmp_path / "g.zip").write_bytes(zip_of(("g.gcode", POT)))
    (tmp_path / "photos.zip").write_bytes(zip_of(("a.png", b"?")))
    assert [path.name for path in pieces_in(tmp_path)] == ["a.gcode", "b.NC.GZ", "c.gcode.zip", "g.zip"]


def test_files_below_a_folder_are_told(tmp_path: Path) -> None:
    """Those in folders of it, which nobody does; not what gpost has written, nor hidden ones, nor other files."""
    assert below(tmp_path) == ""
    for name, file in (("cups", "a.gcode"), ("cups", "b.nc"), ("bowls", "c.gcode.gz"), (".old", "d.gcode"), ("notes", "e.txt")):
        (tmp_path / name).mkdir(exist_ok=True)
        (tmp_path / name / file).write_text("G1 X1\n")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "a.gcode").write_text("G1 X1\n")
    (tmp_path / "out" / "a.gcode.gpost.json").write_text("{}")
    assert below(tmp_path) == "left out: 3 sliced files in folders below it (bowls, cups); do each folder by itself"
    for number in range(4):
        (tmp_path / f"d{number}").mkdir()
        (tmp_path / f"d{number}" / "a.gcode").write_text("G1 X1\n")
    assert "(bowls, cups, d0, d1 and 2 more)" in below(tmp_path)
