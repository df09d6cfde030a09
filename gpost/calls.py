"""What `import gpost` offers, and what the command line is built on: run, check, resume, survey and load."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

from gpost.common.plain import storable
from gpost.config.colours import Bands
from gpost.config.load import LoadedConfig, load_config, load_settings, load_text, settings_in
from gpost.config.model import Config
from gpost.config.problem import ConfigProblems
from gpost.errors import ConfigError, GpostError, OutputError, PlanError, SourceError
from gpost.origin import Again, lying_at, origin_of, read_again
from gpost.pipeline import Progress, check_file, resume_file, run_file, survey_file, tried
from gpost.plan.plan import Plan
from gpost.preflight.model import ALLOWABLE, Finding
from gpost.report.model import Summary
from gpost.steps.askfirst import with_question
from gpost.steps.recipe import Recipe, make_recipe
from gpost.supply.loading import LoadingSheet, loading_sheet
from gpost.survey.model import Survey
from gpost.write.inputs import reading
from gpost.write.sink import check_target

if TYPE_CHECKING:
    from typing import Unpack

    from gpost.supply.stopsaid import SaidStop

__all__ = [
    "ConfigError",
    "Finding",
    "GpostError",
    "Loads",
    "OutputError",
    "PlanError",
    "Recipe",
    "SourceError",
    "Summary",
    "Survey",
    "check",
    "load",
    "read_config",
    "resume",
    "run",
    "survey",
]

File: TypeAlias = str | os.PathLike[str]
ConfigFiles: TypeAlias = File | Sequence[File]
ConfigLike: TypeAlias = ConfigFiles | Mapping[str, Any] | Recipe | None
"""A config's file, or several of which a later one overrides an earlier one; its keys and values; what
`read_config` has read; or None: gpost's own machine, clay and cartridge, and no steps."""


class Loads(NamedTuple):
    """What `load` gives."""

    sheet: LoadingSheet
    """What goes into each cartridge, in which order, and where its colours show."""
    plan: Plan
    """The plan that it was reckoned on."""
    summary: Summary
    """What `run` would say."""


def read_config(config: ConfigLike, *, studio: ConfigFiles = (), steps_from: ConfigFiles = ()) -> Recipe:
    """Read and check a config with its steps, once for many files.

    `studio`: files of the studio's own, read before the others: they alone say what the machine may do; none:
    the first of `config` says it. `steps_from`: folders of your own steps; only
    name one whose code you trust.
    Raises ConfigError with a line for each problem.
    """
    if isinstance(config, Recipe):
        if _paths(studio) or _paths(steps_from):
            raise ConfigError("this config is read already; give studio and steps_from to read_config")
        return config
    with _without_lines() if isinstance(config, Mapping) else nullcontext():
        return make_recipe(_loaded(config, studio), _paths(steps_from))


def run(
    source: File,
    config: ConfigLike,
    output: File,
    *,
    studio: ConfigFiles = (),
    steps_from: ConfigFiles = (),
    allow: Collection[str] = (),
    overwrite: bool = False,
    in_place: bool = False,
    ask_first: bool = False,
    rehearse_mm: float | None = None,
    progress: Progress | None = None,
    on_plan: Callable[[Plan], None] | None = None,
    origin: bool = True,
) -> Summary:
    """Write the file to print from a sliced file, and say what was done, what to load and when to be there.

    All that `check` finds to be an error stops it, but for the findings that `allow` names; then nothing is
    written. The output appears under its name only when it is whole. A file that is there is replaced with
    `overwrite` alone, the sliced file itself with `in_place` alone, and no config ever. `ask_first`: the file
    begins by showing which clay it expects, and by waiting. `rehearse_mm`: the whole path so many mm higher,
    without clay, heat and waits. `progress(done_bytes, all_bytes)` is called meanwhile, `on_plan` with what
    the steps want, when all of the output is right. `origin`: the summary says what it was made from, by
    which `gpost resume` goes on with a stopped print; it takes reading the file once more. Raises GpostError.
    """
    recipe = read_config(config, studio=studio, steps_from=steps_from)
    path, target = Path(source), Path(output)
    check_target(
        target,
        overwrite=overwrite or in_place,
        inputs=reading(path, configs=recipe.files, folders=recipe.folders),
        in_place=in_place,
    )
    summary = run_file(
        path,
        target,
        recipe.config,
        with_question(recipe.steps, ask_first=ask_first),
        allow=_allowed(allow),
        progress=progress,
        overwrite=overwrite,
        in_place=in_place,
        rehearse_mm=rehearse_mm,
        on_plan=on_plan,
    )
    if not origin:
        return summary
    kept = in_place and summary.source != storable(path.name)
    read = lying_at(Path(os.path.realpath(path)).with_name(summary.source)) if kept else path
    made = origin_of(read, recipe, allow=allow, ask_first=ask_first)
    return summary.model_copy(update={"origin": made})


