"""The log and its fit, in words and as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict

from gpost import __version__
from gpost.clay.spread import Spread
from gpost.common.digits import few
from gpost.common.layout import Column, Paragraph, Part, Table, laid_out
from gpost.common.plain import shown, storable
from gpost.config.metering import ml_per_unit
from gpost.config.model import Config
from gpost.report.wording import indented, times
from gpost.workbook.log.doubts import asked_again
from gpost.workbook.log.fit import LEAST, RESERVE_CONFIDENCE, RESERVE_SHARE, LogFit
from gpost.workbook.log.lines import (
    NOT_SAID,
    OF_CARTRIDGES,
    by_average,
    by_path,
    config_lines,
    no_metering,
    no_reserve,
    no_time,
    prints_named,
)
from gpost.workbook.log.model import PrintRow
from gpost.workbook.sure import LEAST_FOR_LINE, by_luck, impossible
from gpost.workbook.trial.lines import with_config

_COLUMNS = (
    Column("no", 4, long="number"),
    Column("date", 10, number=False),
    Column("piece", 21, number=False, ends=6),
    Column("g", 5, long="predicted, g"),
    Column("weighed", 7, long="weighed, g"),
    Column("x g", 5, long="mass ratio"),
    Column("min", 4, long="predicted, min"),
    Column("took", 4, long="took, min"),
    Column("x min", 5, long="time ratio"),
    Column("soft", 4, long="softness"),
)


_FAR_OFF = 10.0
MOST_ASKED = 3
"""So many doubts are told in full, and of further ones the prints alone."""


def log_text(rows: Sequence[PrintRow], width: int | None = None) -> str:
    """A table of all prints, notes below their print; laid out as `laid_out` does."""
    lines = [line for row in rows for line in (_row(row), _notes(row))]
    dropped = sum(row.dropped is not None for row in rows)
    count = times(len(rows), "print") + (f", {dropped} of them dropped" if dropped else "")
    return laid_out([Table(_COLUMNS, lines), count], width)


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


def added_text(
    number: int, source: str, path: str, doubts: Sequence[str], *, as_json: bool, width: int | None = None
) -> str:
    """That a print is in the log; what looks wrong about it stands in the JSON alone."""
    if as_json:
        return _json(number=number, log=storable(path), doubts=list(doubts))
    return laid_out([f"{shown(source)} is print {number} in {shown(path)}"], width)


def dropped_text(row: PrintRow, path: str, *, as_json: bool, width: int | None = None) -> str:
    """That a print no longer counts."""
    if as_json:
        return _json(number=row.number, log=storable(path))
    text = (
        f"print {row.number}, {shown(row.predicted.source)}, is dropped: it stays in {shown(path)}, but "
        "nothing is learnt from it"
    )
    return laid_out([text], width)


def fit_text(fit: LogFit, config: Config, *, average: bool = False, width: int | None = None) -> str:
    """What the log teaches, and the lines for the config; `average`: the reserve as such, with its spread."""
    average = by_average(config, asked=average)
    lines: list[Part] = []
    for title, spread in (("weighed / predicted mass", fit.mass), ("taken / predicted time", fit.time)):
        lines += indented(f"{title}: {_spread(spread)}")
    lines += indented(f"left in the cartridge: {_left(fit, average=average)}")
    for said in (*_left_out(fit), *_rare(fit), *_mixed(fit), *_doubts(fit, config, average=average)):
        lines += indented(said)
    if fit.ml_per_unit is not None and fit.ml_per_unit.lucky and not no_metering(fit, config):
        lines += indented(by_luck("scale and clay"))
    if fit.time is not None and not no_time(fit):
        lines += indented(f"for the day's sheet: gpost day --time-factor {fit.time.mean:.3f}")
    return with_config(lines, list(config_lines(fit, config, average=average)), width)


def fit_json(fit: LogFit, config: Config, *, average: bool = False) -> str:
    """The same as JSON; what couldn't be fitted is null."""
    average = by_average(config, asked=average)
    reserve = None if no_reserve(fit, config, average=average) else fit.left_ml
    return _json(
        mass_ratio=_record(fit.mass),
        ml_per_unit=_record(fit.ml_per_unit),
        config_ml_per_unit=ml_per_unit(config.clay.metering),
        time_ratio=_record(fit.time),
        left_ml=_record(fit.left_ml),
        reserve_ml=None if reserve is None else reserve.mean if average else fit.limit_ml,
        reserve_spread_ml=reserve.next_spread if average and reserve is not None else None,
        limit_ml=fit.limit_ml,
        limit_share=RESERVE_SHARE,
        limit_confidence=RESERVE_CONFIDENCE,
        left_out=dict(fit.left_out),
        odd=dict(fit.odd),
        rare=dict(fit.rare),
        doubts=[*_rare(fit), *_mixed(fit), *_doubts(fit, config, average=average)],
        config_lines=list(config_lines(fit, config, average=average)),
    )


def _left_out(fit: LogFit) -> Iterator[str]:
    """Which prints were not listened to."""
    for number in sorted(set(fit.left_out.values())):
        names = _fields(fit.left_out, number)
        yield f"print {number} does not agree with the others, and is left out here ({names}). {NOT_SAID}"


