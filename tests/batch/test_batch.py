"""A folder of sliced files: each is done once, and none stops the others."""

from __future__ import annotations

import gc
import json
import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from gpost.batch import folder as batch
from gpost.batch.folder import BatchReport, Job, run_batch
from gpost.batch.pages import Pages
from gpost.batch.record import read_record
from gpost.batch.words import batch_json, batch_text, gone_texts, reasons_text
from gpost.cli import cli
from gpost.config.load import load_config
from gpost.demo.gcode import Piece, SliceStyle
from gpost.errors import ConfigError, OutputError
from gpost.survey.model import Survey
from tests.sliced import slice_piece

STEP = '''
"""A step that does to a file what its name says."""

import os
import signal

from gpost.api import Settings, Step, hookimpl

class Mind(Step[Settings]):
    """Minds the name of the file."""

    name = "mind"
    Settings = Settings

    def plan(self, survey, plan):
        if survey.name.startswith("killer"):
            os.kill(os.getpid(), signal.SIGKILL)
        if survey.name.startswith("slow"):
            print("slow", flush=True)
            signal.pause()
        return []

@hookimpl
def gpost_steps():
    return [Mind]
'''
BAD = b"G1 X[#1]\n"


@pytest.fixture(scope="module")
def vase() -> bytes:
    piece = Piece(height_mm=8, radius_mm=30, segments=12, base_layers=1)
    return slice_piece(piece, SliceStyle(heaters=True)).text


@pytest.fixture
def folder(tmp_path: Path, vase: bytes) -> Path:
    """A folder `in` with three vases, beside a folder with the step `mind` and a config that uses it."""
    for name in ("in", "steps"):
        (tmp_path / name).mkdir()
    for name in ("a.gcode", "b.NC", "c.ngc"):
        (tmp_path / "in" / name).write_bytes(vase)
    (tmp_path / "steps" / "minding.py").write_text(STEP)
    (tmp_path / "studio.yaml").write_text("steps: [mind]\n")
    return tmp_path / "in"


def job(folder: Path, *, overwrite: bool = False) -> Job:
    home = folder.parent
    return Job(home / "out", load_config([home / "studio.yaml"]), (home / "steps",), overwrite)


def do(folder: Path, *, processes: int = 1, overwrite: bool = False) -> dict[str, str]:
    """What became of each file."""
    report = run_batch(folder, job(folder, overwrite=overwrite), processes=processes)
    return {row.name: row.result for row in report.rows}


def left(folder: Path) -> set[str]:
    return {path.name for path in (folder.parent / "out").iterdir()}


def recorded(*names: str) -> set[str]:
    return {name + ending for name in names for ending in ("", ".gpost.json")}


@pytest.mark.parametrize("processes", [1, 2])
def test_every_file_is_done(folder: Path, processes: int) -> None:
    """Each sliced file gets an output of its name and a record, in one process or in several."""
    assert do(folder, processes=processes) == {"a.gcode": "done", "b.NC": "done", "c.ngc": "done"}
    assert left(folder) == recorded("a.gcode", "b.NC", "c.ngc")


def test_processes_make_no_difference(folder: Path) -> None:
    """The outputs are byte for byte the same, whether one process made them or several."""
    do(folder, processes=1)
    single = {name: (folder.parent / "out" / name).read_bytes() for name in os.listdir(folder)}
    do(folder, processes=2, overwrite=True)
    assert single == {name: (folder.parent / "out" / name).read_bytes() for name in os.listdir(folder)}


@pytest.mark.parametrize("steps", ["[mind]", "[{purge: {volume_ml: 9000}}]"])
def test_nothing_of_a_file_is_kept(folder: Path, steps: str) -> None:
    """When a batch is done no survey of its files is left, whether they were done or failed."""
    (folder.parent / "studio.yaml").write_text(f"steps: {steps}\n")
    gc.disable()  # what is freed by itself, or when it is told
    try:
        before = sum(isinstance(found, Survey) for found in gc.get_objects())
        assert set(do(folder).values()) == {"done" if steps == "[mind]" else "failed"}
        assert sum(isinstance(found, Survey) for found in gc.get_objects()) <= before
    finally:
        gc.enable()


