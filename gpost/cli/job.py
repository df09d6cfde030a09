"""What `gpost run` does with its options: one job, from the files' names to the summary's text."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from gpost.cli.options import NO_CONFIGS, STANDARD, Configs
from gpost.cli.origin import origin_of
from gpost.cli.progress import file_bar
from gpost.cli.streams import output_file, piped, source_file, write_text
from gpost.common.plain import storable
from gpost.errors import OutputError
from gpost.pipeline import run_file
from gpost.report.afterwards import card_text
from gpost.report.jsonout import to_json
from gpost.report.model import Summary
from gpost.report.text import to_text
from gpost.steps.recipe import read_recipe
from gpost.write.inputs import Inputs, reading
from gpost.write.sink import check_target


def do_job(
    file: str,
    output: str,
    *,
    configs: Configs = NO_CONFIGS,
    folders: Sequence[Path] = (),
    json_name: str | None = None,
    text_name: str | None = None,
    long: bool = False,
    allow: Sequence[str] = (),
    overwrite: bool = False,
    in_place: bool = False,
    rehearse_mm: float | None = None,
) -> str:
    """Write the output, and the summary as JSON and as text if they are named; returns it in words.

    Names may be `-`. Everything that can be refused is refused before the work starts. Raises GpostError.
    """
    recipe = read_recipe(configs.files, folders, studio=configs.studio)
    with source_file(file, recipe.config.reading) as source:
        inputs = reading(source, configs=configs.named, folders=folders, others=piped(file))
        check_summaries((json_name, text_name), inputs, output, overwrite=overwrite)
        with (
            output_file(output, inputs=inputs, overwrite=overwrite, in_place=in_place) as target,
            file_bar(source.stat().st_size, "Writing") as progress,
        ):
            summary = run_file(
                source,
                target,
                recipe.config,
                recipe.steps,
                progress=progress,
                overwrite=overwrite,
                in_place=in_place,
                allow=allow,
                rehearse_mm=rehearse_mm,
            )
        origin = None if json_name is None else origin_of(file, source, configs, recipe, allow)
    update = {"source": storable(file), "output": storable(output), "origin": origin}
    summary = summary.model_copy(update=update)
    write_summaries(summary, json_name, text_name, overwrite=overwrite)
    return to_text(summary, long=long)


def write_summaries(
    summary: Summary, json_name: str | None, text_name: str | None, *, overwrite: bool
) -> None:
    """Write the summary as JSON and as text, if named. Raises OutputError; the output is complete."""
    if json_name is not None:
        _write_summary(json_name, to_json(summary), summary.output, overwrite=overwrite)
    if text_name is not None:
        text = f"{to_text(summary, long=True)}\n{card_text(summary)}"
        _write_summary(text_name, text, summary.output, overwrite=overwrite)


def check_summaries(names: Sequence[str | None], inputs: Inputs, output: str, *, overwrite: bool) -> None:
    """Raise OutputError if a summary can't be written, or two things would go to one place."""
    taken = [] if output == STANDARD else [Path(output).resolve()]
    for name in names:
        if name is None or name == STANDARD:
            continue
        target = check_target(Path(name), overwrite=overwrite, inputs=inputs)
        if target in taken:
            raise OutputError(
                "the output and the summaries can't be the same file; name another with --json or --summary"
            )
        taken.append(target)


def _write_summary(name: str, text: str, output: str, *, overwrite: bool) -> None:
    try:
        write_text(name, text, overwrite=overwrite)
    except OutputError as error:
        raise OutputError(f"{output} is complete, but its summary is not written: {error}") from error
