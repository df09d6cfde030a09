"""What weighings gave, in words and as JSON, with the lines for the config."""

from __future__ import annotations

from collections.abc import Iterator

from gpost.common.digits import few
from gpost.common.layout import Paragraph
from gpost.report.wording import indented, times
from gpost.workbook.sure import by_luck
from gpost.workbook.trial.lines import json_text, with_config
from gpost.workbook.trial.measures import Measures
from gpost.workbook.trial.morning import Morning
from gpost.workbook.trial.weighings import LEAST_LOSS_ML, Calibration

MOST_OFF_PERCENT = 50.0
"""What the machine's flow may fix; beyond it the config means something else."""


def weighings_text(found: Calibration, width: int | None = None) -> str:
    """Metering and start loss from weighings."""
    lines = indented(f"{found.ml:.4g} ml per unit of E, from {times(len(found.weighings), 'weighing')}")
    if found.interval_ml is not None and found.reach_percent is not None:
        low, high = found.interval_ml
        lines += indented(
            f"95 % interval {max(low, 0):.4g} to {high:.4g} (+-{few(found.reach_percent, 2)} %), density "
            "taken as exact. Another day or another batch of clay may be further off: see in the morning "
            "(--morning); in time gpost log fit finds how far"
        )
        if found.lucky and not found.no_line:
            lines += indented(by_luck("string, scale and clay"))
    for said in (*_start(found), *_warnings(found)):
        lines += indented(said)
    if found.no_line:
        lines += indented(f"No lines for the config: {found.no_line}. {_what_to_do(found)}")
        return with_config([*lines, *_against_config(found)], [], width)
    lines += _against_config(found)
    return with_config(lines, config_lines(found), width)


def weighings_json(found: Calibration) -> str:
    """The same as JSON."""
    low, high = found.interval_ml or (None, None)
    loss = found.loss_ml
    return json_text(
        weighings=[{"e": one.e, "grams": one.grams} for one in found.weighings],
        density_g_ml=found.density_g_ml,
        ml_per_unit=found.ml,
        low_ml_per_unit=low,
        high_ml_per_unit=high,
        config_ml_per_unit=found.config_ml,
        off_percent=found.off_percent,
        flow_percent=found.flow_percent,
        outliers=[index + 1 for index in found.fit.outliers],
        ml_per_unit_without=found.ml_without,
        offset_g=found.fit.offset,
        spread_percent=found.spread_percent,
        start_loss_ml=None if loss is None else loss.value,
        start_loss_reach_ml=None if loss is None else loss.reach,
        no_line=found.no_line or None,
        no_start_loss_line=found.no_loss_line or None,
        config_lines=config_lines(found),
    )


def config_lines(found: Calibration) -> list[str]:
    """The lines that these weighings bear out; none where they don't."""
    if found.no_line or found.spread_percent is None:
        return []
    lines = ["clay:", _metering(found.ml, found.spread_percent)]
    if not found.no_loss_line and found.loss_ml is not None:
        lines += ["cartridge:", f"  start_loss_ml: {found.loss_ml.value:.2g}"]
    return lines


def morning_text(found: Morning, width: int | None = None) -> str:
    """What one weighing says of today's clay."""
    percent, reach = found.off_percent, found.reach_percent
    lines = indented(
        f"{sum(one.grams for one in found.weighings):.4g} g came and {sum(found.due_g):.4g} g were due by "
        "the config: "
        f"{abs(percent):.1f} % {'more' if percent >= 0 else 'less'}"
    )
    lines += indented(
        f"{times(len(found.weighings), 'weighing')} can say that to +-{few(reach, 2)} % (95 %), if string, "
        "scale and clay err as usual (common practice, no source)"
    )
    if found.no_line:
        return with_config([*lines, *indented(f"Change nothing yet: {found.no_line}")], [], width)
    lines += indented(
        f"For today: either set the machine's flow to {found.flow_percent:.0f} % and leave the config as it "
        "is. Or leave the flow and put these lines into the config of today's pieces. Not both:"
    )
    return with_config(lines, morning_lines(found), width)


def morning_json(found: Morning) -> str:
    """The same as JSON."""
    return json_text(
        weighings=[{"e": one.e, "grams": one.grams} for one in found.weighings],
        due_g=list(found.due_g),
        off_percent=found.off_percent,
        reach_percent=found.reach_percent,
        flow_percent=found.flow_percent,
        no_line=found.no_line or None,
        config_lines=morning_lines(found),
    )


def morning_lines(found: Morning) -> list[str]:
    """The lines for today's pieces; none where the weighing doesn't bear them out."""
    return [] if found.no_line else ["clay:", _metering(found.ml, found.spread_percent)]


