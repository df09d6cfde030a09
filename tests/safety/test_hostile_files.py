"""Files of extremes take a bounded memory, whatever their size, and end with a result or a sentence."""

from __future__ import annotations

import pytest

HEAD = "G21\nG90\nM82\nG28\nG92 E0\nG1 X100 Y100 Z2 F1200\n"
MORE_MEMORY = 600 << 20
"""Address space beyond what importing everything takes."""
FLAT_MB, KEPT_MB, DENSE_MB = 150, 200, 340
"""Most memory, with the 60 MB or so of Python and its modules: where nothing is kept of a line, where
something is (a layer, a command), and where a block holds ten times as many moves as others."""
REFUSED = 1


def levels(count: int) -> str:
    """A file of many level rings."""
    corners = ((150, 100), (150, 150), (100, 150), (100, 100))
    lines = []
    for ring in range(count):
        lines.append(f"G1 Z{2 + ring * 0.01:.2f}")
        lines += [f"G1 X{x} Y{y} E{ring + (n + 1) / 4}" for n, (x, y) in enumerate(corners)]
    return HEAD + "\n".join(lines) + "\n"


FLAT = {
    "a line of 10 MB": HEAD + "G1 X" + "1" * 10_000_000 + "\n",
    "a comment of 10 MB": HEAD + ";" + "x" * 10_000_000 + "\n",
    "a comment of almost 1 MiB": HEAD + ";" + "x" * 1_048_000 + "\nG1 X150 E5\n",
    "10 MB without a line end": "G1 X1 " * 1_700_000,
    "nothing but new lines": "\n" * 10_000_000,
    "nothing but blanks": " " * 1_000_000 + "\n",
    "nothing but comments": "; a comment\n" * 800_000,
    "a million tiny lines": "G1\n" * 1_000_000,
    "nothing but NUL": "\0" * 2_000_000,
    "half a million brackets in a line": "()" * 500_000 + "\n",
    "half a million words in a line": "X1" * 500_000 + "\n",
    "half a million digits with blanks": "X" + "1 " * 500_000 + "\n",
    "half a million checksums in a line": "*1" * 500_000 + "\n",
    "half a million quotes in a line": "M6 " + "'" * 1_000_000 + "\n",
    "block delete": HEAD + "/G1 X1\n" * 30_000,
    "odd lines": HEAD + "G1 X1e-05 (a) (b)\n" * 30_000,
    "flags": HEAD + "G28 X Y\n" * 30_000,
    "messages": HEAD + "M117 hello\n" * 30_000,
    "N words": "".join(f"N{n} G1 X{n % 7}\n" for n in range(100_000)),
    "arcs": HEAD + "G2 I10 J0\nG3 I-10 J0\n" * 50_000,
}
DENSE = {"a million moves of three bytes each": HEAD + "X1\nX2\n" * 500_000}
KEPT = {
    "commands": HEAD + "M106 S1\n" * 300_000 + "G1 X150 E5\n",
    "resets of E": HEAD + "G92 E0\nG1 X1 E1\nG92 E0\nG1 X2 E1\n" * 100_000,
    "rings": levels(20_000),
    "a new height on every move": HEAD
    + "".join(f"G1 X{100 + n % 2 * 50} Z{2 + n / 1000:.3f} E{n}\n" for n in range(100_000)),
    "zigzag of heights": HEAD
    + "".join(f"G1 X{100 + n % 2 * 50} Z{2 + n % 3} E{n}\n" for n in range(100_000)),
}


@pytest.mark.parametrize(
    ("text", "most_mb"),
    [
        *((text, FLAT_MB) for text in FLAT.values()),
        *((text, KEPT_MB) for text in KEPT.values()),
        *((text, DENSE_MB) for text in DENSE.values()),
    ],
    ids=[*FLAT, *KEPT, *DENSE],
)
def test_memory_is_bounded(forker, shelf, text, most_mb) -> None:
    """However long its lines or however many, a file is done or refused in a bounded memory."""
    (shelf / "pot.gcode").write_text(text)
    (shelf / "recipe.yaml").write_text(RECIPE)
    args = ("run", "pot.gcode", "-c", "recipe.yaml", "-o", "out.gcode", "--allow", "wall-in-air")
    ended = forker.do(shelf, *args, memory_bytes=MORE_MEMORY)
    assert ended.status in (0, REFUSED)
    assert ended.memory_mb < most_mb
    assert "memory" not in ended.err
    assert "fault" not in ended.err
    assert len(ended.err) < 10_000
    assert (shelf / "out.gcode").exists() == (ended.status == 0)


RECIPE = """
machine: {bed: {x_max_mm: 300, y_max_mm: 300}, park: {x_mm: 15, y_mm: 15}, ceiling_mm: 100000}
clay: {metering: {unit: filament, diameter_mm: 1.75}}
steps: [cold, purge: {volume_ml: 5}, fan: {bands: [{from_layer: 2, level_percent: 25}]}, taper, tally]
"""
EXTREMES = {
    "X of 300 digits": "G1 X" + "9" * 300,
    "X1e+300": "G1 X1e+300",
    "X far away": "G1 X999999999",
    "tiny X": "G1 X1e-300",
    "X of many decimals": "G1 X0." + "0" * 400 + "1",
    "E1e+300": "G1 X150 E1e+300",
    "a lot of E": "G1 X150 E99999999",
    "F1e+300": "G1 X150 F1e+300",
    "F1e-300": "G1 X150 E1 F1e-300",
    "F0.0000001": "G1 X150 E1 F0.0000001",
    "F0": "G1 F0",
    "a long dwell": "G4 P1e+300",
    "a lot of feed": "M220 S1e+300",
    "hardly any feed": "M220 S1e-300",
    "no feed": "M220 S0",
    "a lot of flow": "M221 S1e+300",
    "hardly any flow": "M221 S1e-300",
    "no flow": "M221 S0",
    "a far offset": "G92 X1e+300",
    "E reset far away": "G92 E1e+300",
    "a huge arc": "G2 X100.001 I1000000000 J0",
    "a huge radius": "G2 X150 R1e+300",
    "a radius too small": "G2 X150 R0.001",
    "a huge code": "G" + "1" * 300,
    "a huge M code": "M1e+300",
    "a line number of 300 digits": "N" + "1" * 300 + " G1 X5",
    "a tool far away": "T1e+300",
    "a fan beyond all": "M106 S1e+300",
}


@pytest.mark.parametrize("line", EXTREMES.values(), ids=EXTREMES)
def test_numbers_of_extremes(forker, shelf, bowl, line) -> None:
    """A number of any size in a file gives a result or a sentence that names the line; never a warning of numpy's."""
    (shelf / "recipe.yaml").write_text(RECIPE)
    source = bowl.source.decode()
    for place in ("G92 E0\n", "Z4.000"):
        before, mark, after = source.partition(place)
        cut = after.index("\n") + 1 if place != "G92 E0\n" else 0
        text = before + mark + after[:cut] + line + "\n" + after[cut:]
        (shelf / "pot.gcode").write_text(text)
        ended = forker.do(
            shelf, "run", "pot.gcode", "-o", "out.gcode", "-c", "recipe.yaml", "--overwrite",
            "--allow", "outside-bed", "--allow", "above-ceiling", "--allow", "wall-in-air", "--json", "out.json",
        )  # fmt: skip
        assert ended.status in (0, REFUSED), ended.err
        assert "Warning" not in ended.err
        assert "fault" not in ended.err
        assert "nan" not in ended.out
        assert "inf" not in ended.out.split()
