"""The page that leads to those of several pieces: what to do next, in which order, with which clay."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from gpost.page.frame import CLOCK, for_script, framed, limits_of, rows, sha256, told
from gpost.page.scripted import for_scripts
from gpost.report.digits import rounded
from gpost.report.model import ClayRecord, Summary
from gpost.report.summary import CAUTIONS
from gpost.report.text import CARE
from gpost.report.textload import load_text
from gpost.report.visits import Visit, visits
from gpost.report.wording import MOST_TOLD, Stars, begun, clock
from gpost.words import say

INDEX = "index.html"
SCRIPTS = (*CLOCK, "index.js")
FIRST_BYTES = 1 << 10
OURS = b'<meta name="description" content="gpost: all pieces">'
"""Stands among the first bytes of each index, and of nothing else."""
EACH_S = 10
"""How often the index of a folder that is watched shows itself anew."""


class Piece(NamedTuple):
    """One piece; of a summary by `piece_of`."""

    name: str
    """The file to run."""
    page: str = ""
    """Its page, in the same folder; "": it has none."""
    when: str = ""
    facts: str = ""
    first: str = ""
    """What to do first: the cartridge to put on."""
    then: tuple[str, ...] = ()
    """The other cartridges, and when it waits."""
    said: tuple[str, ...] = ()
    """What is to be known: that its file is gone, that it is printed, how often it is warned of."""
    wrong: str = ""
    """Why it can't be printed; "": it can."""
    warned: tuple[str, ...] = ()
    """What it is warned of, that is said before all: the first of it."""
    more: str = ""
    """That there is more of it."""
    key: str = ""
    """What its tick is kept under: another one when the piece is another."""


class Event(NamedTuple):
    """Something to be there for, in seconds after midnight."""

    clock_s: float
    at: str
    """The same as a time of day."""
    lasts_s: float
    """How long the machine is expected to wait."""
    what: str
    page: str = ""
    """The page of its piece."""
    visit: Visit | None = None
    """What is known of a wait of a piece, beside what to do."""


class Load(NamedTuple):
    """A cartridge, in the order of loading."""

    name: str
    text: str
    parts: tuple[str, ...] = ()
    """Its slugs, in the order in which they go in."""


class Index(NamedTuple):
    """All pieces of a folder or a day."""

    title: str
    head: str
    """How many, and how long."""
    pieces: Sequence[Piece]
    """In the order of work."""
    warnings: Sequence[str] = ()
    notes: Sequence[str] = ()
    events: Sequence[Event] = ()
    """What comes when, the last one being the end; none: pieces are printed at any time."""
    loads: Sequence[Load] = ()
    clays: Sequence[ClayRecord] = ()
    live: bool = False
    """Whether the folder is watched: the page shows itself anew by itself."""
    printed: Sequence[str] = ()
    """What is printed already, a sentence each."""


def index_html(index: Index) -> str:
    """The index as one HTML document that asks for nothing else; it leads to pages beside it."""
    able = [piece for piece in index.pieces if not piece.wrong]
    events = list(index.events)
    data = {
        # another day has another clock; the ticks of a folder have their pieces' own keys
        "key": f"gpost:{sha256(repr(events))}" if events else "gpost:pieces",
        "begins_s": events[0].clock_s if events else 0.0,
        "total_s": events[-1].clock_s if events else 0.0,
        "visits": [
            {
                "clock_s": event.clock_s,
                "lasts_s": event.lasts_s,
                "what": for_script(told(event.what)),
                "more": [] if event.visit is None else list(map(for_script, rows(event.visit))),
                "limits": [] if event.visit is None else limits_of(event.visit),
            }
            for event in events[:-1]
        ],
        "first": "",
        "each_s": EACH_S if index.live else 0,
        "words": {**for_scripts("script", "index_script"), **_end(events)},
        "solid": None,
    }
    page = framed(
        "index.html",
        SCRIPTS,
        i=index,
        able=able,
        unable=[piece for piece in index.pieces if piece.wrong],
        ours=OURS.decode(),
        care=CARE,
        cautions=CAUTIONS if able else (),
        data=rounded(data),
    )
    return _sealed(page)


def piece_of(
    summary: Summary,
    name: str,
    page: str,
    when: str = "",
    said: Sequence[str] = (),
    warned: Sequence[str] | None = None,
) -> Piece:
    """A piece by its summary, in the words of the summary.

    `warned`: what of its warnings is not said otherwise on the index; None: all of them.
    """
    star = Stars(summary.sure.defaults)
    loads = [begun(load_text(cartridge, summary.sure, star)) for cartridge in summary.cartridges]
    waits = visits(summary)
    # at its start you are there anyway
    comes = [visit for visit, pause in zip(waits, summary.pauses, strict=False) if pause.layer]
    counted = [say("index.warned", count=len(summary.warnings))] if summary.warnings else []
    told_first = summary.warnings if warned is None else warned
    more = len(told_first) - MOST_TOLD
    facts = say(
        "index.facts",
        count=summary.layers,
        height=f"{summary.height_mm:.1f}",
        time=clock(summary.time_s),
        ml=f"{summary.clay_ml:.0f}",
    )
    return Piece(
        name,
        page,
        when,
        facts,
        loads[0] if loads else "",
        (*loads[1:], *_comes(comes), *([] if waits else [say("page.never_waits")])),
        (*counted, *said),
        warned=tuple(told_first[:MOST_TOLD]),
        more=say("index.more", count=more) if more > 0 else "",
        key=sha256(summary.model_dump_json()),
    )


def _comes(waits: Sequence[Visit]) -> list[str]:
    """When to be there: the first waits each, and how many there are beside them."""
    found = [
        say("index.first_wait", time=clock(visit.clock_s), where=visit.where, why=visit.why)
        for visit in waits[:MOST_TOLD]
    ]
    if len(waits) > MOST_TOLD:
        more = len(waits) - MOST_TOLD
        found.append(say("index.more_waits", count=more, time=clock(waits[-1].clock_s)))
    return found


def is_index(path: Path) -> bool:
    """Whether it is an index that gpost wrote: that alone is written over without being asked."""
    try:
        with path.open("rb") as file:
            return OURS in file.read(FIRST_BYTES)
    except OSError:
        return False


def is_as_written(path: Path) -> bool:
    """Whether an index of gpost's is still as it was written; of an earlier gpost's nobody can tell.

    Raises OSError.
    """
    whole = path.read_bytes().decode(errors="replace")
    page, _, _ = whole.rpartition("\n<!-- sha256-")
    return not page or whole == _sealed(page)


def _sealed(page: str) -> str:
    """The page with its own hash at its end, by which it is known to be as it was written."""
    return f"{page}\n<!-- {sha256(page)} -->\n"


def _end(events: Sequence[Event]) -> dict[str, str]:
    """What the last event is called, and what is said when it has come."""
    if not events:
        return {}
    last = told(events[-1].what)
    return {"end": last, "finished": last}
