"""Turns what steps want into inserted blocks: pauses, beads beside the piece, messages, air, commands."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from gpost.config.commands import CommandPlace
from gpost.errors import PlanError
from gpost.motion.state import MachineState
from gpost.plan.blocktime import wipe_end_mm
from gpost.plan.intentions import (
    Air,
    Ask,
    Command,
    LayClay,
    Pause,
    Rehearse,
    Restart,
    Say,
    Stroke,
    Wait,
)
from gpost.plan.plan import Plan
from gpost.plan.resume import set_up_commands
from gpost.spot import Spot
from gpost.supply.display import Messages
from gpost.survey.clay import ClayMeter
from gpost.survey.marks import BESIDE
from gpost.write.auger import Auger
from gpost.write.blower import Blower
from gpost.write.opening import Opening
from gpost.write.retrace import Ways
from gpost.write.room import Room
from gpost.write.script import Place, Script, number
from gpost.write.sent import Sender, Sent

AGAIN = "Cut the string, look, then go on"
"""Shown at the second wait of a pause."""
Insertion = Pause | LayClay | Say | Air | Command | Wait | Ask


class Situation(NamedTuple):
    """What the compiler must know of the place where it inserts."""

    state: MachineState
    """As it is in the output: with the output's E register."""
    top_mm: float
    """Highest clay of the piece so far, machine mm; -inf before the first."""
    spot: Spot
    end_feed_mm_min: float | None = None
    """F in force in the output, if the plan changed it."""


