"""Law: check is run without writing; batch, day and load refuse what check refuses, in the same words."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gpost.batch.folder import Job, run_batch
from gpost.config.load import load_config
from gpost.errors import GpostError
from gpost.pipeline import check_file, plan_file, run_file
from gpost.preflight.model import Finding, Severity
from gpost.report.model import Summary
from gpost.steps.recipe import read_recipe
from gpost.workbook.day.pieces import read_pieces
from tests.laws.jobs import NUMBERED, JobDraft, jobs
from tests.reference.outputs import split_lines

ADVICE = "\nFix that; to go on in spite of it, say --allow "
DAYS_OWN = "it asks "
"""How the day's only own reason begins: pieces are packed by what a cartridge gives, whatever is allowed."""


class Answers(NamedTuple):
    """What check and run say of one job."""

    found: tuple[Finding, ...] | GpostError
    done: Summary | GpostError
    output: bytes | None
    """None: there is no such file."""

    def said(self, severity: Severity) -> list[str]:
        """The sentences of check's findings of one severity, in their order."""
        assert not isinstance(self.found, GpostError)
        return [finding.sentence for finding in self.found if finding.severity == severity]

    @property
    def refusal(self) -> str | None:
        """All that check says stands in the way; None if nothing does."""
        if isinstance(self.found, GpostError):
            return str(self.found)
        return "\n".join(self.said("error")) or None


@contextmanager
def folder_of_jobs() -> Iterator[Path]:
    """A folder that is gone afterwards."""
    with TemporaryDirectory() as name:
        yield Path(name)


def answers(job: JobDraft, folder: Path, name: str = "piece") -> Answers:
    """Ask check first, then run."""
    source, config, steps = job.put(folder, name)
    recipe = read_recipe([config], [steps])
    output = folder / "out.gcode"
    try:
        found: tuple[Finding, ...] | GpostError
        found = check_file(source, recipe.config, recipe.steps, allow=job.allow)
    except GpostError as error:
        found = error
    assert not output.exists()
    try:
        done: Summary | GpostError
        done = run_file(source, output, recipe.config, recipe.steps, allow=job.allow)
    except GpostError as error:
        done = error
    return Answers(found, done, output.read_bytes() if output.exists() else None)


def without_advice(text: str) -> str:
    """A refusal without its last line, which says how to go on in spite of it."""
    return text.partition(ADVICE)[0]


@given(jobs())
def test_check_is_run_without_writing(job: JobDraft) -> None:
    """Errors of check, if and only if run refuses, with the same sentences; else the summary's own words."""
    with folder_of_jobs() as folder:
        found, done, output = told = answers(job, folder)
    if isinstance(done, GpostError):
        assert without_advice(str(done)) == told.refusal
        assert output is None
        if isinstance(found, GpostError):
            assert (type(found), str(found)) == (type(done), str(done))
    else:
        assert told.refusal is None
        assert (told.said("warning"), told.said("note")) == (list(done.warnings), list(done.notes))
        assert output is not None


POT = "G28\nG90\nM83\n" + "".join(
    f"G1 X100 Y100 Z{z_mm} F1200\nG1 X140 E1\nG1 Y140 E1\nG1 X100 E1\nG1 Y100 E1\n" for z_mm in (2, 4, 6)
)
ROOM: dict[str, Any] = {"ceiling_mm": 300, "park": {"x_mm": 15, "y_mm": 265}}
LIMITED: dict[str, Any] = {"clay": {"metering": {"unit": "ml", "ml_per_unit": 1}}}
PAUSE = {"whim": {"does": "pause"}}
ERRORS: dict[str, tuple[dict[str, Any], list[Any], str]] = {
    "a park off the bed": (
        {"park": {"x_mm": 900, "y_mm": 0}},
        [PAUSE],
        "whim: the park (x 900, y 0 mm) lies off the bed",
    ),
    "a park over the piece": ({"park": {"x_mm": 120, "y_mm": 120}}, [PAUSE], "lies over the piece"),
    "no room for the lift": (
        {"ceiling_mm": 6.5},
        [{"whim": {"does": "pause", "share": 0.9}}],
        "the ceiling is 6.5 mm",
    ),
    "a command that moves": (
        {"pause": {"commands": ["G28"]}, "allow_commands": ["G28"]},
        [PAUSE],
        "the command 'G28' can't be inserted",
    ),
    "a step's command that moves": (
        {},
        [{"whim": {"does": "home"}}],
        "whim: the command 'G28' can't be sent",
    ),
    "a line that is needed": ({}, [{"whim": {"does": "silence"}}], "can't be taken out as a whole"),
    "a step that fails": ({}, [{"whim": {"does": "crash"}}], "step whim failed: ZeroDivisionError"),
    "a step that refuses": ({}, [{"whim": {"does": "refuse"}}], "whim: the piece is too good for that"),
    "a wish beyond the file": ({}, [{"whim": {"does": "beyond"}}], "wants to insert at line"),
    "no place for the piece": ({}, [{"place": {"x_mm": 5, "y_mm": 5}}], "place: there the piece would reach"),
    "a colour above the top": ({}, [{"swap": {"at_height_mm": 90}}], "90 mm is above the piece"),
    "a bed that is too small": (
        {"bed": {"x_max_mm": 130}, "park": {"x_mm": 15, "y_mm": 15}},
        [],
        "outside-bed, line 5",
    ),
    "a feed beyond the machine": ({"max_feed_mm_min": 600}, [], "too-fast, line 4"),
}
"""Machine, steps, and a part of what is said: one of each way to be refused."""
WARNINGS: dict[str, tuple[dict[str, Any], list[Any], str]] = {
    "a wall that can't bear": ({}, [{"stand": {"yield_stress_pa": 1}}], "stand: 3 layers still bear less"),
    "a step's own": ({}, [{"whim": {"does": "warn"}}], "whim: all is not well"),
    "the survey's": ({}, [], "by E the walls take"),
    "the checks'": ({"nozzle_mm": 2}, [], "first-layer, line "),
}
"""Machine, steps, and a part of what is said: one of each voice."""


