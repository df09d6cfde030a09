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
from gpost.workbook.log.model import Found, Predicted, PrintRow, agree, agree_or_none

FAR = 3.0
"""So many times what was to be expected, or so small a part of it, is no clay and no machine: scales and
clocks are right to a few percent, prints of one clay differ by some more, and E that was never weighed by
2.65 at the most (a strand of 2.85 mm that is counted as one of 1.75). A decimal that slipped makes 10."""

MORE, NEAR_SLAB = 1.15, (0.7, 1.4)
"""A piece that is heavier than that, by so many times its slab's mass, may have been weighed with its slab:
common practice, no source. A slab dries and is trimmed; prints of one clay differ by a few percent."""

LESS, NEAR_PART = 0.85, 0.15
"""A piece that is lighter than that share of what was predicted may be a part of a stopped one, and is taken
for the part whose own mass it is that close to: common practice, no source, as MORE."""


def doubts_of(
    number: int, summary: Summary, said: Predicted, found: Found, config: Config, earlier: Sequence[PrintRow]
) -> list[str]:
    """All that is asked about a print, by its summary and by the prints that were in the log before."""
    known = summary.sure.metered_percent is not None or _weighed_before(said, earlier)
    return [
        *config_doubts(said, config),
        *print_doubts(number, said, found, config, known=known),
        *same_before(number, said, found, earlier),
        *rest_doubts(number, said, found, earlier),
    ]


def asked_again(rows: Sequence[PrintRow], config: Config) -> Iterator[tuple[int, str]]:
    """What was asked about each of these prints when it was added, with its number.

    That the config was another one is left out: it may have changed since.
    """
    for place, row in enumerate(rows):
        said, found, earlier = row.predicted, row.found, rows[:place]
        if not _teaches(found):
            continue
        known = _weighed_before(said, earlier)
        for doubt in print_doubts(row.number, said, found, config, known=known):
            yield row.number, f"print {row.number}: {doubt}"
        for doubt in (
            *same_before(row.number, said, found, earlier),
            *rest_doubts(row.number, said, found, earlier),
        ):
            yield row.number, doubt


def is_far(ratio: float) -> bool:
    """Whether a finding is so many times what was predicted, or so small a part, that it can't be meant."""
    return not 1 / FAR < ratio < FAR


def config_doubts(said: Predicted, config: Config) -> Iterator[str]:
    """Where the config is not the one that the piece was printed with; the summary's own figures are kept."""
    pairs = [(said.ml_per_unit, ml_per_unit(config.clay.metering), "ml per unit of E")]
    if all(clay.wet_density_g_ml is None for clay in config.clays):  # else it is of several together
        pairs.append((said.density_g_ml, config.clay.wet_density_g_ml, "g per ml of wet clay"))
    for own, given, unit in pairs:
        if agree_or_none(own, given):
            continue
        yield (
            f"the summary of {shown(said.source)} was made with {_figure(own)} {unit}, but the config says "
            f"{_figure(given)}; the summary's is kept. Name the configs that it was printed with"
        )


def _weighed_before(said: Predicted, rows: Iterable[PrintRow]) -> bool:
    """Whether an earlier print came out with the same clay per unit of E, so that it is known."""
    return any(
        row.dropped is None
        and row.mass_ratio is not None
        and row.mass_ratio > LESS
        and _same_clay(row.predicted, said)
        for row in rows
    )


