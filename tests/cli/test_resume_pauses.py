"""`gpost resume` at a pause: what of it has been, and what is still to come."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import gpost
from gpost.demo.gcode import SliceStyle
from tests.cli.test_resume_checks import CONFIG as OF_TOWER
from tests.cli.test_resume_checks import rings, tower
from tests.cli.test_resume_command import CONFIG
from tests.reference.interpreter import run
from tests.resuming import resume, summary, tail, typed, vase_ran

ACCELERATION_MM_S2 = 500
"""gpost's own for a machine of which none is said."""


@pytest.fixture
def reminded(tmp_path: Path) -> Path:
    """A folder with the run of a vase that calls the potter three times."""
    config = CONFIG + "  - remind: {at_heights_mm: [12, 22, 40], how: pause, text: Look}\n"
    return vase_ran(tmp_path, config, SliceStyle())


def plain(lines: list[str]) -> list[str]:
    """Lines without comments, in which cartridges are counted."""
    return [line for line in lines if not line.startswith(";")]


def calls(job: Path, name: str) -> list[float]:
    """The heights at which a file calls the potter."""
    return [pause["height_mm"] for pause in summary(job, name)["pauses"] if pause["step"] == "remind"]


@pytest.mark.parametrize("call", [0, 1, 2])
@pytest.mark.parametrize("by", ["first line", "wait", "last line", "next line", "two moves on"])
def test_a_pause_that_has_been_is_not_repeated(reminded: Path, call: int, by: str) -> None:
    """Nor a few moves later, wherever behind its wait the print has stopped; later ones come."""
    whole = (reminded / "print.gcode").read_text().splitlines()
    first = [at for at, line in enumerate(whole, 1) if line.startswith("; gpost: remind: ")][call]
    last = next(at for at, line in enumerate(whole, 1) if at > first and line == "; gpost: remind ends")
    line = {
        "first line": first, "wait": whole.index("M0", first) + 1, "last line": last, "next line": last + 1,
        "two moves on": last + 3,
    }[by]  # fmt: skip
    result = resume(reminded, "--from-line", line)
    assert result.exit_code == 0, result.output
    due = by in ("first line", "wait")  # nobody has looked yet
    assert calls(reminded, "rest") == calls(reminded, "print")[call + 1 - due :]
    assert tail(reminded / "rest.gcode")[0].startswith("; gpost: remind: ") == due, "at once"
    words = " ".join(result.output.split())
    assert ("is not repeated (remind: Look" in words) == (by != "two moves on" and not due)


def test_a_pause_that_is_due_comes_whatever_is_asked_after_it(tmp_path: Path) -> None:
    """Behind earlier calls too, where one more step is asked after the one that calls."""
    config = CONFIG + "  - remind: {at_heights_mm: [12, 22, 40], how: pause, text: Look}\n  - tally\n"
    job = vase_ran(tmp_path, config, SliceStyle())
    whole = (job / "print.gcode").read_text().splitlines()
    starts = [at for at, line in enumerate(whole, 1) if line.startswith("; gpost: remind: ")]
    for call, first in enumerate(starts):
        for line in (first, whole.index("M0", first) + 1):
            result = resume(job, "--from-line", line, "--overwrite")
            assert result.exit_code == 0, result.output
            assert calls(job, "rest") == calls(job, "print")[call:]
            assert tail(job / "rest.gcode")[0].startswith("; gpost: remind: ")


