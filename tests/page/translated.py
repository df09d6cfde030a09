"""Pages of all kinds in a made-up translation: `python -m tests.page.translated FOLDER` writes them.

It is a process of its own, since words are asked for while modules are loaded.
"""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

CLAYS = ("ivory", "slate", "rust")
CALLED = "pot7-"
"""What the names of files and folders begin with."""
STUDIO = """
machine: {display_letters: 40}
clay: {colour: ivory, rim_min: 6, metering: {unit: filament, diameter_mm: 1.75, spread_percent: 3}}
cartridge: {volume_ml: 30, reserve_ml: 5, line_ml: 6, empty_g: 400}
clays: [{name: ivory, swatch: "#eeeae0"}, {name: slate}]
steps: [purge: {volume_ml: 2}, refill: {prime_ml: 2}, tally]
"""
TALL = """
steps:
- purge: {volume_ml: 2}
- swap: {at_height_mm: 40, colour: slate}
- refill: {prime_ml: 2}
- stand: {yield_stress_pa: 3000, stiffening_pa_s: 0.3}
- fan: {bands: [{from_layer: 3, level_percent: 40}]}
- tally
"""
BANDS = """
clay: {colour: ivory, metering: {unit: filament, diameter_mm: 1.75, spread_percent: 3}}
cartridge: {volume_ml: 60, reserve_ml: 5, line_ml: 6, bore_mm: 30, least_slug_mm: 0.5}
colours: {bands: [{to_mm: 8, clay: ivory}, {to_mm: 60, blend: [ivory, slate], steps: 20}, {clay: rust}]}
clays: [{name: slate, swatch: "#31383f"}]
steps: [purge: {volume_ml: 2}, refill: {prime_ml: 2}, tally]
"""
MANY = """
machine: {pause: {hold_again: true}}
clay: {colour: ivory, rim_min: 0.2, metering: {unit: filament, diameter_mm: 1.75, spread_percent: 8}}
cartridge: {volume_ml: 11, reserve_ml: 1, reserve_spread_ml: 0.5, line_ml: 6, line_spread_ml: 1, empty_g: 90}
clays: [{name: slate, stains: [{name: rust, percent: 3}]}]
steps:
- slab: {thickness_mm: 3, x_size_mm: 90, y_size_mm: 90}
- swap: {at_height_mm: 20, colour: slate, clear: purge}
- swap: {at_height_mm: 50, colour: ivory}
- refill: {prime_ml: 1, within_layer: true}
"""
OUTLET = """
clay: {colour: ivory, metering: {unit: filament, diameter_mm: 1.75}}
cartridge: {volume_ml: 90, reserve_ml: 5, line_ml: 12, start_loss_ml: 0.2}
colours: {bands: [{to_mm: 8, clay: ivory}, {to_mm: 30, clay: rust}, {clay: slate}], loaded_from: outlet}
steps: [purge: {volume_ml: 2}, refill: {prime_ml: 2}, tally]
"""
LITTLE = """
clay: {colour: ivory, rim_min: 0.2, metering: {unit: filament, diameter_mm: 1.75, spread_percent: 5}}
cartridge: {volume_ml: 34, reserve_ml: 4, line_ml: 6, line_spread_ml: 2, mixing_stages: 4, empty_g: 90}
steps: [swap: {at_height_mm: 40, colour: slate}, swap: {at_height_mm: 69, colour: rust}]
"""
TOO_LITTLE = LITTLE.replace("volume_ml: 34", "volume_ml: 20")
"""One with more pauses than are told one by one, and one whose hose holds several clays, two that run dry."""
LETTERS = {ord(letter): ord(letter) + 0xFEE0 for letter in map(chr, range(128)) if letter.isalpha()}
"""Latin letters as those of full width: nothing of the file is left in plain letters."""


def other(sentence: str) -> str:
    """A sentence in letters of its own, between brackets, with its places as they are."""
    parts = re.split(r"(\{\w+\})", sentence)
    return f"⟦{''.join(part if part[:1] == '{' else part.translate(LETTERS) for part in parts)}⟧"


