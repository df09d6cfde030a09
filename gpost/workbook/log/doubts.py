"""What looks wrong about a print before it is kept: sentences that ask the potter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from math import isclose

from gpost.common.plain import shown
from gpost.config.metering import ml_per_unit
from gpost.config.model import Config
from gpost.workbook.log.model import Found, Predicted, PrintRow, agree

FAR = 20.0
"""Found and predicted that differ by more are of different units: kg for g, ounces for g, hours for min."""


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
        (found.weighed_g, said.piece_g, "g"),
        (found.minutes, said.minutes, "min"),
    ):
        if value is not None and not expected / FAR < value < expected * FAR:
            yield f"{value:g} {what} is far from the {expected:.3g} {what} that were predicted. {slip}"
    if found.left_g is not None and found.left_g / said.density_g_ml > config.cartridge.volume_ml:
        yield (
            f"{found.left_g:g} g left are {found.left_g / said.density_g_ml:.0f} ml, more than the cartridge "
            f"of {config.cartridge.volume_ml:g} ml holds; was it weighed with its cartridge? {slip}"
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
