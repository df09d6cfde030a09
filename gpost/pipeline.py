"""The one place that knows the order: survey, plan, rewrite, summary."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from gpost import __version__
from gpost.config.model import Config
from gpost.errors import ConfigError, GpostError, PlanError, SourceError, StepError
from gpost.plain import shown
from gpost.plan.order import order_steps
from gpost.plan.plan import Plan
from gpost.plan.wishes import check_wish
from gpost.preflight.checks import Preflight
from gpost.preflight.model import Finding
from gpost.read.source import Source
from gpost.report.summary import Summary, summarise
from gpost.step import Step, refuse_unfit
from gpost.survey.build import survey_source
from gpost.survey.model import Survey
from gpost.write.rewriter import Rewriter
from gpost.write.script import plain
from gpost.write.sink import AtomicFile, check_target

Progress = Callable[[int, int], None]
MOST_WISHES = 1_000_000
"""What one step may want of one file; it ends a step that never does."""


def survey_file(source: Path, config: Config, *, progress: Progress | None = None) -> Survey:
    """Survey a file. Raises SourceError, with the line, for a file that can't be read or followed."""
    return survey_source(Source(source), config, progress)


def check_file(
    source: Path, config: Config, steps: Sequence[Step[Any]], *, progress: Progress | None = None
) -> tuple[Finding, ...]:
    """What is wrong with a file under this config and these steps, errors first; nothing is written.

    What the survey finds odd is a finding too (`run_file` has it among the summary's warnings), and so are
    steps that can't be carried out. Raises SourceError for a file that can't be read.
    """
    preflight = Preflight(config)
    survey = survey_source(Source(source), config, progress, (preflight.observe,))
    odd = tuple(Finding("odd", "warning", None, text) for text in survey.warnings)
    try:
        return (*preflight.findings(make_plan(survey, steps, config)), *odd)
    except PlanError as error:
        failed = Finding("plan", "error", None, str(error))
        return (failed, *preflight.findings(Plan(survey, config), complete=False), *odd)


def make_plan(survey: Survey, steps: Sequence[Step[Any]], config: Config) -> Plan:
    """Ask every step, in order, what it wants.

    Raises PlanError if the piece can't be done, StepError if a step itself fails; both name the step.
    """
    plan = Plan(survey, config)
    if steps and survey.pieces > 1:
        raise PlanError(
            f"{shown(survey.name)} prints {survey.pieces} pieces one after the other; heights and layers "
            "would be mixed up. Slice each piece to its own file"
        )
    for step in order_steps(steps):
        plan = _asked(step, survey, plan)
    return plan


def _asked(step: Step[Any], survey: Survey, plan: Plan) -> Plan:
    """The plan with one more step's wishes."""
    try:
        refuse_unfit(step, plan.config)
        wishes = _list_of(step.plan(survey, plan))
        for wish in wishes:
            check_wish(wish, survey, has_e=plan.config.clay.metering.unit != "path")
        return plan.adding(step.name, wishes)
    except (ConfigError, SourceError):  # the file's fault, not the step's
        raise
    except GpostError as error:
        said = str(error)
        raise PlanError(said if said.startswith(f"{step.name}: ") else f"{step.name}: {said}") from error
    except (Exception, SystemExit) as error:  # a step is anybody's code
        raise StepError(_fault(step.name, error)) from error


def _list_of(answer: object) -> list[Any]:
    """What a step gave back, as a list. Raises ValueError for what can't be one."""
    if isinstance(answer, Iterable) and not isinstance(answer, str | bytes):
        wishes = list(itertools.islice(answer, MOST_WISHES + 1))
        if len(wishes) > MOST_WISHES:
            raise ValueError(f"wants more than {MOST_WISHES:,} things")
        return wishes
    given = "nothing" if answer is None else f"a thing of the kind {type(answer).__name__}"
    raise ValueError(f"gives {given} instead of a list of what it wants")


def _fault(name: str, error: BaseException) -> str:
    """A sentence for a step that failed; what a check said goes on from its name."""
    if isinstance(error, ValueError) and str(error).startswith(("gives ", "wants ", "moves ", "notes ")):
        said = f"step {name} {error}"
    else:
        said = f"step {name} failed: {type(error).__name__}" + (f": {error}" if str(error) else "")
    return f"{shown(said)}. This is a fault of the step, not of your file"


def run_file(
    source: Path,
    output: Path,
    config: Config,
    steps: Sequence[Step[Any]],
    *,
    progress: Progress | None = None,
    overwrite: bool = False,
    in_place: bool = False,
    preflight: Preflight | None = None,
    helper: bool = True,
) -> Summary:
    """Survey, plan, rewrite; the output appears under its name only when it is complete.

    `progress(done_bytes, all_bytes)` is called through both passes together. `preflight` stops on its
    errors, and adds its warnings to the summary's. `helper`: a thread reads ahead, on a second core.
    Raises GpostError; then nothing was written.
    """
    check_target(output, overwrite=overwrite or in_place, source=source, in_place=in_place)
    opened = Source(source)
    first, second = _halves(progress)
    survey = survey_source(
        opened, config, first, () if preflight is None else (preflight.observe,), helper=helper
    )
    plan = make_plan(survey, steps, config)
    found = () if preflight is None else preflight.clear_for_run(plan)
    header = f"({__version__}) from {plain(source.name, 80)}"
    with AtomicFile(output, overwrite=overwrite or in_place) as file:
        written = Rewriter(opened, plan, header, helper=helper).write(file, second)
        # inside, so that nothing appears if anything is wrong with the summary
        summary = summarise(plan, written, source=source.name, output=output.name)
        warnings = (*summary.warnings, *(finding.sentence for finding in found))
        return summary.model_copy(update={"warnings": warnings})


def _halves(progress: Progress | None) -> tuple[Progress | None, Progress | None]:
    if progress is None:
        return None, None
    return (lambda done, size: progress(done, 2 * size)), (lambda done, size: progress(size + done, 2 * size))
