"""The output counts its bytes and lines, and puts its header where a file may begin."""

from __future__ import annotations

import io

import pytest

from gpost.write.output import Output, lead_bytes
from gpost.write.renumber import Renumberer


def test_bytes_and_lines_are_counted() -> None:
    """Inserted lines are counted from 1, as an editor shows them."""
    file = io.BytesIO()
    out = Output(file, b"\n", "; made")
    out.write(b"G28\n")
    assert out.insert(["M0", "M117 go"]) == (3, 4)
    out.write(b"G1 X5\n")
    assert file.getvalue() == b"; made\nG28\nM0\nM117 go\nG1 X5\n"
    assert (out.size, out.lines) == (len(file.getvalue()), 5)


def test_without_a_header_everything_is_passed_on() -> None:
    """An output that changes nothing adds nothing."""
    file = io.BytesIO()
    out = Output(file, b"\n")
    out.write(b"G28\nG1 X5")
    assert file.getvalue() == b"G28\nG1 X5"
    assert out.lines == 1


@pytest.mark.parametrize(
    ("data", "lead"),
    [
        (b"G28\n", 0),
        (b"\xef\xbb\xbfG28\n", 3),
        (b"%\nG28\n", 2),
        (b"\xef\xbb\xbf % vase\r\nG28\n", 12),
        (b"% no newline", 0),
        (b"", 0),
    ],
)
def test_nothing_comes_before_what_must_be_first(data: bytes, lead: int) -> None:
    """A byte order mark, and the line that opens a program (NIST RS274/NGC report, section 3.1)."""
    assert lead_bytes(data) == lead


def test_lines_end_as_in_the_source_and_an_open_one_is_closed() -> None:
    """Inserted lines take the source's line ends; after a last line without one a newline comes first."""
    file = io.BytesIO()
    out = Output(file, b"\r\n", "; made")
    out.write(b"G28\r\nG1 X5")
    assert out.insert(["M0"]) == (4, 4)
    assert file.getvalue() == b"; made\r\nG28\r\nG1 X5\r\nM0\r\n"


def test_inserted_lines_are_numbered_where_the_file_is() -> None:
    """Commands get the next number and a checksum; comments get neither."""
    file = io.BytesIO()
    out = Output(file, b"\n", "; made", Renumberer(b"N1 G28*18\n"))
    out.write(b"N1 G28*18\n")
    out.insert(["; gpost: now", "M105"])
    assert file.getvalue().splitlines()[2:] == [b"; gpost: now", b"N2 M105*37"]


@pytest.mark.parametrize(
    ("header", "source", "end"),
    [
        ("; made", b"G28\r\n", b"G28\r\n; gpost wrote this file: here it ends\r\n"),
        ("; made", b"G28", b"G28\r\n; gpost wrote this file: here it ends"),
        (None, b"G28", b"G28"),
    ],
)
def test_the_last_line_says_where_it_ends(header: str | None, source: bytes, end: bytes) -> None:
    """As the first says where it begins; a last line that is open stays so, and what is unchanged has none."""
    file = io.BytesIO()
    out = Output(file, b"\r\n", header, Renumberer(b"N1 G28*18\n"))
    out.write(source)
    out.finish()
    assert file.getvalue().removeprefix(b"; made\r\n") == end
    assert out.lines == file.getvalue().count(b"\n")