def _rare(fit: LogFit) -> Iterator[str]:
    """Which prints were listened to although the others contradict them."""
    for number in sorted(set(fit.rare.values())):
        yield (
            f"print {number} lies far from the others, as one does by chance in one log of twenty. Prints of "
            f"one clay may differ so, and it counts here ({_fields(fit.rare, number)}). {NOT_SAID}. If you "
            f"know that it went wrong, leave it out (--without {number}, or gpost log drop {number})"
        )


def _fields(named: Mapping[str, int], number: int) -> str:
    """The fields for which a print is named, in words."""
    words = {"mass": "mass", "ml_per_unit": "clay per unit of E", "time": "time"}
    return ", ".join(word for name, word in words.items() if named.get(name) == number)


def _mixed(fit: LogFit) -> Iterator[str]:
    """That the masses were predicted by different configs, and what that means for each figure."""
    if len(fit.configs) < 2:
        return
    each = "; ".join(
        f"{'by path' if own.ml_per_unit is None else f'with {own.ml_per_unit:.4g} ml per unit of E'} and "
        f"{own.density_g_ml:.4g} g per ml ({prints_named(own.numbers)})"
        for own in fit.configs
    )
    yield (
        f"the masses were predicted by different configs: {each}. The ratio of the masses is a mean over "
        "all of them, and no config's own. Clay per unit of E goes by what each was predicted with: that is "
        "right if each of these densities was that print's clay. Leave out what was predicted wrongly "
        "(--without NO)"
    )


def _doubts(fit: LogFit, config: Config, *, average: bool) -> Iterator[str]:
    """Why no line is given for what the prints do say."""
    if bead := by_path(fit):
        yield bead
    metered = fit.ml_per_unit
    for reason, wrong, what in (
        (
            no_metering(fit, config),
            "ml_per_unit" in fit.far or (metered is not None and impossible(metered.mean)),
            "no clay per unit of E is learnt",
        ),
        (no_time(fit), "time" in fit.far, "no time factor is learnt"),
        (no_reserve(fit, config, average=average), False, "no reserve is learnt"),
    ):
        if reason:
            more = "" if wrong else ". More prints make it surer (gpost log add)"
            yield f"{what}: {reason}{more}"
    yield from _asked(fit, config)


def _asked(fit: LogFit, config: Config) -> Iterator[str]:
    """What was asked about the prints when they were added, but for those that are left out anyway."""
    left_out = set(fit.left_out.values())
    asked = [each for each in asked_again(fit.used, config) if each[0] not in left_out]
    yield from (doubt for _, doubt in asked[:MOST_ASKED])
    if more := sorted({number for number, _ in asked} - {number for number, _ in asked[:MOST_ASKED]}):
        yield f"gpost log add asked about {prints_named(more)} too; gpost log show has what they say"


def _spread(spread: Spread | None) -> str:
    if spread is None:
        return f"not known; at least {LEAST} prints must say it"
    return (
        f"{spread.mean:.4g} on average of {spread.count} prints, two of three within +-"
        f"{spread.deviation:.2g} of it; 95 % interval of the average {_low(spread):.4g} to "
        f"{spread.mean + spread.reach:.4g}"
    )


def _left(fit: LogFit, *, average: bool) -> str:
    """What cartridges leave, on average, and if that is the reserve the limit by these few."""
    left, limit_ml = fit.left_ml, fit.limit_ml
    if left is None or limit_ml is None:
        return f"not known; at least {LEAST} prints must say it"
    said = (
        f"{left.mean:.0f} ml on average of {left.count} cartridges, two of three within +-"
        f"{left.deviation:.2g} ml of it"
    )
    if average or left.count < LEAST_FOR_LINE:
        return said
    return f"{said}; by these {limit_ml:.0f} ml are a limit: {OF_CARTRIDGES}"


def _low(spread: Spread) -> float:
    """The interval's lower end: no amount, time or share of one is below 0."""
    return max(spread.mean - spread.reach, 0.0)


def _row(row: PrintRow) -> tuple[str, ...]:
    return (
        f"{row.number}",
        row.added[:10],
        shown(row.predicted.source.rpartition("/")[2]),
        f"{row.predicted.piece_g:.0f}",
        _number(row.found.weighed_g, 0),
        _ratio(row.mass_ratio),
        f"{row.predicted.minutes:.0f}",
        _number(row.found.minutes, 0),
        _ratio(row.time_ratio),
        _number(row.found.softness, 0),
    )


def _notes(row: PrintRow) -> Paragraph:
    left = "" if row.left_ml is None else f"{row.left_ml:.0f} ml left in the cartridge. "
    if row.found.turned:
        left = f"turned by hand: {shown(row.found.turned)}. {left}"
    if row.dropped is not None:
        left = f"Dropped on {row.dropped[:10]}: nothing is learnt from it. {left}"
    indent = " " * 16
    return Paragraph(left + shown(row.found.notes), indent, indent, hyphens=True)


def _number(value: float | None, decimals: int) -> str:
    return "-" if value is None else f"{value:.{decimals}f}"


def _ratio(value: float | None) -> str:
    """Three decimals, or fewer where it is far off: three digits are all that it means then."""
    return _number(value, 3) if value is None or value < _FAR_OFF else few(value, 3)


def _record(spread: Spread | None) -> dict[str, object] | None:
    if spread is None:
        return None
    return {
        "prints": spread.count,
        "mean": spread.mean,
        "deviation": spread.deviation,
        "low": _low(spread),
        "high": spread.mean + spread.reach,
    }


def _json(**values: object) -> str:
    document = {"version": 1, "gpost_version": __version__, **values}
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"
