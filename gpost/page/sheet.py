"""The page of one job, from its summary and its plan."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from gpost.common.plain import shown
from gpost.page.frame import CLOCK, for_script, framed, limits_of, rows, sha256
from gpost.page.layers import coloured, rows_of
from gpost.page.pictures import pictures
from gpost.page.scripted import for_scripts
from gpost.page.solid import Solid, solid
from gpost.plan.intentions import Ground, Pause
from gpost.plan.plan import Plan
from gpost.report.afterwards import taken_off_g
from gpost.report.digits import rounded
from gpost.report.goingon import sent_again
from gpost.report.model import CartridgeRecord, Summary
from gpost.report.parts import SlugRecord
from gpost.report.slugs import ORDER
from gpost.report.text import CARE
from gpost.report.toload import Portion, portions_of, what_to_load
from gpost.report.turnedwords import KNOB_RULE, between, turned, weighed
from gpost.report.visits import Visit, first_to_do, visits
from gpost.report.wording import Stars, begun, clock, piece_name
from gpost.words import say

SCRIPTS = (*CLOCK, "solid.js", "turn.js")
MOST_STROKES = 400
"""So many beads beside the piece are drawn."""


def page_html(summary: Summary, plan: Plan, index: str = "") -> str:
    """The page as one HTML document that asks for nothing else.

    `index`: the page beside it that leads to all pieces; "": there is none. Raises SourceError if the file
    has changed.
    """
    wall, drawn = drawn_in_space(summary, plan)
    return framed(
        "page.html",
        SCRIPTS,
        s=summary,
        index=index,
        care=CARE,
        name=piece_name(summary),
        facts=_facts(summary),
        order="" if summary.loaded_from is None else ORDER[summary.loaded_from],
        file=shown(Path(summary.output).name) or summary.output,
        lists=summary.ticks,
        before=summary.ticks.before if summary.resume is None else summary.resume.checks,
        again=list(sent_again(summary.resume)),
        loads=[(cartridge, what_to_load(cartridge)) for cartridge in summary.cartridges],
        portioned=_portioned,
        weighed=list(weighed(summary.weighings)),
        between=between(summary.weighings),
        turned=list(turned(summary.knobs)),
        knob_rule=KNOB_RULE,
        visits=visits(summary),
        taken_off=taken_off_g(summary),
        pictures=pictures(summary, plan),
        wall=None if wall is None else wall.packed,
        data=_data(summary) | {"solid": drawn},
        stars=list(Stars(summary.sure.defaults).explained()),
    )


def _facts(summary: Summary) -> str:
    """How large it is, how long it takes; of a rehearsal no clay."""
    said = {"height": f"{summary.height_mm:.1f}", "time": clock(summary.time_s)}
    if summary.rehearsal_mm is not None:
        return say("page.facts_dry", count=summary.layers, **said)
    if summary.dry:
        return say("page.facts_way", count=summary.layers, height=said["height"])
    return say("page.facts", count=summary.layers, **said, ml=f"{summary.clay_ml:.0f}")


def _portioned(cartridge: CartridgeRecord) -> list[tuple[SlugRecord, Portion]]:
    return list(zip(cartridge.slugs, portions_of(cartridge), strict=True))


def drawn_in_space(summary: Summary, plan: Plan) -> tuple[Solid | None, dict[str, Any] | None]:
    """The wall for the drawing in space, and what the scripts go by; None without layers.

    Raises SourceError if the file has changed.
    """
    if not summary.layers:
        return None, None
    wall = solid(plan, rows_of(summary))
    return wall, rounded(_solid_data(summary, plan, wall))


def _data(summary: Summary) -> dict[str, Any]:
    """What the clock and the ticks go by."""
    found = {
        "key": f"gpost:{sha256(summary.model_dump_json())}",
        "begins_s": 0.0,
        "total_s": summary.time_s,
        "visits": [_visit(visit) for visit in visits(summary)],
        "first": first_to_do(summary),
    }
    words = for_scripts("script")
    if summary.dry:
        ends = dict.fromkeys(("end", "finished"), say("page.end_dry"))
        words |= {**ends, "is_off": say("page.done"), "off_at": words["past"]}
    return {**rounded(found), "words": words}


def _visit(visit: Visit) -> dict[str, Any]:
    return {
        "clock_s": visit.clock_s,
        "what": for_script(begun(visit.doing)),
        "more": list(map(for_script, rows(visit))),
        "limits": limits_of(visit),
    }


def _solid_data(summary: Summary, plan: Plan, wall: Solid) -> dict[str, Any]:
    machine, table = plan.config.machine, summary.layer_table
    heights, rows = plan.survey.layers["height_mm"], rows_of(summary)
    ground = plan.of(Ground)[:1]
    return {
        **wall.as_data(),
        "bead_mm": [plan.bead_width_mm, _rise_mm(summary)],
        "layer": (rows + 1).tolist(),
        "height_mm": heights[rows].tolist(),
        "clock_s": (plan.layer_clock_s[1:][rows]).tolist() if table is None else table.clock_s,
        "colourings": list(coloured(summary, plan)),
        "bed": [machine.bed.x_min_mm, machine.bed.x_max_mm, machine.bed.y_min_mm, machine.bed.y_max_mm],
        "bed_round": machine.bed.round,
        "slab": [[*g.x_mm, *g.y_mm, g.top_mm, g.round] for g in ground],
        "strokes": _strokes(plan),
        "marks": [
            {"text": say("page.park"), "at": [machine.park.x_mm, machine.park.y_mm, 0.0]},
            *({"text": say("page.slab"), "at": [g.x_mm[1], g.y_mm[0], g.top_mm]} for g in ground),
        ],
        "pauses": [
            {
                "at_mm": pause.height_mm + plan.shift_mm[2],
                "text": say("page.pause_at", height=f"{pause.height_mm:z.0f}"),
            }
            for pause in summary.pauses
            if pause.layer
        ],
    }


def _strokes(plan: Plan) -> list[list[list[float]]]:
    """The beads beside the piece, each as its points."""
    laid = [
        item.intention.lay if isinstance(item.intention, Pause) else item.intention
        for item in plan.insertions
    ]
    strokes = [stroke for lay in laid if lay is not None for stroke in lay.strokes]
    return [[[x, y, stroke.z_mm] for x, y in stroke.points_mm] for stroke in strokes[:MOST_STROKES]]


def _rise_mm(summary: Summary) -> float:
    """What a layer rises by, on the whole."""
    return summary.height_mm / summary.layers if summary.layers else 1.0
