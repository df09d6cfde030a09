"""What the potter does before a stopped print is let go, in the order of doing it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from gpost.common.plain import shown
from gpost.plan.beside import foot_middle
from gpost.plan.intentions import Lost
from gpost.plan.plan import Plan
from gpost.plan.restart import Found
from gpost.plan.resume import PAPER_MM
from gpost.plan.setup import own_zero, zeroed_by_hand
from gpost.report.visits import JOIN
from gpost.supply.cartridges import cartridges
from gpost.supply.elsewhere import elsewhere
from gpost.supply.loads import on_from
from gpost.supply.nozzle import lift_of, park_ground
from gpost.supply.stopped import Resumption
from gpost.supply.sure import in_it, short_of, told_ml
from gpost.supply.working import told_min

MINUTES_A_DAY = 24 * 60
STIFF_MIN = MINUTES_A_DAY / 2
"""From there on a wall is leather-hard rather than soft: common practice, no source."""
LEAST_SEEN_MM = 0.005
"""Less is not seen on a display that shows hundredths."""
LEAST_TOLD_ML = 0.05
"""Less is 0 in tenths."""
WORTH_SAYING_ML = 0.5
"""Less is lost in rounding."""


def checks(plan: Plan, going: Resumption) -> Iterator[str]:
    """A sentence for each."""
    foot_x, foot_y = foot_middle(plan)
    yield (
        f"Check the foot against its mark (its middle lies at x {foot_x:.0f}, y {foot_y:.0f} mm): if piece, "
        "slab or bed have moved or were touched, the rest would be laid beside the wall; don't go on then."
    )
    yield _top(going.found)
    if not going.stopped.look:
        yield from _rim(plan, going)
    yield _nozzle(plan, going)
    yield from _held(plan, going.stopped.lost, is_set=going.restart.set_at_mm is not None)
    yield from _not_homed(plan, going)
    yield from _zero(plan, going)
    if going.stopped.look:
        is_set = going.restart.set_at_mm is not None
        after = "for the rest the nozzle is set anew" if is_set else "the rest may begin from there"
        yield (
            "This file shows the way alone, without clay: watch whether it is right. It ends above the "
            f"place, at {going.restart.look_mm:.1f} mm; {after}."
        )
    else:
        yield from _clay(plan, going)
    yield from going.skipped
    yield "Wipe the nozzle, cut the string. Keep its whole way up free, and that to the park."
    end = "to its end" if going.stopped.look else "until it lays"
    yield f"Who is near the stop? Take hands, hair and sleeves out; let it go, and watch {end}."


def _top(found: Found) -> str:
    x, y, z = found.end_mm
    return f"The bead ends at x {x:.1f}, y {y:.1f} mm, its top at {z:.2f} mm; {found.words}."


def _rim(plan: Plan, going: Resumption) -> Iterator[str]:
    found, left, waited = going.found, going.left, going.stopped.waited_min
    yield from _joint(found, plan.bead_width_mm)
    if left.rim_min is None:
        yield f"How long a rim may wait in the air is not known (clay: rim_min): {JOIN}."
    elif not math.isinf(left.rim_min) and (waited is None or waited > left.rim_min):
        longer = "If it has waited" if waited is None else f"It has waited {_minutes(waited)},"
        yield f"{longer} longer than {told_min(left.rim_min):g} min: {JOIN}."
    if waited is not None and waited > STIFF_MIN:
        yield (
            "After so long the wall is no longer soft: what is laid on it shrinks more than it does, and "
            "cracks off. Feel it; if it doesn't take a thumb any more, don't go on."
        )


def _minutes(minutes: float) -> str:
    """A time as people say it."""
    if minutes < MINUTES_A_DAY:
        return f"{minutes:.0f} min" if minutes < 120 else f"{minutes / 60:.1f} h"
    return f"{minutes / MINUTES_A_DAY:.1f} days"


def _joint(found: Found, bead_mm: float) -> Iterator[str]:
    """Gap, overlap and shift, and what to do with the first two: common practice, no source.

    Half a bead's width closes by itself.
    """
    gap_mm, overlap_mm, at_most, sunk_mm = found.joint
    said = [f"{name} {_mm(mm, at_most)}" for name, mm in (("gap", gap_mm), ("laid twice", overlap_mm))]
    words = f"Along the bead: {', '.join(said)}; in height: {found.shift_mm:+.2f} mm from the file."
    if sunk_mm:
        words += (
            f" That is for a wall within {PAPER_MM:g} mm of the file's heights: for each 0.1 mm by which it "
            f"stands lower {sunk_mm / 10:.1f} mm more are laid twice, for each by which it stands higher as "
            "much more is missing."
        )
    yield words
    look = "Look where the bead ends. " if at_most else ""
    if gap_mm is None or gap_mm > bead_mm / 2:
        yield (
            f"{look}Fill a gap by hand, in the height of the bead: score both sides, wet them with slip of "
            "the same clay, press a coil in, and cut it level with the top."
        )
    if overlap_mm is None or overlap_mm > bead_mm / 2:
        yield (
            f"{look}Cut the old bead away, down to the turn below, as far as it is laid twice: the nozzle "
            "would plough through it."
        )


def _mm(mm: float | None, at_most: bool) -> str:
    if mm is None:
        return "not known"
    return f"{'up to ' if at_most and mm else ''}{mm:.1f} mm"


def _nozzle(plan: Plan, going: Resumption) -> str:
    restart, machine = going.restart, plan.config.machine
    lift_mm = lift_of(plan)
    up = f"After the wait it goes straight up by {lift_mm:g} mm first"
    homes = {"none": "", "xy": ", then homes X and Y", "all_up": ", then homes all axes, Z upwards"}
    down = "over" if going.stopped.look else "on"
    up += f"{homes[machine.home_with_piece]}; it comes down straight {down} the place."
    if machine.pause.retrace_mm:
        up += " It doesn't go over the wall before it again (machine: pause: retrace_mm), as at a pause."
    if restart.set_at_mm is not None:
        x, y, z = restart.set_at_mm
        if restart.lost == "all" and machine.home_with_piece == "none":
            return (
                f"Set the nozzle's tip a sheet of paper ({PAPER_MM:g} mm) above the end of the bead, about x "
                f"{x:.0f}, y {y:.0f} mm, whose height is {z - PAPER_MM:.2f} mm, and leave it there. It is "
                "taken for all three axes: by as much as it stands beside that end, all of the rest is laid "
                f"beside the wall, so look from two sides. {up}"
            )
        surface = "whose height"
        if going.stopped.set_on == "bed":
            ground = park_ground(plan)
            on = "the bare bed" if ground is None else ground.why or "what lies there"
            surface = f"wiped clean: the height of {shown(on)} there"
        return (
            f"Set the nozzle's tip a sheet of paper ({PAPER_MM:g} mm) above the place x {x:.1f}, y {y:.1f} "
            f"mm, {surface} is {z - PAPER_MM:.2f} mm, and leave it there. {up}"
        )
    if restart.lost != "nothing":
        return f"The nozzle must stand clear of the wall, at {restart.nozzle_below_mm:.1f} mm at most. {up}"
    return (
        "The machine must have stayed on with its motors held, so that it knows where it stands; if it was "
        "switched off, reset or homed, or the nozzle pushed, write this file anew with --lost. The nozzle "
        "stands at "
        f"{restart.nozzle_below_mm:.1f} mm at most. {up}"
    )


def _held(plan: Plan, lost: Lost, *, is_set: bool) -> Iterator[str]:
    """What keeps the motors held at a pause is not sent at the first wait: some machines read it as off.

    `is_set`: whether the potter sets the nozzle.
    """
    held = "let it go within the minutes for which your machine holds its motors"
    if lost != "nothing":
        before = "the nozzle is set" if is_set else "you let it go"
        held = f"switch the motors on, or prop the axis, before {before}"
    if plan.config.machine.pause.hold:
        yield (
            f"{' and '.join(map(shown, plan.config.machine.pause.hold))} (machine: pause: hold) is not sent "
            f"before the first wait, since a machine that reads it as off would let the nozzle sink: {held}, "
            "and look whether the nozzle still stands where it stood."
        )


def _not_homed(plan: Plan, going: Resumption) -> Iterator[str]:
    """Where an axis moves that has not homed: from memory, no source."""
    lost, homes = going.restart.lost, plan.config.machine.home_with_piece
    if lost == "nothing" or homes == "all_up":
        return
    axes = "Z" if lost == "z" or homes == "xy" else "X, Y and Z"
    yield (
        f"{axes} will not be homed when the file begins, and many controllers ignore or refuse moves of such "
        "an axis: try first, off the piece, whether yours does, and do as its manual says; a move up that is "
        "left out would lead through the wall."
    )


def _zero(plan: Plan, going: Resumption) -> Iterator[str]:
    """A zero of the file's own that the machine must still have, where nothing says it anew."""
    zero, homes = own_zero(plan, going.found.spot), plan.config.machine.home_with_piece
    if going.restart.lost == "all":
        return
    by_hand = None if homes != "none" else zeroed_by_hand(plan, going.found.spot, "XY")
    if by_hand is not None:
        yield (
            f"The file takes X and Y from where the nozzle was put by hand (line {by_hand + 1}), and the "
            "machine must still count from there: if it was reset, homed or switched off since, --lost all "
            "alone gives these places back. Write this file anew with it, or the nozzle goes into the wall."
        )
    if zero is None:
        return
    known = ("XY" if homes == "none" and by_hand is None else "") + (
        "Z" if going.restart.lost == "nothing" else ""
    )
    at_mm = [(axis, mm) for axis, mm in zip("XYZ", zero.at_mm, strict=True) if axis in known]
    moved = [(axis, mm) for axis, mm in at_mm if abs(mm) >= LEAST_SEEN_MM]
    if not moved:
        return
    where = ", ".join(f"{axis} {mm:.2f}" for axis, mm in moved)
    anew = "z or all" if {axis for axis, _ in moved} <= {"Z"} and by_hand is None else "all"
    less = ", ".join(f"{axis} {abs(mm):.2f} mm {'less' if mm > 0 else 'more'}" for axis, mm in moved)
    yield (
        f"The file has moved its zero to {where} mm (line {zero.line + 1}), and the machine must still count "
        f"from there: its display must show {less} than where the nozzle stands by a ruler, from the "
        "machine's own zero and the bed. If it doesn't, or it was reset, homed or switched off since, "
        f"write this file anew with --lost {anew}: else the nozzle goes into the wall."
    )


