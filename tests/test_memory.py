"""Memory is kept between blocks where the C library allows it."""

from __future__ import annotations

import subprocess
import sys

import pytest

PROGRAM = """
import resource
import numpy as np
from gpost.common.memory import keep_memory

def faults():
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    for _ in range(50):
        [np.ones(40_000) for _ in range(40)]
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before

first = faults()
kept = keep_memory()
faults()
print(kept, first, faults())
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only glibc has mallopt")
def test_blocks_reuse_memory() -> None:
    """Once asked, the allocator hands the same pages out again: page faults all but vanish."""
    done = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, text=True, check=True)
    kept, first, then = done.stdout.split()
    if kept == "False":
        pytest.skip("this C library has no mallopt")
    assert int(then) < 0.05 * int(first)
