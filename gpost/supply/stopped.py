"""A stopped print, as the potter tells of it: where it goes on, and with which clay."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

from gpost.clay.byhand import came_ml
from gpost.errors import PlanError
from gpost.plan.intentions import Behind, Lost, Pause, Restart
from gpost.plan.plan import Plan
from gpost.plan.restart import Asked, Found, Joint, find_restart, spot_at_clock
from gpost.plan.resume import NAME, begun, due_at, is_among, last_rise, set_up_commands
from gpost.plan.setup import height_zeroed, set_up_of, zero_moved, zeroed_by_hand
from gpost.spot import Spot
from gpost.supply.cartridges import cartridges, contents
from gpost.supply.contents import LEAST_ML
from gpost.supply.loads import Load, loads, since_ml
from gpost.supply.names import Names, clay_doubts, names_of
from gpost.supply.notrepeated import not_repeated
from gpost.supply.nozzle import begins, check_nozzle, look_mm, set_at, stands_below_mm
from gpost.supply.rest import Turns, inside_now
from gpost.supply.sure import told_ml
from gpost.supply.turned import Turn, flow_turns
from gpost.supply.weights import weigh
from gpost.supply.working import Waits, rim_wait_s

OVERFULL = 0.05
"""So much more than a cartridge holds a weight may come to that is yet taken for a full one: clays differ in
density, and a cartridge is heaped. Own choice."""
BY_CLOCK = (
    "it goes on where the machine was by its clock, which is an estimate: look where the bead ends, and say "
    "--from-height and --at if that is elsewhere"
)


class Stopped(NamedTuple):
    """What the potter says of a stopped print."""

    asked: Asked = Asked()
    clock_s: float | None = None
    """Instead of a place: the plan's clock at it."""
    output_line: int | None = None
    """Instead of a place: the line of the file that was run, counted from 1."""
    done: int | None = None
    """With a line or a clock: how many of the pauses and beads at the place have been; None: all."""
    lost: Lost = "nothing"
    set_on: Literal["rim", "bed"] | None = None
    """Over what the nozzle is set, where the machine doesn't know its height; None: the rim."""
    nozzle_below_mm: float | None = None
    """How high the nozzle stands at most, where nobody sets it; None: as high as the file ever sends it."""
    left_ml: float | None = None
    """Clay in the cartridge that is on, its reserve included; None: as planned."""
    left_g: float | None = None
    """The same, weighed."""
    came_ml: float | None = None
    """Clay that this cartridge has given since it was put on, or the file began; None: as planned."""
    came_g: float | None = None
    """The same, weighed: what it has lost."""
    turned: tuple[Turn, ...] = ()
    """Knobs that were turned by hand while the file ran."""
    hose_holds: str | None = None
    run_out_ml: float | None = None
    """None: what is due, and the whole hose if its clay is too old."""
    anew: bool = False
    """Whether nobody has let the rest go in which it stopped: nothing of that has been."""
    due_ml: float = 0.0
    """What the rest in which it stopped was to run out first, and has not yet."""
    waited_min: float | None = None
    look: bool = False
    """The way to the place alone, at most a hand's width above."""

    @property
    def says_clay(self) -> bool:
        """Whether it is said what is in the cartridge that is on, or what has come of it."""
        return any(amount is not None for amount in (self.left_ml, self.left_g, self.came_ml, self.came_g))


class Left(NamedTuple):
    """The clay at one place of a plan."""

    number: int
    """Of the cartridge that is on, counted from 1."""
    clay_ml: float
    """Clay in it, as much as was told to be loaded less what has come; its reserve included."""
    more_ml: float
    """What of it has come beyond what was planned; below 0: less."""
    planned_ml: float
    """What was to have come of it by then; what it gives again that was drawn back before is part of it."""
    asked_ml: float
    """Clay that it was still to give as planned."""
    hose: tuple[str, ...]
    """What the hose holds, as a plug, the clay that leaves it first first."""
    hose_min: float
    """How long the machine may wait there before clay in the hose is too old (`working_min`)."""
    rim_min: float | None
    """The same for the wall's rim; None: not known (`clay: rim_min`)."""


