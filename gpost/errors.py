"""The ways a run can fail; each class fixes its exit status, and nothing else is imported here."""

from __future__ import annotations


class GpostError(Exception):
    """A failure the potter can act on. The text is a sentence: what is wrong, where, what to do."""

    exit_status = 1


class SourceError(GpostError):
    """The sliced file can't be read safely: damaged, not G-code, or beyond what can be known ahead."""

    def __init__(self, text: str, *, line: int | None = None) -> None:
        """`line` is the 0-based source line; it is shown counted from 1."""
        self.line = line
        super().__init__(text if line is None else f"line {line + 1}: {text}")


class PlanError(GpostError):
    """The plan can't be carried out safely on this file; nothing was written."""

    finding = "plan"
    """The name under which `gpost check` finds it."""


class OddLayersError(PlanError):
    """A step asks for a layer where it can't be told what the layers are."""

    finding = "odd-layers"


class StepError(PlanError):
    """A step raised, or asked for something outside the file; names the step."""


class OutputError(GpostError):
    """The result can't be put where it was asked for."""


class WordsError(GpostError):
    """The file of the pages' words has a slip in it; names file, key, and the place in its sentence."""


class ClusterError(GpostError):
    """The cluster's scheduler or workers are gone or can't work; the files that are done stay done."""


class ConfigError(GpostError):
    """The config or the command line is wrong."""

    exit_status = 2