def _clay(plan: Plan, going: Resumption) -> Iterator[str]:
    restart, left = going.restart, going.left
    yield from _cartridge(plan, going)
    yield from _came(plan, going)
    holds = going.stopped.hose_holds or ", then ".join(left.hose)
    if holds:
        yield f"The hose holds {shown(holds)}."
    yield from _other_clay(plan, going)
    if restart.prime_ml:
        yield f"{restart.prime_ml:.1f} ml are run out at the park first; later clay comes so much earlier."
    for said in elsewhere(plan):
        yield f"{shown(said)}."
    yield from _stiff(plan, going)


def _stiff(plan: Plan, going: Resumption) -> Iterator[str]:
    """Whether what stays in the hose has waited too long."""
    waited, line_ml = going.stopped.waited_min, plan.config.cartridge.line_ml
    if math.isinf(going.hose_min):
        return
    run_out, limit = f"run it out whole (--run-out {line_ml:g})", f"{told_min(going.hose_min):g} min"
    if waited is None:
        which = "the clay that stays in the hose" if going.restart.prime_ml else "the clay in the hose"
        yield f"If it has waited longer than {limit} {which} is too stiff: {run_out}."
    elif waited > going.hose_min:
        stays_ml = line_ml - going.restart.prime_ml
        yield (
            f"It has waited {_minutes(waited)}, longer than {limit}: the {stays_ml:.3g} ml "
            f"of clay that stay in the hose are too stiff; {run_out}."
        )
    else:
        yield (
            f"It has waited {_minutes(waited)}; after {limit} the clay in the hose would be "
            f"too stiff: if it waits so long, {run_out}."
        )


