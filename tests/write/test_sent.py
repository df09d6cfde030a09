"""The tally of commands that are sent."""

from __future__ import annotations

from gpost.write.sent import Sent, SentCommand, SentTally

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