class Resumption(NamedTuple):
    """How a stopped print goes on."""

    restart: Restart
    found: Found
    left: Left
    stopped: Stopped
    turns: Turns
    """What has come otherwise than planned."""
    skipped: tuple[str, ...]
    """A sentence for each pause that is due just there, and for beads, that are not repeated."""
    left_out: tuple[str, ...]
    """The file's own commands, and those of steps, that are not sent again."""
    hose_min: float
    """How long the clay that stays in the hose may have waited there; infinite where all of it is run out."""


def left_at(plan: Plan, spot: Spot, turns: Turns = (), done: int | None = None) -> Left:
    """What is left at a place; `done`: how many pauses there have been, None: all."""
    passed_ml, (number, on) = _passed_ml(plan, spot, done), _on(plan, spot, done)
    use = cartridges(plan)[number]
    given_ml = came_ml(passed_ml, turns) - came_ml(on.start_ml, turns) + on.owed_ml
    held = _in_hose(inside_at(plan, spot, turns, done=done), plan.config.cartridge.line_ml)
    hose_s, rim_s = Waits(plan).hose_s(passed_ml), rim_wait_s(plan, spot)
    return Left(
        number=on.number,
        clay_ml=max(told_ml(plan, use) - given_ml, 0.0),
        more_ml=given_ml - on.owed_ml - (passed_ml - on.start_ml),
        planned_ml=passed_ml - on.start_ml + on.owed_ml,
        asked_ml=max(on.start_ml - on.owed_ml + use.need_ml - passed_ml, 0.0),
        hose=tuple(dict.fromkeys(held)),
        hose_min=hose_s / 60,
        rim_min=None if rim_s is None else rim_s / 60,
    )


def inside_at(
    plan: Plan,
    spot: Spot,
    turns: Turns = (),
    hose_holds: str | None = None,
    *,
    done: int | None = None,
) -> tuple[Behind, ...]:
    """What is in hose and cartridge at a place of a plan; `done`: how many pauses there have been."""
    found, (on, _) = loads(plan), _on(plan, spot, done)
    return inside_now(contents(plan), found, on, _passed_ml(plan, spot, done), turns, hose_holds)


def _on(plan: Plan, spot: Spot, done: int | None) -> tuple[int, Load]:
    """(place in the order of loading, cartridge) of that which is on at a place."""
    put_on = [(at, load) for at, load in enumerate(loads(plan)) if load.spot <= spot]
    due = due_at(plan, spot, done)
    return put_on[-1 - sum(isinstance(block, Pause) and block.new_cartridge for block in due)]


def _in_hose(inside: Sequence[Behind], line_ml: float) -> Iterator[str]:
    """Clays in a hose, as a plug, in the order of leaving."""
    for part, following in pairwise([*inside, Behind(math.inf, {})]):
        if part.after_ml < -LEAST_ML and following.after_ml > LEAST_ML - line_ml:
            yield from part.mix


def _passed_ml(plan: Plan, spot: Spot, done: int | None) -> float:
    """Net clay metered up to a place, with what has been added just there."""
    due = due_at(plan, spot, done)
    here = [item for item in plan.insertions if item.spot == spot and not is_among(item.intention, due)]
    return here[-1].start_ml + here[-1].clay_ml if here else plan.clay_before(spot)


