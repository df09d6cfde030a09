"""The log and its fit, in words and as JSON."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import asdict

from gpost import __version__
from gpost.common.plain import shown, storable
from gpost.config.metering import ml_per_unit
from gpost.config.model import Config
from gpost.report.text import WIDTH, indented
from gpost.workbook.log.fit import LEAST, LogFit, Spread
from gpost.workbook.log.model import PrintRow

_NAME_WIDTH = 21


def log_text(rows: Sequence[PrintRow]) -> str:
    """A table of all prints, 80 characters wide; notes below their print."""
    head = f"{'no':>4} {'date':<10} {'piece':<{_NAME_WIDTH}} {'g':>5} {'weighed':>7} {'ratio':>5}"
    lines = [f"{head} {'min':>4} {'took':>4} {'ratio':>5} {'soft':>4}"]
    for row in rows:
        lines += [_row(row), *_notes(row)]
    dropped = sum(row.dropped is not None for row in rows)
    count = f"{len(rows)} print{'s' * (len(rows) != 1)}" + (f", {dropped} of them dropped" if dropped else "")
    return "\n".join([*lines, count, ""])


def log_json(rows: Sequence[PrintRow], left_out: Sequence[tuple[int, str]] = ()) -> str:
    """All prints as a JSON document, and the number of each row that makes no sense, with the reason."""
    prints = [
        {
            "number": row.number,
            "added": row.added,
            **asdict(row.predicted),
            "found": asdict(row.found),
            "mass_ratio": row.mass_ratio,
            "time_ratio": row.time_ratio,
            "left_ml": row.left_ml,
            "found_ml_per_unit": row.found_ml_per_unit,
            "dropped": row.dropped,
        }
        for row in rows
    ]
    return _json(prints=prints, left_out=[{"number": number, "reason": why} for number, why in left_out])


def added_text(number: int, source: str, path: str, doubts: Sequence[str], *, as_json: bool) -> str:
    """That a print is in the log; what looks wrong about it stands in the JSON alone."""
    if as_json:
        return _json(number=number, log=storable(path), doubts=list(doubts))
    return f"{shown(source)} is print {number} in {shown(path)}\n"


def dropped_text(row: PrintRow, path: str, *, as_json: bool) -> str:
    """That a print no longer counts."""
    if as_json:
        return _json(number=row.number, log=storable(path))
    return (
        f"print {row.number}, {shown(row.predicted.source)}, is dropped: it stays in {shown(path)}, but "
        "nothing is learnt from it\n"
    )


def fit_text(fit: LogFit, config: Config) -> str:
    """What the log teaches, and the lines for the config."""
    lines: list[str] = []
    for title, spread, unit in (
        ("weighed / predicted mass", fit.mass, ""),
        ("taken / predicted time", fit.time, ""),
        ("left in the cartridge", fit.left_ml, " ml"),
    ):
        lines += indented(f"{title}: {_spread(spread, unit)}")
    if fit.time is not None and fit.time.firm:
        lines += indented(f"for the day's sheet: gpost day --time-factor {fit.time.mean:.3f}")
    for doubt in _doubts(fit, config):
        lines += indented(doubt)
    config_lines = list(_config_lines(fit, config))
    return "\n".join([*lines, *(["", *config_lines] if config_lines else []), ""])


def fit_json(fit: LogFit, config: Config) -> str:
    """The same as JSON; what couldn't be fitted is null."""
    return _json(
        mass_ratio=_record(fit.mass),
        ml_per_unit=_record(fit.ml_per_unit),
        config_ml_per_unit=ml_per_unit(config.clay.metering),
        time_ratio=_record(fit.time),
        left_ml=_record(fit.left_ml),
        reserve_ml=fit.reserve_ml(config.cartridge.volume_ml),
        doubts=list(_doubts(fit, config)),
    )


def _doubts(fit: LogFit, config: Config) -> Iterator[str]:
    """Why no line is given for what the prints do say."""
    more = "add more prints, or leave out one that went wrong (--without, or gpost log drop)"
    for spread, what in (
        (fit.ml_per_unit, "no clay per unit of E is learnt"),
        (fit.time, "no time factor is learnt"),
    ):
        if spread is not None and not spread.firm:
            yield (
                f"{what}: with 95 % it lies between {spread.low:.4g} and {spread.high:.4g}, so the prints "
                f"differ too much; {more}"
            )
    volume_ml = config.cartridge.volume_ml
    if fit.left_ml is not None and fit.reserve_ml(volume_ml) is None:
        yield (
            f"no reserve is learnt: what was left scatters too much, as {fit.left_ml.limit:.0f} of the "
            f"cartridge's {volume_ml:g} ml would have to be kept back; {more}"
        )


def _config_lines(fit: LogFit, config: Config) -> Iterator[str]:
    unit, reserve_ml = fit.ml_per_unit, fit.reserve_ml(config.cartridge.volume_ml)
    if unit is not None and unit.firm:
        present = ml_per_unit(config.clay.metering)
        change = "" if present is None else f" # {100 * (unit.mean / present - 1):+.1f} % against the present"
        yield from ("clay:", f"  metering: {{unit: ml, ml_per_unit: {unit.mean:.6g}}}{change}")
    if reserve_ml is not None:
        yield from (
            "cartridge:",
            f"  reserve_ml: {reserve_ml:.0f} # one cartridge in twenty leaves more "
            f"(now {config.cartridge.reserve_ml:g})",
        )


def _spread(spread: Spread | None, unit: str) -> str:
    if spread is None:
        return f"not known; at least {LEAST} prints must say it"
    return (
        f"{spread.mean:.4g}{unit} on average of {spread.prints} prints, standard deviation "
        f"{spread.deviation:.2g}{unit}, 95 % interval of the mean {spread.low:.4g} to {spread.high:.4g}{unit}"
    )


def _row(row: PrintRow) -> str:
    name = shown(row.predicted.source.rpartition("/")[2])
    if len(name) > _NAME_WIDTH:
        name = f"{name[: _NAME_WIDTH - 12]}...{name[-9:]}"
    mass = (
        f"{row.predicted.piece_g:>5.0f} {_number(row.found.weighed_g, 7, 0)} {_number(row.mass_ratio, 5, 3)}"
    )
    time = f"{row.predicted.minutes:>4.0f} {_number(row.found.minutes, 4, 0)} {_number(row.time_ratio, 5, 3)}"
    soft = _number(row.found.softness, 4, 0)
    return f"{row.number:>4} {row.added[:10]:<10} {name:<{_NAME_WIDTH}} {mass} {time} {soft}"


def _notes(row: PrintRow) -> list[str]:
    left = "" if row.left_ml is None else f"{row.left_ml:.0f} ml left in the cartridge. "
    if row.dropped is not None:
        left = f"Dropped on {row.dropped[:10]}: nothing is learnt from it. {left}"
    indent = " " * 16
    return textwrap.wrap(
        left + shown(row.found.notes), WIDTH, initial_indent=indent, subsequent_indent=indent
    )


def _number(value: float | None, width: int, decimals: int) -> str:
    return f"{'-':>{width}}" if value is None else f"{value:>{width}.{decimals}f}"


def _record(spread: Spread | None) -> dict[str, object] | None:
    return None if spread is None else asdict(spread)


def _json(**values: object) -> str:
    document = {"version": 1, "gpost_version": __version__, **values}
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"