def _cartridge(plan: Plan, going: Resumption) -> Iterator[str]:
    """What is in the cartridge that is on, and what to do if that is less than it takes."""
    use = cartridges(plan)[on_from(plan)]
    planned_ml = going.left.asked_ml + going.restart.prime_ml
    short, whole = (short_of(plan, use, ml) for ml in (use.need_ml, planned_ml))
    early = use.need_ml < planned_ml - WORTH_SAYING_ML and whole.lacks and whole.fits
    said = going.stopped.left_ml is not None or going.stopped.left_g is not None
    source = "as you say" if said else "if it was loaded as told"
    enough = f"; {short.must_ml} ml would do" if not early and short.has_ml - short.must_ml > 1 else ""
    held = f"{short.has_ml} ml in it {source}, its reserve counted in{enough}"
    yield f"Cartridge {use.number} is on, with {held}."
    if short.lacks:
        yield f"That may be too little: {short.words}."
    elif early:
        yield f"It comes off sooner than planned. To keep to the plan, {whole.words}."


def _other_clay(plan: Plan, going: Resumption) -> Iterator[str]:
    """A clay in the hose that isn't the one that was to come there, and of which some is laid.

    Where colours are asked for by their heights the summary says it of them.
    """
    holds, planned = going.stopped.hose_holds, going.left.hose
    shows_ml = plan.config.cartridge.line_ml - (going.restart.prime_ml or 0.0)
    if plan.config.colours is not None or holds is None or shows_ml <= WORTH_SAYING_ML:
        return
    if set(planned) != {holds}:
        was = (
            f"where {shown(', then '.join(planned))} was to come" if planned else "which nobody has asked for"
        )
        yield (
            f"{shown(holds)} shows in the first {shows_ml:.0f} ml of the wall, {was}: run it out first "
            f"(--run-out {plan.config.cartridge.line_ml:g}) if it is not meant to."
        )


def _came(plan: Plan, going: Resumption) -> Iterator[str]:
    """What has come otherwise than planned, and what that does."""
    if not going.turns:
        return
    more_ml, left = going.left.more_ml, going.left
    has_ml = in_it(told_ml(plan, cartridges(plan)[on_from(plan)]))
    if abs(more_ml) < LEAST_TOLD_ML:
        yield f"As much as planned has left cartridge {left.number}: {left.planned_ml:.1f} ml."
        return
    words = f"{abs(more_ml):.1f} ml {'more' if more_ml >= 0 else 'less'} than planned"
    yield (
        f"{words} have left cartridge {left.number} ({left.planned_ml:.1f} ml were to), so that {has_ml} ml "
        f"are in it, and clays on their way show so much {'earlier' if more_ml >= 0 else 'later'}. The file "
        "sets the flow knob as it was sliced: turn it again if the wall needs that."
    )
