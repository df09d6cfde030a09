"""`gpost init`: the first studio file, from a dozen questions."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from gpost.cli.options import STANDARD, overwrite_option
from gpost.common.filenames import is_config
from gpost.common.plain import shown
from gpost.errors import ConfigError

if TYPE_CHECKING:
    from gpost.workbook.first.filled import Given

LONGEST = 1000
"""Characters of an answer: a longer line is none."""


@click.command("init", short_help="Ask a dozen questions, and write your studio's config.")
@click.argument("file", default="studio.yaml")
@click.option(
    "--bed", metavar="MM", help="Its size in x and y: '280 280'; or its edges; 'round ...' if it is."
)
@click.option("--ceiling-mm", metavar="MM", help="The highest the nozzle may go.")
@click.option("--park", metavar="MM", help="Where the nozzle waits, x and y: '12 12'.")
@click.option("--nozzle-mm", metavar="MM", help="Inner diameter at the tip.")
@click.option("--pause", metavar="COMMANDS", help="What makes the machine wait: M0; several with commas.")
@click.option("--display", metavar="COMMAND", help="What shows words on the display: M117; or none.")
@click.option(
    "--metering",
    metavar="HOW",
    help="How the sliced file counts clay: 'filament 1.75', 'plunger 58', mm3, 'ml 0.0024', or path.",
)
@click.option(
    "--cartridge-ml", metavar="ML", help="Clay in a full cartridge; '1000 60' with what stays in it."
)
@click.option(
    "--hose", metavar="ML", help="Clay in hose and auger; or bore and length in mm, and the auger's ml."
)
@click.option("--colour", metavar="NAME", help="The name of the clay.")
@click.option("--density-g-ml", metavar="G_ML", help="Of the wet clay.")
@click.option("--water-percent", metavar="PERCENT", help="Water in the wet clay, of its mass.")
@click.option("--shrinkage-percent", metavar="PERCENT", help="Wet to fired, along a line.")
@overwrite_option
def command(file: str, overwrite: bool, **options: Any) -> None:
    """Ask what you know of machine, clay and cartridge, and write it to FILE (studio.yaml).

    Press Enter for what you don't know: it stays in the file as a comment that says which trial gives it.
    With any answer among the options nothing is asked. FILE may be - for standard output.
    """
    from gpost.cli.streams import say, write_text
    from gpost.cli.terminal import width
    from gpost.workbook.first.filled import filled
    from gpost.workbook.first.questions import answers_given
    from gpost.workbook.first.words import written_text
    from gpost.write.sink import check_target

    if file != STANDARD:
        if not is_config(Path(file)):
            raise ConfigError(f"{shown(file)} is no name for a config; let it end with .yaml")
        check_target(Path(file), overwrite=overwrite)
    answers = {name.replace("_", "-"): text for name, text in options.items() if text is not None}
    given = answers_given(answers) if answers else _ask(file)
    write_text(file, filled(given), overwrite=overwrite)
    err = file == STANDARD
    say(written_text(file, given, width(err=err)), err=err)


def _ask(file: str) -> Given:
    """Ask all questions; at the end of what is typed the rest is not known.

    Raises ConfigError for an answer that can't be, but where somebody sits there who can give another.
    """
    from gpost.cli.streams import say, tell
    from gpost.cli.terminal import width
    from gpost.workbook.first.questions import QUESTIONS, with_answer
    from gpost.workbook.first.words import greeting, question_text

    given: Given = {}
    sitting = sys.stdin is not None and sys.stdin.isatty()
    say(greeting(file, width(err=True)), err=True)
    for number, question in enumerate(QUESTIONS, 1):
        say(question_text(number, question, width(err=True)), err=True)
        while True:
            if sitting:
                say("> ", err=True)
            answer = _typed()
            if answer is None:
                return given
            try:
                given = with_answer(given, question, answer, where=f"question {number}")
                break
            except ConfigError as error:
                if not sitting:
                    raise
                tell(shown(str(error), keep_newlines=True))
    return given


def _typed() -> str | None:
    """A line of standard input; None at its end. Raises ConfigError for what is no line of text."""
    if sys.stdin is None:
        return None
    try:
        line = sys.stdin.readline(LONGEST)
    except ValueError as error:
        raise ConfigError("an answer is no text in UTF-8; type it anew") from error
    if len(line) == LONGEST:
        raise ConfigError("an answer is too long; type it anew")
    return line or None
