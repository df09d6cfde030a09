"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import click

from gpost.cli.numbers import Number, Whole
from gpost.preflight.model import ALLOWABLE

if TYPE_CHECKING:
    from gpost.supply.turned import Turn

SLICED_FILE = click.Path(exists=True, dir_okay=False, allow_dash=True)
STANDARD = "-"
"""Stands for standard input or output."""


class OutPath(click.Path):
    """A file or folder by its name, to be written into; an empty name would mean the current folder."""

    def __init__(self, path_type: type[Any] | None = None) -> None:
        super().__init__(readable=False, path_type=path_type)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Fails for an empty name."""
        if not str(value):
            self.fail("the name is empty; say where to write", param, ctx)
        return super().convert(value, param, ctx)


OUT_NAME, OUT_PATH = OutPath(), OutPath(path_type=Path)
"""As text, and as a path."""

_STUDIO, _NONE = "gpost.studio", "gpost.no_config"
F = TypeVar("F", bound=Callable[..., Any])


class Configs(NamedTuple):
    """The config files that were named."""

    studio: tuple[Path, ...] = ()
    """What the machine may do is theirs to say; none: the first of `files` says it."""
    files: tuple[Path, ...] = ()

    @property
    def named(self) -> tuple[Path, ...]:
        """All of them, the studio's first."""
        return self.studio + self.files

    def __bool__(self) -> bool:
        """Whether any was named."""
        return bool(self.studio or self.files)


NO_CONFIGS = Configs()


def _keep_studio(context: click.Context, _option: click.Parameter, paths: tuple[Path, ...]) -> None:
    context.meta[_STUDIO] = paths


def _keep_none(context: click.Context, _option: click.Parameter, none: bool) -> None:
    context.meta[_NONE] = none


def _configs(context: click.Context, _option: click.Parameter, paths: tuple[Path, ...]) -> Configs:
    found = Configs(context.meta.get(_STUDIO, ()), paths)
    if found and context.meta.get(_NONE):
        raise click.UsageError(
            "--no-config says that there is no config, and one is named; leave one of them out"
        )
    return found


def config_option(command: F) -> F:
    """`-c` and `--studio`, as `configs`."""
    files = click.option(
        "-c",
        "--config",
        "configs",
        multiple=True,
        metavar="CONFIG",
        type=click.Path(path_type=Path),
        callback=_configs,
        help="A config file; may be given several times, and a later one overrides an earlier one: the "
        "studio first, then the piece.",
    )
    studio = click.option(
        "--studio",
        multiple=True,
        metavar="FILE",
        type=click.Path(path_type=Path),
        is_eager=True,
        expose_value=False,
        callback=_keep_studio,
        help="A config file of the studio's own, read before the others: it alone says what the machine may "
        "do; may be given several times. Left out: the first -c is the studio's.",
    )
    none = click.option(
        "--no-config",
        is_flag=True,
        is_eager=True,
        expose_value=False,
        callback=_keep_none,
        help="There is no config: gpost's own machine, clay and cartridge will do, and no steps.",
    )
    return files(studio(none(command)))


steps_from_option = click.option(
    "--steps-from",
    "folders",
    multiple=True,
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    help="A folder of your own steps (*.py); only name one whose code you trust.",
)

REHEARSE_MM = 30.0
"""How far up a job is rehearsed if nobody says it: over clamps, and low enough to see where it goes."""


def rehearse_option(help_text: str) -> Callable[[F], F]:
    """`--rehearse`, alone or with a height, as `rehearse_mm`."""
    return click.option(
        "--rehearse",
        "rehearse_mm",
        is_flag=False,
        flag_value=REHEARSE_MM,
        type=Number("mm", min=0, min_open=True),
        metavar="[MM]",
        help=f"{help_text} MM left out: {REHEARSE_MM:g}.",
    )


overwrite_option = click.option(
    "--overwrite", is_flag=True, help="Replace files of these names that exist already."
)

jobs_option = click.option(
    "--jobs", "-j", type=Whole(min=1), help="Files done at the same time; as many as there are processors."
)

texts_option = click.option(
    "--summary", "texts", is_flag=True, help="Also write each file's summary in words beside it, as .txt."
)

page_option = click.option(
    "--page",
    "page_name",
    metavar="FILE",
    type=OUT_NAME,
    help="Also write the job sheet, a page for any browser: the next thing to do, the piece in space, "
    "what to load, lists to tick. It needs no network.",
)

pages_option = click.option(
    "--pages",
    is_flag=True,
    help="Also write each piece's job sheet, a page for any browser, beside its file as .html, and "
    "index.html, which leads to all of them. A folder that has one keeps its pages up to date.",
)

allow_option = click.option(
    "--allow",
    multiple=True,
    metavar="NAME",
    type=click.Choice(ALLOWABLE),
    help="Go on in spite of what `gpost check` finds under this name; may be given several times.",
)


def need_config(
    configs: Configs, what: str = "machine, clay and cartridge", *, instead: str | None = None
) -> None:
    """Refuse to plan for a studio that nobody has named, unless --no-config says so.

    `what` of it the answer hangs on; `instead`: the option that says it, too.
    """
    if not configs and not click.get_current_context().meta.get(_NONE):
        other = "" if instead is None else f", give {instead}"
        raise click.UsageError(
            f"no config was named: gpost can't know your {what}, and would plan for a studio that it has "
            f"made up, without any step. Name yours with -c (gpost init makes one){other}, or say "
            "--no-config if gpost's own numbers will do"
        )


def one_to_output(*names: str | None) -> None:
    """Raise click.UsageError if more than one of these files is standard output."""
    if names.count(STANDARD) > 1:
        raise click.UsageError("only one thing can go to standard output (-): name files for the others")


def say_if_no_config(configs: Configs) -> None:
    """Tell what of a survey hangs on gpost's own numbers, unless --no-config says that they are meant."""
    if not configs and not click.get_current_context().meta.get(_NONE):
        from gpost.cli.streams import tell

        tell(
            "No config was named (-c): layers and heights are the file's own; clay and time are told with "
            "gpost's own numbers for machine and clay."
        )


def read_turns(_context: click.Context, _option: click.Parameter, texts: tuple[str, ...]) -> list[Turn]:
    """Knobs that were turned by hand. Raises click.BadParameter."""
    if not texts:
        return []
    from gpost.supply.turned import read_turn

    try:
        return [read_turn(text) for text in texts]
    except ValueError as error:
        raise click.BadParameter(str(error)) from error
