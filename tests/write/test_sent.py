"""The tally of commands that are sent."""

from __future__ import annotations

import pytest

from gpost.api import Ban, Config, Plan, PlanError
from gpost.testing import make_survey
from gpost.write.sent import Sender, Sent, SentCommand, SentTally

BEEP, SHOW = Sent("message", "M300"), Sent("message", "M117 <text>")


def test_commands_are_counted_with_their_first_line_and_their_steps() -> None:
    """Each once, in the order of their first lines, and each step once by its first."""
    tally = SentTally()
    tally.add("swap", 10, [(2, SHOW), (1, BEEP)])
    tally.add("refill", 20, [(0, BEEP), (3, BEEP)])
    tally.add("swap", 30, [(0, BEEP)])
    assert tally.commands == (
        SentCommand("message", "M300", 4, 11, ("swap", "refill")),
        SentCommand("message", "M117 <text>", 1, 12, ("swap",)),
    )


def test_nothing_sent_is_nothing() -> None:
    """No command, no line."""
    assert SentTally().commands == ()


def test_a_ban_rules_out_the_codes_it_names_and_no_other() -> None:
    """In the words of the step whose ban it is; the config's own commands are named by their key."""
    plan = Plan(make_survey(), Config()).adding("cold", [Ban(("M104",), "the clay is cold"), Ban(("M300",))])
    sender = Sender(plan)
    assert sender.sent("M117", "display") == Sent("message", "M117 <text>")
    with pytest.raises(PlanError, match=r"'M300 S1' can't be sent, as cold rules it out$"):
        sender.sent("M300 S1", "step")
    with pytest.raises(PlanError, match=r"'M300' \(machine.beep\) can't be sent, as cold rules it out$"):
        sender.sent("M300", "beep")
