"""The one place that knows the order: survey, plan, rewrite, summary."""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Sequence
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, NamedTuple

from gpost import __version__
from gpost.common.plain import shown, storable
from gpost.config.model import Config
from gpost.errors import PlanError
from gpost.plan.plan import Plan
from gpost.plan.rehearsal import rehearsed, words
from gpost.plan.resume import begun, blocks_at, is_among, with_past
from gpost.preflight.checks import Preflight, in_order, refusal
from gpost.preflight.model import Finding
from gpost.read.source import Source
from gpost.report.notes import command_notes
from gpost.report.origin import StopRecord
from gpost.report.summary import Summary, summarise
from gpost.spot import Spot
from gpost.steps.asking import asked
from gpost.steps.order import order_steps
from gpost.steps.step import Step
from gpost.survey.build import survey_source
from gpost.survey.marks import GOES_ON
from gpost.survey.model import Survey
from gpost.write.inputs import SLICED, reading
from gpost.write.keeping import Original
from gpost.write.output import Written
from gpost.write.packing import packed
from gpost.write.rewriter import Rewriter
from gpost.write.script import plain
from gpost.write.sink import AtomicFile, check_target, nothing_around, to_disk

if TYPE_CHECKING:
    from gpost.supply.stopped import Resumption, Stopped

Progress = Callable[[int, int], None]


def survey_file(source: Path, config: Config, *, progress: Progress | None = None) -> Survey:
    """Survey a file. Raises SourceError, with the line, for a file that can't be read or followed."""
    return survey_source(Source(source, config.reading), config, progress)


def check_file(
    source: Path,
    config: Config,
    steps: Sequence[Step[Any]],
    *,
    allow: Collection[str] = (),
    progress: Progress | None = None,
    rehearse_mm: float | None = None,
) -> tuple[Finding, ...]:
    """What `run_file` would say of a file under this config and these steps, errors first; nothing is kept.

    Raises SourceError for a file that can't be read.
    """
    return _dry(source, config, steps, allow, progress, rehearse_mm).findings


def plan_file(
    source: Path,
    config: Config,
    steps: Sequence[Step[Any]],
    *,
    allow: Collection[str] = (),
    progress: Progress | None = None,
) -> Plan:
    """What the steps want of a file that `run_file` would do; nothing is written.

    Raises PlanError for what `run_file` would refuse, and SourceError.
    """
    return tried(source, config, steps, allow=allow, progress=progress)[0]


def tried(
    source: Path,
    config: Config,
    steps: Sequence[Step[Any]],
    *,
    allow: Collection[str] = (),
    progress: Progress | None = None,
) -> tuple[Plan, Summary]:
    """The plan and the summary of what `run_file` would do; nothing is written. Raises as `plan_file`."""
    answer = _dry(source, config, steps, allow, progress)
    summary = answer.done  # or it is refused
    return answer.plan, summary


def make_plan(
    survey: Survey, steps: Sequence[Step[Any]], config: Config, *, allow: Collection[str] = ()
) -> Plan:
    """Ask every step, in order, what it wants; `allow` as for `run_file`, but nothing is judged.

    Raises PlanError if the piece can't be done, StepError if a step itself fails; both name the step.
    """
    plan, failure = _planned(Plan(survey, config, allowed=frozenset(allow)), steps)
    if failure is not None:
        raise failure
    return plan


def _planned(
    plan: Plan, steps: Sequence[Step[Any]], before: Plan | None = None
) -> tuple[Plan, PlanError | None]:
    """The plan as far as the steps come, and what stops them; `before`: what was printed until then."""
    survey = plan.survey
    try:
        if steps and survey.pieces > 1 and survey.homed_midway is not None:
            raise PlanError(
                f"Z is homed on line {survey.homed_midway + 1}, in the middle of the print, and then the "
                "file goes on lower, so layers can't be told from there on; take the homing out, or slice "
                "each piece to its own file"
            )
        if steps and survey.pieces > 1:
            raise PlanError(
                f"{shown(survey.name)} prints {survey.pieces} pieces one after the other; heights and layers "
                "would be mixed up. Slice each piece to its own file; if it is one, of which a part is laid "
                "lower than what stands beside it, slice it layer by layer"
            )
        for step in order_steps(steps):
            plan = asked(step, plan) if before is None else with_past(asked(step, plan), before)
    except PlanError as failure:
        return plan, failure
    return plan, None


