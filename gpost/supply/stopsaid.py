"""What the potter says of a stopped print, and what of it doesn't go together."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from numbers import Real
from types import MappingProxyType
from typing import Literal, TypedDict, Unpack, get_args

from gpost.errors import ConfigError
from gpost.plan.intentions import Lost
from gpost.plan.restart import Asked
from gpost.supply.stopped import Stopped
from gpost.supply.turned import Turn, read_turn

LONGEST_MIN = 7 * 24 * 60.0
"""A wall that has stood for a week is dry: common practice, no source."""


NUMBERS = (
    *("height_mm", "layer", "line", "clock_s", "along_mm", "top_mm", "nozzle_below_mm"),
    *("left_ml", "left_g", "came_ml", "came_g", "run_out_ml", "waited_min"),
)
"""What is one number each."""


class SaidStop(TypedDict, total=False):
    """What may be said of a stopped print; one of the first four is.

    From Python, and for the command by the options of these names. What is left out is as planned.
    """

    height_mm: float | None
    """The measured top, from the bed, a slab counted in: of the bead at the place where it ends."""
    layer: int | None
    """The first layer to lay, from 1."""
    line: int | None
    """The line of the file that was run, from 1."""
    clock_s: float | None
    """Machine time since the start of that file, waits left out: an estimate."""
    at_mm: tuple[float, float] | None
    """With `height_mm`: where in the turn the bead ends, x and y."""
    along_mm: float | None
    """Instead of that, how much of the turn is laid."""
    top_mm: float | None
    """With a layer, line or clock: the measured top where the bead ends; the rest is laid so much higher or
    lower."""
    lost: Lost
    """What the machine doesn't know any more: `nothing`, its height (`z`), or `all`."""
    set_on: Literal["rim", "bed"] | None
    """Where something is lost: over what the nozzle is set; left out: the rim."""
    nozzle_below_mm: float | None
    """Where nothing is lost: how high the nozzle stands at most."""
    left_ml: float | None
    """Clay in the cartridge that is on, its reserve included."""
    left_g: float | None
    """The same, weighed."""
    came_ml: float | None
    """Clay that this cartridge has given since it was put on, or this file began."""
    came_g: float | None
    """The same by weight: what the cartridge has lost."""
    turned: Sequence[str | Turn]
    """Knobs that were turned by hand while the file ran, each as `flow=110@40` or `flow=90@62.5mm`."""
    hose_holds: str | None
    """The clay in the hose."""
    run_out_ml: float | None
    """Clay to run out at the park first; left out: the whole hose if its clay is too old, else none."""
    waited_min: float | None
    """How long it has stood by the time it goes on: the clay in hose and cartridge is so much older."""
    rehearse: bool
    """Write the way to the place alone, a hand's width above, without clay."""


KEYWORDS = MappingProxyType({name: name for name in SaidStop.__annotations__})


def stopped_as(names: Mapping[str, str] = KEYWORDS, /, **said: Unpack[SaidStop]) -> Stopped:
    """What was said, looked at as far as that needs no file.

    `names`: what each thing is called where it was said. Raises ConfigError for what can't be meant.
    """
    unknown = next((name for name in said if name not in KEYWORDS), None)
    if unknown is not None:
        raise TypeError(f"resume() got an unexpected keyword argument {unknown!r}")
    for wrong in _kinds(said, names):
        raise ConfigError(wrong)
    asked = Asked(
        height_mm=said.get("height_mm"),
        layer=said.get("layer"),
        at_mm=said.get("at_mm"),
        along_mm=said.get("along_mm"),
        top_mm=said.get("top_mm"),
    )
    stopped = Stopped(
        asked,
        clock_s=said.get("clock_s"),
        output_line=said.get("line"),
        lost=said.get("lost", "nothing"),
        set_on=said.get("set_on"),
        nozzle_below_mm=said.get("nozzle_below_mm"),
        left_ml=said.get("left_ml"),
        left_g=said.get("left_g"),
        came_ml=said.get("came_ml"),
        came_g=said.get("came_g"),
        turned=_turns(said.get("turned", ())),
        hose_holds=said.get("hose_holds"),
        run_out_ml=said.get("run_out_ml"),
        waited_min=said.get("waited_min"),
        look=said.get("rehearse", False),
    )
    for wrong in _misfits(stopped, names):
        raise ConfigError(wrong)
    return stopped


def _kinds(said: Mapping[str, object], names: Mapping[str, str]) -> Iterator[str]:
    """What from Python is something else than it must be."""
    for name in NUMBERS:
        if said.get(name) is not None and not _is_number(said[name]):
            yield f"{names[name]} is {said[name]!r}, and must be a number, such as 30"
    at_mm = said.get("at_mm")
    pair = list(at_mm) if isinstance(at_mm, Iterable) else []
    if at_mm is not None and (len(pair) != 2 or not all(map(_is_number, pair))):
        yield f"{names['at_mm']} is {at_mm!r}, and must be X and Y in mm, such as (210, 150)"
    holds = said.get("hose_holds")
    if holds is not None and not isinstance(holds, str):
        yield f"{names['hose_holds']} is {holds!r}, and must be the name of a clay"