def print_doubts(
    number: int,
    said: Predicted,
    found: Found,
    config: Config,
    *,
    known: bool = False,
) -> Iterator[str]:
    """Findings that can hardly be meant.

    `known`: whether clay per unit of E was ever weighed, so that a light piece says that a part of it was.
    """
    slip = f"If it is a slip, take the print back with gpost log drop {number}, and add it again"
    expected_g, rest_g = said.piece_g * found.flow_share, said.rest_g
    other = _with_slab(found.weighed_g, expected_g, said.slab_g) or _part_alone(
        found.weighed_g, expected_g, None if rest_g is None else rest_g + expected_g - said.piece_g, known
    )
    if other:
        yield f"{other}. {slip}"
    for value, expected, what in (
        (None if other else found.weighed_g, expected_g, "g"),
        (found.minutes, said.minutes * found.time_share, "min"),
    ):
        if value is not None and is_far(value / expected):
            yield (
                f"{value:g} {what} is far from the {to_digits(expected, 3)} {what} that were predicted, "
                f"{to_digits(value / expected, 2)} times as much. {slip}"
            )
    if found.left_g is not None:
        yield from _left_doubts(found.left_g, found.left_g / said.density_g_ml, config.cartridge, slip)
    if not _teaches(found):
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


def _part_alone(weighed_g: float | None, expected_g: float, rest_g: float | None, known: bool) -> str:
    """That a part of a stopped piece seems to have been weighed; "" if not."""
    if weighed_g is None or weighed_g > expected_g * LESS:
        return ""
    if rest_g is not None:
        parts = (
            (rest_g, "this rest alone lays", "what was laid before it stopped"),
            (expected_g - rest_g, "were laid before it stopped", "its rest"),
        )
        part_g, laid, other = min(parts, key=lambda part: abs(part[0] - weighed_g))
        if abs(part_g - weighed_g) < NEAR_PART * part_g:
            return (
                f"{weighed_g:g} g are about the {to_digits(part_g, 3)} g that {laid}: was it weighed without "
                f"{other}? The mass asked for is the whole piece's, {to_digits(expected_g, 3)} g as "
                "predicted: weigh it whole, or add up its parts"
            )
    if not known or weighed_g * FAR < expected_g:
        return ""
    return (
        f"{weighed_g:g} g are {to_digits(weighed_g / expected_g, 2)} times the {to_digits(expected_g, 3)} g "
        "that were predicted for the whole piece: did it stop, and is that a part of it, or was the flow "
        "turned (--turned)? The mass asked for is the whole piece's; add one that was gone on with by the "
        "summary of its rest, and one that was given up without grams"
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


def rest_doubts(number: int, said: Predicted, found: Found, rows: Iterable[PrintRow]) -> Iterator[str]:
    """That a stopped print and its rest seem to be in the log as two whole pieces.

    Each is compared with the whole piece, since that is what is weighed: it would count twice.
    """
    same = [row for row in rows if row.dropped is None and _same_piece(row.predicted, said)]
    weighed = [row for row in same if row.found.weighed_g is not None]
    if found.weighed_g is None or not weighed:
        return
    longer = [row for row in weighed if row.predicted.minutes > said.minutes]
    twice = [row for row in weighed if row.found.weighed_g == found.weighed_g]
    if said.rest_g is not None and longer:
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


def _teaches(found: Found) -> bool:
    """Whether it says anything that can be learnt from."""
    return not found.weighed_g is found.minutes is found.left_g is None


def _same_piece(one: Predicted, other: Predicted) -> bool:
    return one.source == other.source and agree(one.piece_g, other.piece_g)


def _same_clay(one: Predicted, other: Predicted) -> bool:
    """Whether they were predicted with the same clay per unit of E, or both by path, and the same density."""
    return agree_or_none(one.ml_per_unit, other.ml_per_unit) and agree(one.density_g_ml, other.density_g_ml)


def _alike(one: Predicted, other: Predicted) -> bool:
    """Whether they are of one piece; an earlier gpost summed up its mass otherwise, and kept no slab."""
    alike = replace(one, piece_g=other.piece_g, slab_g=other.slab_g, rest_g=other.rest_g)
    return alike == other and isclose(one.piece_g, other.piece_g)


def _findings(found: Found) -> tuple[object, ...]:
    return found.weighed_g, found.minutes, found.left_g, found.softness, found.turned


def _figure(value: float | None) -> str:
    return "no" if value is None else f"{value:.4g}"