def run_file(
    source: Path,
    output: Path,
    config: Config,
    steps: Sequence[Step[Any]],
    *,
    allow: Collection[str] = (),
    progress: Progress | None = None,
    overwrite: bool = False,
    in_place: bool = False,
    helper: bool = True,
    rehearse_mm: float | None = None,
    on_plan: Callable[[Plan], None] | None = None,
) -> Summary:
    """Survey, plan, check, rewrite; the output appears under its name only when it is complete.

    `allow` names findings that stop nothing: all others that are errors stop it, and the warnings stand in
    the summary. `progress(done_bytes, all_bytes)` is called through both passes together. `helper`: a thread
    reads ahead, on a second core. `rehearse_mm`: the whole path so much higher, without clay, heat and waits.
    `on_plan` gets what the steps want, when all of the output is right. `in_place`: the output may take the
    place of the source, which is kept beside it as `Original` says; the summary's `source` is that name then.
    Raises GpostError; then nothing was written.
    """
    inputs = reading(source)
    # as it is now: a step may go to another folder
    target = check_target(output, overwrite=overwrite or in_place, inputs=inputs, in_place=in_place)
    original = Original(overwrite) if inputs.at(target) == SLICED else None
    file = AtomicFile(target, overwrite or in_place, original.keep if original else nothing_around)
    read, names = Source(source, config.reading), (source.name, output.name)
    answer = _answer(read, packed(file, output), config, steps, allow, progress, helper, names, rehearse_mm)
    summary = answer.done
    if on_plan is not None:
        on_plan(answer.plan)
    if original is None or original.kept is None:
        return summary
    return summary.model_copy(update={"source": storable(original.kept.name)})


def resume_file(
    source: Path,
    output: Path,
    config: Config,
    steps: Sequence[Step[Any]],
    stopped: Stopped,
    *,
    earlier: Sequence[StopRecord] = (),
    allow: Collection[str] = (),
    progress: Progress | None = None,
    overwrite: bool = False,
    on_plan: Callable[[Plan], None] | None = None,
) -> Summary:
    """Write the rest of a print that has stopped: as `run_file` does, planned anew from where it goes on.

    `earlier`: where it had stopped before; `on_plan` as for `run_file`. Raises GpostError; then nothing was
    written.
    """
    target = check_target(output, overwrite=overwrite, inputs=reading(source))
    out, names = packed(AtomicFile(target, overwrite=overwrite), output), (source.name, output.name)
    read, stops = Source(source, config.reading), Stops(stopped, tuple(earlier)).with_due()
    answer = _answer(read, out, config, steps, allow, progress, True, names, None, stops)
    summary = answer.done
    if on_plan is not None:
        on_plan(answer.plan)
    return summary


class Stops(NamedTuple):
    """Where a print has stopped: now, and before."""

    now: Stopped
    earlier: tuple[StopRecord, ...] = ()

    def with_due(self) -> Stops:
        """The same, where a rest stopped before its own first wait: what it was to run out is still due.

        Nobody has let it go, so it has stood since it stopped before: the minutes are those until now.
        """
        line = self.now.output_line
        last = self.earlier[-1] if self.earlier else None
        if last is None or not (self.now.clock_s == 0 or 0 < (line or 0) <= (last.waits_line or 0)):
            return self
        waited_min = last.waited_min if self.now.waited_min is None else self.now.waited_min
        now = self.now._replace(anew=True, due_ml=last.run_out_ml, waited_min=waited_min)
        begun = last.model_copy(update={"run_out_ml": 0.0, "waited_min": None})
        return Stops(now, (*self.earlier[:-1], begun))


def _dry(
    source: Path,
    config: Config,
    steps: Sequence[Step[Any]],
    allow: Collection[str],
    progress: Progress | None,
    rehearse_mm: float | None = None,
) -> _Answer:
    """All that a run does but for keeping what it writes."""
    with open(os.devnull, "wb") as nowhere:
        out, names = nullcontext(nowhere), (source.name, source.name)
        read = Source(source, config.reading)
        return _answer(read, out, config, steps, allow, progress, True, names, rehearse_mm)


class _Answer(NamedTuple):
    """What is said of a job."""

    plan: Plan
    """As far as the steps came."""
    findings: tuple[Finding, ...]
    """Errors first. With an error among them the job is not done."""
    summary: Summary | None = None
    """None if an error stands in the way."""
    failure: PlanError | None = None
    """What stopped a step or the writing; it is among the findings too."""
    going: Resumption | None = None
    """How a stopped print goes on, if it is one."""

    @property
    def done(self) -> Summary:
        """The summary. Raises PlanError with all that stands in the way, of the kind of the failure."""
        if self.summary is None:
            said = refusal(self.findings, self.plan.survey.metering)
            raise type(self.failure or PlanError())(said) from self.failure
        return self.summary

    def failing(self, failure: PlanError) -> _Answer:
        """The same with one more error."""
        found = Finding(failure.finding, "error", None, str(failure))
        return self._replace(findings=(found, *self.findings), failure=failure)