def resumption(plan: Plan, stopped: Stopped) -> Resumption:
    """How the print of a plan goes on; its place is known by now. Raises PlanError where it can't safely."""
    asked = stopped.asked
    if stopped.clock_s is not None:
        spot, done = spot_at_clock(plan, stopped.clock_s)
        asked, stopped = asked._replace(spot=spot), stopped._replace(done=done)
    found = find_restart(plan, asked)
    if stopped.clock_s is not None:
        found = found._replace(words=BY_CLOCK, joint=Joint(None, None))
    _check_zero(plan, stopped, found)
    check_nozzle(plan, stopped, found)
    check_clay(plan, stopped.hose_holds)
    turns = came_otherwise(plan, stopped, found.spot)
    left, own = left_at(plan, found.spot, turns, stopped.done), set_up_of(plan, found.spot)
    left_ml = _left_ml(plan, stopped, left, found.spot)
    set_at_mm, below_mm = set_at(plan, stopped, found), stands_below_mm(plan, stopped, found)
    manner = begins(plan, stopped, is_set=set_at_mm is not None)
    run_out_ml = _run_out_ml(plan, stopped, left, left_ml)
    prime_ml = 0.0 if stopped.look else run_out_ml
    restart = Restart(
        spot=found.spot,
        kind=NAME,
        reason=f"{manner.said}: {_place_words(plan, found)}",
        message=manner.shown,
        prime_ml=prime_ml,
        new_cartridge=True,
        load_ml=left_ml,
        lost=stopped.lost,
        set_at_mm=set_at_mm,
        nozzle_below_mm=below_mm,
        set_up=own.again,
        inside=inside_at(plan, found.spot, turns, stopped.hose_holds, done=stopped.done),
        done=stopped.done,
        look_mm=look_mm(plan, found, below_mm) if stopped.look else None,
        look_wipes=stopped.look and run_out_ml > 0,
        waited_s=(stopped.waited_min or 0.0) * 60,
    )
    left_out = [*own.left_out, *set_up_commands(plan, found.spot)[1]]
    said_ml = stopped.run_out_ml if stopped.says_clay else None
    skipped = tuple(not_repeated(plan, found.spot, stopped.done, anew=stopped.anew, run_out_ml=said_ml))
    hose_s = Waits(plan).hose_s(_passed_ml(plan, found.spot, stopped.done), prime_ml)
    return Resumption(restart, found, left, stopped, turns, skipped, tuple(left_out), hose_s / 60)


def _check_zero(plan: Plan, stopped: Stopped, found: Found) -> None:
    """The machine's zero is that of the place where it goes on. Raises PlanError where it may be another."""
    line = zero_moved(plan, found.spot)
    if line is not None and stopped.lost != "all":
        raise PlanError(
            f"the file moves its own zero on line {line + 1}, after that place, so it can't be told where "
            "the machine takes its zero to be now; switch it off and on, and say --lost all"
        )
    homed = {"none": "", "xy": "XY", "all_up": "XYZ"}[plan.config.machine.home_with_piece]
    line = zeroed_by_hand(plan, found.spot, homed)
    if line is not None:
        raise PlanError(
            f"the file sets its own zero on line {line + 1}, where the nozzle was put by hand, and homing "
            "with the piece would lose that; say `machine: home_with_piece: none` in the studio's config, "
            "and --lost all if it is lost already"
        )
    trusted = stopped.lost == "nothing" and plan.config.machine.home_with_piece != "all_up"
    line = height_zeroed(plan, last_rise(plan), found.spot) if found.shift_mm and trusted else None
    if line is not None:
        raise PlanError(
            f"the file has set its own zero of Z on line {line + 1}, and counts from it on a top that stands "
            f"{found.shift_mm:+g} mm from where it was planned; set the height anew, and say --lost z"
        )


def going_on(plan: Plan, going: Resumption) -> Plan:
    """The plan of the rest before any step is asked."""
    return begun(plan, going.restart, going.found.shift_mm)


def _place_words(plan: Plan, found: Found) -> str:
    layer = plan.survey.index_at(found.spot.line) + 1
    return f"the print goes on in layer {layer}, on a top of {found.end_mm[2]:.2f} mm"


def check_clay(plan: Plan, name: str | None) -> None:
    """Refuse a clay that the studio doesn't have, or whose name may be misspelt. Raises PlanError."""
    found = names_of(plan)
    if name is None or name in found.known or name in found.used:
        return
    doubts = clay_doubts([Names(found.known, (name,) if found.known else (*found.used, name))])
    said = [text for text in doubts if name in text]
    if said:
        raise PlanError(f"--hose-holds: {said[0]}")


