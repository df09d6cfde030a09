"""What is held while it waits for an answer: few rows, whatever the file; and the same layers."""

from __future__ import annotations

from collections.abc import Callable
from math import cos, pi, sin
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Config
from gpost.motion.profile import TimeProfile
from gpost.read.source import MOST_LINES, Source
from gpost.read.words import read_block
from gpost.survey import thrift
from gpost.survey.build import SurveyBuilder
from gpost.survey.growing import FIRST_ROOM, Growing
from gpost.survey.model import Survey
from gpost.survey.rows import Rows

SurveyOf = Callable[..., Survey]
SUMMED = ("clay_ml", "laid_ml", "path_mm", "cruise_s")
BOXES = ("x_min_mm", "x_max_mm", "y_min_mm", "y_max_mm", "height_mm", "low_mm")


def spiral(segments: int, turns: int, rise_mm: float = 2.0) -> str:
    """A round wall that rises all the time, with so many straight moves in each turn."""
    lines = ["M83", "G0 X140 Y100 Z1 F1800"]
    for k in range(1, segments * turns + 1):
        x, y = 100 + 40 * cos(2 * pi * k / segments), 100 + 40 * sin(2 * pi * k / segments)
        lines.append(f"G1 X{x:.5f} Y{y:.5f} Z{1 + rise_mm * k / segments:.6f} E{40 / segments:.6f}")
    return "\n".join(lines) + "\n"


