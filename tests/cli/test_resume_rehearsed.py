"""`gpost resume --rehearse`: where it ends, and that its text and page say what it is."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from gpost.words import say
from tests.cli.test_resume_checks import CONFIG, checks, ok, rings, tower
from tests.cli.test_resume_page import plain
from tests.reference.interpreter import Machine
from tests.reference.state import Event
from tests.resuming import resume, summary, typed

HEIGHT_MM = 20.0
"""Of the tower: ten layers of 2 mm."""


def rehearsed(folder: Path, *args: object) -> None:
    """A rehearsal in the folder, with its page and its text."""
    beside = ("--page", folder / "page.html", "--summary", folder / "text.txt")
    ok(resume(folder, *args, "--rehearse", *beside, name="rehearsal"))


def moves(folder: Path, *names: str) -> list[list[Event]]:
    """The moves of the print and of these files after it, of one machine that runs them one after the other."""
    machine, found = Machine(), []
    for name in ("print", *names):
        events = machine.run((folder / f"{name}.gcode").read_bytes())
        found.append([e for e in events if e.kind == "move" and e.path_mm > 0])
    return found[1:]


def stands_below_mm(folder: Path, name: str) -> float:
    """How high the nozzle may stand, as a page says it."""
    said = re.search(r"The nozzle stands at ([\d.]+) mm at most", checks(folder, name))
    assert said is not None
    return float(said[1])


@pytest.mark.parametrize("ceiling_mm", [40, 300])
@pytest.mark.parametrize("layer", [2, 5, 10])
@pytest.mark.parametrize("more", [[], ["--nozzle-below", 22]])
def test_the_rest_begins_where_its_rehearsal_ends(
    tmp_path: Path, ceiling_mm: int, layer: int, more: list[object]
) -> None:
    """One machine runs both, as the interpreter has it: it stays under the ceiling, clear of the wall.

    It never comes down but over the place: 2 mm are clear, as elsewhere.
    """
    folder = tower(tmp_path, rings(), CONFIG.replace("ceiling_mm: 300", f"ceiling_mm: {ceiling_mm}"))
    where = ("--from-layer", layer, *more)
    rehearsed(folder, *where)
    ok(resume(folder, *where))
    look, rest = moves(folder, "rehearsal", "rest")
    top_mm, end = 2.0 * (layer - 1), look[-1].end_mm
    assert end[:2] == pytest.approx((130, 130))
    assert top_mm + 2 <= end[2] <= top_mm + 90
    for name in ("rehearsal", "rest"):
        assert end[2] <= stands_below_mm(folder, name) + 0.05
    assert max(e.end_mm[2] for e in [*look, *rest]) <= ceiling_mm
    up = next(at for at, e in enumerate(rest) if e.end_mm[:2] != e.start_mm[:2])
    assert up >= 1
    assert all(e.end_mm[2] >= e.start_mm[2] for e in rest[:up])


@pytest.mark.parametrize(
    ("homes", "args"),
    [
        ("none", []), ("none", ["--nozzle-below", 22]), ("xy", ["--lost", "all"]),
        ("none", ["--lost", "z"]), ("none", ["--lost", "all"]), ("none", ["--lost", "z", "--set-on", "bed"]),
        ("all_up", []), ("all_up", ["--lost", "all"]), ("none", ["--run-out", 3, "--left-ml", 60]), ("all_up", ["--run-out", 3, "--left-ml", 60]),
    ],
)  # fmt: skip
@pytest.mark.parametrize("layer", [2, 9])
def test_a_rehearsal_goes_the_way_of_its_rest(tmp_path: Path, homes: str, layer: int, args: list[object]) -> None:
    """Move by move until it stands over the place: what is in the way of the one is in the way of the other."""
    up = "home_with_piece: all_up\n  home: {z_mm: 290}" if homes == "all_up" else f"home_with_piece: {homes}"
    folder = tower(tmp_path, rings(), CONFIG.replace("ceiling_mm: 300", f"ceiling_mm: 300\n  {up}"))
    where = ("--from-layer", layer, *args)
    rehearsed(folder, *where)
    ok(resume(folder, *where))
    [look], [rest] = moves(folder, "rehearsal"), moves(folder, "rest")
    parked = next(at for at, e in enumerate(rest) if e.end_mm[:2] == pytest.approx((15, 15)))
    over = next(at for at, e in enumerate(rest) if at > parked and e.end_mm[:2] == pytest.approx((130, 130)))
    assert [e.end_mm for e in look[: over + 1]] == [e.end_mm for e in rest[: over + 1]]
    assert all(e.end_mm[:2] == e.start_mm[:2] for e in look[over + 1 :]), "straight up or down over the place"
    assert look[-1].end_mm[2] > 2.0 * (layer - 1) + 2


@pytest.mark.parametrize(("layers", "stands_mm"), [((3, 5, 7, 9), [20, 20, 22, 26]), ((5, 5, 5), [20, 30, 40]), ((3, 7, 7), [20, 22, 32])])
def test_a_start_that_was_laid_on_lifts_no_later_one(tmp_path: Path, layers: tuple[int, ...], stands_mm: list[float]) -> None:
    """The nozzle has come down to lay: it is at the top of 20 mm at most, or a lift of 10 mm over the place.

    Where it may still be on its way, it stands a lift higher.
    """
    folder, of = tower(tmp_path, rings()), "print"
    for number, layer in enumerate(layers):
        ok(resume(folder, "--from-layer", layer, of=of, name=f"rest{number}"))
        of = f"rest{number}"
    assert [stands_below_mm(folder, f"rest{number}") for number in range(len(layers))] == stands_mm


def test_no_rehearsal_ends_on_the_rim(tmp_path: Path) -> None:
    """Where the nozzle is said to stand no higher than the top, what to say is told."""
    folder = tower(tmp_path, rings())
    where = ("--from-layer", 5, "--nozzle-below")
    ok(resume(folder, *where, 8))
    result = resume(folder, *where, 8, "--rehearse", name="rehearsal")
    assert result.exit_code == 1
    assert "say --nozzle-below 10 or more, for both" in " ".join(result.output.split())
    ok(resume(folder, *where, 10, "--rehearse", name="rehearsal"))


def test_where_the_nozzle_is_set_it_is_set_again(tmp_path: Path) -> None:
    """Its rest begins with the tip on the rim, as the rehearsal does."""
    folder = tower(tmp_path, rings())
    rehearsed(folder, "--from-layer", 5, "--lost", "z")
    assert "for the rest the nozzle is set anew" in checks(folder, "rehearsal")
    assert "may begin from there" not in checks(folder, "rehearsal")


def test_the_text_says_that_it_is_a_rehearsal(tmp_path: Path) -> None:
    """It comes first; of clay, of what to take off and of a card there is nothing."""
    folder = tower(tmp_path, rings())
    rehearsed(folder, "--from-layer", 5)
    text = " ".join((folder / "text.txt").read_text("utf-8").split())
    assert "This is a REHEARSAL of the way to where the print goes on, in layer 5: load no clay." in text
    assert "ends above the place, at 20.0 mm" in text
    wrong = ["ml of clay", "the rest of a stopped print", "Take off", "Before you start", "While it prints", "[ ]"]
    wrong += ["When it is done", "Card for the print", "ploughs", "score", "h of machine time"]
    assert [words for words in wrong if words in text] == []


def test_the_page_says_that_it_is_a_rehearsal(tmp_path: Path) -> None:
    """Its list is that before it is let go; nothing is laid, weighed or taken off."""
    folder = tower(tmp_path, rings())
    rehearsed(folder, "--from-layer", 5)
    html = (folder / "page.html").read_text("utf-8")
    body = plain(html[html.index("<body>") : html.index('<script type="application/json"')])
    assert "This is a rehearsal of the way to where the print goes on, in layer 5: no clay." in body
    wrong = ["The rest of a stopped print", "To print:", "ml of clay", "Take it off", "Lift it off", "Take off"]
    wrong += [say("page.to_fill"), say("ticks.first_layer"), say("ticks.next_slab"), say("page.load") + " "]
    assert [words for words in wrong if words in body] == []
    assert "Before you let it go" in body


@pytest.mark.parametrize("command", ["resume", "log"])
def test_its_summary_is_none_of_a_print(tmp_path: Path, command: str) -> None:
    """It is neither gone on with nor logged: nothing has been laid."""
    folder = tower(tmp_path, rings())
    rehearsed(folder, "--from-layer", 5)
    if command == "resume":
        result = resume(folder, "--from-layer", 7, of="rehearsal", name="second")
    else:
        log = ("--log", folder / "log.db", "-c", folder / "studio.yaml", "--grams", 100)
        result = typed("log", "add", folder / "rehearsal.json", *log)
    assert result.exit_code != 0
    assert "rehearsal" in result.output


def test_what_it_changes_is_what_stands_in_it(tmp_path: Path) -> None:
    """A wait, and a way: no pause, no blower and no higher top of the rest."""
    more = "fan: {bands: [{from_layer: 1, level_percent: 40}]}, remind: {at_heights_mm: [15], how: pause, text: Look}"
    steps = CONFIG.replace("steps: [cold: {move_cold: true}]", f"steps: [cold: {{move_cold: true}}, {more}]")
    folder = tower(tmp_path, rings(), steps)
    rehearsed(folder, "--from-layer", 5, "--shift", 8.3)
    ok(resume(folder, "--from-layer", 5, "--shift", 8.3))
    [change] = summary(folder, "rehearsal")["changes"]
    assert (change["step"], change["kind"], change["count"]) == ("resume", "pause", 1)
    assert len(summary(folder)["changes"]) > 3


def test_its_numbers_are_those_of_no_clay(tmp_path: Path) -> None:
    """As those of a whole job's rehearsal."""
    folder = tower(tmp_path, rings())
    rehearsed(folder, "--from-layer", 5)
    said: dict[str, Any] = summary(folder, "rehearsal")
    nothing = ("cartridges", "clays", "weighings", "knobs", "colours", "shares", "edges")
    assert {key: said[key] for key in nothing} == {key: [] for key in nothing}
    assert (said["clay_ml"], said["time_s"], said["layer_table"], said["metering"]) == (0, 0, None, None)
    assert said["ticks"] == {"before": [], "during": [], "after": []}
    assert said["resume"]["look_mm"] == HEIGHT_MM
    assert len(said["pauses"]) == 1
