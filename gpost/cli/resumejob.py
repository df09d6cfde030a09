"""What `gpost resume` does with its options: from a summary's name to the text of the rest's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from gpost import calls
from gpost.cli.job import Beside
from gpost.cli.progress import file_bar
from gpost.cli.streams import source_file
from gpost.common.plain import storable
from gpost.origin import read_again
from gpost.plan.plan import Plan
from gpost.report.text import to_text


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

    `said`: of where it has stopped, as `gpost.resume` takes it. `columns`: how wide they are, as `laid_out`
    takes it. Raises GpostError; then nothing was written.
    """
    plans: list[Plan] = []
    again = read_again(path, folders)
    beside.check(again.inputs, output, overwrite=overwrite)
    with (
        source_file(str(again.source), again.recipe.config.reading) as source,
        file_bar(source.stat().st_size, "Writing") as progress,
    ):
        summary = calls.resume(
            again,
            output,
            **said,
            allow=allow,
            overwrite=overwrite,
            progress=progress,
            on_plan=plans.append,
        )
        summary = summary.model_copy(update={"output": storable(output)})
        page = beside.page_of(summary, plans)
    beside.write(summary, page, output, overwrite=overwrite)
    return to_text(summary, long=long, width=columns)
