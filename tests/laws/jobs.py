"""Hypothesis strategy for whole jobs: a sliced file, a config, steps that may fail, and what is allowed."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any, NamedTuple

from hypothesis import strategies as st

from gpost.preflight.model import ALLOWABLE
from tests.reference.pieces import piece_programs
from tests.reference.programs import drafts
from tests.reference.state import Dialect

OWN_STEP = '''
"""A step that says, asks for or does wrong whatever it is told to."""

import numpy as np

from gpost.api import Command, Note, Pause, PlanError, Say, Settings, Silence, Spot, Step, hookimpl


class WhimSettings(Settings):
    """What it does, and where: a share of the file's lines."""

    does: str = "note"
    share: float = 0.5


class Whim(Step[WhimSettings]):
    """Has its whims."""

    name = "whim"
    Settings = WhimSettings

    def plan(self, survey, plan):
        does, line = self.settings.does, int(survey.lines * self.settings.share)
        if does == "crash":
            raise ZeroDivisionError("one over nothing")
        if does == "refuse":
            raise PlanError("the piece is too good for that")
        if does == "silence waits":
            yield Silence(np.array([own.line for own in survey.own_pauses], np.int64), "no waiting")
        elif does == "silence":
            yield Silence(np.array([min(line, survey.lines - 1)]), "not that line")
        else:
            yield {
                "note": Note("all is well"),
                "warn": Note("all is not well", warning=True),
                "pause": Pause(Spot(line), "look", "to look", "Look", prime_ml=1.0),
                "say": Say(Spot(line), "look"),
                "home": Command(Spot(line), ("G28",)),
                "beyond": Say(Spot(survey.lines + 1), "look"),
            }[does]


@hookimpl
def gpost_steps():
    return [Whim]
