"""Where the file itself waits."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
import pytest

from gpost.api import Intention, Plan, Settings, Silence, Step, Survey
from gpost.preflight.model import Finding

Check = Callable[..., dict[str, Finding]]
Pot = Callable[..., str]


class Quiet(Step[Settings]):
    """Silences the first of the file's own pauses."""

    name = "quiet"
    Settings = Settings

    def plan(self, survey: Survey, plan: Plan) -> Iterable[Intention]:
        """One line."""
        return [Silence(np.array([plan.own_pauses[0].line]), "no waiting")]


def test_no_pause_no_word(check: Check, pot: Pot) -> None:
    """A message that names M0, a comment and a dwell are no pauses."""
    assert check(pot(end=["M117 M0", "; M0", "G4 P100", "M400"])) == {}


@pytest.mark.parametrize(
    ("end", "said"),
    [
        (["M0"], "by M0: line 14"),
        (["M1 Look", "M0"], "by M1, M0: lines 14 and 15"),
        (["M600", "M226 P2", "M25"], "by M600, M226, M25: lines 14, 15 and 16"),
        (["M0"] * 5, "by M0: lines 14, 15, 16, 17 and 18"),
        (["M0"] * 6, "by M0: lines 14, 15, 16, 17 and 2 more"),
    ],
)
def test_where_it_waits(check: Check, pot: Pot, end: list[str], said: str) -> None:
    """All are one note, at the first line, with the commands and the first lines."""
    (finding,) = check(pot(end=end)).values()
    assert (finding.name, finding.severity, finding.line) == ("own-pause", "note", 13)
    assert finding.count == len(end)
    assert finding.text == f"the file itself makes the machine wait for you, {said}"
    assert finding.sentence == finding.text


def test_what_a_step_silences_is_no_pause(check: Check, pot: Pot) -> None:
    """One of two is left, and then none."""
    assert check(pot(end=["M0", "M600"]), steps=[Quiet(Settings())])["own-pause"].line == 14
    assert check(pot(end=["M0"]), steps=[Quiet(Settings())]) == {}