def measures_text(found: Measures, width: int | None = None) -> str:
    """Wet density from fillings of a measure."""
    lines = indented(
        f"Wet clay weighs {found.density_g_ml:.4g} g per ml, from {times(len(found.fillings), 'filling')}"
    )
    if found.reach_percent is not None:
        lines += indented(
            f"the average is sure to +-{few(found.reach_percent, 2)} % (95 %), the measure's own ml taken as "
            "exact. Another batch may be further off"
        )
    if found.no_line:
        lines += indented(f"No line for the config: {found.no_line}")
    return with_config(lines, measures_lines(found), width)


def measures_json(found: Measures) -> str:
    """The same as JSON."""
    return json_text(
        fillings=[{"ml": ml, "grams": grams} for ml, grams in found.fillings],
        wet_density_g_ml=found.density_g_ml,
        reach_percent=found.reach_percent,
        wet_density_spread_percent=found.spread_percent,
        no_line=found.no_line or None,
        config_lines=measures_lines(found),
    )


def measures_lines(found: Measures) -> list[str]:
    """The lines that the fillings bear out; none where they don't."""
    if found.no_line or found.spread_percent is None:
        return []
    density = f"  wet_density_g_ml: {found.density_g_ml:.4g}"
    return ["clay:", density, f"  wet_density_spread_percent: {found.spread_percent:.2g}"]


def _metering(ml: float, spread_percent: float) -> str:
    return f"  metering: {{unit: ml, ml_per_unit: {ml:.4g}, spread_percent: {spread_percent:.2g}}}"


def _start(found: Calibration) -> Iterator[str]:
    """What a start loses, or why that isn't known."""
    loss = found.loss_ml
    if loss is None:
        most = max(one.e for one in found.weighings)
        yield (
            "What each start loses to pressure is still in this, since one E alone was weighed: a wall that "
            f"goes on without a stop gets more. To part them weigh four amounts, such as E {most:g}, "
            f"{2 * most:g}, {3 * most:g} and {4 * most:g}"
        )
    elif loss.reach is None:
        yield "what each start loses to pressure is reckoned out of it, but nothing says how sure that is"
    elif found.fit.offset is None:
        yield (
            "what each start loses to pressure can't be told from nothing: it is less than "
            f"{max(loss.value + loss.safe_reach, 0):.2g} ml (95 %); the ml per unit is reckoned with "
            + (f"{loss.value:.2g} ml" if loss.value >= LEAST_LOSS_ML else "none")
        )
        yield from _no_loss_line(found)
    elif loss.value > 0:
        yield (
            f"each start loses {loss.value:.2g} ml to pressure ({loss.value - loss.safe_reach:.2f} to "
            f"{loss.value + loss.safe_reach:.2f}, 95 %); it is not in the ml per unit"
        )
        yield from _no_loss_line(found)


def _no_loss_line(found: Calibration) -> Iterator[str]:
    """Why there is none for what each start loses, though the line for the metering goes with it."""
    assert found.loss_ml is not None
    if found.no_loss_line and not found.no_line and found.loss_ml.value >= LEAST_LOSS_ML:
        yield f"no line for what a start loses: {found.no_loss_line}. Weigh more amounts, small and large"


def _warnings(found: Calibration) -> Iterator[str]:
    for index in found.fit.outliers:
        one = found.weighings[index]
        yield (
            f"Warning: weighing {index + 1} (E {one.e:g}, {one.grams:g} g) does not agree with the others "
            f"(studentised residual): without it {found.ml_without:.4g} ml per unit"
        )
    offset = found.fit.offset
    if offset is not None and offset > 0:
        yield (
            f"Warning: the grams don't start at nought: {offset:+.2f} g are in every weighing. Was the cup "
            "tared, each string cut at the same place, and did the nozzle drip in between?"
        )


def _what_to_do(found: Calibration) -> str:
    if found.fit.outliers:
        return "Weigh that amount again, and leave the wrong one out"
    if found.fit.offset is not None and found.fit.offset > 0:
        return "Tare the cup, and weigh all again"
    return "Weigh at least four amounts, the largest four times the smallest"


def _against_config(found: Calibration) -> list[Paragraph]:
    if found.off_percent is None or found.config_ml is None:
        return indented("the present config meters by path: there is nothing to compare with")
    said = (
        f"the present config says {found.config_ml:.4g} ml: {abs(found.off_percent):.1f} % "
        f"{'more' if found.off_percent >= 0 else 'less'} comes than it says"
    )
    if found.no_line:
        return indented(f"{said}, as far as can be told")
    if abs(found.off_percent) > MOST_OFF_PERCENT:
        return indented(
            f"{said}. That is no matter of flow: the config means another machine or another unit of E. Take "
            "these lines, and weigh once more with them:"
        )
    if found.reach_percent is not None and abs(found.off_percent) <= found.reach_percent:
        return indented(f"{said}. That is within the interval: leave the flow as it is, and take these lines")
    return indented(
        f"{said}. Either set the machine's flow to {found.flow_percent:.1f} % and leave the metering as it "
        "is: it then lays what the sliced file means. Or leave the flow and take the line for it: gpost then "
        "counts what really comes. Not both"
        + (":" if found.no_loss_line else "; what a start loses goes with either:")
    )
