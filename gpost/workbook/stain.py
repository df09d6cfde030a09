"""The stain sheet in words and as JSON."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict

from gpost import __version__
from gpost.clay.stain import Batch, Rung
from gpost.common.digits import few
from gpost.common.layout import Part, laid_out
from gpost.common.plain import shown
from gpost.config.doubts import share_doubt
from gpost.report.wording import dashed, numbered, wrapped

FINEST_DECIMALS = 4
"""No scale of a studio shows more: 0.1 mg."""
LEAST_WATER_G = 0.05
"""Less than this would be 0.0 g on the sheet."""


OTHER_WATER_PERCENT = 20.0
"""Of a stiff clay (common practice, no source)."""


def stain_doubts(water: tuple[str, float], colourants: Iterable[tuple[str, float]]) -> Iterator[str]:
    """Percents, each with what it was said by, that may be shares of 1: asked about as the config's are."""
    for key, (said, value) in (("water_percent", water), *(("percent", pair) for pair in colourants)):
        doubt = share_doubt(key, value)
        if doubt is not None:
            yield "; ".join(filter(None, (f"{shown(said)}: {value:g} {doubt.wrong}", doubt.hint)))


def water_doubt(water_percent: float) -> str:
    """What it means that the config doesn't say how much water the clay holds; how much hangs on it.

    The dry mass, and so each colourant, is the rest of the wet mass.
    """
    more = 100 * ((100 - OTHER_WATER_PERCENT) / (100 - water_percent) - 1)
    return (
        f"the clay's water is taken for {water_percent:g} % of the wet mass, gpost's own number, since your "
        f"config doesn't say clay: water_percent; if it is {OTHER_WATER_PERCENT:g} %, all colourants are "
        f"{more:.0f} % short: weigh a lump wet and dried (gpost calibrate --dried)"
    )


def stain_json(
    batches: Sequence[Batch], rungs: Sequence[Rung], cautions: Sequence[str], doubts: Sequence[str] = ()
) -> str:
    """The sheet as a JSON document; masses in g, colourants in percent of the dry mass."""
    document = {
        "version": 1,
        "gpost_version": __version__,
        "batches": [asdict(batch) | {"total_g": batch.total_g} for batch in batches],
        "ladder": [asdict(rung) for rung in rungs],
        "cautions": list(cautions),
        "doubts": list(doubts),
    }
    return json.dumps(document, indent=" " * 2, ensure_ascii=True) + "\n"


def stain_text(
    batches: Sequence[Batch], rungs: Sequence[Rung], cautions: Sequence[str], width: int | None = None
) -> str:
    """The sheet for the workbench, laid out as `laid_out` does."""
    lines: list[Part] = []
    if rungs:
        lines += [f"The ladder's two clays, for all {len(rungs)} steps together"]
    for batch in batches:
        lines += [*_batch(batch), ""]
    if rungs:
        lines += ["Ladder; blend the two ready clays, or colour plain clay directly"]
        for number, rung in enumerate(rungs, 1):
            lines += numbered(number, _rung(rung), margin="  ", sign=":")
        lines += [""]
    return laid_out([*lines, "Take care", *dashed(cautions)], width)


def _batch(batch: Batch) -> Iterator[Part]:
    yield f"Weigh out {batch.wet_g:.1f} g of wet clay ({batch.dry_g:.1f} g dry)"
    for name, grams in batch.grams.items():
        if not grams:
            continue
        yield from wrapped(
            f"{_scale(grams)} g {shown(name)} ({few(batch.percent[name], 3)} % of the dry mass)",
            indent=" " * 6,
            first="  ",
        )
    if batch.water_g > LEAST_WATER_G:
        yield f"  {batch.water_g:.1f} g water, or the powder stiffens the clay"
    yield f"  {batch.total_g:.1f} g in all"


def _scale(grams: float) -> str:
    """Grams as a scale for such an amount shows them: to 0.01 g, and to three digits below 1 g."""
    decimals = 2 if grams >= 1 else min(2 - math.floor(math.log10(grams)), FINEST_DECIMALS)
    return f"{grams:.{decimals}f}"


def _rung(rung: Rung) -> str:
    grams = ", ".join(f"{shown(name)} {_scale(grams)} g" for name, grams in rung.batch.grams.items() if grams)
    water = f" and {rung.batch.water_g:.1f} g water" if rung.batch.water_g > LEAST_WATER_G else ""
    return (
        f"{rung.first_g:.1f} g of the first and {rung.second_g:.1f} g of the second clay; or "
        f"{rung.batch.wet_g:.1f} g plain with {grams or 'nothing'}{water}"
    )
