"""What the program settles for its own process, and for those that it starts."""

from __future__ import annotations

import gc
import os


def prepare_process() -> None:
    """Settle it, before what it concerns is loaded."""
    # what is loaded stays, 100,000 objects: to look through it for garbage once takes a tenth of a short run
    gc.set_threshold(300_000, 20, 20)
    # no matrices are multiplied here that would be worth a thread
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # nobody's plugins change how a config is read, and none need be looked for
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
