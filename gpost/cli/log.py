"""`gpost log`: printed pieces, what was predicted and what was found."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from gpost.cli.numbers import Number, Whole
from gpost.cli.options import SLICED_FILE, STANDARD, Configs, config_option, need_config, read_turns
from gpost.common.plain import shown
from gpost.config.typed import read_number

if TYPE_CHECKING:
    from gpost.supply.turned import Turn
    from gpost.workbook.log.card import Card
    from gpost.workbook.log.store import Log

log_option = click.option(
    "--log",
    "path",
    type=click.Path(path_type=Path),
    default="gpost-log.sqlite",
    show_default=True,
    metavar="FILE",
    help="The log's file.",
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
_GRAMS = Number("g", min=0, min_open=True)
_CARD = "gpost.card"
_HOURS = re.compile(r"(\d{1,3}):([0-5]\d)")


def _minutes(_context: click.Context, _option: click.Parameter, text: str | None) -> float | None:
    """Minutes, given as such or as h:mm. Raises click.BadParameter."""
    if text is None:
        return None
    hours = _HOURS.fullmatch(text)
    try:
        minutes = int(hours[1]) * 60.0 + int(hours[2]) if hours else read_number(text, "minutes")
    except ValueError as error:
        hint = "" if ";" in str(error) else "; give minutes, such as 92, or h:mm, such as 1:32"
        raise click.BadParameter(f"{error}{hint}") from error
    if minutes <= 0:
        raise click.BadParameter(
            f"{text!r} is no time above 0; give minutes, such as 92, or h:mm, such as 1:32"
        )
    return minutes


def _filled_in(context: click.Context, _option: click.Parameter, path: Path | None) -> None:
    """Take what the card says where the command line says nothing."""
    from gpost.workbook.log.card import read_card

    if path is not None:
        card = read_card(path)
        context.meta[_CARD], said = card, dict[str, object](card.filled)
        if "turned" in said:
            said["turned"] = str(said["turned"]).split()
        context.default_map = {**(context.default_map or {}), **said}


def _check_card(card: Card | None, source: str) -> None:
    """Refuse the card of another piece, and one on which nothing stands. Raises click.UsageError."""
    if card is None:
        return
    if not card.is_of(source):
        raise click.UsageError(
            f"the card is of {shown(card.source)}, and the summary of {shown(source)}; name that piece's card"
        )
    if not card.filled:
        raise click.UsageError("nothing is filled in on the card")


def _say_left_out(log: Log) -> None:
    """Name the rows that make no sense."""
    from gpost.cli.streams import tell

    for number, wrong in log.left_out():
        tell(f"print {number} makes no sense, and is left out: {shown(wrong)}")


@click.group("log", short_help="Keep what was printed, and learn from it.")
def command() -> None:
    """Keep printed results, and learn flow, reserve and time from them."""


@command.command("add")
@click.argument("summary", type=SLICED_FILE)
@config_option
@click.option(
    "--grams", type=_GRAMS, help="Wet mass of the whole piece, without its slab, fresh from the machine."
)
@click.option(
    "--minutes",
    callback=_minutes,
    metavar="MINUTES",
    help="Machine time it took, in minutes or as h:mm; waiting not counted.",
)
@click.option("--left-g", type=Number("g", min=0), help="Wet mass left in a cartridge that gave no more.")
@click.option(
    "--turned",
    multiple=True,
    callback=read_turns,
    metavar="KNOB=PERCENT@LAYER",
    help="Flow or speed turned by hand, and from which layer or height on, such as flow=110@40 or "
    "speed=90@62.5mm; once for each turn. What is not said can't be told from other clay.",
)
@click.option("--softness", type=Whole(min=1, max=5), help="Of the clay: 1 stiff, 5 soft.")
@click.option("--note", default="", help="What you want to remember.")
@click.option(
    "--card",
    type=click.Path(path_type=Path),
    is_eager=True,
    expose_value=False,
    callback=_filled_in,
    metavar="FILE",
    help="The summary in words with its card filled in; what the command line says goes before it.",
)
@log_option
@json_option
def add(
    summary: str,
    configs: Configs,
    grams: float | None,
    minutes: float | None,
    left_g: float | None,
    turned: list[Turn],
    softness: int | None,
    note: str,
    path: Path,
    as_json: bool,
) -> None:
    """Add a printed piece by its JSON SUMMARY (- is standard input) and the configs it was printed with."""
    from gpost.cli.streams import piped, say, tell
    from gpost.cli.terminal import width
    from gpost.common.plain import storable
    from gpost.config.load import load_config
    from gpost.workbook.log.doubts import doubts_of
    from gpost.workbook.log.model import Found, parse_summary, predicted, read_summary
    from gpost.workbook.log.store import open_log
    from gpost.workbook.log.turned import effect
    from gpost.workbook.log.words import added_text
    from gpost.write.inputs import Input, reading

    if not configs:
        raise click.UsageError("name the configs that the piece was printed with: -c CONFIG")
    others = piped(summary) or [Input("the summary", Path(summary))]
    reading(configs=configs.named, others=others).refuse(path)
    config = load_config(configs.files, studio=configs.studio).config
    given = (
        parse_summary(sys.stdin.buffer.read(), "-") if summary == STANDARD else read_summary(Path(summary))
    )
    _check_card(click.get_current_context().meta.get(_CARD), given.source)
    share = effect(given, turned)
    found = Found(grams, minutes, left_g, softness, storable(note), " ".join(map(str, turned)), *share)
    if found == Found():
        raise click.UsageError(
            "nothing is said of the print, so it is not kept; give --grams, --minutes, --left-g, --softness, "
            "--turned or --note, or a card that is filled in (--card)"
        )
    said = predicted(given, config)
    with open_log(path, create=True) as log:
        earlier = log.prints()
        number = log.add(said, found)
        _say_left_out(log)
    doubts = doubts_of(number, given, said, found, config, earlier)
    for doubt in doubts:
        tell(doubt)
    say(added_text(number, said.source, str(path), doubts, as_json=as_json, width=width()))


@command.command("drop")
@click.argument("number", type=Whole(min=1))
@log_option
@json_option
def drop(number: int, path: Path, as_json: bool) -> None:
    """Take a print back: it stays in the log, marked, and nothing is learnt from it."""
    from gpost.cli.streams import say
    from gpost.cli.terminal import width
    from gpost.workbook.log.store import open_log
    from gpost.workbook.log.words import dropped_text

    with open_log(path) as log:
        row = log.drop(number)
        _say_left_out(log)
    say(dropped_text(row, str(path), as_json=as_json, width=width()))


@command.command("show")
@log_option
@json_option
def show(path: Path, as_json: bool) -> None:
    """Show all prints."""
    from gpost.cli.streams import say
    from gpost.cli.terminal import width
    from gpost.workbook.log.store import open_log
    from gpost.workbook.log.words import log_json, log_text

    with open_log(path) as log:
        rows, left_out = log.prints(), log.left_out()
        _say_left_out(log)
    say(log_json(rows, left_out) if as_json else log_text(rows, width()))


@command.command("fit")
@config_option
@click.option("--without", type=Whole(), multiple=True, metavar="NO", help="Leave this print out.")
@click.option(
    "--average",
    is_flag=True,
    help="Give the reserve as an average with its spread, rather than as a limit.",
)
@log_option
@json_option
def fit(configs: Configs, without: tuple[int, ...], average: bool, path: Path, as_json: bool) -> None:
    """Learn clay per unit of E, reserve and time from the prints; print the lines for the config."""
    from gpost.cli.streams import say
    from gpost.cli.terminal import width
    from gpost.config.load import load_config
    from gpost.workbook.log.fit import fit_prints
    from gpost.workbook.log.store import open_log
    from gpost.workbook.log.words import fit_json, fit_text
    from gpost.write.inputs import reading

    reading(configs=configs.named).refuse(path)
    config = load_config(configs.files, studio=configs.studio).config
    with open_log(path) as log:
        rows = log.prints()
        _say_left_out(log)
    need_config(configs)
    found = fit_prints(rows, without)
    if as_json:
        say(fit_json(found, config, average=average))
    else:
        say(fit_text(found, config, average=average, width=width()))
