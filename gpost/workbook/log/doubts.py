"""What looks wrong about a print before it is kept: sentences that ask the potter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from math import isclose

from gpost.common.plain import shown
from gpost.config.cartridge import Cartridge
from gpost.config.metering import ml_per_unit
from gpost.config.model import Config
from gpost.report.wording import to_digits
from gpost.workbook.log.model import Found, Predicted, PrintRow, agree

FAR = 3.0
"""So many times what was to be expected, or so small a part of it, is no clay and no machine: scales and
clocks are right to a few percent, prints of one clay differ by some more, and E that was never weighed by
2.65 at the most (a strand of 2.85 mm that is counted as one of 1.75). A decimal that slipped makes 10."""


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


def print_doubts(number: int, said: Predicted, found: Found, config: Config) -> Iterator[str]:
    """Findings that can hardly be meant."""
    slip = f"If it is a slip, take the print back with gpost log drop {number}, and add it again"
    for value, expected, what in (
        (found.weighed_g, said.piece_g * found.flow_share, "g"),
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


def _alike(one: Predicted, other: Predicted) -> bool:
    """Whether they are of one piece; an earlier gpost summed up its mass in another order."""
    return replace(one, piece_g=other.piece_g) == other and isclose(one.piece_g, other.piece_g)


def _findings(found: Found) -> tuple[object, ...]:
    return found.weighed_g, found.minutes, found.left_g, found.softness, found.turned


def _figure(value: float | None) -> str:
    return "no" if value is None else f"{value:.4g}"