@pytest.mark.parametrize(("step", "where"), [("remind", ""), ("refill", ""), ("swap", ""), ("swap", "where: exact, ")])
def test_by_the_clock_as_by_the_line_that_it_reaches(tmp_path: Path, step: str, where: str) -> None:
    """In a block of its own time nothing behind it is laid, and its pause has been once its wait has.

    How long the block takes up to its wait, and to its end, is added up line by line of the reference
    interpreter, each move from rest to rest: path / feed + feed / acceleration.
    """
    config = CONFIG.replace("swap: {", f"swap: {{{where}prime_ml: 3, ").replace("volume_ml: 90", "volume_ml: 34")
    config += "  - remind: {at_heights_mm: [12, 22, 40], how: pause, text: Look}\n"
    job = vase_ran(tmp_path, config, SliceStyle())
    text = (job / "print.gcode").read_text()
    lines = text.splitlines()
    first = next(at for at, line in enumerate(lines, 1) if line.startswith(f"; gpost: {step}: "))
    wait, last = lines.index("M0", first) + 1, lines.index(f"; gpost: {step} ends", first) + 1
    [pause] = [one for one in summary(job, "print")["pauses"] if one["output_line"] == first]
    wait_s, end_s = (pause["clock_s"] + at_rest_s(text, first, line) for line in (wait, last))
    for near, second in {
        first: pause["clock_s"] + 0.5, wait: wait_s - 0.5, wait + 1: wait_s + 0.5, last: end_s - 0.5
    }.items():  # fmt: skip
        by = {"line": near}, {"clock_s": second}
        found = [gpost.resume(job / "print.json", job / f"{n}.gcode", **of, overwrite=True).resume for n, of in enumerate(by)]
        assert tail(job / "1.gcode") == tail(job / "0.gcode"), (near, second)
        assert found[1].stops == found[0].stops
        by_line, by_clock = ([text for text in one.checks if "not repeated" in text] for one in found)
        assert by_clock == by_line
    gpost.resume(job / "print.json", job / "behind.gcode", clock_s=end_s + 0.5)
    behind = plain(tail(job / "behind.gcode"))
    assert len(plain(lines[last:])) - 8 <= len(behind) <= len(plain(lines[last:])), "in the first moves behind it"


def test_by_the_clock_in_the_opening_purge(reminded: Path) -> None:
    """Nothing stands then, as by a line of it."""
    text = (reminded / "print.gcode").read_text()
    [purge] = [at for at, line in enumerate(text.splitlines(), 1) if line == "; gpost: clay beside the piece: purge"]
    end = text.splitlines().index("; gpost: clay beside the piece ends") + 1
    for second in range(3, int(at_rest_s(text, purge, end)), 5):
        result = resume(reminded, "--from-clock", f"0:00:{second:02d}")
        assert "nothing stands of the piece there" in result.output


def at_rest_s(text: str, first: int, line: int) -> float:
    """The time from one line of a program until another, counted from 1, if each move begins and ends at rest."""
    seconds = 0.0
    for each in run(text.encode())[first - 1 : line - 1]:
        mm = each.path_mm or abs(each.e_metered_mm)
        if each.kind == "move" and mm:
            mm_s = each.feed_mm_min / 60
            seconds += mm / mm_s
            seconds += mm_s / ACCELERATION_MM_S2 if each.path_mm else 0.0
    return seconds


def test_a_pause_before_one_of_the_files_own_is_not_lost(tmp_path: Path) -> None:
    """A change of clay at a layer's start, where the file waits too: up to its own wait it comes, and the file's after it."""
    swap = "steps: [swap: {at_layer: 5, colour: blue, clear: purge, onto: park, prime_ml: 2}, "
    config = OF_TOWER.replace("line_ml: 12", "line_ml: 1").replace("steps: [", swap)
    job = tower(tmp_path, rings().replace("G0 Z10 F900\nG1", "M0\nG0 Z10 F900\nG1"), config)
    whole = (job / "print.gcode").read_text().splitlines()
    first = next(at for at, line in enumerate(whole, 1) if line.startswith("; gpost: swap: "))
    wait, end = whole.index("M0", first) + 1, whole.index("; gpost: swap ends") + 1
    assert whole[end] == "M0"
    for line, steps, number in (
        (first - 1, ["swap", ""], 1), (first, ["swap", ""], 1), (wait, ["swap", ""], 1), (wait + 1, [""], 2), (end, [""], 2), (end + 2, [], 2),
    ):  # fmt: skip
        assert resume(job, "--from-line", line, "--overwrite").exit_code == 0
        found = summary(job)
        assert [pause["step"] for pause in found["pauses"][1:]] == steps, line
        assert found["resume"]["cartridge"] == number
    assert resume(job, "--from-layer", 5, "--overwrite").exit_code == 0
    assert any("not repeated (swap: blue" in text for text in summary(job)["resume"]["checks"])


