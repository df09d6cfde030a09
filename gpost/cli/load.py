"""`gpost load`: what to load into the cartridges for the wished colours."""

from __future__ import annotations

from pathlib import Path

import click

from gpost.cli.options import (
    OUT_NAME,
    SLICED_FILE,
    Configs,
    allow_option,
    config_option,
    overwrite_option,
    say_if_no_config,
    steps_from_option,
)


@click.command("load", short_help="Say what clay to load, in which order, for colours by height.")
@click.argument("file", type=SLICED_FILE)
@config_option
@click.option(
    "--bands",
    "bands_file",
    metavar="BANDS",
    type=click.Path(path_type=Path),
    help="A YAML file with the wished bands and blends, from the bottom up: what stands under `colours` in a "
    "config. Left out: the config's own.",
)
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@click.option(
    "--svg", "picture", metavar="OUT", type=OUT_NAME, help="Also draw the piece and the cartridges, as SVG."
)
@allow_option
@steps_from_option
@overwrite_option
def command(
    file: str,
    configs: Configs,
    bands_file: Path | None,
    as_json: bool,
    picture: str | None,
    allow: tuple[str, ...],
    folders: tuple[Path, ...],
    overwrite: bool,
) -> None:
    """Say what clay to load for the sliced FILE, in which order, so that colours show at their heights.

    FILE may be - for standard input. The config's steps are planned, so that purges and refills count, but
    nothing of the file is written; what `gpost check` would refuse is refused. The clay of each slug is
    given in ml, g, and mm of cartridge.
    """
    from gpost.cli.progress import file_bar
    from gpost.cli.streams import piped, source_file, write_text
    from gpost.config.colours import Bands
    from gpost.config.load import load_settings
    from gpost.pipeline import plan_file
    from gpost.steps.recipe import read_recipe
    from gpost.supply.loading import loading_sheet
    from gpost.workbook.load.picture import loading_svg
    from gpost.workbook.load.words import loading_json, loading_text
    from gpost.write.inputs import Input, reading
    from gpost.write.sink import check_target

    say_if_no_config(configs)
    recipe = read_recipe(configs.files, folders, studio=configs.studio)
    config, others = recipe.config, [*piped(file)]
    if bands_file is not None:
        if config.colours is not None:
            raise click.UsageError("the config has `colours` already; name the bands in one place")
        config = config.model_copy(update={"colours": load_settings(bands_file, Bands)})
        others.insert(0, Input("the file of the bands", bands_file))
    with source_file(file, config.reading) as source:
        if picture is not None:
            inputs = reading(source, configs=configs.named, folders=folders, others=others)
            check_target(Path(picture), overwrite=overwrite, inputs=inputs)
        with file_bar(source.stat().st_size, "Reading") as progress:
            plan = plan_file(source, config, recipe.steps, allow=allow, progress=progress)
        sheet = loading_sheet(plan)
        if picture is not None:
            write_text(picture, loading_svg(plan, sheet, name=file), overwrite=overwrite)
    click.echo((loading_json if as_json else loading_text)(plan, sheet, name=file), nl=False)
