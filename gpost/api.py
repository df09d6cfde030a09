"""All that a step of your own may import; what is not here may change without a word."""

from gpost.config.model import Config
from gpost.config.settings import MachineCommand, NotNegative, Percent, PlainText, Positive, Settings, Share
from gpost.errors import GpostError, OddLayersError, PlanError
from gpost.plan.intentions import (
    Air,
    AirInPause,
    Ban,
    Bearing,
    Command,
    Ground,
    Intention,
    LayClay,
    LeastLayerTime,
    MovePause,
    Note,
    Pause,
    Say,
    ScaleFeed,
    ScaleFlow,
    Shift,
    Silence,
    SilencePush,
    Stroke,
    Wait,
)
from gpost.plan.plan import Plan
from gpost.spot import Spot
from gpost.steps.hookspecs import hookimpl
from gpost.steps.step import VERSION, Step
from gpost.survey.model import Survey

__all__ = [
    "VERSION",
    "Air",
    "AirInPause",
    "Ban",
    "Bearing",
    "Command",
    "Config",
    "GpostError",
    "Ground",
    "Intention",
    "LayClay",
    "LeastLayerTime",
    "MachineCommand",
    "MovePause",
    "NotNegative",
    "Note",
    "OddLayersError",
    "Pause",
    "Percent",
    "PlainText",
    "Plan",
    "PlanError",
    "Positive",
    "Say",
    "ScaleFeed",
    "ScaleFlow",
    "Settings",
    "Share",
    "Shift",
    "Silence",
    "SilencePush",
    "Spot",
    "Step",
    "Stroke",
    "Survey",
    "Wait",
    "hookimpl",
]