def test_a_pause_that_had_been_before_an_earlier_rest_was_told_with_that(tmp_path: Path) -> None:
    """At a second stop at the place it is no more due; where nobody has let the first rest go it is told again.

    What is to be said if it has not run out yet is taken: nothing of it has come in the file of that rest.
    """
    swap = "steps: [swap: {at_layer: 5, colour: blue, clear: purge, onto: park, prime_ml: 2}, "
    job = tower(tmp_path, rings(), OF_TOWER.replace("line_ml: 12", "line_ml: 1").replace("steps: [", swap))
    said = next(pause for pause in summary(job, "print")["pauses"] if pause["step"] == "swap")["message"]
    [load_ml] = re.findall(r"blue (\d+) ml", said)
    told = {}
    for of, name, where in (("print", "rest", ["--from-layer", 5]), ("rest", "second", ["--from-layer", 5]), ("rest", "anew", ["--from-line", 1])):
        assert resume(job, *where, of=of, name=name).exit_code == 0
        told[name] = [text for text in summary(job, name)["resume"]["checks"] if "not repeated (swap" in text]
    assert f"; {load_ml} ml to load, 2 ml to run out; if they have not been yet, say --came-ml 0 --run-out 2)" in told["rest"][0]
    assert told["second"] == []
    assert "; a cartridge to load, 2 ml to run out; if they have not been yet, say --run-out 2, and what is left" in told["anew"][0]
    assert resume(job, "--from-layer", 5, "--came-ml", 0, "--run-out", 2, "--overwrite").exit_code == 0
    assert resume(job, "--from-line", 1, "--run-out", 2, "--left-ml", load_ml, "--overwrite", of="rest", name="anew").exit_code == 0
    [both] = [text for text in summary(job, "anew")["resume"]["checks"] if "not repeated (swap" in text]
    assert "; a cartridge to load, 2 ml to run out; as you say, 2 ml are run out when it goes on)" in both


def test_behind_a_pause_the_knob_is_told_from_the_beginning_on(reminded: Path) -> None:
    """Not from before it: the clock of a rest begins with it."""
    whole = (reminded / "print.gcode").read_text().splitlines()
    end = whole.index("; gpost: remind ends") + 1
    assert resume(reminded, "--from-line", end).exit_code == 0
    assert summary(reminded)["knobs"][0]["from_s"] == 0


@pytest.mark.parametrize("more", [[], ["--rehearse"]])
def test_each_wait_stands_among_the_changes_at_its_clock(tmp_path: Path, more: list[str]) -> None:
    """Of a rest that begins where a pause has been, or is due, too; two at one place come one after the other."""
    swap = "steps: [swap: {at_layer: 5, colour: blue, clear: purge, onto: park, prime_ml: 2}, "
    job = tower(tmp_path, rings(), OF_TOWER.replace("line_ml: 12", "line_ml: 1").replace("steps: [", swap))
    whole = (job / "print.gcode").read_text().splitlines()
    first = next(at for at, line in enumerate(whole, 1) if line.startswith("; gpost: swap: "))
    for where, waits in ((["--from-line", first], 2), (["--from-layer", 5], 1), (["--from-layer", 6], 1)):
        assert resume(job, *where, *more, "--overwrite", name="rehearsal").exit_code == 0
        found = summary(job, "rehearsal")
        told = [(pause["step"], pause["output_line"], pause["clock_s"]) for pause in found["pauses"]]
        changed = [
            (change["step"], place["output_line"], place["clock_s"])
            for change in found["changes"] if change["kind"] == "pause" for place in change["where"]
        ]  # fmt: skip
        assert changed == told
        assert len(told) == (1 if more else waits)


def test_a_pause_that_is_still_due_comes(reminded: Path) -> None:
    """Stopped a move before it."""
    whole = (reminded / "print.gcode").read_text().splitlines()
    first = next(at for at, line in enumerate(whole, 1) if line.startswith("; gpost: remind: "))
    assert resume(reminded, "--from-line", first - 1).exit_code == 0
    assert len(calls(reminded, "rest")) == 3
    assert plain(tail(reminded / "rest.gcode")[:3]) == plain(whole[first - 2 : first + 1]), "where it was"


