"""The one hook: how a step reaches gpost, ours and anybody's."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pluggy

from gpost.steps.step import Step

PROJECT = "gpost"
hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def gpost_steps() -> Iterable[type[Step[Any]]]:
    """Return the step classes this module offers.

    Called once when a command starts that needs steps. A second step of one name is refused, and both owners
    are named; a stock one stays. The classes are only made into steps when a config uses them; the order in
    which steps run never depends on the order of registration. Nothing may be done here but naming the
    classes.
    """
    raise NotImplementedError
