"""A gpost that is imported once and forked for each job, so that a test can afford hundreds of processes.

Run as a program, it reads one job a line as JSON, and answers with the number of the process that does it,
and then with how that ended. The keys of a job are those of `Forker.start` in conftest.py.
"""

from __future__ import annotations

import contextlib
import gc
import io
import json
import os
import posix
import resource
import signal
import sys
import tempfile
from collections.abc import Collection
from types import FrameType
from typing import Any

import gpost.start

NAMES = frozenset(("fsync", "link", "replace", "rename", "unlink", "chmod", "mkdir", "rmdir"))
FILES = frozenset(("write", "flush", "close"))
ANY = "any"
"""Every call of any function, and every return, counts."""


def next_job() -> dict[str, Any] | None:
    """In a new process: its job. In this one: None, when no more jobs come."""
    for line in sys.stdin:
        process = os.fork()
        if not process:
            job: dict[str, Any] = json.loads(line)
            return job
        print(process, flush=True)
        _, status, used = os.wait4(process, 0)
        print(os.waitstatus_to_exitcode(status), used.ru_maxrss, flush=True)
    return None


def changes_files(called: Any) -> str:
    """The name of a built-in function that may change what is on the disk, or nothing."""
    owner, name = getattr(called, "__self__", None), str(called.__name__)
    if isinstance(owner, (io.BufferedWriter, io.FileIO)):
        return name if name in FILES else ""
    return name if owner is posix and name in NAMES else ""


def strike(number: int, at: int, operations: Collection[str]) -> None:
    """Have this process struck by a signal just before the change `at` of the disk, counted from 1."""
    count = 0

    def watch(_frame: FrameType, event: str, called: Any) -> None:
        nonlocal count
        name = ANY if ANY in operations else changes_files(called) if event == "c_call" else ""
        if name in operations:
            count += 1
            if count == at:
                sys.setprofile(None)
                os.kill(os.getpid(), number)

    sys.setprofile(watch)


def memory_bytes() -> int:
    """What this process has of the address space (proc(5), statm: pages)."""
    with open("/proc/self/statm", encoding="ascii") as file:
        return int(file.read().split()[0]) * resource.getpagesize()


def begin(job: dict[str, Any]) -> None:
    """Give this process the streams, the folder, the limits and the fate of the job."""
    signal.signal(signal.SIGINT, signal.default_int_handler)  # whatever started us may have had it ignored
    os.chdir(job["folder"])
    os.environ["TMPDIR"] = tempfile.tempdir = job["spool"]
    for number, name in enumerate((os.devnull, job["out"], job["err"])):
        flags = os.O_RDONLY if number == 0 else os.O_WRONLY | os.O_CREAT | os.O_TRUNC
        os.dup2(os.open(name, flags, 0o644), number)
    if job["file_bytes"] is not None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (job["file_bytes"], job["file_bytes"]))
    if job["memory_bytes"] is not None:
        most = memory_bytes() + job["memory_bytes"]
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
    sys.argv = ["gpost", *job["args"]]
    if job["at"] is not None:
        strike(job["signal"], job["at"], job["operations"] or NAMES | FILES)


def warm_up() -> None:
    """Make a demo, survey and batch it: then everything is imported, and its caches are filled."""
    from gpost.cli import cli

    with tempfile.TemporaryDirectory() as folder, open(os.devnull, "w") as nowhere:
        demo, recipe = f"{folder}/demo", f"{folder}/demo/recipe.yaml"
        with contextlib.redirect_stdout(nowhere), contextlib.redirect_stderr(nowhere):
            for args in (
                ["demo", demo],
                ["survey", f"{demo}/twisted-bottle.gcode", "-c", recipe],
                ["run", f"{demo}/twisted-bottle.gcode", "-c", recipe, "-o", f"{folder}/out.gcode"],
                ["batch", demo, "-c", recipe, "-o", f"{folder}/out", "--jobs", "1", "--overwrite"],
            ):
                with contextlib.suppress(SystemExit):
                    cli(args, standalone_mode=False)


def main() -> None:
    """Import everything, then be the parent of all jobs, or do one."""
    warm_up()
    gc.collect()
    gc.freeze()  # or each process copies all that a collection touches
    job = next_job()
    if job is not None:
        begin(job)
        gpost.start.main()


if __name__ == "__main__":
    main()
