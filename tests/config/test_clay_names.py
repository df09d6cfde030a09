"""Names of clays have something that can be read out."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from gpost.config.model import Config
from gpost.steps.manager import build_manager

NAMELESS = ["", " ", "   ", "-", "\u00a0"]


@pytest.mark.parametrize("name", NAMELESS)
@pytest.mark.parametrize(
    "config",
    [
        lambda name: {"clay": {"colour": name}},
        lambda name: {"clays": [{"name": name}]},
        lambda name: {"clays": [{"name": "blue", "stains": [{"name": name, "percent": 1}]}]},
        lambda name: {"colours": {"bands": [{"clay": name}]}},
        lambda name: {"colours": {"bands": [{"blend": ["white", name]}]}},
        lambda name: {"colours": {"bands": [{"clay": "white"}], "line_holds": name}},
    ],
)
def test_a_name_of_blanks_is_refused(config: Any, name: str) -> None:
    """Everywhere in a config; a letter of any script, or a figure, will do."""
    with pytest.raises(ValidationError, match=r"is one line of printable|has a letter or a figure in it"):
        Config.model_validate(config(name))
    for other in ("blue", "7", "\u9752", " blue "):
        Config.model_validate(config(other))


@pytest.mark.parametrize(("step", "key"), [("swap", "colour"), ("slab", "clay")])
def test_in_a_step_s_settings_too(step: str, key: str) -> None:
    """The clay of a swap, and of a slab."""
    settings = build_manager().load([step])[step].Settings
    field = settings.model_fields[key]
    assert field is not None
    with pytest.raises(ValidationError, match="has a letter or a figure in it"):
        settings.model_validate({key: " ", **({"at_layer": 3} if step == "swap" else {})})
