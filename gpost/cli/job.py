"""What `gpost run` does with its options: one job, from the files' names to the summary's text."""

from __future__ import annotations

import os
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import NamedTuple

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


class Beside(NamedTuple):
    """What is written beside an output, each if it is named; a name may be `-`, but not the calendar's."""

    json: str | None = None
    text: str | None = None
    page: str | None = None
    calendar: Calendar | None = None

    def check(self, inputs: Inputs, output: str, *, overwrite: bool) -> None:
        """Raise OutputError if one of them can't be written, or two things would go to one place."""
        # a link that leads to itself is told where the output is opened
        taken = [] if output == STANDARD else [Path(os.path.realpath(output))]
        calendar = None if self.calendar is None else str(self.calendar.path)
        for name in (self.json, self.text, self.page, calendar):
            if name is None or name == STANDARD:
                continue
            target = check_target(Path(name), overwrite=overwrite, inputs=inputs)
            if target in taken:
                raise OutputError(
                    "output, summaries, page and calendar can't be the same file; name another for each"
                )
            taken.append(target)

    def page_of(self, summary: Summary, plans: Sequence[Plan]) -> str | None:
        """The job's page, if it is asked for, while the file can be read. What draws it is loaded for it."""
        if self.page is None:
            return None
        from gpost.page.sheet import page_html

        return page_html(summary, plans[0])

    def write(self, summary: Summary, page: str | None, job: str, *, overwrite: bool) -> None:
        """Write all that is asked for; the output is complete. `job`: by which a calendar knows it again.

        Raises OutputError.
        """
        write = partial(_write_beside, summary.output, overwrite=overwrite)
        if self.json is not None:
            write("summary", self.json, to_json(summary))
        if self.text is not None:
            write("summary", self.text, sheet_text(summary, width() if self.text == STANDARD else None))
        if self.page is not None and page is not None:
            write("page", self.page, page)
        if self.calendar is not None:
            from gpost.report.calendar import entries_of

            entries = entries_of(summary, self.calendar.start_s, self.calendar.wait_s)
            write("calendar", str(self.calendar.path), self.calendar.text(Path(job).resolve(), entries))


def do_job(
    file: str,
    output: str,
    *,
    configs: Configs = NO_CONFIGS,
    folders: Sequence[Path] = (),
    beside: Beside,
    long: bool = False,
    ask_first: bool = False,
    allow: Sequence[str] = (),
    overwrite: bool = False,
    in_place: bool = False,
    rehearse_mm: float | None = None,
    quiet: bool = False,
    columns: int | None = None,
) -> str:
    """Write the output and what is named beside it; returns the summary in words.

    `quiet`: of these the warnings alone, short. `columns`: how wide it is, as `laid_out` takes it.

    Names may be `-`. Everything that can be refused is refused before the work starts. Raises GpostError.
    """
    plans: list[Plan] = []
    recipe = calls.read_config(configs.files, studio=configs.studio, steps_from=folders)
    with source_file(file, recipe.config.reading) as source:
        inputs = reading(source, configs=configs.named, folders=folders, others=piped(file))
        beside.check(inputs, output, overwrite=overwrite)
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
                origin=beside.json is not None,
            )
        read = _sliced(file, summary.source) if in_place else file
        update: dict[str, object] = {"source": storable(read), "output": storable(output)}
        if summary.origin is not None:
            update["origin"] = summary.origin.named(storable(read))
        summary = summary.model_copy(update=update)
        page = beside.page_of(summary, plans)
    beside.write(summary, page, file if output == STANDARD else output, overwrite=overwrite)
    return brief_warnings(summary, columns) if quiet else to_text(summary, long=long, width=columns)


def _sliced(file: str, kept: str) -> str:
    """Where the sliced file lies whose place the output has taken; `kept`: its name now."""
    return str(Path(os.path.realpath(file) if os.path.islink(file) else file).with_name(kept))


def _write_beside(output: str, what: str, name: str, text: str, *, overwrite: bool) -> None:
    try:
        write_text(name, text, overwrite=overwrite)
    except OutputError as error:
        raise OutputError(f"{output} is complete, but its {what} is not written: {error}") from error
