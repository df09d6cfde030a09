"""What `gpost run` does with its options: one job, from the files' names to the summary's text."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from gpost import calls
from gpost.cli.calendaroptions import Calendar
from gpost.cli.options import NO_CONFIGS, STANDARD, Configs
from gpost.cli.progress import file_bar
from gpost.cli.streams import output_file, piped, source_file, write_text
from gpost.cli.terminal import width
from gpost.common.plain import storable
from gpost.errors import OutputError
from gpost.plan.plan import Plan
from gpost.report.brief import brief_warnings
from gpost.report.jsonout import to_json
from gpost.report.model import Summary
from gpost.report.text import sheet_text, to_text
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
    calendar: Calendar | None = None,
    page_name: str | None = None,
    long: bool = False,
    ask_first: bool = False,
    allow: Sequence[str] = (),
    overwrite: bool = False,
    in_place: bool = False,
    rehearse_mm: float | None = None,
    quiet: bool = False,
    columns: int | None = None,
) -> str:
    """Write the output, and the summary as JSON, text, calendar and page if named; returns it in words.

    `quiet`: of these the warnings alone, short. `columns`: how wide it is, as `laid_out` takes it.

    Names may be `-`. Everything that can be refused is refused before the work starts. Raises GpostError.
    """
    plans: list[Plan] = []
    recipe = calls.read_config(configs.files, studio=configs.studio, steps_from=folders)
    with source_file(file, recipe.config.reading) as source:
        inputs = reading(source, configs=configs.named, folders=folders, others=piped(file))
        names = (json_name, text_name, page_name, None if calendar is None else str(calendar.path))
        check_summaries(names, inputs, output, overwrite=overwrite)
        with (
            output_file(output, inputs=inputs, overwrite=overwrite, in_place=in_place) as target,
            file_bar(source.stat().st_size, "Writing") as progress,
        ):
            summary = calls.run(
                source,
                recipe,
                target,
                progress=progress,
                overwrite=overwrite,
                in_place=in_place,
                allow=allow,
                ask_first=ask_first,
                rehearse_mm=rehearse_mm,
                on_plan=plans.append,
                origin=json_name is not None,
            )
        read = _sliced(file, summary.source) if in_place else file
        update: dict[str, object] = {"source": storable(read), "output": storable(output)}
        if summary.origin is not None:
            update["origin"] = summary.origin.named(storable(read))
        summary = summary.model_copy(update=update)
        page = None if page_name is None else _page(summary, plans[0])
    write_summaries(summary, json_name, text_name, overwrite=overwrite)
    if page_name is not None and page is not None:
        _write_beside("page", page_name, page, summary.output, overwrite=overwrite)
    if calendar is not None:
        _write_calendar(calendar, file if output == STANDARD else output, summary, overwrite=overwrite)
    return brief_warnings(summary, columns) if quiet else to_text(summary, long=long, width=columns)


def _sliced(file: str, kept: str) -> str:
    """Where the sliced file lies whose place the output has taken; `kept`: its name now."""
    return str(Path(os.path.realpath(file) if os.path.islink(file) else file).with_name(kept))


def _write_calendar(calendar: Calendar, job: str, summary: Summary, *, overwrite: bool) -> None:
    from gpost.report.calendar import entries_of

    text = calendar.text(Path(job).resolve(), entries_of(summary, calendar.start_s, calendar.wait_s))
    _write_beside("calendar", str(calendar.path), text, summary.output, overwrite=overwrite)


def _page(summary: Summary, plan: Plan) -> str:
    """The job's page. What draws it is loaded for this alone."""
    from gpost.page.sheet import page_html

    return page_html(summary, plan)


def write_summaries(
    summary: Summary, json_name: str | None, text_name: str | None, *, overwrite: bool
) -> None:
    """Write the summary as JSON and as text, if named. Raises OutputError; the output is complete."""
    if json_name is not None:
        _write_beside("summary", json_name, to_json(summary), summary.output, overwrite=overwrite)
    if text_name is not None:
        text = sheet_text(summary, width() if text_name == STANDARD else None)
        _write_beside("summary", text_name, text, summary.output, overwrite=overwrite)


def check_summaries(names: Sequence[str | None], inputs: Inputs, output: str, *, overwrite: bool) -> None:
    """Raise OutputError if a summary can't be written, or two things would go to one place."""
    # a link that leads to itself is told where the output is opened
    taken = [] if output == STANDARD else [Path(os.path.realpath(output))]
    for name in names:
        if name is None or name == STANDARD:
            continue
        target = check_target(Path(name), overwrite=overwrite, inputs=inputs)
        if target in taken:
            raise OutputError(
                "output, summaries, page and calendar can't be the same file; name another for each"
            )
        taken.append(target)


def _write_beside(what: str, name: str, text: str, output: str, *, overwrite: bool) -> None:
    try:
        write_text(name, text, overwrite=overwrite)
    except OutputError as error:
        raise OutputError(f"{output} is complete, but its {what} is not written: {error}") from error