'''
WAITS = (
    b"M0",
    b"m1",
    b"M0 Press to go on",
    b"M25",
    b"M226 P5 S1",
    b"M600",
    b"BREATHE 5",
    b"G4 P100",
    b"M117 M0",
)
NUMBERED = re.compile(rb"^\s*/?\s*[Nn]", re.MULTILINE)
"""A program whose lines may carry numbers: gpost numbers its output anew."""


class JobDraft(NamedTuple):
    """One job; the config has no more in it than a file of it could."""

    program: bytes
    config: dict[str, Any]
    allow: tuple[str, ...]

    def put(self, folder: Path, name: str = "piece") -> tuple[Path, Path, Path]:
        """The sliced file, the config and the folder of the step `whim`, made in a folder."""
        source, config, steps = folder / f"{name}.gcode", folder / f"{name}-studio.yaml", folder / "steps"
        source.write_bytes(self.program)
        config.write_text(json.dumps(self.config))  # JSON is YAML
        steps.mkdir(exist_ok=True)
        (steps / "whim.py").write_text(OWN_STEP)
        return source, config, steps


@st.composite
def jobs(draw: st.DrawFn) -> JobDraft:
    """Pots and random walks, on machines with room and without, with up to four steps."""
    if draw(st.integers(0, 4)):
        piece = draw(piece_programs())
        program, dialect = piece.program, piece.dialect
    else:
        walk = draw(drafts())
        program, dialect = walk.program, walk.dialect
    program = _waiting(
        program, draw(st.lists(st.tuples(st.sampled_from(WAITS), st.floats(0, 1)), max_size=3))
    )
    allow = draw(st.one_of(st.just(()), st.just(ALLOWABLE), st.lists(st.sampled_from(ALLOWABLE)).map(tuple)))
    return JobDraft(program, draw(configs(dialect)), allow)


@st.composite
def configs(draw: st.DrawFn, dialect: Dialect) -> dict[str, Any]:
    """A config for a dialect: most machines have room, most cartridges are large enough."""
    far = {"x_min_mm": -200, "x_max_mm": 500, "y_min_mm": -200, "y_max_mm": 500}
    near = {"x_min_mm": 0, "x_max_mm": 200, "y_min_mm": 0, "y_max_mm": 280}
    parks = st.sampled_from([(-150, -150), (-150, -150), (140, 140), (900, 0)])
    ok = [["M0"], ["M400", "BREATHE 1"], ["M0", "M300 S440"], ["M226 P5 S1"]]
    machine: dict[str, Any] = {
        "bed": draw(st.sampled_from([far, far, near])),
        "ceiling_mm": draw(st.sampled_from([900, 900, 900, 25])),
        "park": dict(zip(("x_mm", "y_mm"), draw(parks), strict=True)),
        "home": dict(zip(("x_mm", "y_mm", "z_mm"), dialect.home_mm, strict=True)),
        "dwell_p": dialect.dwell_p,
        "axis_mode_sets_e": dialect.axis_mode_sets_e,
        "arc_tolerance_mm": dialect.arc_tolerance_mm,
        "pause": {"commands": draw(st.sampled_from([*ok, *ok, ["G28"]]))},
        "allow_commands": ["M400", "BREATHE", "G28"],
        **draw(st.sampled_from([{}, {}, {}, {"max_feed_mm_min": 1200, "max_flow_ml_min": 20}])),
    }
    clay = draw(st.sampled_from([{}, {}, {}, {}, {"least_layer_s": 30}, {"metering": {"unit": "path"}}]))
    cartridge = draw(
        st.sampled_from(
            [
                {"line_ml": 5},
                {},
                {"volume_ml": 5000, "line_ml": 1},
                {"volume_ml": 16, "reserve_ml": 1, "line_ml": 2},
            ]
        )
    )
    found = {
        "machine": machine,
        "clay": clay,
        "cartridge": cartridge,
        "steps": draw(st.lists(steps(), max_size=4)),
    }
    return {key: part for key, part in found.items() if part}


def steps() -> st.SearchStrategy[Any]:
    """One step with settings that often suit a pot of a few layers, and often don't."""
    heights, layers = st.sampled_from([1, 3, 6, 9, 12, 200]), st.sampled_from([1, 2, 4, 99])
    whims = (
        "note",
        "warn",
        "pause",
        "pause",
        "say",
        "silence waits",
        "silence",
        "home",
        "beyond",
        "refuse",
        "crash",
    )
    bands = st.lists(layers.map(lambda n: {"from_layer": n, "level_percent": 30}), min_size=1, max_size=2)
    return st.one_of(
        st.just("cold"),
        st.just("tally"),
        st.just("refill"),
        st.fixed_dictionaries({"volume_ml": st.sampled_from([1, 20])}).map(lambda s: {"purge": s}),
        st.fixed_dictionaries(
            {
                "at_height_mm": heights,
                "colour": st.sampled_from(["blue", "white", "whit"]),
                "clear": st.sampled_from(["early", "purge"]),
                "if_shorter": st.sampled_from(["skip", "refuse"]),
            }
        ).map(lambda s: {"swap": s}),
        st.fixed_dictionaries({"bands": bands}).map(lambda s: {"fan": s}),
        st.fixed_dictionaries({"from_height_mm": heights, "least_layer_s": st.just(5)}).map(
            lambda s: {"taper": s}
        ),
        st.fixed_dictionaries({"layers": layers}).map(lambda s: {"base": s}),
        st.fixed_dictionaries({"at_heights_mm": st.lists(heights, min_size=1, max_size=2)}).map(
            lambda s: {"remind": {**s, "clear_mm": 0}}
        ),
        st.fixed_dictionaries({"x_mm": st.sampled_from([140, 600]), "y_mm": st.just(140)}).map(
            lambda s: {"place": s}
        ),
        st.fixed_dictionaries({"yield_stress_pa": st.sampled_from([5, 5000])}).map(lambda s: {"stand": s}),
        st.fixed_dictionaries({"does": st.sampled_from(whims), "share": st.floats(0, 1)}).map(
            lambda s: {"whim": s}
        ),
    )


def _waiting(program: bytes, waits: list[tuple[bytes, float]]) -> bytes:
    """The program with lines at which it waits, or seems to; numbered programs stay as they are."""
    if NUMBERED.search(program):
        return program
    lines = program.splitlines(keepends=True)
    for wait, share in waits:
        at = int(share * len(lines))
        if at and lines[at - 1].endswith(b"\n"):
            lines.insert(at, wait + b"\n")
    return b"".join(lines)
