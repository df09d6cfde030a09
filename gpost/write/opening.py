"""How the file begins by which a stopped print goes on: a wait, straight up, home if allowed, to the park."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from gpost.config.machine import Machine
from gpost.errors import PlanError
from gpost.motion.state import MachineState
from gpost.plan.blocktime import CLEAR_MM
from gpost.plan.intentions import Restart
from gpost.write.script import Script, e_register, exact, number
from gpost.write.sent import REGISTER, Sent

SLACK_MM = 0.003
"""A last place of the words, in inches too: the way up never ends lower than it has come."""
REGISTER_DECIMALS = 5
"""Of G92 X, Y and Z: a hundredth of a micrometre, far below what any machine does."""
LEVELS = "M420"
"""Takes levelling in use: common practice, no source."""
Do = Callable[[], None]


class Opening:
    """Writes it for one machine, in mm and machine places, before the modes of the place are set.

    Nothing moves before the wait. The first move goes straight up from wherever the nozzle stands; the next
    goes to a height that lies over that in any case, so that Z never comes down before the park.
    """

    def __init__(self, machine: Machine, restart: Restart, safe_z_mm: float) -> None:
        """`safe_z_mm`: over all that stands. Raises PlanError where the ceiling or the homing forbids it."""
        self.machine, self._restart = machine, restart
        self._homes = machine.home_with_piece
        self._lift_mm = max(machine.pause.lift_mm, CLEAR_MM)
        stands_mm = restart.nozzle_below_mm if restart.set_at_mm is None else restart.set_at_mm[2]
        self._up_mm = max(safe_z_mm, stands_mm + self._lift_mm) + SLACK_MM
        self.fly_mm = safe_z_mm if self._homes == "all_up" else self._up_mm
        self._check(stands_mm, safe_z_mm)

    def _check(self, stands_mm: float, safe_z_mm: float) -> None:
        machine, ceiling_mm = self.machine, self.machine.ceiling_mm
        if self._up_mm > ceiling_mm + 2 * SLACK_MM:
            raise PlanError(
                f"the nozzle may stand {stands_mm:.1f} mm high, and lifted by {self._lift_mm:g} mm it would "
                f"go over the ceiling of {ceiling_mm:g} mm; bring it lower, clear of the piece, and say how "
                "high it stands at most (--nozzle-below)"
            )
        if self._homes == "all_up" and machine.home.z_mm < safe_z_mm:
            raise PlanError(
                f"Z homes at {machine.home.z_mm:g} mm, which is not above the piece and what stands beside "
                f"it ({safe_z_mm:.1f} mm is), so that it would home towards the piece; say `machine: "
                "home_with_piece: xy` or `none` in the studio's config"
            )
        if self._restart.lost != "nothing" and not (self._homes == "all_up" or self._restart.set_at_mm):
            raise PlanError(
                "the machine doesn't know its height any more; set the nozzle over a place whose height is "
                "known (--set-on rim or bed)"
            )

    def set_up(self, script: Script) -> None:
        """What the file set the machine up with, but for what homing would take back."""
        _send_set_up(script, [line for line in self._restart.set_up if line not in self._after_homing])

    @property
    def _after_homing(self) -> list[str]:
        """Levelling in use: many controllers switch it off as they home (common practice, no source)."""
        found = [line for line in self._restart.set_up if line.split()[0] == LEVELS]
        return [] if self._homes == "none" else found

    def write(self, script: Script, wait: Do, quiet: Do) -> None:
        """The lines up to the park, in the modes of the script's state. `quiet`: air and clay off."""
        state, machine = script.state, self.machine
        _mode(script, "G21", "G17")
        _mode(script, f"M220 S{exact(100 * state.feed_factor)}", shown="M220 S<percent>")
        _mode(script, f"M221 S{exact(100 * state.flow_factor)}", shown="M221 S<percent>")
        quiet()
        wait()
        _mode(script, "G91")  # not before: who ends it at the wait leaves the machine as it was
        self._take_place(script, state)
        lift = machine.lift_feed_mm_min / state.feed_factor
        travel = machine.travel_feed_mm_min / state.feed_factor
        script.line(f"G0 Z{number(self._lift_mm, 3)} F{number(lift, 4)}")
        _mode(script, "G90")
        up_mm = self._up_mm if self._homes == "all_up" else script.height_mm
        high = exact(up_mm - state.offset[2])
        if self._restart.lost == "nothing" or self._restart.set_at_mm is not None:
            script.line(f"G0 Z{high}")
        self._home(script, state)
        _send_set_up(script, self._after_homing)
        x, y = (exact(script.position_mm[axis] - state.offset[axis]) for axis in (0, 1))
        script.line(f"G0 X{x} Y{y} F{number(travel, 4)}")
        if self._homes == "all_up":
            script.line(f"G0 Z{exact(script.height_mm - state.offset[2])} F{number(lift, 4)}")

    def _take_place(self, script: Script, state: MachineState) -> None:
        """The place at which the potter has set the nozzle, taken for that by G92."""
        if self._restart.set_at_mm is None or self._homes == "all_up":
            return
        axes = "XYZ" if self._restart.lost == "all" and self._homes == "none" else "Z"
        _register(script, axes, self._restart.set_at_mm, state)

    def _home(self, script: Script, state: MachineState) -> None:
        axes = {"none": "", "xy": "XY", "all_up": "XYZ"}[self._homes]
        if not axes:
            return
        for code in ("G28 Z", "G28 X Y") if axes == "XYZ" else ("G28 X Y",):  # first up, then aside
            script.command(code, Sent("home", code))
        home = self.machine.home
        if any(state.offset["XYZ".index(axis)] for axis in axes):
            _register(script, axes, (home.x_mm, home.y_mm, home.z_mm), state)

    def settle_modes(self, script: Script, *, has_e: bool) -> None:
        """The modes and registers of the place, for what follows."""
        state = script.state
        _mode(script, *["G20"] * (state.scale != 1), *[f"G{state.plane}"] * (state.plane != 17))
        _mode(script, "G91" if state.relative else "G90")
        if has_e:
            _mode(script, "M83" if state.e_relative else "M82")
            script.command(e_register(state), REGISTER)


def _send_set_up(script: Script, lines: Iterable[str]) -> None:
    for line in lines:
        script.command(line, Sent("set-up", line))


def _mode(script: Script, *lines: str, shown: str | None = None) -> None:
    for line in lines:
        script.command(line, Sent("mode", line if shown is None else shown))


def _register(script: Script, axes: str, at_mm: tuple[float, float, float], state: MachineState) -> None:
    """What the registers of some axes are where the nozzle stands at a machine place."""
    places = zip("XYZ", at_mm, state.offset, strict=False)
    words = [f"{axis}{number(mm - offset, REGISTER_DECIMALS)}" for axis, mm, offset in places if axis in axes]
    shown = " ".join(f"{axis}<value>" for axis in axes)
    script.command(f"G92 {' '.join(words)}", Sent("register", f"G92 {shown}"))
