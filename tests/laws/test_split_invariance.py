"""How the source is cut into chunks can't be seen in any result: words, moves, layers, survey."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.config.model import Clay, Config, CubicMillimetres, Home, Layers, Machine
from gpost.demo.gcode import SliceStyle
from gpost.demo.shape import Piece as Form
from gpost.errors import SourceError
from gpost.motion.follow import Follower
from gpost.motion.state import MachineState
from gpost.read.source import Source
from gpost.read.words import read_block
from gpost.survey.build import survey_source
from gpost.survey.model import Survey
from tests.reference.programs import Draft, Piece, drafts, piece_programs
from tests.reference.state import Dialect
from tests.sliced import slice_piece

CONFIG = Config(clay=Clay(metering=CubicMillimetres(unit="mm3"), bead_width_mm=6.0))
ODD_SIZES = (1, 97, 1009, 4099)
SLICED = {
    "level rings": SliceStyle(z_hop=True, retract=True, comments=True, heaters=True),
    "rising, relative": SliceStyle(wall="rise", relative_axes=True, relative_e=True, level_last=True),
    "numbered inches": SliceStyle(wall="rise", numbered=True, inches=True, decimals=4, newline="\r\n"),
    "modal, small letters": SliceStyle(modal_g=True, lowercase=True, g92_every_layer=True, arcs=True),
}
FORM = Form(height_mm=14, radius_mm=20, lobes=5, twist_deg_per_mm=2, lean_mm=4, base_layers=1, segments=24)


@dataclass(frozen=True)
class Cutter:
    """Reads one file in chunks of any size."""

    path: Path

    def words(self, program: bytes, size: int) -> list[tuple[object, ...]]:
        """Line in the file, letter, place in the file and value of every word."""
        self.path.write_bytes(program)
        found: list[tuple[object, ...]] = []
        for chunk in Source(self.path, chunk_bytes=size).chunks():
            block = read_block(chunk)
            w = block.words
            line, start = w.line + chunk.first_line, w.start - int(block.line_start[0]) + chunk.offset
            value = np.nan_to_num(w.value, nan=-math.pi)
            found += zip(line.tolist(), w.letter.tolist(), start.tolist(), value.tolist(), strict=True)
        return found

    def moves(self, program: bytes, size: int, machine: Machine) -> tuple[np.ndarray, MachineState]:
        """All moves as one table, and the end state."""
        self.path.write_bytes(program)
        state, parts = MachineState(), []
        for chunk in Source(self.path, chunk_bytes=size).chunks():
            follower = Follower(read_block(chunk), state, machine, CONFIG.clay.metering)
            state, m = follower.end, follower.moves
            columns = (m.length_mm, m.e_mm, m.feed_mm_min, m.rapid, m.laying, m.radius_mm)
            parts.append(np.stack([m.line + chunk.first_line, *m.start, *m.end, *columns]))
        return np.concatenate(parts, axis=1), state

    def survey(self, program: bytes, size: int, config: Config = CONFIG) -> Survey | str:
        """The survey, or what the file is refused for."""
        self.path.write_bytes(program)
        try:
            return survey_source(Source(self.path, chunk_bytes=size), config)
        except SourceError as error:
            return str(error)


@pytest.fixture(scope="module")
def cutter(tmp_path_factory: pytest.TempPathFactory) -> Cutter:
    """A cutter of a file of its own."""
    return Cutter(tmp_path_factory.mktemp("split") / "pot.gcode")


def assert_same_survey(found: Survey | str, whole: Survey | str) -> None:
    """Everything a survey says; sums of times and clay to 1e-9, the rest exactly."""
    if isinstance(found, str) or isinstance(whole, str):
        assert found == whole
        return
    for name in found.layers.dtype.names or ():
        assert found.layers[name] == pytest.approx(whole.layers[name], rel=1e-9, abs=1e-9), name
    for name in ("first_line", "kind"):
        assert found.layers[name].tolist() == whole.layers[name].tolist()
    assert found.commands.tolist() == whole.commands.tolist()
    for name in ("size_bytes", "lines", "pieces", "newline", "numbered", "warnings", "own_pauses"):
        assert getattr(found, name) == getattr(whole, name), name
    for name in ("clay_ml", "time_s", "lead_in_s", "lead_in_ml", "laid_path_mm", "travel_path_mm"):
        assert getattr(found, name) == pytest.approx(getattr(whole, name), rel=1e-9, abs=1e-9), name
    assert np.array(found.bounds_mm) == pytest.approx(np.array(whole.bounds_mm), abs=1e-9)
    assert_same_state(found.end_state, whole.end_state)


def assert_same_state(found: MachineState, whole: MachineState) -> None:
    """Equal to the last bit: a digit that is written must not tell where a block was cut."""
    assert found.register == whole.register
    assert found.offset == whole.offset
    assert found.feed_mm_min == pytest.approx(whole.feed_mm_min, rel=0, abs=0, nan_ok=True)
    for name in ("known", "scale", "relative", "e_relative", "motion", "plane", "air", "tool", "laying"):
        assert getattr(found, name) == getattr(whole, name), name


def machine_of(dialect: Dialect) -> Machine:
    """The config of a dialect."""
    x, y, z = dialect.home_mm
    return Machine(
        dwell_p=dialect.dwell_p,
        axis_mode_sets_e=dialect.axis_mode_sets_e,
        home=Home(x_mm=x, y_mm=y, z_mm=z),
        arc_tolerance_mm=dialect.arc_tolerance_mm,
    )


@given(drafts(), st.integers(1, 400))
def test_words(cutter: Cutter, draft: Draft, size: int) -> None:
    """Any chunk size gives the same words at the same places."""
    assert cutter.words(draft.program, size) == cutter.words(draft.program, 1 << 20)


@given(drafts(), st.integers(1, 400))
def test_moves(cutter: Cutter, draft: Draft, size: int) -> None:
    """Any chunk size gives the same moves, and leaves the machine in the same state."""
    machine = machine_of(draft.dialect)
    found, state = cutter.moves(draft.program, size, machine)
    whole, end = cutter.moves(draft.program, 1 << 20, machine)
    np.testing.assert_array_equal(found, whole)
    assert_same_state(state, end)


@given(drafts(max_lines=25), st.integers(1, 400))
def test_surveys_of_any_program(cutter: Cutter, draft: Draft, size: int) -> None:
    """Any chunk size gives the same survey, or refuses the file for the same reason."""
    config = CONFIG.model_copy(update={"machine": machine_of(draft.dialect)})
    found = cutter.survey(draft.program, size, config)
    assert_same_survey(found, cutter.survey(draft.program, 1 << 20, config))


def test_a_sum_on_the_edge_of_rounding(cutter: Cutter) -> None:
    """0.003405 ml is said with three digits alike, however its parts are added up; found by the long profile."""
    program = b"""G1 X140