def test_rows_tell_the_numbers(folder: Path) -> None:
    """A row has the layers, clay, time and pauses of its summary, also when nothing had to be done."""
    first = run_batch(folder, job(folder), processes=1).rows[0]
    again = run_batch(folder, job(folder), processes=1).rows[0]
    record = read_record(folder.parent / "out" / "a.gcode")
    assert record is not None
    assert (first.layers, first.clay_ml, first.time_s) == (record.layers, record.clay_ml, record.time_s)
    assert (again.result, again.layers, again.clay_ml) == ("unchanged", first.layers, first.clay_ml)


def test_a_config_beside_a_file_lies_over_the_others(folder: Path) -> None:
    """`a.yaml` counts for `a.gcode` alone; a change of it makes that file be done again, a slip fails it alone."""
    own = folder / "a.yaml"
    own.write_text("steps: [mind, tally]\n")
    assert set(do(folder).values()) == {"done"}
    records = {name: read_record(folder.parent / "out" / name) for name in ("a.gcode", "c.ngc")}
    assert {name: record.steps for name, record in records.items() if record} == {
        "a.gcode": ("mind", "tally"), "c.ngc": ("mind",),
    }  # fmt: skip
    own.write_text("steps: [tally]\n")
    assert do(folder) == {"a.gcode": "done", "b.NC": "unchanged", "c.ngc": "unchanged"}
    own.write_text("stepps: [tally]\n")
    report = run_batch(folder, job(folder), processes=1)
    assert [row.name for row in report.rows if row.result == "failed"] == ["a.gcode"]
    assert "stepps" in reasons_text(report)


def test_a_config_that_is_a_link_out_of_the_folder_is_not_read(folder: Path) -> None:
    """A folder from somebody else can't have other files of this computer read and quoted."""
    secret = folder.parent / "secret.txt"
    secret.write_text("password: 1234\n")
    (folder / "a.yaml").symlink_to(secret)
    report = run_batch(folder, job(folder), processes=1)
    assert [row.name for row in report.rows if row.result == "failed"] == ["a.gcode"]
    assert "a.yaml is a link that leads out of the folder" in reasons_text(report)


def test_bad_file_does_not_stop_the_others(folder: Path) -> None:
    """A file that can't be done is a row with its reason; it leaves no output."""
    (folder / "b.NC").write_bytes(BAD)
    report = run_batch(folder, job(folder), processes=2)
    assert {row.name: row.result for row in report.rows} == {
        "a.gcode": "done",
        "b.NC": "failed",
        "c.ngc": "done",
    }
    assert report.failed == 1
    assert reasons_text(report).startswith("b.NC: line 1: ")
    assert left(folder) == recorded("a.gcode", "c.ngc")


def test_dying_process_does_not_stop_the_others(folder: Path, vase: bytes) -> None:
    """When a process dies, only the file that kills it fails, however many were under way."""
    (folder / "killer.gcode").write_bytes(vase)
    found = do(folder, processes=2)
    assert found.pop("killer.gcode") == "failed"
    assert set(found) == {"a.gcode", "b.NC", "c.ngc"}
    assert set(found.values()) <= {"done", "unchanged"}  # unchanged: done, but its process couldn't say so
    assert left(folder) == recorded("a.gcode", "b.NC", "c.ngc")


