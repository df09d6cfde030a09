"""Which commands may be inserted or taken out: those that no later line depends on."""

from __future__ import annotations

import pytest

from gpost.config.model import Machine
from gpost.errors import PlanError
from gpost.write.harmless import refuse_followed


@pytest.mark.parametrize(
    "code",
    ["M0", "M0 Load clay", "M25", "M84 S0", "M106 S128", "M107", "M117", "M300 S440 P200", "M302 P1", "G4 S1", "M400",
     "M42 P4 S1", "SET_AIR AT=air VALUE=1", "M600 X10", "M109 T0 S0"],
)  # fmt: skip
def test_commands_that_change_nothing_may_be_sent(code: str) -> None:
    """Waits, messages, beeps, pins, dwell."""
    refuse_followed(code, Machine())


@pytest.mark.parametrize(
    "code",
    ["G0 X5", "G1 F900", "X5", "G28", "G92 E0", "G90", "G91", "G20", "G17", "M82", "M83", "M220 S50", "M221 S50",
     "M101", "M103", "T1", "F900", "M84", "M18", "G10", "G2 I5", "M6 T1", "T1 M6", "M6T1"],
)  # fmt: skip
def test_commands_that_later_lines_depend_on_are_refused(code: str) -> None:
    """Moves, modes, factors, tools, feeds, motors off: the sentence names the command."""
    with pytest.raises(PlanError, match=f"the command '{code}' can't be inserted"):
        refuse_followed(code, Machine())


@pytest.mark.parametrize("code", ["M2", "m02", "M30", "M300 M30", "M0 M30", "M112"])
def test_commands_that_end_the_program_are_refused(code: str) -> None:
    """M2 and M30 are ends of program (NIST RS274/NGC, section 3.6.1): nothing after them is done."""
    with pytest.raises(PlanError, match=rf"'{code}' can't be inserted: it ends the program"):
        refuse_followed(code, Machine())


@pytest.mark.parametrize("code", ["M117 M2", "M300", "M6", "M1", "M60"])
def test_commands_that_only_look_like_an_end(code: str) -> None:
    """A text that is shown, a beep, waits: they end nothing."""
    refuse_followed(code, Machine())


@pytest.mark.parametrize("code", ["#1=5", "G1 X[1+2]", "M98 P5", "M117 é", "G55", "M104 S1.2.3"])
def test_commands_that_cannot_be_read_are_refused(code: str) -> None:
    """What gpost can't follow it doesn't send, and says so."""
    with pytest.raises(PlanError, match=r"can't be (sent|inserted)"):
        refuse_followed(code, Machine())


@pytest.mark.parametrize("code", ["N5 M300", "N5 M117 x", "O12", "O0012"])
def test_a_line_s_number_and_a_program_s_name_are_the_file_s_own(code: str) -> None:
    """What is inserted has the numbers that the output gives it."""
    with pytest.raises(PlanError, match=f"'{code}' can't be"):
        refuse_followed(code, Machine())
