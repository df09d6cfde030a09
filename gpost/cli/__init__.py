"""The command line: the group of commands. Each command's module is loaded when it is needed."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterable
from importlib import import_module
from io import TextIOWrapper
from typing import Any

import click

from gpost import __version__
from gpost.cli.failures import told
from gpost.cli.terminal import width
from gpost.common.columns import READABLE
from gpost.common.unbroken import NO_BREAK

COMMANDS = (
    *("init", "run", "check", "resume", "survey", "batch", "watch", "steps"),
    *("explain", "schema", "new-step"),
    *("load", "stain", "day", "calibrate", "log", "demo", "guide"),
)
"""One module of this package each, whose `command` is the command."""
TYPED = "gpost.typed"
"""Under which the context keeps what was typed."""
_QUOTED = re.compile(r"[^\s`]*`[^`]+`[^\s`]*")


class Help(click.HelpFormatter):
    """Leaves half of a narrow terminal to what is said of each option, and commands whole where they fit."""

    def write_text(self, text: str) -> None:
        """A text's paragraphs."""
        super().write_text(_whole(text, self.width - self.current_indent))

    def write_dl(self, rows: Iterable[tuple[str, str]], col_max: int = 30, col_spacing: int = 2) -> None:
        """Names, and what is said of each."""
        col_max = min(col_max, self.width // 2 - 2)
        room = self.width - col_max - col_spacing - 2  # or more, if all names are short
        super().write_dl([(name, _whole(said, room)) for name, said in rows], col_max, col_spacing)

    def getvalue(self) -> str:
        """All of it."""
        return super().getvalue().replace(NO_BREAK, " ")


def _whole(text: str, room: int) -> str:
    """The text with blanks in what is quoted at which no line ends, but for what is longer than the room."""

    def held(found: re.Match[str]) -> str:
        said = NO_BREAK.join(found[0].split())
        return said if len(said) <= room else found[0]

    return _QUOTED.sub(held, text)


class Context(click.Context):
    """What a command runs in."""

    formatter_class = Help


class LazyGroup(click.Group):
    """Finds its commands in modules of this package, and ends every one of them with a sentence."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands in the order of use."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the command's module."""
        if cmd_name not in COMMANDS:
            return None
        return documented(import_module(f"gpost.cli.{cmd_name.replace('-', '_')}").command)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command; for a word that is none, the nearest that there is."""
        typed = args[0]
        if typed not in COMMANDS and not typed.startswith("-"):
            from gpost.config.nearest import did_you_mean

            near = did_you_mean(typed, COMMANDS)
            ctx.fail(f"there is no command {typed!r}; {near or '`gpost --help` lists those that there are'}")
        return super().resolve_command(ctx, args)

    def make_context(self, *args: Any, **more: Any) -> click.Context:
        """Read the command line; `--help` and `--version` are told here, and what is wrong with that, too."""
        columns = width()
        if columns is not None:  # else as click has it
            more.setdefault("terminal_width", min(columns, READABLE) - 2)
        with told(trace=False):
            return super().make_context(*args, **more)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Remember what was typed, for the sentence on what is wrong with it."""
        ctx.meta[TYPED] = tuple(args)
        return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; errors end it as `told` says."""
        with told(ctx.meta[TYPED], trace=bool(ctx.params.get("trace"))):
            return super().invoke(ctx)


def documented(command: click.Command) -> click.Command:
    """The command with its words of help, also where Python has left docstrings out, and how they are set."""
    command.context_class = Context
    if command.help is None and command.callback is not None:
        from gpost.common.docs import docstring

        command.help = docstring(command.callback)
    for part in command.commands.values() if isinstance(command, click.Group) else ():
        documented(part)
        if part.short_help is None:  # else a list of commands cuts the help's first sentence
            part.short_help = " ".join((part.help or "").partition("\n\n")[0].split())
    return command


def _show_version(context: click.Context, _option: click.Parameter, asked: bool) -> None:
    if not asked or context.resilient_parsing:
        return
    from gpost.common.layout import laid_out
    from gpost.read.words import READER
    from gpost.write.edits import WRITER

    said = f"gpost {__version__}; reader: {READER}, writer: {WRITER}"
    click.echo(laid_out([said], width()), nl=False)
    context.exit()


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_version,
    help="Show the version, and whether the compiled reader and writer are in use, and exit.",
)
@click.option("--trace", is_flag=True, help="On an error, show where in gpost it happened.")
def cli(trace: bool) -> None:
    """Prepare sliced files for printing pots in soft clay.

    Exit status: 0 done; 1 the file or the plan can't be done safely, and nothing was written; 2 wrong
    usage or config.
    """


def main() -> None:
    """Run the command line, and show what a terminal can't show instead of failing on it."""
    _fill_closed_streams()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    documented(cli)(prog_name="gpost")


def _fill_closed_streams() -> None:
    """Whoever started the program may have closed a standard stream: no file of ours may take its place."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number