def came_otherwise(plan: Plan, stopped: Stopped, spot: Spot) -> Turns:
    """What has come otherwise than planned up to a place, as knobs and scales tell. Raises PlanError."""
    done = stopped.done
    (number, on), passed_ml = _on(plan, spot, done), _passed_ml(plan, spot, done)
    given_ml, planned_ml = stopped.came_ml, passed_ml - on.start_ml
    if stopped.came_g is not None:
        given_ml = stopped.came_g / _g_per_ml(plan, on.start_ml, passed_ml)
    if given_ml is None:
        return flow_turns(plan, stopped.turned, since_ml(plan), passed_ml)
    held_ml = told_ml(plan, cartridges(plan)[number])
    if given_ml > held_ml:
        gave, held = f"{given_ml:.0f} ml", f"{held_ml:.0f} ml"
        if stopped.came_g is not None:
            g_per_ml = stopped.came_g / given_ml
            gave, held = f"{stopped.came_g:g} g ({gave})", f"{held_ml * g_per_ml:.0f} g ({held})"
        raise PlanError(
            f"cartridge {on.number} can't have given {gave}: loaded as was told it held "
            f"{held}; weigh it once more, and take what it weighs now from what it weighed when it "
            "was put on. If more was loaded, say what is left in it instead (--left-ml, --left-g)"
        )
    if planned_ml <= LEAST_ML:
        raise PlanError(
            f"nothing is planned to come out of cartridge {on.number} before that place; leave --came-ml and "
            "--came-g out, and say what is left in it"
        )
    # what a refill gives again of what was drawn back before is no planned clay of its own
    return ((on.start_ml, max(given_ml - on.owed_ml, 0.0) / planned_ml),)


def _g_per_ml(plan: Plan, low_ml: float, high_ml: float) -> float:
    """Wet density of what leaves the cartridge between two amounts of net clay."""
    inside = contents(plan)
    parts = list(inside.between(low_ml, high_ml)) or [(inside.at(low_ml), 1.0)]
    masses = [weigh(plan.config, {clay: share * ml for clay, share in mix.items()}) for mix, ml in parts]
    return sum(mass.wet_g for mass in masses) / sum(ml for _, ml in parts)


def _left_ml(plan: Plan, stopped: Stopped, left: Left, spot: Spot) -> float:
    cartridge = plan.config.cartridge
    if stopped.look:  # it takes no clay
        return cartridge.volume_ml
    held_ml = left.clay_ml if stopped.left_ml is None else stopped.left_ml
    if stopped.left_g is not None:
        passed_ml = _passed_ml(plan, spot, stopped.done)
        held_ml = stopped.left_g / _g_per_ml(plan, passed_ml, passed_ml + max(left.clay_ml, LEAST_ML))
        if held_ml > cartridge.volume_ml * (1 + OVERFULL):
            raise PlanError(
                f"--left-g: {stopped.left_g:g} g would be {held_ml:.0f} ml, and that "
                f"{cartridge.misfit(held_ml)}; was it weighed with its cartridge? Say the mass of the clay"
            )
    held_ml = min(held_ml, cartridge.volume_ml) if stopped.left_ml is None else held_ml
    wrong = cartridge.misfit(held_ml)
    if wrong or not math.isfinite(held_ml):
        raise PlanError(
            f"cartridge {left.number} holds {held_ml:.0f} ml, and that {wrong}; put a fuller one on and say "
            "--left-ml"
        )
    return held_ml


def _run_out_ml(plan: Plan, stopped: Stopped, left: Left, left_ml: float) -> float:
    """What is run out at the park first. Raises PlanError for more than the cartridge gives."""
    too_old = stopped.waited_min is not None and stopped.waited_min > left.hose_min
    asked_ml = stopped.run_out_ml
    if asked_ml is None:
        asked_ml = max(plan.config.cartridge.line_ml if too_old else 0.0, stopped.due_ml)
    gives_ml = plan.config.cartridge.usable_of_ml(left_ml)
    if asked_ml > gives_ml + LEAST_ML:
        due = (
            "what is still to be run out"
            if asked_ml == stopped.due_ml
            else "the hose, whose clay is too old,"
        )
        what = due if stopped.run_out_ml is None else "--run-out"
        raise PlanError(
            f"{what} asks for {asked_ml:.4g} ml, and cartridge {left.number} gives {gives_ml:.4g} ml: "
            f"{left_ml:.4g} ml are in it, its reserve stays behind. Run out less, or weigh more into it, "
            "or put a fuller one on, and say --left-ml"
        )
    return asked_ml


def run_out_words(plan: Plan, going: Resumption) -> str:
    """What is run out first, and of how much: for a plan that fails with it."""
    restart = going.restart
    gives_ml = plan.config.cartridge.usable_of_ml(restart.load_ml)
    return (
        f"Of the {gives_ml:.4g} ml that cartridge {going.left.number} gives, {restart.prime_ml:.4g} ml are "
        "run out first; run out less, or put a fuller one on and say --left-ml"
    )