def translate() -> None:
    """All that is said from here on is said so."""
    from gpost import words

    english = words.written()
    found = {
        name: {key: other(text) for key, text in group.items()}
        for name, group in english.items()
        if isinstance(group, dict)
    }
    words.written = lambda: {"lang": "eo", **found}  # type: ignore[assignment]


JOBS = {
    "studio": STUDIO,
    "tall": TALL,
    "slugs": BANDS,
    "many": MANY,
    "outlet": OUTLET,
    "little": LITTLE,
    "too-little": TOO_LITTLE,
}
"""Configs by the names of their files."""
RUN = f"run {CALLED}in/{CALLED}tall.gcode"
ALONE = f"{RUN} -c {{0}}.yaml -o {CALLED}{{0}}.gcode --page {{0}}.html --allow short-clay"
BOTH = f"{RUN} -c studio.yaml -c tall.yaml -o {CALLED}"
DONE = (
    f"{BOTH}run.gcode --page run.html --json run.json --summary run.txt --calendar run.ics --start 9:00",
    f"{BOTH}rehearsal.gcode --page rehearsal.html --rehearse 30",
    *(ALONE.format(name) for name in ("slugs", "many", "outlet", "little", "too-little")),
    *(f"load {CALLED}in/{CALLED}tall.gcode -c {name}.yaml --svg {name}.svg" for name in ("slugs", "outlet")),
)
WITH_FAILURES = (
    f"day {CALLED}in -c studio.yaml -o {CALLED}day --pages --start 9:00",
    f"day {CALLED}in -c studio.yaml -o {CALLED}day --overwrite --from {CALLED}tall.gcode --left-ml 30",
    f"day {CALLED}in -c slugs.yaml -o {CALLED}slugs-day --pages --start 9:00",
    *2 * (f"batch {CALLED}in -c studio.yaml -o {CALLED}batch --pages --jobs 1",),
)
"""Some piece of a folder can't be printed."""


def write(folder: Path) -> None:
    """The pages of all jobs, in a folder in which the commands are typed."""
    from tests.resuming import typed

    os.chdir(folder)
    source = _sliced()
    for words in DONE:
        result = typed(*words.split())
        assert result.exit_code == 0, f"{words}: {result.output}"
    rest = typed("resume", "run.json", "--from-layer", 12, "-o", f"{CALLED}rest.gcode", "--page", "rest.html")
    assert rest.exit_code == 0, rest.output
    for words in WITH_FAILURES:
        result = typed(*words.split())
        assert result.exit_code == 1, f"{words}: {result.output}"
        if words.startswith("batch"):  # one that was done before fails the second time
            (source / f"{CALLED}cup.gcode").write_bytes(b"")
    _watched()


def _sliced() -> Path:
    """The folder of the sliced files; beside it the configs."""
    from gpost.demo.gcode import Piece, SliceStyle
    from tests.sliced import write_piece

    source = Path(f"{CALLED}in")
    source.mkdir()
    for name, height_mm in (("cup", 16), ("tall", 70)):
        piece = Piece(height_mm=height_mm, radius_mm=20, segments=24, base_layers=1)
        write_piece(source / f"{CALLED}{name}.gcode", piece, SliceStyle())
    tall = source / f"{CALLED}tall.gcode"
    lines = tall.read_text().splitlines(keepends=True)
    lines.insert(2 * len(lines) // 3, "M0\n")
    tall.write_text("".join(lines))
    (source / f"{CALLED}empty.gcode").write_bytes(b"")
    tall.with_suffix(".yaml").write_text(TALL)
    for name, config in JOBS.items():
        Path(f"{name}.yaml").write_text(config)
    return source


def _watched() -> None:
    """The lists of a folder that is watched, with a piece whose file is gone, and with none."""
    from gpost.page.index import Index, Piece, index_html
    from gpost.words import say

    gone = [Piece(f"{CALLED}gone.gcode", said=[say("index.gone")], key="gone")]
    for name, pieces in (("watched", gone), ("nothing", [])):
        page = index_html(Index(say("index.folder", folder=f"{CALLED}in"), "", pieces, live=True))
        Path(f"{name}.html").write_text(page, "utf-8")


if __name__ == "__main__":
    translate()
    write(Path(sys.argv[1]))
