"""What trials gave, in words and as JSON, with the lines for the config."""

from __future__ import annotations

import math
from collections.abc import Sequence

from gpost.clay.spread import NORMAL_REACH, spread_of
from gpost.clay.water import CLAY_SOLIDS_G_ML, SOLID_DENSITY_G_ML, dry_basis_percent, wet_size_mm
from gpost.common.layout import Paragraph, laid_out
from gpost.common.plain import shown, storable
from gpost.report.wording import at_least, indented, times
from gpost.workbook.sure import unsure
from gpost.workbook.trial.lines import json_text as _json
from gpost.workbook.trial.lines import with_config as _with_config
from gpost.workbook.trial.lumps import Dried, Shrunk, Slip, solids_g_ml

_HANDBOOKS = "clays have {:g} to {:g} by potters' handbooks".format(*CLAY_SOLIDS_G_ML)


def dried_text(found: Dried, width: int | None = None) -> str:
    """Water from lumps, and the wet density if that of the dry matter is known."""
    water, each = found.water_percent, found.each_percent
    digits = _decimals(each, found.step_percent)
    sure = _how_sure(each, found.step_percent, digits)
    lines = indented(f"Water {water:.{digits}f} %{sure} of the wet mass, {_from_each(each, 'lump', digits)}")
    lines += indented(
        f"the same is {dry_basis_percent(water):.{digits}f} % of the dry mass; recipes use either, so ask "
        "which"
    )
    doubt = unsure(each, "lump", found.step_percent)
    config = [] if doubt else ["clay:", f"  water_percent: {round(water, digits + 1):g}"]
    if doubt:
        lines += indented(f"No lines for the config: {doubt}")
    if found.wet_density_g_ml is None:
        lines += indented(
            "with the density of the dry matter (--dry-density, g per ml) it gives the wet density too; by "
            "potters' handbooks clays have 2.5 to 2.6 and silica 2.65, so "
            f"{SOLID_DENSITY_G_ML:g} is a fair guess"
        )
        return _with_config(lines, config, width)
    assert found.dry_density_g_ml is not None
    assert found.density_range_g_ml is not None
    (least, most), (low, high) = solids_g_ml(found.dry_density_g_ml), found.density_range_g_ml
    lines += indented(
        f"such clay weighs {found.wet_density_g_ml:.3f} g per ml when there is no air in it, with dry matter "
        f"of {found.dry_density_g_ml:g} g per ml (Brongniart's relation), and {low:.2f} to {high:.2f} with "
        f"{least:g} to {most:g} ({_HANDBOOKS})"
    )
    if found.slip is None:
        return _with_config(
            lines, config and [*config, f"  wet_density_g_ml: {found.wet_density_g_ml:.4g}"], width
        )
    return _with_config(
        [*lines, *_against_weighed(found, found.slip)],
        config and [*config, f"  wet_density_g_ml: {found.slip.density_g_ml:.4g}"],
        width,
    )


def _against_weighed(found: Dried, slip: Slip) -> list[Paragraph]:
    """What a weighed density says beside the lumps'."""
    assert found.wet_density_g_ml is not None
    off = 100 * (slip.density_g_ml / found.wet_density_g_ml - 1)
    return indented(
        f"weighed it has {slip.density_g_ml:g} g per ml, {abs(off):.1f} % "
        + (
            "less: so much of it is air, if the dry matter's density is right"
            if off < 0
            else "more: weigh again, or the dry matter is heavier than that"
        )
        + f"; by that density alone its water would be {slip.water_percent:.2f} %"
    )


def dried_json(found: Dried) -> str:
    """The same as JSON."""
    return _json(
        lumps=[
            {"wet_g": wet_g, "dry_g": dry_g, "water_percent": each}
            for (wet_g, dry_g), each in zip(found.lumps_g, found.each_percent, strict=True)
        ],
        water_percent=found.water_percent,
        reach_percent=_known_reach(found.each_percent, found.step_percent),
        water_of_dry_percent=dry_basis_percent(found.water_percent),
        dry_density_g_ml=found.dry_density_g_ml,
        wet_density_g_ml=found.wet_density_g_ml,
        weighed_density_g_ml=found.weighed_g_ml,
        weighed_water_percent=None if found.slip is None else found.slip.water_percent,
    )


def slip_text(found: Slip, width: int | None = None) -> str:
    """Dry matter and water from the density of a slip or paste."""
    dry_g, water = found.dry_g_per_litre, found.water_percent
    litre_g = 1000 * found.density_g_ml
    lines = indented(
        f"A litre weighs {litre_g:.0f} g: {dry_g:.0f} g dry and {litre_g - dry_g:.0f} g water, with dry "
        f"matter of {found.dry_density_g_ml:g} g per ml (Brongniart's relation)"
    )
    lines += indented(
        f"water {water:.1f} % of the wet mass, which is {dry_basis_percent(water):.1f} % of the dry; air in "
        "it would pass for water, so stir or wedge it well and tap it down before you weigh"
    )
    low, high = found.range_percent
    least, most = solids_g_ml(found.dry_density_g_ml)
    lines += indented(
        f"with dry matter of {least:g} to {most:g} g per ml it is {low:.1f} to {high:.1f} % ({_HANDBOOKS})"
    )
    if found.no_line:
        lines += indented(
            f"No lines for the config: {found.no_line}. Lumps that are weighed, dried and weighed again tell "
            "it better (--dried)"
        )
        return _with_config(lines, [], width)
    return _with_config(
        lines,
        ["clay:", f"  wet_density_g_ml: {found.density_g_ml:.4g}", f"  water_percent: {water:.3g}"],
        width,
    )