def resume(
    summary: File | Again,
    output: File,
    *,
    steps_from: ConfigFiles = (),
    allow: Collection[str] = (),
    overwrite: bool = False,
    progress: Progress | None = None,
    on_plan: Callable[[Plan], None] | None = None,
    **stop: Unpack[SaidStop],
) -> Summary:
    """Write the file that prints the rest of a stopped print, from the summary of its run: a JSON file.

    The sliced file and the configs that it names must be as they were. `stop` says where the bead ends, in
    one way (`height_mm`, `layer`, `line` or `clock_s`), and what is known beside it: see `SaidStop`.
    `steps_from` must be named anew if the run had it; what `allow` named then is allowed still. The others
    are as for `run`. Raises GpostError; then nothing was written.
    """
    from gpost.report.rest import rest_in_day, stops_of
    from gpost.supply.stopsaid import stopped_as

    stopped = stopped_as(**stop)
    if not isinstance(summary, str | os.PathLike | Again):
        raise ConfigError(
            f"resume takes the name of the JSON file in which the summary was kept, and not a "
            f"{type(summary).__name__}; keep it first, by "
            'Path("vase.json").write_text(summary.model_dump_json(), "utf-8")'
        )
    again = summary if isinstance(summary, Again) else read_again(Path(summary), _paths(steps_from))
    target = check_target(Path(output), overwrite=overwrite, inputs=again.inputs)
    allowed = tuple(dict.fromkeys([*again.origin.allow, *_allowed(allow)]))
    done = resume_file(
        again.source,
        target,
        again.config,
        again.steps,
        stopped,
        earlier=stops_of(again.summary),
        allow=allowed,
        progress=progress,
        overwrite=overwrite,
        on_plan=on_plan,
    )
    origin = again.origin.model_copy(update={"allow": allowed})
    done = done.model_copy(update={"source": again.summary.source, "origin": origin})
    return rest_in_day(done, again.summary) if again.summary.in_day else done


def check(
    source: File,
    config: ConfigLike,
    *,
    studio: ConfigFiles = (),
    steps_from: ConfigFiles = (),
    allow: Collection[str] = (),
    rehearse_mm: float | None = None,
    progress: Progress | None = None,
) -> tuple[Finding, ...]:
    """What `run` would find in a sliced file, errors first; nothing is written.

    With an error among them (`finding.severity == "error"`) `run` raises PlanError. Raises SourceError for a
    file that can't be read, ConfigError for a config.
    """
    recipe = read_config(config, studio=studio, steps_from=steps_from)
    return check_file(
        Path(source),
        recipe.config,
        recipe.steps,
        allow=_allowed(allow),
        progress=progress,
        rehearse_mm=rehearse_mm,
    )


def survey(
    source: File,
    config: ConfigLike | Config,
    *,
    studio: ConfigFiles = (),
    progress: Progress | None = None,
) -> Survey:
    """What a sliced file holds: its layers, clay and time, and what is odd about it. No step is asked.

    What is asked of single lines is read from the file again: it must stay as it is. Raises SourceError for a
    file that can't be read, ConfigError for a config.
    """
    if isinstance(config, Recipe):
        config = config.config
    if not isinstance(config, Config):
        with _without_lines() if isinstance(config, Mapping) else nullcontext():
            config = _loaded(config, studio).config
    return survey_file(Path(source), config, progress=progress)


def load(
    source: File,
    config: ConfigLike,
    *,
    bands: File | Mapping[str, Any] | None = None,
    studio: ConfigFiles = (),
    steps_from: ConfigFiles = (),
    allow: Collection[str] = (),
    progress: Progress | None = None,
) -> Loads:
    """What clay to load, in which order, so that the wished colours show at their heights.

    `bands`: a file of its own with the wished bands and blends, or its keys and values; None: the config's
    `colours`, or else what its steps put on. Raises PlanError for what `run` would refuse, SourceError,
    ConfigError.
    """
    recipe = read_config(config, studio=studio, steps_from=steps_from)
    if bands is not None:
        recipe = with_bands(recipe, bands)
    plan, summary = tried(Path(source), recipe.config, recipe.steps, allow=_allowed(allow), progress=progress)
    return Loads(loading_sheet(plan), plan, summary)


def _loaded(config: ConfigFiles | Mapping[str, Any] | None, studio: ConfigFiles) -> LoadedConfig:
    """The config, but for its steps' settings."""
    if not isinstance(config, Mapping):
        return load_config(_paths(() if config is None else config), studio=_paths(studio))
    if _paths(studio):
        raise ConfigError("studio goes with config files; put its keys into the mapping")
    return load_text("config", _as_text(config))


def with_bands(recipe: Recipe, bands: File | Mapping[str, Any]) -> Recipe:
    """The recipe with wished bands, of a file of their own or as keys and values. Raises ConfigError."""
    if recipe.config.colours is not None:
        raise ConfigError("the config has `colours` already; name the bands in one place")
    if isinstance(bands, Mapping):
        with _without_lines():
            wished = settings_in("bands", _as_text(bands), Bands)
    else:
        wished = load_settings(Path(bands), Bands)
    return replace(recipe, config=recipe.config.model_copy(update={"colours": wished}))


def _as_text(given: Mapping[str, Any]) -> str:
    """Keys and values as YAML, so that they are checked as those of a file. Raises ConfigError."""
    try:
        return json.dumps(given, allow_nan=False)
    except (TypeError, ValueError, RecursionError) as error:
        raise ConfigError(f"a config holds plain values alone: {error}") from error


@contextmanager
def _without_lines() -> Iterator[None]:
    """What is wrong with keys that stand in no file is told without a line."""
    try:
        yield
    except ConfigProblems as error:
        raise ConfigProblems(
            replace(problem, line=None, column=None) for problem in error.problems
        ) from error


def _paths(given: ConfigFiles) -> list[Path]:
    """One name, or several, as paths."""
    if isinstance(given, str | os.PathLike):
        return [Path(given)]
    return [Path(name) for name in given]


def _allowed(allow: Collection[str]) -> Collection[str]:
    """The names, if they may be allowed. Raises ConfigError."""
    if isinstance(allow, str):
        raise ConfigError(f"allow takes a list of findings, such as [{allow!r}]")
    for name in allow:
        if name not in ALLOWABLE:
            raise ConfigError(
                f"{name!r} is no finding that may be allowed; there are: {', '.join(ALLOWABLE)}"
            )
    return allow
