"""Which commands a config or a step may have sent: a short list is free, all others need the studio's word.

What each code does is common practice, no source; that M0 and M1 wait: NISTIR 6556, section 3.6.1.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Literal, NamedTuple, TypeAlias

from gpost.common.later import later
from gpost.common.records import record
from gpost.config.settings import one_command

if TYPE_CHECKING:
    from gpost.config.model import Machine

CommandPlace: TypeAlias = Literal[
    "pause.hold",
    "pause.commands",
    "beep",
    "air.on",
    "air.off",
    "auger.on",
    "auger.off",
    "display",
    "step",
    "wait",
    "first",
]
"""Where a command stands: a key under `machine:`, a step's own command, the dwell of a step's `Wait`, or what
a trial sends first."""
Kind: TypeAlias = Literal[
    "wait",
    "hold",
    "beep",
    "air",
    "cold",
    "dwell",
    "message",
    "allowed",
    "clay",
    "register",
    "feed",
    "mode",
    "home",
    "set-up",
]
"""What a command is for: seven kinds that are free; `allowed`, by the studio's word alone; what is gpost's
own: clay on or off, the E register, the feed, the motion mode. Where a stopped print goes on: homing, by the
studio's word, and what the file set the machine up with."""

LEVEL = "<level>"
"""Stands in `air.on` for the blower's level, in `auger.on` for the number that the file says."""
IN_PAUSE: tuple[CommandPlace, ...] = ("pause.hold", "pause.commands")
"""What these say is the studio's alone. What waits is free in them only: elsewhere the nozzle would stand on
the wall, and nobody be told when to come."""
OF_AUGER: tuple[CommandPlace, ...] = ("auger.on", "auger.off")
"""What these say is sent to stop what the file itself has switched on, and to give that back."""


@record(frozen=True, slots=True)
class Free:
    """Commands that may be sent from any config, with the words that may stand behind them, and why."""

    kind: Kind
    codes: tuple[str, ...]
    why: str
    words: str = ""
    """Letters that may stand behind the code, each once with a number that is not below 0."""
    needed: str = ""
    """Those of them that must."""
    text: bool = False
    """Instead of words a text without digits may follow, in which nothing can act."""
    of_pins: Literal["", "air", "auger"] = ""
    """P must be a pin by which the studio switches that."""
    places: tuple[CommandPlace, ...] = ()
    """Where alone it is free; none: everywhere."""


FREE = (
    Free("wait", ("M0", "M1"), "stands still until somebody goes on", words="PS", text=True, places=IN_PAUSE),
    Free(
        "wait",
        ("M25",),
        "stops reading the file until somebody goes on; with P it would park by itself",
        places=IN_PAUSE,
    ),
    Free("wait", ("M226",), "waits for a knob or switch", words="PS", places=IN_PAUSE),
    Free(
        "hold",
        ("M84", "M18"),
        "says after how many seconds the motors let go; without S, at once",
        words="S",
        needed="S",
        places=IN_PAUSE,
    ),
    Free("beep", ("M300",), "beeps", words="PS"),
    Free("air", ("M106",), "sets a blower", words="PS"),
    Free("air", ("M107",), "switches a blower off", words="P"),
    Free("air", ("M42",), "switches the pin of the air", words="PS", needed="PS", of_pins="air"),
    Free("clay", ("M3", "M4", "M5"), "switches the auger", words="S", places=OF_AUGER),
    Free("clay", ("M101", "M103"), "switches clay on and off", places=OF_AUGER),
    Free("clay", ("M126", "M127"), "opens and closes a valve of clay", words="P", places=OF_AUGER),
    Free(
        "clay",
        ("M42",),
        "switches the pin of the auger",
        words="PS",
        needed="PS",
        of_pins="auger",
        places=OF_AUGER,
    ),
    Free("cold", ("M302",), "says how cold the extruder may move", words="PS"),
    Free("wait", ("G4",), "waits as long as a step says, and is counted", words="P", places=("wait",)),
    Free("dwell", ("G4",), "waits where a pause waits anyway", words="PS", places=IN_PAUSE),
    Free("message", ("M117",), "shows the text that gpost puts behind it", places=("display",)),
)
"""All that is free. Whoever adds to it: it may not move, set, store, heat, switch or write anything else."""
_OF_PAUSES = {
    code for free in FREE if free.kind in ("wait", "hold") and free.places == IN_PAUSE for code in free.codes
}
_DWELLS = frozenset({"G4"})
_HOLDS = frozenset({"M84", "M18"})
_STOPS = frozenset({"M0", "M1"})
_SWITCH = frozenset({"M3", "M4", "M5", "M7", "M8", "M9", "M17", "M18", "M42", "M84", "M104", "M106", "M107"})
_SWITCH |= frozenset({"M109", "M126", "M127", "M140", "M150", "M190", "M280"})
"""What switches or heats something; what waits for heat goes on by itself."""
_GO_ALONG = _SWITCH | {"M24", "M75", "M76", "M77", "M108", "M117", "M118", "M400"}
"""What may stand in a pause by the studio's word and waits for nobody: what lets go on, the clock of the job,
messages, a wait for moves to end, and what switches something. Common practice, no source."""
_MOVES = frozenset({"G0", "G1", "G2", "G3", "G5", "G10", "G11", "G28", "G29", "G30", "G38.2"})
_MODES = {"G17", "G18", "G19", "G20", "G21", "G53", "G54", "G80", "G90", "G91", "G92", "G92.1"}
_MODES |= {"G93", "G94", "G95", "M82", "M83", "M101", "M102", "M103", "M220", "M221"}