class Compiler:
    """Writes any insertion for any modal state. Raises PlanError where it can't be done safely."""

    def __init__(self, plan: Plan) -> None:
        self.machine, self._messages = plan.config.machine, Messages(plan)
        self._room = Room(plan)
        self._ml_per_mm = ClayMeter(plan.config).ml_per_mm
        self._plan = plan
        self._sender = Sender(plan)
        self.blower, self.auger = Blower(plan, self._sender), Auger(plan, self._sender)
        # now, for the file is read for them
        self._ways = Ways(plan)
        self._dry = bool(plan.of(Rehearse))

    def write(self, intention: Insertion, place: Situation) -> Script:
        """The inserted block for one intention."""
        if isinstance(intention, Restart):
            return self._restart(intention, place)
        script = Script(
            place.state,
            ml_per_mm=self._ml_per_mm or math.nan,
            end_feed_mm_min=place.end_feed_mm_min,
            dry=self._dry,
        )
        match intention:
            case Pause():
                self._pause(intention, script, place)
            case LayClay():
                self._lay_clay(intention, script, place)
            case Say():
                self._show(intention.text, script)
            case Air():
                self.blower.blow(intention.level, script)
            case Command():
                for code in intention.codes:
                    script.command(code, self._sender.sent(code, "step"))
            case Wait():
                self.auger.stop(place.state, script)
                self._stand_still(intention.seconds, script)
                self.auger.go_on(place.state, script)
            case Ask():
                self._ask(intention, script, place)
        return script

    # -- pauses --------------------------------------------------------------------------------

    def _pause(self, pause: Pause, script: Script, place: Situation) -> None:
        machine, manner = self.machine, self.machine.pause
        self._check_place(place, pause.prime_ml > 0 or pause.lay is not None)
        self._room.check_park()
        safe_z = self._safe_z(place, pause.lay)
        script.remark(f"{pause.kind}: {pause.reason}")
        self._send(manner.hold, "pause.hold", script)
        self._let_go(script, place)
        script.fly(z=safe_z, feed_mm_min=machine.lift_feed_mm_min)
        script.fly(x=machine.park.x_mm, y=machine.park.y_mm, feed_mm_min=machine.travel_feed_mm_min)
        blow = self.blower.rest_in(pause, place.state, script)
        self._wait(self._messages.of(pause), script)
        self._prime(pause, script)
        if pause.lay is not None:
            self._lay_strokes(pause.lay, script, place.spot, safe_z)
        if not self._dry and (pause.hold_again or manner.hold_again):
            self._wait(AGAIN, script)
        blow()
        self._back(script, place, safe_z, self._ways.to(place.spot, place.state.position_mm))
        script.remark(f"{pause.kind} ends")

    # -- where a stopped print goes on ---------------------------------------------------------

    def _restart(self, restart: Restart, place: Situation) -> Script:
        """What the file begins with that prints the rest: to the park, run clay out, and to the place."""
        self._check_place(place, restart.prime_ml > 0)
        self._room.check_park()
        opening = Opening(self.machine, restart, self._safe_z(place, None))
        park = self.machine.park
        script = Script(
            place.state,
            ml_per_mm=self._ml_per_mm or math.nan,
            end_feed_mm_min=place.end_feed_mm_min,
            at_mm=(park.x_mm, park.y_mm, opening.fly_mm),
        )
        script.remark(f"{restart.kind}: {restart.reason}")
        opening.set_up(script)
        for code in set_up_commands(self._plan, restart.spot)[0]:
            script.command(code, self._sender.sent(code, "step"))
        message = self._messages.of(restart)
        opening.write(script, lambda: self._wait(message, script), lambda: self._quiet(script))
        opening.settle_modes(script, has_e=bool(self._ml_per_mm))
        if restart.look_mm is None:
            self._go_on(restart, script, place, opening.fly_mm)
        else:
            self._look(restart, restart.look_mm, script, place)
        script.remark(f"{restart.kind} ends")
        return script

    def _quiet(self, script: Script) -> None:
        """Blower and clay off, whoever has switched them on."""
        self.auger.quiet(script)
        self.blower.quiet(script)

    def _go_on(self, restart: Restart, script: Script, place: Situation, safe_z: float) -> None:
        self._prime(restart, script)
        if self._ml_per_mm and place.state.flow_factor > 0:
            script.relieve(self.machine.pause.relieve_ml, self.machine.prime_flow_ml_min)
        for _ in range(place.state.pressure_relief):
            script.command("G10", Sent("clay", "G10"))
        if self.machine.pause.hold_again:
            self._send(self.machine.pause.hold, "pause.hold", script)
            self._wait(AGAIN, script)
        self.blower.go_on(restart, place.state, script)
        self._back(script, place, safe_z)  # straight down: what lies before the place may have been cut away

    def _look(self, restart: Restart, look_mm: float, script: Script, place: Situation) -> None:
        """Above the place and no nearer, so that it can be seen whether it is the right one.

        It crosses where the rest does, and as high: what stands in the way of that is to be seen.
        """
        machine, (x, y, _) = self.machine, place.state.position_mm
        if restart.look_wipes:
            self._wipe(script)
        script.fly(x=x, y=y, feed_mm_min=machine.travel_feed_mm_min)
        script.fly(z=look_mm, feed_mm_min=machine.lift_feed_mm_min)

    def _wait(self, message: str, script: Script) -> None:
        manner = self.machine.pause
        if manner.message == "before":
            self._show(message, script)
        self._send(self.machine.beep, "beep", script)
        self._send(manner.commands, "pause.commands", script)
        if manner.message == "after":
            self._show(message, script)

    def _ask(self, ask: Ask, script: Script, place: Situation) -> None:
        """Words and a wait, without clay, and nothing else."""
        script.remark(f"ask: {ask.reason}")
        self.auger.stop(place.state, script)
        self._wait(ask.text, script)
        self.auger.go_on(place.state, script)
        script.remark("ask ends")

    def _stand_still(self, seconds: float, script: Script) -> None:
        """A dwell, by the unit that the machine's P counts."""
        unit = self.machine.dwell_p
        said = number(seconds * 1000, 0) if unit == "milliseconds" else number(seconds, 3)
        code = f"G4 P{said}"
        script.command(code, Sent(self._sender.sent(code, "wait").kind, f"G4 P<{unit}>"))

    def _show(self, text: str, script: Script) -> None:
        display = self.machine.display
        if display is not None:
            script.message(display, text, self._sender.sent(display, "display").kind)

    def _send(self, commands: Iterable[str], place: CommandPlace, script: Script) -> None:
        for command in commands:
            script.command(command, self._sender.sent(command, place))

    def _prime(self, pause: Pause, script: Script) -> None:
        """Run clay out at the park, let the hose settle, and wipe; pressure is off on the way back.

        What was drawn back with the auger off is given again before it runs, as at the wall.
        """
        machine = self.machine
        if pause.prime_ml <= 0:
            return
        script.ready(machine.prime_flow_ml_min)
        self.auger.push(script.state, script)
        script.push(pause.prime_ml, machine.prime_flow_ml_min)
        self.auger.rest(script)
        script.relieve(machine.pause.relieve_ml, machine.prime_flow_ml_min)
        if machine.pause.settle_s:
            self._stand_still(machine.pause.settle_s, script)
        self._wipe(script)

    def _wipe(self, script: Script) -> None:
        end = self._room.wipe_end()
        if end is not None:
            script.fly(x=end[0], y=end[1], feed_mm_min=self.machine.travel_feed_mm_min)

    # -- beads beside the piece ----------------------------------------------------------------

    def _lay_clay(self, lay: LayClay, script: Script, place: Situation) -> None:
        self._check_place(place, True)
        safe_z = self._safe_z(place, lay)
        script.remark(f"{BESIDE}: {lay.why}" if lay.why else BESIDE)
        self._let_go(script, place)
        self._lay_strokes(lay, script, place.spot, safe_z)
        self._back(script, place, safe_z)
        script.remark(f"{BESIDE} ends")

    def _lay_strokes(self, lay: LayClay, script: Script, spot: Spot, safe_z: float) -> None:
        """Beads, one after the other; over the piece's top between them unless the next begins close by."""
        machine = self.machine
        self._room.check_strokes(lay, spot)
        for index, stroke in enumerate(lay.strokes):
            near = index > 0 and self._room.is_near(script.position_mm, script.height_mm, stroke)
            if not near:
                script.relieve(machine.pause.relieve_ml, machine.prime_flow_ml_min)
                script.fly(z=safe_z, feed_mm_min=machine.lift_feed_mm_min)
            x, y = stroke.points_mm[0]
            script.fly(x=x, y=y, feed_mm_min=machine.travel_feed_mm_min)
            script.fly(z=stroke.z_mm, feed_mm_min=machine.lift_feed_mm_min)
            script.ready(machine.prime_flow_ml_min)
            self.auger.push(script.state, script)
            self._lay_stroke(stroke, lay.feed_mm_min, script)
            self.auger.rest(script)
        self._wipe_off(lay, script, safe_z)

    def _lay_stroke(self, stroke: Stroke, feed_mm_min: float, script: Script) -> None:
        points = stroke.points_mm
        legs = [math.dist(a, b) for a, b in itertools.pairwise(points)]
        for (x, y), leg in zip(points[1:], legs, strict=True):
            script.lay(x, y, stroke.clay_ml * leg / sum(legs), feed_mm_min)

    def _wipe_off(self, lay: LayClay, script: Script, safe_z: float) -> None:
        """Relieve pressure, wipe back along the last bead, and lift."""
        machine = self.machine
        script.relieve(machine.pause.relieve_ml, machine.prime_flow_ml_min)
        x, y = wipe_end_mm(lay)
        script.fly(x=x, y=y, feed_mm_min=machine.travel_feed_mm_min)
        script.fly(z=safe_z, feed_mm_min=machine.lift_feed_mm_min)

    # -- shared --------------------------------------------------------------------------------

    def _let_go(self, script: Script, place: Situation) -> None:
        """Clay switched off and pressure relieved before leaving the piece."""
        self.auger.stop(place.state, script)
        if self._ml_per_mm and place.state.flow_factor > 0:
            script.relieve(self.machine.pause.relieve_ml, self.machine.prime_flow_ml_min)

    def _back(self, script: Script, place: Situation, safe_z: float, way_mm: Sequence[Place] = ()) -> None:
        """To the point where the block began, with all that was in force there."""
        machine = self.machine
        script.go_back(
            way_mm,
            safe_z_mm=safe_z,
            travel_feed_mm_min=machine.travel_feed_mm_min,
            lift_feed_mm_min=machine.lift_feed_mm_min,
            way_feed_mm_min=self._way_feed_mm_min(place),
            flow_ml_min=machine.prime_flow_ml_min,
            gives=machine.pause.retrace_gives,
        )
        script.restore()
        self.auger.go_on(place.state, script)

    def _way_feed_mm_min(self, place: Situation) -> float:
        """How fast the wall is gone over again: as it was laid, if the file has said that."""
        said = place.state.feed_mm_min if place.end_feed_mm_min is None else place.end_feed_mm_min
        if math.isnan(said) or said <= 0:
            return self.machine.lift_feed_mm_min
        return min(said * place.state.feed_factor, self.machine.travel_feed_mm_min)

    def _safe_z(self, place: Situation, lay: LayClay | None) -> float:
        return self._room.safe_z_mm(max(place.top_mm, place.state.position_mm[2]), place.spot, lay)

    def _check_place(self, place: Situation, lays: bool) -> None:
        """The nozzle can be sent away from here and, if clay is to be laid, clay can be metered."""
        line, state = place.spot.line + 1, place.state
        if not all(state.known):
            raise PlanError(
                f"at line {line} the machine doesn't know yet where it stands (no homing, no absolute "
                "position before it), so the nozzle can't be sent beside the piece; the file must home first"
            )
        if not state.feed_factor > 0:
            raise PlanError(
                f"at line {line} the feed factor is 0 (M220): nothing can move there; fix or remove it"
            )
        lays = lays and not self._dry
        if lays and not self._ml_per_mm:
            raise PlanError(
                "clay can't be primed or laid beside the piece when the file has no E (`metering: {unit: "
                "path}`); set prime_ml to 0, and prime by hand"
            )
        if lays and not state.flow_factor > 0:
            raise PlanError(
                f"at line {line} the flow factor is 0 (M221): no clay can run there; fix or remove it"
            )
