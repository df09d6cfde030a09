"""`gpost stain`: grams of each colourant for coloured clay."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import click

from gpost.cli.numbers import Number, Whole
from gpost.cli.options import Configs, config_option, need_config
from gpost.config.typed import read_number


@click.command("stain", short_help="Say how many grams of each colourant go into a batch of clay.")
@click.option(
    "--wet-g",
    type=Number("g"),
    required=True,
    help="Wet plain clay to colour that is to be left after the loss, of each step, g; colourants and their "
    "water come on top.",
)
@click.option(
    "--add",
    "added",
    multiple=True,
    metavar="NAME=PERCENT",
    required=True,
    help="A colourant, percent of the dry mass; may be given several times.",
)
@click.option(
    "--water-percent",
    type=Number("percent"),
    help="Water in the wet clay, percent of the wet mass; else the config's.",
)
@click.option(
    "--loss-percent",
    type=Number("percent"),
    default=0.0,
    show_default=True,
    help="Clay that gets lost, percent.",
)
@click.option("--moist", is_flag=True, help="The percentages are of the moist clay, not of the dry mass.")
@click.option("--ladder", "steps", type=Whole(), help="A blend in so many steps, from the clay of --from on.")
@click.option(
    "--from",
    "first",
    multiple=True,
    metavar="NAME=PERCENT",
    help="A colourant of the clay that the ladder starts from; left out: plain clay.",
)
@config_option
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
def command(
    wet_g: float,
    added: tuple[str, ...],
    water_percent: float | None,
    loss_percent: float,
    moist: bool,
    steps: int | None,
    first: tuple[str, ...],
    configs: Configs,
    as_json: bool,
) -> None:
    """Say how many grams of each colourant go into a batch of clay, and into a ladder of blends.

    Percent is of the dry mass: `gpost stain --wet-g 1000 --water-percent 25 --add cobalt=1.5`.
    """
    from gpost.clay.stain import batch, cautions, ends, ladder
    from gpost.cli.streams import say, tell
    from gpost.cli.terminal import width
    from gpost.workbook.stain import stain_doubts, stain_json, stain_text, water_doubt

    if water_percent is None:
        by, (water, known) = "clay.water_percent", _config_water(configs)
    else:
        by, water, known = "--water-percent", water_percent, True
    if first and steps is None:
        raise click.UsageError("--from is where a ladder starts; say how many steps it has with --ladder")
    try:
        adds, starts = _colourants(added), _colourants(first)
        second, start = _recipe(adds, water, moist), _recipe(starts, water, moist)
        if steps is None:
            batches, rungs = [batch(wet_g, water, second, loss_percent)], []
        else:
            rungs = ladder(steps, wet_g, water, start, second, loss_percent)
            batches = ends(rungs, water)
    except ValueError as error:
        raise click.UsageError(str(error)) from error
    if water_percent is None:
        need_config(configs, "clay's water", instead="--water-percent")
    said = [
        (f"{option} {name}", percent)
        for option, each in (("--add", adds), ("--from", starts))
        for name, percent in each.items()
    ]
    doubts = [*([] if known else [water_doubt(water)]), *stain_doubts((by, water), said)]
    for doubt in doubts:
        tell(doubt)
    care = cautions([start, second])
    if as_json:
        say(stain_json(batches, rungs, care, doubts))
    else:
        say(stain_text(batches, rungs, care, width()))


def _config_water(configs: Configs) -> tuple[float, bool]:
    """(water in the clay by the config, percent; whether it says that itself)."""
    from gpost.config.load import load_config

    clay = load_config(configs.files, studio=configs.studio).config.clay
    return clay.water_percent, "water_percent" in clay.model_fields_set


def _colourants(entries: Sequence[str]) -> dict[str, float]:
    """Percent by name, as it was said. Raises ValueError with a sentence for what is no NAME=PERCENT."""
    found: dict[str, float] = {}
    for entry in entries:
        name, _, number = entry.partition("=")
        if not name.strip() or not number.strip():
            raise ValueError(f"{entry}: write a name and a number, such as cobalt=1.5")
        try:
            percent = read_number(number, "percent")
        except ValueError as error:
            raise ValueError(f"{entry}: {error}") from error
        if name in found:
            raise ValueError(f"{name} is given twice; add its percentages up")
        found[name] = percent
    return found


def _recipe(said: Mapping[str, float], water_percent: float, moist: bool) -> dict[str, float]:
    """Colourants by name, percent of the dry mass. Raises ValueError for water that leaves none."""
    from gpost.clay.stain import of_dry_percent

    return {
        name: of_dry_percent(percent, water_percent) if moist else percent for name, percent in said.items()
    }
