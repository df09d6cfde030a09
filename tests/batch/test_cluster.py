"""A batch on a Dask cluster: a real scheduler and two workers on this machine, one of them killed on the way."""

from __future__ import annotations

import functools
import os
import signal
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

pytest.importorskip("distributed")

from distributed import LocalCluster

from gpost.batch.cluster import in_cluster
from gpost.batch.folder import Job, run_batch
from gpost.demo.gcode import class_pieces
from gpost.errors import ConfigError
from tests.config_files import load_files
from tests.sliced import write_piece

PIECES = 8


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    """A scheduler and two worker processes; any free port, since two such clusters may run at once."""
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0", silence_logs=50
    ) as found:
        yield found


def _pid_once(folder: Path, item: int) -> tuple[int, int]:
    """Done in a worker: the first item to come kills its worker, once."""
    flag = folder / "killed"
    if item == 3 and not flag.exists():
        flag.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return item, os.getpid()


class Prepare:
    """Gives the function that does an item; picklable."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __call__(self) -> Callable[[int], tuple[int, int]]:
        return functools.partial(_pid_once, self.folder)


def test_every_item_comes_once_though_a_worker_is_killed(cluster: LocalCluster, tmp_path: Path) -> None:
    """A worker dies in the middle; each item still has one result."""
    found = list(in_cluster(list(range(12)), Prepare(tmp_path), cluster.scheduler_address))
    assert (tmp_path / "killed").exists()
    assert sorted(item for item, _ in found) == list(range(12))
    assert all(result is not None and result[0] == item for item, result in found)


def test_a_batch_on_a_cluster_is_complete(cluster: LocalCluster, tmp_path: Path) -> None:
    """Every file of a folder is done, one bad file costs nothing to the rest, and the table has them all."""
    piece, style = class_pieces()["small-bowl-1"]
    source, output = tmp_path / "in", tmp_path / "out"
    source.mkdir()
    for number in range(PIECES):
        write_piece(source / f"bowl-{number}.gcode", piece, style)
    (source / "bad.gcode").write_text("hello there\n")
    job = Job(output, load_files({"recipe.yaml": "steps: [cold, tally]\n"}))
    report = run_batch(source, job, cluster=cluster.scheduler_address)
    results = {row.name: row.result for row in report.rows}
    assert results == {**{f"bowl-{n}.gcode": "done" for n in range(PIECES)}, "bad.gcode": "failed"}
    assert sorted(p.name for p in output.glob("*.gcode")) == [f"bowl-{n}.gcode" for n in range(PIECES)]
    assert not list(output.glob(".gpost-*"))


def test_no_cluster_is_a_sentence(tmp_path: Path) -> None:
    """An address at which nobody answers is refused with what to do."""
    with pytest.raises(ConfigError, match=r"no cluster answers at tcp://127.0.0.1:9; start its scheduler"):
        list(in_cluster([1], lambda: abs, "tcp://127.0.0.1:9"))