def test_fault_of_gpost_is_a_row(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An unexpected exception on one file is owned up to and doesn't end the batch."""

    def run_file(source: Path, *_args: object, **_options: object) -> None:
        raise LookupError(f"no kiln for {source.name}")

    monkeypatch.setattr(batch, "run_file", run_file)
    report = run_batch(folder, job(folder), processes=1)
    assert [row.result for row in report.rows] == ["failed"] * 3
    assert "this is a fault of gpost (LookupError: no kiln for a.gcode)" in report.rows[0].reason


def nothing(folder: Path) -> None:
    """Change nothing."""


def touch_source(folder: Path) -> None:
    (folder / "b.NC").write_bytes((folder / "b.NC").read_bytes() + b"; more\n")


def remove_output(folder: Path) -> None:
    (folder.parent / "out" / "b.NC").unlink()


def change_config(folder: Path) -> None:
    (folder.parent / "studio.yaml").write_text("machine: {nozzle_mm: 3}\nsteps: [mind]\n")


CHANGES = [
    (nothing, {"a.gcode": "unchanged", "b.NC": "unchanged", "c.ngc": "unchanged"}),
    (touch_source, {"a.gcode": "unchanged", "b.NC": "done", "c.ngc": "unchanged"}),
    (remove_output, {"a.gcode": "unchanged", "b.NC": "done", "c.ngc": "unchanged"}),
    (change_config, {"a.gcode": "done", "b.NC": "done", "c.ngc": "done"}),
]


@pytest.mark.parametrize(("change", "expected"), CHANGES)
def test_only_what_changed_is_done_again(
    folder: Path, change: Callable[[Path], None], expected: dict[str, str]
) -> None:
    """A second batch does again what has another source or config, or whose output is gone."""
    do(folder)
    change(folder)
    assert do(folder) == expected
    assert set(do(folder).values()) == {"unchanged"}


def test_output_that_somebody_changed_is_kept(folder: Path) -> None:
    """An output that was edited by hand is not overwritten, unless that is asked for."""
    do(folder)
    output = folder.parent / "out" / "b.NC"
    output.write_bytes(b"mine")
    assert do(folder)["b.NC"] == "failed"
    assert output.read_bytes() == b"mine"
    assert do(folder, overwrite=True)["b.NC"] == "done"
    assert output.read_bytes() != b"mine"


def test_output_without_record_is_kept(folder: Path) -> None:
    """A file of that name which no batch made is not overwritten."""
    (folder.parent / "out").mkdir()
    (folder.parent / "out" / "b.NC").write_bytes(b"mine")
    report = run_batch(folder, job(folder), processes=1)
    assert report.rows[1].reason.endswith("is not as gpost wrote it; move it away, or say --overwrite")
    assert (folder.parent / "out" / "b.NC").read_bytes() == b"mine"


def test_what_is_no_sliced_file_is_left_alone(folder: Path, vase: bytes) -> None:
    """Hidden files, folders and files of other kinds are not looked at."""
    (folder / ".hidden.gcode").write_bytes(vase)
    (folder / "notes.txt").write_bytes(vase)
    (folder / "older.gcode").mkdir()
    assert set(do(folder)) == {"a.gcode", "b.NC", "c.ngc"}


def test_links(folder: Path, vase: bytes) -> None:
    """A link inside the folder is followed; one that leads out of it, or to no file, is passed over."""
    outside = folder.parent / "outside.gcode"
    outside.write_bytes(vase)
    (folder / "inside.gcode").symlink_to("a.gcode")
    (folder / "leaving.gcode").symlink_to(outside)
    (folder / "loose.gcode").symlink_to("nowhere.gcode")
    os.mkfifo(folder / "pipe.gcode")
    report = run_batch(folder, job(folder), processes=1)
    found = {row.name: (row.result, row.reason) for row in report.rows}
    assert found["inside.gcode"] == ("done", "")
    assert found["leaving.gcode"] == ("skipped", "it is a link that leads out of the folder")
    assert found["loose.gcode"] == ("skipped", "it is a link to a file that isn't there")
    assert found["pipe.gcode"] == ("skipped", "it is no ordinary file")
    assert report.failed == 0


@pytest.mark.parametrize("overwrite", [False, True])
@pytest.mark.parametrize(
    ("read", "what"),
    [
        ("in/a.gcode", "the sliced file"),
        ("in/b.NC", "a file of the folder"),
        ("in/b.yaml", "a file of the folder"),
        ("studio.yaml", "a config"),
        ("steps/minding.py", "the code of a step"),
    ],
)
@pytest.mark.parametrize("taken", ["a.gcode", "a.gcode.gpost.json"])
def test_nothing_that_is_read_is_overwritten(
    folder: Path, overwrite: bool, read: str, what: str, taken: str
) -> None:
    """An output's name, or its record's, that leads to a file which the batch reads is refused."""
    home, place = folder.parent, folder.parent / "out" / taken
    (folder / "b.yaml").write_text("clay: {colour: blue}\n")
    (home / "out").mkdir()
    place.symlink_to(home / read)
    before = (home / read).read_bytes()
    report = run_batch(folder, job(folder, overwrite=overwrite), processes=1)
    row = next(row for row in report.rows if row.name == "a.gcode")
    assert (row.result, report.failed) == ("failed", 1)
    assert f"{taken} is {what} that is read here; choose another name" in row.reason
    assert (home / read).read_bytes() == before
    assert place.is_symlink()


def empty(folder: Path) -> Path:
    (folder.parent / "empty").mkdir()
    return folder.parent / "empty"


def a_file(folder: Path) -> Path:
    return folder / "a.gcode"


@pytest.mark.parametrize(
    ("choose", "sentence"), [(empty, "there is no sliced file"), (a_file, "is no folder")]
)
def test_wrong_folder(folder: Path, choose: Callable[[Path], Path], sentence: str) -> None:
    """A folder without sliced files, or what is no folder, is refused."""
    with pytest.raises(ConfigError, match=sentence):
        run_batch(choose(folder), job(folder))
    assert not (folder.parent / "out").exists()


def test_outputs_need_another_folder(folder: Path) -> None:
    """The outputs can't go to the folder of the sources, by whatever name."""
    link = folder.parent / "link"
    link.symlink_to(folder)
    with pytest.raises(ConfigError, match="a folder of their own"):
        run_batch(folder, Job(link, load_config([])))


def test_wrong_config_stops_before_the_first_file(folder: Path) -> None:
    """A config that is wrong is told once, before any file is looked at."""
    (folder.parent / "studio.yaml").write_text("steps: [mint]\n")
    with pytest.raises(ConfigError, match='no step "mint"'):
        run_batch(folder, job(folder))
    assert not (folder.parent / "out").exists()


def test_job_can_be_sent_to_a_process(folder: Path) -> None:
    """What the processes have in common survives the way to them."""
    sent = pickle.loads(pickle.dumps(job(folder)))
    assert sent == job(folder)


def test_progress_counts_files(folder: Path) -> None:
    """Progress is told after each file: done and total."""
    told: list[tuple[int, int]] = []
    run_batch(folder, job(folder), processes=1, on_row=lambda done, total: told.append((done, total)))
    assert told == [(1, 3), (2, 3), (3, 3)]


def command(folder: Path, *more: str) -> Result:
    home = folder.parent
    args = ["batch", folder, "-c", home / "studio.yaml", "--steps-from", home / "steps", "-o", home / "out"]
    return CliRunner().invoke(cli, [str(arg) for arg in args] + list(more))


def test_table(folder: Path) -> None:
    """Status 0: a table with a row a file, and the count of the results; one warning of all files is told once."""
    result = command(folder, "--jobs", "1")
    assert (result.exit_code, result.stderr) == (0, "")
    warned, _, table = result.stdout.partition("\nfile ")
    said = [line.partition(", line")[0] for line in warned.splitlines() if line[:1] != " "]
    assert said == ["a.gcode, b.NC, c.ngc: heating"]
    assert [line.split()[:3] for line in f"file {table}".splitlines()] == [
        ["file", "result", "layers"],
        ["a.gcode", "done", "4"],
        ["b.NC", "done", "4"],
        ["c.ngc", "done", "4"],
        ["3", "of", "3"],
    ]


def test_status_of_a_batch_with_a_failure(folder: Path) -> None:
    """Status 1: the table is on standard output, the reason on standard error."""
    (folder / "b.NC").write_bytes(BAD)
    result = command(folder, "--jobs", "1")
    assert result.exit_code == 1
    assert "2 done, 0 unchanged, 0 skipped, 1 failed" in result.stdout
    assert result.stderr.startswith("b.NC: line 1: ")


@pytest.mark.parametrize(
    ("more", "sentence"), [(("--jobs", "0"), "Invalid value for '--jobs'"), (("-c", "no.yaml"), "no.yaml: ")]
)
def test_status_of_wrong_usage(folder: Path, more: tuple[str, ...], sentence: str) -> None:
    """Status 2: a wrong option or config."""
    result = command(folder, *more)
    assert (result.exit_code, result.stdout) == (2, "")
    assert sentence in result.stderr


def test_table_is_harmless_and_fits() -> None:
    """Long names and names with control characters neither break the table nor steer the terminal."""
    rows = (batch.Row("x" * 90 + ".gcode", "done"), batch.Row("a\x1b[31m.nc", "failed", "line 1: \x1b[0m"))
    report = BatchReport(rows, total=2)
    lines = (batch_text(report) + reasons_text(report)).splitlines()
    assert all(len(line) <= 80 and line.isprintable() for line in lines)


@pytest.mark.parametrize("processes", [1, 2])
def test_ctrl_c(folder: Path, vase: bytes, processes: int) -> None:
    """Ctrl-C in the middle of a file: status 130, the table so far, and no half-written output."""
    (folder / "slow.gcode").write_bytes(vase)
    home = folder.parent
    process = subprocess.Popen(
        [
            *(sys.executable, "-m", "gpost", "batch", folder, "-c", home / "studio.yaml"),
            *("--steps-from", home / "steps", "-o", home / "out", "--jobs", str(processes)),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    assert process.stderr is not None
    assert process.stderr.readline() == "slow\n"  # what a step prints is no part of the table
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does: to all processes at once
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    rows = f"file {out.rpartition('file  ')[2]}".splitlines()  # what the files are warned of stands before
    assert rows[-1].startswith(f"{len(rows) - 2} of 4 files")
    assert err == "Error: stopped; the files that are done stay done, nothing is half-written\n"
    assert not any(name.startswith((".gpost-", "slow")) for name in left(folder))


@pytest.mark.parametrize("option", ["--summary", "--pages"])
def test_what_cannot_be_written_beside_hides_nothing(
    folder: Path, option: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What became of the files is said first, and why they failed."""
    (folder / "bad.gcode").write_bytes(BAD)
    home = folder.parent
    (home / "out").mkdir()
    (home / "out" / "a.gcode.txt").write_text("a poem")

    def full(_: object, report: BatchReport) -> None:
        raise OutputError("the disk is full")

    monkeypatch.setattr(Pages, "add", full)
    args = ["batch", folder, "-c", home / "studio.yaml", "-o", home / "out", option, "--jobs", "1"]
    result = CliRunner().invoke(cli, [*map(str, args), "--steps-from", str(home / "steps")])
    assert result.exit_code == 1
    assert "3 done, 0 unchanged, 0 skipped, 1 failed" in result.stdout
    assert "bad.gcode: " in result.stderr
    last = result.stderr.splitlines()[-1]
    assert ("a.gcode.txt exists already" if option == "--summary" else "the disk is full") in last


def test_outputs_whose_source_is_gone_are_named(folder: Path) -> None:
    """They stay; files of other folders, and what gpost didn't make, are none of them."""
    other = folder.parent / "other"
    other.mkdir()
    (other / "z.gcode").write_bytes((folder / "b.NC").read_bytes())
    home = job(folder)
    assert run_batch(folder, home, processes=1).gone == ()
    run_batch(other, home, processes=1)
    (home.output_folder / "mine.gcode").write_text("; mine\n")
    (folder / "b.NC").unlink()
    report = run_batch(folder, home, processes=1)
    assert report.gone == ("b.NC",)
    assert (home.output_folder / "b.NC").exists()
    assert gone_texts(report, Path("out")) == "b.NC is gone; what was made of it stays in out\n"
    assert json.loads(batch_json(report))["gone"] == ["b.NC"]
    assert run_batch(folder, home, processes=1, only=["a.gcode"]).gone == ()
    (home.output_folder / "b.NC").unlink()
    assert run_batch(folder, home, processes=1).gone == ()
