"""What changes of colour say of the hose, in words and as JSON, with the lines for the config."""

from __future__ import annotations

from gpost.report.wording import indented, times
from gpost.workbook.trial.colour import SAY_WHEN, Changes
from gpost.workbook.trial.lines import json_text, with_config

_SHOWN_ML = 0.05
"""Less than this is 0.0 ml when it is printed."""
_AT_END = 1e-3
"""So near to one stage, the fewest there can be, the fit has come to its end."""


def colour_text(found: Changes, width: int | None = None) -> str:
    """Hold-up and stages from changes of colour."""
    fit, line = found.fit, found.fit.line
    assert line.stages is not None
    many = len(found.trials) > 1
    reach = "" if found.reach_ml is None else f" (+-{found.reach_ml:.2g} ml, 95 %)"
    lines = indented(
        f"The hose holds {line.holdup_ml:.1f} ml{reach} and mixes like {line.stages:.1f} stages, from "
        f"{times(len(found.trials), 'change')} of colour"
    )
    lines += indented(f"no change can be sharper than {line.width_ml:.0f} ml from just showing to full")
    if many or fit.off_ml >= _SHOWN_ML:
        miss = "trials miss" if many else "trial misses"
        lines += indented(f"the {miss} that by {fit.off_ml:.1f} ml (root mean square)")
    if found.measured is not None:
        lines += indented(found.measured.words(found.config.clay))
    if fit.off_ml >= _SHOWN_ML and line.plug_part and line.stages <= 1 + _AT_END:
        lines += indented(
            f"Warning: with {line.plug_part:g} of the hose as a plug (plug_part) no change can be as long as "
            "that; take a smaller plug_part and reckon again"
        )
    if found.doubtful:
        lines += indented(
            "Warning: the hose comes out smaller than the config has it "
            f"({found.config.cartridge.line_ml:.1f} ml), or the changes don't fit together. The likeliest "
            "cause is that the piece was dry or fired when it was measured, and had shrunk: then say "
            f"{SAY_WHEN}; if it was wet say --measured wet"
        )
    if found.no_line:
        lines += indented(f"No lines for the config: {found.no_line}")
    return with_config(lines, config_lines(found), width)


def config_lines(found: Changes) -> list[str]:
    """The lines that these changes bear out; none where they don't."""
    line, spread_ml = found.fit.line, found.fit.spread_ml
    if found.no_line or spread_ml is None:
        return []
    lines = ["cartridge:", f"  line_ml: {line.holdup_ml:.1f}", f"  line_spread_ml: {spread_ml:.2g}"]
    lines.append(f"  mixing_stages: {line.stages:.1f}")
    return [*lines, *([f"  plug_part: {line.plug_part:g}"] if line.plug_part else [])]


def colour_json(found: Changes) -> str:
    """The same as JSON."""
    fit = found.fit
    return json_text(
        trials=[{"began_ml": began, "ended_ml": ended} for began, ended in found.trials],
        line_ml=fit.line.holdup_ml,
        line_reach_ml=found.reach_ml,
        line_spread_ml=fit.spread_ml,
        mixing_stages=fit.line.stages,
        plug_part=fit.line.plug_part,
        width_ml=fit.line.width_ml,
        off_ml=fit.off_ml,
        measured=None if found.measured is None else found.measured.when or "wet",
        measured_assumed=found.measured is not None and found.measured.when is None,
        no_line=found.no_line or None,
        config_lines=config_lines(found),
    )