_NUMBER = rf"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+|{LEVEL})"
_CODE = later(r"([A-Za-z])([0-9]{1,9}(?:\.[0-9])?)(?![0-9.<])")
_NAME = later(r"[A-Za-z][A-Za-z_][^\s<]*")
_WORDS = later(rf"(?:[ \t]*[A-Za-z]{_NUMBER})*[ \t]*")
_WORD = later(rf"([A-Za-z])({_NUMBER})")
_TEXT = later(r"[ \t][A-Za-z .,:'_/-]+")
_TIMES = later(
    r"(?:[ \t]*[PSps][ \t]*\+?(?:[0-9]{1,9}(?:\.[0-9]*)?|\.[0-9]+)"
    r"(?![0-9.]|[A-OQRT-Za-oqrt-z]|[PSps](?![ \t]*\+?[.0-9])))+"
)
"""A time at the beginning of what stands behind M0 or M1; a text may follow it, but not glued to it."""
_HELD = later(rf"[Ss][ \t]*\+?({_NUMBER})")
_OWN_CODE = later(r"(?<![A-Za-z_./\"'=-])[GMTgmt][0-9]+(?:\.[0-9])?")
"""A code that stands for itself, and is no part of a name or a path."""
_NO_TIME = later(r"[Ss](?![ \t]*[+]?[ \t]*[.0-9])")
_PIN_MODE = later(r"[Mm][ \t]*[0-3](?![0-9.])")
"""Behind M42, how its pin is driven: a word of it, as in a file (gpost/motion/codes.py)."""
_SECOND_CODE = later(r"[GMNOgmno][ \t]*[-+.]?[ \t]*[0-9]")
_ANY_CODE = later(r"[GMT][0-9]+(?:\.[0-9])?")


class StudioWord(NamedTuple):
    """What the studio allows beside what is free."""

    commands: tuple[str, ...] = ()
    """A code or a name alone allows it with whatever words; with words behind it, just that."""
    pins: frozenset[int] = frozenset()
    """Pins that its air is switched by."""
    auger_pins: frozenset[int] = frozenset()
    """Pins that its auger is switched by."""


def studio_word(allow_commands: Iterable[str], air: Iterable[str], auger: Iterable[str] = ()) -> StudioWord:
    """From the studio's `allow_commands` and the commands of its `air` and its `auger`."""
    return StudioWord(tuple(allow_commands), _pins_of(air), _pins_of(auger))


def _pins_of(commands: Iterable[str]) -> frozenset[int]:
    pins = set()
    for command in commands:
        name, numbers = code_and_numbers(command) or ("", {})
        number = numbers.get("P", "") if name == "M42" else ""
        pins |= {int(number)} if number.isdigit() else set()
    return frozenset(pins)


def code_and_numbers(command: str) -> tuple[str, dict[str, str]] | None:
    """(code in capitals, the number behind each letter) of one code with plain words; None for all else."""
    name, rest = _parted(command)
    if not _CODE.match(command.strip()) or not _WORDS.fullmatch(rest):
        return None
    return name, {letter.upper(): number for letter, number in _WORD.findall(rest)}


