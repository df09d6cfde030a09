"""What trials of strength say, in words and as JSON, with the lines for `stand` where they are honest."""

from __future__ import annotations

import math
from collections.abc import Iterator

from gpost.clay.folds import Fold
from gpost.clay.strength import FOLD_OFF, Range, Stiffening
from gpost.clay.walls import standing_mm
from gpost.common.layout import Paragraph, laid_out
from gpost.common.plain import shown, storable
from gpost.report.toload import ToLoad
from gpost.report.wording import indented, times, to_digits
from gpost.workbook.trial.lines import json_text, with_config
from gpost.workbook.trial.strength import SURE, Coned, Folded, Slumped, sure_enough
from gpost.workbook.trial.tube import Tube, clock

_GAVE_WAY = {
    "foot": "at the foot: the clay yielded there, with {} Pa",
    "wall": "in mid-wall: it buckled before the foot yielded, so that the foot had {} Pa or more",
    "leant": "leaning over: it buckled or tipped before the foot yielded, so that the foot had {} Pa or more",
    "stood": "it still stood, so that the foot had {} Pa or more",
}
_NO_STIFFENING = (
    "It tells no stiffening, so that the line counts on none; tubes printed at two rates of rise do (gpost "
    "calibrate --tube)."
)


def tube_text(name: str, tube: Tube, most_pa: float, load: ToLoad, width: int | None = None) -> str:
    """What the tube's file does, what to load for it, and how to go on."""
    slow = tube.rise_mm_min / 3
    lines = indented(
        f"{shown(name)} prints a plain tube, {tube.diameter_mm:g} mm across with a wall of {tube.width_mm:g} "
        f"mm, that rises {tube.rise_mm_min:g} mm a minute to {tube.height_mm:g} mm, {tube.clay_ml:.0f} ml of "
        f"clay at the most. Have {load.ml} ml ({load.g} g) or more in the cartridge, its reserve counted "
        "in. It runs clay out at the park and waits; wipe the nozzle, and it begins."
    )
    lines += indented(
        "Stay beside it with a hand at the stop, and reach in only when it stands still. When the tube gives "
        "way stop the machine, and write down how high it was, the minutes and seconds since its first turn "
        "(the display has both every few mm), and where: at the foot (it bulges there), in mid-wall, or "
        "leaning over."
    )
    lines += indented(
        f"If it stands to the end its foot had more than {most_pa:.0f} Pa, and that is all it tells. Print a "
        f"second one at a third of the rate, --rise-mm-min {slow:.3g}, for the stiffening, and a third for "
        "how sure it is."
    )
    lines += indented(
        "Then: gpost calibrate -c CONFIG --tube-folded HEIGHT@CLOCK@PLACE, such as 140@9:30@foot; PLACE "
        "is foot, wall, leant or stood"
    )
    return laid_out(lines, width)


def tube_json(name: str, tube: Tube, most_pa: float, load: ToLoad) -> str:
    """The same as JSON."""
    return json_text(
        output=storable(name),
        diameter_mm=tube.diameter_mm,
        width_mm=tube.width_mm,
        layer_mm=tube.layer_mm,
        rise_mm_min=tube.rise_mm_min,
        height_mm=tube.height_mm,
        clay_ml=tube.clay_ml,
        load_ml=load.ml,
        load_g=load.g,
        most_pa=most_pa,
    )


def folded_text(found: Folded, width: int | None = None) -> str:
    """Strength from tubes, and the stiffening if they tell it."""
    lines: list[Paragraph] = []
    for number, (fold, yield_pa) in enumerate(zip(found.folds, found.yields_pa, strict=True), 1):
        lines += indented(
            f"tube {number}: {_fold(fold)}, {_GAVE_WAY[fold.place].format(to_digits(yield_pa, 2))}"
        )
    fit = found.stiffening
    if fit is None:
        lines += _no_fit(found)
        return with_config(lines, [], width)
    lines += _fit_words(found, fit)
    for number in found.contradicting:
        lines += indented(
            f"Warning: tube {number} bore more than the others say its clay had; were all of one batch, and "
            "did the others fold at the foot?"
        )
    if found.contradicting:
        return with_config(lines, [], width)
    if not sure_enough(fit.fresh_pa):
        return with_config([*lines, *_no_line("print another tube")], [], width)
    return with_config(lines, _stand(fit.fresh_pa, fit.per_s), width)


def _fit_words(found: Folded, fit: Stiffening) -> Iterator[Paragraph]:
    tubes = times(len(found.at_foot), "tube")
    other = (
        "How much tubes differ can't be seen from two: print a third. Until then"
        if not fit.freedom
        else "At the least"
    )
    yield from indented(
        f"Yield stress {_span(fit.fresh_pa)} Pa as it is laid, {_growth(fit.per_s)} (95 %, from {tubes} that "
        f"folded at the foot). {other} each is taken to be {100 * FOLD_OFF:g} % off (a standard deviation; "
        "common practice, no source). Another day, another batch and a draught are not in it."
    )
    yield from indented(
        "The foot bears rho g H; as a yield stress that is divided by 1.732 (von Mises), by which the step "
        "multiplies again, so leave its shape_factor as it is. No modulus can be told from a tube."
    )


def _growth(per_s: Range) -> str:
    if per_s.low > 0:
        return f"and it stiffens by {_span(per_s)} Pa/s"
    if not math.isfinite(per_s.high):
        return "and nothing can be said of how it stiffens"
    return f"and no stiffening is sure: {per_s.middle:.2g} Pa/s, {per_s.low:.2g} to {per_s.high:.2g}"