G1 E-0.1 F1200
G0 Z100.5
G0 X40 Y40
G0 Z100
G1 E0 F1200
G1
G1
G1 Y40.001 E3.403
G1 X40 Y40 E3.404
G1 X40.001 Y40 E3.405
"""
    whole = cutter.survey(program, 1 << 20)
    assert not isinstance(whole, str)
    assert any("ml, but their path" in text for text in whole.warnings)
    for size in range(1, 130, 3):
        assert_same_survey(cutter.survey(program, size), whole)


@given(piece_programs(), st.integers(1, 3000))
def test_surveys_of_pots(cutter: Cutter, piece: Piece, size: int) -> None:
    """The same for programs that print a pot."""
    assert_same_survey(cutter.survey(piece.program, size), cutter.survey(piece.program, 1 << 20))


@pytest.mark.parametrize("size", ODD_SIZES)
@pytest.mark.parametrize("style", SLICED.values(), ids=SLICED)
def test_sliced_pieces(cutter: Cutter, style: SliceStyle, size: int) -> None:
    """Odd chunk sizes, down to one line a chunk, give the survey of the whole file at once."""
    config = Config()
    sliced = slice_piece(FORM, style)
    found, whole = cutter.survey(sliced.text, size, config), cutter.survey(sliced.text, 1 << 24, config)
    assert_same_survey(found, whole)
    assert isinstance(whole, Survey)
    assert len(whole.layers) == len(sliced.truth.first_line)


@pytest.mark.parametrize("size", ODD_SIZES)
def test_own_layer_comments(cutter: Cutter, size: int) -> None:
    """So do the file's own layer comments."""
    sliced = slice_piece(FORM, SLICED["level rings"])
    config = Config(layers=Layers(comment_pattern="^; next ring"))
    assert_same_survey(cutter.survey(sliced.text, size, config), cutter.survey(sliced.text, 1 << 24, config))


@pytest.mark.parametrize("size", ODD_SIZES)
@pytest.mark.parametrize(
    "end",
    [b"G1 X#1\n", b"N5 G1 X1*3\n", b"G1 X1\rG1 X2\n", b"M2\nG1 X9\n", b"\xff\n", b"G2 X9 R1\n", b"(open\n"],
)
def test_refusals(cutter: Cutter, end: bytes, size: int) -> None:
    """A file is refused for the same line and reason however it is cut."""
    program = b"G90\nM83\nG0 X1 Y1 F900\nG1 X50 E500\nG1 Y50 E500\n" + end
    found = cutter.survey(program, size)
    assert isinstance(found, str)
    assert found == cutter.survey(program, 1 << 20)
