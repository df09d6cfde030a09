"""All that a step of your own may import; what is not here may change without a word.

`__all__` below lists it in groups. What the survey and the plan themselves answer (heights, clay, clock,
where a layer starts) are their own methods: see `Survey` and `Plan`.
"""

from pydantic import Field

from gpost.clay.mixing import BEGINS, FULL, HALF
from gpost.clay.walls import (
    EULER_OVER,
    SLENDER,
    Stiffness,
    Wall,
    flat_wall_mm,
    margins,
    safe_rise_mm_min,
    shell_knock_down,
    shell_limit_pa,
    tube_mm,
    waits_s,
    wall_of,
    yield_needed_pa,
)
from gpost.clay.water import Masses, Size, fired_size, masses
from gpost.config.model import Config
from gpost.config.settings import (
    ClayName,
    Count,
    FullPercent,
    MachineCommand,
    NotNegative,
    Percent,
    PlainText,
    Positive,
    Settings,
    Share,
    WholeNumber,
)
from gpost.errors import GpostError, OddLayersError, PlanError
from gpost.plan.around import RingSettings, first_bead, foot_path, lay_round
from gpost.plan.beside import BeadSettings, Box, foot_middle, half_wall_mm, lay_beside, piece_box
from gpost.plan.feeds import LEAST_FACTOR, down_to_thousandths, feed_scales, real_factors, slow_factor
from gpost.plan.intentions import (
    Air,
    AirInPause,
    Ask,
    Ban,
    Bearing,
    Command,
    DryChance,
    Expected,
    Ground,
    Intention,
    LayClay,
    LeastLayerTime,
    MovePause,
    Note,
    Pause,
    Say,
    ScaleFeed,
    ScaleFlow,
    Shift,
    Silence,
    SilencePush,
    Stroke,
    Wait,
)
from gpost.plan.intime import delay_ml, early_spot, in_time, moved, start_ml, wanted, with_pause
from gpost.plan.layers import (
    SAME_ML,
    FoundLayer,
    above_top_note,
    above_top_words,
    clay_from_layer,
    clay_past,
    clay_to_layer,
    find_layer,
    first_layer_from,
    layer_end,
    nearest_layer,
    need_layers,
    need_one_piece,
    spot_in_layer,
    spot_words,
    spread_notes,
)
from gpost.plan.lean import Lean, wall_lean
from gpost.plan.ownplaces import OwnPlace, lines_between, own_places, places_text
from gpost.plan.plan import Entry, Plan
from gpost.spot import Spot
from gpost.steps.hookspecs import hookimpl
from gpost.steps.step import VERSION, Step
from gpost.supply.cartridges import (
    CartridgeUse,
    cartridges,
    change_spots,
    clay_at,
    colours,
    front_spot,
    lag_ml,
    owed_ml,
    running_out,
)
from gpost.supply.fronts import asked_text, change_text, expected_text, span_text
from gpost.supply.loads import on_from
from gpost.supply.names import alike, doubt
from gpost.supply.reach import Reach, reach
from gpost.supply.stretches import Stretch, even_places, full_places
from gpost.supply.sure import DryRisk, counted_on_ml, dry_risks, front_span, ml_text, print_chance, reach_ml
from gpost.supply.weights import weigh
from gpost.supply.working import Waits, ages_s, first_stale, loads, longest_wait_s, told_min
from gpost.survey.model import Survey

# by what a step asks, not by the alphabet
__all__ = [  # noqa: RUF022
    # a step: what it is, and how it is found
    "Step",
    "VERSION",
    "hookimpl",
    # what it is given: the config, the file as it was read, what is planned so far, a place in the file
    "Config",
    "Survey",
    "Plan",
    "Entry",
    "Spot",
    # its settings: their base, words for a key, and kinds of numbers and texts
    "Settings",
    "Field",
    "Positive",
    "NotNegative",
    "Count",
    "WholeNumber",
    "Percent",
    "FullPercent",
    "Share",
    "PlainText",
    "ClayName",
    "MachineCommand",
    # what it may want: clay, waiting, the machine, the moves of the file, words
    "Intention",
    "LayClay",
    "Stroke",
    "Pause",
    "MovePause",
    "Wait",
    "Ask",
    "LeastLayerTime",
    "DryChance",
    "Expected",
    "Say",
    "Air",
    "AirInPause",
    "Command",
    "Ban",
    "ScaleFeed",
    "ScaleFlow",
    "Shift",
    "Ground",
    "Silence",
    "SilencePush",
    "Note",
    "Bearing",
    # what it raises when the piece can't be done
    "GpostError",
    "PlanError",
    "OddLayersError",
    # reading a layer: one by number or height, its end, a spot inside it, how its wall leans, its words
    "need_layers",
    "need_one_piece",
    "FoundLayer",
    "find_layer",
    "layer_end",
    "spot_in_layer",
    "Lean",
    "wall_lean",
    "spot_words",
    "above_top_words",
    "above_top_note",
    "spread_notes",
    # layers by clay: how much has run where one starts, and which one starts with so much
    "SAME_ML",
    "clay_to_layer",
    "clay_from_layer",
    "clay_past",
    "first_layer_from",
    "nearest_layer",
    # layers that are to take longer: their feed
    "LEAST_FACTOR",
    "slow_factor",
    "down_to_thousandths",
    "feed_scales",
    "real_factors",
    # beside the piece: beads on the bed, and the ground that the piece itself takes
    "BeadSettings",
    "lay_beside",
    "Box",
    "piece_box",
    "foot_middle",
    "half_wall_mm",
    # places of the file's own that are no part of the piece: where it pushes clay out, or waits
    "OwnPlace",
    "own_places",
    "lines_between",
    "places_text",
    # round its foot: beads like those of its first layer, and where and how that is laid
    "RingSettings",
    "lay_round",
    "foot_path",
    "first_bead",
    # clay that is to show at a place (Pause: in_time): where its pause must stand, and trials of it
    "wanted",
    "delay_ml",
    "start_ml",
    "early_spot",
    "in_time",
    "moved",
    "with_pause",
    # which clay is where: what each cartridge gives and where it runs out, where a change begins and is full
    "CartridgeUse",
    "cartridges",
    "running_out",
    "reach_ml",
    "counted_on_ml",
    "DryRisk",
    "dry_risks",
    "print_chance",
    "ml_text",
    "front_span",
    "on_from",
    "owed_ml",
    "Stretch",
    "full_places",
    "even_places",
    "clay_at",
    "front_spot",
    "lag_ml",
    "change_spots",
    "BEGINS",
    "HALF",
    "FULL",
    "asked_text",
    "change_text",
    "span_text",
    "expected_text",
    "colours",
    "Reach",
    "reach",
    "alike",
    "doubt",
    # how old clay is, and how long a pause may last
    "ages_s",
    "first_stale",
    "loads",
    "longest_wait_s",
    "told_min",
    "Waits",
    # what a wall of fresh clay bears
    "Stiffness",
    "Wall",
    "wall_of",
    "margins",
    "waits_s",
    "safe_rise_mm_min",
    "yield_needed_pa",
    "flat_wall_mm",
    "tube_mm",
    "shell_limit_pa",
    "shell_knock_down",
    "SLENDER",
    "EULER_OVER",
    # what the piece weighs, and how large it is when it is fired
    "Masses",
    "masses",
    "weigh",
    "Size",
    "fired_size",
]