def slip_json(found: Slip) -> str:
    """The same as JSON."""
    return _json(
        density_g_ml=found.density_g_ml,
        dry_density_g_ml=found.dry_density_g_ml,
        dry_g_per_litre=found.dry_g_per_litre,
        water_g_per_litre=1000 * found.density_g_ml - found.dry_g_per_litre,
        water_percent=found.water_percent,
        low_water_percent=found.range_percent[0],
        high_water_percent=found.range_percent[1],
        water_of_dry_percent=dry_basis_percent(found.water_percent),
        no_line=found.no_line or None,
    )


def shrunk_text(found: Shrunk, width: int | None = None) -> str:
    """Shrinkage from test bars, and what to print for a size when fired."""
    total, each = found.total_percent, found.each_percent
    digits = _decimals(each, found.step_percent)
    sure = _how_sure(each, found.step_percent, digits)
    lines = indented(
        f"Shrinkage {total:.{digits}f} %{sure} from wet to fired, of the wet length, "
        f"{_from_each(each, 'bar', digits)}"
    )
    lines += indented(
        f"drying {found.drying_percent:.{digits}f} % of the wet length; firing "
        f"{found.firing_percent:.{digits}f} % of the dry length, which is "
        f"{found.firing_of_wet_percent:.{digits}f} % of the wet"
    )
    if found.firing_percent < 0:
        lines += indented(
            "Warning: the bars grew in the fire; measure again, dry and fired at the same marks"
        )
    lines += indented(
        f"the volume shrinks by {found.volume_percent:.1f} %, if it does so alike in all directions"
    )
    lines += indented(
        f"a piece that is to be 100 mm when fired, print {wet_size_mm(100, total):.1f} mm long; it shrinks "
        "by another share upwards if a bar that was printed upright says so (shrinkage_z_percent)"
    )
    doubt = unsure(each, "bar", found.step_percent)
    if doubt:
        return _with_config([*lines, *indented(f"No line for the config: {doubt}")], [], width)
    return _with_config(lines, ["clay:", f"  shrinkage_percent: {round(total, digits + 1):g}"], width)


def shrunk_json(found: Shrunk) -> str:
    """The same as JSON."""
    return _json(
        bars=[
            {"wet_mm": wet_mm, "dry_mm": dry_mm, "fired_mm": fired_mm, "shrinkage_percent": each}
            for (wet_mm, dry_mm, fired_mm), each in zip(found.bars_mm, found.each_percent, strict=True)
        ],
        shrinkage_percent=found.total_percent,
        reach_percent=_known_reach(found.each_percent, found.step_percent),
        drying_percent=found.drying_percent,
        firing_of_dry_percent=found.firing_percent,
        firing_of_wet_percent=found.firing_of_wet_percent,
        volume_percent=found.volume_percent,
        print_for_100_mm=wet_size_mm(100, found.total_percent),
    )


def strip_report(
    name: str,
    amounts_e: Sequence[float],
    load_ml: float,
    load_g: float,
    *,
    as_json: bool,
    width: int | None = None,
) -> str:
    """What a trial's file does, what to load for it, and how to go on."""
    if as_json:
        return _json(output=storable(name), e=list(amounts_e), load_ml=load_ml, load_g=load_g)
    said = ", ".join(f"{amount:g}" for amount in amounts_e)
    lines = indented(
        f"{shown(name)} pushes {said} units of E into a cup at the park, and waits before and after each"
    )
    lines += indented(
        f"Have {load_ml:.0f} ml ({at_least(load_g)} g) or more in the cartridge, its reserve counted in: so "
        "much by what the config says of E and density, which is what you are about to learn. If the last "
        "strand spits or ends early it held too little: leave that cup out"
    )
    example = " ".join(f"--weighing {amount:g}=GRAMS" for amount in amounts_e)
    lines += indented(f"Weigh each, and then: gpost calibrate -c CONFIG {example}")
    return laid_out(lines, width)


def _reach(percent: Sequence[float], step_percent: float) -> float:
    """How far their mean may be off (95 %); of one alone what its last digit leaves open."""
    return spread_of(percent, step_percent).reach if len(percent) > 1 else NORMAL_REACH * step_percent


def _known_reach(percent: Sequence[float], step_percent: float) -> float | None:
    """The same in percent of mass or length; None of one trial alone."""
    return _reach(percent, step_percent) if len(percent) > 1 else None


def _decimals(percent: Sequence[float], step_percent: float) -> int:
    """Those with which a mean is told: down to the first digit in which it may be off, but one or two."""
    reach = max(_reach(percent, step_percent), 0.01)
    return min(max(-math.floor(math.log10(reach)), 1), 2)


def _how_sure(percent: Sequence[float], step_percent: float, digits: int) -> str:
    """Behind a mean, how far it may be off; nothing of one trial alone, which doesn't say it."""
    if len(percent) < 2:
        return ""
    return f" (+-{max(_reach(percent, step_percent), 10**-digits):.{digits}f}, 95 %)"


def _from_each(percent: Sequence[float], word: str, digits: int) -> str:
    """Of how many trials, and between what they lie: `from 3 bars (13.1 to 13.6)`."""
    spread = f" ({min(percent):.{digits}f} to {max(percent):.{digits}f})" if len(percent) > 1 else ""
    return f"from {times(len(percent), word)}{spread}"
