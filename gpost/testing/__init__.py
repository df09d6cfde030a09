"""For authors of steps: what a test of a step takes.

    survey = make_survey(layers=50, ml_per_layer=10)     a plain pot with exact numbers, without a file
    plan = run_step(MyStep, {"at_layer": 3}, survey)     what the step wants of it
    assert plan.pauses[0].spot == layer_start(survey, 3)

    survey = survey_of(["G28", "G1 X10 Y10 Z2 F900", ...])   of lines that you write yourself
    job = run_on_bottle(MyStep, {"at_layer": 3})         the file that comes of it, from the demo's bottle
    assert [block.changed for block in job.blocks] == [()]

`run_on_lines` does the same with lines of your own. A `Job` holds the output, the plan and the summary; its
`blocks` are what was put in, each with the machine's state before it and after it.
"""

from gpost.testing.jobs import Block, Job, bottle_config, run_on_bottle, run_on_lines, states, survey_of
from gpost.testing.pot import TAIL_LINES, layer_start, make_survey, run_step, with_layers

__all__ = [
    "TAIL_LINES",
    "Block",
    "Job",
    "bottle_config",
    "layer_start",
    "make_survey",
    "run_on_bottle",
    "run_on_lines",
    "run_step",
    "states",
    "survey_of",
    "with_layers",
]
