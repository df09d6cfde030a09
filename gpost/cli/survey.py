"""`gpost survey`: what a sliced file holds, layer by layer."""

from __future__ import annotations

import click

from gpost.cli.options import SLICED_FILE, Configs, config_option, say_if_no_config


@click.command("survey", short_help="Show what a sliced file holds, layer by layer.")
@click.argument("file", type=SLICED_FILE)
@config_option
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON, every layer of it.")
@click.option(
    "-v", "--all", "whole", is_flag=True, help="Print every layer, not the first and last ones alone."
)
def command(file: str, configs: Configs, as_json: bool, whole: bool) -> None:
    """Show the layers of the sliced FILE, its clay and time, and what is odd about it.

    FILE may be - for standard input. Nothing is written.
    """
    from gpost import calls
    from gpost.batch.record import print_of
    from gpost.cli.progress import file_bar
    from gpost.cli.streams import say, source_file
    from gpost.cli.terminal import width
    from gpost.config.load import load_config
    from gpost.preflight.offpath import off_path
    from gpost.preflight.ofsurvey import survey_findings
    from gpost.report.survey import survey_json, survey_text

    say_if_no_config(configs)
    config = load_config(configs.files, studio=configs.studio).config
    with source_file(file, config.reading) as source, file_bar(source.stat().st_size, "Reading") as progress:
        survey = calls.survey(source, config, progress=progress)
        # of gpost's own nozzle nothing follows for a file
        of_layers = survey_findings(survey, config.machine.nozzle_mm if configs else None)
        # first, since it may be why the layers are odd
        found = (*off_path(survey, config), *of_layers)
        if as_json:
            text = survey_json(survey, found, name=file, sha256=print_of(source).sha256)
        else:
            text = survey_text(survey, found, name=file, whole=whole, width=width())
    say(text)