def times_before_text(behind: str) -> dict[str, str]:
    """The number of each P and S that stands at once behind M0 or M1, where a text may follow.

    `S900 Look at the rim` goes on by itself after 900 s; `Spin 3 times` says no time. Common practice, no
    source.
    """
    said = _TIMES.match(behind)
    times = _WORD.findall("".join(said[0].replace("+", "").split())) if said else ()
    return {letter.upper(): number for letter, number in times}


def kind_of(command: str, place: CommandPlace, word: StudioWord) -> Kind | None:
    """What kind of command it is, if it may be sent from there; None if it may not."""
    name, rest = _parted(command)
    if place == "step" and instead(command):
        return None
    for free in FREE:
        here = name in free.codes and (not free.places or place in free.places)
        if here and _fits(rest, free, word, level=place in ("air.on", "auger.on")):
            return free.kind
    return "allowed" if any(covers(entry, command) for entry in word.commands) else None


def covers(entry: str, command: str) -> bool:
    """Whether an entry of `allow_commands` allows the command; blanks and the case of codes don't matter."""
    (allowed, words), (name, rest) = _parted(entry), _parted(command)
    if not name or allowed != name:
        return False
    if not words.strip():
        return not _SECOND_CODE.search(_PIN_MODE.sub("", rest, count=1) if name == "M42" else rest)
    one, other = " ".join(words.split()), " ".join(rest.split())
    return one.upper() == other.upper() if _CODE.match(entry.strip()) else one == other


def is_timed(command: str) -> bool:
    """Whether the machine stands still for a time that the command says, and then goes on by itself."""
    name, _ = _parted(command)
    return name in _DWELLS or stands_s(command, "seconds") > 0


def stands_s(command: str, dwell_p: str) -> float:
    """How long it makes the machine stand still before it goes on by itself, s; 0 if it doesn't do that.

    `dwell_p`: what P counts; S is seconds, and goes before it. G4: NIST RS274/NGC report, section 3.5.4. That
    M0 and M1 take a time too: common practice, no source.
    """
    name, behind = _parted(command)
    if name not in _DWELLS | _STOPS:
        return 0.0
    _, numbers = code_and_numbers(command) or (name, times_before_text(behind) if name in _STOPS else {})
    return seconds_of(numbers, dwell_p)


def seconds_of(numbers: Mapping[str, str], dwell_p: str) -> float:
    """How long the P and S of a command say, s; `dwell_p` and what goes before what as in `stands_s`."""
    if "S" in numbers:
        return float(numbers["S"])
    return float(numbers.get("P", "0")) / (1000 if dwell_p == "milliseconds" else 1)


def may_wait(command: str) -> bool:
    """Whether a command of a pause may make the machine wait until somebody goes on.

    What gpost doesn't know stands there by the studio's word, and may.
    """
    if is_timed(command) or kind_of(command, "pause.commands", StudioWord()) not in ("wait", None):
        return False
    return _parted(command)[0] in _STOPS or not _own_codes(command) & _GO_ALONG


def motors_held_s(command: str) -> float:
    """After how many seconds at rest a command has the motors let go; 0: never, or it says nothing of it.

    Common practice, no source.
    """
    name, behind = _parted(command)
    said = _HELD.search(behind) if name in _HOLDS else None
    return float(said[1]) if said else 0.0


def hold_unsaid(command: str) -> bool:
    """Whether a command that may let the motors go has an S without a time: no number, or one below 0."""
    name, behind = _parted(command)
    return name in _HOLDS and _NO_TIME.search(behind) is not None


def goes_on_at_once(commands: Iterable[str]) -> str:
    """The M24 that has the file read on where an M25 before it has stopped that, and nothing waits between.

    "" for none.
    """
    stopped = False
    for command in commands:
        codes = _own_codes(command)
        if stopped and "M24" in codes:
            return command
        stopped = "M25" in codes or (stopped and not may_wait(command))
    return ""


def refusal(command: str, place: CommandPlace) -> str:
    """Why a command that is not free can't be sent, and what to do; goes on from a colon."""
    name, _ = _parted(command)
    if place == "step" and instead(command):
        return instead(command)
    if name in _OF_PAUSES and place not in IN_PAUSE:
        return (
            "the machine waits, and lets its motors go, in a pause alone: put it into the studio's `pause:`"
        )
    if name == "G4":
        return "a dwell may stand in `pause: hold` or `pause: commands` alone; put it there"
    if _CODE.match(command) and not name.startswith("M"):
        return "it moves the machine or changes how later lines are read; leave it out"
    if not (_CODE.match(command) or _NAME.match(command)):
        return "it begins with neither a code, such as M0, nor a name; write it otherwise"
    return _unknown(command)


