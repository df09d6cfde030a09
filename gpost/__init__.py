"""gpost prepares sliced files for printing pots in soft clay; importing it loads nothing else.

    import gpost

    summary = gpost.run("vase.gcode", ["studio.yaml", "vase.yaml"], "vase-print.gcode")

What it offers is loaded when it is first asked for: `run`, `check`, `resume`, `survey` and `load`, as the
command line does them, `read_config`, and the kinds of what they give and raise.
"""

from __future__ import annotations

import sys
from types import ModuleType

TYPE_CHECKING = False
if TYPE_CHECKING:  # typing itself takes longer to load than all of this
    from typing import Any

    from gpost.calls import (
        ConfigError,
        Finding,
        GpostError,
        Loads,
        OutputError,
        PlanError,
        Recipe,
        SourceError,
        Summary,
        Survey,
        check,
        load,
        read_config,
        resume,
        run,
        survey,
    )

__version__ = "0.1.0"
__all__ = [
    "ConfigError",
    "Finding",
    "GpostError",
    "Loads",
    "OutputError",
    "PlanError",
    "Recipe",
    "SourceError",
    "Summary",
    "Survey",
    "__version__",
    "check",
    "load",
    "read_config",
    "resume",
    "run",
    "survey",
]
_OFFERED = frozenset(__all__) - {"__version__"}


class _Package(ModuleType):
    """Keeps `gpost.survey` the call, though a folder of the package has the same name."""

    def __setattr__(self, name: str, value: Any) -> None:
        """What the import system binds under the name of a call stays in `sys.modules` alone."""
        if not (name in _OFFERED and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package


def __getattr__(name: str) -> Any:
    if name not in _OFFERED:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    found = getattr(import_module("gpost.calls"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *_OFFERED})