def _is_number(value: object) -> bool:
    return isinstance(value, Real) and not isinstance(value, bool)


def _turns(said: Sequence[str | Turn]) -> tuple[Turn, ...]:
    if isinstance(said, str) or not isinstance(said, Iterable):
        raise ConfigError(f"turned takes a list of turns, such as [{said!r}]")
    turns = list(said)
    for turn in turns:
        if not isinstance(turn, str | Turn):
            raise ConfigError(f"turned holds texts such as 'flow=110@40', and not {turn!r}")
    try:
        return tuple(read_turn(turn) if isinstance(turn, str) else turn for turn in turns)
    except ValueError as error:
        raise ConfigError(str(error)) from error


def _misfits(stopped: Stopped, names: Mapping[str, str]) -> Iterator[str]:
    yield from _places(stopped, names)
    yield from _numbers(stopped, names)
    if stopped.lost not in get_args(Lost):
        yield f"{names['lost']} is one of {', '.join(get_args(Lost))}, and not {stopped.lost!r}"
    if stopped.set_on not in (None, "rim", "bed"):
        yield f"{names['set_on']} is rim or bed, and not {stopped.set_on!r}"
    if stopped.set_on is not None and stopped.lost == "nothing":
        yield (
            f"{names['set_on']} goes with {names['lost']} z or {names['lost']} all; leave it out, or say "
            "what is lost"
        )
    if stopped.left_ml is not None and stopped.left_g is not None:
        yield f"say what is left in the cartridge in one way: {names['left_ml']} or {names['left_g']}"
    came = stopped.came_ml is not None or stopped.came_g is not None
    told = [stopped.came_ml is not None, stopped.came_g is not None, bool(stopped.turned)]
    if sum(told) > 1:
        yield (
            f"say how much clay has come in one way: {names['came_ml']}, {names['came_g']} or "
            f"{names['turned']}; the scales know best"
        )
    if came and (stopped.left_ml is not None or stopped.left_g is not None):
        yield (
            "say what is left in the cartridge, or how much has come of it, and not both: the one follows "
            "from the other"
        )
    if (stopped.waited_min or 0.0) > LONGEST_MIN:
        yield (
            f"{names['waited_min']} {stopped.waited_min:.4g} minutes is more than a week, and a wall is dry "
            "by then: nothing is laid on it any more; if it is less, write the minutes"
        )


def _places(stopped: Stopped, names: Mapping[str, str]) -> Iterator[str]:
    """Where it has stopped is said once."""
    asked = stopped.asked
    places = (asked.height_mm, asked.layer, stopped.output_line, stopped.clock_s)
    if sum(place is not None for place in places) != 1:
        yield (
            f"say where it has stopped, in one way: {names['height_mm']}, {names['layer']}, "
            f"{names['line']} or {names['clock_s']}"
        )
    turn = asked.at_mm is not None or asked.along_mm is not None
    if turn and asked.height_mm is None:
        yield (
            f"{names['at_mm']} and {names['along_mm']} say where in the turn of a {names['height_mm']} the "
            "bead ends"
        )
    if asked.at_mm is not None and asked.along_mm is not None:
        yield f"say where in the turn the bead ends in one way: {names['at_mm']} or {names['along_mm']}"
    if asked.top_mm is not None and asked.height_mm is not None:
        yield f"{names['height_mm']} is the measured top already; leave {names['top_mm']} out"


def _numbers(stopped: Stopped, names: Mapping[str, str]) -> Iterator[str]:
    """Amounts are 0 or more, measured tops more, layers and lines whole and counted from 1."""
    said = {**stopped.asked._asdict(), **stopped._asdict()}
    for name in ("height_mm", "top_mm"):
        if said[name] is not None and not 0 < said[name] < math.inf:
            yield f"{names[name]} is {said[name]:g} mm, and must be more than 0"
    for name, number in (("layer", stopped.asked.layer), ("line", stopped.output_line)):
        if number is not None and not (number >= 1 and float(number).is_integer()):
            yield f"{names[name]} is {number:g}; they are counted from 1, in whole numbers"
    at_least = ("along_mm", "clock_s", "nozzle_below_mm", "left_ml", "left_g", "came_ml", "came_g")
    for name in (*at_least, "run_out_ml", "waited_min"):
        if said[name] is not None and not 0 <= said[name] < math.inf:
            yield f"{names[name]} is {said[name]:g}, and must be 0 or more"
    if said["at_mm"] is not None and not all(map(math.isfinite, said["at_mm"])):
        yield f"{names['at_mm']} is no place; it is X and Y in mm"