def _answer(
    source: Source,
    out: AbstractContextManager[BinaryIO],
    config: Config,
    steps: Sequence[Step[Any]],
    allow: Collection[str],
    progress: Progress | None,
    helper: bool,
    names: tuple[str, str],
    rehearse_mm: float | None,
    stops: Stops | None = None,
) -> _Answer:
    """The one way from a file to what is said of it: `out` takes the output, if nothing stands in the way.

    What the second pass finds that can't be done is a finding as well.
    """
    first, second = _halves(progress)
    answer = _judged(source, config, steps, allow, first, helper, rehearse_mm, stops)
    if any(finding.severity == "error" for finding in answer.findings):
        return answer
    what = f"({__version__})" if rehearse_mm is None else f"({__version__}), {words(rehearse_mm)},"
    if answer.going is not None:
        look = ", a REHEARSAL of the way," if answer.going.stopped.look else ""
        what += f" {GOES_ON}{look}"
    plan, header = answer.plan, f"{what} from {plain(names[0], 80)}"
    earlier = () if stops is None else stops.earlier
    try:
        with out as file:
            written = Rewriter(source, plan, header, helper=helper).write(file, second)
            # inside, so that nothing appears if anything is wrong with the summary
            with to_disk(file, Path(names[1])):
                found = in_order([*answer.findings, *command_notes(written.sent)])
                names_of = {"source": names[0], "output": names[1]}
                summary = summarise(plan, written, found, **names_of, going=answer.going, earlier=earlier)
    except PlanError as failure:
        return answer.failing(failure)
    return answer._replace(findings=found, summary=summary)


def _judged(
    source: Source,
    config: Config,
    steps: Sequence[Step[Any]],
    allow: Collection[str],
    progress: Progress | None,
    helper: bool,
    rehearse_mm: float | None,
    stops: Stops | None,
) -> _Answer:
    """What is known of a job before the first byte is written: the plan, and what is wrong with it."""
    preflight = Preflight(config, allow=allow)
    survey = survey_source(source, config, progress, (preflight.observe,), helper=helper)
    plan, failure = _planned(Plan(survey, config, allowed=frozenset(allow)), steps)
    going: Resumption | None = None
    try:
        if failure is None and rehearse_mm is not None:
            plan = rehearsed(plan, rehearse_mm)
        if failure is None and stops is not None:
            plan, going = _gone_on(source, plan, steps, stops)
    except PlanError as refused:
        failure = refused
    if failure is None:
        return _Answer(plan, preflight.findings(plan), going=going)
    return _Answer(plan, preflight.findings(plan, complete=False)).failing(failure)


def _gone_on(source: Source, plan: Plan, steps: Sequence[Step[Any]], stops: Stops) -> tuple[Plan, Resumption]:
    """The plan of the rest, made of the plan that was printed; after each stop before it, too.

    Raises PlanError where it can't safely be done.
    """
    from gpost.report.rest import restart_of
    from gpost.supply.stopped import going_on, resumption, run_out_words

    for record in stops.earlier:
        plan = _replanned(plan, begun(plan, restart_of(plan, record), record.shift_mm), steps)
    stopped = stops.now
    if stopped.output_line is not None:
        with open(os.devnull, "wb") as nowhere:
            written = Rewriter(source, plan, "", helper=False).write(nowhere)
        line = _line_now(plan, written, stops.earlier, stopped.output_line)
        spot = written.reached(plan, line)
        done = _waits_done(plan, written, spot, line)
        stopped = stopped._replace(asked=stopped.asked._replace(spot=spot), done=done)
    going = resumption(plan, stopped)
    if plan.restart is not None and going.restart.spot < plan.restart.spot:
        raise PlanError(
            "the file that was run began above that place and laid nothing there; name a place at which it "
            "had laid something, or take the summary of the file before it"
        )
    try:
        return _replanned(plan, going_on(plan, going), steps), going
    except PlanError as failure:
        if not going.restart.prime_ml:
            raise
        raise type(failure)(f"{failure}. {run_out_words(plan, going)}") from failure


def _line_now(plan: Plan, written: Written, earlier: Sequence[StopRecord], output_line: int) -> int:
    """A line of the file that was run, as a line of what is written of its plan now.

    What a rest begins with goes by what was lost then, and by whether it homes, which may be otherwise now.
    """
    until = earlier[-1].opens_until_line if earlier else None
    return output_line if until is None else max(output_line - until, 0) + written.opens_until(plan)


def _waits_done(plan: Plan, written: Written, spot: Spot, output_line: int) -> int | None:
    """How many pauses and beads of steps at a spot have been by a line of the output; None: all.

    A pause has been once its wait has: before it no cartridge is changed, and nothing is run out. Beads
    beside the piece have been once they are begun: no others could be laid on a part of them.
    """
    here = blocks_at(plan, spot)
    begins = [
        written.waits[index] if index in written.waits else written.places.get(index, (0, 0))[0]
        for index, entry in enumerate(plan.entries)
        if is_among(entry.intention, here)
    ]
    done = sum(line < output_line for line in begins)
    return None if done == len(begins) else done


def _replanned(before: Plan, begun_plan: Plan, steps: Sequence[Step[Any]]) -> Plan:
    plan, failure = _planned(begun_plan, steps, before)
    if failure is not None:
        raise failure
    return plan


def _halves(progress: Progress | None) -> tuple[Progress | None, Progress | None]:
    if progress is None:
        return None, None
    return (lambda done, size: progress(done, 2 * size)), (lambda done, size: progress(size + done, 2 * size))
