"""Pages of all kinds in a made-up translation: `python -m tests.page.translated FOLDER` writes them.

It is a process of its own, since words are asked for while modules are loaded.
"""

from __future__ import annotations

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


def write(folder: Path) -> None:
    """The sliced files, and what is made of them."""
    from gpost.demo.gcode import Piece, SliceStyle
    from tests.page.rests import with_page
    from tests.resuming import typed
    from tests.sliced import write_piece

    def done(*args: object, status: int = 0) -> None:
        result = typed(*args)
        assert result.exit_code == status, f"{args}: {result.output}"

    source, studio, bands = folder / f"{CALLED}in", folder / "studio.yaml", folder / "bands.yaml"
    source.mkdir(parents=True)
    for name, height_mm in (("cup", 16), ("tall", 70)):
        piece = Piece(height_mm=height_mm, radius_mm=20, segments=24, base_layers=1)
        write_piece(source / f"{CALLED}{name}.gcode", piece, SliceStyle())
    lines = (source / f"{CALLED}tall.gcode").read_text().splitlines(keepends=True)
    lines.insert(2 * len(lines) // 3, "M0\n")
    (source / f"{CALLED}tall.gcode").write_text("".join(lines))
    (source / f"{CALLED}empty.gcode").write_bytes(b"")
    (source / f"{CALLED}tall.yaml").write_text(TALL)
    studio.write_text(STUDIO)
    bands.write_text(BANDS)
    tall, own = source / f"{CALLED}tall.gcode", ("-c", studio, "-c", source / f"{CALLED}tall.yaml")
    out = ("--page", folder / "run.html", "--json", folder / "run.json", "--summary", folder / "run.txt")
    out = (*out, "--calendar", folder / "run.ics", "--start", "9:00")
    done("run", tall, *own, "-o", folder / f"{CALLED}run.gcode", *out)
    (folder / "rest.html").write_text(
        with_page("resume", folder / "run.json", "--from-layer", 12, "-o", folder / f"{CALLED}rest.gcode"),
        "utf-8",
    )
    rehearsal = (
        "-o",
        folder / f"{CALLED}rehearsal.gcode",
        "--page",
        folder / "rehearsal.html",
        "--rehearse",
        30,
    )
    done("run", tall, *own, *rehearsal)
    done("run", tall, "-c", bands, "-o", folder / f"{CALLED}slugs.gcode", "--page", folder / "slugs.html")
    done("load", tall, "-c", bands, "--svg", folder / "load.svg")
    for name, config in (("many", MANY), ("outlet", OUTLET), ("little", LITTLE), ("too-little", TOO_LITTLE)):
        (folder / f"{name}.yaml").write_text(config)
        out = ("-o", folder / f"{CALLED}{name}.gcode", "--page", folder / f"{name}.html")
        done("run", tall, "-c", folder / f"{name}.yaml", *out, "--allow", "short-clay")
    done("load", tall, "-c", folder / "outlet.yaml", "--svg", folder / "outlet.svg")
    for name, config in (("day", studio), ("slugs-day", bands)):
        done(
            "day",
            source,
            "-c",
            config,
            "-o",
            folder / f"{CALLED}{name}",
            "--pages",
            "--start",
            "9:00",
            status=1,
        )
    first = sorted((folder / f"{CALLED}day").glob("*-*.gcode"))[1].stem
    done(
        "day",
        source,
        "-c",
        studio,
        "-o",
        folder / f"{CALLED}day",
        "--overwrite",
        "--from",
        first,
        "--left-ml",
        30,
        status=1,
    )
    (source / f"{CALLED}wrong.gcode").write_bytes((source / f"{CALLED}cup.gcode").read_bytes())
    batch = ("batch", source, "-c", studio, "-o", folder / f"{CALLED}batch", "--pages", "--jobs", 1)
    done(*batch, status=1)
    (source / f"{CALLED}wrong.gcode").write_bytes(b"")
    done(*batch, status=1)


if __name__ == "__main__":
    translate()
    write(Path(sys.argv[1]))