def rings(segments: int, count: int) -> str:
    """Level rings with so many straight moves each, and a travel up to the next."""
    lines = ["M83", "G0 F1800"]
    for ring in range(count):
        lines.append(f"G0 X140 Y100 Z{1 + 2 * ring}")
        for k in range(1, segments + 1):
            x, y = 100 + 40 * cos(2 * pi * k / segments), 100 + 40 * sin(2 * pi * k / segments)
            lines.append(f"G1 X{x:.5f} Y{y:.5f} E{40 / segments:.6f}")
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("wall", [spiral, rings])
def test_layers_of_fine_walls_stay_the_same(
    wall: Callable[[int, int], str], survey_of: SurveyOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Held four or sixteen to one, a turn begins where it did by no more than those moves; and it is said."""
    text = wall(3000, 5)
    survey = survey_of(text)
    whole = survey.layers
    monkeypatch.setattr(thrift, "MOST_HELD", 1000)
    thrifty = survey_of(text)
    few = thrifty.layers
    assert not any("takes some together" in said for said in survey.warnings)
    assert any("takes some together" in said for said in thrifty.warnings)
    assert len(whole) == len(few) == 5
    assert np.abs(few["first_line"] - whole["first_line"]).max() <= 16
    for name in SUMMED:
        assert few[name] == pytest.approx(whole[name], rel=0.01)
        assert few[name].sum() == pytest.approx(whole[name].sum())
    for name in BOXES:
        assert few[name] == pytest.approx(whole[name], abs=0.02)


def test_no_more_is_held_than_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a turn that never ends every fourth move is held, then every sixteenth, and so on."""
    monkeypatch.setattr(thrift, "MOST_HELD", 1000)
    path = tmp_path / "wall.gcode"
    path.write_text(spiral(60_000, 1))
    builder = SurveyBuilder(source := Source(path, chunk_bytes=16_384), Config())
    most = 0
    for chunk in source.chunks():
        builder.add(read_block(chunk))
        most = max(most, sum(map(len, builder._timed)))
    survey = builder.finish()
    assert most < 5000
    assert survey.laid_path_mm == pytest.approx(2 * pi * 40, rel=1e-3)
    assert len(survey.layers) == 1


def test_the_last_clay_stays_on_its_line(survey_of: SurveyOf) -> None:
    """However many moves of a ring are held as one: what comes after the last clay begins right behind it."""
    text = rings(70_003, 1)
    assert survey_of(text + "G0 Z50\n").laid_until == text.count("\n")


def rows_of(laying: list[bool]) -> Rows:
    """Moves of 1 mm along X, one a line."""
    count = len(laying)
    start, end = np.zeros((3, count)), np.zeros((3, count))
    start[0], end[0] = np.arange(count), np.arange(1, count + 1)
    amounts = np.arange(6.0 * count).reshape(6, count)
    return Rows(np.arange(count), np.array(laying, np.bool_), start, end, amounts)


@given(st.lists(st.booleans(), min_size=1, max_size=60), st.integers(0, 5 * thrift.MOST_HELD))
def test_what_is_held_keeps_all_sums_and_where_it_begins_and_ends(laying: list[bool], held: int) -> None:
    """Sums, first and last place, and the order of what lays clay and what does not."""
    rows = rows_of(laying)
    few = thrift.held_together(rows, held)
    assert few.amounts.sum(axis=1) == pytest.approx(rows.amounts.sum(axis=1))
    assert (few.start[:, 0] == rows.start[:, 0]).all()
    assert (few.end[:, -1] == rows.end[:, -1]).all()
    assert (few.start[:, 1:] == few.end[:, :-1]).all()
    changes = [now for before, now in zip([not laying[0], *laying], laying, strict=False) if now != before]
    kept = few.laying.tolist()
    assert [n for b, n in zip([not kept[0], *kept], kept, strict=False) if n != b] == changes
    if held < thrift.MOST_HELD:
        assert np.count_nonzero(few.laying) == np.count_nonzero(rows.laying)


@given(
    st.lists(st.sampled_from(["G1", "G0 X140", "G1 F1800", "G1 E0", "G91\nG1 X0\nG90\nM83"]), max_size=8),
    st.data(),
)
def test_moves_that_go_nowhere_change_nothing(
    survey_of: SurveyOf, idle: list[str], data: st.DataObject
) -> None:
    """A file may have any number of them, anywhere; clay, time and path are those without."""
    lines = rings(8, 3).splitlines()
    place = data.draw(st.integers(2, len(lines)))
    # after the whole ring the nozzle stands at X140; elsewhere `G0 X140` would go somewhere
    idle = [line for line in idle if "X140" not in line or (place - 2) % 9 == 1]
    plain = survey_of("\n".join(lines) + "\n")
    survey = survey_of("\n".join([*lines[:place], *idle, *lines[place:]]) + "\n")
    assert len(survey.layers) == len(plain.layers)
    for name in (*SUMMED, *BOXES, "time_s"):
        assert survey.layers[name] == pytest.approx(plain.layers[name]), name
    assert survey.time_s == pytest.approx(plain.time_s)


def test_short_lines_make_no_large_blocks(tmp_path: Path) -> None:
    """A chunk ends after so many lines, however short: what is known of a line is larger than the line."""
    path = tmp_path / "short.gcode"
    path.write_text("G1\n" * (3 * MOST_LINES + 7))
    chunks = list(Source(path).chunks())
    assert max(chunk.lines for chunk in chunks) <= MOST_LINES
    assert sum(chunk.lines for chunk in chunks) == 3 * MOST_LINES + 7
    assert b"".join(bytes(chunk.data) for chunk in chunks) == path.read_bytes()


def test_a_crowd_of_tiny_moves_is_not_held_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no speed is final for long, the oldest are taken as they are; their sum is off by little."""

    def time_s(most: int) -> tuple[float, int]:
        monkeypatch.setattr("gpost.motion.profile.MOST_HELD", most)
        profile, count = TimeProfile(acceleration_mm_s2=1.0, corner_deviation_mm=0.05), 2000
        along = np.vstack([np.ones(count), np.zeros((2, count))])
        total, held = 0.0, 0
        for _ in range(10):
            times = profile.add(
                np.full(count, 0.01), np.full(count, 50.0), along, along, np.zeros(count, np.bool_), None
            )
            total, held = total + float(times.sum()), held + count - len(times)
        return total + float(profile.finish().sum()), held

    whole, held = time_s(10**9)
    short, fewer = time_s(500)
    assert fewer <= 500 < held
    # 200 mm from rest to rest at 1 mm/s^2: twice the root of the way over the acceleration
    assert whole == pytest.approx(2 * np.sqrt(200.0), rel=1e-3)
    assert short == pytest.approx(whole, rel=0.3)


@pytest.mark.parametrize("per_line", [1, 3])
def test_codes_are_found_in_any_number_of_commands(per_line: int, survey_of: SurveyOf) -> None:
    """Each line that holds one of the codes, once, in order."""
    lines = [" ".join(["M106", "M400", "M211"][(k + i) % 3] for i in range(per_line)) for k in range(3000)]
    survey = survey_of("G0 X1 F600\n" + "\n".join(lines) + "\nG1 X2 E1\nM106.1\n")
    wanted = [k + 1 for k, line in enumerate(lines) if "M400" in line]
    found = survey.lines_with("M", [4000])
    assert found.tolist() == wanted
    assert survey.lines_with("M", [1061]).tolist() == [len(lines) + 2]
    assert survey.lines_with("G", [4000]).tolist() == []


@given(st.lists(st.integers(0, 3 * FIRST_ROOM), max_size=8))
def test_a_growing_table_keeps_what_it_has(counts: list[int]) -> None:
    """Rows come as zeros, and stay as they were filled."""
    table, kept = Growing(np.dtype([("a", "i8")])), []
    for number, count in enumerate(counts, 1):
        rows = table.add(count)
        assert (rows["a"] == 0).all()
        rows["a"] = number
        kept += [number] * count
        assert table.rows["a"].tolist() == kept
    assert len(table) == len(kept)
    assert table.cut(len(kept) // 2)["a"].tolist() == kept[: len(kept) // 2]