def lacks_word(command: str, place: CommandPlace) -> bool:
    """Whether nothing but the studio's word is missing for a command to be sent from there."""
    try:
        one_command(command)
    except ValueError:
        return False
    free = kind_of(command, place, StudioWord()) is not None
    return not free and not instead(command) and refusal(command, place) == _unknown(command)


def _unknown(command: str) -> str:
    wanted = json.dumps(command, ensure_ascii=False)
    return (
        "gpost doesn't know it for harmless; if you do, let the studio's config say so (`machine: "
        f"allow_commands: [{wanted}]`), else leave it out"
    )


def instead(command: str) -> str:
    """What a step wants instead of this command, whoever allows it, as a sentence; "" if it may be asked for.

    A dwell would be seen by no clock, a move by no check, a mode by no later block.
    """
    codes = codes_in(command) if _CODE.match(command.strip()) else frozenset()
    if codes & _DWELLS:
        return "it is a dwell, which no clock would count; a step waits by the intention Wait"
    if codes & _MOVES:
        return "it moves the machine; a step lays beads by LayClay, moves the piece by Shift, parks by Pause"
    if codes & _MODES:
        return (
            "it changes how later lines are read, and no intention does that: gpost writes all for the modes "
            "that hold at its place; leave it out"
        )
    return ""


def configured(machine: Machine) -> Iterator[tuple[tuple[str | int, ...], CommandPlace, str]]:
    """(path under `machine:`, where it stands, the command) of all that the config may have sent."""
    pause, air = machine.pause, machine.air
    yield from ((("pause", "hold", at), "pause.hold", code) for at, code in enumerate(pause.hold))
    yield from ((("pause", "commands", at), "pause.commands", code) for at, code in enumerate(pause.commands))
    yield from ((("beep", at), "beep", code) for at, code in enumerate(machine.beep))
    yield ("air", "off"), "air.off", air.off
    yield ("air", "on"), "air.on", air.on
    if machine.auger is not None:
        yield ("auger", "off"), "auger.off", machine.auger.off
        yield ("auger", "on"), "auger.on", machine.auger.on
    if machine.display is not None:
        yield ("display",), "display", machine.display


def codes_in(command: str) -> frozenset[str]:
    """All codes on the command's line, such as M104."""
    return frozenset(_parted(found)[0] for found in _ANY_CODE.findall(command.upper()))


def _own_codes(command: str) -> frozenset[str]:
    """Those that a command says itself: none of what has a name."""
    if not _CODE.match(command.strip()):
        return frozenset()
    return frozenset(_parted(found.upper())[0] for found in _OWN_CODE.findall(command))


def _parted(command: str) -> tuple[str, str]:
    """(code or name in capitals, what stands behind it); a code without leading zeros, "" for neither."""
    text = command.strip()
    code = _CODE.match(text)
    if code is not None:
        number = code[2].removesuffix(".0")
        bare = number.lstrip("0") if number.lstrip("0")[:1].isdigit() else f"0{number.lstrip('0')}"
        return f"{code[1].upper()}{bare}", text[code.end() :]
    name = text.split(maxsplit=1)[0]
    if not _NAME.fullmatch(name):
        return "", text
    return name.upper(), text[len(name) :]


def _fits(rest: str, free: Free, word: StudioWord, *, level: bool) -> bool:
    """Whether what stands behind a free code may stand there."""
    if free.text and _TEXT.fullmatch(rest):
        return True
    if not _WORDS.fullmatch(rest):
        return False
    found = [(letter.upper(), number) for letter, number in _WORD.findall(rest)]
    letters = [letter for letter, _ in found]
    once = len(set(letters)) == len(letters)
    known = set(free.needed) <= set(letters) <= set(free.words)
    levels = [letter for letter, number in found if number == LEVEL]
    pin = dict(found).get("P", "")
    pins = word.auger_pins if free.of_pins == "auger" else word.pins
    ours = not free.of_pins or (pin.isdigit() and int(pin) in pins)
    return once and known and ours and (not levels or (level and levels == ["S"]))
