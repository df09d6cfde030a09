"""What all pages have in common: escaped templates, and a policy under which nothing foreign runs."""

from __future__ import annotations

import base64
import hashlib
import math
import os
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from gpost.common.digits import few
from gpost.common.plain import shown
from gpost.common.unbroken import unbroken
from gpost.report.slugs import grams
from gpost.report.visits import RIM_UNKNOWN, Visit
from gpost.report.wording import at_least, begun, clock, mass, named
from gpost.supply.bands import name_of
from gpost.words import (
    ENGLISH,
    harmless,
    in_two_languages,
    joined,
    language,
    listed,
    parts,
    recorded,
    right_to_left,
    say,
)

if TYPE_CHECKING:
    from jinja2 import Environment

STYLE = "page.css"
CLOCK = ("kept.js", "ticks.js", "alarm.js", "clock.js", "sheet.js")
"""The scripts of clock and ticks, in the order in which they go by each other."""


def framed(template: str, scripts: Sequence[str], **values: object) -> str:
    """A template as one HTML document that asks for nothing else; `scripts`: names of our own files.

    Every text is escaped where it is put in, but for our own files.
    """
    texts, style = [own_file(name) for name in scripts], own_file(STYLE)
    page = _environment().get_template(template)
    return page.render(policy=_policy(texts, style), scripts=texts, style=style, **values)


def own_file(name: str) -> str:
    """The text of a file of the page."""
    return files("gpost.page").joinpath(name).read_text("utf-8")


def sha256(text: str) -> str:
    """The hash of a text as a page's policy names it: `sha256-` and base64."""
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    made = Environment(
        loader=FunctionLoader(own_file),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_marked,
    )
    made.globals |= {"say": say, "language": language, "right_to_left": right_to_left}
    made.filters |= {"clock": clock, "mass": mass, "shown": told, "at_least": at_least, "mix": name_of}
    made.filters |= {
        "address": address,
        "begun": begun,
        "named": named,
        "listed": listed,
        "verbatim": _verbatim,
        "rows": rows,
        "recorded": lambda text: recorded(shown(text)),
        "grams": grams,
        "few": few,
        "hundredths": _hundredths,
    }
    return made


def told(text: object) -> str:
    """A text in which nothing can harm, as `shown`; what of it is a record stays one."""
    return joined(part._replace(text=harmless(part.text)) for part in parts(text))


def _marked(value: Any) -> Any:
    """A text as it is put in: a number with its unit, a record in its own language, if that is another."""
    from markupsafe import Markup

    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    value = together(value)
    if not in_two_languages(value):
        return value
    mark, plain = Markup('<span lang="{}">{}</span>'), Markup("{}")
    return Markup("").join(
        mark.format(ENGLISH, part.text) if part.recorded else plain.format(part.text) for part in parts(value)
    )


def together(text: str) -> str:
    """A text as `unbroken`; what of it is a record stays one."""
    whole, found, at = unbroken(text), [], 0
    for part in parts(text):
        found.append(part._replace(text=whole[at : at + len(part.text)]))
        at += len(part.text)
    return joined(found)


def _verbatim(text: object, *, keep_newlines: bool = False) -> Any:
    """A name or a command letter by letter, as it may be copied."""
    from markupsafe import escape

    return escape(shown(text, keep_newlines=keep_newlines))


def for_script(text: str) -> str | list[tuple[str, str]]:
    """The same for what a script writes: the text, or its parts with the language of each; "": the page's."""
    text = together(text)
    if not in_two_languages(text):
        return text
    return [(part.text, ENGLISH if part.recorded else "") for part in parts(text)]


def _policy(scripts: Sequence[str], style: str) -> str:
    """What the page may do: run these scripts in this dress, and show pictures that it brings itself."""
    run = " ".join(f"'{sha256(script)}'" for script in scripts)
    return (
        f"default-src 'none'; script-src {run}; style-src '{sha256(style)}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def address(name: str) -> str:
    """A file beside the page as a link to it: whatever the name, it leads to no other place."""
    return f"./{quote(os.fsencode(name), safe='')}"


def rows(visit: Visit) -> list[str]:
    """What is told of a wait beside what to do: where, why, what goes in, how long it may last."""
    return list(map(begun, (visit.head, *visit.said, *([RIM_UNKNOWN] if visit.rim_unknown else []))))


def limits_of(visit: Visit) -> list[dict[str, Any]]:
    """How long a wait may last, as the clock goes by it."""
    return [limit._asdict() for limit in visit.limits]


def _hundredths(length_mm: float) -> str:
    """A length that may not be said to be less, in steps of a hundredth."""
    return f"{math.ceil(length_mm * 100 - 1e-6) / 100:.2f}"
