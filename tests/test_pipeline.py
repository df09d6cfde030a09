"""The order of a run, and what is left when it fails: nothing."""

from __future__ import annotations

import errno
import gc
import weakref
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import pytest

from gpost.config.model import Config
from gpost.config.settings import Settings
from gpost.errors import GpostError, OddLayersError, OutputError, PlanError, SourceError, StepError
from gpost.pipeline import make_plan, run_file, survey_file
from gpost.plan.intentions import (
    Air,
    Command,
    Intention,
    LayClay,
    MovePause,
    Note,
    Pause,
    Say,
    ScaleFlow,
    Silence,
)
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.steps.step import Step
from gpost.survey.model import Survey

POT = b"G28\nM104 S200\nG1 X100 Y140 Z2 F1500\nG1 X180 E5\nG1 Y180 E10\nG1 X100 E15\nG1 Y140 E20\nG0 Z30\n"
Answer = Callable[[Survey, Plan], Any]


class Asked(Step[Settings]):
    """Wants what it was told to want."""

    name = "asked"
    Settings = Settings

    def __init__(self, answer: Answer) -> None:
        super().__init__(Settings())
        self.answer = answer

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """The answer."""
        return self.answer(survey, plan)  # type: ignore[no-any-return]


def fails(error: BaseException) -> Answer:
    """An answer that raises."""

    def answer(survey: Survey, plan: Plan) -> Any:
        raise error

    return answer


def wants(*wishes: Any) -> Answer:
    """An answer of these wishes."""
    return lambda survey, plan: list(wishes)


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """A small file."""
    path = tmp_path / "pot.gcode"
    path.write_bytes(POT)
    return path


def attempt(source: Path, answer: Answer, config: Config | None = None, allow: Sequence[str] = ()) -> str:
    """The sentence with which a run fails; nothing may be left beside the source, which is as it was."""
    before = source.read_bytes()
    output = source.with_name("out.gcode")
    with pytest.raises(GpostError) as caught:
        run_file(source, output, config or Config(), [Asked(answer)], allow=allow)
    assert sorted(path.name for path in source.parent.iterdir()) == [source.name]
    assert source.read_bytes() == before
    assert caught.value.exit_status == 1
    return str(caught.value)


def test_a_run_writes_the_output_and_reports_it(source: Path) -> None:
    """The summary names the files, counts the output, and lists the change."""
    output = source.with_name("out.gcode")
    summary = run_file(source, output, Config(), [Asked(wants(Say(Spot(3), "now")))])
    text = output.read_bytes()
    assert (summary.source, summary.output, summary.steps) == ("pot.gcode", "out.gcode", ("asked",))
    assert (summary.output_bytes, summary.output_lines) == (len(text), text.count(b"\n"))
    assert [(change.step, change.kind, change.count) for change in summary.changes] == [("asked", "say", 1)]
    assert b"\nM117 now\n" in text


def test_progress_runs_through_both_passes(source: Path) -> None:
    """From the first half of the work to all of it."""
    seen: list[tuple[int, int]] = []
    run_file(source, source.with_name("out.gcode"), Config(), [], progress=lambda *at: seen.append(at))
    assert seen == [(len(POT), 2 * len(POT)), (2 * len(POT), 2 * len(POT))]


def test_steps_see_what_earlier_ones_asked_for(source: Path) -> None:
    """The plan that a step is given holds the wishes of the steps before it."""
    seen: list[int] = []

    def second(survey: Survey, plan: Plan) -> list[Intention]:
        seen.append(len(plan.entries))
        return [Note("two")]

    survey = survey_file(source, Config())
    plan = make_plan(survey, [Asked(wants(Note("one"))), Asked(second)], Config())
    assert seen == [1]
    assert [entry.intention for entry in plan.entries] == [Note("one"), Note("two")]


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (
            ZeroDivisionError("one over nothing"),
            "step asked failed: ZeroDivisionError: one over nothing. This is a fault of the step",
        ),
        (KeyError(), "step asked failed: KeyError. This is a fault of the step"),
        (SystemExit(3), "step asked failed: SystemExit"),
        (PlanError("the piece is too tall"), "asked: the piece is too tall"),
        (PlanError("asked: the piece is too tall"), "asked: the piece is too tall"),
        (StepError("it is broken"), "asked: it is broken"),
        (ValueError("a\x1b[31mred\nline"), "a\\x1b[31mred\\nline"),
    ],
)
def test_a_step_that_raises_is_named(source: Path, error: BaseException, said: str) -> None:
    """With its own message, once, and safe to show; nothing is written."""
    assert said in attempt(source, fails(error))


