"""The source is read in whole lines whatever the chunk size, and what is no G-code file is refused."""

from __future__ import annotations

import bz2
import lzma
import os
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.errors import SourceError
from gpost.read.ahead import ahead
from gpost.read.source import CHUNK_BYTES, LEAST_CHUNK_BYTES, LONGEST_LINE_BYTES, Source

LINES = st.lists(st.sampled_from([b"", b"G1 X1", b"; a comment", b"\r", b"\xff\xfe", b"X" * 50]), max_size=12)


@pytest.fixture(scope="module")
def source_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Source]:
    """A source of some bytes."""
    path = tmp_path_factory.mktemp("source") / "pot.gcode"

    def make(data: bytes, **settings: int) -> Source:
        path.write_bytes(data)
        return Source(path, **settings)

    return make


@given(LINES, st.binary(max_size=3).filter(lambda tail: b"\n" not in tail), st.integers(1, 80))
def test_chunks_are_whole_lines(
    source_of: Callable[..., Source], lines: list[bytes], tail: bytes, chunk_bytes: int
) -> None:
    """Chunks follow each other without gaps, end with a newline but for the last, and count their lines."""
    data = b"G1\n" + b"".join(line + b"\n" for line in lines) + tail
    chunks = list(source_of(data, chunk_bytes=chunk_bytes).chunks())
    assert b"".join(chunk.data for chunk in chunks) == data
    offset = line = 0
    for chunk in chunks:
        assert (chunk.offset, chunk.first_line) == (offset, line)
        assert chunk.data.endswith(b"\n") or chunk is chunks[-1]
        assert chunk.lines == chunk.data.count(b"\n") + (not chunk.data.endswith(b"\n"))
        offset, line = offset + len(chunk.data), line + chunk.lines
    assert line == len(data.split(b"\n")) - data.endswith(b"\n")
    taken = [chunk.line(number) for chunk in chunks for number in range(chunk.first_line, line)[: chunk.lines]]
    assert taken == data.split(b"\n")[:line]


def test_a_range_can_be_read_again(source_of: Callable[..., Source]) -> None:
    """The second pass gets the bytes that a chunk had; if they are gone the file has changed."""
    source = source_of(b"G1 X1\nG1 X2\n")
    assert source.read_range(6, 5) == b"G1 X2"
    with pytest.raises(SourceError, match="changed"):
        source.read_range(6, 7)


@pytest.mark.parametrize("chunk_bytes", [1, 5, 1 << 18])
@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "empty"),
        (lzma.compress(b"G1 X1\n"), "xz"),
        (bz2.compress(b"G1 X1\n"), "bzip2"),
        (b"\x89PNG\r\n\x1a\n", "PNG"),
        (b"%PDF-1.7\n", "PDF"),
        ("G1 X1\nG1 X2\n".encode("utf-16"), "UTF-16"),
        ("G1 X1\nG1 X2\n".encode("utf-16-le"), "UTF-16"),
        ("G1 X1\nG1 X2\n".encode("utf-16-be"), "UTF-16"),
    ],
)
def test_another_kind_of_file(
    source_of: Callable[..., Source], data: bytes, reason: str, chunk_bytes: int
) -> None:
    """An empty file, and one that is plainly no text, is refused by its first bytes, for any chunk size."""
    with pytest.raises(SourceError, match=reason):
        list(source_of(data, chunk_bytes=chunk_bytes).chunks())


def test_nul_bytes_alone_are_no_utf_16(source_of: Callable[..., Source]) -> None:
    """A run of NUL bytes at the start is damage, not another encoding."""
    assert len(list(source_of(b"\0" * 64 + b"\nG1 X1\n").chunks())) == 1


@pytest.mark.parametrize(
    ("size", "count"),
    [(LEAST_CHUNK_BYTES, 1), (1_000_000, 2), (2 * CHUNK_BYTES, 2), (2 * CHUNK_BYTES + 9, 3)],
)
def test_a_file_is_cut_evenly(source_of: Callable[..., Source], size: int, count: int) -> None:
    """A short file has two chunks, any file no more than it must have, and none is much shorter than others."""
    line = b"G1 X101.500 Y99.125 E0.041200\n"
    sizes = [len(chunk.data) for chunk in source_of(line * (size // len(line))).chunks()]
    assert len(sizes) == count
    assert max(sizes) <= CHUNK_BYTES
    assert max(sizes) - min(sizes) <= count * len(line)


@pytest.mark.parametrize("chunk_bytes", [1 << 18, 1 << 20, 12_345_678])
@pytest.mark.parametrize("place", ["first", "middle", "last"])
def test_a_line_without_end(source_of: Callable[..., Source], chunk_bytes: int, place: str) -> None:
    """A line of 10 MB is refused with its number, for any chunk size, and wherever it stands."""
    before = {"first": 0, "middle": 100_000, "last": 100_000}[place]
    after = b"\nG1 X2\n" if place == "middle" else b""
    data = b"G1 X1\n" * before + b"X" * 10_000_000 + after
    with pytest.raises(SourceError, match=rf"line {before + 1}: .*1 MiB"):
        list(source_of(data, chunk_bytes=chunk_bytes).chunks())


@pytest.mark.parametrize("chunk_bytes", [1 << 18, 1 << 20, 1 << 24])
def test_the_longest_line(source_of: Callable[..., Source], chunk_bytes: int) -> None:
    """A line of just 1 MiB is read, one byte more is refused, for any chunk size."""
    longest = b";" * LONGEST_LINE_BYTES
    chunks = list(source_of(b"G1\n" + longest + b"\nG1\n", chunk_bytes=chunk_bytes).chunks())
    assert sum(chunk.lines for chunk in chunks) == 3
    with pytest.raises(SourceError, match=r"line 2: .*1 MiB"):
        list(source_of(b"G1\n" + longest + b";\nG1\n", chunk_bytes=chunk_bytes).chunks())


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    """A missing file, and a folder, are refused with their name."""
    with pytest.raises(SourceError, match="no-such-pot"):
        Source(tmp_path / "no-such-pot.gcode")
    with pytest.raises(SourceError, match=re.escape(str(tmp_path))):
        list(Source(tmp_path).chunks())


def test_a_file_that_changes_while_it_is_read(source_of: Callable[..., Source]) -> None:
    """If size or time change between the first look and the last chunk, the reading is worth nothing."""
    source = source_of(b"G1 X1\n" * 10, chunk_bytes=12)
    chunks = source.chunks()
    next(chunks)
    os.utime(source.path, ns=(1, 1))
    with pytest.raises(SourceError, match="changed"):
        list(chunks)


def test_reading_goes_on_without_a_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the system lets no thread start, things are made as they are asked for."""
    monkeypatch.setattr("gpost.read.ahead._cores", lambda: 2)
    monkeypatch.setattr("threading.Thread.start", _refuse)
    assert list(ahead(iter([1, 2, 3]), helper=True)) == [1, 2, 3]


def _refuse(_thread: object) -> None:
    raise RuntimeError("can't start new thread")
