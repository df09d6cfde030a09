"""What a blower is switched by: `on` lets it blow, `off` stops it.

M7 and M8 let air or mist blow, M9 stops it (NISTIR 6556, section 3.6.4). M106 lets a blower blow as hard as its S says,
or as hard as it can, M107 stops it; what a pin does is the studio's to say: common practice, no source.
"""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from gpost.config.machine import AirCommands


@pytest.mark.parametrize(
    ("on", "off"),
    [
        ("M106 S<level>", "M107"),
        ("M106 S<level>", "M106 S0"),
        ("M106 P1 S<level>", "M106 P1 S0"),
        ("M106", "M107"),
        ("M106 S255", "M106 S0"),
        ("M7", "M9"),
        ("M8", "M09"),
        ("M42 P4 S<level>", "M42 P4 S0"),
        # a relay that is on when its pin is low
        ("M42 P4 S0", "M42 P4 S1"),
        # another pin
        ("M42 P4 S<level>", "M42 P5 S1"),
        ("AIR V=<level>", "AIR V=0"),
    ],
)
def test_a_blower_that_can_be_switched_on_and_off_is_taken(on: str, off: str) -> None:
    """By code, by pin, or by name."""
    assert AirCommands(on=on, off=off).off == off


@pytest.mark.parametrize(
    ("on", "off", "said"),
    [
        ("M107", "M106", "it stops a blower"),
        ("M106 S0", "M107", "it stops a blower"),
        ("m9", "M7", "it stops a blower"),
        ("M106 S<level>", "M106", "it lets a blower blow"),
        ("M106 S<level>", "M106 S255", "it lets a blower blow"),
        ("M106 P1 S<level>", "m106p1s.5", "it lets a blower blow"),
        ("M7", "M8", "it lets a blower blow"),
        ("M42 P4 S<level>", "M42 S1 P4", "blows at `off`, M42 S1 P4, as at `on`"),
        ("M42 P4 S1", "M42  P4 S1", "blows at `off`, M42  P4 S1, as at `on`"),
        ("AIR_ON", "air_on", "blows at `off`, air_on, as at `on`"),
    ],
)
def test_one_that_is_swapped_or_never_off_is_refused(on: str, off: str, said: str) -> None:
    """It would blow on the base, and while the machine waits."""
    with pytest.raises(ValidationError, match=said):
        AirCommands(on=on, off=off)