@pytest.mark.parametrize(
    ("error", "kind"),
    [
        (ZeroDivisionError("one over nothing"), StepError),
        (OddLayersError("layer 3 is a guess"), OddLayersError),
        (PlanError("the piece is too tall"), PlanError),
    ],
)
def test_a_failure_keeps_its_kind_and_its_cause(
    source: Path, error: Exception, kind: type[PlanError]
) -> None:
    """So that `--trace` shows whoever writes a step where it went wrong, whatever else is wrong too."""
    config = Config.model_validate({"machine": {"ceiling_mm": 3}})
    with pytest.raises(PlanError) as caught:
        run_file(source, source.with_name("out.gcode"), config, [Asked(fails(error))])
    assert type(caught.value) is kind
    assert "above-ceiling, line 8" in str(caught.value)
    assert isinstance(caught.value.__cause__, kind)
    assert caught.value.__cause__.__cause__ is error


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (wants(Say(Spot(9), "x")), "step asked wants to insert at line 10, but the file has 8 lines"),
        (wants("G28"), "step asked wants a thing of the kind str, which gpost can't do"),
        (lambda survey, plan: None, "step asked gives nothing instead of a list"),
        (lambda survey, plan: 5, "step asked gives a thing of the kind int instead of a list"),
        (lambda survey, plan: "abc", "step asked gives"),
        (wants(Command(Spot(2), ("M0\nG28",))), "step asked wants to send"),
        (
            wants(MovePause(Pause(Spot(2), "a", "", ""), Pause(Spot(3), "a", "", ""), "")),
            "step asked moves a pause",
        ),
        (wants(Air(Spot(2), 7.0)), "step asked wants the blower at 7"),
    ],
)
def test_a_step_that_asks_for_nonsense_is_named(source: Path, answer: Answer, said: str) -> None:
    """The sentence says what it wants and that it is the step's fault."""
    sentence = attempt(source, answer)
    assert sentence.startswith(said)
    assert sentence.endswith("This is a fault of the step, not of your file")


PAUSE = Pause(Spot(4), "look", "why", "Look", prime_ml=1.0)


@pytest.mark.parametrize(
    ("machine", "said"),
    [
        ({"park": {"x_mm": 500, "y_mm": 10}}, "lies off the bed"),
        ({"park": {"x_mm": 140, "y_mm": 160}}, "lies over the piece"),
        ({"ceiling_mm": 3}, "the ceiling is 3 mm"),
        ({"pause": {"commands": ["G28"]}}, "the command 'G28' can't be sent"),
    ],
)
def test_a_pause_that_is_not_safe_is_refused(source: Path, machine: dict[str, Any], said: str) -> None:
    """Park, ceiling, commands: the sentence says what to change, and nothing is written."""
    config = Config.model_validate({"machine": machine})
    assert said in attempt(source, wants(PAUSE), config, allow=["above-ceiling"])


def test_a_file_that_does_not_home_is_refused(source: Path) -> None:
    """Where the machine doesn't know its place the nozzle can't be sent away."""
    source.write_bytes(POT.replace(b"G28\n", b"G91\n"))
    allow = ["clay-before-homing", "outside-bed", "below-zero"]
    assert "the machine doesn't know yet where it stands" in attempt(source, wants(PAUSE), allow=allow)


def test_without_e_clay_can_t_be_primed_or_scaled(source: Path) -> None:
    """A file metered by path has no E to push."""
    by_path = Config.model_validate({"clay": {"metering": {"unit": "path"}}})
    assert "set prime_ml to 0" in attempt(source, wants(PAUSE), by_path)
    assert "clay can't be scaled" in attempt(source, wants(ScaleFlow(0, 5, 1.1)), by_path)


def test_a_line_that_moves_is_not_silenced(source: Path) -> None:
    """It would take the piece apart."""
    assert "asked: line 5 can't be taken out" in attempt(source, wants(Silence(np.array([4]))))


def test_a_source_that_changes_between_the_passes_is_noticed(source: Path) -> None:
    """A step that meddles with the file stands for anybody who does."""

    def meddle(survey: Survey, plan: Plan) -> list[Intention]:
        source.write_bytes(POT.replace(b"X180", b"X181"))
        return [Say(Spot(3), "now")]

    output = source.with_name("out.gcode")
    with pytest.raises(SourceError, match="changed while it was read"):
        run_file(source, output, Config(), [Asked(meddle)])
    assert not output.exists()


