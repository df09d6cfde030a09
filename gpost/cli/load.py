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
    need_config,
    overwrite_option,
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
    "config. Left out: the config's own, or the clays that its steps put in.",
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

    Bands and blends come from the config's `colours` or from --bands; without them it is said what goes into
    each cartridge that the steps put on.

    FILE may be - for standard input. The config's steps are planned, so that purges and refills count, but
    nothing of the file is written; what `gpost check` would refuse is refused. The clay of each slug is
    given in ml, g, and mm of cartridge.
    """
    from gpost import calls
    from gpost.cli.progress import file_bar
    from gpost.cli.streams import piped, say, source_file, write_text
    from gpost.cli.terminal import width
    from gpost.page.columns import loading_svg
    from gpost.workbook.load.words import loading_json, loading_text
    from gpost.write.inputs import Input, reading
    from gpost.write.sink import check_target

    need_config(configs)
    recipe = calls.read_config(configs.files, studio=configs.studio, steps_from=folders)
    others = [*piped(file)]
    if bands_file is not None:
        recipe = calls.with_bands(recipe, bands_file)
        others.insert(0, Input("the file of the bands", bands_file))
    with source_file(file, recipe.config.reading) as source:
        if picture is not None:
            inputs = reading(source, configs=configs.named, folders=folders, others=others)
            check_target(Path(picture), overwrite=overwrite, inputs=inputs)
        with file_bar(source.stat().st_size, "Reading") as progress:
            sheet, plan, summary = calls.load(source, recipe, allow=allow, progress=progress)
        if picture is not None:
            write_text(picture, loading_svg(summary, plan), overwrite=overwrite)
    if as_json:
        say(loading_json(plan, sheet, name=file))
    else:
        say(loading_text(plan, sheet, name=file, width=width()))
