"""Law: what is not free reaches no output without the studio's word, and all that is sent is counted."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Mapping
from typing import Any

from hypothesis import assume, event, given
from hypothesis import strategies as st

from gpost.errors import ConfigError, GpostError, PlanError, SourceError
from gpost.plan.intentions import Air, AirInPause, Command, Intention, Pause, Say
from gpost.spot import Spot
from tests.config_files import load_files
from tests.laws.test_state_restored import RIGHTLY_REFUSED, begun, count_lines, insertions
from tests.reference.commands import EXAMPLES, FREE, FREE_IN_PAUSE, TABLE
from tests.reference.programs import Draft, drafts

UNKNOWN = st.one_of(
    st.from_regex(r"[A-Z]{2,8}(_[A-Z]{2,5})?( [A-Z]+=[0-9]{1,3})?", fullmatch=True),
    st.from_regex(r"M[0-9]{1,4}( [A-Z][0-9]{1,3}){0,2}", fullmatch=True),
    st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=12).filter(
        lambda text: "." not in text
    ),
)
COMMANDS = st.one_of(st.sampled_from(EXAMPLES), st.sampled_from(EXAMPLES), st.sampled_from(TABLE), UNKNOWN)
PLACES = ("hold", "commands", "beep", "on", "off", "display", "step")
PIN = re.compile(r"M42 (?:S[0-9]+ )?P([0-9]+)(?![0-9])")
LAYS = re.compile(r"G[0-3]( [A-Z][-.0-9]+)*? [XYZE]")
"""A move; G0 to G3 without an axis are a feed or a mode."""


def said(put: Mapping[str, str], allowed: list[str]) -> dict[str, Any]:
    """What stands under `machine:`."""
    lists = {key: [put[key], "M0"] for key in ("hold", "commands") if key in put}
    found: dict[str, Any] = {"pause": lists} if lists else {}
    found |= {"beep": [put["beep"]]} if "beep" in put else {}
    found |= {"display": put["display"]} if "display" in put else {}
    air = {key: put[key] for key in ("on", "off") if key in put}
    return found | ({"air": air} if air else {}) | {"allow_commands": allowed}


def plainly(command: str) -> str:
    """The command in the plainest writing: capitals, a blank before each word, no leading zeros."""
    return re.sub(r"\s*([A-Z])0*(?=[0-9])", r" \1", command.upper()).strip()


def is_free(command: str, place: str, pins: set[str]) -> bool:
    """What may be sent from a place without a word, by the table in tests/reference; `pins`: of the air."""
    plain = plainly(command)
    everywhere = FREE.fullmatch(command) is not None or FREE.fullmatch(plain) is not None
    if place == "display":
        return everywhere or plain == "M117"
    if place in ("hold", "commands") and any(FREE_IN_PAUSE.fullmatch(text) for text in (command, plain)):
        return True
    pin = PIN.match(plain)
    return everywhere or bool(pin and pin[1] in pins)


def blocks(result: Any) -> list[tuple[int, str]]:
    """(output line from 1, text without number and checksum) of all that was inserted."""
    lines = result.output.decode("latin-1").split("\n")
    found = [n for first, last in result.written.places.values() for n in range(first, last + 1)]
    return [(n, re.sub(r"^N[0-9]+ |\*[0-9]+$", "", lines[n - 1].rstrip("\r"))) for n in sorted(found)]


def pattern(command: str) -> re.Pattern[str]:
    """What the summary's command stands for: in angle brackets is what differs from one time to the next."""
    parts = re.split(r" ?<(?:text|value|feed|level|milliseconds|seconds)>", command)
    return re.compile(".*".join(map(re.escape, parts)))


def check_counted(result: Any) -> None:
    """Every inserted line that is no comment and no move is counted once, and the first one is where it says."""
    lines = [
        (n, text) for n, text in blocks(result) if text and not text.startswith(";") and not LAYS.match(text)
    ]
    sent = result.written.sent
    assert sum(command.times for command in sent) == len(lines)
    by_line = dict(lines)
    for command in sent:
        assert pattern(command.command).fullmatch(by_line[command.first_line]), command
    told = Counter(
        next((c.command for c in sent if pattern(c.command).fullmatch(text)), text) for _, text in lines
    )
    assert set(told) <= {command.command for command in sent}


@given(draft=drafts(min_lines=6), data=st.data())
def test_all_that_is_sent_is_counted(rewrite: Any, draft: Draft, data: st.DataObject) -> None:
    """Whatever is inserted, in any program of any dialect."""
    program = begun(draft.program, b"G1 X0 Y0 Z0")
    spots = st.builds(Spot, st.integers(2, count_lines(program)))
    wishes = data.draw(st.lists(insertions(spots), min_size=1, max_size=4))
    check_counted(kept(rewrite, program, wishes, draft, {}))


@given(
    draft=drafts(min_lines=6),
    put=st.dictionaries(st.sampled_from(PLACES), COMMANDS, min_size=1),
    data=st.data(),
)
def test_what_is_not_free_takes_the_studio_s_word(
    rewrite: Any, draft: Draft, put: dict[str, str], data: st.DataObject
) -> None:
    """With commands of all kinds in every place, and the studio's word for some or none: config and step alike."""
    allowed = data.draw(st.lists(st.sampled_from([*put.values()]), unique=True, max_size=3))
    machine = said(put, allowed)
    try:
        load_files([("studio.yaml", json.dumps({"machine": machine}))])
    except ConfigError:
        event("refused when it is read")
        return
    pins = {pin[1] for pin in (PIN.match(plainly(put.get(key, ""))) for key in ("on", "off")) if pin}
    unfree = [
        c for place, c in put.items() if not is_free(c, place, pins) and c not in allowed and place != "step"
    ]
    assert [c for c in unfree if not any(c.upper().startswith(word.upper()) for word in allowed)] == []
    wishes: list[Intention] = [
        AirInPause(off=True), Air(Spot(2), 0.5), Say(Spot(3), "look"), Pause(Spot(4), "look", "why", "Look"),
    ]  # fmt: skip
    wishes += [Command(Spot(3), (put["step"],))] if "step" in put else []
    try:
        result = kept(rewrite, begun(draft.program, b"G1 X0 Y0 Z0"), wishes, draft, machine)
    except GpostError as error:
        assert isinstance(error, PlanError)
        event("refused when it is sent")
        return
    event("sent")
    if "step" in put and put["step"] not in allowed:
        assert is_free(put["step"], "step", pins) or any(
            put["step"].upper().startswith(w.upper()) for w in allowed
        )
    shown = {command.command: command.kind for command in result.written.sent}
    for place, command in put.items():
        name = f"{command} <text>" if place == "display" else command
        if name in shown and not is_free(command, place, pins):
            assert shown[name] in ("allowed", "message")
    check_counted(result)


def kept(rewrite: Any, program: bytes, wishes: list[Any], draft: Draft, machine: dict[str, Any]) -> Any:
    """The rewriting; no example where the file is rightly refused, or the pause for want of room."""
    try:
        return rewrite(program, wishes, dialect=draft.dialect, config={"machine": machine})
    except SourceError:
        assume(False)
    except PlanError as error:
        assume(not any(reason in str(error) for reason in RIGHTLY_REFUSED))
        raise