def _no_fit(found: Folded) -> Iterator[Paragraph]:
    """Why these tubes don't tell the stiffening."""
    strength = found.range_pa
    if strength is None:
        yield from indented(
            "No tube folded at the foot, so that its strength isn't known, only what it had at the least. "
            "Print one that is narrower or has a thicker wall, so that it doesn't buckle first. No line is "
            "given."
        )
        return
    yield from indented(
        f"{_span(strength)} Pa at {clock(found.age_s)} (95 %, if one is {100 * FOLD_OFF:g} % off at the "
        "least; common practice, no source). Clay that is just laid has less: how much less, and how fast it "
        "stiffens, only tubes tell that rise at different rates. Print another at a third of that rate. No "
        "line is given before."
    )


def folded_json(found: Folded) -> str:
    """The same as JSON; null where nothing bounds a value."""
    fit = found.stiffening
    return json_text(
        tubes=[
            {**fold._asdict(), "yield_pa": yield_pa, "at_least": not fold.yields}
            for fold, yield_pa in zip(found.folds, found.yields_pa, strict=True)
        ],
        density_g_ml=found.density_g_ml,
        at_age_pa=None if found.range_pa is None else _ends(found.range_pa),
        age_s=found.age_s if found.at_foot else None,
        yield_stress_pa=None if fit is None else _ends(fit.fresh_pa),
        stiffening_pa_s=None if fit is None else _ends(fit.per_s),
        contradicting=found.contradicting,
    )


def slump_text(found: Slumped, width: int | None = None) -> str:
    """Yield stress from cylinders that sank."""
    strength = found.range_pa
    cylinders = times(len(found.yields_pa), "cylinder")
    lines = indented(f"Yield stress {_span(strength)} Pa (95 %), from {cylinders}")
    if not sure_enough(strength):
        return with_config([*lines, *_no_line("sink another cylinder")], [], width)
    lines += indented(
        f"a straight wall of the softest such clay bears {standing_mm(strength.low, found.density_g_ml):.0f} "
        f"mm of itself while it is as fresh as in the trial (no safety). {_NO_STIFFENING} This is an "
        "estimate: print a trial wall before you trust it."
    )
    return with_config(lines, _stand(strength, None), width)


def slump_json(found: Slumped) -> str:
    """The same as JSON."""
    strength = found.range_pa
    return json_text(
        yields_pa=list(found.yields_pa),
        yield_pa=strength.middle,
        low_pa=strength.low,
        high_pa=strength.high,
        density_g_ml=found.density_g_ml,
        standing_mm=standing_mm(strength.low, found.density_g_ml),
    )


def cone_text(found: Coned, width: int | None = None) -> str:
    """Strength from a cone that fell in."""
    strength = found.range_pa
    lines = indented(
        f"Yield stress {_span(strength)} Pa, from {times(len(found.depths_mm), 'drop')} of a cone of "
        f"{found.mass_g:g} g and {found.angle_deg:g} degrees (Hansbo's relation). The range is wide since "
        "the cone's factor is not known better, and no repeating makes it less; compare batches by the "
        "middle, with one cone."
    )
    if not sure_enough(strength):
        return with_config([*lines, *_no_line("let the cone fall again")], [], width)
    return with_config([*lines, *indented(_NO_STIFFENING)], _stand(strength, None), width)


def cone_json(found: Coned) -> str:
    """The same as JSON."""
    strength = found.range_pa
    return json_text(
        depths_mm=list(found.depths_mm),
        mass_g=found.mass_g,
        angle_deg=found.angle_deg,
        yield_pa=strength.middle,
        low_pa=strength.low,
        high_pa=strength.high,
    )


def _no_line(more: str) -> list[Paragraph]:
    return indented(
        f"That is too unsure for a line (its low end is less than {100 * SURE:g} % of its middle): {more}"
    )


def _stand(strength: Range, per_s: Range | None) -> list[str]:
    """Lines with the low ends, which are the safe ones."""
    grows = 0.0 if per_s is None or per_s.low <= 0 else _down(per_s.low)
    if per_s is None:
        why = "not told: counted as none"
    elif grows:
        why = f"the low end of {_ends_text(per_s)}"
    else:
        why = f"not sure to be above 0: {_ends_text(per_s)}"
    return [
        "steps:",
        "  - stand:",
        f"      yield_stress_pa: {_down(strength.low):.15g}  # the low end of {_ends_text(strength)}",
        f"      stiffening_pa_s: {grows:.15g}  # {why}",
    ]


def _fold(fold: Fold) -> str:
    return f"{fold.height_mm:g} mm at {clock(fold.age_s)}"


def _span(found: Range) -> str:
    """`2000 (1700 to 2400)`."""
    return f"{to_digits(found.middle, 2)} ({_ends_text(found)})"


def _ends_text(found: Range) -> str:
    if not math.isfinite(found.high):
        return f"{to_digits(found.low, 2)} or more"
    return f"{to_digits(found.low, 2)} to {to_digits(found.high, 2)}"


def _down(value: float) -> float:
    """Two digits, never more than it is."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return round(math.floor(value / step + 1e-9) * step, 12)


def _ends(found: Range) -> dict[str, float | None]:
    return {end: value if math.isfinite(value) else None for end, value in found._asdict().items()}
