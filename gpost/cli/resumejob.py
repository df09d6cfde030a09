"""What `gpost resume` does with its options: from a summary's name to the text of the rest's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from gpost.cli.job import Beside
from gpost.cli.progress import file_bar
from gpost.cli.streams import source_file
from gpost.common.plain import storable
from gpost.origin import read_again
from gpost.pipeline import resume_file
from gpost.plan.plan import Plan
from gpost.plan.restart import Asked
from gpost.report.rest import rest_in_day, stops_of
from gpost.report.text import to_text
from gpost.supply.stopped import Stopped
from gpost.write.inputs import Input, reading
from gpost.write.sink import check_target


def resume_job(
    path: Path,
    output: str,
    said: Mapping[str, Any],
    *,
    folders: Sequence[Path],
    allow: Sequence[str],
    beside: Beside,
    long: bool,
    overwrite: bool,
    columns: int | None = None,
) -> str:
    """Write the rest and what is named beside it; returns the summary in words.

    `columns`: how wide they are, as `laid_out` takes it.
    Raises GpostError; then nothing was written.
    """
    plans: list[Plan] = []
    again = read_again(path, folders)
    others = [Input("the summary", path)]
    inputs = reading(again.source, configs=again.configs, folders=folders, others=others)
    beside.check(inputs, output, overwrite=overwrite)
    target = check_target(Path(output), overwrite=overwrite, inputs=inputs)
    allowed = tuple(dict.fromkeys([*again.origin.allow, *allow]))
    with (
        source_file(str(again.source), again.recipe.config.reading) as source,
        file_bar(source.stat().st_size, "Writing") as progress,
    ):
        summary = resume_file(
            source,
            target,
            again.config,
            again.steps,
            _stopped(said),
            earlier=stops_of(again.summary),
            allow=allowed,
            progress=progress,
            overwrite=overwrite,
            on_plan=plans.append,
        )
        origin = again.origin.model_copy(update={"allow": allowed})
        names_now = {"source": again.summary.source, "output": storable(output), "origin": origin}
        summary = summary.model_copy(update=names_now)
        if again.summary.in_day:
            summary = rest_in_day(summary, again.summary)
        page = beside.page_of(summary, plans)
    beside.write(summary, page, output, overwrite=overwrite)
    return to_text(summary, long=long, width=columns)


def _stopped(said: Mapping[str, Any]) -> Stopped:
    asked = Asked(
        height_mm=said["height_mm"],
        layer=said["layer"],
        at_mm=said["at_mm"],
        along_mm=said["along_mm"],
        top_mm=said["top_mm"],
    )
    own = {name: said[name] for name in Stopped._fields if name in said} | {"turned": tuple(said["turned"])}
    return Stopped(asked, output_line=said["line"], **own)
