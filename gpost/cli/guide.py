"""`gpost guide`: the pages that come with the program."""

from __future__ import annotations

import tempfile
from pathlib import Path

import click

from gpost.cli.options import OUT_NAME, overwrite_option
from gpost.errors import OutputError


def _pages(_context: click.Context, _argument: click.Parameter, begun: str) -> list[str]:
    """Names of pages, for a shell that completes them."""
    from gpost.guide.pages import PAGES

    return [name for name in PAGES if name.startswith(begun)]


@click.command("guide", short_help="Show the pages that say how it is all used.")
@click.argument("page", required=False, shell_complete=_pages)
@click.option("--browser", is_flag=True, help="Open it in the browser, with all other pages.")
@click.option(
    "--html",
    "html_name",
    metavar="FILE",
    type=OUT_NAME,
    help="Write all pages as one HTML file; - as usual.",
)
@overwrite_option
def command(page: str | None, browser: bool, html_name: str | None, overwrite: bool) -> None:
    """Show a PAGE of the guide; without one, which there are."""
    from gpost.cli.streams import say, write_text
    from gpost.cli.terminal import width
    from gpost.guide.pages import contents_text, page_text

    text = contents_text(width()) if page is None else page_text(page)
    if browser or html_name is not None:
        from gpost.guide.html import guide_html

        if html_name is not None:
            write_text(html_name, guide_html(), overwrite=overwrite)
        if browser:
            _open(guide_html(), page)
    elif page is None:
        say(text)
    else:
        from gpost.guide.terminal import page_lines

        say(page_lines(text, width()))


def _open(html: str, page: str | None) -> None:
    """Show it in the browser, which reads it after this program has ended: so the file stays."""
    import webbrowser

    try:
        file = Path(tempfile.mkdtemp(prefix="gpost-guide-")) / "guide.html"
        file.write_text(html, "utf-8")
    except OSError as error:
        raise OutputError(f"the pages can't be put into a temporary file: {error.strerror}") from error
    click.echo(str(file))
    if not webbrowser.open(file.as_uri() + (f"#{page}" if page else "")):
        raise OutputError("no browser could be opened; open that file in one, or leave --browser out")