def ready(machine: dict[str, Any], steps: list[Any]) -> JobDraft:
    """A small pot with a config."""
    return JobDraft(POT.encode(), {**LIMITED, "machine": {**ROOM, **machine}, "steps": steps}, ())


@pytest.mark.parametrize(("machine", "steps", "said"), ERRORS.values(), ids=ERRORS)
def test_each_way_to_be_refused(tmp_path: Path, machine: dict[str, Any], steps: list[Any], said: str) -> None:
    """Whoever finds it: the checks, a step, the plan, or the second pass that looks for room."""
    told = answers(ready(machine, steps), tmp_path)
    assert said in str(told.refusal)
    assert isinstance(told.done, GpostError)
    assert without_advice(str(told.done)) == told.refusal


@pytest.mark.parametrize(("machine", "steps", "said"), WARNINGS.values(), ids=WARNINGS)
def test_each_voice_that_warns(tmp_path: Path, machine: dict[str, Any], steps: list[Any], said: str) -> None:
    """Steps, survey and checks: what one of them warns of, check tells as the summary does."""
    told = answers(ready(machine, steps), tmp_path)
    assert isinstance(told.done, Summary)
    assert any(said in warning for warning in told.done.warnings)
    assert told.said("warning") == list(told.done.warnings)


@given(jobs())
def test_a_plan_without_writing_is_refused_as_run_is(job: JobDraft) -> None:
    """So is what `gpost load` and `gpost day` begin with."""
    with folder_of_jobs() as folder:
        done = answers(job, folder).done
        source, config, steps = job.put(folder)
        recipe = read_recipe([config], [steps])
        try:
            plan = plan_file(source, recipe.config, recipe.steps, allow=job.allow)
        except GpostError as error:
            assert (type(error), str(error)) == (type(done), str(done))
        else:
            assert not isinstance(done, GpostError)
            assert (plan.total_ml, plan.total_s) == pytest.approx((done.clay_ml, done.time_s))


@given(jobs())
def test_the_file_s_own_pauses_stand_where_they_are(job: JobDraft) -> None:
    """Each visit of the file's own is a line of the output as the source has it; all visits are in order."""
    with folder_of_jobs() as folder:
        done, output = answers(job, folder)[1:]
    if isinstance(done, GpostError) or output is None:
        return
    lines = [pause.output_line for pause in done.pauses]
    assert lines == sorted(lines)
    own, written = [pause for pause in done.pauses if not pause.step], split_lines(output)
    assert bool(own) == any("makes the machine wait" in note for note in done.notes)
    for pause in own:
        line = written[pause.output_line - 1].strip()
        command = pause.reason.removeprefix("the file's own ").encode()
        assert command in line.upper()
        if not NUMBERED.search(job.program):
            assert line in {whole.strip() for whole in split_lines(job.program)}


@given(st.lists(jobs(), min_size=1, max_size=3))
def test_a_batch_refuses_what_check_refuses(drawn: list[JobDraft]) -> None:
    """Each file with the config of its own beside it: the row's reason is the refusal, on one line."""
    allow, machine = drawn[0].allow, {"machine": drawn[0].config["machine"]}
    with folder_of_jobs() as home:
        (home / "in").mkdir()
        (home / "studio.yaml").write_text(json.dumps(machine))
        expected = {}
        for number, job in enumerate(drawn):
            (home / f"{number}").mkdir()
            whole = job._replace(allow=allow, config={**job.config, **machine})
            expected[f"piece{number}.gcode"] = answers(whole, home / f"{number}", f"piece{number}").done
            source, config, _ = whole.put(home / "in", f"piece{number}")
            config.unlink()
            own = {key: part for key, part in job.config.items() if key != "machine"}
            source.with_suffix(".yaml").write_text(json.dumps(own))
        wanted = Job(home / "out", load_config([home / "studio.yaml"]), (home / "in" / "steps",), allow=allow)
        rows = {row.name: row for row in run_batch(home / "in", wanted, processes=1).rows}
    assert rows.keys() == expected.keys()
    for name, done in expected.items():
        row = rows[name]
        if isinstance(done, GpostError):
            assert (row.result, row.reason) == ("failed", str(done).replace("\n", "; "))
        else:
            assert (row.result, row.warnings, row.pauses) == ("done", len(done.warnings), len(done.pauses))


@given(jobs(), st.lists(jobs(), max_size=2))
def test_a_day_leaves_out_what_check_refuses(first: JobDraft, others: list[JobDraft]) -> None:
    """By the same words; what it leaves out beside that asks a cartridge for more than it gives."""
    drawn = [job._replace(config=first.config, allow=first.allow) for job in (first, *others)]
    with folder_of_jobs() as home:
        (home / "in").mkdir()
        expected = {}
        for number, job in enumerate(drawn):
            source, config, steps = job.put(home / "in", f"piece{number}")
            (home / f"{number}").mkdir()
            expected[source.name] = answers(job, home / f"{number}", source.stem).done
        studio = config.rename(home / "studio.yaml")
        _, pieces, left_out = read_pieces(home / "in", [studio], [steps], allow=first.allow)
    reasons = {row.name: row.reason for row in left_out}
    assert {*reasons, *(piece.name for piece in pieces)} == expected.keys()
    for name, done in expected.items():
        if isinstance(done, GpostError):
            assert reasons[name] == str(done).replace("\n", "; ")
        elif name in reasons:
            assert DAYS_OWN in reasons[name]