def test_a_second_run_over_an_output_is_refused(source: Path) -> None:
    """With the reason; the first output stays."""
    output, again = source.with_name("out.gcode"), source.with_name("again.gcode")
    run_file(source, output, Config(), [Asked(wants(Say(Spot(3), "now")))])
    before = output.read_bytes()
    with pytest.raises(SourceError, match="already written by gpost"):
        run_file(output, again, Config(), [])
    assert not again.exists()
    assert output.read_bytes() == before


def test_an_existing_output_is_kept_unless_it_may_be_replaced(source: Path) -> None:
    """Before any work is done it is refused; with `overwrite` it is replaced as a whole."""
    output = source.with_name("out.gcode")
    output.write_bytes(b"mine")
    with pytest.raises(OutputError, match="exists already"):
        run_file(source, output, Config(), [Asked(fails(AssertionError("must not be asked")))])
    assert output.read_bytes() == b"mine"
    run_file(source, output, Config(), [Asked(wants(Say(Spot(3), "now")))], overwrite=True)
    assert b"M117 now" in output.read_bytes()


def test_the_source_is_replaced_only_in_place(source: Path) -> None:
    """And only by the complete output; a failure leaves it as it was."""
    with pytest.raises(OutputError, match="is the sliced file itself"):
        run_file(source, source, Config(), [], overwrite=True)
    with pytest.raises(PlanError):
        run_file(source, source, Config(), [Asked(fails(PlanError("no")))], in_place=True)
    assert source.read_bytes() == POT
    run_file(source, source, Config(), [Asked(wants(Say(Spot(3), "now")))], in_place=True)
    assert b"M117 now" in source.read_bytes()


def test_a_failure_while_writing_leaves_nothing(source: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that fills up in the second pass: no output, no temporary file."""
    from gpost.write.rewriter import Rewriter

    def full(self: Rewriter, file: Any, progress: Any = None) -> None:
        file.write(b"G28\n")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Rewriter, "write", full)
    assert "there is no room left" in attempt(source, wants(Say(Spot(3), "now")))


def test_a_failing_summary_leaves_nothing(source: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The output appears only when its summary is made too."""
    from gpost import pipeline

    def broken(*args: Any, **more: Any) -> None:
        raise KeyError("a pause was not written")

    monkeypatch.setattr(pipeline, "summarise", broken)
    with pytest.raises(KeyError):
        run_file(source, source.with_name("out.gcode"), Config(), [])
    assert [path.name for path in source.parent.iterdir()] == [source.name]


def test_several_pieces_in_one_file_are_refused(source: Path) -> None:
    """Heights and layers would be mixed up; without steps such a file may be surveyed."""
    square = "G1 Z{z} X{x}\nG1 X{right} E5\nG1 Y20 E5\nG1 X{x} E5\nG1 Y0 E5\n"
    places = [(x, z) for x in (0, 100) for z in (2, 4, 6)]
    rings = "".join(square.format(x=x, z=z, right=x + 20) for x, z in places)
    source.write_text("G28\nM83\nG1 F1500\n" + rings)
    survey = survey_file(source, Config())
    assert survey.pieces == 2
    with pytest.raises(PlanError, match="prints 2 pieces one after the other"):
        make_plan(survey, [Asked(wants())], Config())
    assert make_plan(survey, [], Config()).entries == ()


class First(Asked):
    """A step that others come after."""

    name = "first"


class Last(Asked):
    """A step that comes after another."""

    name = "last"
    after: ClassVar[tuple[str, ...]] = ("first",)


def test_steps_are_asked_in_the_order_they_need(source: Path) -> None:
    """Each after those it names, whatever the config's order; the summary shows the order used."""
    output = source.with_name("out.gcode")
    summary = run_file(source, output, Config(), [Last(wants()), First(wants(Note("x")))])
    assert summary.steps == ("first", "last")


def test_beads_that_name_no_points_are_the_step_s_fault(source: Path) -> None:
    """A shape that can't be laid never reaches the compiler."""
    assert "names no beads" in attempt(source, wants(LayClay(Spot(3), (), 900.0)))


def test_a_job_leaves_nothing_for_the_collector(source: Path) -> None:
    """A survey and the blocks that were looked up in it go with it, so that a long batch needs no more memory."""
    steps = [Asked(lambda survey, _plan: [Note(f"{survey.clay_before(Spot(3)):.3f} ml")])]
    survey = survey_file(source, Config())
    make_plan(survey, steps, Config())
    lookup = weakref.ref(survey.lookup)
    gc.collect()
    gc.disable()
    try:
        assert lookup() is not None
        del survey
        assert lookup() is None
    finally:
        gc.enable()