@pytest.mark.parametrize("command", ["M0", "M0 look at it", "M25", "M600"])
@pytest.mark.parametrize("aside", [False, True])
def test_a_wait_of_the_file_itself_is_said(tmp_path: Path, command: str, aside: bool) -> None:
    """At it, or behind it and before any more is laid: what it was for is to be done now."""
    whole = vase_ran(tmp_path, CONFIG, SliceStyle())
    lines = (whole / "vase.gcode").read_text().splitlines()
    start = next(at for at, line in enumerate(lines) if at > len(lines) // 2 and line.startswith("G1 X"))
    z = [word for line in lines[:start] for word in line.split() if re.fullmatch(r"Z[\d.]+", word)][-1]
    own = ["G0 Z60", command, f"G0 {z}"] if aside else [command]
    (whole / "vase.gcode").write_text("\n".join([*lines[:start], *own, *lines[start:]]) + "\n")
    args = ("-c", whole / "studio.yaml", "-o", whole / "own.gcode", "--json", whole / "own.json")
    assert typed("run", whole / "vase.gcode", *args).exit_code == 0
    written = (whole / "own.gcode").read_text().splitlines()
    at = written.index(command) + 1  # counted from 1
    off, on, behind = written[at - 2], written[at], written[at + 1 :]
    assert (off, on) == ("M107", "M106 S102"), "the blower rests meanwhile"
    name = command.split()[0]
    near = (at - 1, at, at + 1, at + 2)
    for line, said in (*((line, True) for line in near), (at - 9, False), (at + 12, False)):
        result = resume(whole, "--from-line", line, of="own", name=f"from-{line}")
        assert result.exit_code == 0, result.output
        words = " ".join(result.output.split())
        assert (f"(the file's own {name}, line" in words and "do now what it was for" in words) == said
        assert tail(whole / f"from-{line}.gcode") == (behind if said else written[line - 1 :])
        assert on in (whole / f"from-{line}.gcode").read_text().split("; gpost: resume ends")[0]


@pytest.mark.parametrize("step", ["swap", "refill"])
def test_a_change_of_cartridge_has_been_once_its_wait_has(tmp_path: Path, step: str) -> None:
    """Up to its wait it is due and comes whole, with its run-out; behind it it is told what may be missing."""
    config = CONFIG.replace("swap: {", "swap: {prime_ml: 3, ").replace("volume_ml: 90", "volume_ml: 34")
    whole = vase_ran(tmp_path, config, SliceStyle())
    lines = (whole / "print.gcode").read_text().splitlines()
    first = next(at for at, line in enumerate(lines, 1) if line.startswith(f"; gpost: {step}: "))
    wait, prime_ml = lines.index("M0", first) + 1, {"swap": 3, "refill": 4}[step]
    last = lines.index(f"; gpost: {step} ends", first) + 1
    changes = [pause for pause in summary(whole, "print")["pauses"] if pause["output_line"] >= first]
    assert changes[0]["step"] == step
    cartridge = next(one for one in summary(whole, "print")["cartridges"] if one["number"] == changes[0]["cartridge"])
    load_ml = round(cartridge["to_load_ml"])
    for line in range(first, last + 1):
        result = resume(whole, "--from-line", line, name=f"from-{line}")
        assert result.exit_code == 0, result.output
        rest, words = summary(whole, f"from-{line}"), " ".join(result.output.split())
        due = line <= wait
        assert plain(tail(whole / f"from-{line}.gcode")) == plain(lines[(first - 1 if due else last) :])
        assert rest["resume"]["cartridge"] == changes[0]["cartridge"] - due
        assert len(rest["pauses"]) - 1 == len(changes) - (not due)
        told = f"{load_ml} ml to load, {prime_ml} ml to run out; if they have not been yet, say --came-ml 0 --run-out"
        assert (told in words) == (not due)
        for of in ("print", f"from-{line}"):
            assert resume(whole, "--from-layer", 24, "--overwrite", of=of, name=f"last-{of}").exit_code == 0
        twice, once = summary(whole, f"last-from-{line}"), summary(whole, "last-print")
        assert tail(whole / f"last-from-{line}.gcode") == tail(whole / "last-print.gcode")
        assert twice["resume"]["stops"][-1] == once["resume"]["stops"][-1]


@pytest.mark.parametrize("by", ["first line", "wait"])
def test_a_swap_that_a_refill_has_joined_comes_where_it_is(tmp_path: Path, by: str) -> None:
    """Its cartridge has nothing left for the place at which its own clay would want it."""
    job = vase_ran(tmp_path, CONFIG.replace("volume_ml: 90", "volume_ml: 38"), SliceStyle())
    whole = (job / "print.gcode").read_text().splitlines()
    first = next(at for at, line in enumerate(whole, 1) if line.startswith("; gpost: swap: "))
    assert whole[first - 1].endswith("joined with the refill that is due there")
    result = resume(job, "--from-line", first if by == "first line" else whole.index("M0", first) + 1)
    assert result.exit_code == 0, result.output
    assert tail(job / "rest.gcode")[0] == whole[first - 1]
    loads = [[one["load_ml"] for one in summary(job, name)["cartridges"][1:]] for name in ("print", "rest")]
    assert loads[0] == loads[1]


@pytest.mark.parametrize("has_been", [False, True])
def test_a_refill_says_the_cartridge_that_it_said(tmp_path: Path, has_been: bool) -> None:
    """Wherever a cartridge is due, or has been, when it stops: the rest ends as the print does, in words too."""
    config = CONFIG.replace("volume_ml: 90, reserve_ml: 10, line_ml: 12", "volume_ml: 23, reserve_ml: 2, line_ml: 6")
    job = vase_ran(tmp_path, config, SliceStyle())
    whole = (job / "print.gcode").read_text().splitlines()
    changes = [pause for pause in summary(job, "print")["pauses"] if pause["new_cartridge"]]
    assert [pause["step"] for pause in changes] == ["refill", "swap", "refill"]
    for been, pause in enumerate(changes, has_been):
        first = pause["output_line"]
        ends = whole.index(f"; gpost: {pause['step']} ends", first) + 1
        result = resume(job, "--from-line", ends if has_been else first, "--overwrite")
        assert result.exit_code == 0, result.output
        assert tail(job / "rest.gcode") == whole[ends if has_been else first - 1 :]
        to_come = [later["reason"] for later in summary(job)["pauses"][1:]]
        assert to_come == [later["reason"] for later in changes[been:]]


@pytest.mark.parametrize("style", [SliceStyle(), SliceStyle(relative_e=True), SliceStyle(relative_axes=True, inches=True, decimals=4)])
@pytest.mark.parametrize("again", [False, True])
def test_a_swap_inside_a_move_has_been_once_its_wait_has(tmp_path: Path, style: SliceStyle, again: bool) -> None:
    """Nothing of the split move is laid twice: the rest begins where its first part ends, in a rest too."""
    config = CONFIG.replace("swap: {", "swap: {where: exact, prime_ml: 3, ").replace("volume_ml: 90", "volume_ml: 60")
    job, of = vase_ran(tmp_path, config, style), "print"
    whole = (job / "print.gcode").read_text().splitlines()
    if again:
        assert resume(job, "--from-layer", 3, name="once").exit_code == 0
        of = "once"
    lines = (job / f"{of}.gcode").read_text().splitlines()
    first = next(at for at, line in enumerate(lines, 1) if line.startswith("; gpost: swap: "))
    assert (lines[first - 2], lines[first - 2].split()[0]) == (whole[whole.index(lines[first - 1]) - 1], "G1"), "split"
    wait, last = lines.index("M0", first) + 1, lines.index("; gpost: swap ends", first) + 1
    on = next(pause["cartridge"] for pause in summary(job, of)["pauses"] if pause["step"] == "swap")
    for line in range(first, last + 2):
        result = resume(job, "--from-line", line, "--overwrite", of=of)
        assert result.exit_code == 0, result.output
        rest, due = summary(job), line <= wait
        assert plain(tail(job / "rest.gcode")) == plain(lines[(first - 1 if due else last) :])
        assert rest["resume"]["cartridge"] == on - due
        assert [pause["step"] for pause in rest["pauses"][1:]].count("swap") == due
        assert ("is not repeated (swap: " in " ".join(result.output.split())) == (not due)
        assert (rest["resume"]["gap_mm"], rest["resume"]["overlap_mm"]) == (0, 0)
    assert resume(job, "--from-line", last + 2, "--overwrite", of=of).exit_code == 0
    assert plain(tail(job / "rest.gcode")) == plain(lines[last + 1 :])
