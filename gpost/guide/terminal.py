"""A page in plain lines for a terminal: paragraphs fit its width, and commands stay as they are typed."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from markdown_it import MarkdownIt
from markdown_it.tree import SyntaxTreeNode

NARROWEST, WIDEST = 40, 100
"""Lines wider than that are hard to read."""


def page_lines(text: str, width: int) -> str:
    """Markdown as lines of at most `width` characters, each ended; code blocks alone may be wider."""
    root = SyntaxTreeNode(MarkdownIt("commonmark").enable("table").parse(text))
    wide = min(max(width, NARROWEST), WIDEST)
    return "\n\n".join("\n".join(_block(node, wide)) for node in root.children) + "\n"


def _block(node: SyntaxTreeNode, width: int) -> Iterator[str]:
    """The lines of one block."""
    match node.type:
        case "heading":
            yield from (said := _wrapped(_words(node), width))
            yield ("=" if node.tag == "h1" else "-") * max(map(len, said))
        case "fence" | "code_block":
            yield from (f"    {line}" for line in node.content.splitlines())
        case "bullet_list" | "ordered_list":
            for number, item in enumerate(node.children, start=1):
                mark = "- " if node.type == "bullet_list" else f"{number}. "
                yield from _hung(item, mark, width)
        case "table":
            yield from _table(node, width)
        case _:
            yield from _wrapped(_words(node), width)


def _hung(item: SyntaxTreeNode, mark: str, width: int) -> Iterator[str]:
    """An entry of a list behind its mark."""
    lines = [line for part in item.children for line in _parted(part, width - len(mark))]
    for at, line in enumerate(lines[1:] if lines[:1] == [""] else lines):
        yield f"{' ' * len(mark) if at else mark}{line}".rstrip()


def _parted(part: SyntaxTreeNode, width: int) -> Iterator[str]:
    """A block in an entry; what is no paragraph of a short entry stands apart."""
    if not part.hidden:
        yield ""
    yield from _block(part, width)


def _table(node: SyntaxTreeNode, width: int) -> Iterator[str]:
    """A row each: what its first cell names, and the rest below it, so that any width will do."""
    head, *body = ([_words(cell) for cell in row.children] for part in node.children for row in part.children)
    for first, *others in body:
        yield from _wrapped(first, width)
        for name, words in zip(head[1:], others, strict=True):
            said = f"{name}: {words}" if len(others) > 1 else words
            yield from (f"    {line}" for line in _wrapped(said, width - 4))


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, break_long_words=False, break_on_hyphens=False) or [""]


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
