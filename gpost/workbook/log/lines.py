"""Which lines the log gives the config, and why it doesn't give the others."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from gpost.clay.spread import Spread
from gpost.config.metering import ml_per_unit
from gpost.config.model import Config
from gpost.workbook.log.fit import RESERVE_CONFIDENCE, RESERVE_SHARE, LogFit
from gpost.workbook.sure import LEAST_FOR_LINE, MOST_OFF_PERCENT, ROUNDED, impossible, loose

MOST_RESERVE = 0.5
"""Share of the cartridge; who leaves more than half in it doesn't know the reserve."""
_CONFIDENCE = f"{100 * RESERVE_CONFIDENCE:.0f} % confidence"
OF_CARTRIDGES = f"{100 * RESERVE_SHARE:.0f} % of cartridges leave no more, with {_CONFIDENCE}"
"""What kind of limit the reserve is."""
NOT_SAID = "A knob turned in it and not said (log add --turned) can't be told from other clay"


def no_metering(fit: LogFit, config: Config) -> str:
    """Why no clay per unit of E is learnt; empty if it is, or if no print says anything of it."""
    found = fit.ml_per_unit
    if found is None:
        return ""
    if found.mean > 0 and (wrong := impossible(found.mean)):
        return f"{wrong}: give the grams of each print, and name the configs that it was printed with"
    return _unready(fit, "ml_per_unit") or loose(
        100 * found.reach / found.mean, known=config.clay.metering.spread_percent
    )


def by_path(fit: LogFit) -> str:
    """What prints say that have no E: how much more or less clay a bead holds; empty if that isn't sure."""
    mass = fit.mass
    if mass is None or fit.ml_per_unit is not None or abs(mass.mean - 1) <= mass.reach:
        return ""
    if _unready(fit, "mass") or loose(100 * mass.reach / mass.mean):
        return ""
    return (
        "these were metered by the path, so there is no clay per unit of E to learn; a bead holds "
        f"{mass.mean:.3g} times the clay that `clay: bead_width_mm` and `bead_height_mm` say. Measure a "
        "bead, and change the one that is wrong"
    )


def no_time(fit: LogFit) -> str:
    """Why no time factor is learnt; as `no_metering`."""
    if fit.time is None:
        return ""
    return _unready(fit, "time") or loose(100 * fit.time.reach / fit.time.mean)


def no_reserve(fit: LogFit, config: Config, *, average: bool) -> str:
    """Why no reserve is learnt, as an average with its spread or as a limit; as `no_metering`."""
    left, limit_ml, cartridge = fit.left_ml, fit.limit_ml, config.cartridge
    if left is None or limit_ml is None:
        return ""
    unready = _unready(fit, "left_ml")
    if unready:
        return unready
    if average:
        return loose(
            left.reach,
            "ml",
            limit=MOST_OFF_PERCENT / 100 * cartridge.volume_ml,
            of="the cartridge",
            known=cartridge.reserve_spread_ml,
        )
    if limit_ml > MOST_RESERVE * cartridge.volume_ml:
        return (
            f"what was left scatters too much, as {limit_ml:.0f} of the cartridge's {cartridge.volume_ml:g} "
            "ml would have to be kept back"
        )
    return ""


def by_average(config: Config, *, asked: bool) -> bool:
    """Whether the reserve is an average with a spread, not a limit: if asked for, or the config's is."""
    return asked or config.cartridge.reserve_spread_ml is not None


def config_lines(fit: LogFit, config: Config, *, average: bool) -> Iterator[str]:
    """The lines that the prints bear out."""
    unit, left, limit_ml = fit.ml_per_unit, fit.left_ml, fit.limit_ml
    if unit is not None and not no_metering(fit, config):
        present = ml_per_unit(config.clay.metering)
        change = [] if present is None else [f"  # {_change(unit.mean / present)} the present"]
        percent = 100 * unit.next_spread / unit.mean
        metering = f"{{unit: ml, ml_per_unit: {unit.mean:.4g}, spread_percent: {percent:.2g}}}"
        wider = _wider(unit, 100 / unit.mean, "%", "spread_percent", "print")
        yield from ("clay:", *change, *wider, f"  metering: {metering}")
    if left is None or limit_ml is None or no_reserve(fit, config, average=average):
        return
    now = f"(now {config.cartridge.reserve_ml:g})"
    if average:
        yield from (
            "cartridge:",
            f"  # on average of {left.count} cartridges {now}",
            f"  reserve_ml: {left.mean:.0f}",
            *_wider(left, 1, "ml", "reserve_spread_ml", "cartridge"),
            f"  reserve_spread_ml: {left.next_spread:.2g}",
        )
    else:
        yield from ("cartridge:", f"  # {OF_CARTRIDGES} {now}", f"  reserve_ml: {limit_ml:.0f}")


def _change(ratio: float) -> str:
    """How a new figure stands to the one before, to a tenth of a percent."""
    percent = f"{100 * (ratio - 1):+.1f}"
    return "as" if float(percent) == 0 else f"{percent} % against"


def _wider(found: Spread, scale: float, unit: str, key: str, of: str) -> Iterator[str]:
    """Why the spread in a line is not the one of what was found; nothing where it is, but for rounding."""
    if found.next_spread > found.deviation * ROUNDED:
        differ = f"{scale * found.deviation:.2g} {unit}"
        yield f"  # {key} is the next {of}'s; these {found.count} differ by +-{differ}"


def prints_named(numbers: Sequence[int]) -> str:
    """Such as `print 3` or `prints 1, 3`."""
    return f"print{'s' * (len(numbers) > 1)} {', '.join(map(str, numbers))}"


def _unready(fit: LogFit, name: str) -> str:
    """What can't be meant, too few prints, or one of them wrong and nobody can tell which."""
    if name in fit.far:
        numbers = fit.far[name]
        return (
            f"{prints_named(numbers)} can hardly be meant: three times what was predicted or more, or a "
            f"third of it or less. Take back what is a slip (gpost log drop {numbers[0]}) and add it again, "
            f"or leave it out (--without {numbers[0]})"
        )
    if name in fit.odd:
        return (
            f"print {fit.odd[name]} does not agree with the others. {NOT_SAID}. If it went wrong, leave it "
            f"out (--without {fit.odd[name]}, or gpost log drop {fit.odd[name]})"
        )
    spread = getattr(fit, name)
    if spread.mean <= 0 and name != "left_ml":
        return "nothing was found"
    if spread.count < LEAST_FOR_LINE:
        return f"{spread.count} prints may agree by luck; at least {LEAST_FOR_LINE} must say it"
    return ""
