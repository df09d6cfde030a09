"""A page in plain lines for a terminal: paragraphs fit its width, and commands stay as they are typed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from markdown_it import MarkdownIt
from markdown_it.tree import SyntaxTreeNode

from gpost.common.columns import READABLE, USUAL
from gpost.common.layout import Column, Paragraph, Table, laid_out


class Room(NamedTuple):
    """Where a block goes."""

    width: int
    tables: bool
    """Whether tables have their columns beside one another; files have their rows as entries."""


def page_lines(text: str, width: int | None = None) -> str:
    """Markdown as lines of at most `width` columns, each ended; code blocks alone may be wider.

    None: for a file or a pipe, which has USUAL columns.
    """
    root = SyntaxTreeNode(MarkdownIt("commonmark").enable("table").parse(text))
    room = Room(USUAL, tables=False) if width is None else Room(width, tables=True)
    return "\n\n".join("\n".join(_block(node, room)) for node in root.children) + "\n"


def _block(node: SyntaxTreeNode, room: Room) -> Iterator[str]:
    """The lines of one block."""
    match node.type:
        case "heading":
            yield from (said := _wrapped(_words(node), room.width))
            yield ("=" if node.tag == "h1" else "-") * max(map(len, said))
        case "fence" | "code_block":
            yield from (f"    {line}" for line in node.content.splitlines())
        case "bullet_list" | "ordered_list":
            for number, item in enumerate(node.children, start=1):
                mark = "- " if node.type == "bullet_list" else f"{number}. "
                yield from _hung(item, mark, room)
        case "table":
            yield from (_columns(node, room.width) if room.tables else _entries(node, room.width))
        case _:
            yield from _wrapped(_words(node), room.width)


def _hung(item: SyntaxTreeNode, mark: str, room: Room) -> Iterator[str]:
    """An entry of a list behind its mark."""
    inside = room._replace(width=min(room.width, READABLE) - len(mark))
    lines = [line for part in item.children for line in _parted(part, inside)]
    for at, line in enumerate(lines[1:] if lines[:1] == [""] else lines):
        yield f"{' ' * len(mark) if at else mark}{line}".rstrip()


def _parted(part: SyntaxTreeNode, room: Room) -> Iterator[str]:
    """A block in an entry; what is no paragraph of a short entry stands apart."""
    if not part.hidden:
        yield ""
    yield from _block(part, room)


def _entries(node: SyntaxTreeNode, width: int) -> Iterator[str]:
    """A table's row each: what its first cell names, and the rest below it, so that any width will do."""
    head, *body = _rows(node)
    for first, *others in body:
        yield from _wrapped(first, width)
        for name, words in zip(head[1:], others, strict=True):
            said = f"{name}: {words}" if len(others) > 1 else words
            yield from (f"    {line}" for line in _wrapped(said, width - 4))


def _columns(node: SyntaxTreeNode, width: int) -> list[str]:
    """A table as such."""
    head, *body = _rows(node)
    return laid_out([Table([Column(name, number=False) for name in head], body)], width).splitlines()


def _rows(node: SyntaxTreeNode) -> Iterator[list[str]]:
    """The words of each cell, the head first."""
    return ([_words(cell) for cell in row.children] for part in node.children for row in part.children)


def _wrapped(text: str, width: int) -> list[str]:
    return laid_out([Paragraph(text)], width).splitlines() or [""]


def _words(node: SyntaxTreeNode) -> str:
    """The words of a block; code keeps its quotes, a page that is linked to is told by its name."""
    match node.type:
        case "text":
            return str(node.content)
        case "code_inline":
            return f"`{node.content}`"
        case "softbreak" | "hardbreak":
            return " "
    inner = "".join(_words(child) for child in node.children)
    if node.type == "link":
        page, _, _part = str(node.attrs["href"]).partition("#")
        return f"{inner} (gpost guide {page.removesuffix('.md')})" if page.endswith(".md") else inner
    return inner
