"""The first place of each change: what it says stood and stands there is what both files hold there."""

from __future__ import annotations

import gzip
import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from gpost.cli import cli
from gpost.demo.gcode import Piece, SliceStyle
from gpost.write.output import Written
from gpost.write.samples import MOST_LETTERS, MOST_LINES
from tests.bench.recipe import EVERY_LINE, TEXT
from tests.sliced import write_piece

TALL = Piece(height_mm=140, radius_mm=40, segments=40, base_layers=2)


def changed(folder: Path, recipe: str, style: SliceStyle, name: str = "out.gcode") -> list[dict[str, Any]]:
    """The changes of a job as its JSON has them."""
    write_piece(folder / "in.gcode", TALL, style)
    (folder / "recipe.yaml").write_text(recipe)
    words = ["run", "in.gcode", "-c", "recipe.yaml", "-o", name, "--json", "out.json"]
    result = CliRunner().invoke(cli, [str(folder / one) if "." in one else one for one in words])
    assert result.exit_code == 0, result.output
    found: list[dict[str, Any]] = json.loads((folder / "out.json").read_text())["changes"]
    return found


@pytest.mark.parametrize("recipe", [TEXT, EVERY_LINE], ids=["seven", "every-line"])
def test_examples_stand_in_both_files(tmp_path: Path, recipe: str) -> None:
    """Line by line: `before` in the sliced file, `after` in the output, at the lines that are named."""
    changes = changed(tmp_path, recipe, SliceStyle(heaters=True))
    source = (tmp_path / "in.gcode").read_text().split("\n")
    output = (tmp_path / "out.gcode").read_text().split("\n")
    assert len({change["kind"] for change in changes}) >= 3
    for change in changes:
        one = change["example"]
        if one is None:
            assert change["what"] == "blower off while waiting"  # part of each pause's block
            continue
        was, now = one["source_line"] - 1, one["output_line"] - 1
        assert one["before"] == [line[:MOST_LETTERS] for line in source[was : was + len(one["before"])]]
        assert one["after"] == [line[:MOST_LETTERS] for line in output[now : now + len(one["after"])]]
        assert one["before"] != one["after"]
        assert len(one["after"]) <= MOST_LINES
        whole = change["where"][0]
        if one["before"]:
            assert whole["source_line"] <= one["source_line"] <= whole["last_source_line"]
        else:
            assert one["output_line"] == whole["output_line"]
            assert one["source_line"] == whole["source_line"]


@pytest.mark.parametrize(("kind", "letters"), [("feed", "F"), ("flow", "E"), ("shift", "XYZ")])
def test_an_example_shows_its_own_change(tmp_path: Path, kind: str, letters: str) -> None:
    """Of edits of one line by several steps, each has a line in which its own words differ."""
    changes = changed(tmp_path, EVERY_LINE, SliceStyle())
    mine = [change["example"] for change in changes if change["kind"] == kind]
    assert mine
    for one in mine:
        was, now = (
            {word for word in line.split() if word[0] in letters} for line in (*one["before"], *one["after"])
        )
        assert was != now


def test_a_packed_output_has_them_too(tmp_path: Path) -> None:
    """Lines are those of the plain file."""
    changes = changed(tmp_path, TEXT, SliceStyle(), "out.gcode.gz")
    output = gzip.decompress((tmp_path / "out.gcode.gz").read_bytes()).decode().split("\n")
    shown = [change["example"] for change in changes if change["example"]]
    assert len(shown) >= 3
    for one in shown:
        assert one["after"][0] == output[one["output_line"] - 1]


@given(
    st.lists(st.tuples(st.integers(1, 9), st.integers(1, 5)), max_size=9),
    st.integers(0, 60),
    st.integers(0, 9),
)
def test_a_source_line_is_found_again_on_its_output_line(
    gaps: list[tuple[int, int]], line: int, first_line: int
) -> None:
    """Whatever was inserted where, the line of the output leads back to the line of the source."""
    inserted, at = [], 1
    for gap, count in gaps:
        at += gap
        inserted.append((at, count))
        at += count
    written = Written(0, 0, inserted=tuple(inserted), first_source_line=first_line)
    assert written.source_line(written.output_line(first_line + line)) == first_line + line


@pytest.mark.parametrize("recipe", [TEXT, EVERY_LINE], ids=["seven", "every-line"])
def test_cuts_into_blocks_cannot_be_seen_in_examples(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, recipe: str
) -> None:
    """Read in blocks of 8 kB, all examples are the same."""
    whole = changed(tmp_path, recipe, SliceStyle(heaters=True))
    assert (tmp_path / "in.gcode").stat().st_size > 40_000
    for bound in ("CHUNK_BYTES", "LEAST_CHUNK_BYTES"):
        monkeypatch.setattr(f"gpost.read.source.{bound}", 8_000)
    (tmp_path / "cut").mkdir()
    assert changed(tmp_path / "cut", recipe, SliceStyle(heaters=True)) == whole
