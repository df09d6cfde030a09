"""What trials gave, in words and as JSON, with the lines for the config."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Sequence

from gpost import __version__
from gpost.clay.mixing import LineFit
from gpost.clay.walls import standing_mm
from gpost.plain import shown, storable
from gpost.report.text import WIDTH
from gpost.trial.weighings import Calibration

MOST_OFF_PERCENT = 50.0
"""What the machine's flow may mend; beyond it the config means something else."""


def weighings_text(found: Calibration) -> str:
    """Metering from weighings."""
    fit = found.fit
    lines = _wrapped(f"{found.ml:.6g} ml per unit of E, from {_times(len(found.weighings), 'weighing')}")
    if found.interval_ml is not None:
        low, high = found.interval_ml
        reach = 50 * (high - low) / found.ml
        lines += _wrapped(f"95 % interval {low:.6g} to {high:.6g} (+-{reach:.2g} %), density taken as exact")
    else:
        lines += _wrapped("one weighing says nothing of its own error; weigh at least three")
    for index in fit.outliers:
        one = found.weighings[index]
        lines += _wrapped(
            f"Warning: weighing {index + 1} (E {one.e:g}, {one.grams:g} g) does not agree with the others "
            f"(studentised residual): without it {found.ml_without:.6g} ml per unit. Repeat it before you "
            "take the lines below"
        )
    if fit.offset is not None:
        lines += _wrapped(
            f"Warning: the grams don't start at nought: {fit.offset:+.2f} g are in every weighing. Was the "
            "cup tared, and each string cut at the same place? Weigh again before you take the lines below"
        )
    lines += _against_config(found)
    return _with_config(lines, ["clay:", f"  metering: {{unit: ml, ml_per_unit: {found.ml:.6g}}}"])


def weighings_json(found: Calibration) -> str:
    """The same as JSON."""
    low, high = found.interval_ml or (None, None)
    return _json(
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
    )


def colour_text(fit: LineFit, trials: Sequence[tuple[float, float]]) -> str:
    """Hold-up and stages from changes of colour."""
    line = fit.line
    assert line.stages is not None
    lines = _wrapped(
        f"The line holds {line.holdup_ml:.1f} ml and mixes like {line.stages:.1f} stages, from "
        f"{_times(len(trials), 'change')} of colour"
    )
    lines += _wrapped(f"no change can be sharper than {line.width_ml:.0f} ml from just showing to full")
    if len(trials) > 1:
        lines += _wrapped(f"the trials miss that by {fit.off_ml:.1f} ml (root mean square)")
    config = ["cartridge:", f"  line_ml: {line.holdup_ml:.1f}", f"  mixing_stages: {line.stages:.1f}"]
    return _with_config(lines, [*config, *([f"  plug_part: {line.plug_part:g}"] if line.plug_part else [])])


def colour_json(fit: LineFit, trials: Sequence[tuple[float, float]]) -> str:
    """The same as JSON."""
    return _json(
        trials=[{"began_ml": began, "ended_ml": ended} for began, ended in trials],
        line_ml=fit.line.holdup_ml,
        mixing_stages=fit.line.stages,
        plug_part=fit.line.plug_part,
        width_ml=fit.line.width_ml,
        off_ml=fit.off_ml,
    )


def slump_text(yields_pa: Sequence[float], density_g_ml: float) -> str:
    """Yield stress from cylinders that sank."""
    mean_pa, low_pa = sum(yields_pa) / len(yields_pa), min(yields_pa)
    lines = _wrapped(
        f"Yield stress {mean_pa:.0f} Pa, from {_times(len(yields_pa), 'cylinder')}"
        + (f" ({low_pa:.0f} to {max(yields_pa):.0f})" if len(yields_pa) > 1 else "")
    )
    lines += _wrapped(
        f"a straight wall of this clay bears {standing_mm(low_pa, density_g_ml):.0f} mm of itself while it "
        "is as fresh as in the trial (the softest cylinder counts, no safety). This is an estimate: print a "
        "trial wall before you trust it."
    )
    return _with_config(lines, ["steps:", f"  - stand: {{yield_stress_pa: {low_pa:.0f}}}"])


def slump_json(yields_pa: Sequence[float], density_g_ml: float) -> str:
    """The same as JSON."""
    return _json(
        yields_pa=list(yields_pa),
        yield_pa=sum(yields_pa) / len(yields_pa),
        density_g_ml=density_g_ml,
        standing_mm=standing_mm(min(yields_pa), density_g_ml),
    )


def strip_report(name: str, amounts_e: Sequence[float], *, as_json: bool) -> str:
    """What a trial's file does, and how to go on."""
    if as_json:
        return _json(output=storable(name), e=list(amounts_e))
    said = ", ".join(f"{amount:g}" for amount in amounts_e)
    lines = _wrapped(
        f"{shown(name)} pushes {said} units of E into a cup at the park, and waits before and after each"
    )
    example = " ".join(f"--weighing {amount:g}=GRAMS" for amount in amounts_e)
    lines += _wrapped(f"Weigh each, and then: gpost calibrate -c CONFIG {example}")
    return "\n".join([*lines, ""])


def _against_config(found: Calibration) -> list[str]:
    if found.off_percent is None or found.config_ml is None:
        return _wrapped("the present config meters by path: there is nothing to compare with")
    said = (
        f"the present config says {found.config_ml:.6g} ml: {abs(found.off_percent):.1f} % "
        f"{'more' if found.off_percent >= 0 else 'less'} comes than it says."
    )
    if abs(found.off_percent) > MOST_OFF_PERCENT:
        return _wrapped(
            f"{said} That is no matter of flow: the config means another machine or another unit of E. Take "
            "these lines, and weigh once more with them:"
        )
    return _wrapped(
        f"{said} Either set the machine's flow to {found.flow_percent:.1f} % and leave the config as it is: "
        "it then lays what the sliced file means. Or leave the flow and take these lines: gpost then counts "
        "what really comes. Not both:"
    )


def _with_config(lines: Sequence[str], config: Sequence[str]) -> str:
    return "\n".join([*lines, "", *config, ""])


def _json(**values: object) -> str:
    return json.dumps({"version": 1, "gpost_version": __version__, **values}, indent=1) + "\n"


def _times(number: int, word: str) -> str:
    return f"{number} {word}{'s' * (number != 1)}"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ", break_on_hyphens=False)
