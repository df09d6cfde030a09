"""All pages as one HTML file, which can be read and printed without a network."""

from __future__ import annotations

import re
from html import escape

from markdown_it import MarkdownIt
from markdown_it.token import Token

from gpost.guide.pages import PAGES, page_text, title

STYLE = (
    ":root{color-scheme:light dark}"
    "body{font:1.05rem/1.5 system-ui,sans-serif;max-width:46rem;margin:0 auto;padding:1rem}"
    "pre{overflow-x:auto;padding:.7rem;border:1px solid;border-radius:.3rem}"
    "code{font-family:ui-monospace,monospace;font-size:.92em;overflow-wrap:anywhere}"
    "pre code{overflow-wrap:normal}"
    "table{border-collapse:collapse;display:block;overflow-x:auto}"
    "td,th{border-top:1px solid;padding:.3rem .5rem;text-align:left;vertical-align:top}"
    "section{border-top:3px double;margin-top:3rem}"
    "@media print{section{break-before:page;border:0}nav{display:none}pre{white-space:pre-wrap}}"
)
POLICY = "default-src 'none'; style-src 'unsafe-inline'"
"""The file loads nothing and runs nothing."""
_SIGN = re.compile(r"[^\w\- ]")


def guide_html() -> str:
    """The whole guide; each page is a section with the page's name as its id."""
    entries = "".join(f'<li><a href="#{name}">{escape(title(name))}</a></li>' for name in PAGES)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n<title>gpost</title>\n'
        f"<style>{STYLE}</style>\n</head>\n<body>\n<h1>gpost</h1>\n<nav><ul>{entries}</ul></nav>\n"
        + "".join(f'<section id="{name}">\n{_page_html(name)}</section>\n' for name in PAGES)
        + "</body>\n</html>\n"
    )


def slug(heading: str) -> str:
    """The name under which a heading is linked to, as web pages of Markdown have it."""
    return _SIGN.sub("", heading.lower()).replace(" ", "-")


def _page_html(name: str) -> str:
    """A page's HTML, with links to other pages made links within the file."""
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = markdown.parse(page_text(name))
    for at, token in enumerate(tokens):
        if token.type == "heading_open" and token.tag != "h1":
            token.attrSet("id", f"{name}-{slug(tokens[at + 1].content)}")
        for part in token.children or ():
            if part.type == "link_open":
                part.attrSet("href", _within(name, part))
    return str(markdown.renderer.render(tokens, markdown.options, {}))


def _within(name: str, link: Token) -> str:
    """Where a link of a page leads to in the one file."""
    page, sign, part = str(link.attrs["href"]).partition("#")
    if page and not page.endswith(".md"):
        return str(link.attrs["href"])
    return "#" + "-".join(word for word in (page.removesuffix(".md") or name, part if sign else "") if word)
