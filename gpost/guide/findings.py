"""What the guide says of one finding of `gpost check`, by the finding's name."""

from __future__ import annotations

import re
from collections.abc import Iterator

from gpost.common.layout import Part, laid_out
from gpost.common.plain import shown
from gpost.guide.pages import page_text
from gpost.report.wording import wrapped

PAGE = "check"
_KIND = re.compile(r"^- \*\*(Error|Warning|Note)s\*\*: (.*?)(?=^- \*\*|^#|^$)", re.MULTILINE | re.DOTALL)
_NAME = re.compile(r"`([a-z]+(?:-[a-z]+)*)`")


def finding_text(name: str, width: int | None = None) -> str:
    """What a finding of that name is, as an error, a warning or a note; "" if the guide has none such."""
    said = [f"{kind}: {text[0].upper()}{text[1:]}." for kind, text in _parts() if name in _NAME.findall(text)]
    if not said:
        return ""
    lines: list[Part] = [shown(name)]
    for text in said:
        lines += wrapped(text, first="  ", indent="    ")
    return laid_out([*lines, f"  `gpost guide {PAGE}` has them all."], width)


def _parts() -> Iterator[tuple[str, str]]:
    """(error, warning or note, what the guide says of one finding, or of some that it tells together)."""
    for kind, listed in _KIND.findall(page_text(PAGE)):
        text = " ".join(listed.split()).rstrip(".")
        for part in _split(text):
            yield kind, part.strip()


def _split(text: str) -> Iterator[str]:
    """Parts between semicolons that stand outside of parentheses."""
    depth = begun = 0
    for place, sign in enumerate(text):
        depth += (sign == "(") - (sign == ")")
        if sign == ";" and not depth:
            yield text[begun:place]
            begun = place + 1
    yield text[begun:]
