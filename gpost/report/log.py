"""The log and its fit, in words and as JSON."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import asdict

from gpost import __version__
from gpost.clay.metering import ml_per_unit
from gpost.config.model import Config
from gpost.log.fit import LEAST, LogFit, Spread
from gpost.log.model import PrintRow
from gpost.plain import shown, storable
from gpost.report.text import WIDTH

_NAME_WIDTH = 21


def log_text(rows: Sequence[PrintRow]) -> str:
    """A table of all prints, 80 characters wide; notes below their print."""
    head = f"{'no':>4} {'date':<10} {'piece':<{_NAME_WIDTH}} {'g':>5} {'weighed':>7} {'ratio':>5}"
    lines = [f"{head} {'min':>4} {'took':>4} {'ratio':>5} {'soft':>4}"]
    for row in rows:
        lines += [_row(row), *_notes(row)]
    return "\n".join([*lines, f"{len(rows)} print{'s' * (len(rows) != 1)}", ""])


def log_json(rows: Sequence[PrintRow]) -> str:
    """All prints as a JSON document."""
    prints = [
        {"number": row.number, "added": row.added, **asdict(row.predicted), "found": asdict(row.found)}
        for row in rows
    ]
    return _json(prints=prints)


def added_text(number: int, source: str, path: str, *, as_json: bool) -> str:
    """That a print is in the log."""
    if as_json:
        return _json(number=number, log=storable(path))
    return f"{shown(source)} is print {number} in {shown(path)}\n"


def fit_text(fit: LogFit, config: Config) -> str:
    """What the log teaches, and the lines for the config."""
    lines: list[str] = []
    for title, spread, unit in (
        ("weighed / predicted mass", fit.mass, ""),
        ("taken / predicted time", fit.time, ""),
        ("left in the cartridge", fit.left_ml, " ml"),
    ):
        lines += _wrapped(f"{title}: {_spread(spread, unit)}")
    if fit.time is not None:
        lines += _wrapped(f"for the day's sheet: gpost day --time-factor {fit.time.mean:.3f}")
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
        reserve_ml=None if fit.left_ml is None else fit.left_ml.limit,
    )


def _config_lines(fit: LogFit, config: Config) -> Iterator[str]:
    unit = fit.ml_per_unit
    if unit is not None:
        present = ml_per_unit(config.clay.metering)
        change = "" if present is None else f" # {100 * (unit.mean / present - 1):+.1f} % against the present"
        yield from ("clay:", f"  metering: {{unit: ml, ml_per_unit: {unit.mean:.6g}}}{change}")
    if fit.left_ml is not None:
        yield from (
            "cartridge:",
            f"  reserve_ml: {fit.left_ml.limit:.0f} # one cartridge in twenty leaves more "
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


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ", break_on_hyphens=False)
