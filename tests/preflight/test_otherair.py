"""Air of the file that isn't the studio's blower.

P of M106 stands for which blower, and S for how hard it blows: common practice, no source. M7 and M8 let mist and flood
flow, air on these machines, until M9 (NISTIR 6556, section 3.6.4).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import pytest
from gpost_plugins.fan import Fan, FanSettings

from gpost.api import Intention, Plan, Settings, Silence, Step, Survey
from gpost.preflight.model import Finding

Check = Callable[..., dict[str, Finding]]
Pot = Callable[..., str]
FAN = [Fan(FanSettings())]
FAN_1 = {"on": "M106 P1 S<level>", "off": "M106 P1 S0"}
AIR_7 = {"on": "M7", "off": "M9"}
START = ("G28", "G90", "M83")


def machine(air: dict[str, str]) -> dict[str, Any]:
    """A studio that switches its blower so, and allows all that it says."""
    return {"machine": {"air": air, "allow_commands": [*air.values()] if air == AIR_7 else []}}


@pytest.mark.parametrize(
    ("lines", "air", "said"),
    [
        (["M106 P1 S200"], {}, "lets a blower blow by M106 P1, which is taken out, and the step fan sets another"),
        (["M106 P1"], {}, "by M106 P1,"),
        (["M106 S9 P3", "M106 P1 S200"], {}, "by M106 P1 and M106 P3,"),
        (["M106 P2 S200"], FAN_1, "sets another, by M106 P1 S<level> (`machine: air`)"),
        (["M7"], {}, "lets air blow by M7, and the step fan sets another blower, by M106 S<level>"),
        (["M8", "M9", "M7"], {}, "by M7 and M8,"),
        (["M8"], AIR_7, "lets air blow by M8, and the step fan sets another blower, by M7"),
    ],
)
def test_air_that_is_another_is_told(
    check: Check, pot: Pot, lines: list[str], air: dict[str, str], said: str
) -> None:
    """With the first line, both commands, and what to do."""
    finding = check(pot(start=(*START, *lines)), machine(air), FAN)["other-air"]
    assert (finding.severity, finding.line) == ("warning", 3)
    assert finding.count == sum(not line.startswith("M9") for line in lines)
    assert said in finding.text


@pytest.mark.parametrize(
    ("lines", "air"),
    [
        (["M106 P1 S200", "M106 P1 S0"], FAN_1),
        (["M106 S200", "M107"], {}),
        (["M106 P0 S200"], {}),
        # switched off, as some files begin
        (["M106 P1 S0", "M107 P1"], {}),
        (["M9"], {}),
        (["M7", "M9"], AIR_7),
        # what every sliced file has, where the studio's blower has another number
        (["M106 S200"], FAN_1),
    ],
)
def test_the_studio_s_own_air_and_air_that_is_off_are_not(
    check: Check, pot: Pot, lines: list[str], air: dict[str, str]
) -> None:
    """Nothing blows that isn't the studio's, or that it doesn't set."""
    assert "other-air" not in check(pot(start=(*START, *lines)), machine(air), FAN)


@pytest.mark.parametrize("line", ["M106 P1 S200", "M7"])
def test_where_no_step_sets_a_blower_the_file_s_is_its_own(check: Check, pot: Pot, line: str) -> None:
    """It blows as it was sliced."""
    assert "other-air" not in check(pot(start=(*START, line)))


class NoMist(Step[Settings]):
    """Takes the file's mist out."""

    name = "no_mist"
    Settings = Settings

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One line."""
        return [Silence(np.array([3]), "no mist")]


def test_what_a_step_takes_out_is_left_in_no_more(check: Check, pot: Pot) -> None:
    """Nothing of it blows."""
    assert "other-air" not in check(pot(start=(*START, "M7")), steps=[*FAN, NoMist(Settings())])
