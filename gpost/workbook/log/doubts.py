"""What looks wrong about a print before it is kept: sentences that ask the potter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from math import isclose

from gpost.common.plain import shown
from gpost.config.cartridge import Cartridge
from gpost.config.metering import ml_per_unit
from gpost.config.model import Config
from gpost.report.model import Summary
from gpost.report.wording import to_digits
from gpost.workbook.log.model import Found, Predicted, PrintRow, agree

FAR = 3.0
"""So many times what was to be expected, or so small a part of it, is no clay and no machine: scales and
clocks are right to a few percent, prints of one clay differ by some more, and E that was never weighed by
2.65 at the most (a strand of 2.85 mm that is counted as one of 1.75). A decimal that slipped makes 10."""

MORE, NEAR_SLAB = 1.15, (0.7, 1.4)
"""A piece that is heavier than that, by so many times its slab's mass, may have been weighed with its slab:
common practice, no source. A slab dries and is trimmed; prints of one clay differ by a few percent."""


def doubts_of(
    number: int, summary: Summary, said: Predicted, found: Found, config: Config, earlier: Sequence[PrintRow]
) -> list[str]:
    """All that is asked about a print, by its summary and by the prints that were in the log before."""
    slab_g = 0.0 if summary.slab is None else summary.slab.wet_g
    return [
        *config_doubts(said, config),
        *print_doubts(number, said, found, config, slab_g),
        *same_before(number, said, found, earlier),
        *rest_doubts(number, said, found, earlier, is_rest=summary.resume is not None),
    ]


def config_doubts(said: Predicted, config: Config) -> Iterator[str]:
    """Where the config is not the one that the piece was printed with; the summary's own figures are kept."""
    pairs = [(said.ml_per_unit, ml_per_unit(config.clay.metering), "ml per unit of E")]
    if all(clay.wet_density_g_ml is None for clay in config.clays):  # else it is of several together
        pairs.append((said.density_g_ml, config.clay.wet_density_g_ml, "g per ml of wet clay"))
    for own, given, unit in pairs:
        if own == given or (own is not None and given is not None and agree(own, given)):
            continue
        yield (
            f"the summary of {shown(said.source)} was made with {_figure(own)} {unit}, but the config says "
            f"{_figure(given)}; the summary's is kept. Name the configs that it was printed with"
        )


def print_doubts(
    number: int, said: Predicted, found: Found, config: Config, slab_g: float = 0.0
) -> Iterator[str]:
    """Findings that can hardly be meant; `slab_g`: the wet mass of its slab."""
    slip = f"If it is a slip, take the print back with gpost log drop {number}, and add it again"
    with_slab = _with_slab(found.weighed_g, said.piece_g * found.flow_share, slab_g)
    if with_slab:
        yield f"{with_slab}. {slip}"
    for value, expected, what in (
        (None if with_slab else found.weighed_g, said.piece_g * found.flow_share, "g"),
        (found.minutes, said.minutes * found.time_share, "min"),
    ):
        if value is not None and not expected / FAR < value < expected * FAR:
            yield (
                f"{value:g} {what} is far from the {to_digits(expected, 3)} {what} that were predicted, "
                f"{to_digits(value / expected, 2)} times as much. {slip}"
            )
    if found.left_g is not None:
        yield from _left_doubts(found.left_g, found.left_g / said.density_g_ml, config.cartridge, slip)
    if found.weighed_g is found.minutes is found.left_g is None:
        yield (
            f"print {number} says neither grams nor minutes nor what was left, so nothing is learnt from it. "
            f"{slip}"
        )


def _with_slab(weighed_g: float | None, expected_g: float, slab_g: float) -> str:
    """That a piece seems to have been weighed with its slab; "" if not."""
    low, high = NEAR_SLAB
    if weighed_g is None or weighed_g < expected_g * MORE:
        return ""
    more_g = weighed_g - expected_g
    if not low * slab_g < more_g < high * slab_g:
        return ""
    return (
        f"{weighed_g:g} g are {to_digits(more_g, 3)} g more than the {to_digits(expected_g, 3)} g that were "
        f"predicted, and its slab is {to_digits(slab_g, 3)} g: was it weighed with its slab? The mass asked "
        "for is the piece's alone; weigh it without, or take off what the slab weighed"
    )


def _left_doubts(left_g: float, left_ml: float, cartridge: Cartridge, slip: str) -> Iterator[str]:
    """What was left against the cartridge, and against a reserve that is known: an average, or a limit."""
    reserve_ml, average = cartridge.reserve_ml, cartridge.reserve_spread_ml is not None
    known = reserve_ml > 0 and "reserve_ml" in cartridge.model_fields_set
    if left_ml > cartridge.volume_ml:
        yield (
            f"{left_g:g} g left are {left_ml:.0f} ml, more than the cartridge of {cartridge.volume_ml:g} ml "
            f"holds; was it weighed with its cartridge? {slip}"
        )
    elif known and (left_ml > reserve_ml * FAR or (average and left_ml < reserve_ml / FAR)):
        yield (
            f"{left_g:g} g left are {left_ml:.0f} ml, and the config's reserve is {reserve_ml:g}; did the "
            f"cartridge give no more, and was it weighed without the cartridge itself? {slip}"
        )


def same_before(number: int, said: Predicted, found: Found, rows: Iterable[PrintRow]) -> Iterator[str]:
    """That an earlier print, not dropped, says all the same; notes may differ."""
    for row in rows:
        if row.dropped is None and _alike(row.predicted, said) and _findings(row.found) == _findings(found):
            yield (
                f"print {number} says the same as print {row.number}: the same piece, the same findings. If "
                f"it is one print added twice, take it back: gpost log drop {number}"
            )
            return


def rest_doubts(
    number: int, said: Predicted, found: Found, rows: Iterable[PrintRow], *, is_rest: bool
) -> Iterator[str]:
    """That a stopped print and its rest seem to be in the log as two whole pieces.

    Each is compared with the whole piece, since that is what is weighed: it would count twice.
    """
    same = [row for row in rows if row.dropped is None and _same_piece(row.predicted, said)]
    weighed = [row for row in same if row.found.weighed_g is not None]
    if found.weighed_g is None or not weighed:
        return
    longer = [row for row in weighed if row.predicted.minutes > said.minutes]
    twice = [row for row in weighed if row.found.weighed_g == found.weighed_g]
    if is_rest and longer:
        yield (
            f"print {number} is the rest of a stopped print, and print {longer[-1].number} has a mass of the "
            "same file. If they are one piece, it is one record, by the summary of its rest: take the other "
            f"back with gpost log drop {longer[-1].number}"
        )
    elif twice and not _alike(twice[-1].predicted, said):
        yield (
            f"print {number} says as many grams as print {twice[-1].number}, of the same file in another "
            "time. If they are one piece that stopped, it is one record, by the summary of its rest: take "
            "the run's back with gpost log drop"
        )


def _same_piece(one: Predicted, other: Predicted) -> bool:
    return one.source == other.source and agree(one.piece_g, other.piece_g)


def _alike(one: Predicted, other: Predicted) -> bool:
    """Whether they are of one piece; an earlier gpost summed up its mass in another order."""
    return replace(one, piece_g=other.piece_g) == other and isclose(one.piece_g, other.piece_g)


def _findings(found: Found) -> tuple[object, ...]:
    return found.weighed_g, found.minutes, found.left_g, found.softness, found.turned


def _figure(value: float | None) -> str:
    return "no" if value is None else f"{value:.4g}"
